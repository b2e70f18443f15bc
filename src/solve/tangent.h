/* Exact derivatives of a run by numbers of its description, carried along with the run.
 *
 * The state y(t; q) follows y' = f(t, y, clocks; q); its derivative s = dy/d ln q follows
 *     s' = (df/dy) s + df/dq + (df/dclocks) dclocks/dq
 * along the steps that the run itself takes (solve/tangent_step.h). Where something is switched at
 * an instant T that itself depends on q, s leaps by (f_before - f_after) dT/dq with dT/dq = -(g_y s
 * + g_q)/(g_y f + g_t) for the condition g that came true, and valves, rotors, outgassing clocks
 * and waits that begin then carry dT/dq on (Rozenvasser 1967, "General sensitivity equations of
 * discontinuous systems"; Hairer, Norsett and Wanner 1993, section I.14). df/dq comes from a second
 * network whose number is a little larger (network/neighbour.h): only the parts that differ are
 * looked at, and runs are not differenced.
 *
 * For the default method only. All derivatives are by ln q. */
#ifndef RFY_SOLVE_TANGENT_H
#define RFY_SOLVE_TANGENT_H

#include "network/neighbour.h"
#include "solve/simulate.h"

typedef struct rfy_tangent rfy_tangent;

/* Joins a simulation before it runs; columns are the neighbours, which must outlive it. quick: to
 * about a tenth at a sixth of the cost, for a first look at what counts (no rfy_tangent_look). */
rfy_tangent *rfy_tangent_new(rfy_arena *arena, rfy_sim *sim, const rfy_neighbour *neighbour, int n,
                             bool quick);
bool rfy_tangent_is_quick(const rfy_tangent *tangent);
/* False when derivatives got lost on the way (nothing finite came out). */
bool rfy_tangent_is_sound(const rfy_tangent *tangent);

/* Of the time at which a target was met, s; [n]. NULL = not met yet. */
const double *rfy_tangent_of_target(const rfy_tangent *tangent, int target);
/* How much of a pressure that the order of work waited for hangs on a column, at the most: d ln p
 * by it, at a fixed time since the switching before. */
double rfy_tangent_strain(const rfy_tangent *tangent, int column);
/* How fast its pressure fell then: d ln p/dt, 1/s. */
double rfy_tangent_fall_at_target(const rfy_tangent *tangent, int target);
/* Of ln of the total pressure of every free node, [n_free * n], at an instant of the last step, and
 * of ln of what every gauge shows, [n_gauges * n] (NaN when off); either may be NULL. For an
 * observer's `output`. */
void rfy_tangent_look(rfy_tangent *tangent, double time, const double *y, double *log_pressure,
                      double *log_reading);
/* Of the steady state under the controls of an instant, from the state at the end of the run: ln of
 * the total pressure of every free node, [n_free * n]; y is the steady state, held its gases
 * without one. False when it cannot be worked out. */
bool rfy_tangent_of_steady(rfy_tangent *tangent, rfy_ode *frozen, double time, const double *y,
                           const bool *held, double *log_pressure);

#endif
