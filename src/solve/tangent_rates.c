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

static bool any(const double *d, int n) {
    for (int i = 0; i < n; i++)
        if (d[i] != 0)
            return true;
    return false;
}

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

/* How fast it moves, on the side asked for of its bends. */
static double pace_at(const rfy_motion *m, double time, bool early) {
    const bool moves =
        early ? time > m->start && time <= m->end : time >= m->start && time < m->end;
    return moves ? (m->to - m->from) / (m->end - m->start) : 0;
}

bool rfy_tangent_moves(const rfy_tangent *t, const rfy_motion *m, const double *d, double time,
                       bool early, double *by) {
    const double along = t->shifted ? pace_at(m, time, early) : 0;
    bool moves = false;
    if (!any(d, RFY_D_MOTION * t->columns) && along == 0)
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

/* Adds df of all states to a column of b: free and inner rows. */
static void add_rates(rfy_tangent *t, rfy_v4 *b, int column, const double *df, double factor) {
    const int free = t->net->n_free * t->net->mixture.n, skipped = rfy_network_inner(t->net);
    for (int i = 0; i < t->rows; i++)
        rfy_tangent_row(b, t, i)[column] += factor * df[i < free ? i : i - free + skipped];
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

/* Flows asked for, gas by gas for one copy: of stretches four at a time, in the lanes of vectors.
 */
typedef struct asked {
    const rfy_network *net;
    int edge;
    double *flow; /* where it goes */
} asked;

static void answer_four(const rfy_tangent *t, const asked *list, int n) {
    const rfy_network *net = t->net;
    const int g = net->mixture.n;
    rfy_stretch_four four;
    for (int k = 0; k < RFY_LANES; k++) { /* lanes without one repeat the first */
        const asked *q = &list[k < n ? k : 0];
        const rfy_edge *edge = &net->edge[q->edge];
        four.run[k] = q->net->edge[q->edge].stretch;
        four.opening[k] = rfy_control_of(edge, t->controls);
        four.a[k] = t->pressure + edge->from * g;
        four.b[k] = t->pressure + edge->to * g;
    }
    rfy_v4 flow[RFY_MAX_GASES];
    rfy_stretch_flow_four(&four, net->edge[list[0].edge].mixture, flow, NULL, NULL);
    for (int k = 0; k < n; k++)
        for (int i = 0; i < g; i++)
            list[k].flow[i] = flow[i][k];
}

/* A network beside it has the same gases at the same temperatures, unless it is whole. */
static void answer(const rfy_tangent *t, const asked *list, int n) {
    asked four[RFY_LANES];
    int waiting = 0;
    for (int k = 0; k < n; k++) {
        const rfy_edge *edge = &t->net->edge[list[k].edge];
        if (!edge->in_fours || t->controls->warm) {
            rfy_flow_through(list[k].net, t->controls, list[k].edge, t->pressure, list[k].flow,
                             NULL, NULL);
            continue;
        }
        if (waiting == RFY_LANES ||
            (waiting > 0 && t->net->edge[four[0].edge].mixture != edge->mixture)) {
            answer_four(t, four, waiting);
            waiting = 0;
        }
        four[waiting++] = list[k];
    }
    if (waiting > 0)
        answer_four(t, four, waiting);
}

enum { ASKED_AT_ONCE = 64 };

static bool asks(const rfy_tangent *t, const rfy_neighbour *v) {
    return !v->unsuited && !v->whole && v->n_edges > 0 && t->net->n_edges > 0;
}

/* Flows of the run itself where some neighbour's differ. */
static void know_flows(rfy_tangent *t) {
    const int g = t->net->mixture.n;
    asked list[ASKED_AT_ONCE] = {{0}};
    int n = 0;
    for (int e = 0; e < t->net->n_edges; e++) {
        if (!t->flow_wanted[e] || is_shut(&t->net->edge[e], t->controls))
            continue;
        list[n++] = (asked){t->net, e, t->flow + e * g};
        if (n == ASKED_AT_ONCE) {
            answer(t, list, n);
            n = 0;
        }
    }
    answer(t, list, n);
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

static void by_edges(rfy_tangent *t, rfy_v4 *b) {
    const int g = t->net->mixture.n;
    asked list[ASKED_AT_ONCE] = {{0}};
    int column[ASKED_AT_ONCE], n = 0;
    double now[ASKED_AT_ONCE * RFY_MAX_GASES];
    know_flows(t);
    for (int p = 0; p < t->n; p++) {
        const rfy_neighbour *v = &t->neighbour[p];
        if (asks(t, v) && v->fixed)
            by_edges_outside(t, v, p, b);
        for (int k = 0; k < v->n_edges && asks(t, v) && !v->fixed; k++) {
            if (is_shut(&t->net->edge[v->edge[k]], t->controls))
                continue;
            column[n] = p;
            list[n] = (asked){v->net, v->edge[k], now + n * g};
            if (++n < ASKED_AT_ONCE)
                continue;
            answer(t, list, n);
            for (int i = 0; i < n; i++)
                add_difference(t, b, column[i], list[i].edge, list[i].flow);
            n = 0;
        }
    }
    answer(t, list, n);
    for (int i = 0; i < n; i++)
        add_difference(t, b, column[i], list[i].edge, list[i].flow);
}

/* What an emitter gives off, mol/s, and how that changes with its age. */
static double emission(const rfy_tangent *t, const rfy_emitter *e, double age, double factor,
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
        double now = emission(t, other, age + older, sim->wall_factor[i], early, &slope);
        double was = emission(t, e, age, sim->wall_factor[i], early, &slope);
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
                log(e->spread) *
                emission(t, e, rfy_sim_wall_age(sim, i, time), sim->wall_factor[i], early, &slope);
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

static void by_stores(rfy_tangent *t, const rfy_neighbour *v, int column, const double *y,
                      rfy_v4 *b) {
    const rfy_network *net = t->net;
    const int g = net->mixture.n, free = net->n_free * g, skipped = rfy_network_inner(net);
    for (int k = 0; k < v->n_stores; k++) {
        const int i = v->store[k];
        const rfy_store *s = &net->store[i], *other = &v->net->store[i];
        rfy_store_state at = t->controls->store_state[i], *was = &v->law_at[k];
        double outer, f[2][128];
        if (!isnan(other->temperature))
            at.wall = other->temperature;
        if (at.wall != was->wall || at.gas != was->gas || at.scale != was->scale ||
            at.active != was->active) {
            *was = at;
            other->kind->law(other, &at, &v->law[k]);
        }
        double p = t->pressure[s->node * g + s->gas];
        double now = rfy_store_rates(other, &v->law[k], p, y + s->first, f[0], NULL, NULL, &outer);
        double before =
            rfy_store_rates(s, &t->controls->store[i], p, y + s->first, f[1], NULL, NULL, &outer);
        rfy_tangent_row(b, t, s->node * g + s->gas)[column] += (now - before) / v->step;
        for (int j = 0; j < s->n; j++)
            rfy_tangent_row(b, t, free + s->first - skipped + j)[column] +=
                (f[0][j] - f[1][j]) / v->step;
    }
}

/* Everything anew: where temperatures or the gases themselves change. Both at an instant beside
 * that asked for, on its own side of the bends of a bake that moves. */
static void by_all(rfy_tangent *t, double time, const double *y, bool early, rfy_v4 *b) {
    const double beside = t->net->n_bakes > 0 ? time * (early ? 1 - 1e-7 : 1 + 1e-7) : time;
    bool known = false;
    for (int p = 0; p < t->n; p++) {
        const rfy_neighbour *v = &t->neighbour[p];
        if (v->unsuited || !v->whole)
            continue;
        if (!known) {
            rfy_sim_controls(t->sim, beside, t->other);
            rfy_rates(t->net, t->other, y, t->rate_beside, t->pressure_of);
            known = true;
        }
        rfy_sim other = with_network(t->sim, v->net);
        rfy_sim_controls(&other, beside, t->whole[p]);
        rfy_rates(v->net, t->whole[p], y, t->rate, t->pressure_of);
        for (int i = 0; i < rfy_network_states(t->net); i++)
            t->rate[i] -= t->rate_beside[i];
        add_rates(t, b, p, t->rate, 1 / v->step);
    }
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
        if (isnan(sim->wall_since[e->node]) || e->law.steady || !(any(since, t->n) || t->shifted))
            continue;
        emission(t, e, rfy_sim_wall_age(sim, i, time), sim->wall_factor[i], early, &slope);
        double *row = rfy_tangent_row(b, t, e->node * g + e->gas);
        for (int p = 0; p < t->n; p++)
            row[p] -= slope * (since[p] - t->shift[p]);
    }
}

/* Temperatures set by actions whose time is not fixed. */
static void by_warmth(rfy_tangent *t, double time, const double *y, const double *f, bool early,
                      rfy_v4 *b) {
    rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    const int c = t->columns;
    for (int k = 0; k < net->n_free && sim->any_heat; k++) {
        const double *d = t->heat + k * RFY_D_MOTION * c;
        const rfy_motion kept = sim->heat[k];
        const double along = t->shifted ? pace_at(&kept, time, early) : 0;
        if (!sim->heated[k] || !(any(d, RFY_D_MOTION * c) || along != 0))
            continue;
        const double dt = 1e-7 * rfy_motion_at(&kept, time);
        sim->heat[k].from += dt;
        sim->heat[k].to += dt;
        rfy_sim_controls(sim, time, t->other);
        sim->heat[k] = kept;
        rfy_rates(net, t->other, y, t->rate, t->pressure_of);
        for (int i = 0; i < rfy_network_states(net); i++)
            t->rate[i] = (t->rate[i] - f[i]) / dt;
        for (int p = 0; p < t->n; p++)
            add_rates(t, b, p, t->rate,
                      rfy_tangent_motion(t, &kept, d, p, time, early) + along * t->shift[p]);
    }
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

    rfy_sim_controls(sim, time, t->controls);
    rfy_pressures(net, t->controls->temperature, y, t->pressure);
    memset(out->b, 0, (size_t)t->rows * (size_t)t->m * sizeof *out->b);
    by_edges(t, out->b);
    for (int p = 0; p < t->n; p++) {
        const rfy_neighbour *v = &t->neighbour[p];
        if (v->unsuited || v->whole)
            continue;
        by_emitters(t, v, p, time, early, out->b);
        if (v->walls)
            by_spread(t, p, time, early, out->b);
        by_bursts(t, v, p, out->b);
        by_stores(t, v, p, y, out->b);
    }
    by_all(t, time, y, early, out->b);
    by_motions(t, time, early, out->b);
    by_wall_clocks(t, time, early, out->b);
    by_warmth(t, time, y, out->f, early, out->b);
    return true;
}
