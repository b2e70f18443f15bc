/* Gauges, bursts, and what is asked of a run: procedure, rules, faults, limits, targets. */
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "network/assemble.h"

void rfy_build_gauges(rfy_build *b) {
    rfy_network *net = b->net;
    const rfy_gauge_desc *gauges = b->description->gauges.item;
    size_t n = b->description->gauges.n;
    net->gauge = RFY_NEW(b->arena, n, rfy_gauge);
    for (size_t i = 0; i < n; i++) {
        const rfy_gauge_desc *d = &gauges[i];
        int node = rfy_build_find_node(b, d->at, rfy_place_of(&d->origin, "at"), "the place");
        if (node < 0)
            continue;
        if (d->range.from >= d->range.to) {
            rfy_place at = rfy_place_of(&d->origin, "range");
            rfy_problem_add(b->problems, RFY_ERROR, &at, "the lowest reading, then the highest",
                            NULL, "the range of the gauge is upside down");
            continue;
        }
        rfy_gauge *g = &net->gauge[net->n_gauges++];
        *g = (rfy_gauge){.name = d->name,
                         .node = node,
                         .kind = d->kind,
                         .low = d->range.from,
                         .high = d->range.to,
                         .on = d->state != RFY_OFF,
                         .lag = isnan(d->lag) ? 0 : d->lag};
        net->gauges_lag = net->gauges_lag || g->lag > 0;
        for (int k = 0; k < net->mixture.n; k++) {
            const rfy_species *s = &net->catalog->species[net->mixture.species[k]];
            double f = d->kind == RFY_GAUGE_CAPACITANCE ? 1
                       : d->kind == RFY_GAUGE_THERMAL   ? s->thermal_sensitivity
                                                        : s->ion_sensitivity;
            g->factor[k] = (isnan(f) ? 1 : f) * (isnan(d->scale) ? 1 : d->scale);
        }
    }
}

void rfy_build_bursts(rfy_build *b) {
    rfy_network *net = b->net;
    const rfy_source_desc *sources = b->description->sources.item;
    size_t n = b->description->sources.n;
    net->burst = RFY_NEW(b->arena, n, rfy_burst);
    for (size_t i = 0; i < n; i++) {
        const rfy_source_desc *d = &sources[i];
        int node = rfy_build_find_node(b, d->at, rfy_place_of(&d->origin, "at"), "the place");
        int gas = rfy_build_gas(b, d->gas, rfy_place_of(&d->origin, "gas"));
        if (node < 0 || gas < 0)
            continue;
        if (net->node[node].fixed) {
            rfy_place at = rfy_place_of(&d->origin, "at");
            rfy_problem_add(b->problems, RFY_ERROR, &at, "a chamber with a volume, or a junction",
                            NULL, "the pressure of \"%s\" never changes", d->at);
            continue;
        }
        if (!(d->during.to > d->during.from)) {
            rfy_place at = rfy_place_of(&d->origin, "during");
            rfy_problem_add(b->problems, RFY_ERROR, &at, "the beginning, then a later end", NULL,
                            "the burst ends before it begins");
            continue;
        }
        const char *name =
            d->name ? d->name : rfy_build_name(b, "burst of %s at %s", d->gas, d->at);
        double moles = d->amount / (RFY_R * RFY_T_REF) * net->node[node].count;
        net->burst[net->n_bursts++] = (rfy_burst){.name = name,
                                                  .node = node,
                                                  .gas = gas,
                                                  .from = d->during.from,
                                                  .to = d->during.to,
                                                  .flow = moles / (d->during.to - d->during.from)};
    }
}

/* Names for conditions and actions: all that the file has, also of parts that could not be built,
 * so that one fault does not make others of every step that mentions the part. In a sound file
 * these are the same. */
