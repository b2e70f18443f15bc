/* Parts of the page of a run, each a file of its own. */
#ifndef RFY_IO_REPORT_H
#define RFY_IO_REPORT_H

#include "io/chart.h"
#include "rarefy/pictures.h"
#include "study/system.h"

typedef struct rfy_report {
    FILE *out;
    rfy_arena *arena;
    const rfy_system *system;
    const rfy_result *result;
    const rfy_report_options *options;
    rfy_page page;  /* the unit */
    size_t *number; /* of each event as the charts number them, 0 = none */
    double low;     /* where the scale of decades of time begins, s */
} rfy_report;

/* Text with every sign that HTML could take for its own made harmless. */
void rfy_report_text(rfy_report *report, const char *text);
/* A pressure that follows the unit chosen on the page; `alone` leaves the unit out. */
void rfy_report_pressure(rfy_report *report, double pascal, bool alone);
/* What a part of the text answer says, as paragraphs and lists: one paragraph to a line, lists
 * where lines begin with "- ". Headings are left out. */
void rfy_report_prose(rfy_report *report,
                      void (*say)(rfy_page *page, const rfy_result *result, const void *what),
                      const void *what);

/* report_tables.c */
void rfy_report_events(rfy_report *report);
void rfy_report_limits(rfy_report *report);
void rfy_report_bottlenecks(rfy_report *report);
void rfy_report_ultimate(rfy_report *report);
void rfy_report_balance(rfy_report *report);
void rfy_report_faults(rfy_report *report);
/* report_data.c: the JSON that the script reads, safe inside a script element. */
void rfy_report_data(rfy_report *report);

#endif
