/* Ultimate pressure by gas and by source, gases that rise without end, and the floor with dry
 * walls. */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "network/stores.h"
#include "solve/steady.h"
#include "study/answers.h"

typedef struct context {
    rfy_arena *arena;
    const rfy_network *net;
    rfy_ode *ode;
    const rfy_sim *sim;
    double after; /* run time that the walls' ages stand for */
    const double *y;
    const bool *held;
    const double *release; /* [n_stores] mol/s, as frozen */
    int g;
    rfy_share *share;
    int *node; /* of each share's source */
    size_t n_shares;
} context;

static void totals(const context *c, const double *y, double *total, double *partial) {
    const rfy_network *net = c->net;
    double *p = RFY_NEW(c->arena, (size_t)(net->n_nodes * c->g), double);
    rfy_pressures(net, c->ode->controls->temperature, y, p);
    for (int k = 0; k < net->n_free; k++) {
        total[k] = 0;
        for (int i = 0; i < c->g; i++) {
            double now = p[k * c->g + i] > 0 ? p[k * c->g + i] : 0;
            total[k] += now;
            if (partial)
                partial[k * c->g + i] = now;
        }
    }
}

/* One source of one gas. What it adds to the pressures follows when all are known. */
static void add_share(context *c, const char *name, int node, int gas, double moles) {
    if (!(fabs(moles) > 0) || c->held[node * c->g + gas])
        return;
    c->node[c->n_shares] = node;
    c->share[c->n_shares] =
        (rfy_share){.source = name, .gas = gas, .throughput = moles * RFY_R * RFY_T_REF};
    c->n_shares++;
}

/* What a source adds to the pressure of every chamber. */
static void spread(context *c, size_t share) {
    const rfy_network *net = c->net;
    rfy_share *s = &c->share[share];
    double *x = RFY_NEW(c->arena, (size_t)(net->n_free * c->g), double);
    double *p = RFY_NEW(c->arena, (size_t)net->n_free, double);
    x[c->node[share] * c->g + s->gas] = s->throughput / (RFY_R * RFY_T_REF);
    rfy_response(c->ode, x);
    for (int k = 0; k < net->n_free; k++)
        for (int i = 0; i < c->g; i++)
            p[k] +=
                x[k * c->g + i] * RFY_R * c->ode->controls->temperature[k] / net->node[k].volume;
    s->pressure = p;
}

/* Keeps the strongest sources only: a table of thousands of sources by thousands of chambers serves
 * nobody. */
static bool keep_strongest(context *c, size_t most) {
    if (c->n_shares <= most)
        return false;
    for (size_t i = 0; i < most; i++) { /* selection: most is small */
        size_t best = i;
        for (size_t k = i + 1; k < c->n_shares; k++)
            if (c->share[k].throughput > c->share[best].throughput)
                best = k;
        rfy_share share = c->share[i];
        int node = c->node[i];
        c->share[i] = c->share[best];
        c->node[i] = c->node[best];
        c->share[best] = share;
        c->node[best] = node;
    }
    c->n_shares = most;
    return true;
}

static int by_throughput(const void *a, const void *b) {
    double x = ((const rfy_share *)a)->throughput, y = ((const rfy_share *)b)->throughput;
    return (x < y) - (x > y);
}

