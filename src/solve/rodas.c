/* RODAS5P as a GSL stepper: a stiffly accurate Rosenbrock-Wanner method of order 5 with an embedded
 * solution of order 4 and dense output of order 4, which keeps its order when the fast parts are
 * driven in time, as by a rotor that runs up (Steinebach 2023, "Construction of Rosenbrock-Wanner
 * method Rodas5P and numerical benchmarks within the Julia Differential Equations package", BIT 63,
 * 27; the frame of Hairer and Wanner, Solving Ordinary Differential Equations II, 2nd ed. 1996,
 * section IV.7). Chosen by measurement; its elder sisters of order 4 are here for comparison:
 * RODASP (Steinebach 1995, "Order-reduction of ROW-methods for DAEs and method of lines
 * applications") and RODAS4 (Hairer and Wanner). On the bulb bench at 1e-4 RODASP takes 1.4 and
 * RODAS4 1.7 times the steps, with three to ten times the error in the times of the targets. One
 * Jacobian and one factorisation per step; a restart after a switching costs nothing, and linear
 * invariants such as the amount of a gas are kept to round-off. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "core/lanes.h"
#include "solve/ode.h"
#include "solve/rodas_method.h"

enum { MOST_STAGES = RFY_MOST_STAGES, ABREAST = 4, CHUNK = ABREAST * RFY_LANES };

typedef rfy_rodas_method coefficients;

static const coefficients rodasp = {
    .stages = 6,
    .order = 3,
    .gamma = 0.25,
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
    .dense = {{25.09876703708589, 11.62013104361867, 28.49148307714626, -5.664021568594133, 0},
              {1.638054557396973, -0.7373619806678748, 8.477918219238990, 15.99253148779520,
               -1.882352941176471}},
};

static const coefficients rodas4 = {
    .stages = 6,
    .order = 3,
    .gamma = 0.25,
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
    .dense = {{10.12623508344586, -7.487995877610167, -34.80091861555747, -7.992771707568823,
               1.025137723295662},
              {-0.6762803392806898, 6.087714651680015, 16.43084320892478, 24.76722511418386,
               -6.594389125716872}},
};

static const coefficients rodas5p = {
    .stages = 8,
    .order = 4,
    .gamma = 0.21193756319429014,
    .a = {{0},
          {3},
          {2.849394379747939, 0.45842242204463923},
          {-6.954028509809101, 2.489845061869568, -10.358996098473584},
          {2.8029986275628964, 0.5072464736228206, -0.3988312541770524, -0.04721187230404641},
          {-7.502846399306121, 2.561846144803919, -11.627539656261098, -0.18268767659942256,
           0.030198172008377946},
          {-7.502846399306121, 2.561846144803919, -11.627539656261098, -0.18268767659942256,
           0.030198172008377946, 1},
          {-7.502846399306121, 2.561846144803919, -11.627539656261098, -0.18268767659942256,
           0.030198172008377946, 1, 1}},
    .c = {{0},
          {-14.155112264123755},
          {-17.97296035885952, -2.859693295451294},
          {147.12150275711716, -1.41221402718213, 71.68940251302358},
          {165.43517024871676, -0.4592823456491126, 42.90938336958603, -5.961986721573306},
          {24.854864614690072, -3.0009227002832186, 47.4931110020768, 5.5814197821558125,
           -0.6610691825249471},
          {30.91273214028599, -3.1208243349937974, 77.79954646070892, 34.28646028294783,
           -19.097331116725623, -28.087943162872662},
          {37.80277123390563, -3.2571969029072276, 112.26918849496327, 66.9347231244047,
           -40.06618937091002, -54.66780262877968, -9.48861652309627}},
    .at = {0, 0.6358126895828704, 0.4095798393397535, 0.9769306725060716, 0.4288403609558664, 1, 1,
           1},
    .in_time = {0.21193756319429014, -0.42387512638858027, -0.3384627126235924, 1.8046452872882734,
                2.325825639765069},
    .dense = {{25.948786856663858, -2.5579724845846235, 10.433815404888879, -2.3679251022685204,
               0.524948541321073, 1.1241088310450404, 0.4272876194431874, -0.17202221070155493},
              {-9.91568850695171, -0.9689944594115154, 3.0438037242978453, -24.495224566215796,
               20.176138334709044, 15.98066361424651, -6.789040303419874, -6.710236069923372},
              {11.419903575922262, 2.8879645146136994, 72.92137995996029, 80.12511834622643,
               -52.072871366152654, -59.78993625266729, -0.15582684282751913, 4.883087185713722}},
};

typedef struct rodas {
    const coefficients *with;
    size_t n, padded; /* states; of a vector with room to whole chunks, zeros behind the states */
    double *u[MOST_STAGES], *end, *y, *start;
    double *drive, *inside, *zero; /* df/dt; what is asked for inside the step; no change */
    double *block;
} rodas;

