/* Our block LU against KLU on fac I - J of networks: two codes that share nothing but the matrix.
 * Every gas counts alike: solutions are compared in parts of its amount, traces beside an
 * atmosphere too. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "crosscheck/by_klu.h"
#include "solve/ode.h"
#include "study/system.h"
#include "support/draw.h"
#include "support/replay.h"

typedef struct equations {
    const rfy_blocks *m;
    double fac;
    int n;
    bool transposed;
    const double *right;
} equations;

/* right - (fac I - J) x with 64 bits of mantissa. */
static void left_over(const equations *e, const long double *x, double *out) {
    const rfy_blocks *m = e->m;
    const int g = m->g;
    long double *rest = calloc((size_t)e->n, sizeof *rest);
    assert_non_null(rest);
    for (int i = 0; i < e->n; i++)
        rest[i] = e->right[i] - e->fac * x[i];
    for (int r = 0; r < m->n_columns; r++)
        for (int k = m->start[r]; k < m->start[r + 1]; k++)
            for (int i = 0; i < g; i++)
                for (int j = 0; j < g; j++) {
                    int row = r * g + i, column = m->column[k] * g + j;
                    double v = m->value[(k * g + i) * g + j];
                    if (e->transposed)
                        rest[column] += v * x[row];
                    else
                        rest[row] += v * x[column];
                }
    for (int i = 0; i < e->n; i++)
        out[i] = (double)rest[i];
    free(rest);
}

static void by_klu(test_klu *k, bool transposed, double *x) {
    if (transposed)
        test_klu_solve_transposed(k, x);
    else
        test_klu_solve(k, x);
}

/* KLU's solution, mended until nothing changes: what both are measured by. */
static void exact(test_klu *k, const equations *e, const double *first, long double *x) {
    double *change = calloc((size_t)e->n, sizeof *change);
    assert_non_null(change);
    for (int i = 0; i < e->n; i++)
        x[i] = first[i];
    for (int round = 0; round < 4; round++) {
        left_over(e, x, change);
        by_klu(k, e->transposed, change);
        for (int i = 0; i < e->n; i++)
            x[i] += change[i];
    }
    free(change);
}

typedef struct errors {
    double ours, theirs;
} errors;

static double error_of(const double *x, const long double *wanted, const double *weight, int n) {
    double most = 0, worst = 0;
    for (int i = 0; i < n; i++)
        most = fmax(most, fabs((double)wanted[i] * weight[i]));
    for (int i = 0; i < n; i++)
        worst = fmax(worst, fabs((double)(x[i] - wanted[i])) * weight[i] /
                                (fabs((double)wanted[i]) * weight[i] + 0.01 * most));
    return worst;
}

/* Solutions of random right-hand sides at a state, for steps from microseconds to hours. 1e-8, or
 * where the matrix is too near to singular for that (gas that a long step only moves to and fro),
 * no worse than ten times KLU's own; the worst of four right-hand sides of each, since a single one
 * may be lucky. */
