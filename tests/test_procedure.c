/* Conditions and actions as they are written, and the guards they become. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include "network/program.h"
#include "support/support.h"

static const char *const nodes[] = {"port", "turbo inlet", "salt and sand", "not quite",
                                    "or",   "time lock",   "a(b)",          "port 2"};
static const char *const pumps[] = {"turbo", "vane and trap", "timer"};
static const char *const valves[] = {"gate", "open end", "on"};
static const char *const gauges[] = {"hot gauge", "port gauge"};
static const char *const lines[] = {"stem", "hose"};
static const char *const gases[] = {"N2", "Ar", "air"};

typedef struct bench {
    rfy_arena *arena;
    const rfy_units *units;
    rfy_problems *problems;
    rfy_names names;
    double pressure[8], temperature[8], turn[3], reading[2];
    rfy_view view;
} bench;

static void set_up(bench *b) {
    *b = (bench){.arena = rfy_arena_new(),
                 .problems = rfy_problems_new("procedure"),
                 .names = {.n_nodes = 8,
                           .n_pumps = 3,
                           .n_valves = 3,
                           .n_gauges = 2,
                           .node = nodes,
                           .pump = pumps,
                           .valve = valves,
                           .gauge = gauges,
                           .n_lines = 2,
                           .n_gases = 3,
                           .line = lines,
                           .gas = gases}};
    b->units = rfy_units_new(b->arena);
    const double pressure[] = {5, 0.02, 300, 1e5, 7, 11, 13, 17}, turn[] = {0.9, 1, 0.3};
    memcpy(b->pressure, pressure, sizeof pressure);
    for (int k = 0; k < 8; k++)
        b->temperature[k] = 293.15 + 10 * k;
    memcpy(b->turn, turn, sizeof turn);
    b->reading[0] = NAN;
    b->reading[1] = 4;
}

static void tear_down(bench *b) {
    rfy_problems_free(b->problems);
    rfy_arena_free(b->arena);
}

static rfy_view view(const bench *b) {
    static const double opening[3] = {1, 0, 0.25};
    static const bool driven[3] = {true, true, false}, switched[2] = {false, true};
    return (rfy_view){.pressure = b->pressure,
                      .turn = b->turn,
                      .reading = b->reading,
                      .time = 100,
                      .elapsed = 20,
                      .opening = opening,
                      .driven = driven,
                      .switched = switched,
                      .temperature = b->temperature};
}

static double guard(bench *b, const char *text) {
    rfy_place at = {1, 1, "procedure/0/when"};
    rfy_condition *c = rfy_condition_parse(b->arena, b->units, &b->names, text, at, b->problems);
    if (!c) {
        rfy_write_problems(stderr, b->problems);
        fail_msg("not understood: %s", text);
    }
    rfy_view v = view(b);
    return rfy_condition_guard(c, &v);
}

/* ---- meaning ---- */

static void truth(void **state) {
    (void)state;
    const struct {
        const char *text;
        bool holds;
    } rows[] = {
        {"port < 10 Pa", true},
        {"port < 1 Pa", false},
        {"port > 0.01 mbar", true},
        {"port>0.1 mbar", false},
        {"  port   <=   5.1Pa  ", true},
        {"turbo inlet < 0.05 Pa", true},
        {"port 2 > 16 Pa", true},
        {"turbo > 80 %", true},
        {"turbo > 0.95", false},
        {"time > 90 s", true},
        {"time lock > 10 Pa", true}, /* a chamber */
        {"port < 21 degC", true},    /* the unit says what is meant */
        {"port > 21 degC", false},
        {"turbo inlet > 29.9 degC", true},
        {"turbo inlet > 303.2 K", false},
        {"salt and sand > 100 degF and salt and sand < 105 degF", true},
        {"port 2 > 89 degC and port 2 > 16 Pa", true},
        {"elapsed > 30 s", false},
        {"port gauge < 5 Pa", true},
        {"hot gauge < 5 Pa", false}, /* off: a comparison with it is never true */
        {"hot gauge > 5 Pa", false},
        {"gate > 90 %", true},
        {"on > 20 %", true},
        {"on > 30 %", false},
        {"gate is open", true},
        {"gate is closed", false},
        {"open end is closed", true},
        {"open end is open", false},
        {"on is open and not on is closed", true},
        {"turbo is on", true},
        {"timer is on", false},
        {"timer is off and hot gauge is off", true},
        {"(port gauge is on)", true},
        {"not port < 1 Pa", true},
        {"port < 10 Pa and turbo > 80 %", true},
        {"port < 10 Pa and turbo > 95 %", false},
        {"port < 1 Pa or turbo > 80 %", true},
        {"port < 1 Pa or turbo > 95 %", false},
        /* and binds closer than or; not closest */
        {"port < 10 Pa or port < 1 Pa and port < 2 Pa", true},
        {"(port < 10 Pa or port < 1 Pa) and port < 2 Pa", false},
        {"not port < 1 Pa and port < 2 Pa", false},
        {"not (port < 1 Pa and port < 2 Pa)", true},
        {"not not port < 10 Pa", true},
        {"((port < 10 Pa))", true},
        /* names that hold words of the grammar */
        {"salt and sand > 200 Pa and port < 10 Pa", true},
        {"salt and sand > 400 Pa or vane and trap > 50 %", true},
        {"not quite > 1 mbar", true},
        {"not not quite > 1 mbar", false},
        {"or > 5 Pa or or > 50 Pa", true},
        {"a(b) > 12 Pa", true},
        {"(a(b) > 12 Pa)", true},
    };
    bench b;
    set_up(&b);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double g = guard(&b, rows[i].text);
        if ((g >= 0) != rows[i].holds)
            fail_msg("\"%s\" should be %s, its guard is %g", rows[i].text,
                     rows[i].holds ? "true" : "false", g);
    }
    tear_down(&b);
}

