/* Intervals of fitted unknowns against what is known in closed form, and against scans of closed
 * forms on fine grids that share no code with the fit. */
#include "support/support.h"
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* One vessel on a pump of constant speed, with a leak: p = (p0 - Q/S) exp(-S t/V) + Q/S. */
static const char vessel[] =
    "{\"rarefy\": 1, \"gases\": [\"air\"],"
    " \"chambers\": [{\"name\": \"vessel\", \"volume\": \"10 L\","
    "   \"leaks\": [{\"rate\": \"1e-3 Pa m3/s\"}]}],"
    " \"pumps\": [{\"name\": \"pump\", \"kind\": \"ideal\", \"from\": \"vessel\", \"to\": "
    "\"ambient\","
    "   \"speed\": \"1 L/s\"}],"
    " \"gauges\": [{\"name\": \"gauge\", \"at\": \"vessel\", \"kind\": \"capacitance\"}],"
    " \"run\": {\"until\": \"10 min\"}}";

#define P0 101325.0
#define V  0.01

enum { MOST = 60 };

typedef struct record {
    size_t n;
    double t[MOST], p[MOST];
} record;

static double pressure(double t, double speed, double leak) {
    return (P0 - leak / speed) * exp(-speed * t / V) + leak / speed;
}

static void draw(record *r, size_t n, double first, double last, double speed, double leak,
                 double noise, unsigned long seed) {
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, seed);
    r->n = n;
    for (size_t i = 0; i < n; i++) {
        r->t[i] = first * pow(last / first, (double)i / (double)(n - 1));
        r->p[i] = pressure(r->t[i], speed, leak) * exp(noise * gsl_ran_gaussian(rng, 1));
    }
    gsl_rng_free(rng);
}

static rfy_fit_result *fit(const record *r, const char *const *paths, size_t n, const char *prior,
                           double noise) {
    static rfy_log log;
    rfy_system *system = test_system(vessel);
    log = (rfy_log){.name = "made", .n = r->n, .time = r->t, .pressure = r->p};
    rfy_fit_options o = RFY_FIT_OPTIONS_INIT;
    o.free = paths;
    o.n_free = n;
    o.prior = &prior;
    o.n_prior = prior ? 1 : 0;
    o.noise = noise;
    rfy_fit_result *out;
    rfy_problems *problems = rfy_problems_new("made");
    assert_int_equal(rfy_fit(&out, system, &log, &o, problems), RFY_OK);
    rfy_problems_free(problems);
    rfy_system_free(system);
    return out;
}

static const char *const both[] = {"vessel/leaks/0/rate", "pump/speed"};

/* Long after the pump-down p = Q/S: ln p is linear in ln Q. Then the interval is Student's of a
 * mean: mean of ln p +- t s/sqrt(n) (any text on statistics). */
static void one_linear_unknown_has_students_interval(void **state) {
    (void)state;
    record r;
    for (unsigned long seed = 1; seed <= 3; seed++) {
        draw(&r, 12, 400, 2000, 1e-3, 2e-3, 0.4, seed);
        rfy_fit_result *f = fit(&r, both, 1, NULL, 0);
        double mean = 0, square = 0;
        for (size_t i = 0; i < r.n; i++)
            mean += log(r.p[i]) / (double)r.n;
        for (size_t i = 0; i < r.n; i++)
            square += pow(log(r.p[i]) - mean, 2);
        double by = gsl_cdf_tdist_Pinv(0.975, (double)r.n - 1) *
                    sqrt(square / ((double)r.n - 1) / (double)r.n);
        assert_close(log(f->unknown[0].value.value), mean + log(1e-3), 0, 0.003, "mean");
        assert_close(log(f->unknown[0].value.low), mean + log(1e-3) - by, 0, 0.02 * by, "low");
        assert_close(log(f->unknown[0].value.high), mean + log(1e-3) + by, 0, 0.02 * by, "high");
        assert_true(f->unknown[0].told);
        rfy_fit_free(f);
    }
}

/* With the speed known beforehand within a factor, ln Q = ln p + ln S adds their variances: a
 * straight valley far longer than it is wide. */
static void a_straight_valley_has_the_interval_of_the_sum(void **state) {
    (void)state;
    record r;
    const double noise = 0.1;
    draw(&r, 40, 1500, 6000, 1e-3, 2e-3, noise, 5);
    rfy_fit_result *f = fit(&r, both, 2, "pump/speed=3", noise);
    double mean = 0, prior = log(3) / 1.96;
    for (size_t i = 0; i < r.n; i++)
        mean += log(r.p[i]) / (double)r.n;
    double by = 1.959964 * sqrt(noise * noise / (double)r.n + prior * prior);
    assert_close(log(f->unknown[0].value.low), mean + log(1e-3) - by, 0, 0.01 * by, "low");
    assert_close(log(f->unknown[0].value.high), mean + log(1e-3) + by, 0, 0.01 * by, "high");
    assert_close(log(f->unknown[1].value.high), log(1e-3) + 1.959964 * prior, 0, 0.01 * by,
                 "speed");
    rfy_fit_free(f);
}

