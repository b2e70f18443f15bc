#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "solve/simulate_parts.h"
#include "solve/tangent_parts.h"

/* Walls count as being in air above a tenth of the ambient pressure; the clock stops only above a
 * fifth, so that a pressure that lingers there does not switch to and fro. */
static const double leaves_air = 0.1, meets_air = 0.2;
/* Knudsen number lambda/bore at which a line leaves viscous flow, and at which it counts as
 * molecular (ISO 3529-1 names the regimes; these borders are common practice). */
static const double kn_viscous = 0.01, kn_molecular = 0.5;

/* ---- looking ---- */

/* How fast the pressures change there. */
static void look_at_rates(rfy_sim *sim, double time, const double *y) {
    const rfy_network *net = sim->net;
    rfy_sight *s = &sim->sight;
    const int g = net->mixture.n;
    if (rfy_ode_rates(sim->ode, time - sim->base, y, s->rate) != GSL_SUCCESS)
        return;
    for (int k = 0; k < net->n_free; k++) {
        double sum = 0;
        for (int i = 0; i < g; i++)
            sum += s->rate[k * g + i];
        s->rise[k] = fabs(sum) * RFY_R * s->temperature[k] / net->node[k].volume;
    }
}

static void look(rfy_sim *sim, double time, const double *y) {
    const rfy_network *net = sim->net;
    rfy_sight *s = &sim->sight;
    const int g = net->mixture.n;
    rfy_sim_warmth(sim, time, s->temperature);
    rfy_pressures(net, sim->any_heat ? s->temperature : NULL, y, s->partial);
    for (int k = 0; k < net->n_nodes; k++) {
        double sum = 0;
        for (int i = 0; i < g; i++)
            sum += s->partial[k * g + i];
        s->pressure[k] = sum;
    }
    for (int i = 0; i < net->n_pumps; i++)
        s->turn[i] = rfy_motion_at(&sim->pump[i], time);
    for (int i = 0; i < net->n_gauges; i++)
        s->reading[i] = rfy_sim_reading(sim, i, time, s->partial);
    for (int i = 0; i < net->n_valves; i++)
        s->opening[i] = rfy_motion_at(&sim->valve[i], time);
    if (net->watches_connections)
        rfy_sim_find_connections(sim);
    if (net->watches_rates)
        look_at_rates(sim, time, y);
    s->view = (rfy_view){s->pressure, s->turn,     s->reading,    time,         time,          0,
                         s->opening,  sim->driven, sim->gauge_on, s->connected, s->temperature};
}

void rfy_sim_look(rfy_sim *sim, double time, const double *y) {
    sim->sight = sim->own_sight;
    look(sim, time, y);
}

/* The same at a quarter of the last step up to `to`, kept for all who look there. */
void rfy_sim_look_at_part(rfy_sim *sim, int part, double from, double to) {
    if (sim->parts_from != from || sim->parts_to != to) {
        sim->parts_from = from;
        sim->parts_to = to;
        memset(sim->part_seen, 0, sizeof sim->part_seen);
    }
    sim->sight = sim->part[part];
    if (sim->part_seen[part])
        return;
    const double when = part == RFY_PARTS ? to : from + (to - from) * part / RFY_PARTS;
    const double *y = sim->y_start;
    if (part == RFY_PARTS && to == sim->time) {
        y = sim->y;
    } else if (part > 0) {
        rfy_sim_glance(sim, when, sim->work);
        y = sim->work;
    }
    look(sim, when, y);
    sim->part[part] = sim->sight;
    sim->part_seen[part] = true;
}

static double log_ratio(double a, double b) {
    return log((a > 1e-300 ? a : 1e-300) / (b > 1e-300 ? b : 1e-300));
}

static double knudsen(const rfy_sim *sim, int line) {
    const rfy_network *net = sim->net;
    const rfy_edge *edge = &net->edge[net->line[line].narrowest];
    const int g = net->mixture.n;
    double m[RFY_MAX_GASES] = {0}, sum = 0;
    for (int i = 0; i < g; i++) {
        m[i] =
            0.5 * (sim->sight.partial[edge->from * g + i] + sim->sight.partial[edge->to * g + i]);
        m[i] = m[i] > 0 ? m[i] : 0;
        sum += m[i];
    }
    rfy_mixture_state gas;
    rfy_mixture_at(edge->mixture, m, &gas, NULL, NULL, NULL);
    return rfy_stretch_knudsen(edge->stretch, &gas, sum > 1e-300 ? sum : 1e-300);
}

