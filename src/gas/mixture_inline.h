/* The mixture rules on vectors, for inner loops that know the number of gases beforehand; see
 * mixture.c for the formulas. */
#ifndef RFY_GAS_MIXTURE_INLINE_H
#define RFY_GAS_MIXTURE_INLINE_H

#include "gas/mixture.h"

typedef struct rfy_mixture_slopes { /* derivatives by each weight */
    rfy_v4 viscosity[RFY_MAX_GASES / RFY_LANES], mass[RFY_MAX_GASES / RFY_LANES],
        gamma[RFY_MAX_GASES / RFY_LANES];
} rfy_mixture_slopes;

/* Weights w >= 0 (0 in the padding) of sum `total` > 0; slopes NULL = not wanted. */
RFY_INLINE void rfy_mixture_in_lanes(const rfy_mixture *mixture, const rfy_v4 *w, double total,
                                     const int n, const int lanes, rfy_mixture_state *state,
                                     rfy_mixture_slopes *slopes) {
    rfy_v4 sum[RFY_MAX_GASES / RFY_LANES], flow[RFY_MAX_GASES / RFY_LANES]; /* S_i, mu_i/S_i */
    rfy_v4 viscosity = {0}, mass = {0}, capacity = {0};
    RFY_UNROLL
    for (int v = 0; v < lanes; v++)
        sum[v] = (rfy_v4){0};
    RFY_UNROLL
    for (int j = 0; j < n; j++) {
        const double f = w[j / RFY_LANES][j % RFY_LANES];
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            sum[v] += f * mixture->wilke_column[j].v[v];
    }
    RFY_UNROLL
    for (int v = 0; v < lanes; v++) {
        flow[v] = mixture->viscosity.v[v] / sum[v];
        viscosity += w[v] * flow[v];
        mass += w[v] * mixture->mass.v[v];
        capacity += w[v] * mixture->capacity.v[v];
    }
    const double inverse = 1 / total, mean_capacity = rfy_sum(capacity) * inverse;
    state->viscosity = rfy_sum(viscosity);
    state->mass = rfy_sum(mass) * inverse;
    state->gamma = 1 + 1 / mean_capacity;
    if (!slopes)
        return;
    const double by_capacity = inverse / (mean_capacity * mean_capacity);
    rfy_v4 pull[RFY_MAX_GASES / RFY_LANES];
    RFY_UNROLL
    for (int v = 0; v < lanes; v++) {
        pull[v] = w[v] * flow[v] / sum[v];
        slopes->viscosity[v] = flow[v];
        slopes->mass[v] = (mixture->mass.v[v] - state->mass) * inverse;
        slopes->gamma[v] = (mean_capacity - mixture->capacity.v[v]) * by_capacity;
    }
    RFY_UNROLL
    for (int i = 0; i < n; i++) {
        const double f = pull[i / RFY_LANES][i % RFY_LANES];
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            slopes->viscosity[v] -= f * mixture->wilke_row[i].v[v];
    }
}

#endif
