/* Whole runs of random systems: whatever the user joins together, the run ends, balances, and does
 * not depend on the tolerance by more than it should. The generator is seeded; a failure names its
 * trial. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "support/draw.h"

enum { TRIALS = 60 };

static rfy_result *run(const rfy_system *system, double tolerance) {
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.tolerance = tolerance;
    rfy_result *result = NULL;
    rfy_run(&result, system, &options);
    return result;
}

static void runs_end_and_balance(void **state) {
    (void)state;
    test_dice dice = {77};
    for (int trial = 0; trial < TRIALS; trial++) {
        rfy_system *system = test_random_system(&dice, 2 + test_below(&dice, 9),
                                                test_below(&dice, 5), 1 + test_below(&dice, 8));
        rfy_result *rough = run(system, 0), *fine = run(system, 1e-6);
        const rfy_result *both[2] = {rough, fine};
        for (int k = 0; k < 2; k++) {
            const rfy_result *r = both[k];
            if (r->status != RFY_OK)
                fail_msg("trial %d, tolerance %g: %s", trial, r->solver.tolerance, r->trouble);
            if (r->solver.steps > 20000)
                fail_msg("trial %d, tolerance %g: %zu steps", trial, r->solver.tolerance,
                         r->solver.steps);
            for (size_t g = 0; g < r->n_gases; g++)
                /* not 1e-10: wide tubes at high pressure, standing, make h |J| some 1e12, and the
                 * linear solves leave that times round-off */
                assert_close(r->balance[g].residue, 0, 0, 1e-6, "trial %d: balance of %s", trial,
                             r->gas[g]);
            for (size_t i = 0; i < r->n_times * r->n_chambers * r->n_gases; i++)
                assert_true(r->partial[i] >= 0 && isfinite(r->partial[i]));
            assert_true(r->ultimate.found);
        }
        size_t a = rough->n_times - 1, b = fine->n_times - 1,
               n = rough->n_chambers * rough->n_gases;
        for (size_t i = 0; i < n; i++)
            assert_close(rough->partial[a * n + i], fine->partial[b * n + i], 1e-2, 1e-9,
                         "trial %d: %s in %s at the end", trial, rough->gas[i % rough->n_gases],
                         rough->chamber[i / rough->n_gases]);
        rfy_result_free(fine);
        rfy_result_free(rough);
        rfy_system_free(system);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(runs_end_and_balance)};
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
