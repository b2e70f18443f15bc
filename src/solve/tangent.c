#include "solve/tangent.h"
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "solve/columns.h"
#include "solve/tangent_memory.h"
#include "solve/tangent_parts.h"

rfy_tangent *rfy_tangent_new(rfy_arena *arena, rfy_sim *sim, const rfy_neighbour *neighbour, int n,
                             bool quick) {
    const rfy_network *net = sim->net;
    rfy_tangent *t = RFY_NEW(arena, 1, rfy_tangent);
    const int g = net->mixture.n, free = net->n_free * g;
    t->arena = arena;
    t->sim = sim;
    t->net = net;
    t->neighbour = neighbour;
    t->n = n;
    t->m = (n + RFY_LANES - 1) / RFY_LANES;
    t->columns = t->m * RFY_LANES;
    t->rows = free + net->n_inner;
    t->sound = true;
    t->quick = quick && net->n_stores == 0 && !sim->any_heat;
    t->step = rfy_linear_step_new(arena, net, sim->ode->jacobian, t->m);
    t->aside = rfy_linear_step_new(arena, net, sim->ode->jacobian, t->m);
    const size_t block = (size_t)t->rows * (size_t)t->m, c = (size_t)t->columns,
                 nodes = (size_t)net->n_nodes, states = (size_t)rfy_network_states(net);
    for (int i = 0; i < 6; i++)
        t->point[i] = (rfy_tangent_point){.a = rfy_linear_new(arena, net, sim->ode->jacobian),
                                          .b = RFY_NEW(arena, block, rfy_v4),
                                          .fed = RFY_NEW(arena, (size_t)net->n_stores, rfy_fed),
                                          .f = RFY_NEW(arena, states, double)};
    t->begin = &t->point[0];
    t->middle = &t->point[1];
    t->end = &t->point[2];
    t->spare = &t->point[3];
    t->way[0] = &t->point[4];
    t->way[1] = &t->point[5];
    t->y_inside = RFY_NEW(arena, states, double);
    t->s_start = RFY_NEW(arena, block, rfy_v4);
    t->s_inside = RFY_NEW(arena, block, rfy_v4);
    t->s = RFY_NEW(arena, block, rfy_v4);
    t->growth = RFY_NEW(arena, (size_t)(net->n_free * t->m), rfy_v4);
    t->grows = RFY_NEW(arena, (size_t)net->n_free, bool);
    for (int i = 0; i < 3; i++)
        t->slope[i] = RFY_NEW(arena, states, double);
    t->valve = RFY_NEW(arena, (size_t)net->n_valves * RFY_D_MOTION * c, double);
    t->pump = RFY_NEW(arena, (size_t)net->n_pumps * RFY_D_MOTION * c, double);
    t->heat = RFY_NEW(arena, nodes * RFY_D_MOTION * c, double);
    t->wall = RFY_NEW(arena, nodes * c, double);
    t->began = RFY_NEW(arena, (size_t)sim->n_tracks * c, double);
    t->since = RFY_NEW(arena, (size_t)sim->n_tracks * c, double);
    t->shown = RFY_NEW(arena, (size_t)net->n_gauges * c, double);
    t->seen = RFY_NEW(arena, (size_t)net->n_gauges * c, double);
    t->shown_before = RFY_NEW(arena, (size_t)net->n_gauges * c, double);
    t->seen_before = RFY_NEW(arena, (size_t)net->n_gauges * c, double);
    t->moment = RFY_NEW(arena, c, double);
    t->shift = RFY_NEW(arena, c, double);
    t->now.y = RFY_NEW(arena, states, double);
    t->before.y = RFY_NEW(arena, states, double);
    t->valve_was = RFY_NEW(arena, (size_t)net->n_valves, rfy_motion);
    t->pump_was = RFY_NEW(arena, (size_t)net->n_pumps, rfy_motion);
    t->heat_was = RFY_NEW(arena, nodes, rfy_motion);
    t->heated_was = RFY_NEW(arena, nodes, bool);
    t->gauge_was = RFY_NEW(arena, (size_t)net->n_gauges, bool);
    t->target = RFY_NEW(arena, (size_t)net->n_targets * c, double);
    t->fall = RFY_NEW(arena, (size_t)net->n_targets, double);
    t->strain = RFY_NEW(arena, c, double);
    t->target_known = RFY_NEW(arena, (size_t)net->n_targets, bool);
    t->controls = t->own = rfy_controls_new(arena, net);
    t->other = rfy_controls_new(arena, net);
    t->whole = RFY_NEW(arena, (size_t)n, rfy_controls *);
    t->pressure = RFY_NEW(arena, nodes * (size_t)g, double);
    t->pressure_of = RFY_NEW(arena, nodes * (size_t)g, double);
    t->own->flow = RFY_NEW(arena, (size_t)(net->n_edges * g), double);
    sim->ode->controls->flow = RFY_NEW(arena, (size_t)(net->n_edges * g), double);
    t->warmer = RFY_NEW(arena, (size_t)net->n_stores, rfy_store_law);
    t->warmer_at = RFY_NEW(arena, (size_t)net->n_stores, rfy_store_state);
    for (int i = 0; i < net->n_stores; i++)
        t->warmer[i] = rfy_store_law_new(arena, net->store[i].n);
    t->rate = RFY_NEW(arena, states, double);
    t->rate_before = RFY_NEW(arena, states, double);
    t->rate_beside = RFY_NEW(arena, states, double);
    t->control = RFY_NEW(arena, c, double);
    t->warmth = RFY_NEW(arena, nodes * c, double);
    t->column = RFY_NEW(arena, states + nodes, double);

    double *y[2] = {RFY_NEW(arena, states, double), RFY_NEW(arena, states, double)};
    rfy_start_state(net, y[0]);
    for (int p = 0; p < n; p++) {
        const rfy_neighbour *v = &neighbour[p];
        if (v->unsuited)
            continue;
        if (v->whole && !v->baked)
            t->whole[p] = rfy_controls_new(arena, v->net);
        t->any_baked = t->any_baked || v->baked;
        t->any_growth = t->any_growth || (v->n_nodes > 0 && !v->whole);
        for (int k = 0; k < v->n_nodes && !v->whole; k++) {
            ((double *)(t->growth + v->node[k] * t->m))[p] = v->growth[k];
            t->grows[v->node[k]] = true;
        }
        rfy_start_state(v->net, y[1]);
        for (int i = 0; i < t->rows; i++) {
            const int state = i < free ? i : i - free + rfy_network_inner(net);
            rfy_tangent_row(t->s, t, i)[p] = (y[1][state] - y[0][state]) / v->step;
        }
        for (int k = 0; k < v->n_nodes && !v->whole; k++) {
            const int at = v->node[k];
            const double larger = v->net->node[at].volume / net->node[at].volume;
            for (int i = at * g; i < (at + 1) * g; i++)
                rfy_tangent_row(t->s, t, i)[p] = (y[1][i] - larger * y[0][i]) / v->step;
        }
    }
    sim->tangent = t;
    return t;
}

