/* RODASP as a GSL stepper: a stiffly accurate Rosenbrock-Wanner method of order 4 with an embedded
 * solution of order 3 and dense output of order 3, which keeps its order when the fast parts are
 * driven in time, as by a rotor that runs up (Steinebach 1995, "Order-reduction of ROW-methods for
 * DAEs and method of lines applications"; the frame of Hairer and Wanner, Solving Ordinary
 * Differential Equations II, 2nd ed. 1996, section IV.7). Measured here against RODAS4 of the same
 * book (also here, as a choice): 0.6 of the steps at 1e-5 on the bulb bench. One Jacobian and one
 * factorisation per step; a restart after a switching costs nothing, and linear invariants such as
 * the amount of a gas are kept to round-off. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "solve/ode.h"

enum { STAGES = 6 };

typedef struct coefficients {
    const char *name;
    double a[STAGES][STAGES - 1], c[STAGES][STAGES - 1];
    double at[STAGES], in_time[STAGES];
    double dense2[5], dense3[5];
} coefficients;

static const double gamma_ = 0.25;

static const coefficients rodasp = {
    .name = "rodas",
    .a = {{0},
          {3},
          {1.831036793486759, 0.4955183967433795},
          {2.304376582692669, -0.05249275245743001, -1.176798761832782},
          {-7.170454962423024, -4.741636671481785, -16.31002631330971, -1.062004044111401},
          {-7.170454962423024, -4.741636671481785, -16.31002631330971, -1.062004044111401, 1}},
    .c = {{0},
          {-12},
          {-8.791795173947035, -2.207865586973518},
          {10.81793056857153, 6.780270611428266, 19.53485944642410},
          {34.19095006749676, 15.49671153725963, 54.74760875964130, 14.16005392148534},
          {34.62605830930532, 15.30084976114473, 56.99955578662667, 18.40807009793095,
           -5.714285714285717}},
    .at = {0, 0.75, 0.21, 0.63, 1, 1},
    .in_time = {0.25, -0.5, -0.023504, -0.0362, 0, 0},
    .dense2 = {25.09876703708589, 11.62013104361867, 28.49148307714626, -5.664021568594133, 0},
    .dense3 = {1.638054557396973, -0.7373619806678748, 8.477918219238990, 15.99253148779520,
               -1.882352941176471},
};

static const coefficients rodas4 = {
    .name = "rodas4",
    .a = {{0},
          {1.544000000000000},
          {0.9466785280815826, 0.2557011698983284},
          {3.314825187068521, 2.896124015972201, 0.9986419139977817},
          {1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950},
          {1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950, 1}},
    .c = {{0},
          {-5.668800000000000},
          {-2.430093356833875, -0.2063599157091915},
          {-0.1073529058151375, -9.594562251023355, -20.47028614809616},
          {7.496443313967647, -10.24680431464352, -33.99990352819905, 11.70890893206160},
          {8.083246795921522, -7.981132988064893, -31.52159432874371, 16.31930543123136,
           -6.058818238834054}},
    .at = {0, 0.386, 0.21, 0.63, 1, 1},
    .in_time = {0.25, -0.1043, 0.1035, -0.03620000000000023, 0, 0},
    .dense2 = {10.12623508344586, -7.487995877610167, -34.80091861555747, -7.992771707568823,
               1.025137723295662},
    .dense3 = {-0.6762803392806898, 6.087714651680015, 16.43084320892478, 24.76722511418386,
               -6.594389125716872},
};

typedef struct rodas {
    const coefficients *with;
    size_t n;
    double *u[STAGES], *end, *y, *start;
    double *block;
} rodas;

static void *rodas_new(size_t n, const coefficients *with) {
    rodas *r = calloc(1, sizeof *r);
    if (!r)
        return NULL;
    r->with = with;
    r->n = n;
    r->block = calloc(n * (STAGES + 3), sizeof(double));
    if (!r->block) {
        free(r);
        return NULL;
    }
    for (int i = 0; i < STAGES; i++)
        r->u[i] = r->block + (size_t)i * n;
    r->end = r->block + STAGES * n;
    r->y = r->end + n;
    r->start = r->y + n;
    return r;
}

static void *rodasp_alloc(size_t n) {
    return rodas_new(n, &rodasp);
}

static void *rodas4_alloc(size_t n) {
    return rodas_new(n, &rodas4);
}

/* (fac I - J) u = rhs over the whole state: the free part by the factors, the counting entries
 * follow. */
