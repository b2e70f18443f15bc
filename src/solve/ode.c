#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "core/lanes.h"
#include "solve/ode.h"

#define ROUND_OFF 1e-14 /* of the amounts in a node, in terms of their sum */

rfy_ode *rfy_ode_new(rfy_arena *arena, const rfy_network *net, double rtol) {
    rfy_ode *ode = RFY_NEW(arena, 1, rfy_ode);
    const int n = rfy_network_states(net), g = net->mixture.n;
    ode->net = net;
    ode->n = n;
    ode->rtol = rtol;
    ode->floor = RFY_NEW(arena, (size_t)n, double);
    for (int i = 0; i < n; i++)
        ode->floor[i] = INFINITY;
    for (int k = 0; k < net->n_free; k++)
        for (int i = 0; i < g; i++)
            ode->floor[k * g + i] = rtol * RFY_PRESSURE_FLOOR * net->node[k].volume /
                                    (RFY_R * net->node[k].temperature);
    for (int i = 0; i < net->n_stores; i++)
        for (int j = 0; j < net->store[i].n; j++)
            ode->floor[net->store[i].first + j] = rtol * net->store[i].grain[j];
    ode->inner = rfy_inner_new(arena, net);
    ode->controls = rfy_controls_new(arena, net);
    ode->jacobian = rfy_blocks_new(arena, net);
    ode->lu = rfy_block_lu_new(arena, ode->jacobian);
    ode->pressure = RFY_NEW(arena, (size_t)(net->n_nodes * g), double);
    ode->y_old = RFY_NEW(arena, (size_t)n, double);
    ode->dfdt = RFY_NEW(arena, (size_t)n, double);
    ode->jacobian_y = RFY_NEW(arena, (size_t)n, double);
    ode->jacobian_rate = RFY_NEW(arena, (size_t)n, double);
    ode->scratch = RFY_NEW(arena, (size_t)n, double);
    rfy_ode_stale(ode);
    return ode;
}

void rfy_ode_stale(rfy_ode *ode) {
    ode->controls_at = ode->jacobian_t = NAN;
    ode->last_error = 0;
    ode->was_refused = false;
}

static void controls_at(rfy_ode *ode, double t) {
    if (ode->controls_at == t)
        return;
    ode->set_controls(ode->context, t, ode->controls, &ode->moving);
    ode->controls_at = t;
}

/* One test for all: a sum with a NaN or an infinity in it is not finite. */
static bool all_finite(const rfy_ode *ode, const double *rate) {
    rfy_v4 sum = {0}, four;
    int i = 0;
    for (; i + RFY_LANES <= ode->n; i += RFY_LANES) {
        memcpy(&four, rate + i, sizeof four);
        sum += rfy_magnitude(four);
    }
    double all = sum[0] + sum[1] + sum[2] + sum[3];
    for (; i < ode->n; i++)
        all += fabs(rate[i]);
    return isfinite(all);
}

/* GSL halves the step on any failure; give up when that does not help. */
int rfy_ode_failed(rfy_ode *ode) {
    return ++ode->failures > 60 ? GSL_EBADFUNC : GSL_FAILURE;
}

void rfy_ode_stage(rfy_ode *ode, double t, const double *y, double *rate) {
    controls_at(ode, t);
    rfy_rates(ode->net, ode->controls, y, rate, ode->pressure);
    ode->rhs++;
}

int rfy_ode_rates(rfy_ode *ode, double t, const double *y, double *rate) {
    rfy_ode_stage(ode, t, y, rate);
    if (!all_finite(ode, rate))
        return rfy_ode_failed(ode);
    ode->failures = 0;
    return GSL_SUCCESS;
}

