#include "crosscheck/by_cvode.h"
#include <math.h>
#include <string.h>
#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>
#ifdef RAREFY_CVODE_KLU
#include <sunlinsol/sunlinsol_klu.h>
#include <sunmatrix/sunmatrix_sparse.h>
#endif

typedef struct problem {
    test_replay *replay;
    const test_cvode *options;
    double *floor, *value;
    sunindextype *start, *column; /* of compressed rows */
} problem;

static int rates(realtype t, N_Vector y, N_Vector rate, void *user) {
    problem *p = user;
    if (p->replay->stop && *p->replay->stop)
        return -1;
    return test_replay_rates(p->replay, t, N_VGetArrayPointer(y), N_VGetArrayPointer(rate)) ? 0 : 1;
}

static int jacobian(realtype t, N_Vector y, N_Vector rate, SUNMatrix out, void *user, N_Vector a,
                    N_Vector b, N_Vector c) {
    problem *p = user;
    const test_replay *r = p->replay;
    (void)rate, (void)a, (void)b, (void)c;
#ifdef RAREFY_CVODE_KLU
    if (p->options->klu) { /* CVODE has wiped all of it */
        memcpy(SM_INDEXPTRS_S(out), p->start, ((size_t)r->n + 1) * sizeof *p->start);
        memcpy(SM_INDEXVALS_S(out), p->column, (size_t)r->entries * sizeof *p->column);
        test_replay_jacobian(p->replay, t, N_VGetArrayPointer(y), SM_DATA_S(out));
        return 0;
    }
#endif
    test_replay_jacobian(p->replay, t, N_VGetArrayPointer(y), p->value);
    SUNMatZero(out);
    for (int i = 0; i < r->n; i++)
        for (int k = r->row_start[i]; k < r->row_start[i + 1]; k++)
            SM_ELEMENT_D(out, i, r->entry_column[k]) = p->value[k];
    return 0;
}

/* The same weights as ours: floor, round-off beside a larger gas, tolerance. Of the round-off only
 * a hundredth: Newton's iteration stops at what the weights allow, and would leave a trace gas
 * there. */
static int weights(N_Vector y, N_Vector weight, void *user) {
    problem *p = user;
    const rfy_network *net = p->replay->net;
    const int g = net->mixture.n;
    const double *at = N_VGetArrayPointer(y);
    double *w = N_VGetArrayPointer(weight);
    for (int k = 0; k < net->n_free; k++) {
        const double grain = 0.01 * rfy_ode_grain(p->replay->driver->ode, k, at);
        for (int i = k * g; i < (k + 1) * g; i++)
            w[i] = 1 / (p->options->rtol * (fabs(at[i]) + p->floor[i]) + grain);
    }
    for (int i = p->replay->n_free; i < p->replay->n; i++)
        w[i] = 1 / (p->options->rtol * (fabs(at[i]) + p->floor[i]));
    return 0;
}

static void apply(void *cvode, const test_cvode *o) {
    if (o->max_order > 0)
        CVodeSetMaxOrd(cvode, o->max_order);
    if (o->eta_max > 0)
        CVodeSetEtaMax(cvode, o->eta_max);
    if (o->eta_first > 0)
        CVodeSetEtaMaxFirstStep(cvode, o->eta_first);
    if (o->jacobian_age > 0)
        CVodeSetJacEvalFrequency(cvode, o->jacobian_age);
    if (o->setup_age > 0)
        CVodeSetLSetupFrequency(cvode, o->setup_age);
    if (o->nonlinear > 0)
        CVodeSetNonlinConvCoef(cvode, o->nonlinear);
    if (o->gamma_change > 0)
        CVodeSetDeltaGammaMaxLSetup(cvode, o->gamma_change);
    CVodeSetMaxNumSteps(cvode, 2000000);
    CVodeSetMaxErrTestFails(cvode, 20);
    CVodeSetMaxConvFails(cvode, 30);
}

static void quiet(int code, const char *module, const char *function, char *message, void *user) {
    (void)code, (void)module, (void)function, (void)message, (void)user;
}

