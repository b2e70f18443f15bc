/* Runs in time: accuracy, methods, repetition. What all methods are asked: test_methods.c. Balance
 * and walls: test_balance.c; switchings and limits: test_switching.c. Every expected number is the
 * closed form of the governing equation written beside it. */
#include <math.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "support/sketch.h"

#define R 8.31446261815324
#define T 293.15

static rfy_result *run(rfy_system *system, double tolerance, const double *at, size_t n_at) {
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.tolerance = tolerance;
    options.at = at;
    options.n_at = n_at;
    return test_run(system, &options, RFY_OK);
}

static rfy_system *example(const char *path) {
    char *text = test_read_file(path, NULL);
    rfy_system *system = test_system(text);
    free(text);
    return system;
}

/* ---- accuracy ---- */

/* The error follows the tolerance asked for: same system, default to strict. */
static void error_follows_tolerance(void **state) {
    (void)state;
    rfy_system *system = test_sketch("{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', "
                                     "'volume': '20 L', 'start': {'N2': '1e5 Pa'}}],"
                                     " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'tank', "
                                     "'to': 'ambient', 'speed': '4 L/s'}],"
                                     " 'run': {'until': '100 s'}}");
    const double at[] = {50, 100};
    for (double tolerance = 1e-3; tolerance > 1e-11; tolerance *= 0.1) {
        rfy_result *result = run(system, tolerance, at, 2);
        for (size_t i = 0; i < 2; i++)
            assert_close(test_pressure(result, i, "tank"), 1e5 * exp(-at[i] / 5), 100 * tolerance,
                         0, "pressure at tolerance %g", tolerance);
        assert_true(result->solver.tolerance == tolerance);
        rfy_result_free(result);
    }
    rfy_system_free(system);
}

/* A chain of three volumes in molecular flow is linear: the slowest rate is an eigenvalue of its 2
 * x 2 matrix. */
static void linear_chain(void **state) {
    (void)state;
    rfy_system *system =
        test_sketch("{'rarefy': 1, 'gases': ['N2'],"
                    " 'chambers': [{'name': 'a', 'volume': '1 L', 'start': {'N2': '1e-6 Pa'}},"
                    "              {'name': 'b', 'volume': '3 L', 'start': {'N2': '0 Pa'}}],"
                    " 'lines': [{'name': 'c', 'between': ['a', 'b'], 'pieces': [{'trap': "
                    "{'conductance': '2 L/s',"
                    "            'volume': '1e-6 cm3'}}]}],"
                    " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'b', 'to': 'ambient', "
                    "'speed': '5 L/s'}],"
                    " 'run': {'until': '10 s'}}");
    const double at[] = {0.1, 1, 10}, c = 2 * sqrt(0.0289655 / 0.028014); /* given for air */
    rfy_result *result = run(system, 1e-10, at, 3);
    double a11 = -c / 1, a12 = c / 1, a21 = c / 3, a22 = -(c + 5) / 3;
    double mean = (a11 + a22) / 2, half = sqrt((a11 - a22) * (a11 - a22) / 4 + a12 * a21);
    double l1 = mean + half, l2 = mean - half;
    for (size_t i = 0; i < 3; i++) {
        double e1 = exp(l1 * at[i]), e2 = exp(l2 * at[i]);
        double pa = 1e-6 * ((a11 - l2) * e1 - (a11 - l1) * e2) / (l1 - l2),
               pb = 1e-6 * a21 * (e1 - e2) / (l1 - l2);
        assert_close(test_pressure(result, i, "a"), pa, 1e-7, 0, "a after %g s", at[i]);
        assert_close(test_pressure(result, i, "b"), pb, 1e-7, 0, "b after %g s", at[i]);
    }
    rfy_result_free(result);
    rfy_system_free(system);
}

/* Two chambers of different temperature share their gas until the pressures are equal: p = n
 * R/(V1/T1 + V2/T2). */
static void moles_at_two_temperatures(void **state) {
    (void)state;
    rfy_system *system =
        test_sketch("{'rarefy': 1, 'gases': ['Ar'],"
                    " 'chambers': [{'name': 'cold', 'volume': '2 L', 'start': {'Ar': '1000 Pa'}},"
                    "              {'name': 'hot', 'volume': '1 L', 'temperature': '600 K', "
                    "'start': {'Ar': '3000 Pa'}}],"
                    " 'lines': [{'name': 'c', 'between': ['cold', 'hot'], 'pieces': [{'trap': "
                    "{'conductance': '1 L/s',"
                    "            'volume': '1e-6 cm3'}}]}],"
                    " 'run': {'until': '10 min'}}");
    const double at[] = {600};
    rfy_result *result = run(system, 1e-9, at, 1);
    double p = (1000 * 2 / T + 3000 * 1 / 600.0) / (2 / T + 1 / 600.0);
    assert_close(test_pressure(result, 0, "cold"), p, 1e-6, 0, "cold side");
    assert_close(test_pressure(result, 0, "hot"), p, 1e-6, 0, "hot side");
    rfy_result_free(result);
    rfy_system_free(system);
}

/* ---- methods ---- */

