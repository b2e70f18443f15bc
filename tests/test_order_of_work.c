/* A correct order of work breaks no limit; each of these mistakes is caught, at the right instant,
 * with the way the gas took. The benches are the examples of that name, without their rules, and
 * the instants are those of the acts that do the harm. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cjson/cJSON.h>
#include <gsl/gsl_errno.h>
#include "support/sketch.h"

static cJSON *bench(const char *path) {
    char *text = test_read_file(path, NULL);
    cJSON *root = cJSON_Parse(text);
    free(text);
    assert_non_null(root);
    cJSON_DeleteItemFromObjectCaseSensitive(root, "rules");
    cJSON_DeleteItemFromObjectCaseSensitive(root, "faults");
    return root;
}

/* Puts a step (JSON with ' for ") in place of step `at`, or before it. */
static void change(cJSON *root, int at, bool insert, const char *step) {
    cJSON *list = cJSON_GetObjectItemCaseSensitive(root, "procedure");
    char text[512];
    snprintf(text, sizeof text, "%s", step);
    for (char *c = text; (c = strchr(c, '\''));)
        *c = '"';
    cJSON *item = cJSON_Parse(text);
    assert_non_null(item);
    cJSON *changed = cJSON_CreateArray();
    for (int i = 0; list->child; i++) {
        cJSON *one = cJSON_DetachItemViaPointer(list, list->child);
        if (i == at)
            cJSON_AddItemToArray(changed, item);
        if (i == at && !insert)
            cJSON_Delete(one);
        else
            cJSON_AddItemToArray(changed, one);
    }
    cJSON_ReplaceItemInObjectCaseSensitive(root, "procedure", changed);
}

static rfy_result *run(cJSON *root, rfy_system **system, rfy_status expected) {
    char *text = cJSON_PrintUnformatted(root);
    *system = test_system(text);
    rfy_result *r = test_run(*system, NULL, expected);
    cJSON_free(text);
    cJSON_Delete(root);
    return r;
}

static void correct_order(void **state) {
    (void)state;
    const char *const paths[] = {"examples/two-port-exhaust.json", "examples/bell-jar-coater.json",
                                 "examples/photocell-bulb.json", "examples/window-test.json"};
    for (size_t i = 0; i < 4; i++) {
        rfy_system *system;
        rfy_result *r = run(bench(paths[i]), &system, RFY_OK);
        for (size_t k = 0; k < r->n_limits; k++)
            assert_false(r->limit[k].broken);
        for (size_t k = 0; k < r->n_care; k++)
            if (strstr(r->care[k], "was not taken"))
                fail_msg("%s: %s", paths[i], r->care[k]);
        rfy_result_free(r);
        rfy_system_free(system);
    }
}

/* The time of the n-th event that is exactly `what`. */
static double event_time(const rfy_result *r, const char *what, int n) {
    for (size_t i = 0; i < r->n_events; i++)
        if (strcmp(r->event[i].what, what) == 0 && n-- == 1)
            return r->event[i].time;
    fail_msg("no such event: %s", what);
    return NAN;
}

typedef struct mistake {
    const char *what, *example;
    int at;
    bool insert;
    const char *step;
    const char *limit;
    const char *act; /* the event that does the harm, which time it comes, */
    int nth;
    double after, within; /* and how long after it the limit breaks: exactly, or at most later */
    const char *path;     /* part of the way */
} mistake;

#define TWO "examples/two-port-exhaust.json"
#define JAR "examples/bell-jar-coater.json"

