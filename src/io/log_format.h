/* How a log is written: found from its first lines and what the user says. */
#ifndef RFY_IO_LOG_FORMAT_H
#define RFY_IO_LOG_FORMAT_H

#include "core/problem.h"
#include "io/log_cells.h"
#include "io/log_time.h"
#include "rarefy/measured.h"

enum {
    RFY_LOG_SAMPLE = 200,    /* lines that are looked at */
    RFY_LOG_LINE_ROOM = 4097 /* bytes of a line, its end included */
};

typedef struct rfy_log_sample {
    size_t n;
    long line[RFY_LOG_SAMPLE];
    char *text[RFY_LOG_SAMPLE];
} rfy_log_sample;

typedef struct rfy_log_column {
    int place; /* from 0; -1 = none */
    const char *name;
    double factor, offset; /* to SI */
    const char *unit_of;   /* who says the unit: "header", "option", "assumed" */
} rfy_log_column;

typedef struct rfy_log_format {
    char separator, mark;
    long first_data; /* line of the first row */
    rfy_log_column time, pressure, temperature;
    int clock_place; /* clock times beside a column of dates; -1 = none */
    bool numeric;    /* times are numbers */
    rfy_log_date_order order;
} rfy_log_format;

typedef struct rfy_log_notes {
    rfy_arena *arena;
    size_t n, room;
    const char **text;
} rfy_log_notes;
void rfy_log_note(rfy_log_notes *notes, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* False when it cannot be told; the reasons are in problems. */
bool rfy_log_find_format(rfy_arena *arena, const rfy_units *units, const rfy_log_sample *sample,
                         const rfy_log_options *options, rfy_log_format *format,
                         rfy_log_notes *notes, rfy_problems *problems);

/* A line that is no row: empty, or begins with a mark of comments. */
bool rfy_log_is_comment(const char *text, char separator);
/* Time of a row's cells in s; RFY_CELL_NUMBER when it has one. */
rfy_log_kind rfy_log_row_time(const rfy_log_format *format, const rfy_units *units,
                              const rfy_log_cells *cells, rfy_log_date_order *order,
                              rfy_log_time_kind *kind, double *seconds);
/* A value in SI; a unit may follow the number. */
rfy_log_kind rfy_log_row_value(const rfy_log_format *format, const rfy_units *units,
                               const rfy_log_column *column, rfy_dim dim,
                               const rfy_log_cells *cells, double *value);

#endif