static void *rodas_new(size_t n, const coefficients *with) {
    rodas *r = calloc(1, sizeof *r);
    if (!r)
        return NULL;
    r->with = with;
    r->n = n;
    r->padded = (n + CHUNK - 1) / CHUNK * CHUNK;
    const size_t bytes = r->padded * (MOST_STAGES + 6) * sizeof(double);
    r->block = aligned_alloc(sizeof(rfy_v4), bytes);
    if (!r->block) {
        free(r);
        return NULL;
    }
    memset(r->block, 0, bytes);
    for (int i = 0; i < MOST_STAGES; i++)
        r->u[i] = r->block + (size_t)i * r->padded;
    r->end = r->block + MOST_STAGES * r->padded;
    r->y = r->end + r->padded;
    r->start = r->y + r->padded;
    r->drive = r->start + r->padded;
    r->inside = r->drive + r->padded;
    r->zero = r->inside + r->padded;
    return r;
}

static void *rodasp_alloc(size_t n) {
    return rodas_new(n, &rodasp);
}

static void *rodas4_alloc(size_t n) {
    return rodas_new(n, &rodas4);
}

static void *rodas5p_alloc(size_t n) {
    return rodas_new(n, &rodas5p);
}

/* out = from + sum of a[k] times u[k] over whole chunks; all lie in the block of one stepper. */
RFY_WIDE
static void combine(const rodas *r, double *out, const double *from, int count, const double *a,
                    double *const *u) {
    for (size_t i = 0; i < r->padded; i += CHUNK) {
        rfy_v4 sum[ABREAST];
        RFY_UNROLL
        for (int v = 0; v < ABREAST; v++)
            sum[v] = ((const rfy_v4 *)(from + i))[v];
        for (int k = 0; k < count; k++) {
            const rfy_v4 *of = (const rfy_v4 *)(u[k] + i);
            const double f = a[k];
            RFY_UNROLL
            for (int v = 0; v < ABREAST; v++)
                sum[v] += f * of[v];
        }
        RFY_UNROLL
        for (int v = 0; v < ABREAST; v++)
            ((rfy_v4 *)(out + i))[v] = sum[v];
    }
}

/* (fac I - J) u = rhs over the whole state: the free part by the factors, the counting entries
 * follow. */
