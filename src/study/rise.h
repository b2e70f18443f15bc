/* Parts of a rate-of-rise study that are tested or used apart. */
#ifndef RFY_STUDY_RISE_H
#define RFY_STUDY_RISE_H

#include "core/arena.h"
#include "rarefy/measured.h"
#include "study/rise_shapes.h"

/* Scatter of readings: variance (f p)^2 + s^2, even in difference or, with `ratio`, in ratio. */
typedef struct rfy_rise_noise {
    double f, s;
    bool ratio;
} rfy_rise_noise;

typedef struct rfy_rise_fit {
    rfy_rise_shapes *shapes; /* of the best law, refined about the best tau */
    rfy_rise_curve nothing, leak, outgassing, both;
    double variance; /* of a reading of weight 1: chi2 over degrees of freedom */
    double freedom;
    rfy_rise_noise noise;
    size_t n, n_outliers;
    double *t, *y, *w; /* readings used: s from the first, Pa, weights */
    double misfit;
} rfy_rise_fit;

/* Fits n readings (t rising from 0). The result lives in the arena. */
void rfy_rise_fit_make(rfy_rise_fit *fit, rfy_arena *arena, const double *t, const double *y,
                       size_t n);

typedef struct rfy_rise_judgement {
    rfy_rise_verdict verdict;
    bool leak_certain, outgassing_certain;
    double bic[4];
    double leak_share, outgassing_share; /* upper ends */
} rfy_rise_judgement;
/* `margin` is added to every threshold, in standard deviations: 0 to judge, 1.64 to foresee what
 * would be told in 95 % of cases. */
rfy_rise_judgement rfy_rise_judge(const rfy_rise_fit *fit, double margin);

/* Length of record, s, at which what the curves still allow would be told apart at this scatter and
 * these intervals; infinity beyond 1000 times this record. */
double rfy_rise_needed(const rfy_rise_fit *fit, const rfy_rise_judgement *judgement);

#endif