/* What a track waits for, with its own clocks. */
static double wait_value(const rfy_sim *sim, const rfy_track *track, const rfy_op *op) {
    rfy_view view = sim->sight.view;
    view.elapsed = view.time - track->began;
    view.waited = view.time - track->since;
    return rfy_condition_guard(op->when, &view);
}

/* Value of a guard at the instant last looked at. */
double rfy_sim_guard_value(const rfy_sim *sim, const rfy_guard *guard) {
    const rfy_network *net = sim->net;
    const double *p = sim->sight.pressure;
    int i = guard->index;
    switch (guard->kind) {
    case RFY_GUARD_STEP: {
        const rfy_track *track = &sim->track[i];
        const rfy_op *op = rfy_sim_wait(sim, track);
        /* clocks ring by themselves: rfy_sim_alarm */
        return op && op->when && !rfy_is_clock(op->when) ? wait_value(sim, track, op) : -1;
    }
    case RFY_GUARD_WALL_DOWN:
        return log_ratio(leaves_air * net->ambient_pressure, p[i]);
    case RFY_GUARD_WALL_UP:
        return log_ratio(p[i], meets_air * net->ambient_pressure);
    case RFY_GUARD_TARGET:
        return log_ratio(net->target[i].pressure, p[net->target[i].node]);
    case RFY_GUARD_LIMIT: {
        const rfy_limit *l = &net->limit[i];
        double over = l->kind == RFY_LIMIT_MAX   ? log_ratio(p[l->node], l->allowed)
                      : l->kind == RFY_LIMIT_MIN ? log_ratio(l->allowed, p[l->node])
                                                 : log_ratio(sim->sight.rise[l->node], l->allowed);
        double while_ = l->while_ ? rfy_condition_guard(l->while_, &sim->sight.view) : 1;
        return over < while_ ? over : while_;
    }
    case RFY_GUARD_THIN:
        return log(knudsen(sim, i) / kn_viscous);
    default:
        return log(knudsen(sim, i) / kn_molecular);
    }
}

/* A border that is a convention is met nearly enough on the interpolant. */
static bool is_regime(const rfy_guard *guard) {
    return guard->kind == RFY_GUARD_THIN || guard->kind == RFY_GUARD_MOLECULAR;
}

static bool is_wall(const rfy_guard *guard) {
    return guard->kind == RFY_GUARD_WALL_DOWN || guard->kind == RFY_GUARD_WALL_UP;
}

/* What ends a step. */
static bool is_active(const rfy_sim *sim, const rfy_guard *guard) {
    return guard->kind == RFY_GUARD_STEP ||
           (is_wall(guard) && sim->net->n_emitters <= RFY_WALLS_WATCHED);
}

/* ---- the list of guards ---- */

static void add(rfy_sim *sim, rfy_guard_kind kind, int index) {
    sim->guard[sim->n_guards++] = (rfy_guard){.kind = kind, .index = index, .armed = true};
}

static rfy_sight sight_new(rfy_sim *sim) {
    const rfy_network *net = sim->net;
    const size_t nodes = (size_t)net->n_nodes, pumps = (size_t)net->n_pumps;
    return (rfy_sight){.partial = RFY_NEW(sim->arena, nodes * (size_t)net->mixture.n, double),
                       .pressure = RFY_NEW(sim->arena, nodes, double),
                       .temperature = RFY_NEW(sim->arena, nodes, double),
                       .turn = RFY_NEW(sim->arena, pumps, double),
                       .reading = RFY_NEW(sim->arena, (size_t)net->n_gauges, double),
                       .opening = RFY_NEW(sim->arena, (size_t)net->n_valves, double),
                       .connected = RFY_NEW(sim->arena, pumps, bool),
                       .reach = RFY_NEW(sim->arena, nodes, int),
                       .rise = RFY_NEW(sim->arena, nodes, double),
                       .rate = RFY_NEW(sim->arena, (size_t)sim->ode->n, double)};
}