int rfy_ode_jacobian(rfy_ode *ode, double t, const double *y) {
    const int g = ode->net->mixture.n, free = ode->net->n_free * g;
    if (ode->jacobian_t == t && memcmp(ode->jacobian_y, y, (size_t)ode->n * sizeof *y) == 0)
        return GSL_SUCCESS;
    ode->jacobians++;
    ode->jacobian_t = NAN;
    controls_at(ode, t);
    rfy_rates_jacobian(ode->net, ode->controls, y, ode->pressure, ode->jacobian,
                       ode->jacobian_rate);
    if (!all_finite(ode, ode->jacobian_rate))
        return rfy_ode_failed(ode);
    if (ode->inner)
        rfy_inner_jacobian(ode->inner, ode->controls, y, ode->pressure);
    if (ode->controls->heating) {
        /* temperatures rise evenly: a forward difference in time is as good as exact */
        double dt = 1e-7 * (1 + fabs(t));
        int status = rfy_ode_rates(ode, t + dt, y, ode->scratch);
        if (status != GSL_SUCCESS)
            return status;
        for (int i = 0; i < ode->n; i++)
            ode->dfdt[i] = (ode->scratch[i] - ode->jacobian_rate[i]) / dt;
    } else {
        memset(ode->dfdt, 0, (size_t)ode->n * sizeof *ode->dfdt);
        memcpy(ode->dfdt, ode->controls->emission_slope, (size_t)free * sizeof *ode->dfdt);
        for (int i = 0; i < g; i++)
            ode->dfdt[ode->net->n_nodes * g + i] = -ode->controls->from_walls_slope[i];
        if (ode->moving)
            rfy_rates_by_motion(ode->net, ode->controls, ode->pressure, ode->dfdt);
    }
    ode->jacobian_t = t;
    memcpy(ode->jacobian_y, y, (size_t)ode->n * sizeof *y);
    return GSL_SUCCESS;
}

static int gsl_rates(double t, const double y[], double rate[], void *params) {
    return rfy_ode_rates(params, t, y, rate);
}

static int gsl_jacobian(double t, const double y[], double *dfdy, double dfdt[], void *params) {
    rfy_ode *ode = params;
    int status = rfy_ode_jacobian(ode, t, y);
    if (status != GSL_SUCCESS)
        return status;
    const rfy_blocks *m = ode->jacobian;
    const int g = m->g, gg = g * g;
    size_t n = (size_t)ode->n;
    memset(dfdy, 0, n * n * sizeof *dfdy);
    for (int r = 0; r < m->n_rows; r++)
        for (int k = m->start[r]; k < m->start[r + 1]; k++)
            for (int i = 0; i < g; i++)
                for (int j = 0; j < g; j++)
                    dfdy[(size_t)(r * g + i) * n + (size_t)(m->column[k] * g + j)] =
                        m->value[k * gg + i * g + j];
    if (ode->inner)
        rfy_inner_dense(ode->inner, dfdy, n);
    memcpy(dfdt, ode->dfdt, n * sizeof *dfdt);
    return GSL_SUCCESS;
}

void rfy_ode_system(rfy_ode *ode, gsl_odeiv2_system *system) {
    *system = (gsl_odeiv2_system){gsl_rates, gsl_jacobian, (size_t)ode->n, ode};
}

double rfy_ode_grain(const rfy_ode *ode, int node, const double *y) {
    const int g = ode->net->mixture.n;
    double sum = 0;
    for (int i = 0; i < g; i++)
        sum += fabs(y[node * g + i]);
    return ROUND_OFF * sum;
}

double rfy_ode_size(const rfy_ode *ode, int i, const double *y) {
    const double own = fabs(y[i]),
                 least = ode->trace > 0
                             ? ode->trace * rfy_ode_grain(ode, i / ode->net->mixture.n, y)
                             : 0;
    return own > least ? own : least;
}

void rfy_ode_totals_only(rfy_ode *ode) {
    ode->trace = 0.01 / ROUND_OFF;
}

/* ---- step-size control ---- */

static void *control_alloc(void) {
    return calloc(1, sizeof(rfy_ode *));
}

static int control_init(void *state, double eps_abs, double eps_rel, double a_y, double a_dydt) {
    (void)state, (void)eps_abs, (void)eps_rel, (void)a_y, (void)a_dydt;
    return GSL_SUCCESS;
}

/* Total pressure that the amounts y (or their errors) make in a node; 0 for fixed ones. */
static double sum_of_pressures(const rfy_network *net, int node, const double *y) {
    const rfy_node *n = &net->node[node];
    const int g = net->mixture.n;
    double sum = 0;
    if (n->fixed)
        return 0;
    for (int i = 0; i < g; i++)
        sum += y[node * g + i];
    return sum * RFY_R * n->temperature / n->volume;
}

/* Error of the pressure differences along viscous lines, over what is allowed. They are small parts
 * of the pressures, below the tolerance, and yet the flow there goes as a root or bends with the
 * Reynolds number: a step that is accurate in every pressure can leave the differences between
 * neighbours as noise, which the next linearised step hands on. A third of each difference is
 * accuracy enough to keep them in order. */