static void compare(test_dice *dice, const rfy_network *net, const double *y,
                    const rfy_controls *controls, const char *what, errors *worst) {
    rfy_arena *arena = rfy_arena_new();
    const int n = net->n_free * net->mixture.n;
    rfy_blocks *m = rfy_blocks_new(arena, net);
    double *pressure = RFY_NEW(arena, (size_t)rfy_network_states(net), double);
    rfy_rates_jacobian(net, controls, y, pressure, m, NULL);
    rfy_block_lu *ours = rfy_block_lu_new(arena, m);
    test_klu *theirs = test_klu_new(arena, m);
    assert_non_null(theirs);
    double *x = RFY_NEW(arena, (size_t)n, double), *z = RFY_NEW(arena, (size_t)n, double),
           *right = RFY_NEW(arena, (size_t)n, double), *weight = RFY_NEW(arena, (size_t)n, double);
    long double *wanted = RFY_NEW(arena, (size_t)n, long double);
    for (double h = 1e-6; h < 1e5; h *= 100) {
        equations e = {m, 1 / (0.25 * h), n, false, right};
        assert_true(rfy_block_lu_factor(ours, m, e.fac, NULL));
        assert_true(test_klu_factor(theirs, m, e.fac, false));
        double a = 0, b = 0;
        for (int k = 0; k < 4; k++) {
            e.transposed = k % 2;
            for (int i = 0; i < n; i++) {
                double size = fabs(y[i]) + RFY_PRESSURE_FLOOR * net->node[i / m->g].volume /
                                               (RFY_R * net->node[i / m->g].temperature);
                weight[i] = e.transposed ? size : 1 / size;
                x[i] = z[i] = right[i] = test_between(dice, -1, 1) / weight[i];
            }
            if (e.transposed)
                rfy_block_lu_solve_transposed(ours, x);
            else
                rfy_block_lu_solve(ours, x);
            by_klu(theirs, e.transposed, z);
            exact(theirs, &e, z, wanted);
            a = fmax(a, error_of(x, wanted, weight, n));
            b = fmax(b, error_of(z, wanted, weight, n));
        }
        worst->ours = fmax(worst->ours, a);
        worst->theirs = fmax(worst->theirs, b);
        if (!(a <= 1e-8 || a <= 10 * b))
            fail_msg("%s, step %g s: ours is off by %.1e, KLU by %.1e", what, h, a, b);
    }
    test_klu_free(theirs);
    rfy_arena_free(arena);
}

static void tell(const char *what, const rfy_network *net, const errors *worst) {
    printf("%-36s %5d nodes x %d gases: ours within %.1e, KLU %.1e\n", what, net->n_free,
           net->mixture.n, worst->ours, worst->theirs);
}

static void at_random_states(test_dice *dice, rfy_system *system, const char *what) {
    const rfy_network *net = system->network;
    rfy_arena *arena = rfy_arena_new();
    double *y = RFY_NEW(arena, (size_t)rfy_network_states(net), double);
    errors worst = {0, 0};
    rfy_controls *controls = rfy_controls_new(arena, net);
    static const double ranges[3][2] = {{1e-8, 1e-3}, {1e-6, 1e5}, {1e3, 1e5}};
    for (int k = 0; k < 3; k++) {
        test_random_state(dice, net, ranges[k][0], ranges[k][1], y, controls);
        compare(dice, net, y, controls, what, &worst);
    }
    tell(what, net, &worst);
    rfy_arena_free(arena);
    rfy_system_free(system);
}

static void examples(void **state) {
    (void)state;
    static const char *const paths[] = {
        "examples/photocell-bulb.json", "examples/bell-jar-coater.json",
        "examples/dewar-jacket.json", "examples/desiccator-short-hose.json",
        "examples/desiccator-long-hose.json"};
    test_dice dice = {4};
    for (size_t i = 0; i < sizeof paths / sizeof *paths; i++) {
        char *text = test_read_file(paths[i], NULL);
        at_random_states(&dice, test_system(text), paths[i]);
        free(text);
    }
}

static void meshes(void **state) {
    (void)state;
    test_dice dice = {300};
    at_random_states(&dice, test_mesh_system(&dice, 300, 4), "a mesh");
    at_random_states(&dice, test_mesh_system(&dice, 40, 7), "a small mesh");
}

/* A thousand cells at the pressures of a pump-down from the atmosphere. */
static void chains(void **state) {
    (void)state;
    enum { INSTANTS = 5 };
    const double at[INSTANTS] = {0.1, 5, 60, 1000, 14400};
    test_dice dice = {1000};
    char *text = test_read_file("tests/bench/networks/long-line.json", NULL);
    rfy_system *system = test_system(text);
    free(text);
    test_replay *r = test_replay_new(system->network, RFY_METHOD_RODAS, 1e-4, at, INSTANTS, NULL);
    assert_null(r->trouble);
    errors worst = {0, 0};
    for (int i = 0; i < INSTANTS; i++) {
        rfy_sim_controls(r->driver, at[i], r->controls);
        compare(&dice, r->net, r->y[i], r->controls, "a long line", &worst);
    }
    tell("a long line", r->net, &worst);
    test_replay_free(r);
    rfy_system_free(system);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(examples), cmocka_unit_test(meshes),
                                       cmocka_unit_test(chains)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