/* The guard is continuous and zero exactly where the comparison turns, rising towards true. */
static void guards_are_continuous(void **state) {
    (void)state;
    bench b;
    set_up(&b);
    const char *const texts[] = {"port < 10 Pa", "port > 10 Pa", "not port > 10 Pa",
                                 "port < 10 Pa and salt and sand < 1 kPa",
                                 "port < 10 Pa or port > 100 Pa"};
    for (size_t t = 0; t < 5; t++) {
        b.pressure[0] = 10;
        assert_close(guard(&b, texts[t]), 0, 0, 1e-14, "%s at the border", texts[t]);
        double last = 0;
        for (int i = 0; i <= 400; i++) {
            b.pressure[0] = 5 * pow(10, i / 400.0);
            double g = guard(&b, texts[t]);
            assert_true(isfinite(g));
            if (i > 0)
                assert_close(g, last, 0, 0.006, "%s makes no leap", texts[t]);
            last = g;
        }
    }
    /* also at no gas at all */
    b.pressure[0] = 0;
    assert_true(guard(&b, "port < 10 Pa") > 0 && isfinite(guard(&b, "port < 10 Pa")));
    b.pressure[0] = -1e-15;
    assert_true(isfinite(guard(&b, "port < 10 Pa")));
    tear_down(&b);
}

/* ---- faults ---- */

typedef struct fault {
    const char *text, *what, *hint; /* parts of the message */
} fault;

static void faults_are_told(void **state) {
    (void)state;
    const fault rows[] = {
        {"", "comparison", NULL},
        {"port", "port", NULL},
        {"prot < 10 Pa", "prot", "port"},
        {"turbo inlt < 1 Pa", "turbo inlt", "turbo inlet"},
        {"port < 10 mn", "mn", NULL},
        {"port < 10", "port < 10", NULL},
        {"port < 10 s", "", NULL},
        {"turbo > 90 Pa", "", NULL},
        {"port < -1 Pa", "", NULL},
        {"port < 0 Pa", "never", NULL},
        {"turbo > 100 %", "never", NULL},
        {"turbo > 150 %", "never", NULL},
        {"turbo < 0 %", "never", NULL},
        {"time > -3 s", "never", NULL},
        {"port < 10 Pa and", "comparison", NULL},
        {"port < 10 Pa port < 1 Pa", "does not belong", NULL},
        {"port < 10 Pa AND turbo > 1 %", "AND", NULL},
        {"(port < 10 Pa", "parenthesis", NULL},
        {"port < 10 Pa)", ")", NULL},
        {"and port < 10 Pa", "", NULL},
        {"not", "comparison", NULL},
        {"< 10 Pa", "comparison", NULL},
        {"port = 10 Pa", "port = 10 Pa", NULL},
        {"port < turbo inlet", "", NULL},
        {"port is on", "", NULL}, /* a chamber has no switch */
        {"gate is on", "says nothing", NULL},
        {"turbo is open", "says nothing", NULL},
        {"gate > 100 %", "never", NULL},
        {"gate < 10 Pa", "", NULL},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        bench b;
        set_up(&b);
        rfy_place at = {7, 9, "procedure/0/when"};
        rfy_condition *c =
            rfy_condition_parse(b.arena, b.units, &b.names, rows[i].text, at, b.problems);
        if (c)
            fail_msg("accepted: %s", rows[i].text);
        assert_int_equal(rfy_problems_errors(b.problems), 1); /* one fault, one message */
        const rfy_problem *p = rfy_problems_at(b.problems, 0);
        assert_int_equal(p->line, 7);
        assert_int_equal(p->column, 9);
        if (!strstr(p->what, rows[i].what))
            fail_msg("\"%s\": \"%s\" is not in \"%s\"", rows[i].text, rows[i].what, p->what);
        if (rows[i].hint && (!p->hint || !strstr(p->hint, rows[i].hint)))
            fail_msg("\"%s\": \"%s\" is not suggested (%s)", rows[i].text, rows[i].hint,
                     p->hint ? p->hint : "nothing");
        tear_down(&b);
    }
}

