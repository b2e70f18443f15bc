/* The engine that runs programs: the procedure, rules and faults, each a track of its own. */
#include <math.h>
#include <stdarg.h>
#include <string.h>
#include "solve/simulate_parts.h"

/* Operations at one instant above which no time will ever pass, and times a rule may act. */
enum { MOST_AT_ONCE = 20000, MOST_FIRED = 10000 };

void rfy_sim_tell(rfy_sim *sim, double time, const double *y, rfy_event_kind kind,
                  const char *format, ...) {
    const rfy_observer *o = sim->observer;
    if (!o || !o->event || sim->options.targets_only)
        return;
    va_list args;
    va_start(args, format);
    const char *text = rfy_arena_vprintf(sim->arena, format, args);
    va_end(args);
    o->event(o->context, sim, time, y, kind, text);
}

/* ---- parts that move ---- */

/* Sends a valve or rotor towards `to` from where it is, at the pace of its full travel. */
static void move(rfy_motion *m, double to, double travel, double now) {
    double from = rfy_motion_at(m, now);
    *m = (rfy_motion){from, to, now, now + travel * fabs(to - from)};
    if (m->end == now)
        m->from = to;
}

static void stay(rfy_motion *m, double at, double now) {
    *m = (rfy_motion){at, at, now, now};
}

static bool move_valve(rfy_sim *sim, int i, double to) {
    if (sim->valve_held[i])
        return false;
    move(&sim->valve[i], to, sim->net->valve[i].moves_in, sim->time);
    return true;
}

static bool drive(rfy_sim *sim, int i, bool on) {
    const rfy_pump *p = &sim->net->pump[i];
    if (sim->pump_held[i] || (on && !sim->mains))
        return false;
    sim->driven[i] = on;
    move(&sim->pump[i], on ? 1 : 0, on ? p->run_up : p->coast_down, sim->time);
    return true;
}

static void mains_fail(rfy_sim *sim) {
    const rfy_network *net = sim->net;
    sim->mains = false;
    for (int k = 0; k < net->n_free; k++)
        rfy_sim_heat_hold(sim, k);
    for (int i = 0; i < net->n_pumps; i++)
        drive(sim, i, false);
    for (int i = 0; i < net->n_gauges; i++)
        sim->gauge_on[i] = false;
    for (int i = 0; i < net->n_user_valves; i++)
        if (net->valve[i].without_mains != RFY_STAYS)
            move_valve(sim, i, net->valve[i].without_mains == RFY_OPENS ? 1 : 0);
}

/* What is left of the air that was there before flushing, by a gas of the air that the flushing gas
 * is not: its part of all moles over its part in air. */
static void tell_residue(rfy_sim *sim, const rfy_action *action) {
    static const char *const tracers[] = {"O2", "Ar", "N2", "air"};
    const rfy_network *net = sim->net;
    const int g = net->mixture.n;
    rfy_sim_look(sim, sim->time, sim->y);
    for (int t = 0; t < 4; t++)
        for (int i = 0; i < g; i++) {
            if (i == action->gas || strcmp(net->mixture.name[i], tracers[t]) != 0 ||
                !(net->ambient[i] > 0))
                continue;
            double part =
                sim->sight.partial[action->index * g + i] / sim->sight.pressure[action->index];
            char percent[32];
            part = 100 * part * net->ambient_pressure / net->ambient[i];
            rfy_format_number(percent, part > 0 ? part : 0, 2);
            rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_MACHINE,
                         "%s: residual air %s %% (by its %s)", net->node[action->index].name,
                         percent, tracers[t]);
            return;
        }
}

static bool heat(rfy_sim *sim, const rfy_action *action) {
    if (!sim->mains)
        return false;
    rfy_sim_heat(sim, action->index, action->value, action->rate);
    return true;
}

/* Told the first time only: a ramp may be held a hundred times. */
static void hold(rfy_sim *sim, const rfy_track *track, const rfy_action *action) {
    const int i = action->index;
    const bool guarded = action->counter >= 0;
    if (!rfy_sim_heat_hold(sim, i) || (guarded && track->counter[action->counter] > 1))
        return;
    char pressure[32];
    rfy_format_number(pressure, action->value, 3);
    rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_MACHINE, "%s: held at %.0f degC%s%s%s",
                 sim->net->node[i].name, rfy_motion_at(&sim->heat[i], sim->time) - 273.15,
                 guarded ? ", now and whenever above " : "", guarded ? pressure : "",
                 guarded ? " Pa" : "");
}

