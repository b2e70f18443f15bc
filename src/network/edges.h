/* The laws of edges that are not pumps: tubing, given conductances, leaks, permeation. */
#ifndef RFY_NETWORK_EDGES_H
#define RFY_NETWORK_EDGES_H

#include "network/network.h"

/* A stretch of tubing: data unused, edge->stretch is the law. */
rfy_edge_flow rfy_edge_stretch;

typedef struct rfy_given {       /* N_i = moles_i (a_i - b_i) */
    double moles[RFY_MAX_GASES]; /* mol/s/Pa */
} rfy_given;
rfy_edge_flow rfy_edge_given;
/* A conductance for air in molecular flow at 20 degC, other gases by the root of their mass, other
 * temperatures by its root. Between unequal temperatures pressures balance (no thermal
 * transpiration). */
const rfy_given *rfy_given_molecular(rfy_arena *arena, const rfy_mixture *mixture,
                                     double conductance, double temperature);

/* The same with a conductance that follows a curve over mean total pressure (Pa and m3/s, above
 * zero, rising or falling throughout; ln C by a smooth curve of ln p, constant beyond the ends).
 * Each gas still moves by its own partial pressures, with the root of its mass: a mixture is not
 * carried along as in viscous flow. */
rfy_edge_flow rfy_edge_given_curve;
typedef struct rfy_given_curve rfy_given_curve;
const rfy_given_curve *rfy_given_curve_new(rfy_arena *arena, const rfy_mixture *mixture,
                                           const rfy_curve *curve, double temperature);

typedef struct rfy_leak rfy_leak;
rfy_edge_flow rfy_edge_leak;
/* `rate`: Pa m3/s (at 293.15 K) with one atmosphere of `outside` composition against vacuum. When
 * fixed_outside the gas before the leak is always `outside` (a tracer); otherwise what stands at
 * edge->from. */
const rfy_leak *rfy_leak_new(rfy_arena *arena, const rfy_mixture *mixture, double rate,
                             const double *outside, bool fixed_outside);

/* Moles per second through pump edges: data is the rfy_pump. */
rfy_edge_flow rfy_edge_pump;

#endif
