/* Our block LU against KLU: time of one factorisation and six solves, as a step of ours makes them,
 * by nodes of a line (a chain) and of a mesh, with four gases.
 *
 * usage: bench_linear */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "bench/cases.h"
#include "bench/curve.h"
#include "crosscheck/by_klu.h"
#include "solve/block_lu.h"
#include "study/system.h"
#include "support/draw.h"
#include "support/replay.h"

enum { SOLVES = 6, ROUNDS = 9 };

typedef struct matrix {
    rfy_blocks *m;
    rfy_block_lu *ours;
    test_klu *theirs;
    double *x;
    int n;
} matrix;

typedef void action(matrix *a);

static void by_ours(matrix *a) {
    rfy_block_lu_factor(a->ours, a->m, 1e3, NULL);
    for (int i = 0; i < SOLVES; i++)
        rfy_block_lu_solve(a->ours, a->x);
}

static void by_theirs(matrix *a, bool again) {
    test_klu_factor(a->theirs, a->m, 1e3, again);
    for (int i = 0; i < SOLVES; i++)
        test_klu_solve(a->theirs, a->x);
}

static void pivoting(matrix *a) {
    by_theirs(a, false);
}

static void same_pivots(matrix *a) {
    by_theirs(a, true);
}

static double time_of(matrix *a, action *act) {
    double times[ROUNDS];
    for (int k = 0; k < ROUNDS; k++) {
        double began = test_seconds(), now = began;
        int n = 0;
        do {
            for (int i = 0; i < a->n; i++)
                a->x[i] = 1e-6;
            act(a);
            n++;
        } while ((now = test_seconds()) - began < 5e-3);
        times[k] = (now - began) / n;
    }
    return bench_median(times, ROUNDS);
}

static void row(const char *name, rfy_system *system) {
    const rfy_network *net = system->network;
    rfy_arena *arena = rfy_arena_new();
    test_dice dice = {1};
    double *y = RFY_NEW(arena, (size_t)rfy_network_states(net), double),
           *pressure = RFY_NEW(arena, (size_t)rfy_network_states(net), double);
    rfy_controls *controls = rfy_controls_new(arena, net);
    matrix a = {.m = rfy_blocks_new(arena, net), .n = net->n_free * net->mixture.n};
    a.x = RFY_NEW(arena, (size_t)a.n, double);
    test_random_state(&dice, net, 1e-4, 1e3, y, controls);
    rfy_rates_jacobian(net, controls, y, pressure, a.m, NULL);
    double began = test_seconds();
    a.ours = rfy_block_lu_new(arena, a.m);
    double ordered = test_seconds();
    a.theirs = test_klu_new(arena, a.m);
    double theirs_ordered = test_seconds() - ordered;
    ordered -= began;
    double ours = time_of(&a, by_ours), klu = time_of(&a, pivoting),
           again = time_of(&a, same_pivots);
    printf("%-8s %8d %10.4f %10.4f %10.4f %8.2f %12.2f %8.2f\n", name, net->n_free, 1e3 * ours,
           1e3 * klu, 1e3 * again, again / ours, 1e3 * ordered, 1e3 * theirs_ordered);
    fflush(stdout);
    test_klu_free(a.theirs);
    rfy_arena_free(arena);
    rfy_system_free(system);
}

int main(void) {
    gsl_set_error_handler_off();
    printf("one factorisation and %d solves, 4 gases, ms            KLU with\n", SOLVES);
    printf("%-8s %8s %10s %10s %10s %8s %12s %8s\n", "", "nodes", "ours", "KLU", "same pivots",
           "/ ours", "ordering ours", "KLU");
    static const char *const cells[] = {"10", "100", "1000", "10000"};
    for (int i = 0; i < 4; i++)
        row("line", bench_read(bench_case_named("line"), "line/cells", cells[i]));
    static const int sizes[] = {10, 100, 1000, 5000};
    for (int i = 0; i < 4; i++) {
        test_dice dice = {7};
        row("mesh", test_mesh_system(&dice, sizes[i], 4));
    }
    return 0;
}