void rfy_sim_guards_new(rfy_sim *sim) {
    const rfy_network *net = sim->net;
    size_t most = (size_t)sim->n_tracks + 2 * (size_t)net->n_free + (size_t)net->n_targets +
                  (size_t)net->n_limits + 2 * (size_t)net->n_lines;
    sim->own_sight = sight_new(sim);
    if (!sim->options.targets_only)
        for (int i = 0; i <= RFY_PARTS; i++)
            sim->part[i] = sight_new(sim);
    sim->parts_from = sim->parts_to = NAN;
    sim->guard = RFY_NEW(sim->arena, most, rfy_guard);
    sim->limit = RFY_NEW(sim->arena, (size_t)net->n_limits, rfy_limit_state);
    sim->target_met = RFY_NEW(sim->arena, (size_t)net->n_targets, bool);
    sim->root = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    for (int i = 0; i < sim->n_tracks; i++)
        add(sim, RFY_GUARD_STEP, i);
    bool *has_wall = RFY_NEW(sim->arena, (size_t)net->n_nodes, bool);
    for (int i = 0; i < net->n_emitters; i++)
        has_wall[net->emitter[i].node] = true;
    for (int k = 0; k < net->n_free; k++)
        if (has_wall[k]) {
            add(sim, RFY_GUARD_WALL_DOWN, k);
            add(sim, RFY_GUARD_WALL_UP, k);
        }
    for (int i = 0; i < net->n_targets; i++)
        add(sim, RFY_GUARD_TARGET, i);
    if (!sim->options.targets_only) {
        for (int i = 0; i < net->n_limits; i++) {
            add(sim, RFY_GUARD_LIMIT, i);
            sim->limit[i].broken_at = sim->limit[i].peak = sim->limit[i].peak_at = NAN;
        }
        for (int i = 0; i < net->n_lines; i++)
            if (net->line[i].narrowest >= 0) {
                add(sim, RFY_GUARD_THIN, i);
                add(sim, RFY_GUARD_MOLECULAR, i);
            }
    }
    for (int k = 0; k < 2; k++)
        sim->lagging[k] = RFY_NEW(sim->arena, (size_t)net->n_gauges, rfy_lagging);
    /* walls that begin below the border have been under vacuum since the start */
    rfy_sim_look(sim, 0, sim->y);
    for (int i = 0; i < net->n_gauges; i++)
        rfy_sim_gauge_begins(sim, i);
    for (int k = 0; k < net->n_free; k++)
        if (isnan(sim->wall_since[k]) &&
            sim->sight.pressure[k] < leaves_air * net->ambient_pressure)
            sim->wall_since[k] = 0;
}

static void meet_target(rfy_sim *sim, int i, double time, const double *y) {
    const rfy_observer *o = sim->observer;
    sim->target_met[i] = true;
    if (sim->tangent)
        rfy_tangent_target(sim->tangent, i, time, y);
    if (o && o->target)
        o->target(o->context, sim, time, y, i);
    rfy_sim_tell(sim, time, y, RFY_EVENT_TARGET, "%s: %s",
                 sim->net->node[sim->net->target[i].node].name, sim->net->target[i].name);
}

bool rfy_sim_all_targets(const rfy_sim *sim) {
    for (int i = 0; i < sim->net->n_targets; i++)
        if (!sim->target_met[i])
            return false;
    return true;
}

