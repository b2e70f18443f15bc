/* The photocell bench again with CVODE (variable-order BDF, dense), between the same switchings,
 * from the same right-hand side and Jacobian: what it checks is the time stepping, not the physics.
 * CVODE keeps its own state all the way. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <cvode/cvode.h>
#include <gsl/gsl_errno.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>
#include "solve/simulate_parts.h"
#include "study/system.h"
#include "support/sketch.h"

enum { INSTANTS = 10, MOST = 200 };

typedef struct snapshot { /* what drives the system from `time` on */
    double time;
    rfy_motion *valve, *pump;
    double *wall_since;
} snapshot;

typedef struct record {
    rfy_arena *arena;
    int n_snapshots, n_outputs;
    snapshot snapshot[MOST];
    double time[INSTANTS], *y[INSTANTS];
} record;

static void *copy(rfy_arena *arena, const void *from, size_t n, size_t size) {
    void *to = rfy_arena_alloc(arena, n, size);
    memcpy(to, from, n * size);
    return to;
}

static void on_event(void *context, rfy_sim *sim, double time, const double *y, rfy_event_kind kind,
                     const char *what) {
    record *r = context;
    const rfy_network *net = sim->net;
    (void)y, (void)what;
    if (kind != RFY_EVENT_START && kind != RFY_EVENT_ACTION && kind != RFY_EVENT_MACHINE &&
        kind != RFY_EVENT_WALL)
        return;
    assert_true(r->n_snapshots < MOST);
    r->snapshot[r->n_snapshots++] =
        (snapshot){time, copy(r->arena, sim->valve, (size_t)net->n_valves, sizeof *sim->valve),
                   copy(r->arena, sim->pump, (size_t)net->n_pumps, sizeof *sim->pump),
                   copy(r->arena, sim->wall_since, (size_t)net->n_nodes, sizeof *sim->wall_since)};
}

static void on_output(void *context, rfy_sim *sim, double time, const double *y) {
    record *r = context;
    r->time[r->n_outputs] = time;
    r->y[r->n_outputs++] = copy(r->arena, y, (size_t)sim->ode->n, sizeof *y);
}

/* ---- for CVODE ---- */

typedef struct problem {
    rfy_sim *sim; /* its motions are set to the snapshot's */
    double base;  /* CVODE's time is local */
    rfy_controls *controls;
    rfy_blocks *blocks;
    double *pressure;
} problem;

static int rates(realtype t, N_Vector y, N_Vector rate, void *user) {
    problem *k = user;
    rfy_sim_controls(k->sim, k->base + t, k->controls);
    rfy_rates(k->sim->net, k->controls, N_VGetArrayPointer(y), N_VGetArrayPointer(rate),
              k->pressure);
    return 0;
}

static int jacobian(realtype t, N_Vector y, N_Vector rate, SUNMatrix out, void *user, N_Vector a,
                    N_Vector b, N_Vector c) {
    problem *k = user;
    (void)rate, (void)a, (void)b, (void)c;
    const int g = k->blocks->g;
    rfy_sim_controls(k->sim, k->base + t, k->controls);
    rfy_rates_jacobian(k->sim->net, k->controls, N_VGetArrayPointer(y), k->pressure, k->blocks,
                       NULL);
    SUNMatZero(out);
    for (int r = 0; r < k->blocks->n_rows; r++)
        for (int e = k->blocks->start[r]; e < k->blocks->start[r + 1]; e++)
            for (int i = 0; i < g; i++)
                for (int j = 0; j < g; j++)
                    SM_ELEMENT_D(out, r * g + i, k->blocks->column[e] * g + j) =
                        k->blocks->value[e * g * g + i * g + j];
    return 0;
}