void rfy_build_names(rfy_build *b) {
    const rfy_description *d = b->description;
    rfy_network *net = b->net;
    const rfy_pump_desc *pumps = d->pumps.item;
    const rfy_gauge_desc *gauges = d->gauges.item;
    const rfy_line_desc *lines = d->lines.item;
    const char **node = RFY_NEW(b->arena, (size_t)b->n_named, const char *);
    const char **pump = RFY_NEW(b->arena, d->pumps.n, const char *);
    const char **gauge = RFY_NEW(b->arena, d->gauges.n, const char *);
    const char **line = RFY_NEW(b->arena, d->lines.n, const char *);
    const char **gas = RFY_NEW(b->arena, (size_t)net->mixture.n + 1, const char *);
    for (int i = 0; i < b->n_named; i++)
        node[i] = net->node[i].name;
    for (size_t i = 0; i < d->pumps.n; i++)
        pump[i] = pumps[i].name;
    for (size_t i = 0; i < d->gauges.n; i++)
        gauge[i] = gauges[i].name;
    for (size_t i = 0; i < d->lines.n; i++)
        line[i] = lines[i].name;
    bool air = false;
    for (int i = 0; i < net->mixture.n; i++) {
        gas[i] = net->mixture.name[i];
        air = air || strcmp(gas[i], "air") == 0;
    }
    gas[net->mixture.n] = "air"; /* what is outside, whatever it is made of */
    int n_valves;
    const char *const *valve = rfy_build_valve_names(b, &n_valves);
    b->names = (rfy_names){.n_nodes = b->n_named,
                           .n_pumps = (int)d->pumps.n,
                           .n_valves = n_valves,
                           .n_gauges = (int)d->gauges.n,
                           .node = node,
                           .pump = pump,
                           .valve = valve,
                           .gauge = gauge,
                           .n_lines = (int)d->lines.n,
                           .n_gases = net->mixture.n + (air ? 0 : 1),
                           .line = line,
                           .gas = gas};
}

/* ---- limits ---- */

rfy_limit *rfy_build_limit(rfy_build *b, const char *name) {
    rfy_network *net = b->net;
    for (int i = 0; i < net->n_limits; i++)
        if (strcmp(net->limit[i].name, name) == 0)
            return &net->limit[i];
    if (net->n_limits == b->cap_limits) {
        int more = b->cap_limits ? 2 * b->cap_limits : 16;
        net->limit = rfy_arena_grow(b->arena, net->limit, (size_t)b->cap_limits, (size_t)more,
                                    sizeof *net->limit);
        b->cap_limits = more;
    }
    rfy_limit *l = &net->limit[net->n_limits++];
    *l = (rfy_limit){.name = name, .node = -1, .allowed = NAN};
    return l;
}

static void remove_limit(rfy_network *net, rfy_limit *l) {
    size_t behind = (size_t)(net->limit + net->n_limits - (l + 1));
    memmove(l, l + 1, behind * sizeof *l);
    net->n_limits--;
}

/* The one of "max", "min" and "max_rate" that is given. */
static bool take_allowed(rfy_build *b, const rfy_limit_desc *d, rfy_limit *l) {
    const double value[] = {d->max, d->min, d->max_rate};
    static const rfy_limit_kind kind[] = {RFY_LIMIT_MAX, RFY_LIMIT_MIN, RFY_LIMIT_RATE};
    int given = 0;
    for (int i = 0; i < 3; i++)
        if (!isnan(value[i])) {
            given++;
            l->kind = kind[i];
            l->allowed = value[i];
        }
    if (given > 1) {
        rfy_problem_add(b->problems, RFY_ERROR, &d->origin.at,
                        "one of \"max\", \"min\" and \"max_rate\" to a limit", NULL,
                        "the limit has %d of them", given);
        return false;
    }
    return true;
}

static bool has_limit(const rfy_network *net, const char *name) {
    for (int i = 0; i < net->n_limits; i++)
        if (strcmp(net->limit[i].name, name) == 0)
            return true;
    return false;
}

static void unknown_ready(rfy_build *b, const rfy_limit_desc *d, const char *missing,
                          const char *help) {
    const rfy_network *net = b->net;
    const char **names = RFY_NEW(b->arena, (size_t)net->n_limits, const char *);
    int n = 0;
    for (int i = 0; i < net->n_limits; i++)
        if (net->limit[i].ready)
            names[n++] = net->limit[i].name;
    int near = rfy_nearest(d->name, names, (size_t)n);
    rfy_problem_add(
        b->problems, RFY_ERROR, &d->origin.at, "all of a limit, or the name of a ready-made one",
        near >= 0 ? rfy_arena_printf(b->arena, "did you mean \"%s\"?", names[near]) : NULL,
        "\"%s\" is missing (%s)", missing, help);
}

