/* Studies: many runs of one description with some of its values changed.
 *
 * Included by rarefy.h. SI everywhere: pascal, second, kelvin, cubic metre, Pa m3/s. */
#ifndef RAREFY_STUDIES_H
#define RAREFY_STUDIES_H

#include "rarefy/rarefy.h"

#ifdef __cplusplus
extern "C" {
#endif

/* ---- which size is enough ---- */

typedef struct rfy_size_options {
    const char *const *vary; /* paths as in --set; all of them get the same value */
    size_t n_vary;
    /* One of both. "bulb < 10 Pa" or any other condition of a procedure, that is to come true
     * within a time; "ultimate bulb < 1e-4 Pa", a steady pressure at the end of the run. */
    const char *reach;
    const char *keep;      /* "backing tank < 40 Pa": to hold on for a time after the fault */
    double within;         /* that time, s; 0 with reach: the length of the run */
    const char *fault;     /* with keep: "stop vane at 1 h" */
    const char *from, *to; /* sizes to look between, as texts; NULL = a hundredth and a hundred
                              times what the description gives */
    double tolerance;      /* of the runs; 0 = 1e-6 */
    int ask; /* +1 the smallest enough is asked for, -1 the largest, 0 by what helps; where a change
                hardly matters, the smallest bore or speed and the largest length or leak */
    volatile const int *stop;
} rfy_size_options;

#define RFY_SIZE_OPTIONS_INIT                                                                      \
    { NULL, 0, NULL, NULL, 0, NULL, NULL, NULL, 0, 0, NULL }

typedef enum rfy_size_verdict {
    RFY_SIZE_FOUND,  /* `size` is the smallest or largest that is enough */
    RFY_SIZE_NONE,   /* no size between the bounds is enough */
    RFY_SIZE_ANY,    /* every size between them is */
    RFY_SIZE_UNKNOWN /* ended early: see trouble */
} rfy_size_verdict;

typedef struct rfy_size_point { /* one full solve */
    double size;                /* SI */
    double value;   /* what came of it: s, or Pa of an ultimate pressure; NaN = not within the time
                       looked at */
    double excess;  /* ln of how far from what is wanted: 0 or less is enough */
    const char *of; /* "as described", "DN 16 (ISO 2861 clamped flange)", or NULL */
} rfy_size_point;

/* The value that was looked for, and how it does. */
typedef struct rfy_size_result {
    const char *title;
    rfy_status status;
    const char *trouble;
    size_t n_vary;
    const char *const *vary;
    const char *key;     /* "bore" */
    const char *unit;    /* SI unit of sizes, "" for a number */
    const char *goal;    /* what is wanted, as written */
    const char *chamber; /* what it is about, NULL = more than one pressure */
    bool pressure;       /* values are pressures, Pa; else times, s */
    bool keeps;          /* the time is to be long, not short */
    double wanted;       /* s or Pa */
    double looked;       /* values were looked for up to this time, s */
    rfy_size_verdict verdict;
    bool steady;            /* at the sizes computed more always helps, or always hurts */
    bool smallest;          /* more helps: the smallest enough is asked for; else the largest */
    double size, low, high; /* the answer, NaN = none; bounds of the search */
    rfy_size_point given, exact, standard; /* size NaN = not computed */
    rfy_size_point best;              /* RFY_SIZE_NONE: the end of the range that comes nearest */
    bool levels_off;                  /* and going on in that direction changes next to nothing */
    const rfy_bottleneck *bottleneck; /* at `exact`, or `best`; NULL = not known */
    const char *source, *source_gas;  /* what brings most gas there in the steady state, or NULL */
    double source_share;
    /* What the answer (the standard size, where there is one) gives when all walls give off more by
     * their spread; size NaN = not computed. */
    rfy_size_point worst;
    size_t n_points, n_solves; /* full solves: those of the points, and one each for the bottleneck
                                  and the spread of the walls */
    const rfy_size_point *point; /* size rising */
    size_t n_assumed, n_cautions;
    const char *const *assumed, *const *cautions;
} rfy_size_result;

/* RFY_USAGE, RFY_BAD_INPUT: `problems` says what is wrong with the options, *out is NULL. At most
 * twelve full solves: Brent's method between a size that is enough and one that is not, in the
 * logarithms of size and time. */
rfy_status rfy_size(rfy_size_result **out, const rfy_system *system,
                    const rfy_size_options *options, rfy_problems *problems);
void rfy_size_free(rfy_size_result *result);

rfy_status rfy_write_size_text(FILE *out, const rfy_size_result *result,
                               const rfy_write_options *options);
rfy_status rfy_write_size_json(FILE *out, const rfy_size_result *result,
                               const rfy_write_options *options);

/* ---- sweeps: many points, one line of JSON each ---- */

/* How a sweep is computed. */
typedef struct rfy_sweep_options {
    /* "PATH=VALUES", a path as in --set and
     *   5 mm, 6 mm, 8 mm                    these values
     *   even(5 mm, 8 mm, 4)                 a range, evenly
     *   log(1e-9 mbar L/s, 1e-6 mbar L/s, 7)  or evenly on log paper
     * which make a grid, the last one going fastest; or, sampled at each point of the grid,
     *   between(a, b), logbetween(a, b)     evenly, or evenly on log paper
     *   normal(mean, standard deviation)
     *   spread(median, factor)              log-normal, nine tenths within the factor up and down
     *   spread                              the same with what the description states there */
    const char *const *over;
    size_t n_over;
    size_t samples;   /* at each point of the grid: a Sobol sequence, at most 40 sampled values */
    bool spreads;     /* sample all that has a stated spread too: values with a factor, materials */
    bool ultimate;    /* go on to the end of the run and find the steady pressures there */
    double tolerance; /* 0 = the description's */
    int jobs;         /* threads; 0 = one a core; the lines are the same */
    size_t shard, shards; /* only this part (from 1) of so many; 0, 0 = all. Contiguous: the parts
                             one behind the other are the whole */
    size_t first;         /* rfy_sweep_lines: number of the first description */
    volatile const int *stop;
    /* Whether the line that begins with `head` is there from an earlier time: 1 = yes, so it is not
     * computed again, 0 = no, none from here on is, -1 = another one is: the sweep ends with
     * RFY_USAGE. NULL = none is there. */
    int (*have)(void *context, const char *head);
    /* Takes the lines in order, from one thread at a time; false ends the sweep (RFY_IO_FAILED). */
    bool (*take)(void *context, const char *line, size_t length);
    void (*progress)(void *context, size_t done, size_t all); /* now and then; NULL = never */
    void *context;
} rfy_sweep_options;

#define RFY_SWEEP_OPTIONS_INIT                                                                     \
    { NULL, 0, 0, false, false, 0, 0, 0, 0, 0, NULL, NULL, NULL, NULL, NULL }

/* A run to the last target for each point. A point that cannot be is told in its place. RFY_USAGE:
 * `problems` says what is wrong with the options. */
rfy_status rfy_sweep(const rfy_system *system, const rfy_sweep_options *options,
                     rfy_problems *problems);
/* The same for descriptions that come one a line (JSON on one line): next gives malloc'ed texts, in
 * order, and NULL at the end. Grids, samples and shards are not for this. */
rfy_status rfy_sweep_lines(char *(*next)(void *context, size_t *length), void *from,
                           const rfy_setting *settings, size_t n_settings,
                           const rfy_sweep_options *options);

/* ---- bands: how sure an answer is ---- */

/* How a band is computed. */
typedef struct rfy_band_options {
    size_t samples;   /* 0 = 256 */
    int jobs;         /* threads; 0 = one a core; the band is the same */
    double tolerance; /* 0 = 1e-3: far below what is uncertain */
    const double *at; /* instants of the curve, rising, s; NULL = 60 chosen */
    size_t n_at;
    bool plain;         /* plain random numbers in place of a Sobol sequence, to compare the two, */
    unsigned long seed; /* from this seed */
    volatile const int *stop;
    void (*progress)(void *context, size_t done, size_t all); /* from one thread at a time */
    void *context;
} rfy_band_options;

#define RFY_BAND_OPTIONS_INIT                                                                      \
    { 0, 0, 0, NULL, 0, false, 0, NULL, NULL, NULL }

/* Something uncertain, and how much of the spread it makes. */
typedef struct rfy_band_input {
    const char *name; /* a path of the description, or a material whose walls and seals are meant */
    bool material;
    double
        factor; /* 5 % of the values lie below the median over it, 5 % above the median times it */
} rfy_band_input;

typedef struct rfy_quantiles { /* 5 %, 50 %, 95 % */
    double low, median, high;
} rfy_quantiles;

/* A target as a distribution. */
typedef struct rfy_band_target {
    const char *name, *chamber;
    double pressure;     /* Pa */
    rfy_quantiles time;  /* s; +inf = not within the run */
    double never;        /* share of the samples that do not reach it within the run */
    const double *share; /* [n_inputs] of the variance of ln(time), first order: what fixing that
                            input would take away on average. Samples that never reach it count with
                            the end of the run. NaN when nothing varies */
} rfy_band_target;

typedef struct rfy_band_chamber { /* of the targets */
    const char *name;
    const rfy_quantiles *pressure; /* [n_times], Pa */
    rfy_quantiles ultimate;        /* steady pressure as the walls are at the end of the run, Pa */
    const double *share;           /* [n_inputs] of the variance of its ln; may be NULL */
} rfy_band_chamber;

/* Times as a distribution. */
typedef struct rfy_band {
    size_t samples, failed; /* failed ones are left out of everything */
    bool whole;             /* false: stopped early, by the samples done until then */
    size_t n_inputs, n_targets, n_chambers, n_times;
    const rfy_band_input *input;
    const rfy_band_target *target;
    const rfy_band_chamber *chamber;
    const double *time; /* [n_times] s */
} rfy_band;

/* Everything with a stated spread varies at once: quantities with a factor, and what walls and
 * seals give off (log-normal, by material). *out is NULL when nothing is uncertain or no target is
 * given (RFY_USAGE), or more than 40 inputs are (RFY_USAGE). */
rfy_status rfy_band_find(rfy_band **out, const rfy_system *system, const rfy_band_options *options);
void rfy_band_free(rfy_band *band);

/* ---- systems side by side ---- */

/* How rfy_compare works. */
typedef struct rfy_compare_options {
    rfy_method method;
    double tolerance; /* 0 = the descriptions' */
    double threshold; /* times that differ by less count as the same: 0 = 0.01 */
    int jobs;
    volatile const int *stop;
} rfy_compare_options;

#define RFY_COMPARE_OPTIONS_INIT                                                                   \
    { RFY_METHOD_RODAS, 0, 0, 0, NULL }

typedef struct rfy_change { /* a value that differs; a text is NULL where there is none */
    const char *path, *from, *to;
} rfy_change;

typedef enum rfy_where {
    RFY_WHERE_NOWHERE, /* no time to any pressure differs by more than the threshold */
    RFY_WHERE_BELOW,   /* only below `pressure` */
    RFY_WHERE_ABOVE,   /* only above it */
    RFY_WHERE_ALL,     /* at every pressure that both reach */
    RFY_WHERE_MIXED    /* at some, as from `pressure` on down */
} rfy_where;

/* Times at which the pressure of a chamber first comes down to each value, of both systems. */
typedef struct rfy_course {
    const char *chamber;
    rfy_where where;
    double pressure;        /* Pa; NaN when where says all */
    double largest;         /* relative difference of the times, with its sign, */
    double largest_at;      /* and the pressure there, Pa */
    double highest, lowest; /* pressures compared, Pa */
} rfy_course;

typedef struct rfy_difference { /* of a system to the first one */
    size_t n_changes;
    const rfy_change *change;
    size_t n_courses; /* one for each chamber that has a target, or the first chamber */
    const rfy_course *course;
} rfy_difference;

/* Descriptions side by side. */
typedef struct rfy_comparison {
    rfy_status status; /* RFY_OK, or the first that is not (a broken limit counts) */
    double threshold;
    size_t n;
    const char *const *name;          /* as given */
    const rfy_result *const *result;  /* of a run each */
    const rfy_difference *difference; /* [n]; that of the first is empty */
} rfy_comparison;

/* Runs each system and compares it with the first. The systems must outlive the result. */
rfy_status rfy_compare(rfy_comparison **out, const rfy_system *const *system,
                       const char *const *name, size_t n, const rfy_compare_options *options);
void rfy_comparison_free(rfy_comparison *comparison);
rfy_status rfy_write_comparison_text(FILE *out, const rfy_comparison *comparison,
                                     const rfy_write_options *options);
rfy_status rfy_write_comparison_json(FILE *out, const rfy_comparison *comparison,
                                     const rfy_write_options *options);

/* "13.4 mm": a quantity in a unit people would choose, from SI and its SI unit ("m"; "" gives the
 * number alone). Returns buffer (>= 48 bytes). */
char *rfy_show_quantity(char *buffer, size_t size, const char *unit, double si);

#ifdef __cplusplus
}
#endif

#endif
