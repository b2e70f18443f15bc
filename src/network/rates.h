/* The right-hand side of a network and its Jacobian: how fast the moles of each gas change in each
 * node. */
#ifndef RFY_NETWORK_RATES_H
#define RFY_NETWORK_RATES_H

#include "network/network.h"

/* What is not part of the state: positions of valves, speeds of rotors, emission of walls at one
 * instant. */
typedef struct rfy_controls {
    double *opening;                    /* [n_valves] 0 to 1 */
    double *turn;                       /* [n_pumps] 0 to 1 */
    double *opening_slope, *turn_slope; /* their time derivatives, 1/s */
    bool heating;                       /* some temperature is on its way */
    double *emission;                   /* [n_free * n_gases] mol/s from walls and bursts */
    double *emission_slope;             /* its time derivative, mol/s2 */
    double *from_walls; /* [n_gases] sum of the emission of walls alone, mol/s; bursts come from
                           outside */
    double *from_walls_slope;
    double *from_bursts;  /* [n_gases] */
    double *temperature;  /* [n_nodes] gas and walls, K */
    bool warm;            /* some place is not at the temperature the network was built for */
    rfy_store_law *store; /* [n_stores] coefficients … */
    rfy_store_state *store_state; /* … and what they were worked out for */
    bool frozen;   /* stores do not change; what they give off is part of `emission`, */
    double *taken; /* [n_free * n_gases] and this what they take up, 1/s; only when frozen */
    double *flow; /* [n_edges * n_gases] of one copy of each edge that is open, mol/s, as the last
                     Jacobian left them; NULL = nobody asks */
    double *apparent, *bent; /* scratch of warm places: pressures as the edges see them, [n_nodes *
                                n_gases], and what their derivatives need, [n_nodes * 2] */
} rfy_controls;

rfy_controls *rfy_controls_new(rfy_arena *arena, const rfy_network *net);

/* Sparse matrix of n_gases x n_gases blocks by rows: rows are all nodes (the walls' entry has
 * none), columns the free nodes. Every free row has its diagonal block. */
typedef struct rfy_blocks {
    int n_rows, n_columns, g;
    int *start;    /* [n_rows + 1] */
    int *column;   /* [start[n_rows]], rising in each row */
    double *value; /* [start[n_rows] * g * g] row-major blocks */
    int *edge; /* [4 * n_edges]: blocks (from,from) (from,to) (to,from) (to,to); -1 = no such column
                */
} rfy_blocks;

rfy_blocks *rfy_blocks_new(rfy_arena *arena, const rfy_network *net);

/* Partial pressures of all nodes, [n_nodes * n_gases]; fixed nodes have their own. `temperature`
 * [n_nodes]: of the gas, NULL = as the network was built. */
void rfy_pressures(const rfy_network *net, const double *temperature, const double *y,
                   double *pressure);

/* As edges see them, where some places are warmer than the network was built for; valid until the
 * next question about these controls. */
const double *rfy_pressures_seen(const rfy_network *net, const rfy_controls *controls,
                                 const double *pressure);

/* rate[states] from y[states]; `pressure` is scratch of n_nodes * n_gases that ends up filled. */
void rfy_rates(const rfy_network *net, const rfy_controls *controls, const double *y, double *rate,
               double *pressure);
/* The Jacobian of the same, and the rates with it when `rate` is not NULL (those of rfy_rates, to
 * round-off). */
void rfy_rates_jacobian(const rfy_network *net, const rfy_controls *controls, const double *y,
                        double *pressure, rfy_blocks *jacobian, double *rate);

/* Flow through one edge, mol/s of each gas from its first end, at partial pressures of all nodes;
 * with its derivatives by the pressures at both ends when by_a is not NULL. Takes account of places
 * that are warmer than the network was built for; n_nodes * n_gases of `pressure` are looked at
 * only at its ends. */
void rfy_flow_through(const rfy_network *net, const rfy_controls *controls, int edge,
                      const double *pressure, double *flow, double *by_a, double *by_b);
/* How it changes when the opening or turn does with this slope. */
void rfy_flow_by_control(const rfy_network *net, const rfy_controls *controls, int edge,
                         const double *pressure, double slope, double *change);
/* Opening of the valve or turn of the pump in an edge; 1 when there is neither. */
double rfy_control_of(const rfy_edge *edge, const rfy_controls *controls);

/* Adds to dfdt[states] what valves and rotors on their way change in the rates, mol/s2, at the
 * pressures that rfy_rates left in `pressure`. Temperatures are not part of it. */
void rfy_rates_by_motion(const rfy_network *net, const rfy_controls *controls,
                         const double *pressure, double *dfdt);

/* The state at the beginning: moles in free nodes, zero gained by the others. */
void rfy_start_state(const rfy_network *net, double *y);

#endif
