/* The equations of a tangent at one instant: the Jacobian, and how the rates change with each
 * number and clock while the state stays. */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <string.h>
#include "network/stores.h"
#include "solve/tangent_parts.h"
#include "flow/stretch.h"

double rfy_tangent_motion(const rfy_tangent *t, const rfy_motion *m, const double *d, int column,
                          double time, bool early) {
    const int c = t->columns;
    const double *of = d + column;
    bool moves = time < m->end || (early && time == m->end && m->start < m->end);
    if (!moves)
        return of[RFY_D_TO * c];
    double length = m->end - m->start, part = (time - m->start) / length;
    return of[RFY_D_FROM * c] * (1 - part) + of[RFY_D_TO * c] * part -
           (m->to - m->from) / length *
               (of[RFY_D_START * c] * (1 - part) + of[RFY_D_END * c] * part);
}

double rfy_tangent_pace(const rfy_motion *m, double time, bool early) {
    const bool moves =
        early ? time > m->start && time <= m->end : time >= m->start && time < m->end;
    return moves ? (m->to - m->from) / (m->end - m->start) : 0;
}

bool rfy_tangent_moves(const rfy_tangent *t, const rfy_motion *m, const double *d, double time,
                       bool early, double *by) {
    const double along = t->shifted ? rfy_tangent_pace(m, time, early) : 0;
    bool moves = false;
    if (!rfy_tangent_any(d, RFY_D_MOTION * t->columns) && along == 0)
        return false;
    for (int p = 0; p < t->n; p++) {
        const double own = rfy_tangent_motion(t, m, d, p, time, early),
                     rest = own + along * t->shift[p];
        by[p] = fabs(rest) > 1e-9 * fabs(own) ? rest : 0;
        moves = moves || by[p] != 0;
    }
    return moves;
}

/* ---- parts of b ---- */

void rfy_tangent_feed(const rfy_tangent *t, rfy_tangent_point *out, int store, int column,
                      const double *df, double factor) {
    const rfy_store *s = &t->net->store[store];
    const int first = t->net->n_free * t->net->mixture.n + s->first - rfy_network_inner(t->net);
    for (int j = 0; j < s->n; j++)
        rfy_tangent_row(out->b, t, first + j)[column] += factor * df[j];
    out->fed[store] |= rfy_fed_at(column / RFY_LANES);
}

RFY_INLINE void make_zero(int rows, rfy_v4 *out, int m, const int w) {
    for (int i = 0; i < rows; i++) {
        RFY_UNROLL
        for (int v = 0; v < w; v++)
            out[i * m + v] = rfy_all(0);
    }
}

RFY_WIDE
static void make_rows_zero(int rows, int m, rfy_v4 *out) {
#define ZERO(c, stride, w) make_zero(rows, out + (c), stride, w)
    RFY_BY_COLUMNS(m, ZERO)
#undef ZERO
}

/* b = 0; of inner rows only what is not. */
static void clear(const rfy_tangent *t, rfy_tangent_point *out) {
    const rfy_network *net = t->net;
    const int free = net->n_free * net->mixture.n, m = t->m, skipped = rfy_network_inner(net);
    make_rows_zero(free, m, out->b);
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        rfy_v4 *rows = out->b + (free + s->first - skipped) * m;
        for (int v = 0; v < m && out->fed[i]; v++)
            for (int j = 0; j < s->n && (out->fed[i] & rfy_fed_at(v)); j++)
                rows[j * m + v] = rfy_all(0);
        out->fed[i] = 0;
    }
}

static void move(rfy_tangent *t, rfy_v4 *b, const rfy_edge *edge, int column, int gas,
                 double moved) {
    const rfy_network *net = t->net;
    const int g = net->mixture.n;
    if (!net->node[edge->from].fixed)
        rfy_tangent_row(b, t, edge->from * g + gas)[column] -= moved;
    if (!net->node[edge->to].fixed)
        rfy_tangent_row(b, t, edge->to * g + gas)[column] += moved;
}

