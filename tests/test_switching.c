/* What happens at an instant: steps of a procedure, moving valves and rotors, limits. Instants are
 * compared with the closed form written beside each check. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "support/sketch.h"

#define R  8.31446261815324
#define T  293.15
#define PI 3.14159265358979323846

static rfy_result *run(rfy_system *system, const double *at, size_t n_at, rfy_status expected) {
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.tolerance = 1e-9;
    options.at = at;
    options.n_at = n_at;
    return test_run(system, &options, expected);
}

/* A tank of 10 L pumped at 1 L/s from 100 Pa: p = 100 exp(-t/10 s). */
#define TANK                                                                                       \
    "'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '10 L', 'start': "      \
    "{'N2': '100 Pa'}}]"
#define PUMP                                                                                       \
    "'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'tank', 'to': 'ambient', 'speed': '1 "    \
    "L/s'}]"

/* ---- steps ---- */

static void true_from_the_start(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{" TANK "," PUMP ", 'procedure': [{'when': 'tank < 200 Pa', 'do': ['stop pump']},"
        " {'when': 'time > 0 s', 'do': ['start pump']}, {'when': 'elapsed > 7 s', 'do': ['stop "
        "pump']},"
        " {'when': 'tank > 1 kPa', 'do': ['start pump']}],"
        " 'targets': [{'name': 'already', 'chamber': 'tank', 'pressure': '150 Pa'}], 'run': "
        "{'until': '20 s'}}");
    const double at[] = {0, 20};
    rfy_result *result = run(system, at, 2, RFY_OK);
    /* two steps at once, a third 7 s after them, the fourth never */
    assert_true(test_event(result, "start pump")->time == 0);
    assert_true(test_target(result, "already")->reached &&
                test_target(result, "already")->time == 0);
    size_t stops = 0;
    double last = NAN;
    for (size_t i = 0; i < result->n_events; i++)
        if (strcmp(result->event[i].what, "stop pump") == 0) {
            stops++;
            last = result->event[i].time;
        }
    assert_int_equal(stops, 2);
    assert_close(last, 7, 1e-12, 0, "elapsed time");
    assert_close(test_pressure(result, 1, "tank"), 100 * exp(-0.7), 1e-7, 0,
                 "pumped for seven seconds only");
    assert_true(result->n_care > 0); /* the step that never came is told */
    rfy_result_free(result);
    rfy_system_free(system);
}

static void conditions_in_a_run(void **state) {
    (void)state;
    /* not below, or above with and: each first comes true at a known time */
    const struct {
        const char *when;
        double time;
    } rows[] = {{"not tank > 20 Pa", 16.0943791243410},
                {"tank < 20 Pa and time > 30 s", 30},
                {"tank < 20 Pa or time > 12 s", 12},
                {"tank < 20 Pa or time > 17 s", 16.0943791243410},
                {"(tank < 20 Pa or time > 3 s) and not time < 5 s", 5},
                {"gauge < 10 Pa", 23.0258509299405}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        rfy_system *system = test_sketch(
            "{" TANK "," PUMP
            ", 'gauges': [{'name': 'gauge', 'at': 'tank', 'kind': 'capacitance'}],"
            " 'procedure': [{'when': '%s', 'do': ['stop pump']}], 'run': {'until': '60 s'}}",
            rows[i].when);
        rfy_result *result = run(system, NULL, 0, RFY_OK);
        assert_close(test_event(result, "stop pump")->time, rows[i].time, 1e-8, 0, "%s",
                     rows[i].when);
        rfy_result_free(result);
        rfy_system_free(system);
    }
}

/* Several conditions inside one step of the solver are taken in the order of time, each with its
 * own effect. */
static void close_together(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{" TANK "," PUMP ", 'procedure': [{'when': 'time > 10 s', 'do': ['stop pump']},"
        " {'when': 'time > 10.000001 s', 'do': ['start pump']}, {'when': 'time > 10.000002 s', "
        "'do': ['stop pump']},"
        " {'when': 'time > 11 s', 'do': ['start pump']}], 'run': {'until': '30 s'}}");
    const double at[] = {30};
    rfy_result *result = run(system, at, 1, RFY_OK);
    double pumped = 10 + 1e-6 + 19;
    assert_close(test_pressure(result, 0, "tank"), 100 * exp(-pumped / 10), 1e-8, 0,
                 "time at the pump");
    rfy_result_free(result);
    rfy_system_free(system);
}

/* ---- valves ---- */

/* The open area of a valve grows evenly from nothing: with s = t/tau the transmission is 1/(1/W +
 * 1/s - 1) (Oatley 1957), whose integral over the movement is 1/a - ln(1 + a)/a^2, a = 1/W - 1. A
 * large vessel filled from a reservoir in molecular flow measures it. L/R = 1: W = 0.6719840
 * (clausing_tube.csv). */
static void valve_opens_evenly(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'],"
        " 'chambers': [{'name': 'source', 'reservoir': {'N2': '1e-6 Pa'}},"
        "              {'name': 'vessel', 'volume': '1e5 m3', 'start': {'N2': '0 Pa'}}],"
        " 'lines': [{'name': 'line', 'between': ['source', 'vessel'], 'pieces': [{'valve': "
        "{'name': 'gate', 'bore': '20 mm',"
        "            'length': '10 mm', 'state': 'closed', 'moves_in': '8 s'}}]}],"
        " 'procedure': [{'when': 'time > 5 s', 'do': ['open gate']}], 'run': {'until': '30 s'}}");
    const double at[] = {5, 9, 13, 23};
    rfy_result *result = run(system, at, 4, RFY_OK);
    double c = PI * 1e-4 * sqrt(8 * R * T / (PI * 0.028014)) / 4, w = 0.6719840, a = 1 / w - 1;
    double unit = c * 1e-6 / 1e5; /* Pa/s through the bare aperture */
    assert_close(test_pressure(result, 0, "vessel"), 0, 0, 1e-22, "shut");
    double half = 8 * (0.5 / a - log(1 + a * 0.5) / (a * a)),
           whole = 8 * (1 / a - log(1 + a) / (a * a));
    assert_close(test_pressure(result, 1, "vessel"), unit * half, 1e-4, 0, "half open");
    assert_close(test_pressure(result, 2, "vessel"), unit * whole, 1e-4, 0, "just open");
    assert_close(test_pressure(result, 3, "vessel"), unit * (whole + w * 10), 1e-4, 0,
                 "ten seconds later");
    assert_close(test_event(result, "gate is fully open")->time, 13, 1e-12, 0,
                 "end of the movement");
    rfy_result_free(result);
    rfy_system_free(system);
}

/* A valve called back on its way returns from where it is, at the same pace. */
static void valve_turns_back(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{" TANK "," PUMP
        ", 'lines': [{'name': 'line', 'between': ['ambient', 'tank'], 'pieces': [{'valve': {'name':"
        " 'gate', 'bore': '0.1 mm', 'length': '1 mm', 'state': 'closed', 'moves_in': '8 s'}}]}],"
        " 'procedure': [{'when': 'time > 5 s', 'do': ['open gate']}, {'when': 'elapsed > 2 s', "
        "'do': ['close gate']},"
        " {'when': 'elapsed > 1 s', 'do': ['open gate']}], 'run': {'until': '30 s'}}");
    rfy_result *result = run(system, NULL, 0, RFY_OK);
    /* a quarter open at 7 s, an eighth at 8 s, open 7 s after that */
    assert_close(test_event(result, "gate is fully open")->time, 15, 1e-12, 0, "open at last");
    for (size_t i = 0; i < result->n_events; i++)
        assert_string_not_equal(result->event[i].what, "gate is shut");
    rfy_result_free(result);
    rfy_system_free(system);
}

/* ---- rotors ---- */

/* Speed grows evenly over run_up, falls evenly over coast_down from where it is, and starts again
 * from there. */
static void rotor_runs_up_evenly(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'],"
        " 'chambers': [{'name': 'dome', 'volume': '1 L', 'start': {'N2': '1e-3 Pa'}},"
        "              {'name': 'fore', 'volume': '1 L', 'start': {'N2': '1e-3 Pa'}}],"
        " 'pumps': [{'name': 'turbo', 'kind': 'turbomolecular', 'from': 'dome', 'to': 'fore', "
        "'speed': '10 L/s',"
        "            'run_up': '120 s', 'coast_down': '10 min', 'state': 'off'}],"
        " 'procedure': [{'when': 'time > 30 s', 'do': ['start turbo']}, {'when': 'turbo > 75 %%', "
        "'do': ['stop turbo']},"
        "               {'when': 'turbo < 0.5', 'do': ['start turbo']}], 'run': {'until': '1 h'}}");
    rfy_result *result = run(system, NULL, 0, RFY_OK);
    double at_75 = 30 + 0.75 * 120, at_50 = at_75 + 0.25 * 600, full = at_50 + 0.5 * 120;
    assert_close(test_event(result, "stop turbo")->time, at_75, 1e-11, 0, "three quarters");
    size_t i = 0;
    while (result->event[i].time <= at_75 || strcmp(result->event[i].what, "start turbo") != 0)
        i++;
    assert_close(result->event[i].time, at_50, 1e-11, 0, "coasted to half");
    assert_close(test_event(result, "turbo is at full speed")->time, full, 1e-11, 0, "full speed");
    rfy_result_free(result);
    rfy_system_free(system);
}

