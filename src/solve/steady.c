#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "solve/steady.h"

static void keep(void *context, double t, rfy_controls *controls, bool *moving) {
    (void)context, (void)t, (void)controls;
    *moving = false;
}

rfy_ode *rfy_ode_frozen(rfy_arena *arena, const rfy_network *net, rfy_controls *controls) {
    rfy_ode *ode = rfy_ode_new(arena, net, 1e-9);
    ode->controls = controls;
    ode->controls->frozen = true;
    ode->inner = NULL;
    ode->set_controls = keep;
    return ode;
}

/* ---- parts without a way out ---- */

static int root_of(int *parent, int i) {
    while (parent[i] != i)
        i = parent[i] = parent[parent[i]];
    return i;
}

void rfy_steady_held(rfy_ode *ode, const double *y, bool *held) {
    const rfy_network *net = ode->net;
    const rfy_controls *c = ode->controls;
    const int g = net->mixture.n, n = net->n_nodes;
    rfy_arena *arena = rfy_arena_new();
    int *parent = RFY_NEW(arena, (size_t)(n * g), int);
    bool *drained = RFY_NEW(arena, (size_t)(n * g), bool);
    for (int i = 0; i < n * g; i++)
        parent[i] = i;
    rfy_pressures(net, c->temperature, y, ode->pressure);
    for (int e = 0; e < net->n_edges; e++) {
        const rfy_edge *edge = &net->edge[e];
        if (edge->role != RFY_EDGE_TUBING && edge->role != RFY_EDGE_PUMP &&
            edge->role != RFY_EDGE_HOLE)
            continue;
        double control = edge->valve >= 0  ? c->opening[edge->valve]
                         : edge->pump >= 0 ? c->turn[edge->pump]
                                           : 1;
        double flow[RFY_MAX_GASES], by_a[RFY_MAX_GASES * RFY_MAX_GASES],
            by_b[RFY_MAX_GASES * RFY_MAX_GASES];
        edge->flow(edge, edge->mixture, control, ode->pressure + edge->from * g,
                   ode->pressure + edge->to * g, flow, by_a, by_b);
        for (int i = 0; i < g; i++) {
            if (!(by_a[i * g + i] > 0) && !(by_b[i * g + i] < 0))
                continue;
            int a = edge->from * g + i, b = edge->to * g + i;
            if (net->node[edge->to].fixed)
                drained[root_of(parent, a)] = true;
            else if (net->node[edge->from].fixed)
                drained[root_of(parent, b)] = true;
            else {
                int ra = root_of(parent, a), rb = root_of(parent, b);
                drained[rb] = drained[ra] || drained[rb];
                parent[ra] = rb;
            }
        }
    }
    for (int i = 0; i < net->n_free * g; i++)
        if (c->taken[i] > 0)
            drained[root_of(parent, i)] = true;
    for (int i = 0; i < net->n_free * g; i++)
        held[i] = !drained[root_of(parent, i)];
    rfy_arena_free(arena);
}

/* ---- Newton ---- */

