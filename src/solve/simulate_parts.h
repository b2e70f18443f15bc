/* The inside of a simulation, shared by simulate.c (stepping), watch.c (what is watched inside a
 * step) and act.c (procedure steps). */
#ifndef RFY_SOLVE_SIMULATE_PARTS_H
#define RFY_SOLVE_SIMULATE_PARTS_H

#include <gsl/gsl_roots.h>
#include "core/text.h"
#include "solve/simulate.h"

/* Walls end a step when their clock starts and where the pieces of their law meet, while they are
 * few; a thousand cells each with its wall would end thousands of steps for nothing. */
#define RFY_WALLS_WATCHED 64

typedef struct rfy_motion { /* from `from` at start evenly to `to` at end; then it stays. Absolute
                               times. */
    double from, to, start, end;
} rfy_motion;

double rfy_motion_at(const rfy_motion *motion, double time);
/* A condition that only time fulfils. */
bool rfy_is_clock(const rfy_condition *condition);

typedef enum rfy_guard_kind {
    RFY_GUARD_STEP,      /* what a track waits for comes true */
    RFY_GUARD_WALL_DOWN, /* a wall leaves atmosphere */
    RFY_GUARD_WALL_UP,   /* a wall meets atmosphere again */
    RFY_GUARD_TARGET,
    RFY_GUARD_LIMIT,
    RFY_GUARD_THIN,     /* a line's flow leaves the viscous regime */
    RFY_GUARD_MOLECULAR /* and becomes molecular */
} rfy_guard_kind;

typedef struct rfy_guard {
    rfy_guard_kind kind;
    int index;
    bool armed;
    double before; /* value at the beginning of the step */
} rfy_guard;

typedef struct rfy_track { /* where a program stands */
    const rfy_program *program;
    int op, *counter;
    double began, since; /* its step, its operation */
    bool due;            /* the condition it waits for has been located at this instant */
    bool struck;         /* a fault: has acted */
    int fired;
    const char *ended; /* why it stopped before its end */
    int ended_step;
} rfy_track;

typedef struct rfy_lagging { /* a gauge with a lag at one instant */
    double time, pressure, reading;
} rfy_lagging;

typedef struct rfy_sight { /* what guards look at, at one instant */
    double *partial, *pressure, *turn, *reading, *opening;
    double *rise, *rate; /* [node] Pa/s when some limit asks for it; [state] */
    double *temperature; /* [node] */
    bool *connected;     /* [pump] */
    int *reach;          /* scratch of the search for connections */
    rfy_view view;
} rfy_sight;

#define RFY_PARTS 4 /* of a step, at which peaks and spikes are looked for */

struct rfy_sim {
    rfy_arena *arena;
    const rfy_network *net;
    rfy_sim_options options;
    const rfy_observer *observer;
    rfy_ode *ode;
    gsl_odeiv2_system system;
    gsl_odeiv2_driver *driver; /* msbdf only */
    gsl_odeiv2_step *step, *restep;
    gsl_odeiv2_evolve *evolve;
    gsl_odeiv2_control *control;
    gsl_root_fsolver *root;

    double time, base, local, h, switched; /* switched: last change of the procedure, for outputs */
    double *y, *work, *found, *yerr, *restart, *slope[2];
    double found_at;   /* time of the state `found`, when a switching was located there; else NaN */
    double *y_part[2]; /* scratch of that */
    double step_from, step_to, *y_start, *y_end; /* the last step */
    bool have_slopes, moving, doubtful;
    double doubled; /* local time when it last doubled, and steps since */
    size_t since_doubled, next_at;

    rfy_motion *valve, *pump;
    rfy_motion *heat; /* [node] temperatures set by actions */
    bool *heated;     /* [node] whether they hold, in place of the description's bake */
    bool any_heat;    /* some place has a bake or was heated */
    double *temperature, *store_scale; /* [n_nodes] for rfy_sim_temperatures; [n_stores] */
    bool *gauge_on, *burst_on;
    double *wall_since; /* [node] absolute time the outgassing clock started; NaN = at atmosphere */
    double *wall_factor; /* [emitter] */
    int *wall_turns;     /* [node] how often its walls met air again */

    rfy_lagging *lagging[2]; /* [gauge] at the beginning of the last step, and now */
    int n_tracks;
    rfy_track *track; /* the procedure, rules, faults */
    bool mains;
    bool *driven;                 /* [pump] switched on */
    bool *pump_held, *valve_held; /* answers to nothing any more */
    double until;
    double acted_at; /* when something last acted, and how many operations since at one instant */
    int acted_at_once;
    bool any_broken;

    int n_guards;
    rfy_guard *guard;
    rfy_sight sight, own_sight;    /* what is seen now; where rfy_sim_look puts it */
    rfy_sight part[RFY_PARTS + 1]; /* quarters of the last step, seen when first asked for … */
    bool part_seen[RFY_PARTS + 1];
    double parts_from, parts_to; /* … between these */
    rfy_limit_state *limit;
    bool *target_met;

