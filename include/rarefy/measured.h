/* Measured curves: reading a log of a gauge, and what it says about the bench.
 *
 * Included by rarefy.h. SI everywhere: pascal, second, kelvin, cubic metre, Pa m3/s. */
#ifndef RAREFY_MEASURED_H
#define RAREFY_MEASURED_H

#include <math.h>
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

/* The curve of a log, and how it was read. */
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

/* ---- rate of rise ---- */

/* A value with the ends of its 95 % interval. NaN where it cannot be told. */
typedef struct rfy_interval {
    double value, low, high;
} rfy_interval;

typedef enum rfy_rise_verdict {
    RFY_RISE_NOTHING,    /* no rise beyond the scatter of the readings */
    RFY_RISE_LEAK,       /* a straight line: gas that keeps coming */
    RFY_RISE_OUTGASSING, /* levelling: walls, trapped gas, vapour */
    RFY_RISE_BOTH,
    RFY_RISE_UNDECIDED /* the record does not tell them apart */
} rfy_rise_verdict;

/* How a rate-of-rise test is read. */
typedef struct rfy_rise_options {
    double volume;      /* of what is shut off, m3; > 0 */
    double temperature; /* of the gas, K; 0 = 293.15 */
    double drift;       /* of the temperature, K/s; NaN = unknown; the log's own column is used if
                           it has one */
    double from, to;    /* part of the log, s; NaN = all */
    const char *gauge;  /* "thermal", "hot cathode", "cold cathode", "capacitance"; NULL = readings
                           are true pressures */
    const char *gas;    /* what walls give off; NULL = "H2O" */
} rfy_rise_options;

#define RFY_RISE_OPTIONS_INIT                                                                      \
    { 0, 0, (double)NAN, (double)NAN, (double)NAN, NULL, NULL }

/* One line of its answer. */
typedef struct rfy_rise_row {
    double from, to; /* s */
    double pressure; /* between them, Pa */
    double rate;     /* Pa/s */
    double flow;     /* Pa m3/s at 293.15 K */
} rfy_rise_row;

/* p(t) = background + leak t/V + level (1 - exp(-t/levelling)), t from the first reading used.
 * Flows are in Pa m3/s at 293.15 K, corrected for the gauge. */
typedef struct rfy_rise_result {
    rfy_status status;
    const rfy_log *log; /* borrowed */
    rfy_rise_verdict verdict;
    double volume, temperature;
    size_t n_used, n_outliers, n_floor; /* readings used; left out as outliers, or because they
                                           stand at the gauge's lowest reading */
    double from, to;                    /* s of the log */
    rfy_interval leak;                  /* constant flow */
    rfy_interval outgassing;            /* flow at the first reading */
    rfy_interval level;                 /* pressure that outgassing adds in the end, Pa */
    double levelling;                   /* time constant, s; NaN without outgassing */
    double background;                  /* at the first reading, Pa */
    bool power_law; /* outgassing falls as a power of time rather than levels: `level` is NaN */
    bool leak_certain, outgassing_certain;
    double outgassing_share; /* upper end of its share of the rise within the record */
    double leak_share;       /* upper end of the leak's share */
    double scatter;          /* of readings in proportion to pressure (standard deviation) */
    double floor;            /* and besides, Pa */
    bool ratio;              /* scatter is even in ratio rather than in difference */
    double bic[4];           /* of nothing, leak, outgassing, both: Schwarz 1978, less the least */
    double misfit;           /* residual against the scatter between neighbours; about 1 when the
                                shape is right, NaN when unknown */
    double needed;           /* length of record that would tell, s; +inf = none within 1000 times
                                this one; NaN = not looked for */
    size_t n_rows;
    const rfy_rise_row *row;
    double total;                  /* mean flow from the first to the last reading */
    double moles;                  /* the same, mol/s */
    const char *gauge, *gas;       /* as asked, or NULL */
    double air_factor, gas_factor; /* reading over true pressure */
    double thermal_gas_factor;     /* what they would be for `gas` on a thermal gauge */
    double ion_gas_factor;         /* and on a hot cathode */
    double by_kelvin;  /* flow that 1 K of warming over the record looks like, Pa m3/s */
    bool corrected;    /* for temperature */
    double drift_flow; /* what that correction took away, Pa m3/s */
} rfy_rise_result;

