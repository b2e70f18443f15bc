/* Temperatures that depend on a number: what bakes do, places heated by actions, the surroundings.
 */
#include <math.h>
#include <string.h>
#include "solve/tangent_parts.h"

/* A simulation of the varied network as it stands now; only to be asked for its controls. */
static rfy_sim with_network(const rfy_sim *sim, const rfy_network *net) {
    rfy_sim other = *sim;
    other.net = net;
    return other;
}

void rfy_tangent_warmth(rfy_tangent *t, double time, bool early, double *out) {
    const rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    const int c = t->columns;
    memset(out, 0, (size_t)(net->n_nodes * c) * sizeof *out);
    for (int k = 0; k < net->n_free && sim->any_heat; k++)
        if (sim->heated[k])
            for (int p = 0; p < t->n; p++)
                out[k * c + p] = rfy_tangent_motion(t, &sim->heat[k],
                                                    t->heat + k * RFY_D_MOTION * c, p, time, early);
    for (int p = 0; p < t->n; p++) {
        if (!t->neighbour[p].whole)
            continue;
        rfy_sim other = with_network(sim, t->neighbour[p].net);
        rfy_sim_warmth(sim, time, t->pressure_of);
        rfy_sim_warmth(&other, time, t->column);
        for (int k = 0; k < net->n_nodes; k++)
            out[k * c + p] += (t->column[k] - t->pressure_of[k]) / t->neighbour[p].step;
    }
}

/* Everything anew: where the surroundings' temperature or the gases themselves change. Both at an
 * instant beside that asked for, on its own side of the bends of a bake that moves. */
static void by_all(rfy_tangent *t, double beside, const double *y, rfy_tangent_point *out) {
    const rfy_network *net = t->net;
    bool known = false;
    for (int p = 0; p < t->n; p++) {
        const rfy_neighbour *v = &t->neighbour[p];
        if (v->unsuited || !v->whole || v->baked)
            continue;
        if (!known) {
            rfy_sim_controls(t->sim, beside, t->other);
            rfy_rates(net, t->other, y, t->rate_beside, t->pressure_of);
            known = true;
        }
        rfy_sim other = with_network(t->sim, v->net);
        rfy_sim_controls(&other, beside, t->whole[p]);
        rfy_rates(v->net, t->whole[p], y, t->rate, t->pressure_of);
        for (int i = 0; i < rfy_network_states(net); i++)
            t->rate[i] -= t->rate_beside[i];
        for (int i = 0; i < net->n_free * net->mixture.n; i++)
            rfy_tangent_row(out->b, t, i)[p] += t->rate[i] / v->step;
        for (int i = 0; i < net->n_stores; i++)
            if (rfy_tangent_any(t->rate + net->store[i].first, net->store[i].n))
                rfy_tangent_feed(t, out, i, p, t->rate + net->store[i].first, 1 / v->step);
    }
}

/* Of temperatures, [node * columns], by what only moves those: bakes that differ, and actions whose
 * time is not fixed. False when none. */
static bool warmths(rfy_tangent *t, double time, double beside, bool early, double *by) {
    const rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    const int c = t->columns;
    bool found = false;
    if (!sim->any_heat)
        return false;
    memset(by, 0, (size_t)(net->n_nodes * c) * sizeof *by);
    for (int k = 0; k < net->n_free; k++) {
        const double *d = t->heat + k * RFY_D_MOTION * c;
        const double along = t->shifted ? rfy_tangent_pace(&sim->heat[k], time, early) : 0;
        if (!sim->heated[k] || !(rfy_tangent_any(d, RFY_D_MOTION * c) || along != 0))
            continue;
        for (int p = 0; p < t->n; p++)
            by[k * c + p] =
                rfy_tangent_motion(t, &sim->heat[k], d, p, time, early) + along * t->shift[p];
        found = true;
    }
    if (t->any_baked)
        rfy_sim_warmth(sim, beside, t->pressure_of);
    for (int p = 0; p < t->n && t->any_baked; p++) {
        if (!t->neighbour[p].baked)
            continue;
        rfy_sim other = with_network(sim, t->neighbour[p].net);
        rfy_sim_warmth(&other, beside, t->column);
        for (int k = 0; k < net->n_free; k++) {
            by[k * c + p] += (t->column[k] - t->pressure_of[k]) / t->neighbour[p].step;
            found = found || by[k * c + p] != 0;
        }
    }
    return found;
}

/* Where a place is a little warmer. */
typedef struct warmer {
    double dt, per;   /* K; 1/dt */
    const double *by; /* [columns] of its temperature */
} warmer;

static void add_to_gas(rfy_tangent *t, rfy_tangent_point *out, int row, double df,
                       const warmer *w) {
    double *b = rfy_tangent_row(out->b, t, row);
    for (int p = 0; p < t->n; p++)
        b[p] += df * w->per * w->by[p];
}

