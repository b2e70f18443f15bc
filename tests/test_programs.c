/* What steps, rules and faults do in a run. Instants and pressures are compared with the closed
 * form written beside each check. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "network/network.h"
#include "study/system.h"
#include "support/sketch.h"

/* A tank of 10 L pumped at 1 L/s from 100 Pa: p = 100 exp(-t/10 s). */
#define TANK                                                                                       \
    "'rarefy': 1, 'gases': ['N2'], 'ready_limits': false, 'chambers': [{'name': 'tank', "          \
    "'volume': "                                                                                   \
    "'10 L', 'start': {'N2': '100 Pa'}}], 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': "    \
    "'tank', 'to': 'ambient', 'speed': '1 L/s'}]"

static rfy_result *run(rfy_system *system, const char *fault_text, rfy_status expected) {
    rfy_problems *problems = rfy_problems_new("fault");
    rfy_fault *fault = NULL;
    if (fault_text && rfy_fault_read(&fault, system, fault_text, problems) != RFY_OK) {
        rfy_write_problems(stderr, problems);
        fail_msg("no fault: %s", fault_text);
    }
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.tolerance = 1e-9;
    options.fault = fault;
    rfy_result *r = test_run(system, &options, expected);
    rfy_fault_free(fault);
    rfy_problems_free(problems);
    return r;
}

static size_t count(const rfy_result *r, const char *what) {
    size_t n = 0;
    for (size_t i = 0; i < r->n_events; i++)
        n += strcmp(r->event[i].what, what) == 0;
    return n;
}

static double time_of(const rfy_result *r, const char *what, size_t nth) {
    for (size_t i = 0; i < r->n_events; i++)
        if (strcmp(r->event[i].what, what) == 0 && --nth == 0)
            return r->event[i].time;
    for (size_t i = 0; i < r->n_events; i++)
        fprintf(stderr, "  %.9g s  %s\n", r->event[i].time, r->event[i].what);
    fail_msg("no event \"%s\" among these", what);
    return NAN;
}

static double at_event(const rfy_result *r, const char *what, const char *chamber) {
    const rfy_event *e = test_event(r, what);
    return e->pressure[test_chamber(r, chamber)];
}

static bool has_care(const rfy_result *r, const char *part) {
    for (size_t i = 0; i < r->n_care; i++)
        if (strstr(r->care[i], part))
            return true;
    return false;
}

/* ---- steps ---- */