static bool newton(rfy_ode *ode, double *y, const bool *held, int most, int *iterations) {
    const int n = ode->net->n_free * ode->net->mixture.n;
    rfy_arena *arena = rfy_arena_new();
    double *step = RFY_NEW(arena, (size_t)ode->n, double);
    double *hold = RFY_NEW(arena, (size_t)n, double);
    for (int i = 0; i < n; i++)
        hold[i] = held[i] ? 1e30 : 0;
    double dt = 1;
    bool found = false;
    for (int round = 0; round < most && !found; round++, ++*iterations) {
        rfy_ode_stale(ode);
        if (rfy_ode_jacobian(ode, 0, y) != GSL_SUCCESS ||
            rfy_ode_rates(ode, 0, y, step) != GSL_SUCCESS)
            break;
        for (int i = 0; i < n; i++)
            if (held[i])
                step[i] = 0;
        double fac = dt > 1e14 ? 0 : 1 / dt;
        if (!rfy_block_lu_factor(ode->lu, ode->jacobian, fac, hold)) {
            if (fac == 0)
                dt = 1e10;
            else
                break;
            continue;
        }
        rfy_block_lu_solve(ode->lu, step);
        double change = 0;
        for (int i = 0; i < n; i++) {
            double least = ode->floor[i] * 1e-3; /* 1e-24 Pa: below that there is none */
            double relative = fabs(step[i]) / (fabs(y[i]) + least);
            if (!isfinite(step[i]))
                relative = INFINITY;
            if (relative > change)
                change = relative;
        }
        if (!isfinite(change)) {
            dt *= 0.1;
            if (dt < 1e-12)
                break;
            continue;
        }
        for (int i = 0; i < n; i++) {
            double now = y[i] + step[i], least = 0.05 * y[i];
            y[i] = now > least ? now : least; /* amounts stay positive on the way */
        }
        found = fac == 0 && change < 1e-9;
        dt *= change < 0.1 ? 30 : change < 1 ? 5 : change > 30 ? 0.5 : 1.5;
    }
    rfy_arena_free(arena);
    return found;
}

/* Follows the state in time, walls and valves as they stand, until nothing changes any more or the
 * steps are used up: the surest way from far off. Amounts that are held may rise meanwhile; they
 * are put back. */
static void follow(rfy_ode *ode, double *y, const bool *held) {
    const size_t n = (size_t)ode->n;
    const int free_states = ode->net->n_free * ode->net->mixture.n;
    gsl_odeiv2_system system;
    double rtol = ode->rtol, t = 0, h = 1e-6;
    double *start = rfy_xcalloc(n, sizeof *start), *now = rfy_xcalloc(n, sizeof *now);
    memcpy(start, y, n * sizeof *y);
    memcpy(now, y, n * sizeof *y);
    rfy_ode_system(ode, &system);
    rfy_ode_stale(ode);
    ode->rtol = 1e-4;
    gsl_odeiv2_step *step = gsl_odeiv2_step_alloc(rfy_step_rodas, n);
    gsl_odeiv2_evolve *evolve = gsl_odeiv2_evolve_alloc(n);
    gsl_odeiv2_control *control = rfy_control_new(ode);
    for (int i = 0; step && evolve && control && i < 3000 && t < 1e9; i++)
        if (gsl_odeiv2_evolve_apply(evolve, control, step, &system, &t, 1e9, &h, now) !=
            GSL_SUCCESS)
            break;
    for (int i = 0; i < free_states; i++)
        y[i] = held[i] ? start[i] : now[i] > 0 ? now[i] : 0;
    ode->rtol = rtol;
    if (control)
        gsl_odeiv2_control_free(control);
    if (evolve)
        gsl_odeiv2_evolve_free(evolve);
    if (step)
        gsl_odeiv2_step_free(step);
    free(start);
    free(now);
}

bool rfy_steady_solve(rfy_ode *ode, double *y, const bool *held, int *iterations) {
    *iterations = 0;
    if (newton(ode, y, held, 60, iterations))
        return true;
    follow(ode, y, held);
    return newton(ode, y, held, 100, iterations);
}

/* ---- responses ---- */

bool rfy_response_prepare(rfy_ode *ode, const double *y, const bool *held) {
    const int n = ode->net->n_free * ode->net->mixture.n;
    rfy_arena *arena = rfy_arena_new();
    double *hold = RFY_NEW(arena, (size_t)n, double);
    for (int i = 0; i < n; i++)
        hold[i] = held && held[i] ? 1e30 : 0;
    rfy_ode_stale(ode);
    bool fine = rfy_ode_jacobian(ode, 0, y) == GSL_SUCCESS &&
                rfy_block_lu_factor(ode->lu, ode->jacobian, 1e-9, hold);
    rfy_arena_free(arena);
    return fine;
}

void rfy_response(const rfy_ode *ode, double *x) {
    rfy_block_lu_solve(ode->lu, x);
}

void rfy_response_transposed(const rfy_ode *ode, double *x) {
    rfy_block_lu_solve_transposed(ode->lu, x);
}
