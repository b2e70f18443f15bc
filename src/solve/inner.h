/* Linear algebra of inner states: each touches only itself and one gas of one place, so it is
 * eliminated from fac I - J in O(1) (an arrow-shaped matrix) and the block factors never see it. */
#ifndef RFY_SOLVE_INNER_H
#define RFY_SOLVE_INNER_H

#include "network/rates.h"

typedef struct rfy_inner rfy_inner;

/* NULL when the network has no inner states. */
rfy_inner *rfy_inner_new(rfy_arena *arena, const rfy_network *net);

/* Derivatives at a state with its pressures. */
void rfy_inner_jacobian(rfy_inner *inner, const rfy_controls *controls, const double *y,
                        const double *pressure);

/* The same without keeping them: rates f, by_x and by_n of each inner state, through of each store,
 * as rfy_inner_values tells them. */
void rfy_inner_slopes(const rfy_network *net, const rfy_controls *controls, const double *y,
                      const double *pressure, double *f, double *by_x, double *by_n,
                      double *through);

/* By state from the first inner one: derivative of its rate by itself, and by the moles of its gas;
 * by store: what flows straight through, by the moles of the gas. Valid until the next Jacobian. */
void rfy_inner_values(const rfy_inner *inner, const double **by_x, const double **by_n,
                      const double **through);

/* What eliminating the inner states adds to the diagonal of the free states, [n_free * n_gases];
 * valid until the next call. Keeps fac for the solves. */
const double *rfy_inner_diagonal(rfy_inner *inner, double fac);

/* Around the solve of the free states, on a right-hand side over the whole state: before, and
 * after; after completes the inner states, and adds to the numerator of the outside entry. */
void rfy_inner_condense(rfy_inner *inner, double *u);
void rfy_inner_expand(rfy_inner *inner, double *u);

/* Adds their part to a dense row-major Jacobian n x n. */
void rfy_inner_dense(const rfy_inner *inner, double *jacobian, size_t n);

#endif
