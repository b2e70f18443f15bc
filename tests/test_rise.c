/* Rate-of-rise tests: published examples, closed forms with a known truth, and a slice of the
 * records that `campaign_measured` tries in full. */
#include "support/support.h"
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <string.h>
#include "study/rise_shapes.h"
#include "support/rise_records.h"

static rfy_rise_result *rise_of(const double *t, const double *p, const double *kelvin, size_t n,
                                rfy_rise_options o) {
    static rfy_log log;
    log = (rfy_log){.name = "made", .n = n, .time = t, .pressure = p, .temperature = kelvin};
    rfy_rise_result *r;
    assert_int_equal(rfy_rise(&r, &log, &o, NULL), RFY_OK);
    return r;
}

static rfy_rise_options litres(double volume) {
    rfy_rise_options o = RFY_RISE_OPTIONS_INIT;
    o.volume = volume * 1e-3;
    return o;
}

/* A course on vacuum practice (module 2 of a technical college, published on the web): an isolated
 * chamber at 0, 1, 3, 5 and 10 min; its rates, and its conclusion that it outgases. Status R. */
static void isolated_chamber_of_a_course(void **state) {
    (void)state;
    const double t[] = {0, 60, 180, 300, 600}, p[] = {20, 30, 43, 50, 58};
    const double rate[] = {0.100, 0.065, 0.035, 0.016}; /* mbar/min */
    rfy_rise_result *r = rise_of(t, p, NULL, 5, litres(1));
    assert_int_equal(r->n_rows, 4);
    for (int i = 0; i < 4; i++)
        assert_close(r->row[i].rate * 60 / 100, rate[i], 1e-9, 0, "rate %d", i);
    assert_int_equal(r->verdict, RFY_RISE_OUTGASSING);
    rfy_rise_free(r);
}

/* 40 CFR 1065.644 (vacuum-decay leak rate), its example: 2.0000 L from 25.300 to 50.600 kPa in 70 s
 * at 293.15 K. The printed answer, 0.00030 mol/s, from memory (M); 2.966e-4 recomputed (N). */
static void vacuum_decay_leak_of_a_regulation(void **state) {
    (void)state;
    const double t[] = {0, 70}, p[] = {25300, 50600}, kelvin[] = {293.15, 293.15};
    rfy_rise_result *r = rise_of(t, p, kelvin, 2, litres(2));
    assert_close(r->moles, 0.00030, 0.02, 0, "printed");
    assert_close(r->moles, 2.966e-4, 2e-4, 0, "recomputed");
    assert_close(r->total, 0.723, 1e-3, 0, "as Pa m3/s");
    assert_int_equal(r->verdict, RFY_RISE_UNDECIDED);
    rfy_rise_free(r);
}

/* The same course, module 1: 2 to 47 mbar in 64 h is 1.95e-4 mbar/s (R); two readings decide
 * nothing. */
static void slow_rise_of_a_course(void **state) {
    (void)state;
    const double t[] = {0, 64 * 3600.0}, p[] = {200, 4700};
    rfy_rise_result *r = rise_of(t, p, NULL, 2, litres(1));
    assert_close(r->total * 10, 1.95e-4, 3e-3, 0, "mbar L/s for a litre");
    assert_int_equal(r->verdict, RFY_RISE_UNDECIDED);
    rfy_rise_free(r);
}

enum { N = 200 };

static void made(double *t, double *p, double noise, double background, double slope, double amount,
                 double tau, unsigned long seed) {
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, seed);
    for (int i = 0; i < N; i++) {
        t[i] = 10.0 * i;
        p[i] = background + slope * t[i] + amount * (1 - exp(-t[i] / tau));
        p[i] *= 1 + noise * gsl_ran_gaussian(rng, 1);
    }
    gsl_rng_free(rng);
}

