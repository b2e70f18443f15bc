/* Every fault at every phase: which cases there are, that the order is by time, that the number of
 * threads changes nothing, and that a case says what a run of its own with that fault says. */
#define _POSIX_C_SOURCE 200809L
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "support/sketch.h"

static rfy_system *example(const char *path) {
    char *text = test_read_file(path, NULL);
    rfy_system *system = test_system(text);
    free(text);
    return system;
}

static char *written(const rfy_protect_result *r, bool json) {
    char *text = NULL;
    size_t size = 0;
    FILE *file = open_memstream(&text, &size);
    rfy_write_options options = RFY_WRITE_OPTIONS_INIT;
    assert_int_equal(json ? rfy_write_protect_json(file, r, &options)
                          : rfy_write_protect_text(file, r, &options),
                     RFY_OK);
    fclose(file);
    return text;
}

typedef struct tally {
    size_t calls, last, all;
} tally;

static void count_calls(void *context, size_t done, size_t all) {
    tally *t = context;
    assert_true(done > t->last);
    t->last = done;
    t->all = all;
    t->calls++;
}

static void threads_change_nothing(void **state) {
    (void)state;
    rfy_system *system = example("examples/two-port-exhaust.json");
    char *first[2] = {NULL, NULL};
    for (int jobs = 1; jobs <= 5; jobs += 2) {
        tally t = {0};
        rfy_protect_options options = RFY_PROTECT_OPTIONS_INIT;
        options.jobs = jobs;
        options.horizon = 120;
        options.progress = count_calls;
        options.context = &t;
        rfy_protect_result *r;
        assert_int_equal(rfy_protect(&r, system, &options), RFY_OK);
        assert_true(r->n_cases >= 60 && r->n_cases == r->n_faults * r->n_phases);
        assert_true(t.calls == r->n_cases && t.last == t.all);
        for (int json = 0; json < 2; json++) {
            char *text = written(r, json);
            if (first[json])
                assert_string_equal(text, first[json]);
            else
                first[json] = strdup(text);
            free(text);
        }
        rfy_protect_free(r);
    }
    free(first[0]);
    free(first[1]);
    rfy_system_free(system);
}

static const rfy_protect_case *find(const rfy_protect_result *r, const char *fault, size_t phase) {
    for (size_t i = 0; i < r->n_cases; i++)
        if (strcmp(r->fault[r->cases[i].fault], fault) == 0 && r->cases[i].phase == phase)
            return &r->cases[i];
    fail_msg("no case %s in phase %zu", fault, phase);
    return NULL;
}

static void cases(void **state) {
    (void)state;
    rfy_system *system = example("examples/window-test.json");
    rfy_protect_options options = RFY_PROTECT_OPTIONS_INIT;
    rfy_protect_result *r;
    assert_int_equal(rfy_protect(&r, system, &options), RFY_OK);
    /* the start, and one phase after each of three steps */
    assert_int_equal(r->n_phases, 4);
    for (size_t i = 0; i < r->n_phases; i++) {
        assert_true(r->phase[i].begin < r->phase[i].time && r->phase[i].time < r->phase[i].end);
        if (i > 0)
            assert_true(r->phase[i].begin == r->phase[i - 1].end);
    }
    /* by time, then what breaks nothing; every pair once */
    size_t guards = 0;
    bool *seen = calloc(r->n_cases, sizeof *seen);
    for (size_t i = 0; i < r->n_cases; i++) {
        const rfy_protect_case *k = &r->cases[i];
        assert_null(k->trouble);
        assert_true(i == 0 || k->available >= r->cases[i - 1].available);
        assert_true((k->limit != NULL) == isfinite(k->available));
        size_t at = k->fault * r->n_phases + k->phase;
        assert_false(seen[at]);
        seen[at] = true;
        if (k->rescue)
            assert_true(k->latest > 0 && k->latest <= k->available);
        guards += k->guard != NULL;
        if (k->guard) { /* the delay counts from when the rule sees it */
            assert_true(k->delay > 0 && k->delay < k->latest);
            assert_non_null(strstr(k->guard, k->rescue));
        }
    }
    free(seen);
    assert_true(guards > 0);
    /* a run of its own with the same fault at the same instant */
    const char *const texts[] = {"window cracks", "foreline hose comes off"};
    for (size_t i = 0; i < 2; i++) {
        const rfy_protect_case *k = find(r, texts[i], 2);
        char text[100];
        snprintf(text, sizeof text, "%s at %.17g s", texts[i], r->phase[2].time);
        rfy_problems *problems = rfy_problems_new("fault");
        rfy_fault *fault;
        assert_int_equal(rfy_fault_read(&fault, system, text, problems), RFY_OK);
        rfy_run_options run = RFY_RUN_OPTIONS_INIT;
        run.fault = fault;
        rfy_result *own = test_run(system, &run, RFY_LIMIT_BROKEN);
        assert_close(k->available, own->strike->available, 2e-2, 0, "%s", texts[i]);
        assert_string_equal(k->limit, own->strike->broken[0].limit);
        rfy_result_free(own);
        rfy_fault_free(fault);
        rfy_problems_free(problems);
    }
    /* valves that move at the wrong moment move the other way than they stand */
    assert_null(find(r, "high-vacuum valve moves at the wrong moment", 2)->limit);
    assert_non_null(find(r, "high-vacuum valve moves at the wrong moment", 3)->limit); /* vented */
    assert_non_null(find(r, "vent valve moves at the wrong moment", 2)->limit);
    /* a leak that the guard catches in time, and what it does */
    const rfy_protect_case *leak = find(r, "leak vessel 1 mbar L/s", 2);
    assert_null(leak->limit);
    char *text = written(r, false);
    const char *const lines[] = {"TIME AVAILABLE, shortest first", "NO LIMIT BREAKS within 30 min",
                                 "kept by rule vessel guard", "CAUTIONS", "Nothing saves this"};
    for (size_t i = 0; i < 5; i++)
        if (!strstr(text, lines[i]))
            fail_msg("the text does not say: %s", lines[i]);
    /* the cautions come last */
    assert_true(strstr(text, "CAUTIONS") > strstr(text, "NO LIMIT BREAKS"));
    free(text);
    rfy_protect_free(r);
    rfy_system_free(system);
}

/* A procedure that breaks a limit by itself says so; one that cannot be run as well. */
static void unsound_procedures(void **state) {
    (void)state;
    rfy_system *system = example("examples/two-port-too-early.json");
    rfy_protect_options options = RFY_PROTECT_OPTIONS_INIT;
    options.horizon = 1;
    rfy_protect_result *r;
    assert_int_equal(rfy_protect(&r, system, &options), RFY_LIMIT_BROKEN);
    assert_int_equal(r->n_broken_alone, 1);
    char *text = written(r, false);
    assert_non_null(strstr(text, "THE PROCEDURE ITSELF BREAKS A LIMIT"));
    free(text);
    rfy_protect_free(r);
    volatile int stop = 1;
    options.stop = &stop;
    assert_int_equal(rfy_protect(&r, system, &options), RFY_INTERRUPTED);
    free(written(r, false));
    free(written(r, true));
    rfy_protect_free(r);
    rfy_system_free(system);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(threads_change_nothing),
        cmocka_unit_test(cases),
        cmocka_unit_test(unsound_procedures),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