bool rfy_tangent_is_quick(const rfy_tangent *t) {
    return t->quick;
}

bool rfy_tangent_is_sound(const rfy_tangent *t) {
    return t->sound;
}

const double *rfy_tangent_of_target(const rfy_tangent *t, int target) {
    return t->target_known[target] ? t->target + target * t->columns : NULL;
}

double rfy_tangent_fall_at_target(const rfy_tangent *t, int target) {
    return t->fall[target];
}

double rfy_tangent_strain(const rfy_tangent *t, int column) {
    return t->strain[column];
}

/* ---- pressures ---- */

void rfy_tangent_pressures(rfy_tangent *t, double time, const double *y, const rfy_v4 *s,
                           double *log_by) {
    const rfy_network *net = t->net;
    const int g = net->mixture.n, c = t->columns;
    const double *temperature = rfy_sim_temperatures(t->sim, time);
    rfy_arena *arena = rfy_arena_new();
    double *warmth = RFY_NEW(arena, (size_t)(net->n_nodes * c), double);
    rfy_tangent_warmth(t, time, true, warmth);
    for (int k = 0; k < net->n_nodes; k++) {
        double *out = log_by + k * c;
        const double warm = temperature ? temperature[k] : net->node[k].temperature;
        memset(out, 0, (size_t)c * sizeof *out);
        if (net->node[k].fixed) {
            for (int p = 0; p < t->n; p++) {
                const rfy_neighbour *v = &t->neighbour[p];
                double now = 0, was = 0;
                for (int i = 0; i < g && v->fixed; i++) {
                    now += v->fixed[k * g + i];
                    was += net->node[k].start[i];
                }
                out[p] = was > 0 ? (now / was - 1) / v->step : 0;
            }
            continue;
        }
        double sum = 0;
        for (int i = 0; i < g; i++) {
            const double *row = (const double *)(s + (size_t)(k * g + i) * (size_t)t->m);
            sum += y[k * g + i];
            for (int p = 0; p < t->n; p++)
                out[p] += row[p];
        }
        for (int p = 0; p < t->n; p++)
            out[p] = sum > 0 ? out[p] / sum + warmth[k * c + p] / warm : 0;
    }
    for (int p = 0; p < t->n; p++)
        for (int i = 0; i < t->neighbour[p].n_nodes && t->neighbour[p].whole; i++)
            log_by[t->neighbour[p].node[i] * c + p] -= t->neighbour[p].growth[i];
    rfy_arena_free(arena);
}