void rfy_sim_guards_begin(rfy_sim *sim) {
    rfy_sim_look(sim, sim->time, sim->y);
    for (int k = 0; k < sim->n_guards; k++) {
        rfy_guard *guard = &sim->guard[k];
        double now = rfy_sim_guard_value(sim, guard);
        guard->before = now;
        int i = guard->index;
        switch (guard->kind) {
        case RFY_GUARD_WALL_DOWN:
            guard->armed = isnan(sim->wall_since[i]);
            break;
        case RFY_GUARD_WALL_UP:
            /* walls that fill their own closed volume would stop and start without end */
            guard->armed = !isnan(sim->wall_since[i]) && sim->wall_turns[i] < 10;
            break;
        case RFY_GUARD_TARGET:
            guard->armed = !sim->target_met[i];
            if (guard->armed && now >= 0) { /* low enough from the start */
                meet_target(sim, i, sim->time, sim->y);
                guard->armed = false;
            }
            break;
        case RFY_GUARD_LIMIT:
            if (now >= 0 && !sim->limit[i].over)
                rfy_sim_limit_begins(sim, i, sim->time);
            else if (now < 0)
                sim->limit[i].over = false;
            rfy_sim_limit_peak(sim, i, sim->time);
            rfy_sim_limit_check(sim, i, sim->time, sim->y);
            break;
        case RFY_GUARD_THIN:
        case RFY_GUARD_MOLECULAR:
            if (now >= 0)
                guard->armed = false; /* only the first time is told */
            break;
        default:
            break;
        }
    }
}

/* ---- locating ---- */

typedef struct search {
    rfy_sim *sim;
    const rfy_guard *guard;
} search;

static double on_interpolant(double time, void *params) {
    search *s = params;
    s->sim->found_at = NAN;
    rfy_sim_glance(s->sim, time, s->sim->found);
    rfy_sim_look(s->sim, time, s->sim->found);
    return rfy_sim_guard_value(s->sim, s->guard);
}

static double with_step(double time, void *params) {
    search *s = params;
    s->sim->found_at = NAN;
    rfy_sim_restep(s->sim, time, s->sim->found);
    rfy_sim_look(s->sim, time, s->sim->found);
    return rfy_sim_guard_value(s->sim, s->guard);
}

/* Brent's method between two times with values of opposite sign. */
static double bracketed(search *s, double (*value)(double, void *), double from, double to) {
    gsl_root_fsolver *solver = s->sim->root;
    gsl_function f = {value, s};
    double root = to;
    if (gsl_root_fsolver_set(solver, &f, from, to) != GSL_SUCCESS)
        return to;
    for (int i = 0; i < 100; i++) {
        if (gsl_root_fsolver_iterate(solver) != GSL_SUCCESS)
            break;
        root = gsl_root_fsolver_root(solver);
        double low = gsl_root_fsolver_x_lower(solver), high = gsl_root_fsolver_x_upper(solver);
        if (high - low <= 1e-11 * (to - from) + 4e-16 * to)
            break;
    }
    return root;
}

/* The state found at `at` by a step of its own, taken along the interpolant to a time next to it:
 * what the interpolant misses is the same at both. */
static void carry_found(rfy_sim *sim, double at, double when) {
    if (!(fabs(when - at) <= 0.003 * (sim->step_to - sim->step_from)))
        return; /* a step of its own once more */
    rfy_sim_glance(sim, at, sim->y_part[0]);
    rfy_sim_glance(sim, when, sim->y_part[1]);
    for (int i = 0; i < sim->ode->n; i++)
        sim->found[i] += sim->y_part[1][i] - sim->y_part[0][i];
    sim->found_at = when;
}

/* The state inside the last step at a time that was just located, or by a step of its own. */
static void step_to(rfy_sim *sim, double when, double *y) {
    if (when != sim->found_at)
        rfy_sim_restep(sim, when, y);
    else if (y != sim->found)
        memcpy(y, sim->found, (size_t)sim->ode->n * sizeof *y);
    sim->found_at = NAN;
}

/* First instant of a sign change between two times inside the step: on the interpolant, then
 * corrected with steps of their own, which are as accurate as the run itself, by secants; in full
 * with such steps where the interpolant leads astray. */
