/* What the orders of one list become: acts, and waits where gas has to come in or go out first. */
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "network/compile.h"
#include "network/network.h"

static rfy_condition *pressure_is(rfy_compiler *c, int node, bool below, double value) {
    return rfy_condition_new(c->arena, RFY_COND_PRESSURE, node, below, value);
}

/* ---- gas from a reservoir ---- */

static bool is_air(const rfy_compiler *c, int gas) {
    return gas < 0 || strcmp(c->names->gas[gas], "air") == 0;
}

/* Whether the gas of a place of fixed pressure is the wanted one, 90 % of it at least. */
static bool holds_gas(const rfy_compiler *c, int node, int gas) {
    const rfy_network *net = c->net;
    if (is_air(c, gas) && (node == net->ambient_node || node == net->outside_node))
        return true;
    double sum = 0, own = 0;
    for (int i = 0; i < net->mixture.n; i++) {
        sum += net->node[node].start[i];
        own += i == gas ? net->node[node].start[i] : 0;
    }
    return own > 0.9 * sum;
}

static double pressure_of(const rfy_compiler *c, int node) {
    double sum = 0;
    for (int i = 0; i < c->net->mixture.n; i++)
        sum += c->net->node[node].start[i];
    return sum;
}

/* The place of fixed pressure at an end of the valve's line, -1 = none. */
static int fixed_end(const rfy_compiler *c, int valve) {
    const rfy_line *l = &c->net->line[c->net->valve[valve].line];
    return c->net->node[l->from].fixed ? l->from : c->net->node[l->to].fixed ? l->to : -1;
}

/* The valve through which a chamber is filled; -1 after a problem. *most: pressure of the source,
 * NaN when it is not at hand. */
static int gas_valve(rfy_compiler *c, const rfy_order *o, double *most) {
    const rfy_network *net = c->net;
    const char *gas = is_air(c, o->gas) ? "air" : c->names->gas[o->gas];
    *most = NAN;
    if (o->through >= 0) {
        int end = fixed_end(c, o->through);
        if (end >= 0 && !holds_gas(c, end, o->gas)) {
            rfy_problem_add(c->problems, RFY_ERROR, &o->at, "a valve that leads to that gas", NULL,
                            "\"%s\" leads to \"%s\", which does not hold %s",
                            net->valve[o->through].name, net->node[end].name, gas);
            return -1;
        }
        if (end >= 0)
            *most = pressure_of(c, end);
        return o->through;
    }
    int found = -1, n = 0;
    for (int v = 0; v < net->n_user_valves; v++) {
        const rfy_line *l = &net->line[net->valve[v].line];
        int end = fixed_end(c, v);
        if (end < 0 || (l->from != o->part && l->to != o->part) || !holds_gas(c, end, o->gas))
            continue;
        found = v;
        n++;
    }
    if (n == 1) {
        *most = pressure_of(c, fixed_end(c, found));
        return found;
    }
    rfy_problem_add(
        c->problems, RFY_ERROR, &o->at,
        is_air(c, o->gas)
            ? "a line with one valve from \"ambient\" to the chamber, or \"through\" and a valve"
            : "a line with one valve from a chamber with a \"reservoir\" of that gas, or "
              "\"through\" and a valve",
        NULL, n == 0 ? "no valve lets %s into \"%s\"" : "several valves let %s into \"%s\"", gas,
        c->names->node[o->part]);
    return -1;
}

static void fill_to(rfy_compiler *c, int valve, int node, double pressure, const char *text) {
    rfy_op_act(c, RFY_VERB_OPEN, valve, 0, text);
    rfy_op_wait(c, pressure_is(c, node, false, pressure), text);
    rfy_op_act(c, RFY_VERB_CLOSE, valve, 0,
               rfy_arena_printf(c->arena, "close %s", c->net->valve[valve].name));
}

static bool can_change(rfy_compiler *c, const rfy_order *o) {
    if (!c->net->node[o->part].fixed)
        return true;
    rfy_problem_add(c->problems, RFY_ERROR, &o->at, "a chamber with a volume, or a junction", NULL,
                    "the pressure of \"%s\" never changes", c->names->node[o->part]);
    return false;
}

static void compile_fill(rfy_compiler *c, const rfy_order *o) {
    double most, wanted = o->value[0];
    if (!can_change(c, o))
        return;
    int valve = gas_valve(c, o, &most);
    if (valve < 0)
        return;
    const double outside =
        isnan(most) || most > c->net->ambient_pressure ? c->net->ambient_pressure : most;
    if (o->kind == RFY_ORDER_VENT) /* the last of it comes in without end */
        wanted = 0.98 * outside;
    if (wanted >= most) {
        char got[32], asked[32];
        rfy_problem_add(c->problems, RFY_ERROR, &o->at, "a pressure below that of its source", NULL,
                        "\"%s\" is never reached: its source stands at %s Pa, %s Pa is asked for",
                        o->text, rfy_format_number(got, most, 4),
                        rfy_format_number(asked, wanted, 4));
        return;
    }
    fill_to(c, valve, o->part, wanted, o->text);
}

