/* What the text of a run advises: the quick derivatives behind it against the exact ones and closed
 * forms, and the runs made again against runs of changed descriptions. */
#define _POSIX_C_SOURCE 200809L
#include <glob.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "support/sketch.h"

static rfy_result *advised(const rfy_system *system, rfy_wish wish) {
    rfy_run_options o = RFY_RUN_OPTIONS_INIT;
    rfy_result *r = NULL;
    o.sensitivities = wish;
    rfy_run(&r, system, &o);
    assert_non_null(r);
    assert_true(r->status == RFY_OK || r->status == RFY_LIMIT_BROKEN);
    return r;
}

static const rfy_sensitivity *of(const rfy_result *r, const char *path) {
    for (size_t k = 0; k < r->n_sensitivities; k++)
        if (strcmp(r->sensitivity[k].path[0], path) == 0)
            return &r->sensitivity[k];
    fail_msg("no %s", path);
    return NULL;
}

/* t = V/S ln(p0/p): one volume and one constant speed, in steps in which the pressure falls much.
 */
static void a_volume_and_a_speed(void **state) {
    (void)state;
    rfy_system *system =
        test_sketch("{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '50 L',"
                    " 'start': {'N2': '100 Pa'}}],"
                    " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'tank', 'to': 'ambient',"
                    " 'speed': '2 L/s'}],"
                    " 'targets': [{'name': 'low', 'chamber': 'tank', 'pressure': '0.1 Pa'}],"
                    " 'run': {'until': '10 min'}}");
    rfy_result *r = advised(system, RFY_IF_CHEAP);
    assert_true(r->rough_sensitivities);
    assert_close(of(r, "tank/volume")->time[0], 1, 1e-3, 0, "volume");
    assert_close(of(r, "pump/speed")->time[0], -1, 1e-3, 0, "speed");
    rfy_result_free(r);
    rfy_system_free(system);
}

/* A pump that is the faster the lower the pressure, which falls ever faster then: times still go as
 * the volume, whatever S(p) is (t = V times an integral of dp/(p S(p))).
 */
static void a_pump_that_gains(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '50 L',"
        " 'start': {'N2': '1000 Pa'}}],"
        " 'pumps': [{'name': 'pump', 'kind': 'rotary vane', 'from': 'tank', 'to': 'ambient',"
        " 'ultimate': '1e-4 Pa', 'curve': [['1 Pa', '1000 L/s'], ['1000 Pa', '1 L/s']]}],"
        " 'targets': [{'name': 'low', 'chamber': 'tank', 'pressure': '10 Pa'}],"
        " 'run': {'until': '10 min'}}");
    rfy_result *r = advised(system, RFY_IF_CHEAP);
    assert_close(of(r, "tank/volume")->time[0], 1, 0.12, 0, "volume");
    rfy_result_free(r);
    rfy_system_free(system);
}

/* A plunge that ends at once, after a step that walls at their worst hold up for an hour: to first
 * order they matter little to its time, and yet its scatter has to be found by a run. Without the
 * advice it is one from the beginning. */