/* RFY_BAD_INPUT: fewer than two readings in the part asked for, or an unknown gauge or gas
 * (`problems` says so); *out is then NULL. The log must outlive the result. */
rfy_status rfy_rise(rfy_rise_result **out, const rfy_log *log, const rfy_rise_options *options,
                    rfy_problems *problems);
void rfy_rise_free(rfy_rise_result *result);
/* What two tests of the same volume say of what was done between them. */
typedef struct rfy_rise_change {
    double leak, leak_error; /* after less before, and its standard deviation; Pa m3/s */
    double outgassing, outgassing_error; /* NaN where one of the tests does not say */
} rfy_rise_change;
rfy_rise_change rfy_rise_compare(const rfy_rise_result *before, const rfy_rise_result *after);
/* `after` may be NULL. */
rfy_status rfy_write_rise_text(FILE *out, const rfy_rise_result *result,
                               const rfy_rise_result *after, const rfy_write_options *options);
rfy_status rfy_write_rise_json(FILE *out, const rfy_rise_result *result,
                               const rfy_rise_result *after, const rfy_write_options *options);
/* "0.6 L" to SI; `dimension` as in problems: "volume", "temperature", "time". On failure message
 * (>= 480 bytes) says why. */
rfy_status rfy_read_quantity(const char *text, const char *dimension, double *si, char *message);
/* Volume of a chamber with its share of the tubing, m3; NaN if there is none of that name. */
double rfy_system_volume(const rfy_system *system, const char *chamber);

/* ---- unknowns of a description from a measured curve ---- */

/* How a fit works, and what it is told. */
typedef struct rfy_fit_options {
    const char *const
        *free; /* paths as in --set, or "start": when the run began in the log's time */
    size_t n_free;
    const char *const
        *prior; /* "PATH=3": known within that factor beforehand (95 %); "start=5 s" */
    size_t n_prior;
    const char
        *gauge;   /* of the description, or a chamber for true pressures; NULL = the only one */
    double noise; /* scatter of readings, of 1; 0 = found from them */
    volatile const int *stop;
} rfy_fit_options;

#define RFY_FIT_OPTIONS_INIT                                                                       \
    { NULL, 0, NULL, 0, NULL, 0, NULL }

/* One unknown. */
typedef struct rfy_fitted {
    const char *path;
    const char *before, *after; /* as texts, with a unit */
    const char *low, *high;     /* ends of the 95 % interval; NULL = open */
    const char *unit;           /* of the numbers: SI, "" for a ratio */
    double start;
    rfy_interval value; /* open ends are 0 (of "start" -infinity) and infinity */
    bool told;          /* both ends are there and no further apart than a factor 25, or what was
                           known before holds it */
    double prior;       /* factor, NaN = none; of "start" in s */
    double by_readings; /* part of what is known that the readings say: 1 = nothing else */
} rfy_fitted;

/* What a fit found, and how sure that is. */
typedef struct rfy_fit_result {
    const char *title;
    const rfy_log *log; /* borrowed */
    const char *gauge;  /* of whose readings; or the chamber */
    bool determined;    /* all are told; false: see doubts; nothing is to be written */
    size_t n_unknowns;
    const rfy_fitted *unknown;
    const double *correlation;                     /* [n_unknowns^2] */
    size_t n_points, n_used, n_outliers, n_beyond; /* readings; beyond: outside the gauge's range */
    const double *time, *measured, *before, *after; /* [n_points] s, Pa */
    double scatter;                                 /* of readings about the fitted curve, in ln */
    double noise;                                   /* between neighbours, in ln; NaN unknown */
    int runs;
    size_t n_doubts, n_advice;
    const char *const *doubt, *const *advice;
} rfy_fit_result;

/* RFY_USAGE: nothing to free, no such gauge; RFY_BAD_INPUT: a path that leads to no number
 * (`problems` says so); RFY_RUN_FAILED: a run could not be finished. *out is NULL unless RFY_OK. */
rfy_status rfy_fit(rfy_fit_result **out, const rfy_system *system, const rfy_log *log,
                   const rfy_fit_options *options, rfy_problems *problems);
void rfy_fit_free(rfy_fit_result *result);
rfy_status rfy_write_fit_text(FILE *out, const rfy_fit_result *result,
                              const rfy_write_options *options);
