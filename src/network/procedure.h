/* Conditions of a procedure, a rule or a limit: "port < 10 Pa and turbo > 90 %".
 *
 * A condition is a tree whose value is a continuous guard: >= 0 when true. "and" is the smaller,
 * "or" the larger, "not" the negative of its parts, so that the moment it comes true is a root.
 * Positions of switches ("gauge is on") leap instead; they change only when something acts. */
#ifndef RFY_NETWORK_PROCEDURE_H
#define RFY_NETWORK_PROCEDURE_H

#include "core/problem.h"
#include "core/units.h"

typedef enum rfy_condition_kind {
    RFY_COND_AND,
    RFY_COND_OR,
    RFY_COND_NOT,
    RFY_COND_PRESSURE,    /* index = node */
    RFY_COND_TEMPERATURE, /* index = node; of its gas and walls */
    RFY_COND_TURN,        /* index = pump; value 0 to 1 */
    RFY_COND_READING,     /* index = gauge */
    RFY_COND_TIME,        /* since the beginning */
    RFY_COND_ELAPSED,     /* since the last step */
    RFY_COND_OPENING,     /* index = valve; value 0 to 1 */
    RFY_COND_DRIVEN,      /* index = pump: it is switched on */
    RFY_COND_SWITCHED,    /* index = gauge: it is switched on */
    RFY_COND_CONNECTED,   /* index = pump: an open way leads from its inlet to the clean side */
    RFY_COND_WAITED,      /* since this wait began */
    RFY_COND_ARRIVED,     /* index = node: heating has brought it to just this temperature */
    RFY_COND_REARM        /* left is false again, by more than round-off */
} rfy_condition_kind;

typedef struct rfy_condition {
    rfy_condition_kind kind;
    int index;
    bool below;   /* true: smaller than value */
    double value; /* SI */
    struct rfy_condition *left, *right;
} rfy_condition;

/* Names that conditions and actions may use. */
typedef struct rfy_names {
    int n_nodes, n_pumps, n_valves, n_gauges;
    const char *const *node, *const *pump, *const *valve, *const *gauge;
    int n_lines, n_gases;
    const char *const *line, *const *gas;
} rfy_names;

/* NULL after adding a problem at `at`. */
rfy_condition *rfy_condition_parse(rfy_arena *arena, const rfy_units *units, const rfy_names *names,
                                   const char *text, rfy_place at, rfy_problems *problems);
/* A condition made by the program itself. */
rfy_condition *rfy_condition_new(rfy_arena *arena, rfy_condition_kind kind, int index, bool below,
                                 double value);
rfy_condition *rfy_condition_both(rfy_arena *arena, rfy_condition *left, rfy_condition *right);
/* Nodes in a condition get their new numbers. */
void rfy_condition_renumber(rfy_condition *condition, const int *now);

/* What conditions look at; readings and pressures in Pa, temperatures in K. */
typedef struct rfy_view {
    const double *pressure; /* [node] */
    const double *turn;     /* [pump] */
    const double *reading;  /* [gauge]; NaN when off: a comparison with it is false */
    double time, elapsed;
    double waited;
    const double *opening;     /* [valve] */
    const bool *driven;        /* [pump] */
    const bool *switched;      /* [gauge] */
    const bool *connected;     /* [pump] */
    const double *temperature; /* [node] */
} rfy_view;

double rfy_condition_guard(const rfy_condition *condition, const rfy_view *view);

#endif