static bool is_shut(const rfy_edge *edge, const rfy_controls *c) {
    return edge->valve >= 0 && !(c->opening[edge->valve] > 0);
}

/* Of stretches four at a time, in the lanes of vectors. */
static void flow_of_four(const rfy_tangent *t, const rfy_tangent_flow *list, int n) {
    const rfy_network *net = t->net;
    const int g = net->mixture.n;
    rfy_stretch_four four;
    for (int k = 0; k < RFY_LANES; k++) { /* lanes without one repeat the first */
        const rfy_tangent_flow *q = &list[k < n ? k : 0];
        four.run[k] = q->net->edge[q->edge].stretch;
        four.opening[k] = rfy_control_of(&net->edge[q->edge], t->controls);
        four.a[k] = q->a;
        four.b[k] = q->b;
    }
    rfy_v4 flow[RFY_MAX_GASES];
    rfy_stretch_flow_four(&four, net->edge[list[0].edge].mixture, flow, NULL, NULL);
    for (int k = 0; k < n; k++)
        for (int i = 0; i < g; i++)
            list[k].flow[i] = flow[i][k];
}

/* A network beside it has the same gases at the same temperatures, unless it is whole. */
void rfy_tangent_flows(const rfy_tangent *t, const rfy_tangent_flow *list, int n) {
    rfy_tangent_flow four[RFY_LANES];
    int waiting = 0;
    for (int k = 0; k < n; k++) {
        const rfy_tangent_flow *q = &list[k];
        const rfy_edge *edge = &t->net->edge[q->edge], *other = &q->net->edge[q->edge];
        if (!edge->in_fours) {
            other->flow(other, other->mixture, rfy_control_of(edge, t->controls), q->a, q->b,
                        q->flow, NULL, NULL);
            continue;
        }
        if (waiting == RFY_LANES ||
            (waiting > 0 && t->net->edge[four[0].edge].mixture != edge->mixture)) {
            flow_of_four(t, four, waiting);
            waiting = 0;
        }
        four[waiting++] = *q;
    }
    if (waiting > 0)
        flow_of_four(t, four, waiting);
}

enum { ASKED_AT_ONCE = 64 };

static bool asks(const rfy_tangent *t, const rfy_neighbour *v) {
    return !v->unsuited && !v->whole && v->n_edges > 0 && t->net->n_edges > 0;
}

static void add_difference(rfy_tangent *t, rfy_v4 *b, int column, int e, const double *now) {
    const rfy_neighbour *v = &t->neighbour[column];
    const rfy_edge *edge = &t->net->edge[e];
    const int g = t->net->mixture.n;
    for (int i = 0; i < g; i++)
        move(t, b, edge, column, i,
             (v->net->edge[e].copies * now[i] - edge->copies * t->flow[e * g + i]) / v->step);
}

/* Where what lies outside differs. */
static void by_edges_outside(rfy_tangent *t, const rfy_neighbour *v, int column, rfy_v4 *b) {
    const rfy_network *net = t->net;
    const int free = net->n_free * net->mixture.n, all = net->n_nodes * net->mixture.n;
    double now[RFY_MAX_GASES];
    memcpy(t->pressure_of, t->pressure, (size_t)free * sizeof *t->pressure);
    memcpy(t->pressure_of + free, v->fixed + free, (size_t)(all - free) * sizeof *t->pressure);
    for (int k = 0; k < v->n_edges; k++)
        if (!is_shut(&net->edge[v->edge[k]], t->controls)) {
            rfy_flow_through(v->net, t->controls, v->edge[k], t->pressure_of, now, NULL, NULL);
            add_difference(t, b, column, v->edge[k], now);
        }
}

/* Flows beside the run that wait for their answer. */
typedef struct questions {
    rfy_tangent_flow list[ASKED_AT_ONCE];
    int column[ASKED_AT_ONCE], n;
    double flow[ASKED_AT_ONCE * RFY_MAX_GASES];
} questions;

