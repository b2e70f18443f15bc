/* What is switched, and how its instant depends on each number: clocks that begin then carry it on.
 */
#include <math.h>
#include <string.h>
#include "network/stores.h"
#include "solve/tangent_memory.h"
#include "solve/tangent_parts.h"

/* ---- the instant of a switching ---- */

/* Copies of what conditions look at, each column in turn a little along its derivative. */
typedef struct moved {
    double *pressure, *turn, *reading, *opening, *temperature;
} moved;

/* By each number and, in the last column, by time: at a fixed time, of all that a condition sees.
 */
typedef struct slopes {
    double *pressure, *turn, *reading, *opening, *temperature; /* [part * (n + 1)] */
} slopes;

static double slope_of(const rfy_motion *m, double time) {
    return time <= m->end && time >= m->start && m->end > m->start
               ? (m->to - m->from) / (m->end - m->start)
               : 0;
}

/* Slopes of ln p become those of p. */
static slopes find_slopes(rfy_tangent *t, rfy_arena *arena) {
    const rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    const rfy_sight *s = &sim->sight;
    const int g = net->mixture.n, c = t->columns, n = t->n + 1;
    const double time = sim->time;
    slopes d = {.pressure = RFY_NEW(arena, (size_t)(net->n_nodes * n), double),
                .turn = RFY_NEW(arena, (size_t)(net->n_pumps * n), double),
                .reading = RFY_NEW(arena, (size_t)(net->n_gauges * n), double),
                .opening = RFY_NEW(arena, (size_t)(net->n_valves * n), double),
                .temperature = RFY_NEW(arena, (size_t)(net->n_nodes * n), double)};
    double *log_by = RFY_NEW(arena, (size_t)(net->n_nodes * c), double),
           *warmth = RFY_NEW(arena, (size_t)(net->n_nodes * c), double);
    rfy_tangent_pressures(t, time, sim->y, t->s, log_by);
    rfy_tangent_warmth(t, time, true, warmth);
    double *warming = RFY_NEW(arena, (size_t)net->n_nodes, double);
    if (sim->any_heat) {
        const double dt = 1e-7 * (1 + fabs(time));
        rfy_sim_warmth(sim, time - dt, warming);
        for (int k = 0; k < net->n_nodes; k++)
            warming[k] = (s->temperature[k] - warming[k]) / dt;
    }
    for (int k = 0; k < net->n_nodes; k++) {
        for (int p = 0; p < t->n; p++) {
            d.pressure[k * n + p] = s->pressure[k] * log_by[k * c + p];
            d.temperature[k * n + p] = warmth[k * c + p];
        }
        double rise = 0;
        for (int i = 0; i < g && !net->node[k].fixed; i++)
            rise += t->begin->f[k * g + i];
        d.temperature[k * n + t->n] = warming[k];
        if (!net->node[k].fixed)
            d.pressure[k * n + t->n] = rise * RFY_R * s->temperature[k] / net->node[k].volume +
                                       s->pressure[k] / s->temperature[k] * warming[k];
    }
    for (int i = 0; i < net->n_valves; i++) {
        for (int p = 0; p < t->n; p++)
            d.opening[i * n + p] = rfy_tangent_motion(
                t, &sim->valve[i], t->valve + i * RFY_D_MOTION * c, p, time, true);
        d.opening[i * n + t->n] = slope_of(&sim->valve[i], time);
    }
    for (int i = 0; i < net->n_pumps; i++) {
        for (int p = 0; p < t->n; p++)
            d.turn[i * n + p] =
                rfy_tangent_motion(t, &sim->pump[i], t->pump + i * RFY_D_MOTION * c, p, time, true);
        d.turn[i * n + t->n] = slope_of(&sim->pump[i], time);
    }
    for (int i = 0; i < net->n_gauges; i++) {
        const rfy_gauge *gauge = &net->gauge[i];
        const double lag = gauge->lag, f = RFY_R * s->temperature[gauge->node];
        if (!sim->gauge_on[i] || net->node[gauge->node].fixed)
            continue;
        if (!net->gauges_lag)
            rfy_tangent_unlagged(t, i, time, sim->y, t->s, t->shown + i * c);
        for (int p = 0; p < t->n; p++)
            d.reading[i * n + p] = t->shown[i * c + p];
        double rise = 0, now = 0;
        for (int k = 0; k < g; k++) {
            rise += gauge->factor[k] * t->begin->f[gauge->node * g + k];
            now += gauge->factor[k] * s->partial[gauge->node * g + k];
        }
        d.reading[i * n + t->n] =
            lag > 0 ? (now - s->reading[i]) / lag : rise * f / net->node[gauge->node].volume;
    }
    return d;
}

