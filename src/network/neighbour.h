/* A network beside the same with one number of its description a little larger: what differs, and
 * how fast that changes the rates. */
#ifndef RFY_NETWORK_NEIGHBOUR_H
#define RFY_NETWORK_NEIGHBOUR_H

#include "network/rates.h"

typedef struct rfy_neighbour {
    const rfy_network *net; /* the number times exp(step) */
    double step;
    const char *unsuited; /* why the two cannot be compared (then nothing else counts), or NULL */
    bool walls; /* not a number: the network itself, and d by the power of all walls' spread */
    bool whole; /* temperatures or the gases themselves differ: everything has to be worked out */
    bool baked; /* whole, but what differs is only what bakes do and when */
    /* lists of what differs */
    int n_nodes, *node; /* free nodes, with the relative growth of their volume per unit of step */
    double *growth;
    int n_edges, *edge, n_emitters, *emitter, n_bursts, *burst, n_stores, *store;
    double *fixed; /* [n_nodes * n_gases] pressures of fixed nodes where they differ, or NULL */
    rfy_store_law *law; /* [n_stores of the list] coefficients, and what they were worked out for */
    rfy_store_state *law_at;
} rfy_neighbour;

/* Compares; `varied` may be NULL (unsuited). */
void rfy_neighbour_find(rfy_arena *arena, const rfy_network *net, const rfy_network *varied,
                        double step, rfy_neighbour *out);

#endif
