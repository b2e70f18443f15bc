/* Who is suspected when a curve is not as predicted: which numbers of the description move then,
 * and how it is told. */
#ifndef RFY_STUDY_SUSPECTS_H
#define RFY_STUDY_SUSPECTS_H

#include "rarefy/rarefy.h"
#include "study/least_squares.h"
#include "study/log_points.h"

enum { RFY_MOST_SUSPECTS = 64, RFY_SUSPECT_PATHS = 32, RFY_SUSPECT_NUMBERS = 6 };

/* A single suspect: numbers of the description that move, from where, how far beforehand. */
typedef struct rfy_suspected {
    rfy_suspect_kind kind, also;
    const char *what; /* printed with the value: "leak at vessel of %s" */
    const char *setting_path[2],
        *setting_value[2]; /* added to the description first; NULL = none */
    size_t n_settings;
    size_t n_numbers, n_paths;
    rfy_unknown number[RFY_SUSPECT_NUMBERS];
    rfy_dim dim[RFY_SUSPECT_NUMBERS];
    const char *path[RFY_SUSPECT_PATHS];
    size_t of[RFY_SUSPECT_PATHS];
    double base[RFY_SUSPECT_PATHS];
    double grid_low[RFY_SUSPECT_NUMBERS],
        grid_high[RFY_SUSPECT_NUMBERS]; /* where to look for a beginning */
    double loss;
    /* found */
    bool solved;
    double log_evidence, scatter;
    const double *curve;
    double x[RFY_SUSPECT_NUMBERS];
} rfy_suspected;

typedef struct rfy_diagnosing {
    rfy_arena *arena;
    const rfy_system *system;
    const rfy_diagnose_options *options;
    rfy_log_points points;
    rfy_suspected *item;
    size_t n;
    int runs;
    bool by_clock; /* the log's times are those of a clock */
} rfy_diagnosing;

/* One more, without any numbers yet; NULL when there are too many. */
rfy_suspected *rfy_suspect_add(rfy_diagnosing *d, rfy_suspect_kind kind, const char *what);
/* A path that goes along with a number of the suspect, by one factor; `base` is its value while the
 * number is at its start. */
void rfy_suspect_follow(rfy_suspected *s, size_t of, const char *path, double base);
/* The zero of the log's times is free besides, where a clock wrote them. */
void rfy_suspect_start(const rfy_diagnosing *d, rfy_suspected *s);
/* All that the system may be suspected of. */
void rfy_suspects_list(rfy_diagnosing *d);
/* "leak at vessel of 2e-3 Pa m3/s", with the values found. */
const char *rfy_suspect_name(rfy_diagnosing *d, const rfy_suspected *s);

#endif
