/* Heating as an action: when it ends, what holds it, what it does to walls and conditions. Closed
 * vessels hold an ideal gas, p = nRT/V: every wanted number is that or a straight ramp. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include "network/network.h"
#include "solve/simulate.h"
#include "study/system.h"
#include "support/sketch.h"

#define T0   293.15
#define HOUR 3600.0

/* A closed flask with 1 Pa of nitrogen at 20 degC. */
#define FLASK                                                                                      \
    "'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'flask', 'volume': '1 L', "               \
    "'temperature': "                                                                              \
    "'20 degC', 'start': {'N2': '1 Pa'}}]"
/* The same with a pump that is off. */
#define PUMPED                                                                                     \
    FLASK ", 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'flask', 'to': 'ambient', "       \
          "'speed': '1 mL/s', 'state': 'off'}]"

/* At 1 uPa, where flow is molecular for sure. */
#define FAINT                                                                                      \
    "'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'flask', 'volume': '1 L', "               \
    "'temperature': "                                                                              \
    "'20 degC', 'start': {'N2': '1e-6 Pa'}}], 'pumps': [{'name': 'pump', 'kind': 'ideal', "        \
    "'from': "                                                                                     \
    "'flask', 'to': 'ambient', 'speed': '1 mL/s', 'state': 'off'}]"

static rfy_result *run(const rfy_system *system, rfy_method method, const double *at, size_t n_at) {
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.method = method;
    options.tolerance = 1e-8;
    options.at = at;
    options.n_at = n_at;
    return test_run(system, &options, RFY_OK);
}

static size_t count(const rfy_result *r, const char *part) {
    size_t n = 0;
    for (size_t i = 0; i < r->n_events; i++)
        n += strstr(r->event[i].what, part) != NULL;
    return n;
}

static bool has_care(const rfy_result *r, const char *part) {
    for (size_t i = 0; i < r->n_care; i++)
        if (strstr(r->care[i], part))
            return true;
    return false;
}

/* 20 degC to 320 degC at 5 K/min is 1 h, 1 h there, back at 10 K/min in 30 min. Temperatures are
 * read off the pressure of the closed flask. */
static void up_soak_down(void **state) {
    (void)state;
    static const rfy_method methods[] = {RFY_METHOD_RODAS, RFY_METHOD_RODASP, RFY_METHOD_RODAS4,
                                         RFY_METHOD_MSBDF};
    const double at[] = {0.5 * HOUR, HOUR, 1.7 * HOUR, 2.25 * HOUR, 3 * HOUR};
    const double warm[] = {T0 + 150, T0 + 300, T0 + 300, T0 + 150, T0};
    rfy_system *system = test_sketch(
        "{" FLASK ", 'procedure': [{'do': ['heat flask to 320 degC at 5 K/min', 'wait 1 h', 'heat "
        "flask to 20 degC at 10 K/min']}, {'when': 'elapsed > 10 s', 'do': ['wait 1 s']}],"
        " 'run': {'until': '3 h'}}");
    for (size_t m = 0; m < sizeof methods / sizeof *methods; m++) {
        rfy_result *r = run(system, methods[m], at, 5);
        for (size_t i = 0; i < 5; i++)
            assert_close(test_pressure(r, i, "flask"), warm[i] / T0, 1e-9, 0, "method %zu, %g h", m,
                         at[i] / HOUR);
        assert_close(test_event(r, "flask is at 320 degC")->time, HOUR, 1e-12, 0, "there");
        assert_close(test_event(r, "heat flask to 20 degC at 10 K/min")->time, 2 * HOUR, 1e-12, 0,
                     "after the soak");
        assert_close(test_event(r, "flask is at 20 degC")->time, 2.5 * HOUR, 1e-12, 0, "cold");
        assert_int_equal(r->n_care, 0);
        rfy_result_free(r);
    }
    rfy_system_free(system);
}