/* One round: gas in, gas out; what is left of the air is told after each. */
static void compile_flush(rfy_compiler *c, const rfy_order *o) {
    double most, high = fmax(o->value[0], o->value[1]), low = fmin(o->value[0], o->value[1]);
    if (!can_change(c, o))
        return;
    int valve = gas_valve(c, o, &most);
    if (valve < 0)
        return;
    if (high >= most || !(low < high)) {
        rfy_problem_add(c->problems, RFY_ERROR, &o->at,
                        "two unequal pressures below that of the source", NULL, "\"%s\" never ends",
                        o->text);
        return;
    }
    int begin = c->program->n_ops;
    fill_to(c, valve, o->part, high, o->text);
    if (o->pumping >= 0)
        rfy_op_act(c, RFY_VERB_OPEN, o->pumping, 0,
                   rfy_arena_printf(c->arena, "open %s", c->net->valve[o->pumping].name));
    rfy_op_wait(c, pressure_is(c, o->part, true, low), o->text);
    if (o->pumping >= 0)
        rfy_op_act(c, RFY_VERB_CLOSE, o->pumping, 0,
                   rfy_arena_printf(c->arena, "close %s", c->net->valve[o->pumping].name));
    rfy_op_act(c, RFY_VERB_RESIDUE, o->part, 0, o->text);
    c->program->op[c->program->n_ops - 1].action.gas = is_air(c, o->gas) ? -1 : o->gas;
    rfy_op_add(c, (rfy_op){.kind = RFY_OP_LOOP,
                           .counter = c->program->n_counters++,
                           .times = o->times,
                           .target = begin});
}

/* ---- the other actions that are more than one act ---- */

static int hole_of(const rfy_compiler *c, int node) {
    for (int v = c->net->n_user_valves; v < c->net->n_valves; v++)
        if (c->net->valve[v].hole_in == node)
            return v;
    return -1;
}

static void compile_hole(rfy_compiler *c, const rfy_order *o, int node, double area,
                         const char *text) {
    int hole = hole_of(c, node);
    if (hole < 0 || area > RFY_HOLE_AREA) {
        if (hole < 0)
            can_change(c, o);
        else
            rfy_problem_add(c->problems, RFY_ERROR, &o->at, "at most 1000 cm2", NULL,
                            "the hole is too large in \"%s\"", o->text);
        return;
    }
    rfy_op_act(c, RFY_VERB_HOLE, hole, area, text);
}

/* A hole that admits `rate` (Pa m3/s at 293.15 K) of the air outside into a vacuum: choked flow
 * through a sharp edge, Cd A p sqrt(R T/M) f(gamma) with f^2 = gamma (2/(gamma+1))^((gamma+1)/
 * (gamma-1)) (Saint-Venant and Wantzel 1839), Cd 0.84 (Perry 1949, from memory). */
static double area_for_leak(const rfy_compiler *c, double rate) {
    const rfy_network *net = c->net;
    const double gamma = 1.4;
    double mass = 0;
    for (int i = 0; i < net->mixture.n; i++)
        mass += net->mixture.mass.d[i] * net->ambient[i] / net->ambient_pressure;
    double f = sqrt(gamma * pow(2 / (gamma + 1), (gamma + 1) / (gamma - 1)));
    double speed = 0.84 * f * sqrt(RFY_R * net->ambient_temperature / mass);
    return rate * net->ambient_temperature / RFY_T_REF / (net->ambient_pressure * speed);
}

static void compile_sealing(rfy_compiler *c, const rfy_order *o) {
    const rfy_network *net = c->net;
    const char *text = o->text;
    for (int i = 0; i < net->n_lines; i++)
        for (int end = 0; end < 2; end++) {
            int node = end == 0 ? net->line[i].from : net->line[i].to;
            if (node != o->part || net->line[i].shut_off[end] < 0)
                continue;
            rfy_op_act(c, RFY_VERB_SEAL, net->line[i].shut_off[end], 0, text);
            text = NULL; /* told once */
        }
    if (text)
        rfy_problem_add(c->problems, RFY_ERROR, &o->at, "a chamber at the end of a line", NULL,
                        "no line leads to \"%s\"", c->names->node[o->part]);
}