double rfy_tangent_unlagged(rfy_tangent *t, int gauge, double time, const double *y,
                            const rfy_v4 *s, double *by) {
    const rfy_gauge *e = &t->net->gauge[gauge];
    const rfy_node *node = &t->net->node[e->node];
    const int g = t->net->mixture.n, c = t->columns;
    const double *temperature = rfy_sim_temperatures(t->sim, time);
    const double warm = temperature ? temperature[e->node] : node->temperature;
    double shown = 0;
    memset(by, 0, (size_t)c * sizeof *by);
    if (node->fixed)
        return 0;
    const double f = RFY_R * warm / node->volume;
    for (int i = 0; i < g; i++) {
        const double *row = (const double *)(s + (size_t)(e->node * g + i) * (size_t)t->m);
        shown += e->factor[i] * f * y[e->node * g + i];
        for (int p = 0; p < t->n; p++)
            by[p] += e->factor[i] * f * row[p];
    }
    rfy_arena *arena = rfy_arena_new();
    double *warmth = RFY_NEW(arena, (size_t)(t->net->n_nodes * c), double);
    rfy_tangent_warmth(t, time, true, warmth);
    for (int p = 0; p < t->n; p++) {
        double growth = -warmth[e->node * c + p] / warm;
        for (int i = 0; i < t->neighbour[p].n_nodes && t->neighbour[p].whole; i++)
            if (t->neighbour[p].node[i] == e->node)
                growth += t->neighbour[p].growth[i];
        by[p] -= shown * growth;
    }
    rfy_arena_free(arena);
    return shown;
}

/* Derivatives of a lagging reading on the way from an instant it was settled at, with seen and
 * shown there, to a pressure p with derivatives by. */
static void lag_behind(const rfy_tangent *t, int gauge, const rfy_lagging *was, const double *seen,
                       const double *shown, double time, double p, const double *by, double *out) {
    const double lag = t->net->gauge[gauge].lag;
    for (int i = 0; i < t->n; i++) {
        const double d[3] = {seen[i], shown[i], by[i]};
        double most = fmax(fabs(d[0]), fmax(fabs(d[1]), fabs(d[2]))), value[2];
        double step = most > 0 ? 1e-5 * (p > 0 ? p : 1e-300) / most : 0;
        for (int side = 0; side < 2; side++) {
            const double e = side == 0 ? -step : step;
            rfy_lagging from = {was->time, was->pressure + e * d[0], was->reading + e * d[1]};
            value[side] = rfy_sim_follow(&from, p + e * d[2], time, lag);
        }
        out[i] = step > 0 ? (value[1] - value[0]) / (2 * step) : 0;
    }
}

/* Before the simulation settles its own: the last instant it knows is that of the step's beginning.
 */
void rfy_tangent_settle_gauges(rfy_tangent *t) {
    const rfy_sim *sim = t->sim;
    const size_t c = (size_t)t->columns, all = (size_t)t->net->n_gauges * c;
    double *by = t->control;
    if (!t->net->gauges_lag)
        return;
    memcpy(t->shown_before, t->shown, all * sizeof *by);
    memcpy(t->seen_before, t->seen, all * sizeof *by);
    for (int i = 0; i < t->net->n_gauges; i++) {
        double *seen = t->seen + (size_t)i * c, *shown = t->shown + (size_t)i * c;
        double p = rfy_tangent_unlagged(t, i, sim->time, sim->y, t->s, by);
        if (t->net->gauge[i].lag > 0 && sim->gauge_on[i])
            lag_behind(t, i, &sim->lagging[1][i], seen, t->shown_before + (size_t)i * c, sim->time,
                       p, by, shown);
        else
            memcpy(shown, by, c * sizeof *by);
        memcpy(seen, by, c * sizeof *by);
    }
}