/* False when the part no longer answers. */
static bool perform(rfy_sim *sim, const rfy_track *track, const rfy_action *action) {
    const rfy_network *net = sim->net;
    int i = action->index;
    switch (action->verb) {
    case RFY_VERB_START:
        return drive(sim, i, true);
    case RFY_VERB_STOP:
        if (!drive(sim, i, false))
            return false;
        sim->pump_held[i] = action->lasting;
        return true;
    case RFY_VERB_OPEN:
        return move_valve(sim, i, 1);
    case RFY_VERB_CLOSE:
        return move_valve(sim, i, 0);
    case RFY_VERB_SWITCH_ON:
        sim->gauge_on[i] = sim->mains;
        rfy_sim_look(sim, sim->time, sim->y);
        rfy_sim_gauge_begins(sim, i);
        return sim->mains;
    case RFY_VERB_SWITCH_OFF:
        sim->gauge_on[i] = false;
        return true;
    case RFY_VERB_MAINS_FAIL:
        mains_fail(sim);
        return true;
    case RFY_VERB_MAINS_RETURN:
        sim->mains = true;
        return true;
    case RFY_VERB_SEIZE:
        stay(&sim->pump[i], 0, sim->time);
        sim->driven[i] = false;
        sim->pump_held[i] = true;
        return true;
    case RFY_VERB_SLOW:
        if (rfy_motion_at(&sim->pump[i], sim->time) > action->value)
            move(&sim->pump[i], action->value, net->pump[i].coast_down, sim->time);
        sim->pump_held[i] = true;
        return true;
    case RFY_VERB_STICK:
        stay(&sim->valve[i], rfy_motion_at(&sim->valve[i], sim->time), sim->time);
        sim->valve_held[i] = true;
        return true;
    case RFY_VERB_HOLE: {
        double open = rfy_motion_at(&sim->valve[i], sim->time) + action->value / RFY_HOLE_AREA;
        stay(&sim->valve[i], open < 1 ? open : 1, sim->time);
        return true;
    }
    case RFY_VERB_SEAL:
        stay(&sim->valve[i], 0, sim->time);
        sim->valve_held[i] = true;
        return true;
    case RFY_VERB_HALT:
        sim->track[0].op = sim->track[0].program->n_ops;
        return true;
    case RFY_VERB_HEAT:
        return heat(sim, action);
    case RFY_VERB_HOLD:
        hold(sim, track, action);
        return true;
    case RFY_VERB_RESIDUE:
        tell_residue(sim, action);
        return true;
    }
    return true;
}

static void act(rfy_sim *sim, const rfy_track *track, const rfy_action *action) {
    static const rfy_event_kind kinds[] = {[RFY_PROCEDURE] = RFY_EVENT_ACTION,
                                           [RFY_RULE] = RFY_EVENT_RULE,
                                           [RFY_FAULT] = RFY_EVENT_FAULT};
    const rfy_program *p = track->program;
    bool done = perform(sim, track, action);
    if (action->silent || action->verb == RFY_VERB_RESIDUE)
        return;
    const char *failed = done ? "" : ", but it does not answer";
    if (p->kind == RFY_RULE)
        rfy_sim_tell(sim, sim->time, sim->y, kinds[p->kind], "%s (%s)%s", action->text, p->name,
                     failed);
    else
        rfy_sim_tell(sim, sim->time, sim->y, kinds[p->kind], "%s%s", action->text, failed);
}

/* ---- tracks ---- */

bool rfy_is_clock(const rfy_condition *c) {
    return !c->below && (c->kind == RFY_COND_TIME || c->kind == RFY_COND_ELAPSED ||
                         c->kind == RFY_COND_WAITED || c->kind == RFY_COND_ARRIVED);
}

const rfy_op *rfy_sim_wait(const rfy_sim *sim, const rfy_track *track) {
    const rfy_program *p = track->program;
    if (track->op >= p->n_ops || (!sim->mains && !p->on_battery))
        return NULL;
    const rfy_op *op = &p->op[track->op];
    return op->kind == RFY_OP_WAIT ? op : NULL;
}

/* When a clock comes to the time its condition names. */
static double rings(const rfy_sim *sim, const rfy_track *track, const rfy_condition *c) {
    return c->kind == RFY_COND_TIME      ? c->value
           : c->kind == RFY_COND_ELAPSED ? track->began + c->value
           : c->kind == RFY_COND_ARRIVED ? rfy_sim_heat_end(sim, c->index, c->value)
                                         : track->since + c->value;
}

