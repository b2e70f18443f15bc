/* The steady state under fixed controls, and the linear response around a state. */
#ifndef RFY_SOLVE_STEADY_H
#define RFY_SOLVE_STEADY_H

#include "solve/ode.h"

/* An ode whose controls never change: those given (not copied). What holds gas is frozen; what it
 * gives off counts only after rfy_stores_freeze. */
rfy_ode *rfy_ode_frozen(rfy_arena *arena, const rfy_network *net, rfy_controls *controls);

/* Marks the states [n_free * g] that have no steady value: gas in a part of the network from which
 * nothing removes it. Leaks and permeation let gas in, but are not counted as a way out. */
void rfy_steady_held(rfy_ode *ode, const double *y, bool *held);

/* Newton with pseudo-transient continuation (Kelley and Keyes 1998, SIAM J. Numer. Anal. 35, 508)
 * from y, in place, and where that fails by following the state in time; held states stay as they
 * are. True when the last correction is below 1e-9 of every amount. */
bool rfy_steady_solve(rfy_ode *ode, double *y, const bool *held, int *iterations);

/* Prepares -J at y for responses; held states do not respond. A tiny decay (1e-9 per second) keeps
 * isolated parts solvable. False when singular. */
bool rfy_response_prepare(rfy_ode *ode, const double *y, const bool *held);
/* x := -J^-1 x and the transpose, over the free states. */
void rfy_response(const rfy_ode *ode, double *x);
void rfy_response_transposed(const rfy_ode *ode, double *x);

#endif
