/* One run of a network in time: stepping, switchings, and what is watched on the way.
 *
 * The network stays constant; everything that changes lives here. Several simulations of one
 * network can run at once in different threads. */
#ifndef RFY_SOLVE_SIMULATE_H
#define RFY_SOLVE_SIMULATE_H

#include "network/network.h"
#include "rarefy/rarefy.h"
#include "solve/ode.h"

typedef struct rfy_sim rfy_sim;

/* What the simulation tells. y is the state at that time; pressures of all nodes can be asked with
 * rfy_sim_pressures. All may be NULL. */
typedef struct rfy_observer {
    void (*event)(void *context, rfy_sim *sim, double time, const double *y, rfy_event_kind kind,
                  const char *what);
    void (*output)(void *context, rfy_sim *sim, double time, const double *y);
    void (*target)(void *context, rfy_sim *sim, double time, const double *y, int target);
    void *context;
} rfy_observer;

typedef struct rfy_limit_state {
    bool over;
    double over_since;
    bool broken;
    double broken_at, peak, peak_at; /* NaN until they happen */
} rfy_limit_state;

typedef struct rfy_sim_options {
    rfy_method method;
    double tolerance;
    double wall_scale; /* -1, 0, +1: wall rates divided by, as, times their spread */
    const double
        *at; /* output instants, rising; NULL: chosen, restarting fine after every switching */
    size_t n_at;
    volatile const int *stop;
    bool targets_only; /* stop when all targets were met; no other events are located */
} rfy_sim_options;

/* NULL only when memory of GSL fails. Free with rfy_sim_free. */
rfy_sim *rfy_sim_new(const rfy_network *net, const rfy_sim_options *options,
                     const rfy_observer *observer);
void rfy_sim_free(rfy_sim *sim);

/* Runs to the end of the description. RFY_OK, RFY_RUN_FAILED (rfy_sim_trouble says why) or
 * RFY_INTERRUPTED. */
rfy_status rfy_sim_run(rfy_sim *sim);

double rfy_sim_time(const rfy_sim *sim);
const double *rfy_sim_state(const rfy_sim *sim);
const char *rfy_sim_trouble(const rfy_sim *sim); /* NULL = none */
/* Steps of the procedure taken so far. */
int rfy_sim_steps_taken(const rfy_sim *sim);
const rfy_limit_state *rfy_sim_limit(const rfy_sim *sim, int limit);
rfy_ode *rfy_sim_ode(rfy_sim *sim);
void rfy_sim_stats(const rfy_sim *sim, rfy_solver_stats *stats);
/* Controls at an absolute time, motions and wall clocks as they stand now. */
void rfy_sim_controls(rfy_sim *sim, double time, rfy_controls *controls);
/* Time that a wall (an emitter of the network) has been under vacuum; NaN in air. */
double rfy_sim_wall_age(const rfy_sim *sim, int emitter, double time);
/* For the ultimate pressure: walls that never left air in the run count as under vacuum since its
 * beginning. */
void rfy_sim_start_clocks(rfy_sim *sim, double after);
/* Temperatures of all nodes at an absolute time, K, valid until the next call; NULL while nothing
 * is ever heated. */
const double *rfy_sim_temperatures(rfy_sim *sim, double time);
/* Begins to heat or cool a place (gas and walls) now, evenly at `rate` K/s (> 0) to `target` K; it
 * stays there, and a bake of the description no longer holds for it. For actions of a procedure;
 * the caller restarts the stepping as after any switching. */
void rfy_sim_heat(rfy_sim *sim, int node, double target, double rate);
/* Reading of a gauge in nitrogen equivalent, NaN when off; pressures by node and gas. */
double rfy_sim_reading(const rfy_sim *sim, int gauge, const double *partial);

#endif
