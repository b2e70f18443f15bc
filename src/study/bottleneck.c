/* What resists between a chamber and its pumps, and what arrives there. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "network/stores.h"
#include "solve/steady.h"
#include "study/answers.h"

static int by_share(const void *a, const void *b) {
    double x = ((const rfy_resistance *)a)->share, y = ((const rfy_resistance *)b)->share;
    return (x < y) - (x > y);
}

/* A unit source of gas at the chamber raises its pressure by x; scaling the flow of an edge by (1 +
 * d) lowers x by d times the edge's share of the resistance. With the response x to the source and
 * the adjoint response z to the pressure asked for, share = (z_from - z_to) . flow_e(x) / x.
 * Scaling all edges together scales the pressure, so the shares add up to 1. Exact for directed
 * pumps as well (first-order perturbation theory). */
void rfy_answer_bottleneck(rfy_arena *arena, rfy_sim *sim, const rfy_network *net, double time,
                           const double *y, int chamber, int gas, rfy_bottleneck *out) {
    const int g = net->mixture.n, states = net->n_free * g;
    rfy_controls *controls = rfy_controls_new(arena, net);
    rfy_sim_controls(sim, time, controls);
    rfy_ode *ode = rfy_ode_frozen(arena, net, controls);
    double *capture = RFY_NEW(arena, (size_t)net->n_stores, double);
    rfy_stores_capture(net, controls, y, capture);
    for (int i = 0; i < net->n_stores; i++)
        controls->taken[net->store[i].node * g + net->store[i].gas] += capture[i];
    double *x = RFY_NEW(arena, (size_t)states, double), *z = RFY_NEW(arena, (size_t)states, double);
    out->time = time;
    out->chamber = net->node[chamber].name;
    out->gas = net->mixture.name[gas];
    out->speed = NAN;
    if (!rfy_response_prepare(ode, y, NULL))
        return;
    double factor = RFY_R * controls->temperature[chamber] / net->node[chamber].volume;
    x[chamber * g + gas] = 1;
    for (int i = 0; i < g; i++)
        z[chamber * g + i] = factor;
    rfy_response(ode, x);
    rfy_response_transposed(ode, z);
    double pressure = 0;
    for (int i = 0; i < g; i++)
        pressure += x[chamber * g + i] * factor;
    if (!(pressure > 0))
        return;
    /* of one of equal copies, all giving off alike; at the chamber's own temperature */
    double speed = RFY_R * controls->temperature[chamber] / pressure / net->node[chamber].count;
    if (speed < 1e-9) /* the tiny decay that keeps isolated parts solvable: nothing pumps here */
        return;
    out->speed = speed;

    double *p = RFY_NEW(arena, (size_t)(net->n_nodes * g), double);
    rfy_pressures(net, controls->temperature, y, p);
    rfy_resistance *list = RFY_NEW(arena, (size_t)(net->n_edges + net->n_stores), rfy_resistance);
    for (int i = 0; i < net->n_stores; i++) { /* getters and cold surfaces are pumps too */
        int at = net->store[i].node * g + net->store[i].gas;
        double share = z[at] * capture[i] * x[at];
        if (fabs(share / pressure) > 1e-6)
            list[out->n++] = (rfy_resistance){net->store[i].name, share / pressure};
    }
    for (int e = 0; e < net->n_edges; e++) {
        const rfy_edge *edge = &net->edge[e];
        if (edge->role != RFY_EDGE_TUBING && edge->role != RFY_EDGE_PUMP)
            continue;
        double flow[RFY_MAX_GASES], by[2][RFY_MAX_GASES * RFY_MAX_GASES],
            moved[RFY_MAX_GASES] = {0};
        rfy_flow_through(net, controls, e, p, flow, by[0], by[1]);
        const int ends[2] = {edge->from, edge->to};
        double share = 0;
        for (int side = 0; side < 2; side++) {
            const rfy_node *node = &net->node[ends[side]];
            if (node->fixed)
                continue;
            double f = edge->copies * RFY_R * controls->temperature[ends[side]] / node->volume;
            for (int i = 0; i < g; i++)
                for (int j = 0; j < g; j++)
                    moved[i] += by[side][i * g + j] * f * x[ends[side] * g + j];
        }
        for (int i = 0; i < g; i++) {
            double from = net->node[edge->from].fixed ? 0 : z[edge->from * g + i];
            double to = net->node[edge->to].fixed ? 0 : z[edge->to * g + i];
            share += (from - to) * moved[i];
        }
        if (fabs(share / pressure) > 1e-6)
            list[out->n++] = (rfy_resistance){edge->name, share / pressure};
    }
    qsort(list, out->n, sizeof *list, by_share);
    out->resistance = list;
}