static double locate(rfy_sim *sim, const rfy_guard *guard, double from, double to) {
    search s = {sim, guard};
    double a = on_interpolant(from, &s), b = on_interpolant(to, &s);
    if (!(a < 0) == !(b < 0))
        return a >= 0 ? from : to;
    double root = bracketed(&s, on_interpolant, from, to);
    if (sim->options.method == RFY_METHOD_MSBDF || is_wall(guard) || is_regime(guard))
        return root;
    double d = 1e-3 * (to - from), left = root - d > from ? root - d : from,
           right = root + d < to ? root + d : to;
    double slope = (on_interpolant(right, &s) - on_interpolant(left, &s)) / (right - left);
    double at = root, value = with_step(root, &s), close = 1e-11 * root + 1e-12 * (to - from);
    if (sim->options.targets_only) /* a study: a hundredth of what the steps may err by is enough */
        close = 0.01 * sim->options.tolerance * root;
    for (int i = 0; i < 8; i++) {
        double change = slope != 0 ? value / slope : (double)NAN, next = at - change;
        if (!(next >= from && next <= to))
            break;
        if (fabs(change) <= close) { /* a hair later, where the condition holds for sure */
            const double when = next + 0.1 * close < to ? next + 0.1 * close : to;
            carry_found(sim, at, when);
            return when;
        }
        double before = value;
        value = with_step(next, &s);
        slope = (value - before) / (next - at);
        at = next;
    }
    if (value == 0)
        return at;
    a = with_step(from, &s);
    b = with_step(to, &s);
    return !(a < 0) == !(b < 0) ? root : bracketed(&s, with_step, from, to);
}

/* ---- one step
 * --------------------------------------------------------------------------------------------------
 */

/* Starts or stops a wall's clock at `when`. The gas given off meanwhile is nothing beside the air
 * there, so the step goes on and the wall counts from its end. Down and up guards of a node stand
 * side by side in the list. */
static void switch_wall(rfy_sim *sim, rfy_guard *guard, double when, const double *y) {
    bool leaves = guard->kind == RFY_GUARD_WALL_DOWN;
    rfy_guard *twin = leaves ? guard + 1 : guard - 1;
    sim->wall_turns[guard->index] += leaves ? 0 : 1;
    sim->wall_since[guard->index] = leaves ? when : (double)NAN;
    guard->armed = false;
    /* walls that fill their own closed volume would stop and start without end */
    twin->armed = !leaves || sim->wall_turns[guard->index] < 10;
    twin->before = -1;
    rfy_ode_stale(sim->ode);
    if (!sim->net->node[guard->index].internal)
        rfy_sim_tell(sim, when, y, RFY_EVENT_WALL,
                     leaves ? "%s: outgassing clock starts" : "%s: walls meet air again",
                     sim->net->node[guard->index].name);
}

void rfy_sim_passive_change(rfy_sim *sim, rfy_guard *guard, double now, double from, double to) {
    double *y = sim->found;
    if (is_wall(guard)) { /* of thousands: evenly in the logarithm of the pressure is enough */
        if (sim->tangent)
            rfy_tangent_wall(sim->tangent, guard);
        switch_wall(sim, guard, from + (to - from) * guard->before / (guard->before - now), sim->y);
        return;
    }
    double when = locate(sim, guard, from, to);
    if (is_regime(guard) || (sim->options.targets_only && !sim->tangent)) /* only `when` counts */
        rfy_sim_glance(sim, when, y);
    else
        step_to(sim, when, y);
    switch (guard->kind) {
    case RFY_GUARD_TARGET:
        meet_target(sim, guard->index, when, y);
        guard->armed = false;
        break;
    case RFY_GUARD_LIMIT:
        rfy_sim_look(sim, when, y);
        rfy_sim_limit_peak(sim, guard->index, when);
        if (now >= 0) {
            rfy_sim_limit_begins(sim, guard->index, when);
        } else {
            rfy_sim_limit_check(sim, guard->index, when, y);
            sim->limit[guard->index].over = false;
        }
        break;
    default:
        rfy_sim_tell(sim, when, y, RFY_EVENT_REGIME,
                     guard->kind == RFY_GUARD_THIN ? "%s: flow is no longer viscous"
                                                   : "%s: flow is now molecular",
                     sim->net->line[guard->index].name);
        guard->armed = false;
        break;
    }
}

/* Whether what a rule waits for is true somewhere inside the step and not at its end: a spike.
 * begin and end become the quarter of the step in which it comes true. */
