/* Unknowns of a description from the readings of a gauge: least squares in ln of the pressure with
 * a robust beginning, priors in ln of the unknowns, and what the readings say of each direction. */
#ifndef RFY_STUDY_LEAST_SQUARES_H
#define RFY_STUDY_LEAST_SQUARES_H

#include "study/predict.h"

enum { RFY_MOST_UNKNOWNS = 12 };

typedef struct rfy_unknown {
    const char *path;   /* NULL: the time of the log's zero in the run, s */
    double start;       /* SI */
    double prior;       /* standard deviation of ln (of s for the time) beforehand; NaN = none */
    double centre;      /* of the prior, SI */
    double least, most; /* bounds, SI; NaN = none */
} rfy_unknown;

typedef struct rfy_squares {
    /* asked */
    rfy_predictor *predictor; /* its paths are those of the unknowns that have one, in order */
    size_t n_unknowns;
    const rfy_unknown *unknown;
    const size_t *of;   /* [predictor's paths] unknown that each path follows, by one factor; NULL:
                           each its own */
    const double *base; /* [predictor's paths] value where its unknown is at its start; with `of` */
    size_t n;           /* readings */
    const double *t, *y; /* s of the log, ln Pa */
    double sigma;        /* of y; 0 = found */
    int most_rounds;     /* 0 = 20 */
    /* found, in the arena */
    bool good;
    const char *trouble;               /* why not */
    double *x;                         /* ln of the unknowns (s for the time) */
    double *model, *jacobian, *weight; /* [n], [n * n_unknowns], [n] 0 = left out */
    double *soft;                      /* [n] 1, less where a switching makes a step of the curve */
    double *covariance;                /* [n_unknowns^2] of x, priors included */
    double chi2;                       /* of readings, in units of sigma^2 */
    double prior_chi2;
    double scatter; /* sigma as found */
    double freedom;
    size_t n_used, n_outliers;
    int rounds, runs;
    bool exactly, by_differences; /* how derivatives are taken, once one way has worked */
} rfy_squares;

/* How well values (one an unknown, NaN: the start) fit without any step: a sum in squares of the
 * scatter, robust; infinity when a run fails. For choosing where to begin. `n` sets at once. */
void rfy_squares_try(rfy_squares *s, rfy_arena *arena, double *const *x, size_t n, double *loss);
void rfy_squares_solve(rfy_squares *s, rfy_arena *arena);
/* Once more from s->x, with the readings that count as they are. */
void rfy_squares_resume(rfy_squares *s);
/* Value of an unknown from x. */
double rfy_squares_value(const rfy_unknown *u, double x);
/* What the sum of squares is at some x near the solution, with the weights and the scatter found
 * there: cost (priors included), information h = J'WJ/scatter^2 + priors and pull g, so that a step
 * d changes the cost by -2 g.d + d'hd to second order. */
typedef struct rfy_look {
    double *x, cost;
    double *h, *g; /* [n_unknowns^2], [n_unknowns] */
} rfy_look;
/* At out->x; the rest is made in the arena. False when the run fails. */
bool rfy_squares_look(rfy_squares *s, rfy_arena *arena, bool fine, rfy_look *out);
/* Puts x within the bounds of an unknown. */
double rfy_squares_within(const rfy_unknown *u, double x);
/* Derivatives of predictions at other instants (or under another predictor with the same paths),
 * [n_at * n_unknowns]; false when a run fails. */
bool rfy_squares_derive(const rfy_squares *s, rfy_predictor *p, rfy_arena *arena, const double *at,
                        size_t n_at, double *model, double *jacobian);

#endif