static double pressure_drop_error(const rfy_ode *ode, const double *y, const double *yerr) {
    const rfy_network *net = ode->net;
    double worst = 0;
    for (int e = 0; e < net->n_edges; e++) {
        const rfy_edge *edge = &net->edge[e];
        if (!edge->stretch || net->node[edge->from].fixed || net->node[edge->to].fixed)
            continue;
        double a = sum_of_pressures(net, edge->from, y), b = sum_of_pressures(net, edge->to, y);
        double p = a > b ? a : b;
        if (p < 30)
            continue;
        double was = fabs(sum_of_pressures(net, edge->from, ode->y_old) -
                          sum_of_pressures(net, edge->to, ode->y_old));
        double now = fabs(a - b), most = now > was ? now : was;
        double err =
            fabs(sum_of_pressures(net, edge->from, yerr) - sum_of_pressures(net, edge->to, yerr));
        double r = err / (0.3 * most + 1e-9 * p);
        if (r > worst)
            worst = r;
    }
    return worst;
}

double rfy_ode_step_error(const rfy_ode *ode, const double *y, const double *yerr) {
    const int g = ode->net->mixture.n;
    double worst = 0;
    for (int k = 0; k < ode->net->n_free; k++) {
        const double grain = rfy_ode_grain(ode, k, ode->y_old), least = ode->trace * grain;
        for (int i = k * g; i < (k + 1) * g; i++) {
            if (y[i] < -ode->floor[i] - 10 * grain)
                worst = INFINITY; /* whatever the method says of its error */
            double old = fabs(ode->y_old[i]), now = fabs(y[i]), size = old > now ? old : now;
            double e =
                fabs(yerr[i]) / (ode->floor[i] + grain + ode->rtol * (size > least ? size : least));
            if (e > worst)
                worst = e;
            else if (isnan(e))
                worst = INFINITY;
        }
    }
    for (int i = rfy_network_inner(ode->net); i < ode->n; i++) {
        double old = fabs(ode->y_old[i]), now = fabs(y[i]);
        double e = fabs(yerr[i]) / (ode->floor[i] + ode->rtol * (old > now ? old : now));
        if (e > worst)
            worst = e;
        else if (isnan(e))
            worst = INFINITY;
    }
    double across = pressure_drop_error(ode, y, yerr);
    return across > worst ? across : worst;
}

static int control_hadjust(void *state, size_t n, unsigned int order, const double y[],
                           const double yerr[], const double yp[], double *h) {
    rfy_ode *ode = *(rfy_ode **)state;
    (void)n, (void)yp;
    double worst = rfy_ode_step_error(ode, y, yerr);
    double factor = worst > 0 ? 0.9 * pow(worst, -1.0 / (order + 1.0)) : 6;
    if (worst > 1) {
        ode->was_refused = true;
        *h *= factor < 0.1 ? 0.1 : factor > 0.7 ? 0.7 : factor;
        return GSL_ODEIV_HADJ_DEC;
    }
    /* predictive control (Gustafsson 1994, "Control-theoretic techniques for stepsize selection in
     * implicit Runge-Kutta methods"): as the error grew from the last step to this, so it will on
     */
    if (ode->last_error > 0 && worst > 0) {
        double trend =
            0.9 * *h / ode->last_h * pow(ode->last_error / (worst * worst), 1.0 / (order + 1.0));
        factor = trend < factor ? trend : factor;
    }
    if (ode->was_refused && factor > 1)
        factor = 1;
    ode->was_refused = false;
    ode->last_h = *h;
    ode->last_error = worst > 0.01 ? worst : 0.01;
    *h *= factor > 6 ? 6 : factor < 0.5 ? 0.5 : factor;
    return factor > 1 ? GSL_ODEIV_HADJ_INC : GSL_ODEIV_HADJ_NIL;
}

static int control_errlevel(void *state, const double y, const double dydt, const double h,
                            const size_t i, double *level) {
    const rfy_ode *ode = *(rfy_ode **)state;
    (void)dydt, (void)h;
    *level = ode->floor[i] + ode->rtol * fabs(y);
    return *level > 0 ? GSL_SUCCESS : GSL_FAILURE;
}

static int control_set_driver(void *state, const gsl_odeiv2_driver *driver) {
    (void)state, (void)driver;
    return GSL_SUCCESS;
}

static const gsl_odeiv2_control_type control_type = {
    "max over states", control_alloc,      control_init, control_hadjust,
    control_errlevel,  control_set_driver, free};

gsl_odeiv2_control *rfy_control_new(rfy_ode *ode) {
    gsl_odeiv2_control *control = gsl_odeiv2_control_alloc(&control_type);
    if (control)
        *(rfy_ode **)control->state = ode;
    return control;
}
