/* What acts in a run: the procedure, rules and faults, all compiled to the same list of operations.
 *
 * An order is one action as it is written ("back-fill bulb with Ar to 2 kPa"); a program is what
 * orders, steps and repetitions become: waits, acts, loops. One engine (solve/act.c) runs them. */
#ifndef RFY_NETWORK_PROGRAM_H
#define RFY_NETWORK_PROGRAM_H

#include "network/description.h"
#include "network/procedure.h"

struct rfy_network;

/* ---- orders, as written ---- */

typedef enum rfy_order_kind {
    RFY_ORDER_START,
    RFY_ORDER_STOP,
    RFY_ORDER_OPEN,
    RFY_ORDER_CLOSE,
    RFY_ORDER_SWITCH_ON,
    RFY_ORDER_SWITCH_OFF,
    RFY_ORDER_WAIT,
    RFY_ORDER_FILL,
    RFY_ORDER_FLUSH,
    RFY_ORDER_VENT,
    RFY_ORDER_SEAL_OFF,
    RFY_ORDER_HEAT,
    RFY_ORDER_END,
    RFY_ORDER_MAINS_FAIL,
    RFY_ORDER_MAINS_RETURN,
    RFY_ORDER_SEIZE,
    RFY_ORDER_SLOW,
    RFY_ORDER_STICK,
    RFY_ORDER_CRACK,
    RFY_ORDER_LEAK,
    RFY_ORDER_BREAK
} rfy_order_kind;

typedef struct rfy_order {
    rfy_order_kind kind;
    int part; /* pump, valve, gauge, chamber (node) or line it is about; -1 = none */
    int gas;
    int through, pumping; /* valves; -1 = not given */
    double value[3];      /* quantities in the order in which they stand, SI */
    int times;
    rfy_place at;
    const char *text;
} rfy_order;

/* Row i of the table of orders: how it is written, with slots such as <pump>, and what it does.
 * False past the last. */
bool rfy_order_row(size_t i, const char **pattern, const char **help);

/* False after adding a problem at `at`. */
bool rfy_order_parse(rfy_arena *arena, const rfy_units *units, const rfy_names *names,
                     const char *text, rfy_place at, rfy_problems *problems, rfy_order *order);

/* ---- programs ---- */

typedef enum rfy_verb {
    RFY_VERB_START,      /* index = pump */
    RFY_VERB_STOP,       /* index = pump */
    RFY_VERB_OPEN,       /* index = valve */
    RFY_VERB_CLOSE,      /* index = valve */
    RFY_VERB_SWITCH_ON,  /* index = gauge */
    RFY_VERB_SWITCH_OFF, /* index = gauge */
    RFY_VERB_MAINS_FAIL,
    RFY_VERB_MAINS_RETURN,
    RFY_VERB_SEIZE, /* index = pump: stands still at once */
    RFY_VERB_SLOW,  /* index = pump: coasts to `value` of its speed */
    RFY_VERB_STICK, /* index = valve: stays where it is */
    RFY_VERB_HOLE,  /* index = valve that stands for the hole; value = its area, m2 */
    RFY_VERB_SEAL,  /* index = valve: shut for ever */
    RFY_VERB_HALT,  /* the procedure takes no further step */
    RFY_VERB_HEAT,  /* index = node; value = temperature, K; rate, K/s */
    RFY_VERB_HOLD, /* index = node: on its way no further; value = the pressure that holds it, Pa */
    RFY_VERB_RESIDUE /* index = node: tells what is left of the air; gas = the one that flushed */
} rfy_verb;

typedef struct rfy_action {
    rfy_verb verb;
    int index, gas;
    double value, rate;
    int counter;      /* of the loop around it, which tells the first round; -1 = none */
    bool lasting;     /* the part answers to nothing afterwards */
    bool silent;      /* a part of a larger action, not told on its own */
    const char *text; /* as written */
} rfy_action;

typedef enum rfy_op_kind {
    RFY_OP_WAIT, /* until `when` holds (NULL = at once); after `within` on to `otherwise` */
    RFY_OP_ACT,
    RFY_OP_LOOP, /* back to `target` until `times` rounds are done or `when` holds */
    RFY_OP_JUMP,
    RFY_OP_END
} rfy_op_kind;

typedef struct rfy_op {
    rfy_op_kind kind;
    int step;     /* in rfy_program.step, -1 = none */
    rfy_place at; /* of its condition */
    bool begins;  /* the first wait of its step: `elapsed` counts from its beginning */
    bool silent;  /* a wait that is not told of */
    rfy_condition *when;
    const char *text; /* of the condition, or why the program ends; may be NULL */
    double within;    /* since the step began, s; infinite = without end */
    int otherwise;    /* op */
    rfy_action action;
    int counter, times, target;
} rfy_op;

typedef enum rfy_program_kind { RFY_PROCEDURE, RFY_RULE, RFY_FAULT } rfy_program_kind;

typedef struct rfy_step {
    const char *label;   /* "3", or "3.2" inside a group */
    const char *when;    /* its condition as written, NULL = none */
    const char *actions; /* "close roughing valve, start turbo" */
} rfy_step;

typedef struct rfy_program {
    rfy_program_kind kind;
    const char *name; /* NULL for the procedure */
    const char *text; /* a rule's condition, a fault's actions */
    bool on_battery;  /* a rule that works without mains */
    int n_ops, cap_ops, n_counters;
    rfy_op *op;
    int n_steps, cap_steps;
    rfy_step *step;
    rfy_place at;
    bool timed; /* a fault that says when it strikes */
} rfy_program;

/* What compiling needs; nodes, lines and valves of `net` must be built. */
typedef struct rfy_compiler {
    rfy_arena *arena;
    const struct rfy_network *net;
    const rfy_names *names;
    rfy_problems *problems;
    rfy_program *program;
    bool parse_only; /* the network has faults: say what is wrong with the orders, no more */
} rfy_compiler;

/* Each adds problems where something is wrong. */
void rfy_compile_procedure(rfy_compiler *c, const rfy_list *steps);
void rfy_compile_rule(rfy_compiler *c, const rfy_rule_desc *rule);
/* A fault at an instant, when a condition comes true (text NULL = neither: at once). */
void rfy_compile_fault(rfy_compiler *c, const char *name, const rfy_texts *actions, double at,
                       const char *when, rfy_place place);
/* A fault as a text of its own: "crack bulb 1 cm2; switch off hot gauge at 40 min", or the name of
 * one of the description's, with "at …" or "when …" behind it or without. */
void rfy_compile_fault_text(rfy_compiler *c, const char *text, rfy_place place);

/* What can be seen before anything runs: conditions that can never come true, actions that
 * contradict each other, loops without end. program_check.c. */
void rfy_program_check(const rfy_compiler *c);
/* False when a condition contradicts itself, such as "port < 1 Pa and port > 2 Pa". */
bool rfy_condition_possible(const rfy_condition *condition);

#endif