/* Of ln of what a gauge shows. */
static void reading(rfy_tangent *t, int gauge, double time, const double *y, const rfy_v4 *s,
                    double *out) {
    const rfy_sim *sim = t->sim;
    const rfy_lagging *now = &sim->lagging[1][gauge], *before = &sim->lagging[0][gauge];
    const size_t at = (size_t)gauge * (size_t)t->columns;
    double *by = t->control, p = rfy_tangent_unlagged(t, gauge, time, y, s, by), shows = p;
    if (t->net->gauge[gauge].lag > 0 && sim->gauge_on[gauge]) {
        const bool after = time >= now->time;
        shows = rfy_sim_follow(after ? now : before, p, time, t->net->gauge[gauge].lag);
        lag_behind(t, gauge, after ? now : before, (after ? t->seen : t->seen_before) + at,
                   (after ? t->shown : t->shown_before) + at, time, p, by, out);
    } else {
        memcpy(out, by, (size_t)t->n * sizeof *by);
    }
    for (int i = 0; i < t->n; i++)
        out[i] = sim->gauge_on[gauge] && shows > 0 ? out[i] / shows : (double)NAN;
}

/* ---- along the run ---- */

/* rows += sign factor by, one factor a row */
RFY_INLINE void add_to_rows(int n, rfy_v4 *rows, double sign, const double *factor,
                            const rfy_v4 *by, int m, const int w) {
    for (int i = 0; i < n; i++) {
        const double f = sign * factor[i];
        RFY_UNROLL
        for (int v = 0; v < w; v++)
            rows[i * m + v] += f * by[v];
    }
}

RFY_WIDE
static void add_rows(int n, int m, rfy_v4 *rows, double sign, const double *factor,
                     const rfy_v4 *by) {
#define ADD(c, stride, w) add_to_rows(n, rows + (c), sign, factor, by + (c), stride, w)
    RFY_BY_COLUMNS(m, ADD)
#undef ADD
}

/* What a growing volume drives: s counts moles beyond those of a place that is as much larger at
 * the same pressure, s = dn/dq - n dlnV/dq, so that a small volume near a pump, which follows at
 * once, does not turn round-off of the state into flow. Its drive is the change of n in time, as
 * the run's own interpolant has it (not the rates: they make too much of errors in what follows at
 * once). */
void rfy_tangent_grow(const rfy_tangent *t, const rfy_tangent_point *point, const double *slope,
                      double sign) {
    const int g = t->net->mixture.n;
    for (int k = 0; k < t->net->n_free; k++)
        if (t->grows[k])
            add_rows(g, t->m, point->b + k * g * t->m, -sign, slope + k * g, t->growth + k * t->m);
}

/* What is stepped is r = s + f dT/dq with T the last switching, that is the derivative at a fixed
 * time since that switching (r' = A r + b + f_t dT/dq), for after it everything happens as much
 * later as it does: s by itself would have to follow each of the fast changes there. rows += sense
 * f dT/dq */
void rfy_tangent_shift(const rfy_tangent *t, const double *f, double sense, rfy_v4 *rows) {
    const int free = t->net->n_free * t->net->mixture.n, skipped = rfy_network_inner(t->net);
    if (!t->shifted)
        return;
    add_rows(free, t->m, rows, sense, f, (const rfy_v4 *)t->shift);
    add_rows(t->rows - free, t->m, rows + free * t->m, sense, f + skipped,
             (const rfy_v4 *)t->shift);
}

/* From s to out, which may be the same. */
static bool take(rfy_tangent *t, rfy_linear_step *step, double from, double h,
                 const rfy_tangent_point *begin, const rfy_tangent_point *middle,
                 const rfy_tangent_point *end, const rfy_v4 *s, rfy_v4 *out) {
    const rfy_sim *sim = t->sim;
    const rfy_tangent_point *point[3] = {begin, middle, end};
    const rfy_linear *const a[3] = {&begin->a, &middle->a, &end->a};
    const rfy_v4 *const b[3] = {begin->b, middle->b, end->b};
    const rfy_fed *const fed[3] = {begin->fed, middle->fed, end->fed};
    const double whole = sim->step_to - sim->step_from;
    for (int i = 0; i < 3 && t->any_growth; i++) {
        rfy_rodas_slope(sim->step->state, (from + 0.5 * i * h - sim->step_from) / whole, whole,
                        t->slope[i]);
        rfy_tangent_grow(t, point[i], t->slope[i], 1);
    }
    if (t->shifted && out != s) {
        memcpy(out, s, (size_t)t->rows * (size_t)t->m * sizeof *s);
        s = out;
    }
    rfy_tangent_shift(t, begin->f, 1, out);
    bool fine = rfy_linear_step_take(step, a, b, fed, h, s, out);
    rfy_tangent_shift(t, end->f, -1, out);
    for (int i = 0; i < 3 && t->any_growth;
         i++) /* it belongs to this step, the rest to the instant */
        rfy_tangent_grow(t, point[i], t->slope[i], -1);
    return fine;
}