static void precise_records_give_back_what_they_were_made_of(void **state) {
    (void)state;
    double t[N], p[N];
    made(t, p, 1e-4, 0.5, 1e-3, 0.8, 300, 1);
    rfy_rise_result *r = rise_of(t, p, NULL, N, litres(0.6));
    assert_int_equal(r->verdict, RFY_RISE_BOTH);
    assert_close(r->leak.value, 1e-3 * 0.6e-3, 2e-3, 0, "leak");
    assert_close(r->outgassing.value, 0.8 / 300 * 0.6e-3, 2e-3, 0, "outgassing");
    assert_close(r->level.value, 0.8, 2e-3, 0, "level");
    assert_close(r->levelling, 300, 2e-3, 0, "time constant");
    assert_close(r->background, 0.5, 1e-3, 0, "background");
    assert_close(r->scatter, 1e-4, 0.2, 0, "scatter");
    assert_true(r->needed < r->to - r->from);
    rfy_rise_free(r);
    made(t, p, 0.02, 0.5, 0, 0, 300, 2);
    r = rise_of(t, p, NULL, N, litres(0.6));
    assert_int_equal(r->verdict, RFY_RISE_NOTHING);
    rfy_rise_free(r);
}

static void gauge_and_temperature_are_taken_out(void **state) {
    (void)state;
    double t[N], p[N], kelvin[N];
    /* a tight volume at 1000 Pa that warms by 3 K: pV = nRT makes 10 Pa of it, nothing else */
    for (int i = 0; i < N; i++) {
        t[i] = 10.0 * i;
        kelvin[i] = 293.15 + 3.0 * i / (N - 1);
        p[i] = 1000 * kelvin[i] / 293.15 * (1 + 1e-5 * sin(37.0 * i));
    }
    rfy_rise_result *r = rise_of(t, p, NULL, N, litres(1));
    assert_true(r->leak_certain);
    assert_close(r->by_kelvin * 3, 1e-3 * 1000 * 3 / 293.15 / t[N - 1], 0.02, 0, "3 K foretold");
    rfy_rise_free(r);
    r = rise_of(t, p, kelvin, N, litres(1));
    assert_int_equal(r->verdict, RFY_RISE_NOTHING);
    rfy_rise_free(r);
    rfy_rise_options o = litres(1);
    o.drift = 3 / t[N - 1];
    r = rise_of(t, p, NULL, N, o);
    assert_int_equal(r->verdict, RFY_RISE_NOTHING);
    rfy_rise_free(r);
    /* a thermal gauge shows water vapour too high by its factor in data/gases.csv */
    made(t, p, 1e-4, 0.5, 0, 0.8, 300, 3);
    o = litres(0.6);
    o.gauge = "thermal";
    r = rise_of(t, p, NULL, N, o);
    assert_true(r->gas_factor > 1.2);
    assert_close(r->outgassing.value, 0.8 / 300 * 0.6e-3 / r->gas_factor, 5e-3, 0, "true flow");
    rfy_rise_free(r);
    rfy_log log = {.name = "made", .n = N, .time = t, .pressure = p};
    rfy_problems *problems = rfy_problems_new("made");
    o.gauge = "thermall";
    assert_int_equal(rfy_rise(&r, &log, &o, problems), RFY_BAD_INPUT);
    o.gauge = NULL;
    o.from = 1e9;
    assert_int_equal(rfy_rise(&r, &log, &o, problems), RFY_BAD_INPUT);
    assert_int_equal(rfy_problems_errors(problems), 2);
    rfy_problems_free(problems);
}

static void damage_does_not_carry_the_fit_away(void **state) {
    (void)state;
    double t[N], p[N];
    made(t, p, 0.02, 0.5, 1e-3, 0, 300, 4);
    p[20] *= 40;
    p[90] = 0;
    p[150] *= 5;
    rfy_rise_result *r = rise_of(t, p, NULL, N, litres(1));
    assert_int_equal(r->n_outliers, 3);
    assert_int_equal(r->verdict, RFY_RISE_LEAK);
    assert_close(r->leak.value, 1e-6, 0.03, 0, "leak");
    rfy_rise_free(r);
    /* a gauge that shows nothing below 0.8 Pa */
    made(t, p, 0.01, 0.5, 1e-3, 0, 300, 5);
    for (int i = 0; i < N; i++)
        p[i] = p[i] < 0.8 ? 0.8 : p[i];
    r = rise_of(t, p, NULL, N, litres(1));
    assert_true(r->n_floor > 20 && r->n_floor < 40);
    assert_close(r->leak.value, 1e-6, 0.03, 0, "leak above the floor");
    rfy_rise_free(r);
}