/* A place's name with a temperature behind it: for steps, rules, limits. */
static void conditions_look_at_temperatures(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{" PUMPED ", 'procedure': [{'do': ['heat flask to 220 degC at 10 K/min']}, {'when': "
        "'flask > 200 degC', 'do': ['heat flask to 20 degC at 20 K/min']}], 'rules': [{'name': "
        "'warm', 'whenever': 'flask > 120 degC and not flask > 1 bar', 'then': ['start pump']}, "
        "{'name': 'cool', 'whenever': 'flask < 70 degC and pump is on', 'then': ['stop pump']}], "
        "'run': {'until': '1 h'}}");
    rfy_result *r = run(system, RFY_METHOD_RODAS, NULL, 0);
    assert_close(test_event(r, "start pump (warm)")->time, 600, 1e-9, 0, "100 K at 10 K/min");
    assert_close(test_event(r, "heat flask to 20 degC at 20 K/min")->time, 1200, 1e-12, 0,
                 "met already when the step before is done");
    assert_close(test_event(r, "stop pump (cool)")->time, 1200 + 450, 1e-9, 0, "150 K at 20 K/min");
    rfy_result_free(r);
    rfy_system_free(system);
    /* nothing heats: the temperature that the description gives */
    system = test_sketch("{" FLASK ", 'procedure': [{'when': 'flask > 10 degC', 'do': ['wait 1 s'"
                         "]}, {'when': 'flask < 10 degC', 'do': ['wait 1 s']}], 'run': {'until': "
                         "'1 min'}}");
    r = run(system, RFY_METHOD_RODAS, NULL, 0);
    assert_true(has_care(r, "step 2"));
    rfy_result_free(r);
    rfy_system_free(system);
}

/* 1 uPa at 293.15 K is 1.5 uPa at 439.725 K, where the ramp is held. A pump then takes gas away:
 * speed S for gas at its inlet's temperature is S0 sqrt(T/T0) (free molecular), so that p falls to
 * 0.8 of it after V/S ln(1/0.8); its walls stay as they are. Shut again, it goes on to the top. */
static void held_by_its_pressure(void **state) {
    (void)state;
    static const rfy_method methods[] = {RFY_METHOD_RODAS, RFY_METHOD_MSBDF};
    rfy_system *system = test_sketch(
        "{" FAINT ", 'procedure': [{'do': ['heat flask to 500 K at 5 K/min while below 1.5e-6 Pa', "
        "'wait 10 s', 'heat flask to 450 K at 5 K/min']}], 'rules': [{'name': 'late', 'whenever': "
        "'time > 1 h', 'then': ['start pump']}, {'name': 'enough', 'whenever': 'flask < 1.19e-6 "
        "Pa', "
        "'then': ['stop pump']}], 'run': {'until': '4 h'}}");
    const double hold = 1.5 * T0, begins = (hold - T0) / (5.0 / 60),
                 goes = HOUR + 1000 * log(1 / 0.8) / sqrt(hold / T0);
    const double at[] = {begins - 60, begins + 60, HOUR, goes + 2, goes + 120, 4 * HOUR};
    for (size_t m = 0; m < 2; m++) {
        rfy_result *r = run(system, methods[m], at, 6);
        const double rel = m == 0 ? 1e-6 : 1e-4;
        assert_close(
            test_event(r, "flask: held at 167 degC, now and whenever above 1.5e-6 Pa")->time,
            begins, m == 0 ? 1e-9 : 1e-6, 0, "held");
        assert_close(test_pressure(r, 0, "flask"), 1e-6 * (hold - 5) / T0, 1e-7, 0, "on its way");
        assert_close(test_pressure(r, 1, "flask"), 1.5e-6, 1e-7, 0, "held");
        assert_close(test_pressure(r, 2, "flask"), 1.5e-6, 1e-7, 0, "still held");
        double there = test_event(r, "flask is at 227 degC")->time;
        assert_close(there, goes + (500 - hold) / (5.0 / 60), rel, 0, "the rest of the ramp");
        assert_close(test_event(r, "heat flask to 450 K at 5 K/min")->time, there + 10, 1e-9, 0,
                     "the next action");
        assert_int_equal(count(r, "held"), 1);
        rfy_result_free(r);
    }
    rfy_system_free(system);
}

typedef struct watch {
    double most, worst;
    int holds, rises;
    bool rose;
} watch;

static void on_step(void *context, rfy_sim *sim, double from, double to, const double *y) {
    watch *w = context;
    const rfy_network *net = rfy_sim_ode(sim)->net;
    (void)y;
    double before = rfy_sim_temperatures(sim, from) ? rfy_sim_temperatures(sim, from)[0] : T0;
    double after = rfy_sim_temperatures(sim, to) ? rfy_sim_temperatures(sim, to)[0] : T0;
    double p = 0;
    for (int i = 0; i < net->mixture.n; i++)
        p += rfy_sim_state(sim)[i] * 8.31446261815324 * after / net->node[0].volume;
    bool rises = after > before;
    if (rises)
        w->worst = fmax(w->worst, p / w->most);
    w->holds += w->rose && !rises;
    w->rises += rises;
    w->rose = rises;
}

/* Water that leaves a wall as it warms: the ramp stops and goes by itself, and no step that warms
 * ends above the pressure. */
static void never_warmer_while_above(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'H2O'], 'chambers': [{'name': 'can', 'volume': '2 L', "
        "'start': {'N2': '1 Pa'}, 'walls': [{'material': 'stainless steel', 'area': '1000 cm2'}]}],"
        " 'pumps': [{'name': 'p', 'kind': 'ideal', 'from': 'can', 'to': 'ambient', 'speed': '5 "
        "L/s'}], 'procedure': [{'when': 'elapsed > 30 min', 'do': ['heat can to 250 degC at 5 "
        "K/min while below 2e-3 Pa', 'wait 1 h', 'heat can to 20 degC at 5 K/min']}], 'run': "
        "{'until': '60 h'}}");
    watch w = {.most = 2e-3};
    rfy_observer observer = {.advanced = on_step, .context = &w};
    rfy_sim_options o = {.tolerance = 1e-6};
    rfy_sim *sim = rfy_sim_new(system->network, &o, &observer);
    assert_int_equal(rfy_sim_run(sim), RFY_OK);
    print_message("held %d times, warmed in %d steps, at most to %.12g of the pressure\n", w.holds,
                  w.rises, w.worst);
    assert_true(w.holds > 3);
    assert_true(w.worst <= 1 + 1e-6);
    assert_null(rfy_sim_waits_for(sim));
    assert_close(rfy_sim_temperatures(sim, 60 * HOUR)[0], T0, 1e-12, 0, "cold at the end");
    rfy_sim_free(sim);
    rfy_system_free(system);
}

/* What stops a ramp for good leaves the place as warm as it is. */
static void interrupted(void **state) {
    (void)state;
    const struct {
        const char *what, *steps, *more;
        double end;       /* K, at the end of the hour */
        const char *care; /* NULL = none */
    } rows[] = {
        {"its time was over",
         "{'within': '10 min', 'do': ['heat flask to 320 degC at 5 K/min'], 'otherwise': ['wait 1 "
         "s']}",
         "", T0 + 50, NULL},
        {"in time",
         "{'within': '61 min', 'do': ['heat flask to 120 degC at 5 K/min'], 'otherwise': ['heat "
         "flask to 20 degC at 5 K/min']}",
         "", T0 + 100, NULL},
        {"a rule cools; the procedure does not go on as if it were hot",
         "{'do': ['heat flask to 320 degC at 5 K/min', 'heat flask to 500 degC at 5 K/min']}",
         ", 'rules': [{'name': 'guard', 'whenever': 'flask > 70 degC', 'then': ['heat flask to 45 "
         "degC at 50 K/min']}]",
         T0 + 25, "\"heat flask to 320 degC at 5 K/min\""},
        {"too much gas from the beginning",
         "{'do': ['heat flask to 320 degC at 5 K/min while below 0.5 Pa']}", "", T0,
         "while below 0.5 Pa"},
        {"already there", "{'do': ['heat flask to 20 degC at 5 K/min', 'wait 1 min']}", "", T0,
         NULL},
        {"already there, held", "{'do': ['heat flask to 20 degC at 5 K/min while below 3 Pa']}", "",
         T0, NULL},
        {"again and again",
         "{'repeat': 3, 'steps': [{'do': ['heat flask to 120 degC at 100 K/min "
         "while below 2 Pa', 'heat flask to 70 degC at 50 K/min']}]}",
         "", T0 + 50, NULL},
        {"in a bake", "{'when': 'time > 5 min', 'do': ['heat flask to 30 degC at 10 K/min']}",
         ", 'bakes': [{'chambers': ['flask'], 'from': '0 s', 'temperature': '220 degC', 'ramp': "
         "'10 K/min', 'soak': '1 h'}]",
         T0 + 10, NULL},
    };
    const double at = HOUR;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        rfy_system *system = test_sketch("{" FLASK ", 'procedure': [%s]%s, 'run': {'until': '1 "
                                         "h'}}",
                                         rows[i].steps, rows[i].more);
        rfy_result *r = run(system, RFY_METHOD_RODAS, &at, 1);
        assert_close(test_pressure(r, 0, "flask"), rows[i].end / T0, 1e-9, 0, "%s", rows[i].what);
        if (rows[i].care ? !has_care(r, rows[i].care) : r->n_care > 0)
            fail_msg("%s: %s", rows[i].what, r->n_care ? r->care[0] : "no care");
        rfy_result_free(r);
        rfy_system_free(system);
    }
}

/* Without mains an oven does not heat; afterwards it does not start by itself. As a fault, an oven
 * that runs away. */
static void faults(void **state) {
    (void)state;
    const struct {
        const char *fault;
        double end;
        const char *event;
    } rows[] = {
        {"mains fail at 10 min", T0 + 50, "mains fail"},
        {"mains fail; mains return at 10 min", T0 + 50, "mains return"},
        {"mains fail; heat flask to 400 K at 1 K/s at 10 min", T0 + 50,
         "heat flask to 400 K at 1 K/s, but it does not answer"},
        {"heat flask to 700 K at 1 K/s when flask > 100 degC", 700, "flask is at 427 degC"},
    };
    const double at = HOUR;
    rfy_system *system = test_sketch("{" FLASK ", 'procedure': [{'do': ['heat flask to 320 degC at "
                                     "5 K/min', 'wait 1 s']}], 'run': {'until': '2 h'}}");
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        rfy_problems *problems = rfy_problems_new("fault");
        rfy_run_options options = RFY_RUN_OPTIONS_INIT;
        rfy_fault *fault = NULL;
        assert_int_equal(rfy_fault_read(&fault, system, rows[i].fault, problems), RFY_OK);
        options.tolerance = 1e-8;
        options.fault = fault;
        options.at = &at;
        options.n_at = 1;
        rfy_result *r = test_run(system, &options, RFY_OK);
        assert_close(test_pressure(r, 0, "flask"), rows[i].end / T0, 1e-9, 0, "%s", rows[i].fault);
        test_event(r, rows[i].event);
        assert_true(has_care(r, "heat flask to 320 degC at 5 K/min"));
        rfy_result_free(r);
        rfy_fault_free(fault);
        rfy_problems_free(problems);
    }
    rfy_system_free(system);
}