/* ---- scans of the closed form ---- */

static double cost(const record *r, double ln_leak, double ln_speed, double noise) {
    double sum = 0;
    for (size_t i = 0; i < r->n; i++)
        sum += pow((log(r->p[i]) - log(pressure(r->t[i], exp(ln_speed), exp(ln_leak)))) / noise, 2);
    return sum;
}

/* Least cost over the other unknown, by golden section from a coarse grid. */
static double least(const record *r, int fixed, double at, double noise) {
    double best = (double)INFINITY, centre = 0, low = fixed == 0 ? -8 : -16,
           high = fixed == 0 ? -5.5 : 0;
    const double grid = (high - low) / 200, golden = 0.6180339887498949;
    for (int i = 0; i <= 200; i++) {
        double x = low + i * grid;
        double own = fixed == 0 ? cost(r, at, x, noise) : cost(r, x, at, noise);
        if (own < best) {
            best = own;
            centre = x;
        }
    }
    double a = centre - grid, b = centre + grid;
    for (int i = 0; i < 40; i++) {
        double c = b - golden * (b - a), d = a + golden * (b - a);
        double at_c = fixed == 0 ? cost(r, at, c, noise) : cost(r, c, at, noise);
        double at_d = fixed == 0 ? cost(r, at, d, noise) : cost(r, d, at, noise);
        best = fmin(best, fmin(at_c, at_d));
        if (at_c < at_d)
            b = d;
        else
            a = c;
    }
    return best;
}

/* Where the least cost passes the best by 1.96^2, outwards from the best; -+infinity: nowhere. */
static void scan(const record *r, int fixed, double noise, double *low, double *high) {
    enum { STEPS = 1500 };
    const double from = fixed == 0 ? -16 : -8, to = fixed == 0 ? 0 : -5.5,
                 step = (to - from) / STEPS;
    const double allowed = pow(1.959964, 2);
    static double of[STEPS + 1];
    double best = (double)INFINITY;
    for (int i = 0; i <= STEPS; i++) {
        of[i] = least(r, fixed, from + i * step, noise);
        best = fmin(best, of[i]);
    }
    *low = (double)INFINITY;
    *high = (double)-INFINITY;
    for (int i = 0; i <= STEPS; i++)
        if (of[i] - best <= allowed) {
            *low = fmin(*low, from + (i - 0.5) * step);
            *high = fmax(*high, from + (i + 0.5) * step);
        }
    if (*low < from + 2 * step)
        *low = (double)-INFINITY;
    if (*high > to - 2 * step)
        *high = (double)INFINITY;
}

static void compare(const record *r, const rfy_fit_result *f, double noise) {
    for (int i = 0; i < 2; i++) {
        double low, high;
        scan(r, i, noise, &low, &high);
        double width = isfinite(high - low) ? high - low : 1;
        const rfy_interval *v = &f->unknown[i].value;
        if (isfinite(low))
            assert_close(log(v->low), low, 0, 0.03 * width, "%s", f->unknown[i].path);
        else
            assert_true(v->low <= 0 && !f->unknown[i].low);
        assert_close(log(v->high), high, 0, 0.03 * width, "%s", f->unknown[i].path);
    }
}

/* The last readings only begin to bend towards Q/S: the leak has a long side downwards. */
static void a_bent_valley_has_the_interval_of_a_scan(void **state) {
    (void)state;
    record r;
    const double noise = 0.3;
    double lopsided = 0;
    for (unsigned long seed = 1; seed <= 4; seed++) {
        draw(&r, 14, 20, 150, 1e-3, 3e-4, noise, seed);
        rfy_fit_result *f = fit(&r, both, 2, NULL, noise);
        compare(&r, f, noise);
        const rfy_interval *v = &f->unknown[0].value;
        if (f->unknown[0].low)
            lopsided = fmax(lopsided, log(v->value / v->low) / log(v->high / v->value));
        rfy_fit_free(f);
    }
    assert_true(lopsided > 1.2);
}

/* Readings that end long before Q/S: a leak that is at most so large, and is not told. */
static void what_only_has_a_largest_value_is_said_so(void **state) {
    (void)state;
    record r;
    const double noise = 0.2;
    draw(&r, 14, 10, 90, 1e-3, 1e-4, noise, 2);
    rfy_fit_result *f = fit(&r, both, 2, NULL, noise);
    compare(&r, f, noise);
    assert_null(f->unknown[0].low);
    assert_non_null(f->unknown[0].high);
    assert_true(f->unknown[0].value.high > 1e-4);
    assert_false(f->unknown[0].told);
    assert_true(f->unknown[1].told);
    assert_false(f->determined);
    assert_int_equal(f->n_doubts, 1);
    assert_non_null(strstr(f->doubt[0], "or less"));
    rfy_fit_free(f);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_linear_unknown_has_students_interval),
        cmocka_unit_test(a_straight_valley_has_the_interval_of_the_sum),
        cmocka_unit_test(a_bent_valley_has_the_interval_of_a_scan),
        cmocka_unit_test(what_only_has_a_largest_value_is_said_so),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
