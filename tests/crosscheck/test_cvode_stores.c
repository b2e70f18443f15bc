/* A bench whose walls remember, baked and gettered, again with CVODE (variable-order BDF, dense)
 * between the same bends of temperature, from the same right-hand side and dense Jacobian: what it
 * checks is the time stepping and the elimination of inner states, not the physics. */
#include <math.h>
#include <string.h>
#include <cvode/cvode.h>
#include <gsl/gsl_errno.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>
#include "solve/simulate_parts.h"
#include "study/system.h"
#include "support/sketch.h"

enum { INSTANTS = 8 };

typedef struct record {
    rfy_arena *arena;
    int n;
    double *y[INSTANTS];
} record;

static void on_output(void *context, rfy_sim *sim, double time, const double *y) {
    record *r = context;
    const size_t n = (size_t)sim->ode->n;
    (void)time;
    r->y[r->n] = RFY_NEW(r->arena, n, double);
    memcpy(r->y[r->n++], y, n * sizeof *y);
}

typedef struct problem {
    gsl_odeiv2_system system;
    double *dense, *dfdt;
} problem;

static int rates(realtype t, N_Vector y, N_Vector rate, void *user) {
    problem *p = user;
    return p->system.function(t, N_VGetArrayPointer(y), N_VGetArrayPointer(rate), p->system.params);
}

static int jacobian(realtype t, N_Vector y, N_Vector rate, SUNMatrix out, void *user, N_Vector a,
                    N_Vector b, N_Vector c) {
    problem *p = user;
    (void)rate, (void)a, (void)b, (void)c;
    const size_t n = p->system.dimension;
    int status = p->system.jacobian(t, N_VGetArrayPointer(y), p->dense, p->dfdt, p->system.params);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++)
            SM_ELEMENT_D(out, (sunindextype)i, (sunindextype)j) = p->dense[i * n + j];
    return status;
}

static void holds_gas_like_cvode(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'H2O', 'H2'], 'chambers': [{'name': 'can', 'volume': '3 L', "
        "'start': {'N2': '10 Pa', 'H2O': '5 Pa'}, 'walls': [{'material': 'stainless steel', "
        "'condition': 'cleaned', 'area': '0.2 m2', 'model': 'adsorbed water', 'sticking': 0.02}, "
        "{'material': 'stainless steel', 'area': '0.2 m2', 'gas': 'H2', 'model': 'diffusion', "
        "'thickness': '1 mm'}], 'getters': [{'getter': 'non-evaporable strip', 'area': '5 cm2', "
        "'active_from': '6 h'}]}, {'name': 'mouth', 'volume': '0.2 L'}],"
        " 'lines': [{'name': 'neck', 'between': ['can', 'mouth'], 'pieces': ['tube 16 mm x 0.2 "
        "m']}],"
        " 'pumps': [{'name': 'p', 'kind': 'ideal', 'from': 'mouth', 'to': 'ambient', 'speed': '15 "
        "L/s'}], 'bakes': [{'chambers': ['can'], 'from': '1 h', 'temperature': '120 degC', 'ramp': "
        "'2 K/min', 'soak': '2 h', 'cool': '1 K/min'}], 'run': {'until': '8 h'}}");
    const rfy_network *net = system->network;
    const double rtol = 1e-8, at[INSTANTS] = {10, 600, 3600, 5000, 9000, 15000, 21600, 28800};
    record r = {.arena = rfy_arena_new()};
    rfy_observer observer = {.output = on_output, .context = &r};
    rfy_sim_options options = {.tolerance = rtol, .at = at, .n_at = INSTANTS};
    rfy_sim *ours = rfy_sim_new(net, &options, &observer);
    assert_int_equal(rfy_sim_run(ours), RFY_OK);
    assert_int_equal(r.n, INSTANTS);

    /* another simulation serves as the right-hand side; it never steps */
    rfy_sim *sim = rfy_sim_new(net, &options, NULL);
    const int n = sim->ode->n, inner = rfy_network_inner(net), g = net->mixture.n;
    problem p = {.dense = RFY_NEW(r.arena, (size_t)n * (size_t)n, double),
                 .dfdt = RFY_NEW(r.arena, (size_t)n, double)};
    rfy_ode_system(sim->ode, &p.system);
    SUNContext context;
    assert_int_equal(SUNContext_Create(NULL, &context), 0);
    N_Vector y = N_VNew_Serial(n, context), floor = N_VNew_Serial(n, context);
    rfy_start_state(net, N_VGetArrayPointer(y));
    for (int i = 0; i < n; i++) /* what only counts is not tested */
        N_VGetArrayPointer(floor)[i] = isinf(sim->ode->floor[i]) ? 1e3 : sim->ode->floor[i];
    SUNMatrix matrix = SUNDenseMatrix(n, n, context);
    SUNLinearSolver solver = SUNLinSol_Dense(y, matrix, context);
    void *cvode = CVodeCreate(CV_BDF, context);
    assert_int_equal(CVodeInit(cvode, rates, 0, y), CV_SUCCESS);
    assert_int_equal(CVodeSVtolerances(cvode, rtol, floor), CV_SUCCESS);
    assert_int_equal(CVodeSetUserData(cvode, &p), CV_SUCCESS);
    assert_int_equal(CVodeSetLinearSolver(cvode, solver, matrix), CV_SUCCESS);
    assert_int_equal(CVodeSetJacFn(cvode, jacobian), CV_SUCCESS);
    CVodeSetMaxNumSteps(cvode, 200000);

    double from = 0, worst = 0, worst_held = 0;
    for (int out = 0; from < net->until;) {
        sim->time = sim->base = from;
        rfy_ode_stale(sim->ode);
        double to = rfy_sim_heat_break(sim);
        to = to < net->until ? to : net->until;
        assert_int_equal(CVodeReInit(cvode, 0, y), CV_SUCCESS);
        CVodeSetStopTime(cvode, to - from);
        for (bool done = false; !done;) {
            bool output = out < INSTANTS && at[out] <= to;
            double goal = output ? at[out] : to;
            realtype reached = 0;
            done = goal == to;
            if (goal > from)
                assert_true(CVode(cvode, goal - from, y, &reached, CV_NORMAL) >= 0);
            if (!output)
                continue;
            const double *theirs = N_VGetArrayPointer(y), *mine = r.y[out];
            for (int i = 0; i < net->n_free * g; i++) {
                double off = fabs(mine[i] - theirs[i]) / (fabs(theirs[i]) + 1e-18);
                worst = fmax(worst, off);
                assert_true(off < 2e-6);
            }
            for (int i = inner; i < n; i++) {
                double off =
                    fabs(mine[i] - theirs[i]) / (fabs(theirs[i]) + 1e3 * sim->ode->floor[i] / rtol);
                worst_held = fmax(worst_held, off);
                assert_true(off < 2e-5);
            }
            out++;
        }
        from = to;
    }
    print_message("gas within %.1e, what is held within %.1e of CVODE's\n", worst, worst_held);

    CVodeFree(&cvode);
    SUNLinSolFree(solver);
    SUNMatDestroy(matrix);
    N_VDestroy(floor);
    N_VDestroy(y);
    SUNContext_Free(&context);
    rfy_sim_free(sim);
    rfy_sim_free(ours);
    rfy_arena_free(r.arena);
    rfy_system_free(system);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(holds_gas_like_cvode)};
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
