/* Gas held by a wall, a getter or a cold surface: inner states that exchange gas with one gas of
 * one place, and with nothing else.
 *
 * Each state x_j (mol) follows
 *     dx_j/dt = -k_j x_j/(1 + c_j x_j) + (g_j - h_j x_j) p + o_j
 * with the partial pressure p (Pa) of its gas; the place gains, in mol/s,
 *     through (p_outside - p) - sum_j dx_j/dt ,
 * and, when the outer face is open, what comes in there is
 *     through (p_outside - p) + sum_j sign_j dx_j/dt .
 * So the gas in the wall is sum_j weight_j x_j with weight_j = 1 + sign_j (1 when the outer face is
 * closed), and nothing is lost. Desorption sites, modes of diffusion, a getter's capacity and
 * condensed vapour all have this form; what differs is how the coefficients follow from
 * temperature. */
#ifndef RFY_SURFACE_STORE_H
#define RFY_SURFACE_STORE_H

#include "core/arena.h"
#include "gas/mixture.h"

typedef struct rfy_store rfy_store;

typedef struct rfy_store_law { /* coefficients at one temperature; arrays of store->n */
    double *k, *g, *h, *o, *c;
    double through;         /* mol/s/Pa */
    double through_outside; /* the same times the pressure outside, mol/s */
} rfy_store_law;

typedef struct rfy_store_state { /* temperatures in K; scale: amounts as a multiple of the best
                                    estimate (bands) */
    double wall, gas, scale;
    bool active; /* a getter that has been flashed or activated */
} rfy_store_state;

typedef struct rfy_store_kind {
    const char *name;
    bool exchanges; /* takes gas up by the pressure while it stays as it is */
    bool pumps;     /* and keeps it, as a pump does */
    void (*law)(const rfy_store *store, const rfy_store_state *at, rfy_store_law *law);
    /* In place of the general form for stores of one state whose rate has its own shape (NULL: the
     * general form): dx/dt and its derivatives by x and p. */
    double (*rate)(const rfy_store *store, const rfy_store_law *law, double p, double x,
                   double *by_x, double *by_p);
} rfy_store_kind;

struct rfy_store {
    const char *name, *material;
    const rfy_store_kind *kind;
    const void *data;
    int node, gas;
    int n, first;         /* states, and the index of the first in the state vector */
    double spread;        /* factor up and down */
    double *start;        /* [n] mol at the beginning */
    const double *weight; /* [n] gas in the wall per unit of state, mol */
    const double *sign;   /* [n] of what passes the outer face; NULL = closed */
    double *grain;        /* [n] amounts below this need no relative accuracy, mol */
    double temperature;   /* of its own, K; NaN = that of the place */
    double active_from;   /* s; -INFINITY = always */
};

rfy_store_law rfy_store_law_new(rfy_arena *arena, int n);

/* Gas in it, mol. */
double rfy_store_content(const rfy_store *store, const double *x);

/* dx/dt of all states into f, with the derivatives by x_j and by p when by_x is not NULL; the gas
 * that the place gains, mol/s, is the result, and what came in through the outer face goes to
 * *outer. */
double rfy_store_rates(const rfy_store *store, const rfy_store_law *law, double p, const double *x,
                       double *f, double *by_x, double *by_p, double *outer);

#endif