/* At rest a turbomolecular pump is a passive tube of conductance S0/ln K0 (reference, pumps: the
 * form drifts into it at no speed): equal pressures stay equal, unequal ones settle with that
 * conductance. */
static void rotor_at_rest_is_a_tube(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'],"
        " 'chambers': [{'name': 'dome', 'volume': '1 L', 'start': {'N2': '1e-5 Pa'}},"
        "              {'name': 'fore', 'volume': '1 L', 'start': {'N2': '2e-5 Pa'}}],"
        " 'pumps': [{'name': 'turbo', 'kind': 'turbomolecular', 'from': 'dome', 'to': 'fore', "
        "'speed': {'N2': '10 L/s'},"
        "            'compression': {'N2': 1e8}, 'state': 'off'}], 'run': {'until': '10 s'}}");
    const double at[] = {1, 10}, c = 10e-3 / log(1e8);
    rfy_result *result = run(system, at, 2, RFY_OK);
    for (size_t i = 0; i < 2; i++)
        assert_close(test_pressure(result, i, "fore") - test_pressure(result, i, "dome"),
                     1e-5 * exp(-c * 2e3 * at[i]), 1e-5, 1e-12, "difference after %g s", at[i]);
    rfy_result_free(result);
    rfy_system_free(system);
}