static int along(void *cvode, test_replay *r, const test_cvode *o, int i, N_Vector y, double **out,
                 size_t *next, double *where) {
    const test_segment *s = &r->segment[i];
    const size_t bytes = (size_t)r->n * sizeof(double);
    double local = 0, end = s->to - s->from;
    test_replay_enter(r, i);
    while (local < end) {
        double stop = o->bends ? test_replay_next_bend(r, i, local) : end;
        r->controls_at = NAN;
        int flag = CVodeReInit(cvode, local, y);
        CVodeSetStopTime(cvode, stop);
        while (flag >= 0 && local < stop) {
            bool output =
                *next < r->n_at && r->at[*next] <= s->to && r->at[*next] - s->from <= stop;
            double goal = output ? r->at[*next] - s->from : stop;
            realtype reached = local;
            flag = goal > local ? CVode(cvode, goal, y, &reached, CV_NORMAL) : 0;
            if (flag < 0)
                break;
            local = goal;
            if (output)
                memcpy(out[(*next)++], N_VGetArrayPointer(y), bytes);
        }
        if (flag < 0) {
            *where = s->from + local;
            return flag;
        }
    }
    return 0;
}

bool test_by_cvode(test_replay *r, const test_cvode *o, double **out, double *end,
                   test_cvode_stats *stats) {
    const int n = r->n;
    SUNContext context;
    if (SUNContext_Create(NULL, &context) != 0)
        return false;
    rfy_arena *arena = rfy_arena_new();
    problem p = {.replay = r,
                 .options = o,
                 .floor = RFY_NEW(arena, (size_t)n, double),
                 .value = RFY_NEW(arena, (size_t)r->entries, double),
                 .start = RFY_NEW(arena, (size_t)n + 1, sunindextype),
                 .column = RFY_NEW(arena, (size_t)r->entries, sunindextype)};
    test_replay_floor(r, p.floor);
    for (int i = 0; i <= n; i++)
        p.start[i] = r->row_start[i];
    for (int i = 0; i < r->entries; i++)
        p.column[i] = r->entry_column[i];
    N_Vector y = N_VNew_Serial(n, context), rate = N_VNew_Serial(n, context);
    test_replay_reduce(r, r->start, N_VGetArrayPointer(y));
    SUNMatrix matrix;
    SUNLinearSolver solver;
#ifdef RAREFY_CVODE_KLU
    if (o->klu) {
        matrix = SUNSparseMatrix(n, n, r->entries, CSR_MAT, context);
        test_replay_enter(r, 0);
        jacobian(0, y, rate, matrix, &p, NULL, NULL, NULL);
        solver = SUNLinSol_KLU(y, matrix, context);
        SUNLinSol_KLUSetOrdering(solver, 0); /* AMD: the pattern is symmetric */
    } else
#endif
    {
        matrix = SUNDenseMatrix(n, n, context);
        solver = SUNLinSol_Dense(y, matrix, context);
    }
    void *cvode = CVodeCreate(CV_BDF, context);
    CVodeSetErrHandlerFn(cvode, quiet, NULL);
    int flag = CVodeInit(cvode, rates, 0, y);
    if (flag == 0)
        flag = CVodeWFtolerances(cvode, weights);
    if (flag == 0)
        flag = CVodeSetUserData(cvode, &p);
    if (flag == 0)
        flag = CVodeSetLinearSolver(cvode, solver, matrix);
    if (flag == 0)
        flag = CVodeSetJacFn(cvode, jacobian);
    apply(cvode, o);
    size_t next = 0;
    test_cvode_stats s = {0}, part;
    for (int i = 0; flag == 0 && i < r->n_segments; i++) {
        flag = along(cvode, r, o, i, y, out, &next, &s.failed_at);
        CVodeGetNumSteps(cvode, &part.steps);
        CVodeGetNumJacEvals(cvode, &part.jacobians);
        CVodeGetNumLinSolvSetups(cvode, &part.setups);
        CVodeGetNumNonlinSolvIters(cvode, &part.newtons);
        s.steps += part.steps;
        s.jacobians += part.jacobians;
        s.setups += part.setups;
        s.newtons += part.newtons;
    }
    s.flag = flag;
    if (end)
        memcpy(end, N_VGetArrayPointer(y), (size_t)n * sizeof(double));
    if (stats)
        *stats = s;
    CVodeFree(&cvode);
    SUNLinSolFree(solver);
    SUNMatDestroy(matrix);
    N_VDestroy(y);
    N_VDestroy(rate);
    SUNContext_Free(&context);
    rfy_arena_free(arena);
    return flag == 0 && next == r->n_at;
}