static void find_shares(context *c) {
    const rfy_network *net = c->net;
    const rfy_controls *controls = c->ode->controls;
    const int g = c->g;
    size_t room = (size_t)(net->n_emitters + net->n_stores + net->n_bursts + net->n_edges * g);
    c->share = RFY_NEW(c->arena, room, rfy_share);
    c->node = RFY_NEW(c->arena, room, int);
    if (!rfy_response_prepare(c->ode, c->y, c->held))
        return;
    double *p = RFY_NEW(c->arena, (size_t)(net->n_nodes * g), double);
    rfy_pressures(net, controls->temperature, c->y, p);
    for (int i = 0; i < net->n_emitters; i++) {
        const rfy_emitter *e = &net->emitter[i];
        double rate = rfy_power_law_rate(&e->law, rfy_sim_wall_age(c->sim, i, c->after), NULL);
        add_share(c, e->name, e->node, e->gas, rate * e->area / (RFY_R * RFY_T_REF));
    }
    for (int i = 0; i < net->n_stores; i++)
        add_share(c, net->store[i].name, net->store[i].node, net->store[i].gas, c->release[i]);
    for (int i = 0; i < net->n_bursts; i++) {
        const rfy_burst *burst = &net->burst[i];
        if (burst->from <= c->after && c->after < burst->to)
            add_share(c, burst->name, burst->node, burst->gas, burst->flow);
    }
    /* an edge to a place of fixed pressure: the part of its flow that does not depend on the inner
     * state */
    for (int i = 0; i < net->n_edges; i++) {
        const rfy_edge *e = &net->edge[i];
        bool inwards = net->node[e->from].fixed;
        if (!inwards && !net->node[e->to].fixed)
            continue;
        int inner = inwards ? e->to : e->from;
        if (net->node[inner].fixed)
            continue;
        double flow[RFY_MAX_GASES], by_a[RFY_MAX_GASES * RFY_MAX_GASES],
            by_b[RFY_MAX_GASES * RFY_MAX_GASES];
        rfy_flow_through(net, controls, i, p, flow, by_a, by_b);
        const char *name = e->role == RFY_EDGE_PUMP
                               ? rfy_arena_printf(c->arena, "%s (comes back)", e->name)
                               : e->name;
        for (int gas = 0; gas < g; gas++) {
            double in = inwards ? flow[gas] : -flow[gas];
            for (int j = 0; j < g; j++)
                in += (inwards ? -by_b[gas * g + j] : by_a[gas * g + j]) * p[inner * g + j];
            add_share(c, name, inner, gas, in * e->copies);
        }
    }
    bool cut = keep_strongest(c, 200);
    for (size_t i = 0; i < c->n_shares; i++)
        spread(c, i);
    /* The parts of a linear system add up to the whole. Where flow is viscous they miss it by the
     * curvature: bring them to the whole, chamber by chamber. */
    for (int k = 0; k < net->n_free && !cut; k++) {
        double sum = 0, whole = 0;
        for (size_t i = 0; i < c->n_shares; i++)
            sum += c->share[i].pressure[k];
        for (int i = 0; i < g; i++)
            whole += c->held[k * g + i] ? 0 : p[k * g + i];
        for (size_t i = 0; i < c->n_shares && sum > 0; i++)
            ((double *)c->share[i].pressure)[k] *= whole / sum;
    }
    qsort(c->share, c->n_shares, sizeof *c->share, by_throughput);
}

/* What rises, by connected part: all nodes of a part share the rate of its total. */
static void find_rising(context *c, rfy_ultimate *out) {
    const rfy_network *net = c->net;
    const int g = c->g;
    double *rate = RFY_NEW(c->arena, (size_t)c->ode->n, double);
    rfy_rising *rising = RFY_NEW(c->arena, (size_t)(net->n_free * g), rfy_rising);
    rfy_ode_stale(c->ode);
    if (rfy_ode_rates(c->ode, 0, c->y, rate) != GSL_SUCCESS)
        return;
    int *part = RFY_NEW(c->arena, (size_t)net->n_free, int);
    for (int k = 0; k < net->n_free; k++)
        part[k] = k;
    for (bool again = true; again;) {
        again = false;
        for (int e = 0; e < net->n_edges; e++) {
            const rfy_edge *edge = &net->edge[e];
            int a = edge->from, b = edge->to;
            bool shut = edge->valve >= 0 && c->ode->controls->opening[edge->valve] <= 0;
            if (net->node[a].fixed || net->node[b].fixed || shut || part[a] == part[b])
                continue;
            int low = part[a] < part[b] ? part[a] : part[b];
            part[a] = part[b] = low;
            again = true;
        }
    }
    for (int gas = 0; gas < g; gas++)
        for (int k = 0; k < net->n_free; k++) {
            if (!c->held[k * g + gas])
                continue;
            double moles = 0, volume = 0;
            for (int j = 0; j < net->n_free; j++)
                if (part[j] == part[k] && c->held[j * g + gas]) {
                    moles += rate[j * g + gas];
                    volume += net->node[j].volume / (RFY_R * net->node[j].temperature);
                }
            if (moles > 1e-30)
                rising[out->n_rising++] =
                    (rfy_rising){.chamber = k, .gas = gas, .rate = moles / volume};
        }
    out->rising = rising;
}