/* ---- limits ---- */

/* 100 Pa falling as exp(-t/10 s), at most 60 Pa allowed: over until 10 ln(100/60) = 5.108 s. */
static void limit_with_patience(void **state) {
    (void)state;
    const double over = 10 * log(100 / 60.0);
    const struct {
        const char *patience;
        bool broken;
        double time;
    } rows[] = {{"", true, 0},
                {", 'for': '2 s'", true, 2},
                {", 'for': '5.1 s'", true, 5.1},
                {", 'for': '5.11 s'", false, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        rfy_system *system = test_sketch(
            "{" TANK "," PUMP ", 'limits': [{'name': 'care', 'watch': 'tank', 'max': '60 Pa'%s}],"
            " 'run': {'until': '60 s'}}",
            rows[i].patience);
        rfy_result *result = run(system, NULL, 0, rows[i].broken ? RFY_LIMIT_BROKEN : RFY_OK);
        const rfy_limit_result *limit = test_limit(result, "care");
        assert_true(limit->broken == rows[i].broken);
        if (limit->broken)
            assert_close(limit->time, rows[i].time, 1e-9, 1e-12, "broken after%s",
                         rows[i].patience);
        else
            assert_true(isnan(limit->time) && over < 5.11);
        assert_close(limit->peak, 100, 1e-12, 0, "peak");
        assert_true(limit->peak_time == 0);
        rfy_result_free(result);
        rfy_system_free(system);
    }
}

/* A valve to a reservoir of 1000 Pa opens at 10 s (C = 1 L/s given for air) on an empty tank: p =
 * p_inf (1 - exp(-(t - 10)/tau)), tau = V/(S + C), p_inf = 1000 C/(S + C). It crosses 50 Pa at a
 * known instant and breaks the limit 3 s later, where the pressure told with the event belongs to
 * that instant. */
static void limit_broken_by_opening(void **state) {
    (void)state;
    const double c = 0.1 * sqrt(0.0289655 / 0.028014), tau = 10 / (1 + c), end = 1000 * c / (1 + c);
    const double cross = 10 - tau * log(1 - 50 / end), wait[] = {3, 0.25, 0};
    for (size_t i = 0; i < 3; i++) {
        rfy_system *system = test_sketch(
            "{'rarefy': 1, 'gases': ['N2'],"
            " 'chambers': [{'name': 'tank', 'volume': '10 L', 'start': {'N2': '0 Pa'}},"
            "              {'name': 'bottle', 'reservoir': {'N2': '1000 Pa'}}]," PUMP ","
            " 'lines': [{'name': 'inlet', 'between': ['bottle', 'tank'], 'pieces': [{'valve': "
            "{'name': 'gate', 'bore': '500 mm',"
            "            'length': '1 mm', 'state': 'closed'}}, {'trap': {'conductance': '0.1 "
            "L/s', 'volume': '1e-9 cm3'}}]}],"
            " 'procedure': [{'when': 'time > 10 s', 'do': ['open gate']}],"
            " 'limits': [{'name': 'care', 'watch': 'tank', 'max': '50 Pa', 'for': '%g s'}], 'run': "
            "{'until': '2 min'}}",
            wait[i]);
        rfy_result *result = run(system, NULL, 0, RFY_LIMIT_BROKEN);
        const rfy_limit_result *limit = test_limit(result, "care");
        assert_true(limit->broken);
        /* the gate's own aperture and volume shift the answer by some 1e-5 */
        assert_close(limit->time, cross + wait[i], 1e-4, 0, "broken %g s after the crossing",
                     wait[i]);
        const rfy_event *event = NULL;
        for (size_t k = 0; k < result->n_events; k++)
            if (result->event[k].kind == RFY_EVENT_LIMIT)
                event = &result->event[k];
        assert_non_null(event);
        assert_true(event->time == limit->time);
        assert_close(event->pressure[test_chamber(result, "tank")],
                     end * (1 - exp(-(cross + wait[i] - 10) / tau)), 1e-3, 0,
                     "pressure told with the broken limit, %g s after the crossing", wait[i]);
        assert_close(limit->peak, end, 1e-3, 0, "highest pressure in the run");
        rfy_result_free(result);
        rfy_system_free(system);
    }
}

/* Bursts of gas that each stay over the limit for 2 s: patience of 3 s starts afresh with each. */
static void patience_starts_afresh(void **state) {
    (void)state;
    const char *const patience[] = {"3 s", "0.5 s"};
    for (size_t i = 0; i < 2; i++) {
        rfy_system *system = test_sketch("{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': "
                                         "'tank', 'volume': '10 L', 'start': {'N2': '0 Pa'}}],"
                                         " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': "
                                         "'tank', 'to': 'ambient', 'speed': '100 L/s'}],"
                                         " 'sources': [{'gas': 'N2', 'at': 'tank', 'amount': '2 Pa "
                                         "m3', 'during': ['10 s', '12 s']},"
                                         "             {'gas': 'N2', 'at': 'tank', 'amount': '2 Pa "
                                         "m3', 'during': ['20 s', '22 s']}],"
                                         " 'limits': [{'name': 'care', 'watch': 'tank', 'max': '5 "
                                         "Pa', 'for': '%s'}], 'run': {'until': '2 min'}}",
                                         patience[i]);
        rfy_result *result = run(system, NULL, 0, i ? RFY_LIMIT_BROKEN : RFY_OK);
        const rfy_limit_result *limit = test_limit(result, "care");
        /* p = 10 Pa (1 - exp(-t/0.1 s)): half after 0.1 ln 2 */
        if (i)
            assert_close(limit->time, 10 + 0.1 * log(2) + 0.5, 1e-8, 0, "first burst");
        assert_close(limit->peak, 10, 1e-7, 0, "peak");
        rfy_result_free(result);
        rfy_system_free(system);
    }
}

/* A limit counts only while its condition holds. */
static void limit_under_condition(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '10 L', 'start': "
        "{'N2': '100 Pa'}},"
        "   {'name': 'fore', 'volume': '1 L', 'start': {'N2': '1 Pa'}}],"
        " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'tank', 'to': 'ambient', 'speed': '1 "
        "L/s'},"
        "           {'name': 'turbo', 'kind': 'turbomolecular', 'from': 'fore', 'to': 'ambient', "
        "'speed': '0.1 L/s',"
        "            'run_up': '100 s', 'state': 'off'}],"
        " 'procedure': [{'when': 'time > 1 s', 'do': ['start turbo']}],"
        " 'limits': [{'name': 'late', 'watch': 'tank', 'while': 'turbo > 20 %%', 'max': '5 Pa'},"
        "            {'name': 'early', 'watch': 'tank', 'while': 'turbo > 10 %%', 'max': '20 Pa', "
        "'for': '1 s'},"
        "            {'name': 'never', 'watch': 'tank', 'while': 'turbo > 20 %% and tank > 50 Pa', "
        "'max': '1 Pa'}],"
        " 'run': {'until': '2 min'}}");
    rfy_result *result = run(system, NULL, 0, RFY_LIMIT_BROKEN);
    const rfy_limit_result *late = test_limit(result, "late"), *early = test_limit(result, "early"),
                           *never = test_limit(result, "never");
    assert_true(late->broken); /* at 21 s: 100 exp(-2.1) = 12.2 Pa */
    assert_close(late->time, 21, 1e-9, 0, "the rotor passes a fifth");
    assert_close(late->peak, 100 * exp(-2.1), 1e-6, 0, "peak from then on");
    assert_true(early->broken); /* from 11 s, 33 Pa, to 16.09 s */
    assert_close(early->time, 12, 1e-9, 0, "one second after the rotor passed a tenth");
    assert_true(!never->broken && isnan(never->peak));
    rfy_result_free(result);
    rfy_system_free(system);
}

