/* Scales and labels of pictures. Spreading labels is a least-squares problem with order
 * constraints; the wanted places come from a solver that knows nothing of blocks: projection by
 * Dykstra's method (Boyle and Dykstra 1986) onto each constraint in turn. */
#include <math.h>
#include <string.h>
#include "io/chart.h"
#include "support/support.h"

static unsigned long long state = 88172645463325252ull;

static double random_unit(void) { /* xorshift, Marsaglia 2003 */
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return (double)(state >> 11) / 9007199254740992.0;
}

/* Least squares with x[i + 1] - x[i] >= gap by alternating projections with corrections. */
static void spread_by_dykstra(double *x, size_t n, double gap) {
    double correction[16][2] = {{0}};
    for (int round = 0; round < 20000; round++)
        for (size_t i = 0; i + 1 < n; i++) {
            double a = x[i] + correction[i][0], b = x[i + 1] + correction[i][1];
            double lacking = gap - (b - a);
            x[i] = lacking > 0 ? a - lacking / 2 : a;
            x[i + 1] = lacking > 0 ? b + lacking / 2 : b;
            correction[i][0] = a - x[i];
            correction[i][1] = b - x[i + 1];
        }
}

static void test_spread(void **unused) {
    (void)unused;
    for (int round = 0; round < 200; round++) {
        double x[12], wanted[12];
        size_t n = 2 + (size_t)(10 * random_unit());
        x[0] = random_unit();
        for (size_t i = 1; i < n; i++)
            x[i] = x[i - 1] + 2 * random_unit() * random_unit();
        memcpy(wanted, x, sizeof x);
        spread_by_dykstra(wanted, n, 1);
        rfy_spread_out(x, n, 1, -100, 100);
        for (size_t i = 0; i < n; i++)
            assert_true(fabs(x[i] - wanted[i]) < 1e-6);
    }
    double x[] = {9.8, 9.9, 10}, low[] = {0, 0.1, 0.2};
    rfy_spread_out(x, 3, 1, 0, 10);
    rfy_spread_out(low, 3, 1, 0, 10);
    for (int i = 0; i < 3; i++) {
        assert_true(fabs(x[i] - (8 + i)) < 1e-12);
        assert_true(fabs(low[i] - i) < 1e-12);
    }
}

static void test_decades(void **unused) {
    (void)unused;
    rfy_tick tick[RFY_MOST_TICKS];
    const rfy_scale scale = {true, 1e-6, 1e5};
    size_t n = rfy_scale_decades(&scale, 40, false, tick), major = 0;
    for (size_t i = 0; i < n; i++) {
        major += tick[i].major;
        assert_true(tick[i].value >= 1e-6 * 0.999 && tick[i].value <= 1e5 * 1.001);
        if (i)
            assert_true(tick[i].value > tick[i - 1].value);
    }
    assert_int_equal(major, 12); /* 1e-6 … 1e5 */
    assert_int_equal(n, 11 * 9 + 1);
    assert_string_equal(tick[0].label, "10⁻⁶");
    rfy_scale_decades(&scale, 40, true, tick);
    assert_string_equal(tick[0].label, "1e-6");
    /* so little room that not every decade has its label, but all labels have their room */
    n = rfy_scale_decades(&scale, 4, false, tick);
    double before = -1;
    for (size_t i = 0; i < n; i++)
        if (tick[i].label[0]) {
            double at = rfy_scale_place(&scale, tick[i].value) * 4;
            assert_true(before < 0 || at - before >= 1);
            before = at;
        }
}

static void test_times(void **unused) {
    (void)unused;
    rfy_tick tick[RFY_MOST_TICKS];
    const double span[] = {3e-3, 0.7, 8, 100, 3000, 28800, 1e6, 4e7};
    for (size_t k = 0; k < sizeof span / sizeof *span; k++) {
        const rfy_scale even = {false, 0, span[k]}, decades = {true, span[k] * 1e-5, span[k]};
        size_t labels = 0, n = rfy_scale_times(&even, 8, tick);
        for (size_t i = 0; i < n; i++)
            labels += tick[i].label[0] != '\0';
        assert_in_range(labels, 3, 13);
        n = rfy_scale_times(&decades, 6, tick);
        for (size_t i = 1; i < n; i++)
            assert_true((rfy_scale_place(&decades, tick[i].value) -
                         rfy_scale_place(&decades, tick[i - 1].value)) *
                            6 >=
                        1);
    }
    const rfy_scale hours = {false, 0, 28800};
    size_t n = rfy_scale_times(&hours, 8, tick);
    assert_true(n > 0);
    assert_string_equal(tick[0].label, "0 h");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_spread),
                                       cmocka_unit_test(test_decades),
                                       cmocka_unit_test(test_times)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