/* A run laid aside on the ramp, or while it is held, and taken up in another simulation ends as one
 * that goes through. */
static void laid_aside(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{" PUMPED ", 'procedure': [{'do': ['heat flask to 500 K at 5 K/min while below 1.5 Pa', "
        "'heat flask to 400 K at 5 K/min']}], 'rules': [{'name': 'late', 'whenever': 'time > 1 h',"
        " 'then': ['start pump']}], 'run': {'until': '2 h'}}");
    rfy_sim_options o = {.tolerance = 1e-8};
    rfy_sim *whole = rfy_sim_new(system->network, &o, NULL);
    assert_int_equal(rfy_sim_run(whole), RFY_OK);
    const double aside[] = {600, 3000, 3900, 5400};
    for (size_t i = 0; i < sizeof aside / sizeof *aside; i++) {
        rfy_sim *first = rfy_sim_new(system->network, &o, NULL),
                *second = rfy_sim_new(system->network, &o, NULL);
        rfy_sim_set_until(first, aside[i]);
        assert_int_equal(rfy_sim_run(first), RFY_OK);
        rfy_snapshot *s = rfy_sim_save(first);
        rfy_sim_load(second, s);
        assert_int_equal(rfy_sim_run(second), RFY_OK);
        assert_close(rfy_sim_temperatures(second, 2 * HOUR)[0],
                     rfy_sim_temperatures(whole, 2 * HOUR)[0], 1e-9, 0, "temperature, %g s",
                     aside[i]);
        assert_close(rfy_sim_state(second)[0], rfy_sim_state(whole)[0], 1e-5, 0, "gas, %g s",
                     aside[i]);
        rfy_snapshot_free(s);
        rfy_sim_free(first);
        rfy_sim_free(second);
    }
    assert_close(rfy_sim_temperatures(whole, 2 * HOUR)[0], 400, 1e-9, 0, "the last action");
    rfy_sim_free(whole);
    rfy_system_free(system);
}

/* Wherever an action that heats stands, the walls get the models that a bake gives them. */
static void walls_know_of_it(void **state) {
    (void)state;
    static const char *const where[] = {
        "'procedure': [{'do': ['heat can to 150 degC at 5 K/min']}]",
        "'procedure': [{'repeat': 2, 'steps': [{'do': ['heat can to 150 degC at 5 K/min']}]}]",
        "'procedure': [{'within': '1 h', 'do': ['wait 1 s'], 'otherwise': ['heat can to 150 degC "
        "at 5 K/min']}]",
        "'rules': [{'name': 'oven', 'whenever': 'can < 1 Pa', 'then': ['heat can to 150 degC at 5 "
        "K/min']}]",
        "'faults': [{'name': 'oven', 'do': ['heat can to 150 degC at 5 K/min']}]",
        "'procedure': [{'do': ['wait 1 s']}]"};
    for (size_t i = 0; i < sizeof where / sizeof *where; i++) {
        rfy_system *system = test_sketch(
            "{'rarefy': 1, 'gases': ['N2', 'H2O'], 'chambers': [{'name': 'can', 'volume': '1 L', "
            "'walls': [{'material': 'stainless steel', 'area': '100 cm2'}]}], %s, 'run': {'until': "
            "'1 h'}}",
            where[i]);
        const bool heated = i < 5;
        size_t told = 0;
        assert_int_equal(system->network->n_stores, heated);
        assert_int_equal(system->network->n_emitters, !heated);
        for (size_t k = 0; k < system->network->n_assumed; k++)
            told += strstr(system->network->assumed[k], "lines stay as they are") != NULL;
        assert_int_equal(told, heated);
        rfy_system_free(system);
    }
}

/* What a material does not stand, and a temperature that never comes, are told when it is read. */
static void told_beforehand(void **state) {
    (void)state;
    const struct {
        const char *steps, *told; /* NULL = nothing */
    } rows[] = {
        {"{\"do\": [\"heat bulb to 400 degC at 5 K/min\"]}",
         "400 degC is too hot for the soda-lime glass in bulb"},
        {"{\"do\": [\"heat bulb to 400 degC at 5 K/min\"]}",
         "400 degC is too hot for the FKM in bulb"},
        {"{\"do\": [\"heat bulb to 60 degC at 5 K/min\"]}", NULL},
        {"{\"do\": [\"heat bulb to 60 degC at 5 K/min\"]}, {\"when\": \"bulb > 60 degC\", \"do\": "
         "[\"wait 1 s\"]}",
         NULL},
        {"{\"do\": [\"heat bulb to 60 degC at 5 K/min\"]}, {\"when\": \"bulb > 61 degC\", \"do\": "
         "[\"wait 1 s\"]}",
         "nothing heats \"bulb\" that far"},
        {"{\"when\": \"bulb < 5 degC\", \"do\": [\"wait 1 s\"]}",
         "nothing cools \"bulb\" that far"},
        {"{\"when\": \"not bulb < 30 degC\", \"do\": [\"wait 1 s\"]}",
         "nothing heats \"bulb\" that far"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[2000];
        snprintf(text, sizeof text,
                 "{\"rarefy\": 1, \"chambers\": [{\"name\": \"bulb\", \"volume\": \"1 L\", "
                 "\"walls\": [{\"material\": \"soda-lime glass\", \"area\": \"500 cm2\"}], "
                 "\"seals\": [{\"material\": \"FKM\", \"length\": \"0.1 m\", \"cord\": \"3 "
                 "mm\"}]}],\n\"procedure\": [%s],\n\"run\": {\"until\": \"5 h\"}}",
                 rows[i].steps);
        rfy_problems *problems = rfy_problems_new("bench");
        rfy_system *system = NULL;
        assert_int_equal(rfy_system_read(&system, text, strlen(text), NULL, 0, problems), RFY_OK);
        assert_int_equal(rfy_problems_errors(problems), 0);
        size_t told = 0, any = 0;
        for (size_t k = 0; k < rfy_problems_kept(problems); k++) {
            const rfy_problem *p = rfy_problems_at(problems, k);
            any += strstr(p->what, "too hot") || strstr(p->what, "that far");
            if (rows[i].told && strstr(p->what, rows[i].told)) {
                assert_int_equal(p->line, 2);
                told++;
            }
        }
        if (rows[i].told ? told != 1 : any > 0)
            fail_msg("row %zu: told %zu times, %zu in all", i, told, any);
        rfy_problems_free(problems);
        rfy_system_free(system);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(up_soak_down),         cmocka_unit_test(conditions_look_at_temperatures),
        cmocka_unit_test(held_by_its_pressure), cmocka_unit_test(never_warmer_while_above),
        cmocka_unit_test(interrupted),          cmocka_unit_test(faults),
        cmocka_unit_test(laid_aside),           cmocka_unit_test(walls_know_of_it),
        cmocka_unit_test(told_beforehand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