static void waits_and_order(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{" TANK ", 'procedure': [{'do': ['wait 3 s', 'stop pump', 'wait 2 s', 'start pump']},"
        " {'when': 'elapsed > 4 s', 'do': ['stop pump']}], 'run': {'until': '30 s'}}");
    rfy_result *r = run(system, NULL, RFY_OK);
    assert_close(time_of(r, "stop pump", 1), 3, 1e-12, 0, "the first wait");
    assert_close(time_of(r, "start pump", 1), 5, 1e-12, 0, "the second");
    assert_close(time_of(r, "stop pump", 2), 9, 1e-12, 0, "elapsed since the step was done");
    assert_close(test_pressure(r, r->n_times - 1, "tank"), 100 * exp(-0.7), 1e-8, 0,
                 "seven seconds of pumping");
    rfy_result_free(r);
    rfy_system_free(system);
}

static void time_outs(void **state) {
    (void)state;
    const struct {
        const char *steps;
        double stop; /* NaN = never */
        double start;
        const char *care;
    } rows[] = {
        /* in time: 10 s ln 2 = 6.93 s */
        {"{'when': 'tank < 50 Pa', 'within': '7 s', 'do': ['stop pump'], 'otherwise': ['end the "
         "procedure']}",
         6.931471805599, NAN, NULL},
        /* too late: otherwise, then the next step */
        {"{'when': 'tank < 50 Pa', 'within': '6 s', 'do': ['start pump'], 'otherwise': ['stop "
         "pump']}, {'when': 'elapsed > 1 s', 'do': ['start pump']}",
         6, 7, NULL},
        /* nothing said: the procedure ends there */
        {"{'when': 'tank < 50 Pa', 'within': '6 s', 'do': ['start pump']}, {'do': ['stop pump']}",
         NAN, NAN, "ended in step 1: its time was over"},
        {"{'when': 'tank < 50 Pa', 'within': '6 s', 'do': ['start pump'], 'otherwise': ['stop "
         "pump', 'end the procedure']}, {'do': ['start pump']}",
         6, NAN, "ended in step 1"},
        /* it counts for the waits inside the step too */
        {"{'when': 'tank < 90 Pa', 'within': '6 s', 'do': ['wait 10 s', 'start pump'], "
         "'otherwise': ['stop pump']}",
         6, NAN, NULL},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        rfy_system *system =
            test_sketch("{" TANK ", 'procedure': [%s], 'run': {'until': '30 s'}}", rows[i].steps);
        rfy_result *r = run(system, NULL, RFY_OK);
        assert_int_equal(count(r, "stop pump"), !isnan(rows[i].stop));
        assert_int_equal(count(r, "start pump"), !isnan(rows[i].start));
        if (!isnan(rows[i].stop))
            assert_close(time_of(r, "stop pump", 1), rows[i].stop, 1e-9, 0, "row %zu", i);
        if (!isnan(rows[i].start))
            assert_close(time_of(r, "start pump", 1), rows[i].start, 1e-9, 0, "row %zu", i);
        if (rows[i].care && !has_care(r, rows[i].care))
            fail_msg("row %zu does not say: %s", i, rows[i].care);
        rfy_result_free(r);
        rfy_system_free(system);
    }
}

static void repeats(void **state) {
    (void)state;
    const struct {
        const char *group;
        size_t rounds;
    } rows[] = {
        {"'repeat': 4", 4},
        {"'until': 'time > 25 s'", 3}, /* looked at after each round of 10 s */
        {"'repeat': 2, 'until': 'time > 25 s'", 2},
        {"'repeat': 9, 'until': 'time > 5 s'", 1},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        rfy_system *system = test_sketch(
            "{" TANK ", 'procedure': [{'steps': [{'when': 'elapsed > 4 s', 'do': ['stop pump']},"
            " {'when': 'elapsed > 6 s', 'do': ['start pump']}], %s}, {'do': ['stop pump']}],"
            " 'run': {'until': '2 min'}}",
            rows[i].group);
        rfy_result *r = run(system, NULL, RFY_OK);
        assert_int_equal(count(r, "start pump"), rows[i].rounds);
        assert_int_equal(count(r, "stop pump"), rows[i].rounds + 1);
        for (size_t k = 1; k <= rows[i].rounds; k++)
            assert_close(time_of(r, "start pump", k), 10.0 * (double)k, 1e-12, 0, "round %zu", k);
        assert_close(test_pressure(r, r->n_times - 1, "tank"),
                     100 * exp(-0.4 * (double)rows[i].rounds), 1e-8, 0, "pumped 4 s a round");
        rfy_result_free(r);
        rfy_system_free(system);
    }
    /* a group in a group */
    rfy_system *system = test_sketch(
        "{" TANK ", 'procedure': [{'repeat': 3, 'steps': [{'repeat': 2, 'steps': [{'do': ['wait 1 "
        "s', 'stop pump', 'wait 1 s', 'start pump']}]}, {'do': ['wait 5 s']}]}], 'run': {'until': "
        "'2 min'}}");
    rfy_result *r = run(system, NULL, RFY_OK);
    assert_int_equal(count(r, "stop pump"), 6);
    assert_close(time_of(r, "stop pump", 6), 2 * 9 + 3, 1e-12, 0, "the last of them");
    rfy_result_free(r);
    rfy_system_free(system);
}

/* Loops in which no time passes end with a message that names them. */
static void endless(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{" TANK ", 'procedure': [{'until': 'tank < 1e-9 Pa', 'steps': [{'when': 'tank < 200 Pa', "
        "'do': ['stop pump', 'end the procedure']}]}, {'do': ['start pump']}], 'run': {'until': "
        "'30 s'}}");
    rfy_result *r = run(system, NULL, RFY_OK); /* it ends the procedure */
    assert_true(has_care(r, "the procedure ended in step 1.1"));
    rfy_result_free(r);
    rfy_system_free(system);
    system = test_sketch("{" TANK ", 'procedure': [{'until': 'tank < 1e-9 Pa', 'steps': [{'when': "
                         "'tank < 200 Pa', 'do': ['stop pump']}]}], 'run': {'until': '30 s'}}");
    r = run(system, NULL, RFY_RUN_FAILED);
    assert_non_null(strstr(r->trouble, "step 1.1 of the procedure goes round and round"));
    rfy_result_free(r);
    rfy_system_free(system);
    /* two rules that undo each other as fast as they can */
    system =
        test_sketch("{" TANK ", 'rules': [{'name': 'a', 'whenever': 'pump is on', 'then': ['stop "
                    "pump']}, {'name': 'b', 'whenever': 'pump is off', 'then': ['start "
                    "pump']}], 'run': {'until': '30 s'}}");
    r = run(system, NULL, RFY_RUN_FAILED);
    assert_non_null(strstr(r->trouble, "rule"));
    rfy_result_free(r);
    rfy_system_free(system);
}

/* ---- gas ---- */

#define FILLED                                                                                     \
    "'rarefy': 1, 'gases': ['N2', 'O2', 'Ar'], 'ready_limits': false, 'chambers': [{'name': "      \
    "'bulb', 'volume': '1 L', 'start': {'N2': '7.8 Pa', 'O2': '2.2 Pa'}}, {'name': 'duct', "       \
    "'volume': '0.1 L', 'start': {'Ar': '0 Pa'}}, {'name': 'bottle', 'reservoir': {'Ar': '2 "      \
    "bar'}}],"                                                                                     \
    "'lines': [{'name': 'bleed', 'between': ['bottle', 'bulb'], 'pieces': [{'valve': {'name': "    \
    "'needle', 'bore': '0.3 mm', 'length': '3 mm', 'state': 'closed'}}]}, {'name': 'stem', "       \
    "'between': ['bulb', 'duct'], 'pieces': [{'valve': {'name': 'cock', 'bore': '10 mm', "         \
    "'length': '20 mm', 'state': 'closed'}}]}, {'name': 'inlet', 'between': ['ambient', 'bulb'], " \
    "'pieces': [{'valve': {'name': 'vent valve', 'bore': '1 mm', 'length': '5 mm', 'state': "      \
    "'closed'}}]}], 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'duct', 'to': 'ambient', " \
    "'speed': '1 L/s'}]"

static void back_filling(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{" FILLED ", 'procedure': [{'do': ['back-fill bulb with Ar to 2 kPa']}, {'when': 'elapsed "
        "> 5 s', 'do': ['vent bulb']}, {'do': ['seal off bulb']}], 'run': {'until': '30 min'}}");
    rfy_result *r = run(system, NULL, RFY_OK);
    assert_close(at_event(r, "close needle", "bulb"), 2000, 1e-7, 0, "the pressure asked for");
    assert_close(at_event(r, "close vent valve", "bulb"), 0.98 * 101325, 1e-6, 0, "vented");
    assert_close(test_pressure(r, r->n_times - 1, "bulb"), 0.98 * 101325, 1e-6, 0, "stays so");
    rfy_result_free(r);
    rfy_system_free(system);
}

/* Between 10 Pa and 1 kPa in turn, starting from 10 Pa of air: every round leaves a hundredth.
 * Nitrogen and oxygen go through the cock and pump with argon in proportion where flow is viscous;
 * the pump takes all gases alike. */
static void flushing(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{" FILLED ", 'procedure': [{'do': ['flush bulb with Ar 3 times between 10 Pa and 1 kPa "
        "through needle pumping through cock']}], 'run': {'until': '1 h'}}");
    rfy_result *r = run(system, NULL, RFY_OK);
    assert_int_equal(count(r, "close cock"), 3);
    double left[3];
    size_t n = 0;
    for (size_t i = 0; i < r->n_events; i++) {
        const char *at = strstr(r->event[i].what, "residual air ");
        if (at && n < 3) {
            left[n++] = strtod(at + 13, NULL) / 100;
            assert_non_null(strstr(at, "(by its O2)"));
        }
    }
    assert_int_equal(n, 3);
    /* oxygen was 22 % in place of the air's 20.95 % at the beginning */
    for (size_t i = 0; i < 3; i++)
        assert_close(left[i], 0.22 / 0.20946 * pow(0.01, (double)i + 1), 0.06, 0, "round %zu", i);
    rfy_result_free(r);
    rfy_system_free(system);
}

static void sealed(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'], 'ready_limits': false, 'chambers': [{'name': 'tank', "
        "'volume': '10 L', 'start': {'N2': '100 Pa'}}, {'name': 'lamp', 'volume': '0.1 L', "
        "'start': {'N2': '100 Pa'}}], 'lines': [{'name': 'stem', 'between': ['lamp', 'tank'], "
        "'pieces': ['tube 20 mm x 30 mm']}], 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': "
        "'tank', 'to': 'ambient', 'speed': '1 L/s'}], 'procedure': [{'when': 'lamp < 10 Pa', "
        "'do': ['seal off lamp']}], 'run': {'until': '5 min'}}");
    rfy_result *r = run(system, NULL, RFY_OK);
    assert_close(test_pressure(r, r->n_times - 1, "lamp"), 10, 1e-7, 0, "what was sealed in");
    assert_true(test_pressure(r, r->n_times - 1, "tank") < 1e-6);
    assert_int_equal(count(r, "seal off lamp"), 1);
    rfy_result_free(r);
    rfy_system_free(system);
}

/* ---- rules ---- */

/* A leak of 0.1 Pa m3/s into 10 L raises 10 Pa/s while the pump stands; with the pump it levels at
 * 100 Pa. */
static void rules_act_each_time(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'], 'ready_limits': false, 'ambient': {'temperature': '20 "
        "degC'}, 'chambers': [{'name': 'tank', 'volume': '10 L', 'start': {'N2': '0 Pa'}, 'leaks': "
        "[{'rate': '0.1 Pa m3/s'}]}], 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'tank', "
        "'to': 'ambient', 'speed': '100 L/s', 'state': 'off'}], 'rules': [{'name': 'high', "
        "'whenever': 'tank > 50 Pa', 'delay': '0.5 s', 'then': ['start pump']}, {'name': 'low', "
        "'whenever': 'tank < 2 Pa and pump is on', 'delay': '0.1 s', 'then': ['stop pump']}],"
        " 'run': {'until': '60 s'}}");
    rfy_result *r = run(system, NULL, RFY_OK);
    assert_close(time_of(r, "high: tank > 50 Pa", 1), 5, 1e-6, 0, "50 Pa at 10 Pa/s");
    assert_close(time_of(r, "start pump (high)", 1), 5.5, 1e-6, 0, "and its delay");
    size_t starts = count(r, "start pump (high)"), stops = count(r, "stop pump (low)");
    assert_true(starts >= 8 && (starts == stops || starts == stops + 1));
    /* one round after the other: the pump draws towards 1 Pa in V/S = 0.1 s */
    double period = time_of(r, "start pump (high)", 3) - time_of(r, "start pump (high)", 2);
    assert_close(period, time_of(r, "start pump (high)", 4) - time_of(r, "start pump (high)", 3),
                 1e-6, 0, "all rounds alike");
    rfy_result_free(r);
    rfy_system_free(system);
}

/* A spike inside one step of the solver: a burst of gas comes and is gone in 2 ms. */
static void rules_see_spikes(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'], 'ready_limits': false, 'chambers': [{'name': 'tank', "
        "'volume': '1 L', 'start': {'N2': '0 Pa'}}], 'pumps': [{'name': 'pump', 'kind': 'ideal', "
        "'from': 'tank', 'to': 'ambient', 'speed': '1000 L/s'}], 'sources': [{'gas': 'N2', 'at': "
        "'tank', 'amount': '0.1 Pa m3', 'during': ['10 s', '10.001 s']}], 'rules': [{'name': "
        "'spike', 'whenever': 'tank > 60 Pa', 'then': ['stop pump']}], 'run': {'until': '20 s'}}");
    rfy_result *r = run(system, NULL, RFY_OK);
    /* p = 100 Pa (1 - exp(-t/1 ms)) reaches 60 Pa after 0.916 ms */
    assert_close(time_of(r, "stop pump (spike)", 1), 10 + 1e-3 * log(2.5), 1e-8, 0, "the spike");
    rfy_result_free(r);
    rfy_system_free(system);
}

/* ---- faults ---- */

#define WIRED                                                                                      \
    "'rarefy': 1, 'gases': ['N2'], 'ready_limits': false, 'chambers': [{'name': 'tank', "          \
    "'volume': "                                                                                   \
    "'10 L', 'start': {'N2': '100 Pa'}}, {'name': 'side', 'volume': '1 L', 'start': {'N2': '100 "  \
    "Pa'}}], 'lines': [{'name': 'neck', 'between': ['tank', 'side'], 'pieces': [{'valve': "        \
    "{'name': 'gate', 'bore': '40 mm', 'length': '20 mm', 'moves_in': '4 s', 'without_mains': "    \
    "'closes'}}]}, {'name': 'vent', 'between': ['side', 'ambient'], 'pieces': [{'valve': "         \
    "{'name': "                                                                                    \
    "'vent valve', 'bore': '1 mm', 'length': '5 mm', 'state': 'closed'}}]}], 'pumps': [{'name': "  \
    "'pump', 'kind': 'ideal', 'from': 'tank', 'to': 'ambient', 'speed': '1 L/s', 'state': "        \
    "'on'}], "                                                                                     \
    "'gauges': [{'name': 'gauge', 'at': 'tank', 'kind': 'capacitance'}], 'rules': [{'name': "      \
    "'wired', "                                                                                    \
    "'whenever': 'time > 20 s', 'then': ['open vent valve']}, {'name': 'battery', 'battery': "     \
    "true, 'whenever': 'time > 30 s', 'then': ['open vent valve']}], 'procedure': [{'when': "      \
    "'time "                                                                                       \
    "> 12 s', 'do': ['start pump', 'close gate']}, {'when': 'time > 18 s', 'do': ['open gate']}]," \
    "'run': {'until': '40 s'}"

static void without_mains(void **state) {
    (void)state;
    rfy_system *system = test_sketch("{" WIRED "}");
    rfy_result *r = run(system, "mains fail at 10 s", RFY_OK);
    assert_close(time_of(r, "mains fail", 1), 10, 1e-12, 0, "when it strikes");
    assert_close(time_of(r, "gate is shut", 1), 14, 1e-12, 0, "the valve falls shut");
    assert_int_equal(count(r, "start pump"), 0);              /* the procedure stands still */
    assert_int_equal(count(r, "open vent valve (wired)"), 0); /* and the controller */
    assert_close(time_of(r, "open vent valve (battery)", 1), 30, 1e-12, 0, "but not its battery");
    for (size_t i = 0; i < r->n_times; i++)
        if (r->time[i] > 10.0001)
            assert_true(isnan(r->gauge_reading[i]));
    assert_close(at_event(r, "open vent valve (battery)", "tank"), 100 * exp(-10.0 / 11), 2e-2, 0,
                 "nobody pumps");
    rfy_result_free(r);
    r = run(system, "mains fail; mains return at 10 s", RFY_OK);
    assert_int_equal(count(r, "start pump"), 1); /* they go on */
    rfy_result_free(r);
    rfy_system_free(system);
}

/* What the procedure switches on first is off until then, where the description does not say; what
 * it stops first is on. A valve is open, and opening it first is remarked upon. */
static void unsaid_states(void **state) {
    (void)state;
    const char *text =
        "{\"rarefy\": 1, \"gases\": [\"N2\"], \"ready_limits\": false, \"chambers\": [{\"name\": "
        "\"jar\", \"volume\": \"10 L\", \"start\": {\"N2\": \"100 Pa\"}}, {\"name\": \"side\", "
        "\"volume\": \"1 L\"}], \"lines\": [{\"name\": \"neck\", \"between\": [\"jar\", \"side\"], "
        "\"pieces\": [{\"valve\": {\"name\": \"gate\", \"bore\": \"1 mm\", \"length\": \"20 "
        "mm\"}}]}], "
        "\"pumps\": [{\"name\": \"first\", \"kind\": \"ideal\", \"from\": \"jar\", \"to\": "
        "\"ambient\", "
        "\"speed\": \"1 L/s\"}, {\"name\": \"second\", \"kind\": \"ideal\", \"from\": \"jar\", "
        "\"to\": "
        "\"ambient\", \"speed\": \"1 L/s\"}], \"gauges\": [{\"name\": \"hot\", \"at\": \"jar\", "
        "\"kind\": \"hot cathode\"}, {\"name\": \"other\", \"at\": \"jar\", \"kind\": "
        "\"thermal\"}],\n"
        "\"procedure\": [{\"when\": \"time > 5 s\", \"do\": [\"stop first\", \"start second\", "
        "\"open "
        "gate\"]}, {\"do\": [\"switch on hot\", \"start first\"]}], \"run\": {\"until\": \"10 "
        "s\"}}";
    rfy_problems *problems = rfy_problems_new("bench");
    rfy_system *system = NULL;
    assert_int_equal(rfy_system_read(&system, text, strlen(text), NULL, 0, problems), RFY_OK);
    const rfy_network *net = system->network;
    assert_true(net->pump[0].on);
    assert_false(net->pump[1].on);
    assert_false(net->gauge[0].on);
    assert_true(net->gauge[1].on);
    size_t told = 0;
    for (size_t i = 0; i < net->n_assumed; i++)
        told += strcmp(net->assumed[i], "first: on from the start") == 0 ||
                strcmp(net->assumed[i], "second: off until the procedure starts it") == 0 ||
                strcmp(net->assumed[i], "hot: off until the procedure switches it on") == 0;
    assert_int_equal(told, 3);
    assert_int_equal(rfy_problems_kept(problems), 1);
    assert_non_null(strstr(rfy_problems_at(problems, 0)->what, "\"gate\" is open from the start"));
    assert_int_equal(rfy_problems_at(problems, 0)->line, 2);
    rfy_problems_free(problems);
    rfy_system_free(system);
}

static void broken_parts(void **state) {
    (void)state;
    rfy_system *system = test_sketch("{" WIRED "}");
    rfy_result *r = run(system, "stop pump at 10 s", RFY_OK);
    assert_int_equal(count(r, "start pump, but it does not answer"), 1);
    rfy_result_free(r);
    r = run(system, "stick gate at 13 s", RFY_OK);
    assert_int_equal(count(r, "gate is shut"), 0);
    assert_int_equal(count(r, "open gate, but it does not answer"), 1);
    rfy_result_free(r);
    r = run(system, "close gate when tank < 50 Pa", RFY_OK);
    /* tank, side and the 25 cm3 of the neck fall together: 100 exp(-t/11.025 s) */
    assert_close(time_of(r, "close gate", 1), 11.025 * log(2), 5e-4, 0, "on a condition");
    rfy_result_free(r);
    r = run(system, "break neck at 10 s", RFY_OK);
    assert_int_equal(count(r, "break neck"), 1);
    assert_true(test_pressure(r, r->n_times - 1, "side") > 0.99 * 101325);
    assert_true(test_pressure(r, r->n_times - 1, "tank") > 0.99 * 101325);
    rfy_result_free(r);
    r = run(system, "stop pump when tank < 1e-6 Pa", RFY_OK); /* never */
    assert_false(r->strike->struck);
    rfy_result_free(r);
    rfy_system_free(system);
    /* a rotor that loses speed coasts there and stays */
    system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'], 'ready_limits': false, 'chambers': [{'name': 'dome', "
        "'volume': '1 L', 'start': {'N2': '0.1 Pa'}}, {'name': 'foreline', 'volume': '1 L', "
        "'start': {'N2': '1 Pa'}}], 'pumps': [{'name': 'turbo', 'kind': 'turbomolecular', 'from': "
        "'dome', 'to': 'foreline', 'speed': '60 L/s', 'coast_down': '400 s', 'state': 'on'}], "
        "'procedure': "
        "[{'when': 'turbo < 70 %%', 'do': ['start turbo']}], 'run': {'until': '10 min'}}");
    r = run(system, "slow turbo to 60 % at 10 s", RFY_OK);
    assert_close(time_of(r, "turbo is at 60 %", 1), 10 + 160, 1e-9, 0, "coasts to it");
    assert_close(time_of(r, "start turbo, but it does not answer", 1), 10 + 120, 1e-9, 0, "stays");
    rfy_result_free(r);
    r = run(system, "seize turbo at 10 s", RFY_OK);
    assert_close(time_of(r, "start turbo, but it does not answer", 1), 10, 1e-9, 0, "at once");
    rfy_result_free(r);
    rfy_system_free(system);
}

/* A fault of the description by its name, with its own time and with another. */
static void named_faults(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{" TANK ", 'faults': [{'name': 'fuse at the pump', 'do': ['stop pump'], 'at': '8 s'}, "
        "{'name': 'any time', 'do': ['stop pump']}], 'run': {'until': '30 s'}}");
    const struct {
        const char *text;
        double time;
    } good[] = {{"fuse at the pump", 8},
                {"fuse at the pump at 12 s", 12},
                {"any time at 3 s", 3},
                {"any time when tank < 50 Pa", 6.931471805599},
                {"stop pump at 1 s", 1}};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        rfy_result *r = run(system, good[i].text, RFY_OK);
        assert_close(time_of(r, "stop pump", 1), good[i].time, 1e-9, 0, "%s", good[i].text);
        assert_close(r->strike->time, good[i].time, 1e-9, 0, "%s", good[i].text);
        rfy_result_free(r);
    }
    rfy_result *r = run(system, NULL, RFY_OK); /* not by themselves */
    assert_int_equal(count(r, "stop pump"), 0);
    rfy_result_free(r);
    const char *const bad[] = {"any time",
                               "stop pump",
                               "stop pomp at 3 s",
                               "any time at 3 Pa",
                               "any time when tank < 3 s",
                               "",
                               "at 3 s",
                               "stop pump;; at 3 s"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        rfy_problems *problems = rfy_problems_new("fault");
        rfy_fault *fault;
        if (rfy_fault_read(&fault, system, bad[i], problems) != RFY_USAGE)
            fail_msg("accepted: %s", bad[i]);
        assert_null(fault);
        assert_true(rfy_problems_errors(problems) > 0);
        rfy_problems_free(problems);
    }
    rfy_system_free(system);
}

/* What nothing in the file can bring about is told when it is read, and is no error: somebody may
 * mean to add it. */
static void what_never_comes(void **state) {
    (void)state;
    const struct {
        const char *when, *told; /* NULL = nothing */
    } rows[] = {{"turbo > 90 %", "nothing starts \"turbo\""},
                {"turbo is on or tank < 1 Pa", NULL},
                {"tank < 1 Pa and turbo is on", "nothing starts \"turbo\""},
                {"turbo is off", NULL},
                {"cock is open", "nothing opens \"cock\""},
                {"gate is closed", "nothing closes \"gate\""},
                {"gate is open", NULL},
                {"gauge < 1 Pa", "nothing switches on \"gauge\""},
                {"gauge is off", NULL},
                {"time > 2 h", "the run ends before"},
                {"not time < 2 h", "the run ends before"},
                {"elapsed > 20 s", NULL}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[2000];
        snprintf(
            text, sizeof text,
            "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '1 L'}, "
            "{'name': "
            "'dome', 'volume': '1 L'}], 'lines': [{'name': 'line', 'between': ['tank', 'dome'], "
            "'pieces': [{'valve': {'name': 'gate', 'bore': '40 mm', 'length': '5 mm'}}]}, {'name': "
            "'vent', 'between': ['dome', 'ambient'], 'pieces': [{'valve': {'name': 'cock', 'bore': "
            "'4 "
            "mm', 'length': '5 mm', 'state': 'closed'}}]}], 'pumps': [{'name': 'turbo', 'kind': "
            "'turbomolecular', 'from': 'tank', 'to': 'dome', 'speed': '9 L/s', 'state': 'off'}], "
            "'gauges': [{'name': 'gauge', 'at': 'tank', 'kind': 'capacitance', 'state': 'off'}], "
            "'procedure': [{'when': '%s', 'do': ['wait 1 s']}], 'run': {'until': '1 h'}}",
            rows[i].when);
        for (char *c = text; (c = strchr(c, '\''));)
            *c = '"';
        rfy_problems *problems = rfy_problems_new("sketch");
        rfy_system *system;
        assert_int_equal(rfy_system_read(&system, text, strlen(text), NULL, 0, problems), RFY_OK);
        bool told = false;
        for (size_t k = 0; k < rfy_problems_kept(problems); k++)
            told = told ||
                   (strstr(rfy_problems_at(problems, k)->what, "cannot come true") &&
                    (!rows[i].told || strstr(rfy_problems_at(problems, k)->what, rows[i].told)));
        if (told != (rows[i].told != NULL))
            fail_msg("\"%s\" %s", rows[i].when, told ? "is doubted" : "is not doubted");
        rfy_problems_free(problems);
        rfy_system_free(system);
    }
}

/* A gauge of the first order: lag dr/dt = p - r, with p = 100 Pa exp(-t/10 s) and r = 100 Pa at
 * first, r = 100 Pa [exp(-t/10) - 0.2 exp(-t/2)]/0.8 for a lag of 2 s. Switched off and on again it
 * shows what is there. */
static void gauges_lag(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{" TANK
        ", 'gauges': [{'name': 'slow', 'at': 'tank', 'kind': 'capacitance', 'lag': '2 s'}],"
        " 'procedure': [{'when': 'slow < 30 Pa', 'do': ['switch off slow', 'wait 3 s', 'switch on "
        "slow']}], 'run': {'until': '40 s'}}");
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.tolerance = 1e-9;
    const double at[] = {0, 0.5, 2, 5, 9, 40};
    options.at = at;
    options.n_at = 6;
    rfy_result *r = test_run(system, &options, RFY_OK);
    for (size_t i = 0; i < 5; i++)
        assert_close(r->gauge_reading[i], 100 * (exp(-at[i] / 10) - 0.2 * exp(-at[i] / 2)) / 0.8,
                     1e-5, 0, "after %g s", at[i]);
    double t = 14; /* root of the same for 30 Pa */
    for (int i = 0; i < 60; i++)
        t -= (100 * (exp(-t / 10) - 0.2 * exp(-t / 2)) / 0.8 - 30) /
             (100 * (-0.1 * exp(-t / 10) + 0.1 * exp(-t / 2)) / 0.8);
    assert_close(time_of(r, "switch off slow", 1), t, 1e-5, 0, "when it shows 30 Pa");
    assert_close(time_of(r, "switch on slow", 1), t + 3, 1e-5, 0, "three seconds");
    double on = exp(-(t + 3) / 10), dt = 40 - t - 3; /* it lags again from there */
    assert_close(r->gauge_reading[5], 100 * on * (exp(-dt / 10) - 0.2 * exp(-dt / 2)) / 0.8, 1e-5,
                 0, "on again");
    rfy_result_free(r);
    rfy_system_free(system);
}

/* Walls of two equal chambers leave air at the same instant; both clocks start. */
static void walls_together(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'H2O'], 'chambers': [{'name': 'hub', 'volume': '1 L'}, "
        "{'name': 'a', 'volume': '0.1 L', 'walls': [{'material': 'borosilicate glass', 'area': "
        "'0.1 "
        "m2'}]}, {'name': 'b', 'volume': '0.1 L', 'walls': [{'material': 'borosilicate glass', "
        "'area': '0.1 m2'}]}], 'lines': [{'name': 'to a', 'between': ['hub', 'a'], 'pieces': "
        "['tube "
        "5 mm x 50 mm']}, {'name': 'to b', 'between': ['hub', 'b'], 'pieces': ['tube 5 mm x 50 "
        "mm']}], 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'hub', 'to': 'ambient', "
        "'speed': '1 L/s'}], 'run': {'until': '1 h'}}");
    rfy_result *r = run(system, NULL, RFY_OK);
    assert_int_equal(count(r, "a: outgassing clock starts"), 1);
    assert_int_equal(count(r, "b: outgassing clock starts"), 1);
    assert_close(test_pressure(r, r->n_times - 1, "a"), test_pressure(r, r->n_times - 1, "b"), 1e-6,
                 0, "alike");
    rfy_result_free(r);
    rfy_system_free(system);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(waits_and_order),  cmocka_unit_test(time_outs),
        cmocka_unit_test(repeats),          cmocka_unit_test(endless),
        cmocka_unit_test(back_filling),     cmocka_unit_test(flushing),
        cmocka_unit_test(sealed),           cmocka_unit_test(rules_act_each_time),
        cmocka_unit_test(rules_see_spikes), cmocka_unit_test(without_mains),
        cmocka_unit_test(broken_parts),     cmocka_unit_test(named_faults),
        cmocka_unit_test(unsaid_states),    cmocka_unit_test(what_never_comes),
        cmocka_unit_test(gauges_lag),       cmocka_unit_test(walls_together),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