static void have_answered(rfy_tangent *t, questions *q, rfy_v4 *b) {
    rfy_tangent_flows(t, q->list, q->n);
    for (int i = 0; i < q->n; i++)
        add_difference(t, b, q->column[i], q->list[i].edge, q->list[i].flow);
    q->n = 0;
}

static void ask(rfy_tangent *t, questions *q, const rfy_network *net, int e, int column,
                rfy_v4 *b) {
    const int g = t->net->mixture.n;
    const rfy_edge *edge = &t->net->edge[e];
    if (is_shut(edge, t->controls))
        return;
    q->column[q->n] = column;
    q->list[q->n] = (rfy_tangent_flow){net, e, t->apparent + edge->from * g,
                                       t->apparent + edge->to * g, q->flow + q->n * g};
    if (++q->n == ASKED_AT_ONCE)
        have_answered(t, q, b);
}

static void by_edges(rfy_tangent *t, rfy_v4 *b) {
    questions q;
    q.n = 0;
    for (int p = 0; p < t->n; p++) {
        const rfy_neighbour *v = &t->neighbour[p];
        for (int k = 0; k < v->n_edges && asks(t, v) && !v->fixed; k++)
            ask(t, &q, v->net, v->edge[k], p, b);
    }
    have_answered(t, &q, b);
    for (int p = 0; p < t->n; p++)
        if (asks(t, &t->neighbour[p]) && t->neighbour[p].fixed)
            by_edges_outside(t, &t->neighbour[p], p, b);
}

double rfy_tangent_emission(const rfy_tangent *t, const rfy_emitter *e, double age, double factor,
                            bool early, double *slope) {
    double nudged = age * (early ? 1 - 1e-12 : 1 + 1e-12); /* on which side of a bend of its law */
    double unit = e->area * factor / (RFY_R * RFY_T_REF);
    if (e->activation > 0)
        unit *=
            exp(-e->activation / RFY_R * (1 / t->controls->temperature[e->node] - 1 / RFY_T_REF));
    double rate = rfy_power_law_rate(&e->law, nudged, slope);
    *slope *= unit;
    return rate * unit;
}

static void by_emitters(rfy_tangent *t, const rfy_neighbour *v, int column, double time, bool early,
                        rfy_v4 *b) {
    const rfy_sim *sim = t->sim;
    const int g = t->net->mixture.n;
    for (int k = 0; k < v->n_emitters; k++) {
        const int i = v->emitter[k];
        const rfy_emitter *e = &t->net->emitter[i], *other = &v->net->emitter[i];
        double slope;
        if (isnan(sim->wall_since[e->node]))
            continue;
        double age = rfy_sim_wall_age(sim, i, time);
        double older = sim->wall_turns[e->node] == 0 ? other->age - e->age : 0;
        double now =
            rfy_tangent_emission(t, other, age + older, sim->wall_factor[i], early, &slope);
        double was = rfy_tangent_emission(t, e, age, sim->wall_factor[i], early, &slope);
        rfy_tangent_row(b, t, e->node * g + e->gas)[column] += (now - was) / v->step;
    }
}

/* All walls by the power of their spread. */
static void by_spread(rfy_tangent *t, int column, double time, bool early, rfy_v4 *b) {
    const rfy_sim *sim = t->sim;
    for (int i = 0; i < t->net->n_emitters; i++) {
        const rfy_emitter *e = &t->net->emitter[i];
        double slope;
        if (!isnan(sim->wall_since[e->node]))
            rfy_tangent_row(b, t, e->node * t->net->mixture.n + e->gas)[column] +=
                log(e->spread) * rfy_tangent_emission(t, e, rfy_sim_wall_age(sim, i, time),
                                                      sim->wall_factor[i], early, &slope);
    }
}