/* Parts of a step over which a parabola stands for what a moving valve does: a large volume hardly
 * notices, and the run's own steps are long then, while its derivatives may vanish with the
 * opening. */
enum { PARTS_A_MOTION = 4, MOST_PARTS = 32 };

static int parts_of(const rfy_tangent *t, double from, double to) {
    const rfy_sim *sim = t->sim;
    double parts = 1;
    for (int i = 0; i < sim->net->n_valves; i++) {
        const rfy_motion *m = &sim->valve[i];
        if (m->end > m->start && m->end > from && m->start < to &&
            rfy_tangent_moves(t, m, t->valve + i * RFY_D_MOTION * t->columns, 0.5 * (from + to),
                              true, t->control))
            parts = fmax(parts, ceil(PARTS_A_MOTION * (to - from) / (m->end - m->start)));
    }
    return parts < MOST_PARTS ? (int)parts : MOST_PARTS;
}

/* Takes s at the beginning of the step last made to an instant in it, or its end, with the state y
 * there; the equations there go to `end`. */
static bool over(rfy_tangent *t, rfy_linear_step *step, const rfy_tangent_point *begin, double to,
                 const double *y, rfy_tangent_point *end, const rfy_v4 *s, rfy_v4 *out) {
    rfy_sim *sim = t->sim;
    const double from = sim->step_from;
    const int parts = parts_of(t, from, to);
    const rfy_tangent_point *start = begin;
    for (int k = 0; k < parts; k++) {
        const bool last = k + 1 == parts;
        const double at = from + (to - from) * k / parts,
                     goal = last ? to : from + (to - from) * (k + 1) / parts,
                     middle = 0.5 * (at + goal);
        rfy_tangent_point *arrival = last ? end : t->way[k % 2];
        t->stride = goal - at;
        rfy_sim_glance(sim, middle, t->y_inside);
        if (!rfy_tangent_evaluate_aside(t, middle, t->y_inside, false, t->middle))
            return false;
        if (!last)
            rfy_sim_glance(sim, goal, t->y_inside);
        if (!(last && to == sim->time
                  ? rfy_tangent_evaluate(t, to, sim->local, y, true, arrival)
                  : rfy_tangent_evaluate_aside(t, goal, last ? y : t->y_inside, true, arrival)) ||
            !take(t, step, at, goal - at, start, t->middle, arrival, k == 0 ? s : out, out))
            return false;
        start = arrival;
        if (step == t->step)
            t->part_from = at;
    }
    return true;
}

/* When s itself is slow enough, as a part of the greatest dT/dq: the slow tail has its own clocks.
 */
static const double long_after = 0.05;

/* The end is the next beginning; what was the beginning stays for instants inside the step. */
void rfy_tangent_swap_ends(rfy_tangent *t) {
    rfy_tangent_point *was = t->begin;
    t->begin = t->end;
    t->end = was;
}

void rfy_tangent_advance(rfy_tangent *t) {
    rfy_sim *sim = t->sim;
    const double from = sim->step_from, to = sim->time;
    if (!t->sound)
        return;
    if (t->quick) {
        rfy_tangent_advance_quickly(t);
        return;
    }
    t->stride = to - from;
    if (t->shifted && from - t->shift_from > long_after * t->shift_most) {
        memset(t->shift, 0, (size_t)t->columns * sizeof *t->shift);
        t->shifted = t->begin_known = false;
    }
    if (!t->begin_known)
        t->sound = rfy_tangent_evaluate(t, from, from - sim->base, sim->y_start, false, t->begin);
    t->begin_known = true;
    if (!(to > from)) {
        memcpy(t->s_start, t->s, (size_t)t->rows * (size_t)t->m * sizeof *t->s);
        return;
    }
    rfy_v4 *s = t->s;
    t->s = t->s_start;
    t->s_start = s;
    t->sound = t->sound && over(t, t->step, t->begin, to, sim->y, t->end, t->s_start, t->s);
    rfy_tangent_swap_ends(t);
    rfy_tangent_settle_gauges(t);
}