double rfy_sim_alarm(const rfy_sim *sim, const rfy_track *track) {
    const rfy_op *op = rfy_sim_wait(sim, track);
    if (!op)
        return INFINITY;
    double alarm = track->began + op->within;
    if (op->when && rfy_is_clock(op->when)) {
        double at = rings(sim, track, op->when);
        alarm = at < alarm ? at : alarm;
    }
    return alarm;
}

void rfy_sim_tracks_new(rfy_sim *sim) {
    const rfy_network *net = sim->net;
    size_t n = 1 + (size_t)net->n_rules + sim->options.n_faults;
    sim->track = RFY_NEW(sim->arena, n, rfy_track);
    sim->track[sim->n_tracks++].program = &net->procedure;
    for (int i = 0; i < net->n_rules; i++)
        sim->track[sim->n_tracks++].program = &net->rule[i];
    for (size_t i = 0; i < sim->options.n_faults; i++)
        sim->track[sim->n_tracks++].program = sim->options.fault[i];
    for (int i = 0; i < sim->n_tracks; i++)
        sim->track[i].counter = RFY_NEW(sim->arena, (size_t)sim->track[i].program->n_counters, int);
}

static void go_to(rfy_sim *sim, rfy_track *track, int op) {
    const rfy_program *p = track->program;
    track->op = op;
    track->since = sim->time;
    track->due = false;
    if (op < p->n_ops && p->op[op].begins)
        track->began = sim->time;
}

/* Whether a wait is over now. */
static bool is_over(rfy_sim *sim, const rfy_track *track, const rfy_op *op) {
    if (track->due || !op->when)
        return true;
    if (rfy_is_clock(op->when))
        return sim->time >= rings(sim, track, op->when);
    rfy_sim_look(sim, sim->time, sim->y);
    rfy_view view = sim->sight.view;
    view.elapsed = sim->time - track->began;
    view.waited = sim->time - track->since;
    /* a hair of slack: where another track or step was just located the guard is zero to round-off
     */
    return rfy_condition_guard(op->when, &view) >= -1e-11;
}

/* "the procedure, step 3" or "rule "foreline guard"". */
static const char *name_of(rfy_sim *sim, const rfy_track *track) {
    const rfy_program *p = track->program;
    if (p->kind == RFY_RULE)
        return rfy_arena_printf(sim->arena, "rule \"%s\"", p->name);
    if (p->kind == RFY_FAULT)
        return "the fault";
    const rfy_op *op = &p->op[track->op < p->n_ops ? track->op : p->n_ops - 1];
    return rfy_arena_printf(sim->arena, "step %s of the procedure",
                            op->step >= 0 ? p->step[op->step].label : "1");
}

static rfy_status go_astray(rfy_sim *sim, const rfy_track *track, const char *how) {
    char number[32];
    sim->trouble = rfy_arena_printf(sim->arena, "%s %s, at %s s", name_of(sim, track), how,
                                    rfy_format_number(number, sim->time, 6));
    return RFY_RUN_FAILED;
}

/* What is told before a wait that is over lets the track go on. */
static void announce(rfy_sim *sim, rfy_track *track, const rfy_op *op) {
    const rfy_observer *o = sim->observer;
    const rfy_program *p = track->program;
    if (!op->begins)
        return;
    if (p->kind == RFY_RULE && op->text)
        rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_RULE, "%s: %s", p->name, op->text);
    if (o && o->step && p->kind != RFY_RULE)
        o->step(o->context, sim, p, op->step);
}

/* Runs one track as far as it goes now. */
static rfy_status advance(rfy_sim *sim, rfy_track *track, bool *acted) {
    const rfy_program *p = track->program;
    while (track->op < p->n_ops) {
        const rfy_op *op = &p->op[track->op];
        if (!sim->mains && !p->on_battery)
            return RFY_OK;
        if (++sim->acted_at_once > MOST_AT_ONCE)
            return go_astray(sim, track, "goes round and round without time passing");
        switch (op->kind) {
        case RFY_OP_WAIT:
            if (is_over(sim, track, op)) {
                announce(sim, track, op);
                go_to(sim, track, track->op + 1);
                /* `elapsed` of the actions counts on from the step before, until the next step */
            } else if (sim->time >= track->began + op->within) {
                rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_ACTION, "step %s: its time is over",
                             p->step[op->step].label);
                go_to(sim, track, op->otherwise);
                *acted = true;
            } else {
                return RFY_OK;
            }
            break;
        case RFY_OP_ACT:
            act(sim, track, &op->action);
            track->struck = true;
            *acted = true;
            go_to(sim, track, track->op + 1);
            break;
        case RFY_OP_LOOP: {
            int *round = &track->counter[op->counter];
            bool leave = ++*round >= op->times;
            if (!leave && op->when)
                leave = is_over(sim, track, op);
            *round = leave ? 0 : *round;
            go_to(sim, track, leave ? track->op + 1 : op->target);
            break;
        }
        case RFY_OP_JUMP:
            if (p->kind == RFY_RULE && ++track->fired > MOST_FIRED)
                return go_astray(sim, track, "acts again and again without end");
            go_to(sim, track, op->target);
            break;
        case RFY_OP_END:
            track->ended = op->text;
            track->ended_step = op->step;
            track->op = p->n_ops;
            break;
        }
    }
    return RFY_OK;
}

