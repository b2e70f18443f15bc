/* From steps, rules and faults to programs: waits, acts and loops. */
#include <limits.h>
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "network/network.h"

/* ---- operations ---- */

static int add_op(rfy_compiler *c, rfy_op op) {
    rfy_program *p = c->program;
    if (p->n_ops == p->cap_ops) {
        int more = p->cap_ops ? 2 * p->cap_ops : 16;
        p->op = rfy_arena_grow(c->arena, p->op, (size_t)p->cap_ops, (size_t)more, sizeof *p->op);
        p->cap_ops = more;
    }
    if (!(op.within > 0))
        op.within = INFINITY;
    op.step = p->n_steps - 1;
    p->op[p->n_ops] = op;
    return p->n_ops++;
}

static int add_wait(rfy_compiler *c, rfy_condition *when, const char *text) {
    return add_op(c, (rfy_op){.kind = RFY_OP_WAIT, .when = when, .text = text, .silent = true});
}

static void add_act(rfy_compiler *c, rfy_verb verb, int index, double value, const char *text) {
    const bool fault = c->program->kind == RFY_FAULT;
    add_op(c, (rfy_op){.kind = RFY_OP_ACT,
                       .action = {.verb = verb,
                                  .index = index,
                                  .gas = -1,
                                  .value = value,
                                  .lasting = verb == RFY_VERB_SEIZE || verb == RFY_VERB_SLOW ||
                                             verb == RFY_VERB_STICK || verb == RFY_VERB_SEAL ||
                                             (fault && verb == RFY_VERB_STOP),
                                  .silent = text == NULL,
                                  .text = text}});
}

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
    if (is_air(c, gas) && node == net->ambient_node)
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
    add_act(c, RFY_VERB_OPEN, valve, 0, text);
    add_wait(c, pressure_is(c, node, false, pressure), text);
    add_act(c, RFY_VERB_CLOSE, valve, 0,
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
        add_act(c, RFY_VERB_OPEN, o->pumping, 0,
                rfy_arena_printf(c->arena, "open %s", c->net->valve[o->pumping].name));
    add_wait(c, pressure_is(c, o->part, true, low), o->text);
    if (o->pumping >= 0)
        add_act(c, RFY_VERB_CLOSE, o->pumping, 0,
                rfy_arena_printf(c->arena, "close %s", c->net->valve[o->pumping].name));
    add_act(c, RFY_VERB_RESIDUE, o->part, 0, o->text);
    c->program->op[c->program->n_ops - 1].action.gas = is_air(c, o->gas) ? -1 : o->gas;
    add_op(c, (rfy_op){.kind = RFY_OP_LOOP,
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
    add_act(c, RFY_VERB_HOLE, hole, area, text);
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
            add_act(c, RFY_VERB_SEAL, net->line[i].shut_off[end], 0, text);
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
            add_act(c, RFY_VERB_SEAL, l->shut_off[end], 0, text);
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
    if (o->kind == RFY_ORDER_HEAT) {
        rfy_problem_add(c->problems, RFY_ERROR, &o->at, "steps without heating", NULL,
                        "heating is not computed in this version: \"%s\"", o->text);
        return;
    }
    if (c->parse_only)
        return;
    switch (o->kind) {
    case RFY_ORDER_WAIT:
        add_wait(c, rfy_condition_new(c->arena, RFY_COND_WAITED, 0, false, o->value[0]), o->text);
        break;
    case RFY_ORDER_FILL:
    case RFY_ORDER_VENT:
        compile_fill(c, o);
        break;
    case RFY_ORDER_FLUSH:
        compile_flush(c, o);
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
        add_op(c, (rfy_op){.kind = RFY_OP_END, .text = o->text});
        break;
    default:
        add_act(c, plain[o->kind], o->part, o->value[0], o->text);
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
                order[j].kind == RFY_ORDER_FLUSH || order[j].kind == RFY_ORDER_VENT)
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

static void compile_orders(rfy_compiler *c, const rfy_texts *list) {
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

static const char *joined(rfy_arena *arena, const rfy_texts *list) {
    const char *text = "";
    for (size_t i = 0; i < list->n; i++)
        if (list->item[i])
            text = rfy_arena_printf(arena, "%s%s%s", text, *text ? ", " : "", list->item[i]);
    return text;
}

static rfy_condition *condition(rfy_compiler *c, const char *text, rfy_place at) {
    return rfy_condition_parse(c->arena, c->net->catalog->units, c->names, text, at, c->problems);
}

/* ---- steps ---- */

static void add_step(rfy_compiler *c, const char *label, const rfy_step_desc *d) {
    rfy_program *p = c->program;
    if (p->n_steps == p->cap_steps) {
        int more = p->cap_steps ? 2 * p->cap_steps : 8;
        p->step =
            rfy_arena_grow(c->arena, p->step, (size_t)p->cap_steps, (size_t)more, sizeof *p->step);
        p->cap_steps = more;
    }
    p->step[p->n_steps++] = (rfy_step){label, d->when, joined(c->arena, &d->actions)};
}

static void compile_steps(rfy_compiler *c, const rfy_list *list, const char *outer, int depth);

/* "steps" with "repeat" and "until". */
static void compile_group(rfy_compiler *c, const rfy_step_desc *d, const char *label, int depth) {
    rfy_condition *until = NULL;
    if (d->until) {
        rfy_place at = rfy_place_of(&d->origin, "until");
        until = condition(c, d->until, at);
        if (until && until->kind == RFY_COND_ELAPSED)
            rfy_problem_add(c->problems, RFY_WARNING, &at, NULL, NULL,
                            "\"elapsed\" begins anew with every step of the group");
    }
    int begin = c->program->n_ops;
    compile_steps(c, &d->steps, label, depth + 1);
    if (d->repeat > 0 || d->until)
        add_op(c, (rfy_op){.kind = RFY_OP_LOOP,
                           .counter = c->program->n_counters++,
                           .when = until,
                           .text = d->until,
                           .at = rfy_place_of(&d->origin, d->until ? "until" : "repeat"),
                           .times = d->repeat > 0 ? d->repeat : INT_MAX,
                           .target = begin});
}

static void check_step(rfy_compiler *c, const rfy_step_desc *d) {
    rfy_place at = d->origin.at;
    const bool group = d->steps.n > 0, acts = d->actions.n > 0;
    if (!group && !acts) {
        rfy_place list = rfy_place_of(&d->origin, d->actions.item ? "do" : "steps");
        const bool given = list.line != at.line || list.column != at.column;
        rfy_problem_add(c->problems, RFY_ERROR, &list, given ? "at least one element" : NULL, NULL,
                        given ? "the list is empty (%s)" : "\"do\" is missing (%s)",
                        "actions one after the other, see `rarefy list actions`; or \"steps\"");
    }
    if (group && acts)
        rfy_problem_add(c->problems, RFY_ERROR, &at, "\"do\", or \"steps\"", NULL,
                        "the step has both \"do\" and \"steps\"");
    if (!group && (d->repeat > 0 || d->until))
        rfy_problem_add(c->problems, RFY_ERROR, &at, "\"steps\": [{…}, …] in place of \"do\"", NULL,
                        "only a group of steps can be repeated");
    if (d->otherwise.n > 0 && isnan(d->within))
        rfy_problem_add(c->problems, RFY_ERROR, &at, "\"within\" beside \"otherwise\"", NULL,
                        "\"otherwise\" without a time after which it is done");
    if (group && !isnan(d->within))
        rfy_problem_add(c->problems, RFY_ERROR, &at, "\"within\" in the steps of the group", NULL,
                        "\"within\" stands at a group of steps");
}

static void compile_step(rfy_compiler *c, const rfy_step_desc *d, const char *label, int depth) {
    check_step(c, d);
    add_step(c, label, d);
    rfy_condition *when = NULL;
    if (d->when)
        when = condition(c, d->when, rfy_place_of(&d->origin, "when"));
    int first = add_op(c, (rfy_op){.kind = RFY_OP_WAIT, .when = when, .text = d->when});
    c->program->op[first].begins = true;
    c->program->op[first].at = rfy_place_of(&d->origin, "when");
    if (d->steps.n > 0) {
        compile_group(c, d, label, depth);
        return;
    }
    compile_orders(c, &d->actions);
    if (isnan(d->within))
        return;
    int last = c->program->n_ops;
    int jump = add_op(c, (rfy_op){.kind = RFY_OP_JUMP});
    for (int i = first; i < last; i++) {
        c->program->op[i].within = d->within;
        c->program->op[i].otherwise = jump + 1;
    }
    /* valves that a back-fill left open when its time was over */
    for (int i = first; i < last; i++) {
        const rfy_op *op = &c->program->op[i];
        if (op->kind == RFY_OP_ACT && op->action.verb == RFY_VERB_OPEN && i + 1 < last &&
            c->program->op[i + 1].kind == RFY_OP_WAIT &&
            c->program->op[i + 1].text == op->action.text)
            add_act(c, RFY_VERB_CLOSE, op->action.index, 0,
                    rfy_arena_printf(c->arena, "close %s", c->net->valve[op->action.index].name));
    }
    if (d->otherwise.n > 0)
        compile_orders(c, &d->otherwise);
    else
        add_op(c, (rfy_op){.kind = RFY_OP_END, .text = "its time was over"});
    c->program->op[jump].target = c->program->n_ops;
}

static void compile_steps(rfy_compiler *c, const rfy_list *list, const char *outer, int depth) {
    const rfy_step_desc *steps = list->item;
    for (size_t i = 0; i < list->n; i++) {
        if (depth > 8) {
            rfy_problem_add(c->problems, RFY_ERROR, &steps[i].origin.at, "at most 8 levels", NULL,
                            "groups of steps are nested too deeply");
            return;
        }
        const char *label = outer ? rfy_arena_printf(c->arena, "%s.%zu", outer, i + 1)
                                  : rfy_arena_printf(c->arena, "%zu", i + 1);
        compile_step(c, &steps[i], label, depth);
    }
}

void rfy_compile_procedure(rfy_compiler *c, const rfy_list *steps) {
    c->program->kind = RFY_PROCEDURE;
    compile_steps(c, steps, NULL, 0);
}

/* ---- rules ---- */

void rfy_compile_rule(rfy_compiler *c, const rfy_rule_desc *d) {
    rfy_program *p = c->program;
    *p = (rfy_program){.kind = RFY_RULE,
                       .name = d->name,
                       .text = d->whenever,
                       .on_battery = d->battery > 0,
                       .at = d->origin.at};
    rfy_condition *when = condition(c, d->whenever, rfy_place_of(&d->origin, "whenever"));
    add_op(c, (rfy_op){.kind = RFY_OP_WAIT, .when = when, .text = d->whenever, .begins = true});
    p->op[0].at = rfy_place_of(&d->origin, "whenever");
    if (d->delay > 0)
        add_wait(c, rfy_condition_new(c->arena, RFY_COND_WAITED, 0, false, d->delay), NULL);
    compile_orders(c, &d->then);
    if (!when)
        return;
    rfy_condition *over = rfy_condition_new(c->arena, RFY_COND_REARM, 0, false, 0);
    over->left = when;
    add_wait(c, over, NULL);
    add_op(c, (rfy_op){.kind = RFY_OP_JUMP, .target = 0});
}

/* ---- faults ---- */

void rfy_compile_fault(rfy_compiler *c, const char *name, const rfy_texts *actions, double at,
                       const char *when, rfy_place place) {
    rfy_program *p = c->program;
    *p = (rfy_program){.kind = RFY_FAULT,
                       .name = name,
                       .text = joined(c->arena, actions),
                       .on_battery = true,
                       .at = place,
                       .timed = !isnan(at) || when};
    rfy_condition *strikes = NULL;
    if (when)
        strikes = condition(c, when, place);
    else if (!isnan(at))
        strikes = rfy_condition_new(c->arena, RFY_COND_TIME, 0, false, at);
    add_op(c, (rfy_op){.kind = RFY_OP_WAIT, .when = strikes, .text = when, .begins = true});
    p->op[0].at = place;
    compile_orders(c, actions);
    add_op(c, (rfy_op){.kind = RFY_OP_END});
}

static char *trimmed(rfy_arena *arena, const char *text, size_t n) {
    while (n > 0 && (*text == ' ' || *text == '\t'))
        text++, n--;
    while (n > 0 && (text[n - 1] == ' ' || text[n - 1] == '\t'))
        n--;
    return rfy_arena_strndup(arena, text, n);
}

/* The last place where `word` stands between blanks, NULL if none. */
static const char *last_word(const char *text, const char *word) {
    const char *found = NULL;
    for (const char *at = text; (at = strstr(at, word)); at++)
        if (at > text && at[-1] == ' ' && at[strlen(word)] == ' ')
            found = at;
    return found;
}

static const rfy_program *named_fault(const rfy_network *net, const char *name) {
    for (int i = 0; i < net->n_faults; i++)
        if (net->fault[i].name && strcmp(net->fault[i].name, name) == 0)
            return &net->fault[i];
    return NULL;
}

void rfy_compile_fault_text(rfy_compiler *c, const char *text, rfy_place place) {
    const char *first = text, *when = NULL;
    size_t length = strlen(text);
    double at = NAN;
    const rfy_program *whole = named_fault(c->net, trimmed(c->arena, text, length));
    if (!whole) {
        const char *at_word = last_word(text, "at"), *when_word = last_word(text, "when");
        rfy_quantity_error error;
        if (when_word) {
            when = trimmed(c->arena, when_word + 4, strlen(when_word + 4));
            length = (size_t)(when_word - text);
        } else if (at_word) {
            char *time = trimmed(c->arena, at_word + 2, strlen(at_word + 2));
            if (!rfy_parse_quantity(c->net->catalog->units, time, RFY_DIM_TIME, &at, &error)) {
                rfy_problem_add(c->problems, RFY_ERROR, &place, "\"at\" and a time: \"at 40 min\"",
                                *error.hint ? error.hint : NULL, "%s", error.what);
                return;
            }
            length = (size_t)(at_word - text);
        }
    }
    char *what = trimmed(c->arena, first, length);
    const rfy_program *named = named_fault(c->net, what);
    if (named) {
        if (isnan(at) && !when && !named->timed) {
            rfy_problem_add(
                c->problems, RFY_ERROR, &place,
                rfy_arena_printf(c->arena, "\"%s at 40 min\", or \"%s when …\"", what, what), NULL,
                "the fault \"%s\" does not say when it strikes", what);
            return;
        }
        *c->program = *named;
        if (isnan(at) && !when)
            return;
        c->program->op = rfy_arena_grow(c->arena, named->op, (size_t)named->n_ops,
                                        (size_t)named->n_ops, sizeof *named->op);
        c->program->op[0].text = when;
        c->program->op[0].when = when ? condition(c, when, place)
                                      : rfy_condition_new(c->arena, RFY_COND_TIME, 0, false, at);
        c->program->timed = true;
        return;
    }
    if (isnan(at) && !when) {
        rfy_problem_add(c->problems, RFY_ERROR, &place,
                        "\"at\" and a time or \"when\" and a condition behind the fault: \"stop "
                        "vane at 40 min\"; or the name of one under \"faults\"",
                        NULL, "\"%s\" does not say when the fault strikes", text);
        return;
    }
    size_t n = 1, k = 0;
    for (const char *s = what; *s; s++)
        n += *s == ';';
    rfy_texts actions = {n, RFY_NEW(c->arena, n, const char *), RFY_NEW(c->arena, n, rfy_place)};
    for (const char *s = what;; s++) {
        size_t l = strcspn(s, ";");
        actions.item[k] = trimmed(c->arena, s, l);
        actions.at[k++] = place;
        s += l;
        if (!*s)
            break;
    }
    rfy_compile_fault(c, what, &actions, at, when, place);
}