/* A pulse from a small volume: p_v = A (exp(-b t) - exp(-a t)), whose top lies inside the solver's
 * steps. The top is found, and a limit just below it is broken, one just above it is not. */
static void top_of_a_pulse(void **state) {
    (void)state;
    const double c = 0.1 * sqrt(0.0289655 / 0.028014); /* L/s for nitrogen */
    const double a = (c + 1) / 1.0, b = c / 0.1;       /* tank 1 L at 1 L/s; cell 0.1 L */
    /* cell: p' = -b (p - q); tank: q' = c (p - q) - q, solved exactly as a 2 x 2 system */
    double m11 = -b, m12 = b, m21 = c, m22 = -a;
    double mean = (m11 + m22) / 2, half = sqrt((m11 - m22) * (m11 - m22) / 4 + m12 * m21);
    double l1 = mean + half, l2 = mean - half, top_at = log(l2 / l1) / (l1 - l2);
    double top = 1e-3 * m21 * (exp(l1 * top_at) - exp(l2 * top_at)) / (l1 - l2);
    const double factor[] = {0.99, 1.01};
    for (double tolerance = 1e-3; tolerance > 1e-9; tolerance *= 0.1)
        for (size_t i = 0; i < 2; i++) {
            rfy_system *system = test_sketch(
                "{'rarefy': 1, 'gases': ['N2'],"
                " 'chambers': [{'name': 'cell', 'volume': '0.1 L', 'start': {'N2': '1e-3 Pa'}},"
                "              {'name': 'tank', 'volume': '1 L', 'start': {'N2': '0 Pa'}}]," PUMP
                ","
                " 'lines': [{'name': 'l', 'between': ['cell', 'tank'], 'pieces': [{'trap': "
                "{'conductance': '0.1 L/s',"
                "            'volume': '1e-9 cm3'}}]}],"
                " 'limits': [{'name': 'care', 'watch': 'tank', 'max': '%.17g Pa'}], 'run': "
                "{'until': '1 min'}}",
                top * factor[i]);
            rfy_run_options options = RFY_RUN_OPTIONS_INIT;
            options.tolerance = tolerance;
            rfy_result *result = test_run(system, &options, i == 0 ? RFY_LIMIT_BROKEN : RFY_OK);
            assert_close(test_limit(result, "care")->peak, top, 2e-3, 0,
                         "top of the pulse at tolerance %g", tolerance);
            rfy_result_free(result);
            rfy_system_free(system);
        }
}

