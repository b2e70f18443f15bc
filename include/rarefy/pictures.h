/* Pictures of a run: curves of pressure over time, and a page that tells the whole of it.
 *
 * Included beside rarefy.h. The same result gives the same bytes. */
#ifndef RAREFY_PICTURES_H
#define RAREFY_PICTURES_H

#include "rarefy/measured.h"
#include "rarefy/rarefy.h"

#ifdef __cplusplus
extern "C" {
#endif

/* What is drawn, and how. */
typedef struct rfy_plot_options {
    const char *pressure_unit;  /* "Pa" when NULL */
    const char *const *chamber; /* which chambers; none = all that the user named */
    size_t n_chambers;          /* of these */
    bool gases;                 /* partial pressures too */
    bool linear_time;           /* time on an even scale; otherwise by decades */
    double from, to;            /* stretch of time, s; 0 = chosen by the program, or the end */
    int width, height;          /* px, or columns and rows on a terminal; 0 = usual ones */
    bool color;                 /* on a terminal */
    bool ascii;                 /* on a terminal: no characters beyond ASCII */
    const rfy_log *measured;    /* a curve to draw beside the computed ones; NULL = none */
} rfy_plot_options;

#define RFY_PLOT_OPTIONS_INIT                                                                      \
    { NULL, NULL, 0, false, false, 0, 0, 0, 0, false, false, NULL }

/* Each returns RFY_OK; RFY_USAGE for an unknown unit or chamber, or where the stretch of time holds
 * nothing; RFY_IO_FAILED when the stream reports an error. */
rfy_status rfy_write_plot_svg(FILE *out, const rfy_result *result, const rfy_plot_options *options);
/* For a terminal: dots of Braille characters, or letters where `ascii` asks for it. */
rfy_status rfy_write_plot_terminal(FILE *out, const rfy_result *result,
                                   const rfy_plot_options *options);
/* A script for gnuplot that holds its data and writes to standard output. */
rfy_status rfy_write_plot_gnuplot(FILE *out, const rfy_result *result,
                                  const rfy_plot_options *options);
/* The SVG as a picture of dots, drawn by librsvg, which is looked for only now. RFY_RUN_FAILED with
 * a sentence in message (>= 256 bytes) when it is not there or cannot draw. */
rfy_status rfy_write_plot_png(FILE *out, const rfy_result *result, const rfy_plot_options *options,
                              char *message);

/* A page of HTML that needs nothing beside it: answers, curves, the bench, tables, what was
 * assumed, cautions, and the description it was made from. */
typedef struct rfy_report_options {
    const char *pressure_unit;         /* at first; "Pa" when NULL */
    const char *fault;                 /* text of the fault of this run; NULL = none */
    const rfy_log *measured;           /* NULL = none */
    const rfy_protect_result *protect; /* every fault at every phase; NULL = not asked for */
} rfy_report_options;

#define RFY_REPORT_OPTIONS_INIT                                                                    \
    { NULL, NULL, NULL, NULL }

/* `result` is a run of `system`. RFY_OK, RFY_USAGE for an unknown unit, RFY_IO_FAILED. */
rfy_status rfy_write_report(FILE *out, const rfy_system *system, const rfy_result *result,
                            const rfy_report_options *options);
/* Whether the chart library was there when this was built; without it the page has its drawn chart
 * alone. */
bool rfy_report_has_chart_library(void);

#ifdef __cplusplus
}
#endif

#endif