static const mistake mistakes[] = {
    {"the turbo started in air with its foreline shut", TWO, 0, true,
     "{'do': ['close foreline valve', 'close roughing valve', 'start turbo']}", "inlet of turbo",
     "start turbo", 1, 20, 0 /* 20 % of 100 s */, "turbo inlet"},
    {"opened to the turbo before roughing again", TWO, 5, true,
     "{'do': ['open high-vacuum valve']}", "inlet of turbo", "open high-vacuum valve", 2, 0, 0.05,
     "manifold -> high-vacuum line (high-vacuum valve"},
    {"roughed with the foreline still open", TWO, 5, false,
     "{'do': ['open roughing valve', 'wait 1 s']}", "foreline of turbo", "open roughing valve", 1,
     0, 0.5, "roughing line (roughing valve"},
    {"filament left glowing while argon comes in", TWO, 3, false,
     "{'when': 'lamp A < 5e-3 Pa and elapsed > 30 min', 'do': ['close high-vacuum valve', 'wait 1 "
     "s']}",
     "filament of ion gauge", "back-fill lamp A with Ar to 1.5 kPa through argon valve", 1, 0, 0.1,
     "argon bottle through gas line"},
    {"gauge switched on while roughing", TWO, 1, true,
     "{'when': 'manifold < 5 Pa', 'do': ['switch on ion gauge']}", "filament of ion gauge",
     "switch on ion gauge", 1, 0, 1e-6, "manifold"},
    {"argon let in with the way to the turbo open", TWO, 3, false,
     "{'when': 'lamp A < 5e-3 Pa and elapsed > 30 min', 'do': ['switch off ion gauge']}",
     "inlet of turbo", "back-fill lamp A with Ar to 1.5 kPa through argon valve", 1, 0, 0.5,
     "argon bottle through gas line"},
    {"gauge switched on in the argon", TWO, 5, true, "{'do': ['switch on ion gauge']}",
     "filament of ion gauge", "switch on ion gauge", 2, 0, 1e-6, "manifold"},
    {"vane pump stopped under vacuum with the roughing valve open", TWO, 6, true,
     "{'when': 'manifold < 5 Pa', 'do': ['stop vane', 'end the procedure']}", "oil of vane",
     "stop vane", 1, 60, 0, "roughing valve"},
    {"turbo stopped, then the vane pump, with the foreline open", TWO, 8, false,
     "{'when': 'manifold < 0.02 Pa and elapsed > 20 s', 'do': ['stop turbo', 'wait 1 s', 'stop "
     "vane']}",
     "oil of vane", "stop turbo", 1, 0.95 * 720 + 60, 0, "foreline valve"},
    {"opened to argon while the turbo still coasts", TWO, 5, true,
     "{'do': ['stop turbo', 'wait 2 min', 'open high-vacuum valve']}", "inlet of turbo",
     "open high-vacuum valve", 2, 0, 0.05, "manifold -> high-vacuum line"},
    {"jar opened to the diffusion pump before it was roughed", JAR, 1, false,
     "{'when': 'diffusion pump > 95 %', 'do': ['open high-vacuum valve']}", "oil of diffusion pump",
     "open high-vacuum valve", 1, 0, 1, "bell jar -> high-vacuum line (high-vacuum valve"},
    {"jar roughed with the backing valve open", JAR, 1, false,
     "{'when': 'diffusion pump > 95 %', 'do': ['open roughing valve']}",
     "foreline of diffusion pump", "open roughing valve", 1, 0, 1,
     "bell jar -> roughing line (roughing valve open)"},
    {"jar vented onto hot oil", JAR, 4, false,
     "{'when': 'bell jar < 0.05 Pa and elapsed > 10 s', 'do': ['open vent valve']}",
     "oil of diffusion pump", "open vent valve", 1, 0, 30, "air through vent (vent valve open)"},
    {"vane pump stopped behind hot jets", JAR, 4, false,
     "{'when': 'bell jar < 0.05 Pa and elapsed > 10 s', 'do': ['stop vane', 'open roughing "
     "valve']}",
     "oil of vane", "stop vane", 1, 60, 0, "roughing valve"},
};

static void mistakes_are_caught(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof mistakes / sizeof *mistakes; i++) {
        const mistake *m = &mistakes[i];
        cJSON *root = bench(m->example);
        change(root, m->at, m->insert, m->step);
        rfy_system *system;
        rfy_result *r = NULL;
        char *text = cJSON_PrintUnformatted(root);
        system = test_system(text);
        cJSON_free(text);
        cJSON_Delete(root);
        rfy_run_options options = RFY_RUN_OPTIONS_INIT;
        if (rfy_run(&r, system, &options) != RFY_LIMIT_BROKEN)
            fail_msg("%s: no limit is broken%s", m->what, r->trouble ? r->trouble : "");
        const rfy_limit_result *l = test_limit(r, m->limit);
        if (!l->broken)
            fail_msg("%s: %s is kept", m->what, m->limit);
        double late = l->time - event_time(r, m->act, m->nth);
        if (m->within > 0)
            assert_true(late >= 0 && late <= m->within);
        else
            assert_close(late, m->after, 1e-6, 0, "%s: when", m->what);
        assert_non_null(l->ready);
        if (!l->path || !strstr(l->path, m->path))
            fail_msg("%s: the way is \"%s\"", m->what, l->path ? l->path : "");
        /* by how much */
        assert_true(l->kind == RFY_LIMIT_MIN ? l->peak < l->max : l->peak >= l->max * (1 - 1e-9));
        rfy_result_free(r);
        rfy_system_free(system);
    }
}