static void a_step_that_walls_hold_up(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'H2O'], 'chambers': [{'name': 'tank', 'volume': '10 L',"
        " 'start': {'N2': '100 Pa'}, 'walls': [{'material': 'stainless steel', 'area': '1 m2'}]},"
        " {'name': 'small', 'volume': '0.1 L', 'start': {'N2': '0 Pa'}},"
        " {'name': 'large', 'volume': '0.1 L', 'start': {'N2': '0 Pa'}}],"
        " 'lines': [{'name': 'a', 'between': ['tank', 'small'], 'pieces': [{'valve': {'name': 'A',"
        " 'bore': '40 mm', 'length': '40 mm', 'state': 'closed'}}]},"
        " {'name': 'b', 'between': ['tank', 'large'], 'pieces': [{'valve': {'name': 'B',"
        " 'bore': '100 mm', 'length': '40 mm', 'state': 'closed'}}]}],"
        " 'pumps': [{'name': 'p', 'kind': 'ideal', 'from': 'small', 'to': 'ambient',"
        " 'speed': '1 L/s'}, {'name': 'q', 'kind': 'ideal', 'from': 'large', 'to': 'ambient',"
        " 'speed': '100 L/s'}],"
        " 'procedure': [{'when': 'time > 1 h', 'do': ['open A']},"
        " {'when': 'tank < 0.1 Pa', 'do': ['open B']}],"
        " 'targets': [{'name': 'low', 'chamber': 'tank', 'pressure': '0.01 Pa'}],"
        " 'run': {'until': '10 h'}}");
    rfy_result *r = advised(system, RFY_IF_CHEAP), *plain = advised(system, RFY_NOT_WANTED);
    assert_true(r->target[0].reached && r->rough_sensitivities);
    assert_true(plain->target[0].time_late > 1.5 * plain->target[0].time);
    assert_close(r->target[0].time_late, plain->target[0].time_late, 2e-3, 0, "late");
    assert_close(r->target[0].time_early, plain->target[0].time_early, 0.02, 0, "early");
    rfy_run_options o = RFY_RUN_OPTIONS_INIT;
    o.without_scatter = true;
    rfy_result *bare = test_run(system, &o, RFY_OK);
    assert_close(bare->target[0].time, plain->target[0].time, 1e-12, 0, "the same run");
    assert_true(isnan(bare->target[0].time_early) && isnan(bare->target[0].time_late));
    rfy_result_free(bare);
    rfy_result_free(plain);
    rfy_result_free(r);
    rfy_system_free(system);
}

static double size_at(const rfy_result *r, size_t k, size_t target) {
    const double e = fabs(r->sensitivity[k].time[target]);
    return isfinite(e) ? e : 0;
}

/* Greatest but `skip` of the list by what it does to a target. */
static size_t greatest(const rfy_result *r, size_t target, size_t skip) {
    size_t best = r->n_sensitivities;
    for (size_t k = 0; k < r->n_sensitivities; k++)
        if (k != skip &&
            (best == r->n_sensitivities || size_at(r, k, target) > size_at(r, best, target)))
            best = k;
    return best;
}

/* The two numbers that do most to each target are the same, or so close that it does not matter;
 * and what is said of all of them is nearly the same. */
static void example(void **state) {
    char *text = test_read_file(*state, NULL);
    rfy_system *system = test_system(text);
    rfy_result *quick = advised(system, RFY_IF_CHEAP), *exact = advised(system, RFY_WANTED);
    const char *file = strrchr(*state, '/') + 1;
    assert_false(exact->rough_sensitivities);
    assert_int_equal(quick->n_sensitivities, exact->n_sensitivities);
    for (size_t i = 0; i < exact->n_targets; i++) {
        size_t now = exact->n_sensitivities, wanted = exact->n_sensitivities;
        for (size_t place = 0; place < 2 && exact->target[i].reached; place++) {
            now = greatest(quick, i, now);
            wanted = greatest(exact, i, wanted);
            const rfy_sensitivity *a = of(exact, quick->sensitivity[now].path[0]),
                                  *b = &exact->sensitivity[wanted];
            if (fabs(fabs(a->time[i]) - fabs(b->time[i])) > 0.05 * fabs(b->time[i]))
                fail_msg("%s, target %zu: %s in place of %s", file, i, a->name, b->name);
        }
        for (size_t k = 0; k < exact->n_sensitivities && exact->target[i].reached; k++) {
            const rfy_sensitivity *b = &exact->sensitivity[k], *a = of(quick, b->path[0]);
            assert_true(isnan(a->time[i]) == isnan(b->time[i]));
            if (!isnan(b->time[i]))
                assert_close(a->time[i], b->time[i], 0.12, 0.02, "%s, target %zu, %s", file, i,
                             b->name);
        }
    }
    /* what was run again */
    for (size_t k = 0; k < exact->n_changes; k++)
        for (size_t j = 0; j < quick->n_changes; j++) {
            const rfy_gain *b = &exact->change[k], *a = &quick->change[j];
            if (a->target == b->target && isfinite(a->time) && isfinite(b->time) &&
                strcmp(quick->sensitivity[a->sensitivity].path[0],
                       exact->sensitivity[b->sensitivity].path[0]) == 0)
                assert_close(a->time, b->time, 5e-3, 0, "%s, %s by %g", file,
                             exact->sensitivity[b->sensitivity].name, a->factor);
        }
    /* and the scatter of walls, which a run without advice finds by two whole runs: no number is
     * told of it below 6 % */
    rfy_result *plain = advised(system, RFY_NOT_WANTED);
    for (size_t i = 0; i < plain->n_targets; i++) {
        const rfy_target_result *a = &quick->target[i], *b = &plain->target[i];
        assert_true(isfinite(a->time_early) == isfinite(b->time_early));
        assert_true(isfinite(a->time_late) == isfinite(b->time_late));
        if (isfinite(b->time_early))
            assert_close(a->time_early, b->time_early, 0.01, 0, "%s, target %zu early", file, i);
        if (isfinite(b->time_late))
            assert_close(a->time_late, b->time_late, 0.015, 0, "%s, target %zu late", file, i);
    }
    rfy_result_free(plain);
    rfy_result_free(quick);
    rfy_result_free(exact);
    rfy_system_free(system);
    free(text);
}