/* ---- hot gauges ---- */

/* A filament switched on above its range is told once, with the time. */
static void filament_in_gas(void **state) {
    (void)state;
    rfy_system *system =
        test_sketch("{" TANK "," PUMP ", 'gauges': [{'name': 'hot gauge', 'at': 'tank', 'kind': "
                    "'hot cathode', 'range': ['1e-8 Pa',"
                    " '0.1 Pa'], 'state': 'off'}], 'procedure': [{'when': 'tank < %s Pa', 'do': "
                    "['switch on hot gauge']}],"
                    " 'ready_limits': false, 'run': {'until': '3 min'}}",
                    "1");
    rfy_result *result = run(system, NULL, 0, RFY_OK);
    size_t told = 0;
    for (size_t i = 0; i < result->n_care; i++)
        told += strstr(result->care[i], "hot gauge is on at") != NULL;
    assert_int_equal(told, 1);
    /* no reading while it is off or out of range: 1e-8 to 0.1 Pa lasts from 69.08 s */
    for (size_t i = 0; i < result->n_times; i++) {
        double reading = result->gauge_reading[i];
        if (result->time[i] < 69)
            assert_true(isnan(reading));
        else if (result->time[i] > 70)
            assert_close(reading, test_pressure(result, i, "tank"), 1e-12, 0,
                         "nitrogen reads itself");
    }
    rfy_result_free(result);
    rfy_system_free(system);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(true_from_the_start),     cmocka_unit_test(conditions_in_a_run),
        cmocka_unit_test(close_together),          cmocka_unit_test(valve_opens_evenly),
        cmocka_unit_test(valve_turns_back),        cmocka_unit_test(rotor_runs_up_evenly),
        cmocka_unit_test(rotor_at_rest_is_a_tube), cmocka_unit_test(limit_with_patience),
        cmocka_unit_test(limit_broken_by_opening), cmocka_unit_test(patience_starts_afresh),
        cmocka_unit_test(limit_under_condition),   cmocka_unit_test(top_of_a_pulse),
        cmocka_unit_test(filament_in_gas),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
