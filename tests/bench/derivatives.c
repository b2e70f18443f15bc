/* What derivatives cost: processor time of a run that carries those of 20 numbers along, over that
 * of the same run without, both measured in turn in this process (the networks of the 20 neighbours
 * included), for every example; and how far the times of targets' derivatives at that tolerance are
 * from those at one a thousandth of it.
 *
 * usage: derivatives [TOLERANCE [NUMBERS]]      3e-4 and 20 without any
 *        derivatives plain|with FILE            one run, for counting instructions in it
 *                                               (derivatives.sh) */
#define _POSIX_C_SOURCE 200809L
#include <glob.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "bench/curve.h"
#include "study/sensitivity.h"
#include "support/replay.h"
#include "support/support.h"

/* Seen by name from outside, so that the count begins and ends with them. */
#define COUNTED __attribute__((noinline))
double derivatives_plain(const rfy_system *system, double tolerance);
double derivatives_with(const rfy_system *system, const rfy_sensitivity_options *o);

COUNTED double derivatives_plain(const rfy_system *system, double tolerance) {
    rfy_sim_options o = {.tolerance = tolerance};
    double began = test_seconds();
    rfy_sim *sim = rfy_sim_new(system->network, &o, NULL);
    rfy_sim_run(sim);
    rfy_sim_free(sim);
    return test_seconds() - began;
}

COUNTED double derivatives_with(const rfy_system *system, const rfy_sensitivity_options *o) {
    rfy_arena *arena = rfy_arena_new();
    double began = test_seconds();
    rfy_sensitivities_of(arena, system, o);
    double spent = test_seconds() - began;
    rfy_arena_free(arena);
    return spent;
}

/* Greatest difference of the exponents of times, over their size or a hundredth. */
static double error(const rfy_system *system, rfy_sensitivity_options o) {
    rfy_arena *arena = rfy_arena_new();
    const rfy_sensitivities *now = rfy_sensitivities_of(arena, system, &o);
    o.tolerance *= 1e-3;
    const rfy_sensitivities *better = rfy_sensitivities_of(arena, system, &o);
    double worst = 0;
    for (size_t i = 0; i < now->n_targets * o.n_parameters; i++) {
        const double t = better->target_time[i / o.n_parameters];
        const double e = fabs(now->target_time_by[i] - better->target_time_by[i]) /
                         fmax(fabs(better->target_time_by[i]), 0.01 * t);
        if (e > worst)
            worst = e;
    }
    rfy_arena_free(arena);
    return worst;
}

static rfy_sensitivity_options options_of(rfy_arena *arena, const rfy_system *system,
                                          double tolerance, size_t wanted) {
    rfy_sensitivity_options o = {.tolerance = tolerance, .targets_only = true};
    o.parameter = rfy_parameters_all(arena, system, &o.n_parameters);
    o.n_parameters = o.n_parameters < wanted ? o.n_parameters : wanted;
    return o;
}

static int one(const char *what, const char *path) {
    char *text = test_read_file(path, NULL);
    rfy_system *system = test_system(text);
    rfy_arena *arena = rfy_arena_new();
    const rfy_sensitivity_options o = options_of(arena, system, 3e-4, 20);
    if (strcmp(what, "plain") == 0)
        derivatives_plain(system, o.tolerance);
    else
        derivatives_with(system, &o);
    rfy_arena_free(arena);
    rfy_system_free(system);
    free(text);
    return 0;
}

int main(int argc, char **argv) {
    if (argc == 3 && (strcmp(argv[1], "plain") == 0 || strcmp(argv[1], "with") == 0)) {
        gsl_set_error_handler_off();
        return one(argv[1], argv[2]);
    }
    double tolerance = argc > 1 ? atof(argv[1]) : 3e-4;
    size_t wanted = argc > 2 ? (size_t)atol(argv[2]) : 20;
    glob_t files;
    gsl_set_error_handler_off();
    if (glob(RAREFY_SOURCE_DIR "/examples/*.json", 0, NULL, &files) != 0)
        return 1;
    printf("derivatives of up to %zu numbers at %g\n%-28s %8s %9s %9s %8s %10s\n", wanted,
           tolerance, "", "numbers", "ms plain", "ms with", "ratio", "error");
    for (size_t i = 0; i < files.gl_pathc; i++) {
        char *text = test_read_file(files.gl_pathv[i], NULL);
        rfy_system *system = test_system(text);
        rfy_arena *arena = rfy_arena_new();
        const rfy_sensitivity_options o = options_of(arena, system, tolerance, wanted);
        double bare[BENCH_ROUNDS], carried[BENCH_ROUNDS], ratio[BENCH_ROUNDS];
        for (int k = 0; k < BENCH_ROUNDS; k++) {
            bare[k] = derivatives_plain(system, tolerance);
            carried[k] = derivatives_with(system, &o);
            ratio[k] = carried[k] / bare[k];
        }
        printf("%-28s %8zu %9.2f %9.2f %8.2f %10.1e\n", strrchr(files.gl_pathv[i], '/') + 1,
               o.n_parameters, 1e3 * bench_median(bare, BENCH_ROUNDS),
               1e3 * bench_median(carried, BENCH_ROUNDS), bench_median(ratio, BENCH_ROUNDS),
               error(system, o));
        rfy_arena_free(arena);
        rfy_system_free(system);
        free(text);
    }
    globfree(&files);
    return 0;
}