static void go_along(double *out, const double *from, const double *d, int count, int n, int column,
                     double by) {
    for (int i = 0; i < count; i++)
        out[i] = from[i] + by * d[i * n + column];
}

static double greatest(const double *from, const double *d, int count, int n, int column) {
    double most = 0;
    for (int i = 0; i < count; i++) {
        double relative = fabs(d[i * n + column]) / (fabs(from[i]) + 1e-30);
        if (isfinite(relative) && d[i * n + column] != 0 && relative > most)
            most = relative;
    }
    return most;
}

/* Change of what a track waits for along one column, by a central difference of the condition
 * itself. */
static double along(const rfy_tangent *t, const rfy_track *track, const rfy_op *op, const slopes *d,
                    const moved *m, int column) {
    const rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    const rfy_sight *s = &sim->sight;
    const int n = t->n + 1, which = (int)(track - sim->track);
    const bool in_time = column == t->n;
    double d_time = in_time ? 1 : 0, elapsed = in_time ? 1 : -t->began[which * t->columns + column],
           waited = in_time ? 1 : -t->since[which * t->columns + column];
    double most = greatest(s->pressure, d->pressure, net->n_nodes, n, column);
    most = fmax(most, greatest(s->reading, d->reading, net->n_gauges, n, column));
    most = fmax(most, greatest(s->temperature, d->temperature, net->n_nodes, n, column));
    for (int i = 0; i < net->n_pumps; i++)
        most = fmax(most, fabs(d->turn[i * n + column]));
    for (int i = 0; i < net->n_valves; i++)
        most = fmax(most, fabs(d->opening[i * n + column]));
    most = fmax(most, fmax(fabs(elapsed), fabs(waited)) / (sim->time - track->began + 1e-3));
    if (!(most > 0))
        return 0;
    const double by = 1e-5 / most;
    double value[2];
    for (int side = 0; side < 2; side++) {
        const double e = side == 0 ? -by : by;
        go_along(m->pressure, s->pressure, d->pressure, net->n_nodes, n, column, e);
        go_along(m->turn, s->turn, d->turn, net->n_pumps, n, column, e);
        go_along(m->reading, s->reading, d->reading, net->n_gauges, n, column, e);
        go_along(m->opening, s->opening, d->opening, net->n_valves, n, column, e);
        go_along(m->temperature, s->temperature, d->temperature, net->n_nodes, n, column, e);
        rfy_view view = s->view;
        view.pressure = m->pressure;
        view.turn = m->turn;
        view.reading = m->reading;
        view.opening = m->opening;
        view.temperature = m->temperature;
        view.time = sim->time + e * d_time;
        view.elapsed = sim->time - track->began + e * elapsed;
        view.waited = sim->time - track->since + e * waited;
        value[side] = rfy_condition_guard(op->when, &view);
    }
    return (value[1] - value[0]) / (2 * by);
}

static void of_condition(rfy_tangent *t, const rfy_track *track) {
    const rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    const rfy_op *op = rfy_sim_wait(sim, track);
    memset(t->moment, 0, (size_t)t->columns * sizeof *t->moment);
    if (!op || !op->when)
        return;
    rfy_arena *arena = rfy_arena_new();
    slopes d = find_slopes(t, arena);
    moved m = {RFY_NEW(arena, (size_t)net->n_nodes, double),
               RFY_NEW(arena, (size_t)net->n_pumps, double),
               RFY_NEW(arena, (size_t)net->n_gauges, double),
               RFY_NEW(arena, (size_t)net->n_valves, double),
               RFY_NEW(arena, (size_t)net->n_nodes, double)};
    double in_time = along(t, track, op, &d, &m, t->n);
    for (int p = 0; p < t->n; p++) {
        const double by = along(t, track, op, &d, &m, p);
        t->moment[p] = in_time != 0 ? -by / in_time : 0;
        /* clocks since the last switching only hand on when that was */
        t->strain[p] = fmax(t->strain[p], fabs((t->moment[p] - t->shift[p]) * in_time));
    }
    rfy_arena_free(arena);
}