static bool peeps_out(rfy_sim *sim, const rfy_guard *guard, double *begin, double *end) {
    if (guard->kind != RFY_GUARD_STEP || sim->track[guard->index].program->kind != RFY_RULE ||
        sim->options.targets_only)
        return false;
    const double from = *begin, to = *end;
    bool found = false;
    for (int part = 1; part < 4 && !found; part++) {
        double when = from + (to - from) * part / 4;
        rfy_sim_look_at_part(sim, part, from, to);
        if (rfy_sim_guard_value(sim, guard) < 0)
            continue;
        rfy_sim_inside(sim, when, sim->found); /* surer than the first look */
        rfy_sim_look(sim, when, sim->found);
        if (rfy_sim_guard_value(sim, guard) < 0)
            continue;
        *begin = from + (to - from) * (part - 1) / 4;
        *end = when;
        found = true;
    }
    rfy_sim_look(sim, to, sim->y_end);
    return found;
}

static void switch_now(rfy_sim *sim, rfy_guard *guard) {
    if (sim->tangent)
        rfy_tangent_cause(sim->tangent, guard);
    if (guard->kind == RFY_GUARD_STEP)
        sim->track[guard->index].due = true;
    else
        switch_wall(sim, guard, sim->time, sim->y);
}

static rfy_guard *watch_step(rfy_sim *sim) {
    const double from = sim->step_from;
    double horizon = sim->step_to;
    rfy_guard *first = NULL;

    /* the earliest switching */
    rfy_sim_look(sim, horizon, sim->y_end);
    for (int k = 0; k < sim->n_guards; k++) {
        rfy_guard *guard = &sim->guard[k];
        if (!is_active(sim, guard) || !guard->armed)
            continue;
        double begin = from, end = sim->step_to;
        if (guard->before >= 0 ||
            (rfy_sim_guard_value(sim, guard) < 0 && !peeps_out(sim, guard, &begin, &end)))
            continue;
        double when = locate(sim, guard, begin, end);
        rfy_sim_look(sim, sim->step_to, sim->y_end);
        if (when < horizon || !first) {
            horizon = when < horizon ? when : horizon;
            first = guard;
        }
    }
    if (first && horizon < sim->step_to) {
        step_to(sim, horizon, sim->y);
        sim->time = horizon;
        sim->local = horizon - sim->base;
    }

    if (sim->tangent)
        rfy_tangent_advance(sim->tangent);

    /* what else happened up to then */
    for (int k = 0; k < sim->n_guards; k++)
        if (sim->guard[k].kind == RFY_GUARD_LIMIT)
            rfy_sim_watch_limit(sim, &sim->guard[k], from, horizon);
    rfy_sim_look(sim, sim->time, sim->y);
    for (int k = 0; k < sim->n_guards; k++) {
        rfy_guard *guard = &sim->guard[k];
        if (!guard->armed || guard->kind == RFY_GUARD_LIMIT)
            continue;
        double now = rfy_sim_guard_value(sim, guard);
        bool wall_stays = is_wall(guard) && now < 0; /* only rising through zero switches a wall */
        if (!is_active(sim, guard) && !wall_stays && (guard->before < 0) != (now < 0) &&
            now == now) {
            rfy_sim_passive_change(sim, guard, now, from, sim->time);
            rfy_sim_look(sim, sim->time, sim->y);
        }
        /* another switching within a hair of the first: the state there is past it already */
        if (is_active(sim, guard) && guard != first && guard->before < 0 && now >= 0)
            switch_now(sim, guard);
        guard->before = now;
    }
    return first;
}

bool rfy_sim_watch(rfy_sim *sim) {
    const double from = sim->step_from;
    rfy_guard *first = watch_step(sim);
    if (sim->net->gauges_lag) {
        rfy_sim_look(sim, sim->time, sim->y);
        rfy_sim_settle_gauges(sim);
    }
    /* before the clock of a wall is switched: a step of its own must see what the run's step saw */
    rfy_sim_put_outputs(sim, from, sim->time);
    if (!first)
        return false;
    rfy_sim_look(sim, sim->time, sim->y);
    switch_now(sim, first);
    return true;
}
