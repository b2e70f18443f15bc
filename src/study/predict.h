/* What a gauge (or a chamber's true pressure) shows at given instants, for values of unknowns of
 * the description: one lean run each, many at once. */
#ifndef RFY_STUDY_PREDICT_H
#define RFY_STUDY_PREDICT_H

#include "solve/simulate.h"
#include "study/variation.h"

typedef struct rfy_predictor {
    const rfy_system *system;
    size_t n; /* unknowns */
    const char *const *path;
    int gauge, node;   /* gauge -1: the pressure of the node */
    const char *fault; /* acts besides, as in --fault; NULL = none */
    double tolerance;
    volatile const int *stop;
    size_t n_workers;
    rfy_variation **worker; /* one a run of a batch */
} rfy_predictor;

void rfy_predictor_begin(rfy_predictor *p, rfy_arena *arena, size_t n_workers);
void rfy_predictor_end(rfy_predictor *p);

typedef struct rfy_prediction {
    const double *value; /* SI, one an unknown */
    double offset;       /* the instants are this much later in the run, s */
    double *log_reading; /* out: ln Pa at each instant; NaN where there is none */
    bool good;           /* out: the run came to the last instant */
} rfy_prediction;

/* Makes up to n_workers predictions at the instants `at` (rising, s), on all cores. */
void rfy_predict(const rfy_predictor *p, rfy_prediction *each, size_t n, const double *at,
                 size_t n_at);

/* One prediction with its derivatives, from one run that carries them along (solve/tangent.h). */
typedef struct rfy_slopes {
    const double *value; /* SI, one a path of the predictor */
    double offset;
    size_t n; /* unknowns by whose logarithms it is derived, fewer than n_workers */
    const size_t
        *of; /* [predictor's n] unknown that each path follows by one factor; NULL: its own */
    double *log_reading; /* out: [n_at] */
    double *by;          /* out: [n_at * n] */
    double *by_offset;   /* out: [n_at] per s; NULL = not wanted */
} rfy_slopes;

/* False when the run failed or the derivatives cannot be had this way: a number whose change gives
 * the system another shape, readings of a gauge that was off. */
bool rfy_predict_slopes(const rfy_predictor *p, rfy_slopes *out, const double *at, size_t n_at);

/* Values of the unknowns as they are; a missing "scale" is 1. False after adding a problem. */
bool rfy_predict_start(const rfy_system *system, const char *path, rfy_varied *out,
                       rfy_problems *problems);
/* Factor (95 % up and down) within which the value is known beforehand: the spread of a wall's
 * material for its scale, the factor that the description gives with a quantity; NaN = nothing is
 * known. */
double rfy_predict_spread(const rfy_system *system, const char *path);

#endif