static void two_tests_are_compared(void **state) {
    (void)state;
    double t[N], p[N], q[N];
    made(t, p, 0.02, 0.5, 1e-3, 0.5, 300, 6);
    made(t, q, 0.02, 0.5, 1e-4, 0.5, 300, 7);
    rfy_log before = {.name = "a", .n = N, .time = t, .pressure = p};
    rfy_log after = {.name = "b", .n = N, .time = t, .pressure = q};
    rfy_rise_options o = litres(1);
    rfy_rise_result *a, *b;
    assert_int_equal(rfy_rise(&a, &before, &o, NULL), RFY_OK);
    assert_int_equal(rfy_rise(&b, &after, &o, NULL), RFY_OK);
    rfy_rise_change c = rfy_rise_compare(a, b);
    assert_close(c.leak, -9e-7, 0, 3 * c.leak_error, "change of the leak");
    assert_true(fabs(c.leak) > 4 * c.leak_error);
    assert_true(fabs(c.outgassing) < 3 * c.outgassing_error);
    rfy_rise_free(a);
    rfy_rise_free(b);
}

/* Feldman and Cousins 1998, Phys. Rev. D 57, 3873, table X (unified 95 % intervals of a Gaussian
 * whose mean cannot be negative): at 0 observed the upper end is 1.96, at 3 it is 1.04 to 4.96. The
 * profile's threshold must cover 95 % at every mean. */
static void thresholds_cover_at_every_mean(void **state) {
    (void)state;
    assert_close(rfy_rise_threshold(0), 2.7055, 1e-3, 0, "at zero: one side");
    assert_close(rfy_rise_threshold(8), 3.8415, 1e-3, 0, "far from zero: both sides");
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    for (double mu = 0.25; mu < 3; mu += 0.5) {
        double c = rfy_rise_threshold(mu);
        int in = 0, all = 40000;
        for (int i = 0; i < all; i++) {
            double x = mu + gsl_ran_gaussian(rng, 1);
            double best = x > 0 ? x : 0, rise = (x - mu) * (x - mu) - (x - best) * (x - best);
            in += rise <= c;
        }
        assert_close((double)in / all, 0.95, 0, 0.005, "coverage at %g", mu);
    }
    gsl_rng_free(rng);
}

/* A slice of the records; the whole is `campaign_measured`. Bounds are four standard deviations of
 * a count about 95 % (and 99 %). */
static void intervals_cover_and_verdicts_are_right(void **state) {
    (void)state;
    static const char *const names[] = {"5 %", "30 %", "gauge floor"};
    size_t wrong = 0;
    for (int k = 0; k < 3; k++) {
        rise_tally one = {0};
        rise_records_try(&one, (scatter_kind)k, 60, 7 + (unsigned long)k);
        rise_tally_write(stdout, names[k], &one);
        assert_true(one.leak_in >= 50 && one.outgassing_in >= 50);
        assert_true(one.right + 1 >= one.separable);
        wrong += one.wrong_separable;
        assert_true(one.wrong_alike <= 1 && one.cannot_tell + 2 >= one.alike);
    }
    assert_true(wrong <= 1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(isolated_chamber_of_a_course),
        cmocka_unit_test(vacuum_decay_leak_of_a_regulation),
        cmocka_unit_test(slow_rise_of_a_course),
        cmocka_unit_test(precise_records_give_back_what_they_were_made_of),
        cmocka_unit_test(gauge_and_temperature_are_taken_out),
        cmocka_unit_test(damage_does_not_carry_the_fit_away),
        cmocka_unit_test(two_tests_are_compared),
        cmocka_unit_test(thresholds_cover_at_every_mean),
        cmocka_unit_test(intervals_cover_and_verdicts_are_right),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