static void steps_like_cvode(void **state) {
    (void)state;
    char *text = test_read_file("examples/photocell-bulb.json", NULL);
    rfy_system *system = test_system(text);
    free(text);
    const rfy_network *net = system->network;
    assert_int_equal(net->n_bursts, 0);
    const double rtol = 1e-9, at[INSTANTS] = {0.5, 5, 20, 45, 90, 170, 400, 2000, 10000, 28800};
    record r = {.arena = rfy_arena_new()};
    rfy_observer observer = {.event = on_event, .output = on_output, .context = &r};
    rfy_sim_options options = {.tolerance = rtol, .at = at, .n_at = INSTANTS};
    rfy_sim *sim = rfy_sim_new(net, &options, &observer);
    assert_non_null(sim);
    double *start =
        copy(r.arena, rfy_sim_state(sim), (size_t)rfy_network_states(net), sizeof *start);
    assert_int_equal(rfy_sim_run(sim), RFY_OK);
    assert_int_equal(r.n_outputs, INSTANTS);
    assert_true(r.n_snapshots > 8);

    const int n = rfy_network_states(net), g = net->mixture.n;
    problem k = {.sim = sim,
                 .controls = rfy_controls_new(r.arena, net),
                 .blocks = rfy_blocks_new(r.arena, net),
                 .pressure = RFY_NEW(r.arena, (size_t)n, double)};
    SUNContext context;
    assert_int_equal(SUNContext_Create(NULL, &context), 0);
    N_Vector y = N_VNew_Serial(n, context), floor = N_VNew_Serial(n, context);
    memcpy(N_VGetArrayPointer(y), start, (size_t)n * sizeof *start);
    for (int i = 0; i < n; i++) /* what only counts is not tested */
        N_VGetArrayPointer(floor)[i] = isinf(sim->ode->floor[i]) ? 1e3 : sim->ode->floor[i];
    SUNMatrix matrix = SUNDenseMatrix(n, n, context);
    SUNLinearSolver solver = SUNLinSol_Dense(y, matrix, context);
    void *cvode = CVodeCreate(CV_BDF, context);
    assert_int_equal(CVodeInit(cvode, rates, 0, y), CV_SUCCESS);
    assert_int_equal(CVodeSVtolerances(cvode, rtol, floor), CV_SUCCESS);
    assert_int_equal(CVodeSetUserData(cvode, &k), CV_SUCCESS);
    assert_int_equal(CVodeSetLinearSolver(cvode, solver, matrix), CV_SUCCESS);
    assert_int_equal(CVodeSetJacFn(cvode, jacobian), CV_SUCCESS);
    CVodeSetMaxNumSteps(cvode, 200000);

    /* snapshots come in order of time; an instant may have several, the last counts */
    int out = 0;
    double *p = RFY_NEW(r.arena, (size_t)(net->n_nodes * g), double),
           *q = RFY_NEW(r.arena, (size_t)(net->n_nodes * g), double);
    for (int s = 0; s < r.n_snapshots; s++) {
        const snapshot *now = &r.snapshot[s];
        double to = s + 1 < r.n_snapshots ? r.snapshot[s + 1].time : net->until;
        assert_true(to >= now->time);
        if (to == now->time)
            continue;
        memcpy(sim->valve, now->valve, (size_t)net->n_valves * sizeof *sim->valve);
        memcpy(sim->pump, now->pump, (size_t)net->n_pumps * sizeof *sim->pump);
        memcpy(sim->wall_since, now->wall_since, (size_t)net->n_nodes * sizeof *sim->wall_since);
        k.base = now->time;
        assert_int_equal(CVodeReInit(cvode, 0, y), CV_SUCCESS);
        CVodeSetStopTime(cvode, to - now->time);
        bool done = false;
        while (!done) {
            bool output = out < INSTANTS && at[out] <= to;
            double goal = output ? at[out] : to;
            realtype reached = 0;
            done = goal == to;
            if (goal > now->time)
                assert_true(CVode(cvode, goal - now->time, y, &reached, CV_NORMAL) >= 0);
            if (!output)
                continue;
            rfy_pressures(net, NULL, N_VGetArrayPointer(y), p);
            rfy_pressures(net, NULL, r.y[out], q);
            for (int i = 0; i < net->n_free * g; i++)
                assert_close(q[i], p[i], 1e-6, 1e-12, "%s in %s after %g s",
                             net->mixture.name[i % g], net->node[i / g].name, at[out]);
            out++;
        }
    }
    assert_int_equal(out, INSTANTS);

    CVodeFree(&cvode);
    SUNLinSolFree(solver);
    SUNMatDestroy(matrix);
    N_VDestroy(floor);
    N_VDestroy(y);
    SUNContext_Free(&context);
    rfy_sim_free(sim);
    rfy_arena_free(r.arena);
    rfy_system_free(system);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(steps_like_cvode)};
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
