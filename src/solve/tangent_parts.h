/* The inside of a tangent, shared by tangent.c (its course), tangent_quick.c, tangent_rates.c (the
 * equations at one instant) and tangent_clock.c (what is switched). */
#ifndef RFY_SOLVE_TANGENT_PARTS_H
#define RFY_SOLVE_TANGENT_PARTS_H

#include "solve/simulate_parts.h"
#include "solve/tangent.h"
#include "solve/tangent_step.h"

/* The equations at one instant. */
typedef struct rfy_tangent_point {
    rfy_linear a;
    rfy_v4 *b;    /* [rows * m] */
    rfy_fed *fed; /* [n_stores] where there is any in inner rows */
    double *f;    /* [states] rates of the run */
} rfy_tangent_point;

typedef struct rfy_tangent_place { /* where a quick step begins */
    double time, *y;
    const rfy_tangent_point *point;
} rfy_tangent_place;

/* Derivatives of a motion's four numbers: [4][columns] from, to, start, end. */
enum { RFY_D_FROM, RFY_D_TO, RFY_D_START, RFY_D_END, RFY_D_MOTION };

struct rfy_tangent {
    rfy_arena *arena;
    struct rfy_memory *memory; /* quick: NULL = nothing is remembered */
    rfy_sim *sim;
    const rfy_network *net;
    const rfy_neighbour *neighbour;
    int n, columns, m, rows; /* columns: n filled up to whole vectors */
    rfy_linear_step *step, *aside;
    rfy_tangent_point point[6];
    rfy_tangent_point *begin; /* the present instant, where the next step begins */
    rfy_tangent_point *end;   /* where the last one began */
    rfy_tangent_point *middle, *spare, *way[2];
    double stride;    /* length of the step that an instant is looked at for */
    double part_from; /* where the last part of the last step began */
    double *y_inside;
    rfy_v4 *s_start, *s_inside;
    bool begin_known, sound, quick;
    /* quick: where s stands when it is behind the run, and where the last step of s began */
    rfy_tangent_place now, before;
    bool behind;
    bool resting, never_rests; /* quick: nothing of s is asked for any more; it will be */
    rfy_v4 *s;                 /* now */

    /* clocks; [.. * columns] */
    double *valve, *pump, *heat;                       /* [part * RFY_D_MOTION * columns] */
    double *wall;                                      /* [node]: when its clock began */
    double *began, *since;                             /* [track] */
    double *shown, *seen, *shown_before, *seen_before; /* [gauge] a lagging reading, and what it
                             follows; only where some gauge lags */
    double *moment;                                    /* of the instant of a switching */
    double *shift;                 /* of that after which something acted last */
    double shift_most, shift_from; /* the greatest; when that was */
    bool shifted;                  /* it is not 0 for all */
    bool caused;                   /* it is known */
    /* as they were before the switching */
    rfy_motion *valve_was, *pump_was, *heat_was;
    bool *heated_was, *gauge_was;

    double *target; /* [target * columns] */
    double *fall;   /* [target] d ln p/dt when it was met */
    double *strain; /* [columns] of ln of what a step waited for, the greatest */
    bool *target_known;
    /* scratch */
    rfy_controls *controls, *own, *other, **whole; /* [n] of whole neighbours; controls: those of
                             the instant, own or the run's */
    const double *apparent; /* pressures as edges see them, [n_nodes * n_gases] */
    const double *flow;     /* of the run through each open edge */
    double *pressure, *pressure_of, *rate, *rate_beside, *rate_before, *control, *warmth, *column;
    rfy_store_law *warmer;      /* [store] at a little higher temperature, … */
    rfy_store_state *warmer_at; /* … and what it was worked out for */
    bool any_baked;             /* some neighbour's is */
    double *slope[3];
    rfy_v4 *growth; /* [free node * m] of volumes, by columns, where places only grow … */
    bool any_growth, *grows; /* … and whether there is any; [free node] */
};

/* A and b at an instant. early: the limit from before it (clocks that end there still run). The run
 * itself asks for A where its steps begin and end; what is worked out there is kept for it. */
bool rfy_tangent_evaluate(rfy_tangent *t, double time, double local, const double *y, bool early,
                          rfy_tangent_point *out);
bool rfy_tangent_evaluate_aside(rfy_tangent *t, double time, const double *y, bool early,
                                rfy_tangent_point *out);
/* Flows asked for, gas by gas for one copy, at pressures that an edge sees at its ends. */
typedef struct rfy_tangent_flow {
    const rfy_network *net;
    int edge;
    const double *a, *b;
    double *flow; /* where it goes */
} rfy_tangent_flow;
void rfy_tangent_flows(const rfy_tangent *t, const rfy_tangent_flow *list, int n);
/* df of the states of a store, and of its gas, times a factor, to a column of b. */
void rfy_tangent_feed(const rfy_tangent *t, rfy_tangent_point *out, int store, int column,
                      const double *df, double factor);