static void depth_has_an_end(void **state) {
    (void)state;
    char text[40000];
    for (int kind = 0; kind < 2; kind++) {
        size_t n = 0;
        for (int i = 0; i < 5000; i++)
            n += (size_t)sprintf(text + n, "%s", kind ? "not " : "(");
        sprintf(text + n, "port < 1 Pa");
        bench b;
        set_up(&b);
        rfy_place at = {1, 1, ""};
        assert_null(rfy_condition_parse(b.arena, b.units, &b.names, text, at, b.problems));
        assert_int_equal(rfy_problems_errors(b.problems), 1);
        tear_down(&b);
    }
    /* a long list is not deep */
    size_t n = 0;
    for (int i = 0; i < 1000; i++)
        n += (size_t)sprintf(text + n, "%sport < %d Pa", i ? " or " : "", i + 1);
    bench b;
    set_up(&b);
    assert_true(guard(&b, text) > 0);
    tear_down(&b);
}

/* ---- actions ---- */

static void actions(void **state) {
    (void)state;
    const struct {
        const char *text;
        rfy_order_kind kind;
        int part, gas, through, pumping, times;
        double value[2];
    } good[] = {
        {"start turbo", RFY_ORDER_START, 0, -1, -1, -1, 0, {NAN, NAN}},
        {"stop vane and trap", RFY_ORDER_STOP, 1, -1, -1, -1, 0, {NAN, NAN}},
        {"open gate", RFY_ORDER_OPEN, 0, -1, -1, -1, 0, {NAN, NAN}},
        {"close open end", RFY_ORDER_CLOSE, 1, -1, -1, -1, 0, {NAN, NAN}},
        {"switch on hot gauge", RFY_ORDER_SWITCH_ON, 0, -1, -1, -1, 0, {NAN, NAN}},
        {"switch off port gauge", RFY_ORDER_SWITCH_OFF, 1, -1, -1, -1, 0, {NAN, NAN}},
        {" open  on", RFY_ORDER_OPEN, 2, -1, -1, -1, 0, {NAN, NAN}},
        {"wait 5 min", RFY_ORDER_WAIT, -1, -1, -1, -1, 0, {300, NAN}},
        {"back-fill port 2 with Ar to 2 kPa", RFY_ORDER_FILL, 7, 1, -1, -1, 0, {2000, NAN}},
        {"back-fill port with N2 to 2 mbar through open end",
         RFY_ORDER_FILL,
         0,
         0,
         1,
         -1,
         0,
         {200, NAN}},
        {"flush port with Ar 3 times between 10 Pa and 1 kPa",
         RFY_ORDER_FLUSH,
         0,
         1,
         -1,
         -1,
         3,
         {10, 1000}},
        {"flush port with Ar 3 times between 1 kPa and 10 Pa through gate pumping through on",
         RFY_ORDER_FLUSH,
         0,
         1,
         0,
         2,
         3,
         {1000, 10}},
        {"flush port with Ar 1 times between 1 kPa and 10 Pa pumping through on",
         RFY_ORDER_FLUSH,
         0,
         1,
         -1,
         2,
         1,
         {1000, 10}},
        {"vent salt and sand", RFY_ORDER_VENT, 2, -1, -1, -1, 0, {NAN, NAN}},
        {"vent salt and sand with air through gate", RFY_ORDER_VENT, 2, 2, 0, -1, 0, {NAN, NAN}},
        {"seal off a(b)", RFY_ORDER_SEAL_OFF, 6, -1, -1, -1, 0, {NAN, NAN}},
        {"end the procedure", RFY_ORDER_END, -1, -1, -1, -1, 0, {NAN, NAN}},
        {"mains fail", RFY_ORDER_MAINS_FAIL, -1, -1, -1, -1, 0, {NAN, NAN}},
        {"seize turbo", RFY_ORDER_SEIZE, 0, -1, -1, -1, 0, {NAN, NAN}},
        {"slow turbo to 60 %", RFY_ORDER_SLOW, 0, -1, -1, -1, 0, {0.6, NAN}},
        {"stick gate", RFY_ORDER_STICK, 0, -1, -1, -1, 0, {NAN, NAN}},
        {"crack port 2 1 mm2", RFY_ORDER_CRACK, 7, -1, -1, -1, 0, {1e-6, NAN}},
        {"leak port 1e-3 mbar L/s", RFY_ORDER_LEAK, 0, -1, -1, -1, 0, {1e-4, NAN}},
        {"break stem", RFY_ORDER_BREAK, 0, -1, -1, -1, 0, {NAN, NAN}},
        {"heat port to 350 degC at 5 K/min", RFY_ORDER_HEAT, 0, -1, -1, -1, 0, {623.15, 5.0 / 60}},
        {"heat port 2 to 80 K at 1 K/s while below 1e-2 mbar",
         RFY_ORDER_HEAT,
         7,
         -1,
         -1,
         -1,
         0,
         {80, 1}},
    };
    const fault bad[] = {{"opne gate", "opne gate", "open"},
                         {"open turbo", "turbo", NULL},
                         {"start gate", "gate", NULL},
                         {"open gatte", "gatte", "gate"},
                         {"switch hot gauge", "switch", NULL},
                         {"switch on gate", "gate", NULL},
                         {"", "", NULL},
                         {"open", "", NULL},
                         {"starting turbo", "starting", NULL},
                         {"open gate and close on", "gate and close on", NULL},
                         {"wait", "", NULL},
                         {"wait 5", "no unit", NULL},
                         {"wait 5 Pa", "pressure", NULL},
                         {"wait 0 s", "not above zero", NULL},
                         {"back-fill port with Ar", "\"to\" is missing", NULL},
                         {"back-fill port with Xe to 1 kPa", "gas", NULL},
                         {"back-fill prot with Ar to 1 kPa", "prot", "port"},
                         {"backfill port with Ar to 1 kPa", "backfill", "back-fill"},
                         {"flush port with Ar 2.5 times between 1 Pa and 1 kPa", "whole", NULL},
                         {"flush port with Ar 0 times between 1 Pa and 1 kPa", "whole", NULL},
                         {"crack port", "", NULL},
                         {"crack port 1 mm", "length", NULL},
                         {"slow turbo to 140 %", "above 100 %", NULL},
                         {"mains fail now", "left over", NULL},
                         {"end the procedure here", "left over", NULL},
                         {"heat port to 350 degC", "\"at\" is missing", NULL},
                         {"heat port to 350 degC at 5 K", "temperature", NULL},
                         {"heat port to 350 degC at 5 K/min while below", "", NULL},
                         {"heat port to 350 degC at 5 K/min below 1 Pa", "left over", NULL},
                         {"break steam", "steam", "stem"}};
    bench b;
    rfy_place at = {3, 4, "procedure/0/do"};
    set_up(&b);
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        rfy_order o;
        if (!rfy_order_parse(b.arena, b.units, &b.names, good[i].text, at, b.problems, &o)) {
            rfy_write_problems(stderr, b.problems);
            fail_msg("not understood: %s", good[i].text);
        }
        if (o.kind != good[i].kind || o.part != good[i].part || o.gas != good[i].gas ||
            o.through != good[i].through || o.pumping != good[i].pumping ||
            o.times != good[i].times)
            fail_msg("\"%s\" is read as kind %d, part %d, gas %d, through %d, pumping %d, %d times",
                     good[i].text, (int)o.kind, o.part, o.gas, o.through, o.pumping, o.times);
        for (int k = 0; k < 2; k++)
            if (!isnan(good[i].value[k]) || !isnan(o.value[k]))
                assert_close(o.value[k], good[i].value[k], 1e-12, 0, "%s", good[i].text);
    }
    assert_int_equal(rfy_problems_total(b.problems), 0);
    tear_down(&b);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        rfy_order o;
        set_up(&b);
        if (rfy_order_parse(b.arena, b.units, &b.names, bad[i].text, at, b.problems, &o))
            fail_msg("accepted: %s", bad[i].text);
        assert_int_equal(rfy_problems_errors(b.problems), 1);
        const rfy_problem *p = rfy_problems_at(b.problems, 0);
        if (!strstr(p->what, bad[i].what))
            fail_msg("\"%s\": %s", bad[i].text, p->what);
        if (bad[i].hint && (!p->hint || !strstr(p->hint, bad[i].hint)))
            fail_msg("\"%s\": no hint at \"%s\"", bad[i].text, bad[i].hint);
        tear_down(&b);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(truth),           cmocka_unit_test(guards_are_continuous),
        cmocka_unit_test(faults_are_told), cmocka_unit_test(depth_has_an_end),
        cmocka_unit_test(actions),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