static void solve_all(const rfy_ode *ode, double fac, double *u) {
    const rfy_blocks *m = ode->jacobian;
    const int g = m->g, gg = g * g;
    if (ode->inner)
        rfy_inner_condense(ode->inner, u);
    rfy_block_lu_solve(ode->lu, u);
    if (ode->inner)
        rfy_inner_expand(ode->inner, u);
    for (int r = m->n_columns; r < m->n_rows; r++) {
        double *own = u + r * g;
        for (int k = m->start[r]; k < m->start[r + 1]; k++) {
            const double *b = m->value + k * gg, *x = u + m->column[k] * g;
            for (int i = 0; i < g; i++)
                for (int j = 0; j < g; j++)
                    own[i] += b[i * g + j] * x[j];
        }
        for (int i = 0; i < g; i++)
            own[i] /= fac;
    }
    for (int i = 0; i < g; i++)
        u[m->n_rows * g + i] /= fac;
}

static int rodas_apply(void *state, size_t n, double t, double h, double y[], double yerr[],
                       const double dydt_in[], double dydt_out[], const gsl_odeiv2_system *sys) {
    rodas *r = state;
    const coefficients *m = r->with;
    rfy_ode *ode = sys->params;
    (void)dydt_in, (void)dydt_out;
    int status = rfy_ode_jacobian(ode, t, y);
    if (status != GSL_SUCCESS)
        return status;
    const double fac = 1 / (h * gamma_);
    if (!rfy_block_lu_factor(ode->lu, ode->jacobian, fac,
                             ode->inner ? rfy_inner_diagonal(ode->inner, fac) : NULL))
        return GSL_FAILURE;
    memcpy(r->start, y, n * sizeof *y);
    memcpy(ode->y_old, y, n * sizeof *y);
    for (int s = 0; s < STAGES; s++) {
        double *u = r->u[s];
        const double *from = y;
        if (s > 0) {
            memcpy(r->y, y, n * sizeof *y);
            for (int k = 0; k < s; k++)
                for (size_t i = 0; i < n; i++)
                    r->y[i] += m->a[s][k] * r->u[k][i];
            from = r->y;
        }
        if (s == 0)
            memcpy(u, ode->jacobian_rate, n * sizeof *u);
        else if ((status = rfy_ode_rates(ode, t + m->at[s] * h, from, u)) != GSL_SUCCESS)
            return status;
        for (int k = 0; k < s; k++) {
            double f = m->c[s][k] / h;
            for (size_t i = 0; i < n; i++)
                u[i] += f * r->u[k][i];
        }
        if (m->in_time[s] != 0)
            for (size_t i = 0; i < n; i++)
                u[i] += m->in_time[s] * h * ode->dfdt[i];
        solve_all(ode, fac, u);
    }
    for (size_t i = 0; i < n; i++) {
        double now = r->y[i] + r->u[STAGES - 1][i];
        if (!isfinite(now))
            return GSL_FAILURE;
        r->end[i] = now;
    }
    /* no amount below minus its floor (and round-off): a shorter step decides, nothing is clipped
     */
    const int g = ode->net->mixture.n;
    for (int k = 0; k < ode->net->n_free; k++) {
        const double grain = 10 * rfy_ode_grain(ode, k, y);
        for (int i = k * g; i < (k + 1) * g; i++)
            if (r->end[i] < -ode->floor[i] - grain)
                return GSL_FAILURE;
    }
    memcpy(y, r->end, n * sizeof *y);
    for (size_t i = 0; i < n; i++)
        yerr[i] = fac * r->u[STAGES - 1][i];
    solve_all(ode, fac, yerr);
    return GSL_SUCCESS;
}

void rfy_rodas_dense(const void *state, double s, double *y) {
    const rodas *r = state;
    for (size_t i = 0; i < r->n; i++) {
        double c2 = 0, c3 = 0;
        for (int k = 0; k < 5; k++) {
            c2 += r->with->dense2[k] * r->u[k][i];
            c3 += r->with->dense3[k] * r->u[k][i];
        }
        y[i] = (1 - s) * r->start[i] + s * (r->end[i] + (1 - s) * (c2 + s * c3));
    }
}

static int rodas_set_driver(void *state, const gsl_odeiv2_driver *driver) {
    (void)state, (void)driver;
    return GSL_SUCCESS;
}

static int rodas_reset(void *state, size_t n) {
    (void)state, (void)n; /* one-step: nothing is remembered */
    return GSL_SUCCESS;
}

static unsigned int rodas_order(void *state) {
    (void)state;
    return 3; /* of the error estimate: the step grows with its fourth root */
}

static void rodas_free(void *state) {
    rodas *r = state;
    if (r)
        free(r->block);
    free(r);
}

static const gsl_odeiv2_step_type rodasp_type = {"rodas",      0,           0,
                                                 rodasp_alloc, rodas_apply, rodas_set_driver,
                                                 rodas_reset,  rodas_order, rodas_free};
static const gsl_odeiv2_step_type rodas4_type = {"rodas4",     0,           0,
                                                 rodas4_alloc, rodas_apply, rodas_set_driver,
                                                 rodas_reset,  rodas_order, rodas_free};
const gsl_odeiv2_step_type *rfy_step_rodas = &rodasp_type;
const gsl_odeiv2_step_type *rfy_step_rodas4 = &rodas4_type;