static void build_limit(rfy_build *b, const rfy_limit_desc *d) {
    rfy_network *net = b->net;
    const bool known = has_limit(net, d->name);
    if (d->applies == 0) {
        if (known)
            remove_limit(net, rfy_build_limit(b, d->name));
        else
            unknown_ready(b, d, "watch", "no ready-made limit has this name");
        return;
    }
    int k = -1;
    rfy_condition *while_ = NULL;
    if (d->watch)
        k = rfy_build_find_node(b, d->watch, rfy_place_of(&d->origin, "watch"),
                                "the watched place");
    else if (!known)
        unknown_ready(b, d, "watch", "chamber or junction whose pressure is watched");
    if (d->while_)
        while_ = rfy_condition_parse(b->arena, net->catalog->units, &b->names, d->while_,
                                     rfy_place_of(&d->origin, "while"), b->problems);
    if (while_ && !rfy_condition_possible(while_)) {
        rfy_place at = rfy_place_of(&d->origin, "while");
        rfy_problem_add(b->problems, RFY_ERROR, &at, "comparisons that can hold together", NULL,
                        "\"%s\" can never come true: it contradicts itself", d->while_);
    }
    if (!known && isnan(d->max) && isnan(d->min) && isnan(d->max_rate))
        unknown_ready(b, d, "max", "highest pressure allowed; or \"min\", or \"max_rate\"");
    if (k >= 0 && net->node[k].fixed) {
        rfy_place at = rfy_place_of(&d->origin, "watch");
        rfy_problem_add(b->problems, RFY_ERROR, &at, "a chamber with a volume, or a junction", NULL,
                        "the pressure of \"%s\" never changes", d->watch);
        return;
    }
    if (!known && k < 0)
        return;
    rfy_limit *l = rfy_build_limit(b, d->name);
    if (!take_allowed(b, d, l))
        return;
    if (k >= 0)
        l->node = k;
    if (while_)
        l->while_ = while_;
    if (!isnan(d->duration))
        l->duration = d->duration;
    net->watches_rates = net->watches_rates || l->kind == RFY_LIMIT_RATE;
}

/* ---- all of it ---- */

/* The first action of a program on a part, one of these two verbs; NULL = none. */
static const rfy_op *first_of(const rfy_program *p, rfy_verb on, rfy_verb off, int index) {
    for (int i = 0; i < p->n_ops; i++) {
        const rfy_action *a = &p->op[i].action;
        if (p->op[i].kind == RFY_OP_ACT && a->index == index && (a->verb == on || a->verb == off))
            return &p->op[i];
    }
    return NULL;
}

static bool begins_with(const rfy_program *p, rfy_verb on, rfy_verb off, int index) {
    const rfy_op *first = first_of(p, on, off, index);
    return first && first->action.verb == on;
}

/* A pump or gauge without a state is on from the start, unless the procedure is what switches it
 * on. */
static void settle_states(rfy_build *b) {
    rfy_network *net = b->net;
    const rfy_description *d = b->description;
    const rfy_pump_desc *pumps = d->pumps.item;
    const rfy_gauge_desc *gauges = d->gauges.item;
    for (int i = 0; i < net->n_pumps; i++)
        for (size_t k = 0; k < d->pumps.n; k++) {
            if (pumps[k].state >= 0 || strcmp(pumps[k].name, net->pump[i].name) != 0)
                continue;
            if (b->like)
                net->pump[i].on = b->like->pump[i].on;
            else
                net->pump[i].on = !begins_with(&net->procedure, RFY_VERB_START, RFY_VERB_STOP, i);
            rfy_build_assume(b,
                             net->pump[i].on ? "%s: on from the start"
                                             : "%s: off until the procedure starts it",
                             net->pump[i].name);
        }
    for (int i = 0; i < net->n_gauges; i++)
        for (size_t k = 0; k < d->gauges.n; k++) {
            if (gauges[k].state >= 0 || strcmp(gauges[k].name, net->gauge[i].name) != 0)
                continue;
            if (b->like)
                net->gauge[i].on = b->like->gauge[i].on;
            else
                net->gauge[i].on =
                    !begins_with(&net->procedure, RFY_VERB_SWITCH_ON, RFY_VERB_SWITCH_OFF, i);
            if (!net->gauge[i].on)
                rfy_build_assume(b, "%s: off until the procedure switches it on",
                                 net->gauge[i].name);
        }
}

/* Of the condition of its step, or where the procedure stands. */
static const rfy_place *place_of_step(const rfy_program *p, const rfy_op *op) {
    for (const rfy_op *o = op; o >= p->op && o->step == op->step; o--)
        if (o->kind == RFY_OP_WAIT && o->at.line > 0)
            return &o->at;
    return &p->at;
}

/* A valve decides at once which gas lies behind it, so that its state is not guessed. */
static void check_valves(rfy_build *b) {
    const rfy_network *net = b->net;
    for (int i = 0; i < net->n_user_valves; i++) {
        const rfy_op *first = first_of(&net->procedure, RFY_VERB_OPEN, RFY_VERB_CLOSE, i);
        bool others = false;
        for (int k = 0; k < net->n_rules; k++)
            others = others || first_of(&net->rule[k], RFY_VERB_OPEN, RFY_VERB_CLOSE, i);
        if (net->valve[i].open && first && first->action.verb == RFY_VERB_OPEN && !others)
            rfy_problem_add(b->problems, RFY_WARNING, place_of_step(&net->procedure, first), NULL,
                            "give it \"state\": \"closed\" where it is to begin closed",
                            "nothing changes here: \"%s\" is open from the start",
                            net->valve[i].name);
    }
}