/* Our Rosenbrock method and GSL's BDF, different codes and different mathematics, on the same
 * networks. */
static void methods_agree(void **state) {
    (void)state;
    const char *const systems[] = {
        "{'rarefy': 1, 'gases': ['N2', 'H2O', 'He'],"
        " 'chambers': [{'name': 'a', 'volume': '2 L', 'walls': [{'material': 'stainless steel', "
        "'area': '0.1 m2'}]},"
        "              {'name': 'b', 'volume': '0.3 L'}],"
        " 'lines': [{'name': 'hose', 'between': ['a', 'b'], 'pieces': ['tube 10 mm x 0.5 m']}],"
        " 'pumps': [{'name': 'vane', 'kind': 'rotary vane', 'from': 'b', 'to': 'ambient', 'speed': "
        "'3 m3/h',"
        "            'ultimate': '0.3 Pa'}], 'run': {'until': '1 h'}}",
        "{'rarefy': 1, 'gases': ['N2', 'H2'],"
        " 'chambers': [{'name': 'a', 'volume': '2 L', 'start': {'N2': '1 Pa', 'H2': '3 Pa'},"
        "               'leaks': [{'rate': '1e-6 mbar L/s'}]},"
        "              {'name': 'b', 'volume': '0.3 L', 'start': {'N2': '5 Pa'}}],"
        " 'pumps': [{'name': 'turbo', 'kind': 'turbomolecular', 'from': 'a', 'to': 'b', 'speed': "
        "'30 L/s',"
        "            'state': 'off', 'run_up': '100 s'},"
        "           {'name': 'vane', 'kind': 'rotary vane', 'from': 'b', 'to': 'ambient', 'speed': "
        "'1 m3/h',"
        "            'ultimate': '1 Pa'}],"
        " 'procedure': [{'when': 'time > 20 s', 'do': ['start turbo']}], 'run': {'until': '1 h'}}"};
    const double at[] = {1, 10, 60, 90, 200, 3600};
    for (size_t s = 0; s < 2; s++) {
        rfy_system *system = test_sketch("%s", systems[s]);
        rfy_run_options options = RFY_RUN_OPTIONS_INIT;
        options.tolerance = 1e-8;
        options.at = at;
        options.n_at = 6;
        rfy_result *ours = test_run(system, &options, RFY_OK);
        options.method = RFY_METHOD_MSBDF;
        rfy_result *theirs = test_run(system, &options, RFY_OK);
        assert_string_equal(theirs->solver.method, "msbdf");
        assert_int_equal(ours->n_times, 6);
        assert_int_equal(theirs->n_times, 6);
        for (size_t i = 0; i < 6 * ours->n_chambers * ours->n_gases; i++)
            assert_close(ours->partial[i], theirs->partial[i], 1e-4, 1e-12, "system %zu, value %zu",
                         s, i);
        rfy_result_free(theirs);
        rfy_result_free(ours);
        rfy_system_free(system);
    }
}

/* ---- repetition ---- */

static void assert_same_bits(const rfy_result *a, const rfy_result *b) {
    assert_int_equal(a->n_times, b->n_times);
    size_t n = a->n_times * a->n_chambers;
    assert_memory_equal(a->time, b->time, a->n_times * sizeof(double));
    assert_memory_equal(a->pressure, b->pressure, n * sizeof(double));
    assert_memory_equal(a->partial, b->partial, n * a->n_gases * sizeof(double));
    assert_int_equal(a->n_events, b->n_events);
    for (size_t i = 0; i < a->n_events; i++) {
        assert_true(a->event[i].time == b->event[i].time);
        assert_string_equal(a->event[i].what, b->event[i].what);
    }
    for (size_t i = 0; i < a->n_targets; i++)
        assert_memory_equal(&a->target[i].time, &b->target[i].time, sizeof(double));
    assert_memory_equal(a->ultimate.total, b->ultimate.total, a->n_chambers * sizeof(double));
    assert_int_equal(a->solver.steps, b->solver.steps);
}

static void *run_in_thread(void *system) {
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    rfy_result *result = NULL;
    rfy_run(&result, system, &options);
    return result;
}

/* Twice in a row and twice at once, on one system: the same bits. */
static void repeats(void **state) {
    (void)state;
    rfy_system *system = example("examples/photocell-bulb.json");
    rfy_result *first = run_in_thread(system), *again = run_in_thread(system), *thread[2];
    pthread_t id[2];
    for (int i = 0; i < 2; i++)
        assert_int_equal(pthread_create(&id[i], NULL, run_in_thread, system), 0);
    for (int i = 0; i < 2; i++) {
        void *out;
        assert_int_equal(pthread_join(id[i], &out), 0);
        thread[i] = out;
    }
    assert_same_bits(first, again);
    for (int i = 0; i < 2; i++) {
        assert_same_bits(first, thread[i]);
        rfy_result_free(thread[i]);
    }
    rfy_result_free(again);
    rfy_result_free(first);
    rfy_system_free(system);
}

