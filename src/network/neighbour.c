#include "network/neighbour.h"
#include <math.h>
#include <string.h>

static bool same_shape(const rfy_network *a, const rfy_network *b) {
    bool same = a->n_nodes == b->n_nodes && a->n_free == b->n_free && a->n_edges == b->n_edges &&
                a->n_valves == b->n_valves && a->n_pumps == b->n_pumps &&
                a->n_emitters == b->n_emitters && a->n_stores == b->n_stores &&
                a->n_inner == b->n_inner && a->n_bursts == b->n_bursts &&
                a->n_bakes == b->n_bakes && a->n_gauges == b->n_gauges &&
                a->n_targets == b->n_targets && a->mixture.n == b->mixture.n;
    for (int e = 0; same && e < a->n_edges; e++)
        same = a->edge[e].from == b->edge[e].from && a->edge[e].to == b->edge[e].to &&
               a->edge[e].flow == b->edge[e].flow;
    for (int i = 0; same && i < a->n_stores; i++)
        same = a->store[i].n == b->store[i].n && a->store[i].kind == b->store[i].kind;
    return same;
}

/* Laws are opaque: two that give the same flow to the last bit at thin and at dense gas, both ways,
 * are the same. */
static bool same_edge(const rfy_network *a, const rfy_network *b, int i) {
    static const double level[2] = {1e-3, 2e4};
    const rfy_edge *x = &a->edge[i], *y = &b->edge[i];
    const int g = a->mixture.n;
    if (x->stretch && x->stretch == y->stretch)
        return x->copies == y->copies;
    if (x->copies != y->copies)
        return false;
    for (int probe = 0; probe < 4; probe++) {
        double p[2][RFY_MAX_GASES], flow[2][RFY_MAX_GASES];
        for (int k = 0; k < g; k++) {
            p[0][k] = level[probe / 2] * (1 + 0.3 * k);
            p[1][k] = level[probe / 2] * (0.4 + 0.05 * k);
        }
        const double *from = p[probe % 2], *to = p[1 - probe % 2];
        double control = x->pump >= 0 && probe > 1 ? 0.5 : 1;
        x->flow(x, x->mixture, control, from, to, flow[0], NULL, NULL);
        y->flow(y, y->mixture, control, from, to, flow[1], NULL, NULL);
        if (memcmp(flow[0], flow[1], (size_t)g * sizeof *flow[0]) != 0)
            return false;
    }
    return true;
}

static bool same_emitter(const rfy_emitter *a, const rfy_emitter *b) {
    double now[2] = {rfy_power_law_rate(&a->law, 7200, NULL),
                     rfy_power_law_rate(&b->law, 7200, NULL)};
    double early[2] = {rfy_power_law_rate(&a->law, 300, NULL),
                       rfy_power_law_rate(&b->law, 300, NULL)};
    return a->area == b->area && a->age == b->age && a->activation == b->activation &&
           now[0] == now[1] && early[0] == early[1];
}

static bool same_store(rfy_arena *arena, const rfy_store *a, const rfy_store *b) {
    rfy_store_law law[2] = {rfy_store_law_new(arena, a->n), rfy_store_law_new(arena, a->n)};
    const rfy_store_state at = {a->temperature > 0 ? a->temperature : 300, 293, 1, true};
    const rfy_store *store[2] = {a, b};
    const size_t bytes = (size_t)a->n * sizeof(double);
    if (!(a->temperature == b->temperature) && !(isnan(a->temperature) && isnan(b->temperature)))
        return false;
    for (int k = 0; k < 2; k++)
        store[k]->kind->law(store[k], &at, &law[k]);
    bool same = memcmp(law[0].k, law[1].k, 5 * bytes) == 0 && law[0].through == law[1].through &&
                law[0].through_outside == law[1].through_outside;
    for (int probe = 0; same && a->kind->rate && probe < 4; probe++) {
        double f[2], by_x, by_p, x = probe % 2 ? 1e-3 : 1, p = probe / 2 ? 300 : 1;
        for (int k = 0; k < 2; k++)
            f[k] = store[k]->kind->rate(store[k], &law[k], p, x, &by_x, &by_p);
        same = f[0] == f[1];
    }
    return same;
}

