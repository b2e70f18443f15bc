/* The benchmarks' networks as tests: each run ends, in a sane number of steps, and keeps its gas.
 */
#include <math.h>
#include <stdlib.h>
#include <gsl/gsl_errno.h>
#include "support/support.h"

static const struct {
    const char *path;
    double kept; /* wanted: 1e-10 */
    size_t most_steps;
} rows[] = {
    {"examples/photocell-bulb.json", 1e-10, 1000},
    {"tests/bench/networks/valve-opening.json", 1e-10, 4000},
    /* air let in and pumped out again is booked as its small difference, and the residue is told in
     * parts of that */
    {"tests/bench/networks/envelope-break.json", 1e-10, 3000},
    {"tests/bench/networks/outgassing-cycle.json", 1e-10, 2000},
    {"tests/bench/networks/bake-cycle.json", 1e-10, 1300},
    /* inverses of whole blocks lose digits in viscous flow: see crosscheck/test_klu.c */
    {"tests/bench/networks/long-line.json", 1e-10, 600},
};

static void end_and_balance(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char *text = test_read_file(rows[i].path, NULL);
        rfy_system *system = test_system(text);
        free(text);
        rfy_run_options options = RFY_RUN_OPTIONS_INIT;
        rfy_result *result = test_run(system, &options, RFY_OK);
        double worst = 0;
        for (size_t g = 0; g < result->n_gases; g++)
            worst = fmax(worst, fabs(result->balance[g].residue));
        printf("%-44s %5zu steps, %4zu repeated, balance %.1e\n", rows[i].path,
               result->solver.steps, result->solver.rejected, worst);
        assert_close(worst, 0, 0, rows[i].kept, "balance of %s", rows[i].path);
        if (result->solver.steps > rows[i].most_steps)
            fail_msg("%s: %zu steps", rows[i].path, result->solver.steps);
        for (size_t k = 0; k < result->n_times * result->n_chambers * result->n_gases; k++)
            assert_true(result->partial[k] >= 0 && isfinite(result->partial[k]));
        rfy_result_free(result);
        rfy_system_free(system);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(end_and_balance)};
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