rfy_status rfy_sim_fire(rfy_sim *sim) {
    if (sim->acted_at != sim->time)
        sim->acted_at_once = 0;
    sim->acted_at = sim->time;
    /* what one does may be what another waits for */
    for (bool acted = true; acted;) {
        acted = false;
        for (int i = 0; i < sim->n_tracks; i++) {
            rfy_status status = advance(sim, &sim->track[i], &acted);
            if (status != RFY_OK)
                return status;
        }
    }
    return RFY_OK;
}

const rfy_op *rfy_sim_waits_for(const rfy_sim *sim) {
    const rfy_track *track = &sim->track[0];
    return track->op < track->program->n_ops ? &track->program->op[track->op] : NULL;
}

const char *rfy_sim_ended_by(const rfy_sim *sim, int *step) {
    *step = sim->track[0].ended_step;
    return sim->track[0].ended;
}

void rfy_sim_machine_events(rfy_sim *sim) {
    const rfy_network *net = sim->net;
    for (int i = 0; i < net->n_valves; i++)
        if (sim->valve[i].end == sim->time && sim->valve[i].start < sim->time)
            rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_MACHINE, "%s is %s", net->valve[i].name,
                         sim->valve[i].to > 0 ? "fully open" : "shut");
    for (int i = 0; i < net->n_pumps; i++)
        if (sim->pump[i].end == sim->time && sim->pump[i].start < sim->time) {
            if (sim->pump[i].to > 0 && sim->pump[i].to < 1)
                rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_MACHINE, "%s is at %.0f %%",
                             net->pump[i].name, 100 * sim->pump[i].to);
            else
                rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_MACHINE, "%s is %s",
                             net->pump[i].name, sim->pump[i].to > 0 ? "at full speed" : "at rest");
        }
    for (int i = 0; i < net->n_bursts; i++) {
        if (net->burst[i].from == sim->time)
            rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_SOURCE, "%s begins", net->burst[i].name);
        if (net->burst[i].to == sim->time)
            rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_SOURCE, "%s ends", net->burst[i].name);
    }
}

/* ---- connections ---- */

/* The clean side is every place with a name but the pump's own inlet and the forelines of other
 * pumps; a rotor that hardly turns lets gas through as a tube does. */
void rfy_sim_find_connections(rfy_sim *sim) {
    const rfy_network *net = sim->net;
    const rfy_sight *s = &sim->sight;
    const double hardly = 0.05;
    for (int i = 0; i < net->n_pumps; i++) {
        int *reach = s->reach;
        s->connected[i] = false;
        if (sim->driven[i]) /* nobody asks while it runs */
            continue;
        memset(reach, 0, (size_t)net->n_nodes * sizeof *reach);
        reach[net->pump[i].from] = 1;
        for (bool again = true; again;) {
            again = false;
            for (int e = 0; e < net->n_edges; e++) {
                const rfy_edge *edge = &net->edge[e];
                int a = edge->from, b = edge->to;
                bool open = edge->role == RFY_EDGE_TUBING
                                ? edge->valve < 0 || s->opening[edge->valve] > 0
                                : edge->role == RFY_EDGE_PUMP && edge->pump != i &&
                                      net->pump[edge->pump].kind->foreline_limit &&
                                      s->turn[edge->pump] < hardly;
                if (!open || net->node[a].fixed || net->node[b].fixed || reach[a] == reach[b])
                    continue;
                reach[a] = reach[b] = 1;
                again = true;
            }
        }
        reach[net->pump[i].from] = 0;
        for (int k = 0; k < net->n_pumps; k++)
            if (net->pump[k].kind->foreline_limit)
                reach[net->pump[k].to] = 0;
        bool any = false;
        for (int k = 0; k < net->n_free; k++)
            any = any || (reach[k] && !net->node[k].internal);
        s->connected[i] = any;
    }
}