static void by_bursts(rfy_tangent *t, const rfy_neighbour *v, int column, rfy_v4 *b) {
    const int g = t->net->mixture.n;
    for (int k = 0; k < v->n_bursts; k++) {
        const rfy_burst *now = &v->net->burst[v->burst[k]], *was = &t->net->burst[v->burst[k]];
        if (t->sim->burst_on[v->burst[k]])
            rfy_tangent_row(b, t, was->node * g + was->gas)[column] +=
                (now->flow - was->flow) / v->step;
    }
}

/* The rates of the run are known. */
static void by_stores(rfy_tangent *t, const rfy_neighbour *v, int column, const double *y,
                      rfy_tangent_point *out) {
    for (int k = 0; k < v->n_stores; k++) {
        const int i = v->store[k];
        const rfy_store *other = &v->net->store[i];
        rfy_store_state at = t->controls->store_state[i], *was = &v->law_at[k];
        if (!isnan(other->temperature))
            at.wall = other->temperature;
        if (at.wall != was->wall || at.gas != was->gas || at.scale != was->scale ||
            at.active != was->active) {
            *was = at;
            other->kind->law(other, &at, &v->law[k]);
        }
        double f[128];
        const int row = other->node * t->net->mixture.n + other->gas;
        double more = rfy_tangent_by_store(t, i, other, &v->law[k], t->pressure[row], y, out, f);
        rfy_tangent_row(out->b, t, row)[column] += more / v->step;
        rfy_tangent_feed(t, out, i, column, f, 1 / v->step);
    }
}

double rfy_tangent_by_store(const rfy_tangent *t, int store, const rfy_store *other,
                            const rfy_store_law *law, double pressure, const double *y,
                            const rfy_tangent_point *out, double *df) {
    const rfy_store_law *own = &t->controls->store[store];
    const double *was = out->f + other->first;
    double outer,
        more = rfy_store_rates(other, law, pressure, y + other->first, df, NULL, NULL, &outer) -
               (own->through_outside -
                own->through * t->pressure[other->node * t->net->mixture.n + other->gas]);
    for (int j = 0; j < other->n; j++) {
        more += was[j];
        df[j] -= was[j];
    }
    return more;
}

/* ---- clocks ---- */

/* Where a valve begins to open, the flow by its opening bends within a thousandth of it (inertia,
 * then friction, hold it back); a parabola over a step is to follow what comes after the first bit
 * of it. */
static const double first_bit = 0.02;

static void by_motions(rfy_tangent *t, double time, bool early, rfy_v4 *b) {
    const rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    const int g = net->mixture.n, c = t->columns;
    for (int e = 0; e < net->n_edges; e++) {
        const rfy_edge *edge = &net->edge[e];
        if (edge->valve < 0 && edge->pump < 0)
            continue;
        const rfy_motion *m = edge->valve >= 0 ? &sim->valve[edge->valve] : &sim->pump[edge->pump];
        const double *d = edge->valve >= 0 ? t->valve + edge->valve * RFY_D_MOTION * c
                                           : t->pump + edge->pump * RFY_D_MOTION * c;
        if (!rfy_tangent_moves(t, m, d, time, early, t->control))
            continue;
        double change[RFY_MAX_GASES], *at = edge->valve >= 0 ? &t->controls->opening[edge->valve]
                                                             : &t->controls->turn[edge->pump];
        const double now = *at;
        const double pace = m->end > m->start ? fabs(m->to - m->from) / (m->end - m->start) : 0;
        *at = fmax(now, first_bit * t->stride * pace);
        rfy_flow_by_control(net, t->controls, e, t->pressure, 1, change);
        *at = now;
        for (int p = 0; p < t->n; p++)
            for (int i = 0; i < g; i++)
                move(t, b, edge, p, i, edge->copies * change[i] * t->control[p]);
    }
}

