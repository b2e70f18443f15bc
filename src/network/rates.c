#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/lanes.h"
#include "network/rates.h"
#include "network/stores.h"

rfy_controls *rfy_controls_new(rfy_arena *arena, const rfy_network *net) {
    rfy_controls *c = RFY_NEW(arena, 1, rfy_controls);
    size_t g = (size_t)net->mixture.n, all = (size_t)net->n_free * g;
    c->opening = RFY_NEW(arena, (size_t)net->n_valves, double);
    c->turn = RFY_NEW(arena, (size_t)net->n_pumps, double);
    c->opening_slope = RFY_NEW(arena, (size_t)net->n_valves, double);
    c->turn_slope = RFY_NEW(arena, (size_t)net->n_pumps, double);
    c->emission = RFY_NEW(arena, all, double);
    c->emission_slope = RFY_NEW(arena, all, double);
    c->from_walls = RFY_NEW(arena, g, double);
    c->from_walls_slope = RFY_NEW(arena, g, double);
    c->from_bursts = RFY_NEW(arena, g, double);
    c->taken = RFY_NEW(arena, all, double);
    c->temperature = RFY_NEW(arena, (size_t)net->n_nodes, double);
    for (int k = 0; k < net->n_nodes; k++)
        c->temperature[k] = net->node[k].temperature;
    c->store = RFY_NEW(arena, (size_t)net->n_stores, rfy_store_law);
    c->store_state = RFY_NEW(arena, (size_t)net->n_stores, rfy_store_state);
    for (int i = 0; i < net->n_stores; i++)
        c->store[i] = rfy_store_law_new(arena, net->store[i].n);
    if (net->n_free > 0) {
        c->apparent = RFY_NEW(arena, (size_t)net->n_nodes * g, double);
        c->bent = RFY_NEW(arena, 2 * (size_t)net->n_nodes, double);
    }
    return c;
}

/* ---- the sparse matrix ------------------------------------------------------------------------
 */

static int compare(const void *a, const void *b) {
    int x = *(const int *)a, y = *(const int *)b;
    return (x > y) - (x < y);
}

