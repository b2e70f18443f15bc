/* A line cut into cells: the same steady flow, and convergence of the transient with the number of
 * cells. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include "support/support.h"

static rfy_system *pipe(int cells, const char *pressure, const char *material) {
    char text[2000];
    snprintf(text, sizeof text,
             "{\"rarefy\": 1, \"gases\": [\"N2\"], \"chambers\": ["
             "{\"name\": \"bottle\", \"reservoir\": {\"N2\": \"%s\"}},"
             "{\"name\": \"end\", \"volume\": \"1 L\", \"start\": {\"N2\": \"%s\"}}],"
             "\"lines\": [{\"name\": \"pipe\", \"between\": [\"bottle\", \"end\"], \"cells\": %d,"
             "\"pieces\": [{\"tube\": {\"bore\": \"16 mm\", \"length\": \"4 m\"%s}}]}],"
             "\"pumps\": [{\"name\": \"pump\", \"kind\": \"ideal\", \"from\": \"end\", \"to\": "
             "\"ambient\","
             "\"speed\": \"1 L/s\"}], \"run\": {\"until\": \"1 h\", \"tolerance\": 1e-8}}",
             pressure, pressure, cells, material);
    return test_system(text);
}

static double end_pressure(int cells, const char *pressure) {
    rfy_system *system = pipe(cells, pressure, "");
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    rfy_result *result = NULL;
    assert_int_equal(rfy_find_ultimate(&result, system, &options), RFY_OK);
    assert_true(result->ultimate.found);
    double p = result->ultimate.total[0];
    rfy_result_free(result);
    rfy_system_free(system);
    return p;
}

/* In molecular and in laminar flow the n cells of n-fold conductance pass exactly what the whole
 * passes (the flow depends on p, or on p^2, only through the difference of the ends). */
static void steady_flow_is_the_same(void **state) {
    (void)state;
    static const char *const levels[] = {"1e-6 Pa", "1e-3 Pa", "1 Pa", "100 Pa"};
    for (int k = 0; k < 4; k++) {
        double whole = end_pressure(1, levels[k]);
        for (int n = 2; n <= 64; n *= 2) {
            double cut = end_pressure(n, levels[k]);
            /* the inertia of the one cell that carries it sees another pressure: 1e-3 at 100 Pa */
            assert_close(cut, whole, k < 3 ? 2e-6 : 1e-3, 0, "%s in %d cells", levels[k], n);
        }
    }
}

static double time_with(const char *cells) {
    char text[1200];
    snprintf(text, sizeof text,
             "{\"rarefy\": 1, \"gases\": [\"N2\"], \"chambers\": ["
             "{\"name\": \"far\", \"volume\": \"0.2 L\", \"start\": {\"N2\": \"1e-3 Pa\"}},"
             "{\"name\": \"near\", \"volume\": \"0.2 L\", \"start\": {\"N2\": \"1e-3 Pa\"}}],"
             "\"lines\": [{\"name\": \"pipe\", \"between\": [\"far\", \"near\"], %s,"
             "\"pieces\": [\"tube 25 mm x 4 m\"]}],"
             "\"pumps\": [{\"name\": \"pump\", \"kind\": \"ideal\", \"from\": \"near\", \"to\": "
             "\"ambient\","
             "\"speed\": \"10 L/s\"}],"
             "\"targets\": [{\"name\": \"t\", \"chamber\": \"far\", \"pressure\": \"1e-4 Pa\"}],"
             "\"run\": {\"until\": \"1 h\", \"tolerance\": 1e-9}}",
             cells);
    rfy_system *system = test_system(text);
    rfy_result *result = test_run(system, NULL, RFY_OK);
    assert_true(result->target[0].reached);
    double t = result->target[0].time;
    rfy_result_free(result);
    rfy_system_free(system);
    return t;
}

static double time_to(int cells) {
    char text[40];
    snprintf(text, sizeof text, "\"cells\": %d", cells);
    return time_with(text);
}

/* Cells chosen by the program keep the error they were asked for, and not a hundredth of it. */
static void cells_are_chosen(void **state) {
    (void)state;
    double exact = time_to(256), before = 0;
    static const double allowed[] = {0.1, 0.01, 0.001, 0.0001};
    for (int k = 0; k < 4; k++) {
        char text[40];
        snprintf(text, sizeof text, "\"cell_error\": %g", allowed[k]);
        double error = fabs(time_with(text) / exact - 1);
        printf("asked for %g, found %.2g\n", allowed[k], error);
        assert_true(error < allowed[k] && error > 0.01 * allowed[k]);
        assert_true(k == 0 || error < before);
        before = error;
    }
}

/* The volume of the tube spread along it: central differences, so the error falls with the square
 * of the cells. */
static void transient_converges(void **state) {
    (void)state;
    double t[7];
    for (int k = 0; k < 7; k++)
        t[k] = time_to(1 << k);
    for (int k = 0; k + 2 < 7; k++) {
        double order = log2(fabs(t[k + 1] - t[k]) / fabs(t[k + 2] - t[k + 1]));
        printf("%3d cells: %.9g s, observed order %.2f\n", 1 << k, t[k], order);
        if (k >= 1)
            assert_close(order, 2, 0.08, 0, "order at %d cells", 1 << k);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steady_flow_is_the_same),
        cmocka_unit_test(transient_converges),
        cmocka_unit_test(cells_are_chosen),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