/* Instants asked for are read off the solution and do not steer it. */
static void instants_do_not_steer(void **state) {
    (void)state;
    rfy_system *system = example("examples/photocell-bulb.json");
    double many[3000];
    for (size_t i = 0; i < 3000; i++)
        many[i] = 0.01 * pow(10, (double)i / 3000 * 6.4);
    const double few[] = {3600};
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    rfy_result *plain = NULL, *two[2] = {NULL, NULL};
    rfy_run(&plain, system, &options);
    for (int k = 0; k < 2; k++) {
        options.at = k ? many : few;
        options.n_at = k ? 3000 : 1;
        rfy_run(&two[k], system, &options);
        assert_int_equal(plain->solver.steps, two[k]->solver.steps);
        for (size_t i = 0; i < plain->n_targets; i++)
            assert_true(plain->target[i].time == two[k]->target[i].time);
        assert_int_equal(plain->n_events, two[k]->n_events);
        assert_memory_equal(plain->ultimate.total, two[k]->ultimate.total,
                            plain->n_chambers * sizeof(double));
    }
    size_t last = 0;
    while (last < 3000 && many[last] <= plain->end)
        last++;
    assert_int_equal(two[1]->n_times, last);
    for (size_t i = 0; i < last; i++)
        assert_true(two[1]->time[i] == many[i]);
    assert_int_equal(two[0]->n_times, 1);
    for (int k = 0; k < 2; k++)
        rfy_result_free(two[k]);
    rfy_result_free(plain);
    rfy_system_free(system);
}

static void stops_when_asked(void **state) {
    (void)state;
    const int stop = 1;
    rfy_system *system = example("examples/photocell-bulb.json");
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.stop = &stop;
    rfy_result *result = NULL;
    assert_int_equal(rfy_run(&result, system, &options), RFY_INTERRUPTED);
    assert_int_equal(result->status, RFY_INTERRUPTED);
    assert_true(result->end < 8 * 3600);
    assert_non_null(result->trouble);
    rfy_result_free(result);
    rfy_system_free(system);
}

/* ---- equalisation ---- */

/* A wide opening equalises to the pressure outside and stays there. Near p1 = p2 the flow goes as
 * the root of the difference (inertia), whose tangent throws a linearised step to the other side:
 * it must not swing for ever. */
static void wide_vent_settles(void **state) {
    (void)state;
    const char *const bores[] = {"10 mm", "40 mm", "100 mm", "250 mm"};
    for (size_t b = 0; b < 4; b++)
        for (double tolerance = 1e-4; tolerance > 1e-9; tolerance *= 0.01) {
            rfy_system *system = test_sketch(
                "{'rarefy': 1, 'gases': ['N2', 'H2O'], 'ambient': {'pressure': '101325 Pa'},"
                " 'chambers': [{'name': 'box', 'volume': '10 L', 'start': {'N2': '0 Pa'}}],"
                " 'lines': [{'name': 'vent', 'between': ['ambient', 'box'], 'pieces': ['tube %s x "
                "50 mm']}],"
                " 'run': {'until': '60 s'}}",
                bores[b]);
            rfy_result *result = run(system, tolerance, NULL, 0);
            assert_close(test_pressure(result, result->n_times - 1, "box"), 101325, 1e-7, 0,
                         "vented through %s at tolerance %g (%zu steps)", bores[b], tolerance,
                         result->solver.steps);
            if (result->solver.steps > 2000)
                fail_msg("%zu steps for a vent of %s at tolerance %g", result->solver.steps,
                         bores[b], tolerance);
            rfy_result_free(result);
            rfy_system_free(system);
        }
}

/* ---- air as one gas ---- */

/* Air as one gas and as nitrogen, oxygen and argon are the same gas to within the spread of their
 * properties. */
static void air_in_one_or_three(void **state) {
    (void)state;
    double time[2];
    for (int i = 0; i < 2; i++) {
        rfy_system *system = test_sketch(
            "{'rarefy': 1, 'gases': [%s], 'chambers': [{'name': 'jar', 'volume': '10 L'},"
            "  {'name': 'mouth', 'volume': '0.1 L'}],"
            " 'lines': [{'name': 'hose', 'between': ['jar', 'mouth'], 'pieces': ['tube 8 mm x 1 "
            "m']}],"
            " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'mouth', 'to': 'ambient', "
            "'speed': '2 L/s'}],"
            " 'targets': [{'name': 'low', 'chamber': 'jar', 'pressure': '1e-2 Pa'}], 'run': "
            "{'until': '2 h'}}",
            i ? "'N2', 'O2', 'Ar'" : "'air'");
        rfy_result *result = run(system, 1e-7, NULL, 0);
        time[i] = test_target(result, "low")->time;
        rfy_result_free(result);
        rfy_system_free(system);
    }
    assert_close(time[1], time[0], 0.01, 0, "time to 0.01 Pa");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(error_follows_tolerance),
        cmocka_unit_test(linear_chain),
        cmocka_unit_test(moles_at_two_temperatures),
        cmocka_unit_test(methods_agree),
        cmocka_unit_test(repeats),
        cmocka_unit_test(instants_do_not_steer),
        cmocka_unit_test(stops_when_asked),
        cmocka_unit_test(wide_vent_settles),
        cmocka_unit_test(air_in_one_or_three),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
