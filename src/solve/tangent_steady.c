/* Derivatives of the steady state that a run leads to. */
#include <string.h>
#include "network/stores.h"
#include "solve/steady.h"
#include "solve/tangent_parts.h"

static rfy_motion *moved_along(rfy_arena *arena, const rfy_motion *m, int count, const double *d,
                               int c, int column, double step) {
    rfy_motion *out = RFY_NEW(arena, (size_t)count, rfy_motion);
    for (int i = 0; i < count; i++) {
        const double *of = d + i * RFY_D_MOTION * c + column;
        out[i] = (rfy_motion){
            m[i].from + step * of[RFY_D_FROM * c], m[i].to + step * of[RFY_D_TO * c],
            m[i].start + step * of[RFY_D_START * c], m[i].end + step * of[RFY_D_END * c]};
    }
    return out;
}

/* Rates at the steady state y with a number, and all that follows it up to the end of the run, a
 * little larger. */
static void rates_beside(rfy_tangent *t, rfy_arena *arena, int p, double time, const double *y,
                         double *rate) {
    const rfy_sim *sim = t->sim;
    const rfy_neighbour *v = &t->neighbour[p];
    const rfy_network *net = v->net;
    const int c = t->columns, free = net->n_free * net->mixture.n, skipped = rfy_network_inner(net),
              states = rfy_network_states(net);
    rfy_sim other = *sim;
    other.net = net;
    other.valve = moved_along(arena, sim->valve, net->n_valves, t->valve, c, p, v->step);
    other.pump = moved_along(arena, sim->pump, net->n_pumps, t->pump, c, p, v->step);
    other.heat = moved_along(arena, sim->heat, net->n_nodes, t->heat, c, p, v->step);
    other.wall_since = RFY_NEW(arena, (size_t)net->n_nodes, double);
    for (int k = 0; k < net->n_nodes; k++)
        other.wall_since[k] = sim->wall_since[k] + v->step * t->wall[k * c + p];
    double *end = RFY_NEW(arena, (size_t)states, double);
    memcpy(end, sim->y, (size_t)states * sizeof *end);
    for (int i = 0; i < t->rows; i++)
        end[i < free ? i : i - free + skipped] += v->step * rfy_tangent_row(t->s, t, i)[p];
    for (int k = 0; k < v->n_nodes && !v->whole; k++) /* in the larger volume */
        for (int i = v->node[k] * net->mixture.n; i < (v->node[k] + 1) * net->mixture.n; i++)
            end[i] += v->step * v->growth[k] * sim->y[i];
    rfy_controls *controls = rfy_controls_new(arena, net);
    rfy_sim_controls(&other, time, controls);
    rfy_stores_freeze(net, controls, end, RFY_NEW(arena, (size_t)net->n_stores, double));
    rfy_rates(net, controls, y, rate, t->pressure_of);
}

/* From moles at the same pressure in a larger volume to moles, or back; held: only there. */
static void add_growth(const rfy_tangent *t, rfy_v4 *s, const double *y, const bool *held,
                       double sign) {
    const int g = t->net->mixture.n;
    for (int p = 0; p < t->n; p++) {
        const rfy_neighbour *v = &t->neighbour[p];
        for (int k = 0; k < v->n_nodes && !v->whole; k++)
            for (int i = v->node[k] * g; i < (v->node[k] + 1) * g; i++)
                if (!held || held[i])
                    rfy_tangent_row(s, t, i)[p] += sign * v->growth[k] * y[i];
    }
}

bool rfy_tangent_of_steady(rfy_tangent *t, rfy_ode *frozen, double time, const double *y,
                           const bool *held, double *log_pressure) {
    const rfy_network *net = t->net;
    const int g = net->mixture.n, free = net->n_free * g, c = t->columns;
    rfy_tangent_catch_up(t);
    if (!t->sound)
        return false;
    rfy_arena *arena = rfy_arena_new();
    const size_t block = (size_t)t->rows * (size_t)t->m;
    rfy_v4 *still = RFY_NEW(arena, block, rfy_v4), *change = RFY_NEW(arena, block, rfy_v4);
    double *base = RFY_NEW(arena, (size_t)rfy_network_states(net), double);
    bool fine = rfy_response_prepare(frozen, y, held);
    rfy_rates(net, frozen->controls, y, base, t->pressure_of);
    /* gases without a steady value keep what the run left of them */
    for (int i = 0; i < free; i++) {
        fine = fine && !(held[i] && t->resting); /* what it keeps is not known then */
        if (held[i])
            memcpy(rfy_tangent_row(still, t, i), rfy_tangent_row(t->s, t, i),
                   (size_t)c * sizeof(double));
    }
    /* here in moles, volumes and all */
    add_growth(t, still, y, held, 1);
    rfy_linear a = rfy_linear_new(arena, net, frozen->jacobian);
    a.value = frozen->jacobian->value;
    rfy_linear_apply(t->step, &a, still, change);
    for (int p = 0; p < t->n && fine; p++) {
        if (t->neighbour[p].unsuited)
            continue;
        rates_beside(t, arena, p, time, y, t->rate);
        double *x = t->column;
        for (int i = 0; i < free; i++)
            x[i] = held[i] ? 0
                           : (t->rate[i] - base[i]) / t->neighbour[p].step +
                                 rfy_tangent_row(change, t, i)[p];
        rfy_response(frozen, x);
        for (int i = 0; i < free; i++)
            if (!held[i])
                rfy_tangent_row(still, t, i)[p] = x[i];
    }
    double *by = RFY_NEW(arena, (size_t)(net->n_nodes * c), double);
    add_growth(t, still, y, NULL, -1);
    rfy_tangent_pressures(t, time, y, still, by);
    for (int k = 0; k < net->n_free; k++)
        memcpy(log_pressure + k * t->n, by + k * c, (size_t)t->n * sizeof *by);
    rfy_arena_free(arena);
    return fine;
}
