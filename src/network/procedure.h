/* Conditions and actions of a procedure: "port < 10 Pa and turbo > 90 %", "close roughing valve".
 *
 * A condition is a tree whose value is a continuous guard: >= 0 when true. "and" is the smaller,
 * "or" the larger, "not" the negative of its parts, so that the moment it comes true is a root. */
#ifndef RFY_NETWORK_PROCEDURE_H
#define RFY_NETWORK_PROCEDURE_H

#include "core/problem.h"
#include "core/units.h"

typedef enum rfy_condition_kind {
    RFY_COND_AND,
    RFY_COND_OR,
    RFY_COND_NOT,
    RFY_COND_PRESSURE, /* index = node */
    RFY_COND_TURN,     /* index = pump; value 0 to 1 */
    RFY_COND_READING,  /* index = gauge */
    RFY_COND_TIME,     /* since the beginning */
    RFY_COND_ELAPSED   /* since the last step */
} rfy_condition_kind;

typedef struct rfy_condition {
    rfy_condition_kind kind;
    int index;
    bool below;   /* true: smaller than value */
    double value; /* SI */
    struct rfy_condition *left, *right;
} rfy_condition;

typedef enum rfy_verb {
    RFY_VERB_START,
    RFY_VERB_STOP,
    RFY_VERB_OPEN,
    RFY_VERB_CLOSE,
    RFY_VERB_SWITCH_ON,
    RFY_VERB_SWITCH_OFF
} rfy_verb;

typedef struct rfy_action {
    rfy_verb verb;
    int index;        /* of the pump, valve or gauge */
    const char *text; /* as written */
} rfy_action;

typedef struct rfy_step {
    rfy_condition *when;
    const char *text;
    int n_actions;
    rfy_action *action;
} rfy_step;

typedef struct rfy_procedure {
    int n_steps;
    rfy_step *step;
} rfy_procedure;

/* Names that conditions and actions may use. */
typedef struct rfy_names {
    int n_nodes, n_pumps, n_valves, n_gauges;
    const char *const *node, *const *pump, *const *valve, *const *gauge;
} rfy_names;

/* NULL after adding a problem at `at`. */
rfy_condition *rfy_condition_parse(rfy_arena *arena, const rfy_units *units, const rfy_names *names,
                                   const char *text, rfy_place at, rfy_problems *problems);
bool rfy_action_parse(const rfy_names *names, const char *text, rfy_place at,
                      rfy_problems *problems, rfy_arena *arena, rfy_action *action);

/* What conditions look at; readings and pressures in Pa. */
typedef struct rfy_view {
    const double *pressure; /* [node] */
    const double *turn;     /* [pump] */
    const double *reading;  /* [gauge]; NaN when off: a comparison with it is false */
    double time, elapsed;
} rfy_view;

double rfy_condition_guard(const rfy_condition *condition, const rfy_view *view);

#endif