/* Rates of the states of a store with another law, less those of the run at an instant, into df;
 * the result is that of its gas. */
double rfy_tangent_by_store(const rfy_tangent *t, int store, const rfy_store *other,
                            const rfy_store_law *law, double pressure, const double *y,
                            const rfy_tangent_point *out, double *df);
/* tangent_warmth.c: adds to b what temperatures that depend on a number do. */
void rfy_tangent_by_warmth(rfy_tangent *t, double time, const double *y, bool early,
                           rfy_tangent_point *out);
/* What an emitter gives off, mol/s, and how that changes with its age. */
double rfy_tangent_emission(const rfy_tangent *t, const rfy_emitter *e, double age, double factor,
                            bool early, double *slope);
/* How fast a motion goes, on the side asked for of its bends. */
double rfy_tangent_pace(const rfy_motion *m, double time, bool early);
static inline bool rfy_tangent_any(const double *d, int n) {
    int i = 0;
    for (; i + 4 <= n; i += 4)
        if (rfy_packed_any(d[i], d[i + 1], d[i + 2]) | rfy_packed_any(d[i + 3], 0, 0))
            return true;
    for (; i < n; i++)
        if (d[i] != 0)
            return true;
    return false;
}
/* Of a motion at a fixed time. */
double rfy_tangent_motion(const rfy_tangent *t, const rfy_motion *m, const double *d, int column,
                          double time, bool early);
/* Of its value at a time, and while s is shifted at a fixed time since the last switching,
 * [columns]; false when it is none of any. */
bool rfy_tangent_moves(const rfy_tangent *t, const rfy_motion *m, const double *d, double time,
                       bool early, double *by);
/* Of the temperatures of all nodes, K: [node * columns]. */
void rfy_tangent_warmth(rfy_tangent *t, double time, bool early, double *out);
/* Of ln of total pressures, [n_nodes * columns], for derivatives s; and their rate of change in
 * time, [n_nodes], for rates f. Either may be NULL. */
void rfy_tangent_pressures(rfy_tangent *t, double time, const double *y, const rfy_v4 *s,
                           double *log_by);
/* What a gauge without a lag would show, Pa, and its derivatives, [columns] Pa. */
double rfy_tangent_unlagged(rfy_tangent *t, int gauge, double time, const double *y,
                            const rfy_v4 *s, double *by);
/* What is stepped, and back; what growing volumes drive; gauges that lag; the end of a step as the
 * next beginning: tangent.c. */
void rfy_tangent_shift(const rfy_tangent *t, const double *f, double sense, rfy_v4 *rows);
void rfy_tangent_grow(const rfy_tangent *t, const rfy_tangent_point *point, const double *slope,
                      double sign);
void rfy_tangent_settle_gauges(rfy_tangent *t);
void rfy_tangent_swap_ends(rfy_tangent *t);
/* tangent_quick.c: after a step; and derivatives at an instant of the last one, with the rates
 * there and where the part of a step to it begins (NULL: none was needed). */
void rfy_tangent_advance_quickly(rfy_tangent *t);
const rfy_v4 *rfy_tangent_inside_quickly(rfy_tangent *t, double time, const double *y,
                                         const double **f, const rfy_tangent_place **from);
static inline double *rfy_tangent_row(rfy_v4 *rows, const rfy_tangent *t, int row) {
    return (double *)(rows + (size_t)row * (size_t)t->m);
}

/* ---- what a simulation calls; nothing else does ---- */

/* Quick: takes s to the present instant; before anything is switched. */
void rfy_tangent_catch_up(rfy_tangent *t);
/* After a step, at its end or the switching in it, before anything is switched. */
void rfy_tangent_advance(rfy_tangent *t);
/* A guard is about to switch at the present instant. */
void rfy_tangent_cause(rfy_tangent *t, const rfy_guard *guard);
/* Before and after something acts at an instant; at_break: a clock rang. */
void rfy_tangent_before(rfy_tangent *t, bool at_break);
void rfy_tangent_after(rfy_tangent *t);
/* A law of a wall bends here. */
void rfy_tangent_bend(rfy_tangent *t);
/* A wall's clock begins or stops without ending the step. */
void rfy_tangent_wall(rfy_tangent *t, const rfy_guard *guard);
/* The clock of a place's walls is set to a fixed time. */
void rfy_tangent_forget_wall(rfy_tangent *t, int node);
void rfy_tangent_target(rfy_tangent *t, int target, double time, const double *y);

#endif