rfy_status rfy_write_fit_json(FILE *out, const rfy_fit_result *result,
                              const rfy_write_options *options);
/* The description as it was read, comments and order kept, with the fitted values in place. */
rfy_status rfy_write_fitted(FILE *out, const rfy_system *system, const rfy_fit_result *result);

/* ---- what is wrong with the bench ---- */

typedef enum rfy_suspect_kind {
    RFY_SUSPECT_NONE, /* the description as it is */
    RFY_SUSPECT_LEAK,
    RFY_SUSPECT_WALLS,   /* wetter than described */
    RFY_SUSPECT_TRAPPED, /* a pocket behind a tiny passage */
    RFY_SUSPECT_PUMP,    /* slower than its plate, or with a higher ultimate pressure */
    RFY_SUSPECT_BLOCKED, /* a line or valve with less conductance */
    RFY_SUSPECT_GAUGE    /* reads so many times the pressure */
} rfy_suspect_kind;

/* A fault that would explain a measured curve. */
typedef struct rfy_suspect {
    rfy_suspect_kind kind, also; /* also: of the second in a pair, else RFY_SUSPECT_NONE */
    const char *name;            /* "vane runs at 0.55 of its speed" with its best value */
    double log_evidence;         /* above that of the best, <= 0 */
    double weight;               /* of 1 among all tried, as if each were as likely beforehand */
    double scatter;              /* of the readings about its curve, in ln */
    const double *curve;         /* [n_points] Pa */
    double from, most_at, most;  /* s where it begins to show (20 %), where most; factor there */
} rfy_suspect;

/* What a measured curve says about the bench. */
typedef struct rfy_diagnosis {
    const char *title;
    const rfy_log *log; /* borrowed */
    const char *gauge;
    size_t n_points, n_beyond;
    const double *time, *measured, *expected; /* [n_points] s, Pa; expected of the description */
    double noise;                             /* between neighbours, in ln; NaN unknown */
    size_t n;
    const rfy_suspect *suspect; /* most likely first */
    bool clear;                 /* the first kind has 9 of 10 of the weight */
    int runs;
} rfy_diagnosis;

/* How to diagnose. */
typedef struct rfy_diagnose_options {
    const char *gauge; /* as in rfy_fit_options */
    volatile const int *stop;
} rfy_diagnose_options;

#define RFY_DIAGNOSE_OPTIONS_INIT                                                                  \
    { NULL, NULL }

/* Status as rfy_fit. */
rfy_status rfy_diagnose(rfy_diagnosis **out, const rfy_system *system, const rfy_log *log,
                        const rfy_diagnose_options *options, rfy_problems *problems);
void rfy_diagnosis_free(rfy_diagnosis *diagnosis);
rfy_status rfy_write_diagnosis_text(FILE *out, const rfy_diagnosis *diagnosis,
                                    const rfy_write_options *options);
rfy_status rfy_write_diagnosis_json(FILE *out, const rfy_diagnosis *diagnosis,
                                    const rfy_write_options *options);

/* ---- readings beside a prediction ---- */

typedef struct rfy_deviation { /* a stretch of time in which readings stay on one side */
    double from, to;           /* s */
    int side;                  /* -1 below, 0 on the curve, +1 above */
    double most, most_at;      /* largest factor, measured over predicted; s */
} rfy_deviation;

/* A log beside a result: readings with what was predicted for their instants. */
typedef struct rfy_overlay {
    const rfy_log *log; /* borrowed */
    const char *gauge;  /* or the chamber */
    size_t n,
        n_beyond; /* readings with a prediction; beyond: without one (range, gauge off, end) */
    const double *time, *measured, *predicted; /* s, Pa, Pa */
    double scatter;                            /* typical |ln(measured/predicted)| */
    size_t n_parts;
    const rfy_deviation *part;
} rfy_overlay;

/* Sets what the log of a gauge (or a chamber's true pressure; NULL = the only gauge) says of a
 * result: result->measured. It belongs to the result; the log must outlive it. RFY_BAD_INPUT: no
 * such gauge, no reading within the run. */
rfy_status rfy_result_measure(rfy_result *result, const rfy_log *log, const char *gauge,
                              rfy_problems *problems);

#ifdef __cplusplus
}
#endif

#endif