static int position(const rfy_blocks *m, int row, int column) {
    if (column >= m->n_columns)
        return -1;
    int low = m->start[row], high = m->start[row + 1];
    while (low < high) {
        int middle = (low + high) / 2;
        if (m->column[middle] < column)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

rfy_blocks *rfy_blocks_new(rfy_arena *arena, const rfy_network *net) {
    rfy_blocks *m = RFY_NEW(arena, 1, rfy_blocks);
    const int n = net->n_nodes, g = net->mixture.n;
    m->n_rows = n;
    m->n_columns = net->n_free;
    m->g = g;
    /* row lists with repetitions: the diagonal and both ends of every edge */
    int *count = RFY_NEW(arena, (size_t)n + 1, int);
    for (int i = 0; i < net->n_free; i++)
        count[i] = 1;
    for (int e = 0; e < net->n_edges; e++) {
        count[net->edge[e].from] += 2;
        count[net->edge[e].to] += 2;
    }
    int *first = RFY_NEW(arena, (size_t)n + 1, int);
    for (int i = 0; i < n; i++)
        first[i + 1] = first[i] + count[i];
    int *list = RFY_NEW(arena, (size_t)first[n], int);
    memset(count, 0, (size_t)n * sizeof *count);
    for (int i = 0; i < net->n_free; i++)
        list[first[i] + count[i]++] = i;
    for (int e = 0; e < net->n_edges; e++) {
        int ends[2] = {net->edge[e].from, net->edge[e].to};
        for (int r = 0; r < 2; r++)
            for (int c = 0; c < 2; c++)
                if (ends[c] < net->n_free)
                    list[first[ends[r]] + count[ends[r]]++] = ends[c];
    }
    m->start = RFY_NEW(arena, (size_t)n + 1, int);
    m->column = RFY_NEW(arena, (size_t)first[n], int);
    int k = 0;
    for (int i = 0; i < n; i++) {
        m->start[i] = k;
        qsort(list + first[i], (size_t)count[i], sizeof *list, compare);
        for (int j = 0; j < count[i]; j++)
            if (j == 0 || list[first[i] + j] != list[first[i] + j - 1])
                m->column[k++] = list[first[i] + j];
    }
    m->start[n] = k;
    m->value = RFY_NEW(arena, (size_t)k * (size_t)(g * g), double);
    m->edge = RFY_NEW(arena, (size_t)net->n_edges * 4, int);
    for (int e = 0; e < net->n_edges; e++) {
        int ends[2] = {net->edge[e].from, net->edge[e].to};
        for (int r = 0; r < 2; r++)
            for (int c = 0; c < 2; c++)
                m->edge[4 * e + 2 * r + c] = position(m, ends[r], ends[c]);
    }
    return m;
}

/* ---- rates --------------------------------------------------------------------------------------
 */

RFY_INLINE void pressures(const rfy_network *net, const double *temperature,
                          const double *restrict y, double *restrict pressure, const int g) {
    for (int k = 0; k < net->n_nodes; k++) {
        const rfy_node *node = &net->node[k];
        if (node->fixed) {
            RFY_UNROLL
            for (int i = 0; i < g; i++)
                pressure[k * g + i] = node->start[i];
            continue;
        }
        const double t = temperature ? temperature[k] : node->temperature,
                     factor = RFY_R * t / node->volume;
        RFY_UNROLL
        for (int i = 0; i < g; i++)
            pressure[k * g + i] = factor * y[k * g + i];
    }
}

void rfy_pressures(const rfy_network *net, const double *temperature, const double *y,
                   double *pressure) {
#define CALL(g) pressures(net, temperature, y, pressure, g)
    RFY_BY_GASES(net->mixture.n, CALL)
#undef CALL
}

/* Edges are built for the temperatures of the description. Gas that is warmer than that passes as
 * gas of a lower pressure does: p (T0/T)^exponent, with the exponent 1/2 in molecular flow (flow
 * goes as p/sqrt(T): Knudsen's thermal transpiration) and 4.7/delta^2 towards viscous flow, where
 * pressures balance; delta is the rarefaction parameter in a tube of this radius. The change of
 * viscosity is not followed: a baked bench is molecular. */
static const double typical_radius = 5e-3; /* m; order of magnitude of bench tubing, P */

static void seen_from(const rfy_network *net, const rfy_controls *c, int k,
                      const double *pressure) {
    const int g = net->mixture.n;
    const double *p = pressure + k * g;
    double ln = log(net->node[k].temperature / c->temperature[k]), sum = 0;
    double *bent = c->bent + 2 * k;
    memcpy(c->apparent + k * g, p, (size_t)g * sizeof *p);
    bent[0] = 1;
    bent[1] = 0;
    if (ln == 0)
        return;
    /* pressure of delta = 1, mu v0/radius, of the first gas: enough to tell the regimes apart */
    double at_one = net->mixture.viscosity.d[0] *
                    rfy_probable_speed(net->mixture.mass.d[0], c->temperature[k]) / typical_radius;
    for (int i = 0; i < g; i++)
        sum += p[i];
    double delta = sum / at_one, below = 1 + delta * delta / 9.4, exponent = 0.5 / below;
    bent[0] = exp(exponent * ln);
    bent[1] = -bent[0] * ln * exponent / below * 2 * delta / (9.4 * at_one);
    for (int i = 0; i < g; i++)
        c->apparent[k * g + i] *= bent[0];
}

const double *rfy_pressures_seen(const rfy_network *net, const rfy_controls *c,
                                 const double *pressure) {
    if (!c->warm)
        return pressure;
    for (int k = 0; k < net->n_nodes; k++)
        seen_from(net, c, k, pressure);
    return c->apparent;
}

/* by_seen (flow by apparent pressure, g x g) becomes flow by pressure, in place. */
static void unbend(const rfy_controls *c, int node, int g, const double *pressure, double *by) {
    const double *bent = c->bent + 2 * node, *p = pressure + node * g;
    for (int i = 0; i < g; i++) {
        double along = 0;
        for (int j = 0; j < g; j++)
            along += by[i * g + j] * p[j];
        for (int j = 0; j < g; j++)
            by[i * g + j] = by[i * g + j] * bent[0] + along * bent[1];
    }
}

double rfy_control_of(const rfy_edge *edge, const rfy_controls *c) {
    return edge->valve >= 0 ? c->opening[edge->valve] : edge->pump >= 0 ? c->turn[edge->pump] : 1;
}

static void flow_at(const rfy_network *net, const rfy_controls *c, int edge, double control,
                    const double *pressure, double *flow, double *by_a, double *by_b) {
    const rfy_edge *e = &net->edge[edge];
    const int g = net->mixture.n;
    const double *seen = pressure;
    if (c->warm) {
        seen_from(net, c, e->from, pressure);
        seen_from(net, c, e->to, pressure);
        seen = c->apparent;
    }
    e->flow(e, e->mixture, control, seen + e->from * g, seen + e->to * g, flow, by_a, by_b);
    if (c->warm && by_a) {
        unbend(c, e->from, g, pressure, by_a);
        unbend(c, e->to, g, pressure, by_b);
    }
}

void rfy_flow_through(const rfy_network *net, const rfy_controls *c, int edge,
                      const double *pressure, double *flow, double *by_a, double *by_b) {
    flow_at(net, c, edge, rfy_control_of(&net->edge[edge], c), pressure, flow, by_a, by_b);
}

/* What does not come through edges. */
static void begin_rates(const rfy_network *net, const rfy_controls *c, double *rate) {
    const int g = net->mixture.n;
    memset(rate, 0, (size_t)rfy_network_states(net) * sizeof *rate);
    memcpy(rate, c->emission, (size_t)(net->n_free * g) * sizeof *rate);
    for (int i = 0; i < g; i++) {
        rate[net->n_nodes * g + i] = -c->from_walls[i];
        rate[net->outside_node * g + i] = -c->from_bursts[i];
    }
}

/* from -= factor what, to += factor what; n values each, anywhere in memory */
RFY_INLINE void pass_on(const int n, const double factor, const double *restrict what, double *from,
                        double *to) {
    int i = 0;
    for (; i + RFY_LANES <= n; i += RFY_LANES) {
        rfy_v4 moved, a, b;
        memcpy(&moved, what + i, sizeof moved);
        memcpy(&a, from + i, sizeof a);
        memcpy(&b, to + i, sizeof b);
        moved *= factor;
        a -= moved;
        b += moved;
        memcpy(from + i, &a, sizeof a);
        memcpy(to + i, &b, sizeof b);
    }
    RFY_UNROLL
    for (; i < n; i++) {
        const double moved = factor * what[i];
        from[i] -= moved;
        to[i] += moved;
    }
}

RFY_INLINE void move_gas(const rfy_edge *edge, const int g, const double *flow, double *rate) {
    pass_on(g, edge->copies, flow, rate + edge->from * g, rate + edge->to * g);
}

/* What the edges add to the rates and, when `blocks` is not NULL, to the Jacobian. */
typedef struct sums {
    const rfy_network *net;
    const rfy_controls *controls;
    const double *pressure, *seen; /* as they are, and as edges see them */
    double *rate;                  /* may be NULL with blocks */
    double *flow;                  /* what goes through each edge is kept there; or NULL */
    rfy_blocks *blocks;
    int waiting, edge[RFY_LANES]; /* stretches that wait until there are four */
} sums;

/* Derivatives by the pressures at one end of an edge (0: from, 1: to); changed. */
RFY_INLINE void add_to_blocks(const sums *s, int e, int end, double *by, const int g) {
    const rfy_network *net = s->net;
    const rfy_edge *edge = &net->edge[e];
    const int gg = g * g, column = end ? edge->to : edge->from;
    const rfy_node *node = &net->node[column];
    if (node->fixed)
        return;
    if (s->controls->warm)
        unbend(s->controls, column, g, s->pressure, by);
    const double factor = edge->copies * RFY_R * s->controls->temperature[column] / node->volume;
    pass_on(gg, factor, by, s->blocks->value + s->blocks->edge[4 * e + end] * gg,
            s->blocks->value + s->blocks->edge[4 * e + 2 + end] * gg);
}

/* n vectors of four lanes become the n values of each lane. */
RFY_INLINE void part_lanes(const rfy_v4 *from, const int n, double *to[RFY_LANES]) {
    int i = 0;
    for (; i + RFY_LANES <= n; i += RFY_LANES) {
        const rfy_v4 a = from[i], b = from[i + 1], c = from[i + 2], d = from[i + 3];
        const rfy_v4 part[RFY_LANES] = {{a[0], b[0], c[0], d[0]},
                                        {a[1], b[1], c[1], d[1]},
                                        {a[2], b[2], c[2], d[2]},
                                        {a[3], b[3], c[3], d[3]}};
        for (int k = 0; k < RFY_LANES; k++)
            memcpy(to[k] + i, &part[k], sizeof part[k]);
    }
    for (; i < n; i++)
        for (int k = 0; k < RFY_LANES; k++)
            to[k][i] = from[i][k];
}

/* The stretches that wait, all at once; lanes without one repeat the first. */
RFY_INLINE void add_four(sums *s, const int g) {
    const rfy_network *net = s->net;
    if (s->waiting == 0)
        return;
    rfy_stretch_four four;
    for (int k = 0; k < RFY_LANES; k++) {
        const rfy_edge *edge = &net->edge[s->edge[k < s->waiting ? k : 0]];
        four.run[k] = edge->stretch;
        four.opening[k] = rfy_control_of(edge, s->controls);
        four.a[k] = s->seen + edge->from * g;
        four.b[k] = s->seen + edge->to * g;
    }
    rfy_v4 flow[RFY_MAX_GASES], by[2][RFY_MAX_GASES * RFY_MAX_GASES];
    rfy_stretch_flow_four(&four, net->edge[s->edge[0]].mixture, flow, s->blocks ? by[0] : NULL,
                          by[1]);
    if (s->rate) {
        double own[RFY_LANES][RFY_MAX_GASES], *to[RFY_LANES] = {own[0], own[1], own[2], own[3]};
        part_lanes(flow, g, to);
        for (int k = 0; k < s->waiting; k++) {
            move_gas(&net->edge[s->edge[k]], g, own[k], s->rate);
            if (s->flow)
                memcpy(s->flow + s->edge[k] * g, own[k], (size_t)g * sizeof *s->flow);
        }
    }
    for (int end = 0; end < 2 && s->blocks; end++) {
        double own[RFY_LANES][RFY_MAX_GASES * RFY_MAX_GASES],
            *to[RFY_LANES] = {own[0], own[1], own[2], own[3]};
        part_lanes(by[end], g * g, to);
        for (int k = 0; k < s->waiting; k++)
            add_to_blocks(s, s->edge[k], end, own[k], g);
    }
    s->waiting = 0;
}

RFY_INLINE void add_edges_of(sums *s, const int g) {
    const rfy_network *net = s->net;
    for (int e = 0; e < net->n_edges; e++) {
        const rfy_edge *edge = &net->edge[e];
        double control = rfy_control_of(edge, s->controls);
        if (edge->valve >= 0 && control <= 0)
            continue;
        if (edge->in_fours) {
            if (s->waiting > 0 && net->edge[s->edge[0]].mixture != edge->mixture)
                add_four(s, g);
            s->edge[s->waiting++] = e;
            if (s->waiting == RFY_LANES)
                add_four(s, g);
            continue;
        }
        double flow[RFY_MAX_GASES], by[2][RFY_MAX_GASES * RFY_MAX_GASES];
        edge->flow(edge, edge->mixture, control, s->seen + edge->from * g, s->seen + edge->to * g,
                   flow, s->blocks ? by[0] : NULL, s->blocks ? by[1] : NULL);
        if (s->rate)
            move_gas(edge, g, flow, s->rate);
        if (s->flow)
            memcpy(s->flow + e * g, flow, (size_t)g * sizeof *flow);
        for (int end = 0; end < 2 && s->blocks; end++)
            add_to_blocks(s, e, end, by[end], g);
    }
    add_four(s, g);
}

RFY_WIDE
static void add_edges(sums *s) {
#define CALL(g) add_edges_of(s, g)
    RFY_BY_GASES(s->net->mixture.n, CALL)
#undef CALL
}

void rfy_rates(const rfy_network *net, const rfy_controls *c, const double *y, double *rate,
               double *pressure) {
    begin_rates(net, c, rate);
    rfy_pressures(net, c->temperature, y, pressure);
    sums s = {.net = net,
              .controls = c,
              .pressure = pressure,
              .seen = rfy_pressures_seen(net, c, pressure),
              .rate = rate};
    add_edges(&s);
    rfy_stores_rates(net, c, y, pressure, rate);
}

void rfy_rates_jacobian(const rfy_network *net, const rfy_controls *c, const double *y,
                        double *pressure, rfy_blocks *m, double *rate) {
    const int g = net->mixture.n, gg = g * g;
    memset(m->value, 0, (size_t)(m->start[m->n_rows] * gg) * sizeof *m->value);
    if (rate)
        begin_rates(net, c, rate);
    rfy_pressures(net, c->temperature, y, pressure);
    sums s = {.net = net,
              .controls = c,
              .pressure = pressure,
              .seen = rfy_pressures_seen(net, c, pressure),
              .rate = rate,
              .flow = rate ? c->flow : NULL,
              .blocks = m};
    add_edges(&s);
    for (int i = 0; c->frozen && i < net->n_free * g; i++)
        m->value[position(m, i / g, i / g) * gg + (i % g) * (g + 1)] -= c->taken[i];
    if (rate)
        rfy_stores_rates(net, c, y, pressure, rate);
}

void rfy_flow_by_control(const rfy_network *net, const rfy_controls *c, int edge,
                         const double *pressure, double slope, double *change) {
    /* a difference in the control of this edge alone, central where there is room: the flow bends
     * with the opening over its whole range, not within a thousandth of it */
    const double now = rfy_control_of(&net->edge[edge], c), d = 1e-4 * now + 1e-7;
    const double low = now - d > 0 ? now - d : 0, high = now + d < 1 ? now + d : 1;
    double at[2][RFY_MAX_GASES];
    const rfy_edge *e = &net->edge[edge];
    if (e->in_fours && !c->warm && low > 0) { /* both at once */
        const double *a = pressure + e->from * net->mixture.n,
                     *b = pressure + e->to * net->mixture.n;
        const rfy_stretch_four four = {.run = {e->stretch, e->stretch, e->stretch, e->stretch},
                                       .opening = {low, high, low, high},
                                       .a = {a, a, a, a},
                                       .b = {b, b, b, b}};
        rfy_v4 flow[RFY_MAX_GASES];
        rfy_stretch_flow_four(&four, e->mixture, flow, NULL, NULL);
        for (int i = 0; i < net->mixture.n; i++)
            for (int k = 0; k < 2; k++)
                at[k][i] = flow[i][k];
    } else {
        flow_at(net, c, edge, low, pressure, at[0], NULL, NULL);
        flow_at(net, c, edge, high, pressure, at[1], NULL, NULL);
    }
    for (int i = 0; i < net->mixture.n; i++)
        change[i] = slope * (at[1][i] - at[0][i]) / (high - low);
}

void rfy_rates_by_motion(const rfy_network *net, const rfy_controls *c, const double *pressure,
                         double *dfdt) {
    const int g = net->mixture.n;
    for (int e = 0; e < net->n_edges; e++) {
        const rfy_edge *edge = &net->edge[e];
        double slope = edge->valve >= 0  ? c->opening_slope[edge->valve]
                       : edge->pump >= 0 ? c->turn_slope[edge->pump]
                                         : 0;
        if (slope == 0)
            continue;
        double change[RFY_MAX_GASES];
        rfy_flow_by_control(net, c, e, pressure, slope, change);
        move_gas(edge, g, change, dfdt);
    }
}

void rfy_start_state(const rfy_network *net, double *y) {
    const int g = net->mixture.n;
    memset(y, 0, (size_t)rfy_network_states(net) * sizeof *y);
    for (int k = 0; k < net->n_free; k++) {
        const rfy_node *node = &net->node[k];
        for (int i = 0; i < g; i++)
            y[k * g + i] = node->start[i] * node->volume / (RFY_R * node->temperature);
    }
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        memcpy(y + s->first, s->start, (size_t)s->n * sizeof *y);
    }
}
