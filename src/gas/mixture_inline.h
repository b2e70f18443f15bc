/* The mixture rules for four compositions at a time, for inner loops that know the number of gases
 * beforehand; see mixture.c for the formulas. */
#ifndef RFY_GAS_MIXTURE_INLINE_H
#define RFY_GAS_MIXTURE_INLINE_H

#include "gas/mixture.h"

typedef struct rfy_mixture_four { /* see rfy_mixture_state */
    rfy_v4 viscosity, mass, gamma;
} rfy_mixture_four;

/* Weights w[n] >= 0 of sum `total` > 0. slopes[n]: derivatives by each weight, NULL = not wanted.
 */
RFY_INLINE void rfy_mixture_of_four(const rfy_mixture *mixture, const rfy_v4 *w, rfy_v4 total,
                                    const int n, rfy_mixture_four *state,
                                    rfy_mixture_four *slopes) {
    rfy_v4 sum[RFY_MAX_GASES], flow[RFY_MAX_GASES]; /* S_i, mu_i/S_i */
    rfy_v4 viscosity = {0}, mass = {0}, capacity = {0};
    for (int i = 0; i < n; i++) {
        rfy_v4 s = {0};
        RFY_UNROLL
        for (int j = 0; j < n; j++)
            s += w[j] * mixture->wilke_row[i].d[j];
        sum[i] = s;
        flow[i] = mixture->viscosity.d[i] / s;
        viscosity += w[i] * flow[i];
        mass += w[i] * mixture->mass.d[i];
        capacity += w[i] * mixture->capacity.d[i];
    }
    const rfy_v4 inverse = 1 / total, mean_capacity = capacity * inverse;
    state->viscosity = viscosity;
    state->mass = mass * inverse;
    state->gamma = 1 + 1 / mean_capacity;
    if (!slopes)
        return;
    const rfy_v4 by_capacity = inverse / (mean_capacity * mean_capacity);
    rfy_v4 pull[RFY_MAX_GASES];
    for (int i = 0; i < n; i++)
        pull[i] = w[i] * flow[i] / sum[i];
    for (int k = 0; k < n; k++) {
        rfy_v4 slope = flow[k];
        for (int i = 0; i < n; i++)
            slope -= pull[i] * mixture->wilke_row[i].d[k];
        slopes[k].viscosity = slope;
        slopes[k].mass = (mixture->mass.d[k] - state->mass) * inverse;
        slopes[k].gamma = (mean_capacity - mixture->capacity.d[k]) * by_capacity;
    }
}

#endif