/* Where the pressure of a node meets a part of the air's. */
static void of_wall(rfy_tangent *t, int node) {
    const rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    const int g = net->mixture.n;
    double rise = 0, sum = 0;
    for (int i = 0; i < g; i++) {
        rise += t->begin->f[node * g + i];
        sum += sim->y[node * g + i];
    }
    rfy_tangent_pressures(t, sim->time, sim->y, t->s, t->warmth);
    for (int p = 0; p < t->n; p++) {
        const rfy_neighbour *v = &t->neighbour[p];
        double border =
            v->unsuited ? 0 : log(v->net->ambient_pressure / net->ambient_pressure) / v->step;
        t->moment[p] = rise != 0 ? (border - t->warmth[node * t->columns + p]) * sum / rise : 0;
    }
}

static bool is_wall(const rfy_guard *guard) {
    return guard->kind == RFY_GUARD_WALL_DOWN || guard->kind == RFY_GUARD_WALL_UP;
}

void rfy_tangent_cause(rfy_tangent *t, const rfy_guard *guard) {
    rfy_sim *sim = t->sim;
    rfy_tangent_catch_up(t);
    rfy_sim_look(sim, sim->time, sim->y);
    if (is_wall(guard))
        of_wall(t, guard->index);
    else
        of_condition(t, &sim->track[guard->index]);
    t->caused = true;
    if (guard->kind == RFY_GUARD_WALL_DOWN)
        memcpy(t->wall + guard->index * t->columns, t->moment,
               (size_t)t->columns * sizeof *t->moment);
}

/* As the run does with a wall among so many: the little it gives off meanwhile does not count. */
void rfy_tangent_wall(rfy_tangent *t, const rfy_guard *guard) {
    rfy_tangent_catch_up(t);
    rfy_sim_look(t->sim, t->sim->time, t->sim->y);
    of_wall(t, guard->index);
    memcpy(t->wall + guard->index * t->columns, t->moment, (size_t)t->columns * sizeof *t->moment);
    t->begin_known = false;
}

/* Which clock rang at this instant, and what it depends on. */
static void of_clock(rfy_tangent *t) {
    const rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    const int c = t->columns;
    memset(t->moment, 0, (size_t)c * sizeof *t->moment);
    for (int i = 0; i < sim->n_tracks; i++) {
        const rfy_track *track = &sim->track[i];
        const rfy_op *op = rfy_sim_wait(sim, track);
        if (!op || rfy_sim_alarm(sim, track) != sim->time)
            continue;
        const double *d = NULL;
        if (op->when && rfy_is_clock(op->when) && track->began + op->within != sim->time) {
            if (op->when->kind == RFY_COND_ELAPSED)
                d = t->began + i * c;
            else if (op->when->kind == RFY_COND_WAITED)
                d = t->since + i * c;
            else if (op->when->kind == RFY_COND_ARRIVED)
                d = t->heat + (op->when->index * RFY_D_MOTION + RFY_D_END) * c;
        } else {
            d = t->began + i * c;
        }
        if (d)
            memcpy(t->moment, d, (size_t)c * sizeof *d);
        return;
    }
    for (int i = 0; i < net->n_stores; i++)
        if (net->store[i].active_from == sim->time)
            for (int p = 0; p < t->n; p++)
                if (!t->neighbour[p].unsuited)
                    t->moment[p] = (t->neighbour[p].net->store[i].active_from - sim->time) /
                                   t->neighbour[p].step;
}