    struct rfy_tangent *tangent; /* derivatives carried along, or NULL */

    size_t steps, rejected, restarts;
    const char *trouble;
};

/* The state inside the last step: the stepper's interpolant where it can be trusted, else a step of
 * its own. Fast parts that follow a moving forcing (walls that dry up, a rotor on its way) are met
 * at the ends of a step but not by an interpolant between them, when the step is long against the
 * forcing. */
void rfy_sim_inside(rfy_sim *sim, double time, double *y);
/* Always the stepper's interpolant: for a first look. */
void rfy_sim_glance(rfy_sim *sim, double time, double *y);
/* Always a step of its own: as accurate as the run. */
void rfy_sim_restep(rfy_sim *sim, double time, double *y);
void rfy_sim_restart(rfy_sim *sim);
/* The next instant at which a control stops being smooth; only_walls: no jump, a bend in the law of
 * a wall. */
double rfy_sim_next_break(const rfy_sim *sim, bool *only_walls);
/* Tells the outputs that lie between two times of the last step. */
void rfy_sim_put_outputs(rfy_sim *sim, double from, double to);
/* One accepted step, at the most to `target`, nothing watched. */
rfy_status rfy_sim_step(rfy_sim *sim, double target);

/* heat.c */
/* Sets temperatures; says whether one is on its way. */
bool rfy_sim_warmth(const rfy_sim *sim, double time, double *temperature);
/* The next instant after now at which a temperature bends or a getter wakes; INFINITY if none. */
double rfy_sim_heat_break(const rfy_sim *sim);
/* What is on its way by an action stays as warm as it is now; false when nothing was. */
bool rfy_sim_heat_hold(rfy_sim *sim, int node);
/* When an action's heating brings a place to just this temperature; INFINITY if it does not. */
double rfy_sim_heat_end(const rfy_sim *sim, int node, double temperature);
/* Tells what begins or ends at this instant. */
void rfy_sim_heat_events(rfy_sim *sim);
void rfy_sim_heat_new(rfy_sim *sim);

/* limits.c */
void rfy_sim_limit_begins(rfy_sim *sim, int i, double time);
/* Breaks the limit when it has been exceeded for longer than allowed by `time`. */
void rfy_sim_limit_check(rfy_sim *sim, int i, double time, const double *y);
/* Counts the present sight for the peak of a limit. */
void rfy_sim_limit_peak(rfy_sim *sim, int i, double time);
/* A limit over the last step in parts, so that a peak that comes and goes inside it is not missed.
 */
void rfy_sim_watch_limit(rfy_sim *sim, rfy_guard *guard, double from, double horizon);

/* watch.c */
/* Value of a guard at the instant last looked at. */
double rfy_sim_guard_value(const rfy_sim *sim, const rfy_guard *guard);
/* Looks at the end of the given quarter (0: the beginning) of the step from `from` to `to`. */
void rfy_sim_look_at_part(rfy_sim *sim, int part, double from, double to);
/* What a guard that ends no step does when it has changed sign between two instants. */
void rfy_sim_passive_change(rfy_sim *sim, rfy_guard *guard, double now, double from, double to);
void rfy_sim_guards_new(rfy_sim *sim);
/* Values at the present instant, after a switching. */
void rfy_sim_guards_begin(rfy_sim *sim);
/* Looks at the last step; reports what happened in it, moves time and state back to the first
 * switching in it and says whether there was one. */
bool rfy_sim_watch(rfy_sim *sim);
bool rfy_sim_all_targets(const rfy_sim *sim);
/* For each pump whether an open way leads from its inlet to the clean side, with valves as last
 * looked at. */
void rfy_sim_find_connections(rfy_sim *sim);
void rfy_sim_look(rfy_sim *sim, double time, const double *y);

/* gauges.c */
/* Takes the lagging readings along to the present instant, as last looked at. */
void rfy_sim_settle_gauges(rfy_sim *sim);
/* A lagging reading at a later time, when the pressure went to p. */
double rfy_sim_follow(const rfy_lagging *from, double p, double time, double lag);
/* A gauge that is switched on shows what is there. */
void rfy_sim_gauge_begins(rfy_sim *sim, int gauge);

/* act.c */
/* When the wait of a track ends by the clock alone, infinite when it does not. */
double rfy_sim_alarm(const rfy_sim *sim, const rfy_track *track);
/* The present wait of a track; NULL when it waits for nothing. */
const rfy_op *rfy_sim_wait(const rfy_sim *sim, const rfy_track *track);
void rfy_sim_tracks_new(rfy_sim *sim);
/* Takes all steps whose condition holds now. */
rfy_status rfy_sim_fire(rfy_sim *sim);
/* Reports what reached its end at this instant: valves, rotors, bursts. */
void rfy_sim_machine_events(rfy_sim *sim);
void rfy_sim_tell(rfy_sim *sim, double time, const double *y, rfy_event_kind kind,
                  const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 5, 6)))
#endif
    ;

#endif