static void add_to_edge(rfy_tangent *t, const rfy_tangent_flow *now, const warmer *w,
                        rfy_tangent_point *out) {
    const rfy_network *net = t->net;
    const rfy_edge *edge = &net->edge[now->edge];
    const int g = net->mixture.n;
    for (int i = 0; i < g; i++) {
        const double moved = edge->copies * (now->flow[i] - t->flow[now->edge * g + i]);
        if (!net->node[edge->from].fixed)
            add_to_gas(t, out, edge->from * g + i, -moved, w);
        if (!net->node[edge->to].fixed)
            add_to_gas(t, out, edge->to * g + i, moved, w);
    }
}

enum { EDGES_AT_ONCE = 16 };

static void edges_of(rfy_tangent *t, int node, const double *warm, const warmer *w,
                     rfy_tangent_point *out) {
    const rfy_network *net = t->net;
    const int g = net->mixture.n;
    double flow[EDGES_AT_ONCE][RFY_MAX_GASES];
    rfy_tangent_flow list[EDGES_AT_ONCE];
    int n = 0;
    for (int e = 0; e <= net->n_edges; e++) {
        if (n == EDGES_AT_ONCE || e == net->n_edges) {
            rfy_tangent_flows(t, list, n);
            for (int k = 0; k < n; k++)
                add_to_edge(t, &list[k], w, out);
            n = 0;
        }
        const rfy_edge *edge = &net->edge[e];
        if (e == net->n_edges || (edge->from != node && edge->to != node) ||
            (edge->valve >= 0 && !(t->controls->opening[edge->valve] > 0)))
            continue;
        list[n] =
            (rfy_tangent_flow){net, e, edge->from == node ? warm : t->apparent + edge->from * g,
                               edge->to == node ? warm : t->apparent + edge->to * g, flow[n]};
        n++;
    }
}

/* t->controls are at the higher temperature. */
static void stores_of(rfy_tangent *t, int node, double factor, const double *y, const warmer *w,
                      rfy_tangent_point *out) {
    const rfy_network *net = t->net;
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        if (s->node != node)
            continue;
        const int row = node * net->mixture.n + s->gas;
        rfy_store_state at = t->controls->store_state[i], *was = &t->warmer_at[i];
        at.gas += w->dt;
        if (isnan(s->temperature))
            at.wall += w->dt;
        if (at.wall != was->wall || at.gas != was->gas || at.scale != was->scale ||
            at.active != was->active) {
            *was = at;
            s->kind->law(s, &at, &t->warmer[i]);
        }
        double df[128];
        add_to_gas(
            t, out, row,
            rfy_tangent_by_store(t, i, s, &t->warmer[i], factor * t->pressure[row], y, out, df), w);
        for (int p = 0; p < t->n; p++)
            if (w->by[p] != 0)
                rfy_tangent_feed(t, out, i, p, df, w->per * w->by[p]);
    }
}

static void emitters_of(rfy_tangent *t, int node, double time, bool early, const warmer *w,
                        rfy_tangent_point *out) {
    const rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    double *here = &t->controls->temperature[node];
    const double was = *here;
    for (int i = 0; i < net->n_emitters; i++) {
        const rfy_emitter *e = &net->emitter[i];
        if (e->node != node || !(e->activation > 0) || isnan(sim->wall_since[node]))
            continue;
        double slope, rate[2], age = rfy_sim_wall_age(sim, i, time);
        for (int k = 0; k < 2; k++) {
            *here = k == 0 ? was : was + w->dt;
            rate[k] = rfy_tangent_emission(t, e, age, sim->wall_factor[i], early, &slope);
        }
        add_to_gas(t, out, node * net->mixture.n + e->gas, rate[1] - rate[0], w);
    }
    *here = was;
}

/* The rates by the temperature of each place in turn, once for all numbers that it follows. */
void rfy_tangent_by_warmth(rfy_tangent *t, double time, const double *y, bool early,
                           rfy_tangent_point *out) {
    const rfy_network *net = t->net;
    const int g = net->mixture.n, c = t->columns;
    const double beside = net->n_bakes > 0 ? time * (early ? 1 - 1e-7 : 1 + 1e-7) : time;
    by_all(t, beside, y, out);
    if (!warmths(t, time, beside, early, t->warmth))
        return;
    for (int k = 0; k < net->n_free; k++) {
        warmer w = {.by = t->warmth + k * c};
        if (!rfy_tangent_any(w.by, c))
            continue;
        double *here = &t->controls->temperature[k], warm[RFY_MAX_GASES];
        const double was = *here;
        *here = was + 1e-7 * was;
        w.dt = *here - was;
        w.per = 1 / w.dt;
        memcpy(t->pressure_of, t->pressure, (size_t)(net->n_nodes * g) * sizeof *t->pressure);
        for (int i = k * g; i < (k + 1) * g; i++)
            t->pressure_of[i] *= *here / was;
        const double factor = *here / was;
        rfy_pressures_seen(net, t->controls, t->pressure_of);
        memcpy(warm, t->controls->warm ? t->controls->apparent + k * g : t->pressure_of + k * g,
               (size_t)g * sizeof *warm);
        *here = was;
        rfy_pressures_seen(net, t->controls, t->pressure);
        edges_of(t, k, warm, &w, out);
        stores_of(t, k, factor, y, &w, out);
        emitters_of(t, k, time, early, &w, out);
    }
}
