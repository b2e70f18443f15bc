/* Systems side by side: closed forms for what a change costs and from which pressure on. */
#define _POSIX_C_SOURCE 200809L
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support/support.h"

/* V dp/dt = q - S p, so p = p_u + (p0 - p_u) exp(-S t/V) with p_u = q/S, and the time to p is
 * V/S ln((p0 - p_u)/(p - p_u)). */
static const char *const jar =
    "{\"rarefy\": 1, \"title\": \"%s\", \"gases\": [\"N2\"], \"ready_limits\": false,"
    "\"ambient\": {\"temperature\": \"20 degC\"},"
    "\"chambers\": [{\"name\": \"jar\", \"volume\": \"10 L\", \"start\": {\"N2\": \"1000 Pa\"},"
    "\"leaks\": [{\"rate\": \"%s\", \"gas\": \"N2\"}]}],"
    "\"pumps\": [{\"name\": \"pump\", \"kind\": \"ideal\", \"from\": \"jar\", \"to\": \"ambient\","
    "\"speed\": \"%s\"}],"
    "\"targets\": [{\"name\": \"low\", \"chamber\": \"jar\", \"pressure\": \"0.1 Pa\"}],"
    "\"run\": {\"until\": \"10 min\"}}";

static rfy_system *made(const char *title, const char *leak, const char *speed) {
    char text[1500];
    snprintf(text, sizeof text, jar, title, leak, speed);
    return test_system(text);
}

static rfy_comparison *compared(rfy_system *a, rfy_system *b) {
    const rfy_system *both[2] = {a, b};
    const char *const name[2] = {"first", "second"};
    rfy_compare_options o = RFY_COMPARE_OPTIONS_INIT;
    o.tolerance = 1e-7;
    rfy_comparison *c = NULL;
    assert_int_equal(rfy_compare(&c, both, name, 2, &o), RFY_OK);
    return c;
}

static char *written(const rfy_comparison *c, bool json) {
    char *text = NULL;
    size_t size = 0;
    FILE *file = open_memstream(&text, &size);
    assert_int_equal(json ? rfy_write_comparison_json(file, c, NULL)
                          : rfy_write_comparison_text(file, c, NULL),
                     RFY_OK);
    fclose(file);
    return text;
}

static void half_the_pump(void **state) {
    (void)state;
    rfy_system *a = made("a", "1e-6 Pa m3/s", "5 L/s"), *b = made("b", "1e-6 Pa m3/s", "4 L/s");
    rfy_comparison *c = compared(a, b);
    const rfy_difference *d = &c->difference[1];
    assert_int_equal(d->n_changes, 1);
    assert_string_equal(d->change[0].path, "pump/speed");
    assert_string_equal(d->change[0].from, "5 L/s");
    assert_string_equal(d->change[0].to, "4 L/s");
    assert_close(c->result[1]->target[0].time / c->result[0]->target[0].time, 1.25, 1e-3, 0,
                 "time goes as 1/S far above the level");
    assert_int_equal(d->n_courses, 1);
    assert_int_equal(d->course[0].where, RFY_WHERE_ALL);
    char *text = written(c, false);
    assert_non_null(
        strstr(text, "B: pump/speed 4 L/s instead of 5 L/s: it costs 25 % of the time"));
    assert_non_null(strstr(text, "at every pressure in jar"));
    free(text);
    rfy_comparison_free(c);
    rfy_system_free(a);
    rfy_system_free(b);
}

static double time_to(double p, double level) {
    return 2 * log((1000 - level) / (p - level));
}

/* A leak ten times larger matters below a pressure that the closed form gives. */
static void a_leak_matters_only_below(void **state) {
    (void)state;
    rfy_system *a = made("a", "1e-6 Pa m3/s", "5 L/s"), *b = made("b", "2e-4 Pa m3/s", "5 L/s");
    rfy_comparison *c = compared(a, b);
    const rfy_course *course = &c->difference[1].course[0];
    assert_int_equal(course->where, RFY_WHERE_BELOW);
    const double level_a = 1e-6 / 5e-3, level_b = 2e-4 / 5e-3;
    double high = 100, low = 0.05;
    for (int i = 0; i < 60; i++) {
        double p = sqrt(high * low);
        *(time_to(p, level_b) > 1.01 * time_to(p, level_a) ? &low : &high) = p;
    }
    /* looked for on a grid of 400 pressures over some five decades: 3 % apart */
    assert_close(course->pressure, high, 0.04, 0, "pressure below which times differ by 1 %%");
    assert_true(course->largest > 0.01);
    assert_close(c->result[1]->target[0].time / c->result[0]->target[0].time,
                 time_to(0.1, level_b) / time_to(0.1, level_a), 1e-4, 0, "ratio of the times");
    char *text = written(c, false);
    assert_non_null(strstr(text, "only below"));
    free(text);
    rfy_comparison_free(c);
    /* and with itself nothing differs */
    c = compared(a, a);
    assert_int_equal(c->difference[1].course[0].where, RFY_WHERE_NOWHERE);
    assert_int_equal(c->difference[1].n_changes, 0);
    text = written(c, false);
    assert_non_null(strstr(text, "no difference of note"));
    free(text);
    rfy_comparison_free(c);
    rfy_system_free(a);
    rfy_system_free(b);
}

/* Paths of what differs, in the grammar of --set, with abbreviations written out. */
static void changes_have_paths(void **state) {
    (void)state;
    char *text = test_read_file("examples/photocell-bulb.json", NULL);
    rfy_system *a = test_system(text), *b = NULL;
    rfy_problems *problems = rfy_problems_new("test");
    static const rfy_setting used[] = {
        {"foreline hose/0/bore", "25 mm"}, {"port/walls/0/area", "0.2 m2"}, {"bulb/bore", "50 mm"}};
    assert_int_equal(rfy_system_read(&b, text, strlen(text), used, 3, problems), RFY_OK);
    rfy_problems_free(problems);
    const rfy_system *both[2] = {a, b};
    const char *const name[2] = {"a", "b"};
    rfy_compare_options o = RFY_COMPARE_OPTIONS_INIT;
    rfy_comparison *c = NULL;
    rfy_compare(&c, both, name, 2, &o);
    static const char *const path[] = {"bulb/bore", "port/walls/0/area", "foreline hose/0/bore"};
    assert_int_equal(c->difference[1].n_changes, 3);
    for (int i = 0; i < 3; i++) {
        bool found = false;
        for (int k = 0; k < 3; k++)
            found = found || strcmp(c->difference[1].change[k].path, path[i]) == 0;
        if (!found)
            fail_msg("%s is not told", path[i]);
    }
    char *json = written(c, true);
    assert_non_null(strstr(json, "\"foreline hose/0/bore\""));
    free(json);
    rfy_comparison_free(c);
    rfy_system_free(a);
    rfy_system_free(b);
    free(text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(half_the_pump),
        cmocka_unit_test(a_leak_matters_only_below),
        cmocka_unit_test(changes_have_paths),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