/* A burst that begins or ends at a time of its own. */
static void leap_by_bursts(rfy_tangent *t) {
    const rfy_network *net = t->net;
    const int g = net->mixture.n;
    for (int i = 0; i < net->n_bursts; i++) {
        const rfy_burst *b = &net->burst[i];
        double *row = rfy_tangent_row(t->s, t, b->node * g + b->gas);
        for (int p = 0; p < t->n; p++) {
            const rfy_neighbour *v = &t->neighbour[p];
            if (v->unsuited)
                continue;
            if (b->from == t->sim->time)
                row[p] -= b->flow * (v->net->burst[i].from - b->from) / v->step;
            if (b->to == t->sim->time)
                row[p] += b->flow * (v->net->burst[i].to - b->to) / v->step;
        }
    }
}

void rfy_tangent_before(rfy_tangent *t, bool at_break) {
    const rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    rfy_tangent_catch_up(t);
    if (at_break && !t->caused)
        of_clock(t);
    else if (!t->caused)
        memset(t->moment, 0, (size_t)t->columns * sizeof *t->moment);
    if (at_break)
        leap_by_bursts(t);
    memcpy(t->valve_was, sim->valve, (size_t)net->n_valves * sizeof *sim->valve);
    memcpy(t->pump_was, sim->pump, (size_t)net->n_pumps * sizeof *sim->pump);
    memcpy(t->heat_was, sim->heat, (size_t)net->n_nodes * sizeof *sim->heat);
    memcpy(t->heated_was, sim->heated, (size_t)net->n_nodes * sizeof *sim->heated);
    memcpy(t->gauge_was, sim->gauge_on, (size_t)net->n_gauges * sizeof *sim->gauge_on);
    rfy_memory_before(t);
}

/* ---- what begins then ---- */

/* d of a motion that was sent on its way at this instant. travel[p]: derivative of the time of its
 * full travel; pace: that time (per unit of way). */
static void redirect(rfy_tangent *t, const rfy_motion *was, const rfy_motion *now, double *d,
                     bool was_moving_by_itself, double own_slope, const double *travel) {
    const int c = t->columns;
    const double time = t->sim->time, way = fabs(now->to - now->from),
                 sense = now->to > now->from ? 1 : -1, length = now->end - now->start;
    for (int p = 0; p < t->n; p++) {
        double at = was_moving_by_itself ? 0 : rfy_tangent_motion(t, was, d, p, time, true);
        double slope = was_moving_by_itself ? own_slope : slope_of(was, time);
        double here = at + slope * t->moment[p];
        double from = length > 0 || now->to == rfy_motion_at(was, time) ? here : 0;
        d[RFY_D_FROM * c + p] = from;
        d[RFY_D_TO * c + p] = length > 0 ? 0 : from;
        d[RFY_D_START * c + p] = t->moment[p];
        d[RFY_D_END * c + p] = t->moment[p];
        if (length > 0 && way > 0)
            d[RFY_D_END * c + p] += (travel ? travel[p] * way : 0) - sense * from * length / way;
    }
}

static bool differs(const rfy_motion *a, const rfy_motion *b) {
    return a->from != b->from || a->to != b->to || a->start != b->start || a->end != b->end;
}

static double by_step(const rfy_neighbour *v, double now, double was) {
    return v->unsuited ? 0 : (now - was) / v->step;
}

