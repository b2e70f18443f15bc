/* A run recorded as what drove it from one switching to the next, so that another stepper can go
 * the same way from the same right-hand side: what is compared is the stepping, not the physics and
 * not the finding of events. */
#ifndef RFY_TESTS_REPLAY_H
#define RFY_TESTS_REPLAY_H

#include "solve/simulate_parts.h"

typedef struct test_segment { /* from one switching to the next, absolute times */
    double from, to;
    rfy_motion *valve, *pump;
    double *wall_since;
    int *wall_turns;
    rfy_motion *heat; /* temperatures that actions set */
    bool *heated, any_heat;
} test_segment;

typedef struct test_replay {
    rfy_arena *arena;
    const rfy_network *net;
    int n_free; /* free states, the first ones of all */
    int n;      /* … followed by what walls and the like hold: all that another stepper needs */
    int n_segments;
    test_segment *segment;
    size_t n_at;
    const double *at; /* rising, above 0 */
    double **y;       /* [n_at] states of the recorded run, all of them */
    double *start, *end;
    double event_seconds; /* processor time of the recorded run, its events included */
    const char *trouble;  /* NULL = the recorded run came to its end */
    volatile const int *stop;

    /* the right-hand side along the segment entered */
    rfy_sim *driver; /* holds motions and clocks */
    double base;     /* time is local to the segment */
    rfy_controls *controls;
    double controls_at;
    rfy_blocks *blocks;
    rfy_inner *inner; /* NULL: nothing holds gas */
    double *pressure, *state, *rate;
    int entries, *row_start, *entry_column; /* the Jacobian as compressed rows */
    size_t n_rates, n_jacobians;
} test_replay;

/* Runs the network with its own event location and records it; n_at instants are kept. Free with
 * test_replay_free. */
test_replay *test_replay_new(const rfy_network *net, rfy_method method, double rtol,
                             const double *at, size_t n_at, volatile const int *stop);
void test_replay_free(test_replay *replay);

/* Makes segment i the one that test_replay_rates and _jacobian speak of. */
void test_replay_enter(test_replay *replay, int i);
/* From states[...] of a run to y[n], and the absolute error that is allowed in each, over rtol. */
void test_replay_reduce(const test_replay *replay, const double *states, double *y);
void test_replay_floor(const test_replay *replay, double *floor);
/* Rates of y[n] at a local time; false when they are not finite. */
bool test_replay_rates(test_replay *replay, double t, const double *y, double *rate);
/* The Jacobian into value[entries], by replay->row_start[n + 1] and entry_column[entries]. */
void test_replay_jacobian(test_replay *replay, double t, const double *y, double *value);
/* Instant in local time at which the next bend in an outgassing law lies, or the segment's end. */
double test_replay_next_bend(test_replay *replay, int segment, double t);

/* Our own steppers along the recorded segments, nothing watched or located: y[n_at][states] is
 * filled. `land`: stop at the instants in place of reading them inside steps. `with` is a GSL
 * stepper in place of the method's own, NULL for that. `accepted` is told of each step when not
 * NULL. False when it fails. */
typedef void test_accepted(void *context, const rfy_sim *sim);
bool test_replay_ours(const test_replay *replay, rfy_method method,
                      const gsl_odeiv2_step_type *with, double rtol, bool land, double **y,
                      test_accepted *accepted, void *context, size_t *steps);

typedef struct test_place { /* where a run is farthest off */
    double time;
    const char *node, *gas;
    double wanted, found; /* Pa */
} test_place;

/* Greatest |p - p_ref| / (p_ref + 1e-12 Pa) over free nodes, gases and instants; y and ref as
 * [n_at][n or all states]; place may be NULL. NaN when there is one. */
double test_replay_error(const test_replay *replay, double *const *y, double *const *ref,
                         test_place *place);
/* The same for what is held, beside what the stores call a grain (grain: how many of those). */
double test_replay_held_error(const test_replay *replay, double *const *y, double grain);
/* Gas that appeared or vanished in the recorded run, over all that was handled; worst gas. */
double test_replay_residue(const test_replay *replay);
/* Room for the states at all instants, in the replay's arena. */
double **test_replay_room(test_replay *replay);

/* Processor time of this thread, s: a busy machine disturbs it less than the clock on the wall. */
double test_seconds(void);

#endif
