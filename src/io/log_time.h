/* Times of a log: numbers, clock times, dates with clock times (ISO 8601 and its relatives). */
#ifndef RFY_IO_LOG_TIME_H
#define RFY_IO_LOG_TIME_H

#include <stdbool.h>
#include <stddef.h>

typedef enum rfy_log_time_kind {
    RFY_TIME_NONE,
    RFY_TIME_CLOCK,     /* s since midnight */
    RFY_TIME_DATE,      /* s since 1970-01-01, midnight */
    RFY_TIME_DATE_CLOCK /* s since 1970-01-01 */
} rfy_log_time_kind;

typedef struct rfy_log_date_order {
    bool month_first;  /* 11/26/2026 */
    bool ambiguous;    /* set when a date could be read both ways */
    bool minutes_only; /* "05:30" is minutes and seconds */
} rfy_log_date_order;

/* Reads the whole of `text`. A decimal comma in the seconds is taken. */
rfy_log_time_kind rfy_log_time(const char *text, rfy_log_date_order *order, double *seconds);
/* Whether a date with slashes says by itself which part is the month: +1 the first, -1 the second,
 * 0 it does not. */
int rfy_log_month_place(const char *text);

#endif