static void redirect_all(rfy_tangent *t) {
    const rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    const int c = t->columns;
    double *travel = t->control;
    for (int i = 0; i < net->n_valves; i++) {
        if (!differs(&t->valve_was[i], &sim->valve[i]))
            continue;
        for (int p = 0; p < t->n; p++)
            travel[p] = t->neighbour[p].unsuited
                            ? 0
                            : by_step(&t->neighbour[p], t->neighbour[p].net->valve[i].moves_in,
                                      net->valve[i].moves_in);
        redirect(t, &t->valve_was[i], &sim->valve[i], t->valve + i * RFY_D_MOTION * c, false, 0,
                 travel);
    }
    for (int i = 0; i < net->n_pumps; i++) {
        const bool up = sim->pump[i].to > sim->pump[i].from;
        if (!differs(&t->pump_was[i], &sim->pump[i]))
            continue;
        for (int p = 0; p < t->n; p++) {
            const rfy_neighbour *v = &t->neighbour[p];
            travel[p] = v->unsuited ? 0
                        : up        ? by_step(v, v->net->pump[i].run_up, net->pump[i].run_up)
                             : by_step(v, v->net->pump[i].coast_down, net->pump[i].coast_down);
        }
        redirect(t, &t->pump_was[i], &sim->pump[i], t->pump + i * RFY_D_MOTION * c, false, 0,
                 travel);
    }
    for (int k = 0; k < net->n_free; k++) {
        if (!sim->heated[k] || (t->heated_was[k] && !differs(&t->heat_was[k], &sim->heat[k])))
            continue;
        double slope = 0;
        for (int i = 0; i < net->n_bakes && !t->heated_was[k]; i++)
            if (net->bake[i].node == k) {
                const double dt = 1e-7 * (1 + sim->time);
                slope = (rfy_bake_at(&net->bake[i], sim->time, NULL) -
                         rfy_bake_at(&net->bake[i], sim->time - dt, NULL)) /
                        dt;
            }
        redirect(t, &t->heat_was[k], &sim->heat[k], t->heat + k * RFY_D_MOTION * c,
                 !t->heated_was[k], slope, NULL);
    }
}

static void shift_by_moment(rfy_tangent *t) {
    t->shift_from = t->sim->time;
    t->shift_most = 0;
    for (int p = 0; p < t->columns; p++) {
        t->shift[p] = t->moment[p];
        t->shift_most = fmax(t->shift_most, fabs(t->shift[p]));
    }
    t->shifted = t->shift_most > 0;
}

void rfy_tangent_after(rfy_tangent *t) {
    rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    const int c = t->columns, free = net->n_free * net->mixture.n, skipped = rfy_network_inner(net);
    redirect_all(t);
    rfy_memory_begin(t);
    for (int i = 0; i < sim->n_tracks; i++) {
        /* bakes have their times from the clock */
        if (net->n_bakes == 0 &&
            (sim->track[i].since == sim->time || sim->track[i].began == sim->time))
            shift_by_moment(t);
        if (sim->track[i].since == sim->time)
            memcpy(t->since + i * c, t->moment, (size_t)c * sizeof *t->moment);
        if (sim->track[i].began == sim->time)
            memcpy(t->began + i * c, t->moment, (size_t)c * sizeof *t->moment);
    }
    for (int i = 0; i < net->n_gauges; i++) { /* a gauge just switched on shows what is there */
        const rfy_gauge *gauge = &net->gauge[i];
        if (t->gauge_was[i] || !sim->gauge_on[i] || net->node[gauge->node].fixed)
            continue;
        double rise = 0;
        for (int k = 0; k < net->mixture.n; k++)
            rise += gauge->factor[k] * t->begin->f[gauge->node * net->mixture.n + k];
        rise *= RFY_R * sim->sight.temperature[gauge->node] / net->node[gauge->node].volume;
        for (int p = 0; p < t->n; p++)
            t->shown[i * c + p] = t->seen[i * c + p] + rise * t->moment[p];
    }
    /* the state itself goes on from where it is, at another rate */
    memcpy(t->rate_before, t->begin->f, (size_t)sim->ode->n * sizeof *t->rate_before);
    t->stride = sim->h;
    if (!rfy_tangent_evaluate(t, sim->time, 0, sim->y, false, t->begin)) {
        t->sound = false;
        return;
    }
    for (int i = 0; i < t->rows; i++) {
        const int state = i < free ? i : i - free + skipped;
        const double leap = t->rate_before[state] - t->begin->f[state];
        double *row = rfy_tangent_row(t->s, t, i);
        for (int p = 0; p < t->n; p++)
            row[p] += leap * t->moment[p];
    }
    t->begin_known = true;
    t->caused = false;
}

void rfy_tangent_bend(rfy_tangent *t) {
    rfy_tangent_catch_up(t);
    t->begin_known = false;
}

void rfy_tangent_forget_wall(rfy_tangent *t, int node) {
    rfy_tangent_catch_up(t);
    memset(t->wall + node * t->columns, 0, (size_t)t->columns * sizeof *t->wall);
}
