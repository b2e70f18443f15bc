/* Cost of a run against the cells of a line, 4 gases from the atmosphere down: processor time,
 * steps and peak memory of a process each, and the exponent through all.
 *
 * usage: bench_cells [TOLERANCE [CELLS ...]]      100, 300, 1000 and 3000 cells without any */
#define _DEFAULT_SOURCE
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>
#include <gsl/gsl_errno.h>
#include "bench/cases.h"
#include "study/system.h"
#include "support/replay.h"

typedef struct answer {
    double seconds, building;
    size_t steps, rejected;
    double residue;
} answer;

static answer run(const char *cells, double tolerance) {
    const bench_case *c = bench_case_named("line");
    double began = test_seconds();
    rfy_system *system = bench_read(c, "line/cells", cells);
    answer a = {.building = test_seconds() - began};
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.tolerance = tolerance;
    options.at = c->at;
    options.n_at = BENCH_INSTANTS;
    test_replay *r =
        test_replay_new(system->network, options.method, tolerance, c->at, BENCH_INSTANTS, NULL);
    if (r->trouble) {
        fprintf(stderr, "%s cells: %s\n", cells, r->trouble);
        exit(1);
    }
    a.seconds = r->event_seconds;
    a.steps = r->driver->steps;
    a.rejected = r->driver->rejected;
    a.residue = test_replay_residue(r);
    return a;
}

int main(int argc, char **argv) {
    static char *usual[] = {"100", "300", "1000", "3000"};
    double tolerance = argc > 1 ? atof(argv[1]) : 1e-4;
    int n = argc > 2 ? argc - 2 : 4;
    char **cells = argc > 2 ? argv + 2 : usual;
    double sx = 0, sy = 0, sxx = 0, sxy = 0;
    gsl_set_error_handler_off();
    printf("a line of cells x 4 gases at %g\n%8s %10s %12s %8s %9s %12s %9s %9s\n", tolerance,
           "cells", "s", "s, building", "steps", "repeated", "us/step/cell", "balance", "peak MB");
    for (int i = 0; i < n; i++) {
        int ends[2];
        answer a;
        struct rusage used;
        fflush(stdout);
        pid_t child = pipe(ends) == 0 ? fork() : -1;
        if (child == 0) {
            a = run(cells[i], tolerance);
            _exit(write(ends[1], &a, sizeof a) == (ssize_t)sizeof a ? 0 : 1);
        }
        int status;
        if (child < 0 || wait4(child, &status, 0, &used) < 0 || status != 0 ||
            read(ends[0], &a, sizeof a) != (ssize_t)sizeof a) {
            fprintf(stderr, "%s cells failed\n", cells[i]);
            return 1;
        }
        close(ends[0]);
        close(ends[1]);
        double k = atof(cells[i]);
        printf("%8s %10.3f %12.3f %8zu %9zu %12.3f %9.1e %9.1f\n", cells[i], a.seconds, a.building,
               a.steps, a.rejected, 1e6 * a.seconds / ((double)(a.steps + a.rejected) * k),
               a.residue, (double)used.ru_maxrss / 1024);
        double x = log(k), y = log(a.seconds);
        sx += x;
        sy += y;
        sxx += x * x;
        sxy += x * y;
    }
    if (n > 1)
        printf("time goes with cells to the power %.2f\n",
               (n * sxy - sx * sy) / (n * sxx - sx * sx));
    return 0;
}