static int by_throughput(const void *a, const void *b) {
    double x = ((const rfy_share *)a)->throughput, y = ((const rfy_share *)b)->throughput;
    return (x < y) - (x > y);
}

/* Calls for every source of every gas: walls, stores that give off on balance, bursts, what comes
 * in from outside. */
typedef void source_visit(void *context, const char *name, int gas, double moles);

static void visit_sources(rfy_sim *sim, const rfy_network *net, double time, const double *y,
                          source_visit *visit, void *context) {
    const int g = net->mixture.n;
    rfy_arena *arena = rfy_arena_new();
    rfy_controls *controls = rfy_controls_new(arena, net);
    rfy_sim_controls(sim, time, controls);
    double *p = RFY_NEW(arena, (size_t)(net->n_nodes * g), double);
    rfy_pressures(net, controls->temperature, y, p);
    for (int i = 0; i < net->n_emitters; i++)
        visit(context, net->emitter[i].name, net->emitter[i].gas,
              rfy_sim_emission(sim, i, time, controls->temperature[net->emitter[i].node]));
    for (int i = 0; i < net->n_stores; i++) { /* what takes gas up is no load */
        double outer, now = rfy_stores_release(net, controls, i, y, p, &outer);
        visit(context, net->store[i].name, net->store[i].gas, now > 0 ? now : 0);
    }
    for (int i = 0; i < net->n_bursts; i++)
        if (rfy_sim_bursts(sim, i))
            visit(context, net->burst[i].name, net->burst[i].gas, net->burst[i].flow);
    for (int e = 0; e < net->n_edges; e++) {
        const rfy_edge *edge = &net->edge[e];
        double flow[RFY_MAX_GASES];
        if (edge->from != net->outside_node)
            continue;
        rfy_flow_through(net, controls, e, p, flow, NULL, NULL);
        for (int i = 0; i < g; i++)
            visit(context, edge->name, i, flow[i] * edge->copies);
    }
    rfy_arena_free(arena);
}

static void add_up(void *context, const char *name, int gas, double moles) {
    (void)name, (void)gas;
    *(double *)context += moles;
}

double rfy_answer_gas_load(rfy_sim *sim, const rfy_network *net, double time, const double *y) {
    double sum = 0;
    visit_sources(sim, net, time, y, add_up, &sum);
    return sum * RFY_R * RFY_T_REF;
}

typedef struct source_list {
    rfy_share *item;
    size_t n;
} source_list;

/* Halves of a tube's wall and the like are one source to people. */
static void list_source(void *context, const char *name, int gas, double moles) {
    source_list *list = context;
    if (!(moles > 0))
        return;
    for (size_t i = 0; i < list->n; i++)
        if (list->item[i].gas == gas && strcmp(list->item[i].source, name) == 0) {
            list->item[i].throughput += moles * RFY_R * RFY_T_REF;
            return;
        }
    list->item[list->n++] =
        (rfy_share){.source = name, .gas = gas, .throughput = moles * RFY_R * RFY_T_REF};
}

