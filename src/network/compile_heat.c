/* Heating as an action: a ramp that ends when the place is there, held while its pressure is too
 * high. */
#include <limits.h>
#include <math.h>
#include "network/compile.h"
#include "network/network.h"

/* Once held by its pressure, a ramp goes on below this part of it: without a gap it would stop and
 * go at every round-off. */
static const double goes_on_below = 0.8;

static const double coldest = 70, hottest = 1500, fastest = 1000.0 / 60; /* K, K, K/s: as bakes */

static bool is_sound(rfy_compiler *c, const rfy_order *o) {
    const char *allowed = NULL, *what = NULL;
    if (c->net->node[o->part].fixed) {
        allowed = "a chamber with a volume";
        what = rfy_arena_printf(c->arena, "the state of \"%s\" never changes",
                                c->names->node[o->part]);
    } else if (o->value[0] < coldest || o->value[0] > hottest) {
        allowed = "a temperature from 70 K to 1500 K";
        what = rfy_arena_printf(c->arena, "a temperature out of range in \"%s\"", o->text);
    } else if (o->value[1] > fastest * (1 + 1e-12)) {
        allowed = "at most 1000 K/min";
        what = rfy_arena_printf(c->arena, "the heating is too fast in \"%s\"", o->text);
    }
    if (what)
        rfy_problem_add(c->problems, RFY_ERROR, &o->at, allowed, NULL, "%s", what);
    return !what;
}

/* The description's own actions are known before its walls are built; a fault of the command line
 * comes too late for that. */
static void warn_of_cold_walls(rfy_compiler *c, const rfy_order *o) {
    const rfy_network *net = c->net;
    for (int i = 0; i < net->n_emitters && !net->node[o->part].heated; i++) {
        if (net->emitter[i].node != o->part)
            continue;
        rfy_problem_add(c->problems, RFY_WARNING, &o->at, NULL,
                        "they do when the fault stands under \"faults\" in the file",
                        "what the walls of \"%s\" give off does not follow this heat",
                        c->names->node[o->part]);
        return;
    }
}

static void set_out(rfy_compiler *c, const rfy_order *o, const char *text) {
    rfy_op_act(c, RFY_VERB_HEAT, o->part, o->value[0], text);
    c->program->op[c->program->n_ops - 1].action.rate = o->value[1];
}

static rfy_condition *pressure_is(rfy_compiler *c, const rfy_order *o, bool below, double value) {
    return rfy_condition_new(c->arena, RFY_COND_PRESSURE, o->part, below, value);
}

void rfy_compile_heating(rfy_compiler *c, const rfy_order *o) {
    const double most = o->value[2];
    if (!is_sound(c, o))
        return;
    warn_of_cold_walls(c, o);
    rfy_condition *there =
        rfy_condition_new(c->arena, RFY_COND_ARRIVED, o->part, false, o->value[0]);
    if (isnan(most)) {
        set_out(c, o, o->text);
        rfy_op_wait(c, there, o->text);
        return;
    }
    rfy_program *p = c->program;
    rfy_op_wait(c, pressure_is(c, o, true, most), o->text);
    set_out(c, o, o->text);
    int jump = rfy_op_add(c, (rfy_op){.kind = RFY_OP_JUMP}), counter = p->n_counters++;
    int held = p->n_ops;
    rfy_op_act(c, RFY_VERB_HOLD, o->part, most, NULL);
    p->op[held].action.counter = counter;
    rfy_op_wait(c, pressure_is(c, o, true, goes_on_below * most), o->text);
    set_out(c, o, NULL);
    rfy_condition *stops = rfy_condition_new(c->arena, RFY_COND_OR, 0, false, 0);
    stops->left = there;
    stops->right = pressure_is(c, o, false, most);
    p->op[jump].target = rfy_op_wait(c, stops, o->text);
    /* a condition of its own: nodes get their new numbers once for each */
    there = rfy_condition_new(c->arena, RFY_COND_ARRIVED, o->part, false, o->value[0]);
    rfy_op_add(c, (rfy_op){.kind = RFY_OP_LOOP,
                           .counter = counter,
                           .when = there,
                           .times = INT_MAX,
                           .target = held});
}