static void solve_all(const rfy_ode *ode, double fac, double *u) {
    const rfy_blocks *m = ode->jacobian;
    const int g = m->g;
    if (ode->inner)
        rfy_inner_condense(ode->inner, u);
    rfy_block_lu_solve(ode->lu, u);
    if (ode->inner)
        rfy_inner_expand(ode->inner, u);
    if (ode->uncounted)
        return;
    rfy_block_lu_count(ode->lu, fac, u);
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
    const double fac = 1 / (h * m->gamma);
    if (!rfy_block_lu_factor(ode->lu, ode->jacobian, fac,
                             ode->inner ? rfy_inner_diagonal(ode->inner, fac) : NULL))
        return GSL_FAILURE;
    if (!ode->uncounted)
        rfy_block_lu_take_counts(ode->lu, ode->jacobian);
    memcpy(r->start, y, n * sizeof *y);
    memcpy(r->drive, ode->dfdt, n * sizeof *y);
    memcpy(ode->y_old, y, n * sizeof *y);
    for (int s = 0; s < m->stages; s++) {
        double *u = r->u[s];
        const double *from = r->start;
        if (s > 0) {
            combine(r, r->y, r->start, s, m->a[s], r->u);
            from = r->y;
        }
        if (s == 0)
            memcpy(u, ode->jacobian_rate, n * sizeof *u);
        else
            rfy_ode_stage(ode, t + m->at[s] * h, from, u);
        double weight[MOST_STAGES + 1], *of[MOST_STAGES + 1];
        for (int k = 0; k < s; k++) {
            weight[k] = m->c[s][k] / h;
            of[k] = r->u[k];
        }
        weight[s] = m->in_time[s] * h;
        of[s] = r->drive;
        combine(r, u, u, m->in_time[s] != 0 ? s + 1 : s, weight, of);
        solve_all(ode, fac, u);
    }
    for (size_t i = 0; i < n; i++) {
        double now = r->y[i] + r->u[m->stages - 1][i];
        if (!isfinite(now)) /* every stage is part of it */
            return rfy_ode_failed(ode);
        r->end[i] = now;
    }
    ode->failures = 0;
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
        yerr[i] = r->u[m->stages - 1][i];
    return GSL_SUCCESS;
}

/* The stages and `more` vectors of the block with their weights, into a vector of the caller. */
static void combine_inside(const rodas *r, const double *weight, int more, double *const *vector,
                           double *out) {
    double *of[MOST_STAGES + 2];
    memcpy(of, r->u, sizeof r->u);
    memcpy(of + r->with->stages, vector, (size_t)more * sizeof *vector);
    combine(r, r->inside, r->zero, r->with->stages + more, weight, of);
    memcpy(out, r->inside, r->n * sizeof *out);
}

void rfy_rodas_dense(const void *state, double s, double *y) {
    const rodas *r = state;
    const coefficients *m = r->with;
    double weight[MOST_STAGES + 2], *const ends[] = {r->start, r->end};
    for (int k = 0; k < m->stages; k++)
        weight[k] = s * (1 - s) * (m->dense[0][k] + s * (m->dense[1][k] + s * m->dense[2][k]));
    weight[m->stages] = 1 - s;
    weight[m->stages + 1] = s;
    combine_inside(r, weight, 2, ends, y);
}

void rfy_rodas_slope(const void *state, double s, double h, double *slope) {
    const rodas *r = state;
    const coefficients *m = r->with;
    double weight[MOST_STAGES + 1], *const rise[] = {r->inside};
    for (int k = 0; k < m->stages; k++) {
        const double d0 = m->dense[0][k], d1 = m->dense[1][k], d2 = m->dense[2][k];
        weight[k] = (d0 + s * (2 * (d1 - d0) + s * (3 * (d2 - d1) - 4 * s * d2))) / h;
    }
    for (size_t i = 0; i < r->n; i++)
        r->inside[i] = r->end[i] - r->start[i];
    weight[m->stages] = 1 / h;
    combine_inside(r, weight, 1, rise, slope);
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
    return ((const rodas *)state)->with->order;
}

static void rodas_free(void *state) {
    rodas *r = state;
    if (r)
        free(r->block);
    free(r);
}

#define STEPPER(name, with)                                                                        \
    {                                                                                              \
        name, 0, 0, with##_alloc, rodas_apply, rodas_set_driver, rodas_reset, rodas_order,         \
            rodas_free                                                                             \
    }
static const gsl_odeiv2_step_type rodas5p_type = STEPPER("rodas", rodas5p),
                                  rodasp_type = STEPPER("rodasp", rodasp),
                                  rodas4_type = STEPPER("rodas4", rodas4);
const gsl_odeiv2_step_type *rfy_step_rodas = &rodas5p_type, *rfy_step_rodasp = &rodasp_type,
                           *rfy_step_rodas4 = &rodas4_type;
const rfy_rodas_method *const rfy_rodas_linear = &rodasp;