/* Derivatives of the state at an instant inside the step last made, with the rates there. */
static const rfy_v4 *inside(rfy_tangent *t, double time, const double *y, const double **f) {
    rfy_sim *sim = t->sim;
    *f = t->begin->f;
    if (!(time < sim->time) && t->begin_known)
        return t->s;
    if (!(time > sim->step_from))
        return t->s_start;
    t->sound = over(t, t->aside, t->end, time, y, t->spare, t->s_start, t->s_inside);
    *f = t->spare->f;
    return t->s_inside;
}

void rfy_tangent_target(rfy_tangent *t, int i, double time, const double *y) {
    const rfy_network *net = t->net;
    const rfy_target *target = &net->target[i];
    const int g = net->mixture.n, c = t->columns;
    double *out = t->target + i * c;
    t->target_known[i] = true;
    if (!(time > 0) || !t->sound) /* low enough from the start */
        return;
    const double *f;
    double *state = rfy_xcalloc((size_t)t->sim->ode->n, sizeof *state);
    memcpy(state, y, (size_t)t->sim->ode->n * sizeof *y); /* y may be scratch of the simulation */
    const rfy_tangent_place *from = NULL;
    const rfy_v4 *s = t->quick ? rfy_tangent_inside_quickly(t, time, state, &f, &from)
                               : inside(t, time, state, &f);
    if (t->memory && t->sound && from)
        rfy_memory_target(t, i, time, from, t->spare->a.value, t->slope[0], t->slope[1], f);
    double *log_by = rfy_xcalloc((size_t)(net->n_nodes * c), sizeof *log_by);
    rfy_tangent_pressures(t, time, state, s, log_by);
    double sum = 0, rise = 0;
    for (int k = 0; k < g; k++) {
        sum += state[target->node * g + k];
        rise += f[target->node * g + k];
    }
    double change = rise / sum; /* of ln p in time */
    if (t->sim->any_heat) {
        const double dt = 1e-7 * (1 + time);
        double now = rfy_sim_temperatures(t->sim, time)[target->node];
        double was = rfy_sim_temperatures(t->sim, time - dt)[target->node];
        change += (now / was - 1) / dt;
    }
    t->fall[i] = change;
    for (int p = 0; p < t->n; p++) {
        const rfy_neighbour *v = &t->neighbour[p];
        double wanted =
            v->unsuited ? 0 : log(v->net->target[i].pressure / target->pressure) / v->step;
        out[p] = (wanted - log_by[target->node * c + p]) / change;
    }
    free(state);
    free(log_by);
}

void rfy_tangent_look(rfy_tangent *t, double time, const double *y, double *log_pressure,
                      double *log_reading) {
    const rfy_network *net = t->net;
    const int c = t->columns;
    rfy_arena *arena = rfy_arena_new();
    double *by = RFY_NEW(arena, (size_t)(net->n_nodes * c), double);
    const double from = t->sim->step_from, to = t->sim->time;
    const rfy_v4 *s = t->s;
    if (time < to && to > from) {
        if (time >= t->part_from) {
            rfy_v4 *between = RFY_NEW(arena, (size_t)t->rows * (size_t)t->m, rfy_v4);
            rfy_linear_step_inside(t->step, (time - t->part_from) / (to - t->part_from), between);
            if (t->shifted &&
                rfy_ode_rates(t->sim->ode, time - t->sim->base, y, t->rate) == GSL_SUCCESS)
                rfy_tangent_shift(t, t->rate, -1, between);
            s = between;
        } else {
            const double *f;
            double *state = RFY_NEW(arena, (size_t)t->sim->ode->n, double);
            memcpy(state, y, (size_t)t->sim->ode->n * sizeof *y); /* scratch of the simulation */
            s = inside(t, time, state, &f);
        }
    }
    if (log_pressure) {
        rfy_tangent_pressures(t, time, y, s, by);
        for (int k = 0; k < net->n_free; k++)
            memcpy(log_pressure + k * t->n, by + k * c, (size_t)t->n * sizeof *by);
    }
    for (int i = 0; i < net->n_gauges && log_reading; i++)
        reading(t, i, time, y, s, log_reading + i * t->n);
    rfy_arena_free(arena);
}