static void compile_breaking(rfy_compiler *c, const rfy_order *o) {
    const rfy_line *l = &c->net->line[o->part];
    const char *text = o->text;
    /* it breaks where it is thinnest; what is wider stays on its stump */
    const double area = fmin(l->end_area[0], l->end_area[1]);
    for (int end = 0; end < 2; end++) {
        int node = end == 0 ? l->from : l->to;
        if (l->shut_off[end] >= 0)
            rfy_op_act(c, RFY_VERB_SEAL, l->shut_off[end], 0, text);
        text = NULL;
        if (!c->net->node[node].fixed)
            compile_hole(c, o, node, area, NULL);
    }
}

static void compile_order(rfy_compiler *c, const rfy_order *o) {
    static const rfy_verb plain[] = {[RFY_ORDER_START] = RFY_VERB_START,
                                     [RFY_ORDER_STOP] = RFY_VERB_STOP,
                                     [RFY_ORDER_OPEN] = RFY_VERB_OPEN,
                                     [RFY_ORDER_CLOSE] = RFY_VERB_CLOSE,
                                     [RFY_ORDER_SWITCH_ON] = RFY_VERB_SWITCH_ON,
                                     [RFY_ORDER_SWITCH_OFF] = RFY_VERB_SWITCH_OFF,
                                     [RFY_ORDER_MAINS_FAIL] = RFY_VERB_MAINS_FAIL,
                                     [RFY_ORDER_MAINS_RETURN] = RFY_VERB_MAINS_RETURN,
                                     [RFY_ORDER_SEIZE] = RFY_VERB_SEIZE,
                                     [RFY_ORDER_SLOW] = RFY_VERB_SLOW,
                                     [RFY_ORDER_STICK] = RFY_VERB_STICK};
    if (c->parse_only)
        return;
    switch (o->kind) {
    case RFY_ORDER_WAIT:
        rfy_op_wait(c, rfy_condition_new(c->arena, RFY_COND_WAITED, 0, false, o->value[0]),
                    o->text);
        break;
    case RFY_ORDER_FILL:
    case RFY_ORDER_VENT:
        compile_fill(c, o);
        break;
    case RFY_ORDER_FLUSH:
        compile_flush(c, o);
        break;
    case RFY_ORDER_HEAT:
        rfy_compile_heating(c, o);
        break;
    case RFY_ORDER_SEAL_OFF:
        compile_sealing(c, o);
        break;
    case RFY_ORDER_BREAK:
        compile_breaking(c, o);
        break;
    case RFY_ORDER_CRACK:
        compile_hole(c, o, o->part, o->value[0], o->text);
        break;
    case RFY_ORDER_LEAK:
        compile_hole(c, o, o->part, area_for_leak(c, o->value[0]), o->text);
        break;
    case RFY_ORDER_END:
        rfy_op_add(c, (rfy_op){.kind = RFY_OP_END, .text = o->text});
        break;
    default:
        rfy_op_act(c, plain[o->kind], o->part, o->value[0], o->text);
        break;
    }
}

/* Two orders of one list that undo each other before anything can happen between them. */
static void refuse_contradictions(rfy_compiler *c, const rfy_order *order, size_t n) {
    static const rfy_order_kind opposite[][2] = {{RFY_ORDER_START, RFY_ORDER_STOP},
                                                 {RFY_ORDER_OPEN, RFY_ORDER_CLOSE},
                                                 {RFY_ORDER_SWITCH_ON, RFY_ORDER_SWITCH_OFF}};
    for (size_t i = 0; i < n; i++)
        for (size_t j = i + 1; j < n; j++) {
            if (order[j].kind == RFY_ORDER_WAIT || order[j].kind == RFY_ORDER_FILL ||
                order[j].kind == RFY_ORDER_FLUSH || order[j].kind == RFY_ORDER_VENT ||
                order[j].kind == RFY_ORDER_HEAT)
                break; /* time passes */
            for (int k = 0; k < 3; k++) {
                const rfy_order_kind *o = opposite[k];
                if (order[i].part == order[j].part &&
                    ((order[i].kind == o[0] && order[j].kind == o[1]) ||
                     (order[i].kind == o[1] && order[j].kind == o[0])))
                    rfy_problem_add(c->problems, RFY_ERROR, &order[j].at,
                                    "one of the two, or \"wait\" between them", NULL,
                                    "\"%s\" contradicts \"%s\" of the same step", order[j].text,
                                    order[i].text);
            }
        }
}

void rfy_compile_orders(rfy_compiler *c, const rfy_texts *list) {
    rfy_order *order = RFY_NEW(c->arena, list->n, rfy_order);
    size_t n = 0;
    for (size_t i = 0; i < list->n; i++)
        if (list->item[i] && rfy_order_parse(c->arena, c->net->catalog->units, c->names,
                                             list->item[i], list->at[i], c->problems, &order[n]))
            n++;
    refuse_contradictions(c, order, n);
    for (size_t i = 0; i < n; i++)
        compile_order(c, &order[i]);
}