static void build_programs(rfy_build *b) {
    rfy_network *net = b->net;
    const rfy_description *d = b->description;
    rfy_compiler c = {.arena = b->arena,
                      .net = net,
                      .names = &b->names,
                      .problems = b->problems,
                      .program = &net->procedure,
                      .parse_only = rfy_problems_errors(b->problems) > b->errors_before};
    rfy_compile_procedure(&c, &d->procedure);
    settle_states(b);
    net->rule = RFY_NEW(b->arena, d->rules.n, rfy_program);
    const rfy_rule_desc *rules = d->rules.item;
    for (size_t i = 0; i < d->rules.n; i++) {
        c.program = &net->rule[net->n_rules++];
        rfy_compile_rule(&c, &rules[i]);
    }
    net->fault = RFY_NEW(b->arena, d->faults.n, rfy_program);
    const rfy_fault_desc *faults = d->faults.item;
    for (size_t i = 0; i < d->faults.n; i++) {
        rfy_place at = rfy_place_of(&faults[i].origin, faults[i].when ? "when" : "at");
        if (faults[i].when && !isnan(faults[i].at))
            rfy_problem_add(b->problems, RFY_ERROR, &at, "one of \"at\" and \"when\"", NULL,
                            "the fault strikes at a time and on a condition");
        c.program = &net->fault[net->n_faults++];
        rfy_compile_fault(&c, faults[i].name, &faults[i].actions, faults[i].at, faults[i].when, at);
    }
    c.program = NULL;
    rfy_program_check(&c);
    if (!c.parse_only)
        check_valves(b);
}

void rfy_build_answers(rfy_build *b) {
    rfy_network *net = b->net;
    const rfy_description *d = b->description;
    const bool acts = b->like == NULL; /* else it is only there to be compared */
    if (acts)
        build_programs(b);
    else
        settle_states(b);
    if (acts && d->ready_limits != 0 && rfy_problems_errors(b->problems) == b->errors_before)
        rfy_build_ready_limits(b);
    const rfy_limit_desc *limits = d->limits.item;
    for (size_t i = 0; i < d->limits.n && acts; i++)
        build_limit(b, &limits[i]);
    const rfy_target_desc *targets = d->targets.item;
    net->target = RFY_NEW(b->arena, d->targets.n, rfy_target);
    for (size_t i = 0; i < d->targets.n; i++) {
        int k = rfy_build_find_node(b, targets[i].chamber,
                                    rfy_place_of(&targets[i].origin, "chamber"), "the chamber");
        if (k >= 0 && net->node[k].fixed) {
            rfy_place at = rfy_place_of(&targets[i].origin, "chamber");
            rfy_problem_add(b->problems, RFY_ERROR, &at, "a chamber with a volume, or a junction",
                            NULL, "the pressure of \"%s\" never changes", targets[i].chamber);
        } else if (k >= 0) {
            net->target[net->n_targets++] =
                (rfy_target){.name = targets[i].name, .node = k, .pressure = targets[i].pressure};
        }
    }
}

/* ---- new numbers ---- */

static void renumber_program(rfy_program *p, const int *now) {
    for (int i = 0; i < p->n_ops; i++) {
        rfy_op *op = &p->op[i];
        /* a rule's condition to be over shares the tree of the condition itself */
        if (op->when && op->when->kind != RFY_COND_REARM)
            rfy_condition_renumber(op->when, now);
        if (op->kind == RFY_OP_ACT &&
            (op->action.verb == RFY_VERB_RESIDUE || op->action.verb == RFY_VERB_HEAT ||
             op->action.verb == RFY_VERB_HOLD))
            op->action.index = now[op->action.index];
    }
}

void rfy_answers_renumber(rfy_build *b, const int *now) {
    rfy_network *net = b->net;
    renumber_program(&net->procedure, now);
    for (int i = 0; i < net->n_rules; i++)
        renumber_program(&net->rule[i], now);
    for (int i = 0; i < net->n_faults; i++)
        renumber_program(&net->fault[i], now);
    for (int i = 0; i < net->n_limits; i++) {
        net->limit[i].node = now[net->limit[i].node];
        rfy_condition_renumber(net->limit[i].while_, now);
    }
    for (int i = 0; i < net->n_targets; i++)
        net->target[i].node = now[net->target[i].node];
    /* names by the new numbers, for faults that are read later; of inner places too, since they
     * stand between the free and the fixed ones */
    const char **node = RFY_NEW(b->arena, (size_t)net->n_nodes, const char *);
    for (int k = 0; k < net->n_nodes; k++)
        node[k] = net->node[k].name;
    net->names = b->names;
    net->names.node = node;
    net->names.n_nodes = net->n_nodes;
}