static void by_wall_clocks(rfy_tangent *t, double time, bool early, rfy_v4 *b) {
    const rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    const int g = net->mixture.n, c = t->columns;
    for (int i = 0; i < net->n_emitters; i++) {
        const rfy_emitter *e = &net->emitter[i];
        const double *since = t->wall + e->node * c;
        double slope;
        if (isnan(sim->wall_since[e->node]) || e->law.steady ||
            !(rfy_tangent_any(since, t->n) || t->shifted))
            continue;
        rfy_tangent_emission(t, e, rfy_sim_wall_age(sim, i, time), sim->wall_factor[i], early,
                             &slope);
        double *row = rfy_tangent_row(b, t, e->node * g + e->gas);
        for (int p = 0; p < t->n; p++)
            row[p] -= slope * (since[p] - t->shift[p]);
    }
}

/* ---- all of it ---- */

/* b at an instant whose A, rates, controls and pressures are known. */
static void work_out_b(rfy_tangent *t, double time, const double *y, bool early,
                       rfy_tangent_point *out) {
    clear(t, out);
    t->apparent = rfy_pressures_seen(t->net, t->controls, t->pressure);
    by_edges(t, out->b);
    for (int p = 0; p < t->n; p++) {
        const rfy_neighbour *v = &t->neighbour[p];
        if (v->unsuited || v->whole)
            continue;
        by_emitters(t, v, p, time, early, out->b);
        if (v->walls)
            by_spread(t, p, time, early, out->b);
        by_bursts(t, v, p, out->b);
        by_stores(t, v, p, y, out);
    }
    by_motions(t, time, early, out->b);
    by_wall_clocks(t, time, early, out->b);
    rfy_tangent_by_warmth(t, time, y, early, out);
}

bool rfy_tangent_evaluate(rfy_tangent *t, double time, double local, const double *y, bool early,
                          rfy_tangent_point *out) {
    rfy_sim *sim = t->sim;
    rfy_ode *ode = sim->ode;
    const rfy_network *net = t->net;
    const int g = net->mixture.n;
    const rfy_blocks *pattern = ode->jacobian;
    if (rfy_ode_jacobian(ode, local, y) != GSL_SUCCESS)
        return false;
    memcpy(out->a.value, pattern->value,
           (size_t)(pattern->start[net->n_free] * g * g) * sizeof *out->a.value);
    if (ode->inner) {
        const double *by_x, *by_n, *through;
        rfy_inner_values(ode->inner, &by_x, &by_n, &through);
        memcpy(out->a.by_x, by_x, (size_t)net->n_inner * sizeof *by_x);
        memcpy(out->a.by_n, by_n, (size_t)net->n_inner * sizeof *by_n);
        memcpy(out->a.through, through, (size_t)net->n_stores * sizeof *through);
    }
    memcpy(out->f, ode->jacobian_rate, (size_t)ode->n * sizeof *out->f);
    t->flow = ode->controls->flow;
    t->controls = ode->controls_at == local ? ode->controls : t->own;
    if (t->controls == t->own)
        rfy_sim_controls(sim, time, t->own);
    rfy_pressures(net, t->controls->temperature, y, t->pressure);
    work_out_b(t, time, y, early, out);
    return true;
}

bool rfy_tangent_evaluate_aside(rfy_tangent *t, double time, const double *y, bool early,
                                rfy_tangent_point *out) {
    const rfy_network *net = t->net;
    rfy_blocks matrix = *t->sim->ode->jacobian;
    matrix.value = out->a.value;
    double sum = 0;
    t->controls = t->own;
    rfy_sim_controls(t->sim, time, t->own);
    rfy_rates_jacobian(net, t->own, y, t->pressure, &matrix, out->f);
    for (int i = 0; i < rfy_network_states(net); i++)
        sum += fabs(out->f[i]);
    if (!isfinite(sum))
        return false;
    t->flow = t->own->flow;
    rfy_inner_slopes(net, t->own, y, t->pressure, t->column, out->a.by_x, out->a.by_n,
                     out->a.through);
    work_out_b(t, time, y, early, out);
    return true;
}
