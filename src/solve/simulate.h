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
    /* At the present instant: just before step `op->step` of the procedure is taken, or a fault
     * strikes. */
    void (*step)(void *context, rfy_sim *sim, const rfy_program *program, int step);
    void (*limit)(void *context, rfy_sim *sim, double time, const double *y, int limit);
    /* After every step of the solver: it led from one instant to the other. */
    void (*advanced)(void *context, rfy_sim *sim, double from, double to, const double *y);
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
    /* the same for each emitter, then each store, in place of wall_scale: a power of its spread;
     * NULL = one for all */
    const double *wall_scales;
    const double
        *at; /* output instants, rising; NULL: chosen, restarting fine after every switching */
    size_t n_at;
    volatile const int *stop;
    bool targets_only;     /* stop when all targets were met; no other events are located */
    bool uncounted;        /* what passed outwards and came from walls is not followed */
    double until;          /* end of the run in place of the description's, s; 0 = that */
    bool stop_when_broken; /* end at the first limit that breaks */
    const rfy_program *const *fault; /* what acts besides the procedure and the rules */
    size_t n_faults;
} rfy_sim_options;

/* NULL only when memory of GSL fails. Free with rfy_sim_free. */
rfy_sim *rfy_sim_new(const rfy_network *net, const rfy_sim_options *options,
                     const rfy_observer *observer);
void rfy_sim_free(rfy_sim *sim);

/* Runs to the end of the description. RFY_OK, RFY_RUN_FAILED (rfy_sim_trouble says why) or
 * RFY_INTERRUPTED. */
rfy_status rfy_sim_run(rfy_sim *sim);

/* Where rfy_sim_run stops; it may be called again with a later end. */
void rfy_sim_set_until(rfy_sim *sim, double until);
double rfy_sim_time(const rfy_sim *sim);
const double *rfy_sim_state(const rfy_sim *sim);
const char *rfy_sim_trouble(const rfy_sim *sim); /* NULL = none */
/* What the procedure waits for, NULL when it is done; why it ended before its end, or NULL. */
const rfy_op *rfy_sim_waits_for(const rfy_sim *sim);
const char *rfy_sim_ended_by(const rfy_sim *sim, int *step);
const rfy_limit_state *rfy_sim_limit(const rfy_sim *sim, int limit);
rfy_ode *rfy_sim_ode(rfy_sim *sim);
void rfy_sim_stats(const rfy_sim *sim, rfy_solver_stats *stats);
/* Controls at an absolute time, motions and wall clocks as they stand now. */
void rfy_sim_controls(rfy_sim *sim, double time, rfy_controls *controls);
/* Time that a wall (an emitter of the network) has been under vacuum; NaN in air. */
double rfy_sim_wall_age(const rfy_sim *sim, int emitter, double time);
/* What a wall without a memory gives off, mol/s, at a temperature of its place; 0 in air. Whether a
 * burst is on. */
double rfy_sim_emission(const rfy_sim *sim, int emitter, double time, double temperature);
bool rfy_sim_bursts(const rfy_sim *sim, int burst);
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
/* All that changes in a run, to go on from there in another simulation of the same network (or one
 * with other numbers: pressures are kept), with more faults or other limits of time. Free with
 * rfy_snapshot_free. */
typedef struct rfy_snapshot rfy_snapshot;
rfy_snapshot *rfy_sim_save(const rfy_sim *sim);
/* Limits broken before stay so and are not watched again; what acts besides begins now. */
void rfy_sim_load(rfy_sim *sim, const rfy_snapshot *snapshot);
void rfy_snapshot_free(rfy_snapshot *snapshot);
double rfy_snapshot_time(const rfy_snapshot *snapshot);
/* Whether the pump is driven, the gauge switched on at that instant; how far the valve is open. */
bool rfy_snapshot_driven(const rfy_snapshot *snapshot, int pump);
bool rfy_snapshot_switched(const rfy_snapshot *snapshot, int gauge);
double rfy_snapshot_opening(const rfy_snapshot *snapshot, int valve);
double rfy_snapshot_turn(const rfy_snapshot *snapshot, int pump);
double rfy_snapshot_pressure(const rfy_snapshot *snapshot, int node); /* of a free node, Pa */
bool rfy_snapshot_broken(const rfy_snapshot *snapshot, int limit);
bool rfy_snapshot_met(const rfy_snapshot *snapshot, int target);
/* Reading of a gauge in nitrogen equivalent at a time of the last step or now, NaN when off;
 * pressures by node and gas. */
double rfy_sim_reading(const rfy_sim *sim, int gauge, double time, const double *partial);

#endif
