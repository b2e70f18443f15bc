/* Measured curves: reading a log of a gauge, and what it says about the bench.
 *
 * Included by rarefy.h. SI everywhere: pascal, second, kelvin, cubic metre, Pa m3/s. */
#ifndef RAREFY_MEASURED_H
#define RAREFY_MEASURED_H

#include "rarefy/rarefy.h"

#ifdef __cplusplus
extern "C" {
#endif

/* ---- a log ---- */

typedef struct rfy_log_options {
    const char *columns;       /* "time,pressure": names in the header, or places from 1; NULL =
                                  found by header and units */
    const char *temperature;   /* name or place of a column of temperatures; NULL = none is read */
    const char *pressure_unit; /* of a log that does not say; NULL = it must */
    const char *time_unit;     /* of a log that does not say; NULL = s */
    size_t most;               /* points kept: longer logs are thinned; 0 = 20000 */
    volatile const int *stop;  /* becomes non-zero when reading should end; NULL = never */
} rfy_log_options;

#define RFY_LOG_OPTIONS_INIT                                                                       \
    { NULL, NULL, NULL, NULL, 0, NULL }

/* Rows that were left out, by reason. */
typedef struct rfy_log_loss {
    const char *why; /* "over-range mark" */
    size_t rows;
    long first, last;    /* lines, from 1 */
    const char *example; /* what stands in the first of them, clipped; may be "" */
} rfy_log_loss;

typedef struct rfy_log {
    const char *name;          /* of the file, for messages */
    size_t n;                  /* points, at least 1 */
    const double *time;        /* s, strictly rising */
    const double *pressure;    /* Pa, finite; may be zero or negative as a gauge shows it */
    const double *temperature; /* K, or NULL */
    const long *line;          /* where each stands (the first of those averaged) */
    bool clock;                /* times were of a clock or a calendar: the first row is 0 s */
    long lines;                /* in the file */
    size_t rows;               /* with a time and a pressure, or what should be */
    size_t used;               /* of these */
    bool thinned;              /* points are means of neighbouring rows */
    size_t n_losses, n_notes;
    const rfy_log_loss *loss;
    const char *const *note; /* how the file was read, what was assumed, gaps */
} rfy_log;

/* Reads a log to its end in bounded memory. `name` is shown in messages. RFY_BAD_INPUT: no such
 * column, no unit, nothing usable (`problems` says why, with line numbers); RFY_IO_FAILED: the
 * stream failed; RFY_INTERRUPTED. *out is NULL unless RFY_OK. Free with rfy_log_free. */
rfy_status rfy_log_read(rfy_log **out, FILE *in, const char *name, const rfy_log_options *options,
                        rfy_problems *problems);
void rfy_log_free(rfy_log *log);

#ifdef __cplusplus
}
#endif

#endif