/* ---- limits of the description ---- */

#define FLASK                                                                                      \
    "'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'flask', 'volume': '10 L', 'start': "     \
    "{'N2': '100 Pa'}}], 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'flask', 'to': "      \
    "'ambient', 'speed': '1 L/s'}]"

/* p = 100 exp(-t/10 s): falls below 20 Pa at 16.09 s, and by 10 Pa/s at first. */
static void lowest_and_fastest(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{" FLASK ", 'limits': [{'name': 'not too low', 'watch': 'flask', 'min': '20 Pa'},"
        " {'name': 'not too fast', 'watch': 'flask', 'max_rate': '5 Pa/s', 'while': 'time > 2 s'},"
        " {'name': 'slow enough', 'watch': 'flask', 'max_rate': '9 Pa/s', 'while': 'time > 2 s'},"
        " {'name': 'spike', 'watch': 'flask', 'max_rate': '5 Pa/s', 'for': '8 s'}],"
        " 'run': {'until': '40 s'}}");
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.tolerance = 1e-9;
    rfy_result *r = test_run(system, &options, RFY_LIMIT_BROKEN);
    const rfy_limit_result *low = test_limit(r, "not too low"),
                           *fast = test_limit(r, "not too fast"),
                           *slow = test_limit(r, "slow enough"), *spike = test_limit(r, "spike");
    assert_close(low->time, 10 * log(5), 1e-8, 0, "falls below");
    assert_close(low->peak, 100 * exp(-4), 1e-6, 0, "lowest");
    assert_close(fast->time, 2, 1e-8, 0, "too fast from the moment it applies");
    assert_close(fast->peak, 10 * exp(-0.2), 1e-6, 0, "fastest");
    assert_false(slow->broken);
    assert_close(slow->peak, 10 * exp(-0.2), 1e-2, 0, "fastest, kept: looked for at some points");
    /* above 5 Pa/s for 10 s ln 2 = 6.93 s only */
    assert_false(spike->broken);
    rfy_result_free(r);
    rfy_system_free(system);
}

#define TURBO                                                                                      \
    "'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'dome', 'volume': '1 L', 'start': "       \
    "{'N2': "                                                                                      \
    "'50 Pa'}}, {'name': 'foreline', 'volume': '1 L', 'start': {'N2': '50 Pa'}}], 'pumps': "       \
    "[{'name': 'turbo', 'kind': 'turbomolecular', 'from': 'dome', 'to': 'foreline', 'speed': '60 " \
    "L/s', 'foreline_limit': '80 Pa'}], 'gauges': [{'name': 'glow', 'at': 'dome', 'kind': 'hot "   \
    "cathode'}], 'run': {'until': '10 s'}"

/* Ready-made limits come with their parts, can be changed one by one, taken away one by one or
 * all. */
static void ready_made(void **state) {
    (void)state;
    const struct {
        const char *limits;
        size_t n;
        double inlet, fore; /* what is allowed; NaN = not there */
    } rows[] = {
        {"", 3, 100, 80},
        {", 'limits': [{'name': 'inlet of turbo', 'max': '7 Pa', 'for': '2 s'}]", 3, 7, 80},
        {", 'limits': [{'name': 'foreline of turbo', 'watch': 'dome'}]", 3, 100, 80},
        {", 'limits': [{'name': 'inlet of turbo', 'applies': false}]", 2, NAN, 80},
        {", 'ready_limits': false", 0, NAN, NAN},
        {", 'ready_limits': false, 'limits': [{'name': 'inlet of turbo', 'watch': 'dome', 'max': "
         "'3 "
         "Pa'}]",
         1, 3, NAN},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        rfy_system *system = test_sketch("{" TURBO "%s}", rows[i].limits);
        rfy_result *r = NULL;
        rfy_run_options options = RFY_RUN_OPTIONS_INIT;
        rfy_run(&r, system, &options);
        assert_int_equal(r->n_limits, rows[i].n);
        if (!isnan(rows[i].inlet))
            assert_true(test_limit(r, "inlet of turbo")->max == rows[i].inlet);
        if (!isnan(rows[i].fore))
            assert_true(test_limit(r, "foreline of turbo")->max == rows[i].fore);
        if (i == 1)
            assert_true(test_limit(r, "inlet of turbo")->duration == 2);
        if (i == 2)
            assert_string_equal(test_limit(r, "foreline of turbo")->watch, "dome");
        if (i < 4) {
            assert_true(test_limit(r, "filament of glow")->broken);
            assert_true(test_limit(r, "filament of glow")->time == 0);
        }
        rfy_result_free(r);
        rfy_system_free(system);
    }
    rfy_problems *p =
        test_refused("{" TURBO ", 'limits': [{'name': 'inlet of turbos', 'max': '7 Pa'}]}");
    assert_non_null(strstr(rfy_problems_at(p, rfy_problems_kept(p) - 1)->hint, "inlet of turbo"));
    rfy_problems_free(p);
    p = test_refused("{" TURBO
                     ", 'limits': [{'name': 'x', 'watch': 'dome', 'max': '7 Pa', 'min': '1 Pa'}]}");
    rfy_problems_free(p);
}

/* ---- oil ---- */

/* 10 L through a hose of 25 mm: p = 100 Pa exp(-t/10 s) falls below 0.6 Pa m/25 mm = 24 Pa after 10
 * s ln(100/24) = 14.3 s; the valve shuts after a minute. */
static void oil_creeps(void **state) {
    (void)state;
    const char *const pieces[] = {"'tube 25 mm x 50 mm'",
                                  "'tube 25 mm x 50 mm', {'trap': {'conductance': '100 L/s', "
                                  "'volume': '1 cm3'}}"};
    for (int trap = 0; trap < 2; trap++) {
        rfy_system *system = test_sketch(
            "{'rarefy': 1, 'gases': ['N2', 'H2O'], 'ambient': {'temperature': '20 degC'}, "
            "'chambers': [{'name': 'tank', 'volume': '10 L', 'start': {'N2': '99 Pa', 'H2O': '1 "
            "Pa'}}, {'name': 'inlet', 'volume': '10 cm3', 'start': {'N2': '99 Pa', 'H2O': '1 "
            "Pa'}}], 'lines': [{'name': 'hose', 'between': ['tank', 'inlet'], 'pieces': [%s, "
            "{'valve': {'name': 'cock', 'bore': '25 mm', 'length': '10 mm'}}]}], 'pumps': "
            "[{'name': 'vane', 'kind': 'rotary vane', 'from': 'inlet', 'to': 'ambient', 'speed': "
            "'1 "
            "L/s', 'ultimate': '0 Pa', 'when_off': 'seals'}], 'procedure': [{'when': 'time > 1 "
            "min', "
            "'do': ['close cock']}], 'run': {'until': '5 min'}}",
            pieces[trap]);
        rfy_run_options options = RFY_RUN_OPTIONS_INIT;
        options.tolerance = 1e-7;
        rfy_result *r = test_run(system, &options, RFY_OK);
        assert_int_equal(r->n_creeps, 1);
        const rfy_creep *c = &r->creep[0];
        assert_string_equal(c->chamber, "tank");
        assert_string_equal(c->pump, "vane");
        double begin = 10 * log(100 / 24.0);
        assert_close(c->time, 60 - begin, 4e-2, 0, "thin and open"); /* half a step of the solver */
        assert_close(c->untrapped, trap ? 0 : c->time, 1e-9, 0, "trap");
        assert_close(c->oil, 1e-2 * c->time, 1e-9, 0, "at most its vapour");
        /* water: the integral of 1 Pa exp(-t/10 s) over that time, whose beginning is known to half
           a step of the solver, here about 1 s of its 0.24 Pa */
        assert_close(c->water, 10 * (exp(-begin / 10) - exp(-6.0)), 0, 0.24, "water");
        rfy_result_free(r);
        rfy_system_free(system);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(correct_order),      cmocka_unit_test(mistakes_are_caught),
        cmocka_unit_test(lowest_and_fastest), cmocka_unit_test(ready_made),
        cmocka_unit_test(oil_creeps),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