void rfy_answer_sources(rfy_arena *arena, rfy_sim *sim, const rfy_network *net, double time,
                        const double *y, size_t most, const rfy_share **out, size_t *n) {
    const size_t room =
        (size_t)(net->n_emitters + net->n_stores + net->n_bursts + net->n_edges * net->mixture.n);
    source_list list = {RFY_NEW(arena, room, rfy_share), 0};
    visit_sources(sim, net, time, y, list_source, &list);
    qsort(list.item, list.n, sizeof *list.item, by_throughput);
    *out = list.item;
    *n = list.n < most ? list.n : most;
}

int rfy_answer_nearest_gauge(rfy_arena *arena, rfy_sim *sim, const rfy_network *net, double time,
                             int chamber, const bool *shows) {
    rfy_controls *controls = rfy_controls_new(arena, net);
    rfy_sim_controls(sim, time, controls);
    int *distance = RFY_NEW(arena, (size_t)net->n_nodes, int);
    for (int k = 0; k < net->n_nodes; k++)
        distance[k] = k == chamber ? 0 : 1 << 28;
    for (bool again = true; again;) {
        again = false;
        for (int e = 0; e < net->n_edges; e++) {
            const rfy_edge *edge = &net->edge[e];
            if (edge->role != RFY_EDGE_TUBING ||
                (edge->valve >= 0 && controls->opening[edge->valve] <= 0))
                continue;
            int *a = &distance[edge->from], *b = &distance[edge->to];
            if (*a + 1 < *b)
                *b = *a + 1, again = true;
            if (*b + 1 < *a)
                *a = *b + 1, again = true;
        }
    }
    int best = -1;
    for (int i = 0; i < net->n_gauges; i++)
        if (shows[i] && distance[net->gauge[i].node] < 1 << 28 &&
            (best < 0 || distance[net->gauge[i].node] < distance[net->gauge[best].node]))
            best = i;
    return best;
}

void rfy_answer_balance(rfy_arena *arena, const rfy_network *net, const double *y,
                        const rfy_balance_row **out) {
    const int g = net->mixture.n;
    rfy_balance_row *rows = RFY_NEW(arena, (size_t)g, rfy_balance_row);
    for (int i = 0; i < g; i++) {
        rfy_balance_row *r = &rows[i];
        for (int k = 0; k < net->n_free; k++) {
            const rfy_node *node = &net->node[k];
            r->start += node->start[i] * node->volume / (RFY_R * node->temperature);
            r->left += y[k * g + i];
        }
        r->from_walls = -y[net->n_nodes * g + i];
        for (int k = 0; k < net->n_stores; k++) {
            const rfy_store *s = &net->store[k];
            if (s->gas == i)
                r->from_walls +=
                    rfy_store_content(s, s->start) - rfy_store_content(s, y + s->first);
        }
        if (r->from_walls < 0) { /* on balance they took gas up */
            r->to_walls = -r->from_walls;
            r->from_walls = 0;
        }
        for (int k = net->n_free; k < net->n_nodes; k++) {
            double gained = y[k * g + i];
            if (gained > 0)
                r->pumped += gained;
            else
                r->admitted -= gained;
        }
        r->handled = r->start + r->from_walls + r->admitted;
        r->residue =
            r->handled > 0 ? (r->handled - r->pumped - r->to_walls - r->left) / r->handled : 0;
    }
    *out = rows;
}

void rfy_answer_held(rfy_arena *arena, const rfy_network *net, const double *y, rfy_result *out) {
    rfy_held *held = RFY_NEW(arena, (size_t)net->n_stores, rfy_held);
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        held[i] = (rfy_held){.name = s->name,
                             .gas = s->gas,
                             .start = rfy_store_content(s, s->start),
                             .end = rfy_store_content(s, y + s->first),
                             .molar_mass = net->mixture.mass.d[s->gas]};
    }
    out->held = held;
    out->n_held = (size_t)net->n_stores;
}