static bool other_temperatures(const rfy_network *a, const rfy_network *b) {
    for (int k = 0; k < a->n_nodes; k++)
        if (a->node[k].temperature != b->node[k].temperature)
            return true;
    return a->ambient_temperature != b->ambient_temperature;
}

static bool other_bakes(const rfy_network *a, const rfy_network *b) {
    for (int i = 0; i < a->n_bakes; i++) {
        const size_t bytes = (size_t)a->bake[i].n * sizeof(double);
        if (memcmp(a->bake[i].time, b->bake[i].time, bytes) != 0 ||
            memcmp(a->bake[i].temperature, b->bake[i].temperature, bytes) != 0)
            return true;
    }
    return false;
}

void rfy_neighbour_find(rfy_arena *arena, const rfy_network *net, const rfy_network *varied,
                        double step, rfy_neighbour *v) {
    const int g = net->mixture.n;
    *v = (rfy_neighbour){.net = varied, .step = step};
    if (!varied) {
        v->unsuited = "it cannot be made larger";
        return;
    }
    if (!same_shape(net, varied)) {
        v->unsuited = "the system changes its shape when it changes";
        return;
    }
    const bool rebuilt = other_temperatures(net, varied);
    v->whole = rebuilt || other_bakes(net, varied);
    v->node = RFY_NEW(arena, (size_t)net->n_free, int);
    v->growth = RFY_NEW(arena, (size_t)net->n_free, double);
    v->edge = RFY_NEW(arena, (size_t)net->n_edges, int);
    v->emitter = RFY_NEW(arena, (size_t)net->n_emitters, int);
    v->burst = RFY_NEW(arena, (size_t)net->n_bursts, int);
    v->store = RFY_NEW(arena, (size_t)net->n_stores, int);
    bool *moved = RFY_NEW(arena, (size_t)net->n_nodes, bool);
    for (int k = 0; k < net->n_nodes; k++) {
        const rfy_node *a = &net->node[k], *b = &varied->node[k];
        moved[k] = a->fixed && memcmp(a->start, b->start, (size_t)g * sizeof(double)) != 0;
        if (!a->fixed && a->volume != b->volume) {
            v->growth[v->n_nodes] = log(b->volume / a->volume) / step;
            v->node[v->n_nodes++] = k;
        }
        if (moved[k] && !v->fixed) {
            v->fixed = RFY_NEW(arena, (size_t)(net->n_nodes * g), double);
            for (int i = net->n_free; i < net->n_nodes; i++)
                memcpy(v->fixed + i * g, varied->node[i].start, (size_t)g * sizeof(double));
        }
    }
    for (int e = 0; e < net->n_edges; e++)
        if (moved[net->edge[e].from] || moved[net->edge[e].to] || !same_edge(net, varied, e))
            v->edge[v->n_edges++] = e;
    for (int i = 0; i < net->n_emitters; i++)
        if (!same_emitter(&net->emitter[i], &varied->emitter[i]))
            v->emitter[v->n_emitters++] = i;
    for (int i = 0; i < net->n_bursts; i++)
        if (net->burst[i].flow != varied->burst[i].flow)
            v->burst[v->n_bursts++] = i;
    v->law = RFY_NEW(arena, (size_t)net->n_stores, rfy_store_law);
    v->law_at = RFY_NEW(arena, (size_t)net->n_stores, rfy_store_state);
    for (int i = 0; i < net->n_stores; i++)
        if (!same_store(arena, &net->store[i], &varied->store[i])) {
            v->law[v->n_stores] = rfy_store_law_new(arena, net->store[i].n);
            v->store[v->n_stores++] = i;
        }
    v->baked = v->whole && !rebuilt && !v->fixed &&
               v->n_nodes + v->n_edges + v->n_emitters + v->n_bursts + v->n_stores == 0;
}