static double level(const char *text, const char *path, double value, const char *unit) {
    char number[64];
    snprintf(number, sizeof number, "%.17g %s", value, unit);
    rfy_setting setting = {path, number};
    rfy_problems *problems = rfy_problems_new("test");
    rfy_system *system;
    assert_int_equal(rfy_system_read(&system, text, strlen(text), &setting, 1, problems), RFY_OK);
    rfy_run_options o = RFY_RUN_OPTIONS_INIT;
    o.tolerance = 1e-8;
    rfy_result *r = test_run(system, &o, RFY_OK);
    const double found = r->ultimate.total[0];
    rfy_result_free(r);
    rfy_system_free(system);
    rfy_problems_free(problems);
    return found;
}

/* A lamp filled through a valve that opens when the bench is ready: the level follows what the
 * valve lets through, not when it opens. Central differences of runs at 1e-8. */
static void a_filled_level(void **state) {
    (void)state;
    char *text = test_read_file("examples/two-port-exhaust.json", NULL);
    rfy_system *system = test_system(text);
    rfy_result *r = advised(system, RFY_WANTED);
    for (size_t k = 0; k < r->n_sensitivities; k++) {
        const rfy_sensitivity *s = &r->sensitivity[k];
        if (strcmp(s->name, "run-up time of turbo") != 0 &&
            strcmp(s->name, "bore of argon valve") != 0)
            continue;
        const double h = 0.01, more = level(text, s->path[0], s->value * exp(h), s->unit),
                     less = level(text, s->path[0], s->value * exp(-h), s->unit);
        assert_close(s->ultimate[0], log(more / less) / (2 * h), 2e-3, 1e-3, "%s", s->name);
    }
    rfy_result_free(r);
    rfy_system_free(system);
    free(text);
}

int main(void) {
    gsl_set_error_handler_off();
    const struct CMUnitTest closed[] = {
        cmocka_unit_test(a_volume_and_a_speed), cmocka_unit_test(a_pump_that_gains),
        cmocka_unit_test(a_step_that_walls_hold_up), cmocka_unit_test(a_filled_level)};
    int failed = cmocka_run_group_tests_name("closed forms", closed, NULL, NULL);
    glob_t files;
    if (glob(RAREFY_SOURCE_DIR "/examples/*.json", 0, NULL, &files) != 0)
        return 1;
    struct CMUnitTest *tests = calloc(files.gl_pathc, sizeof *tests);
    for (size_t i = 0; i < files.gl_pathc; i++)
        tests[i] = (struct CMUnitTest){.name = strrchr(files.gl_pathv[i], '/') + 1,
                                       .test_func = example,
                                       .initial_state = files.gl_pathv[i]};
    failed += _cmocka_run_group_tests("examples", tests, files.gl_pathc, NULL, NULL);
    free(tests);
    globfree(&files);
    return failed;
}