/* What holds gas stays as it is at the end of the run: what it gives off, and what it takes up by
 * the pressure. With dry walls there is what comes through them from outside, and what pumps. */
static void freeze(rfy_sim *sim, const rfy_network *net, rfy_controls *controls, double *release,
                   double *through, double *capture) {
    const double *y = rfy_sim_state(sim);
    for (int i = 0; i < net->n_stores; i++)
        through[net->store[i].node * net->mixture.n + net->store[i].gas] +=
            controls->store[i].through_outside;
    rfy_stores_capture(net, controls, y, capture);
    rfy_stores_freeze(net, controls, y, release);
}

void rfy_answer_ultimate(rfy_arena *arena, rfy_sim *sim, const rfy_network *net, double after,
                         rfy_ultimate *out) {
    const int g = net->mixture.n;
    const size_t free = (size_t)net->n_free;
    rfy_controls *controls = rfy_controls_new(arena, net);
    rfy_sim_controls(sim, after, controls);
    double *release = RFY_NEW(arena, (size_t)net->n_stores, double);
    double *through = RFY_NEW(arena, free * (size_t)g, double);
    double *capture = RFY_NEW(arena, (size_t)net->n_stores, double);
    freeze(sim, net, controls, release, through, capture);
    for (int i = 0; i < net->n_free * g; i++)
        controls->emission_slope[i] = 0;
    context c = {.arena = arena,
                 .net = net,
                 .g = g,
                 .sim = sim,
                 .after = after,
                 .release = release,
                 .ode = rfy_ode_frozen(arena, net, controls)};
    bool *held = RFY_NEW(arena, free * (size_t)g, bool);
    double *y = RFY_NEW(arena, (size_t)c.ode->n, double);
    double *total = RFY_NEW(arena, free, double), *floor_ = RFY_NEW(arena, free, double),
           *partial = RFY_NEW(arena, free * (size_t)g, double);
    memcpy(y, rfy_sim_state(sim), (size_t)c.ode->n * sizeof *y);
    rfy_steady_held(c.ode, y, held);
    out->after = after;
    out->found = rfy_steady_solve(c.ode, y, held, &out->iterations);
    c.y = y;
    c.held = held;
    totals(&c, y, total, partial);
    out->total = total;
    out->partial = partial;
    find_rising(&c, out);
    if (out->found)
        find_shares(&c);
    out->share = c.share;
    out->n_shares = c.n_shares;

    /* dry walls: nothing but what leaks, permeates and comes back through the pumps */
    int more;
    for (int i = 0; i < net->n_free * g; i++)
        controls->emission[i] = through[i];
    memset(controls->taken, 0, free * (size_t)g * sizeof *controls->taken);
    for (int i = 0; i < net->n_stores; i++)
        controls->taken[net->store[i].node * g + net->store[i].gas] += capture[i];
    double *dry = RFY_NEW(arena, (size_t)c.ode->n, double);
    memcpy(dry, y, (size_t)c.ode->n * sizeof *dry);
    bool fine = rfy_steady_solve(c.ode, dry, held, &more);
    totals(&c, dry, floor_, NULL);
    for (size_t k = 0; k < free && !fine; k++)
        floor_[k] = NAN;
    out->floor = floor_;
}
