/* The same questions to every method behind the interface: closed forms, instants of events, the
 * balance, floors. What only one of them is asked stands in test_simulate.c, test_switching.c and
 * test_balance.c. Expected numbers are the closed form of the governing equation beside each. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "solve/simulate_parts.h"
#include "study/system.h"
#include "support/sketch.h"

static const struct {
    rfy_method method;
    const char *name;
    double events;   /* relative accuracy of an event's time at a tolerance of 1e-9 */
    double instants; /* and of what is read at instants */
    double kept;     /* balance */
} methods[] = {
    {RFY_METHOD_RODAS, "rodas", 1e-8, 2e-7, 1e-10},
    {RFY_METHOD_RODASP, "rodasp", 1e-8, 2e-7, 1e-10},
    {RFY_METHOD_RODAS4, "rodas4", 1e-8, 2e-7, 1e-10},
    /* a multistep method's error grows over its steps to some ten times the tolerance */
    {RFY_METHOD_MSBDF, "msbdf", 1e-7, 2e-6, 1e-10},
};
enum { METHODS = sizeof methods / sizeof *methods };

static rfy_result *run(const rfy_system *system, int m, double tolerance, const double *at,
                       size_t n_at) {
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.method = methods[m].method;
    options.tolerance = tolerance;
    options.at = at;
    options.n_at = n_at;
    rfy_result *result = test_run(system, &options, RFY_OK);
    assert_string_equal(result->solver.method, methods[m].name);
    return result;
}

/* ---- one chamber ---- */

/* p = p0 exp(-S t/V) from 1e5 Pa over ten decades. */
static void pump_down(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '20 "
        "L', 'start': {'N2': '1e5 Pa'}}],"
        " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'tank', 'to': 'ambient', "
        "'speed': '4 L/s'}],"
        " 'targets': [{'name': 'a', 'chamber': 'tank', 'pressure': '1e4 Pa'},"
        "             {'name': 'b', 'chamber': 'tank', 'pressure': '37 Pa'},"
        "             {'name': 'c', 'chamber': 'tank', 'pressure': '1e-5 Pa'}],"
        " 'procedure': [{'when': 'tank < 3 Pa', 'do': ['stop pump']}, {'do': ['start pump']}],"
        " 'run': {'until': '3 min'}}");
    const double at[] = {1, 7.77, 60, 120, 180}, target[] = {1e4, 37, 1e-5};
    const char *const names[] = {"a", "b", "c"};
    for (int m = 0; m < METHODS; m++) {
        rfy_result *result = run(system, m, 1e-9, at, 5);
        for (size_t i = 0; i < 3; i++)
            assert_close(test_target(result, names[i])->time, 5 * log(1e5 / target[i]),
                         methods[m].events, 0, "%s: target %s", methods[m].name, names[i]);
        assert_close(test_event(result, "stop pump")->time, 5 * log(1e5 / 3), methods[m].events, 0,
                     "%s: the step", methods[m].name);
        for (size_t i = 0; i < 5; i++)
            assert_close(test_pressure(result, i, "tank"), 1e5 * exp(-at[i] / 5),
                         methods[m].instants, 0, "%s: after %g s", methods[m].name, at[i]);
        rfy_result_free(result);
    }
    rfy_system_free(system);
}

/* ---- two chambers ---- */

typedef struct chain { /* p_far' = -a p_far + a p_near, p_near' = b p_far - d p_near */
    double a, b, d;
} chain;

/* Both pressures, of 1e-3 Pa at the beginning in the far one alone. */
static void chain_at(const chain *c, double t, double *far, double *near) {
    double mean = -(c->a + c->d) / 2, half = sqrt((c->a - c->d) * (c->a - c->d) / 4 + c->a * c->b),
           fast = mean - half, slow = mean + half, x = exp(slow * t), y = exp(fast * t);
    *far = 1e-3 * ((-c->a - fast) * x - (-c->a - slow) * y) / (slow - fast);
    *near = 1e-3 * c->b * (x - y) / (slow - fast);
}

static double chain_crosses(const chain *c, double level) {
    double low = 0, high = 100, far, near;
    for (int i = 0; i < 200; i++) {
        double middle = 0.5 * (low + high);
        chain_at(c, middle, &far, &near);
        *(far > level ? &low : &high) = middle;
    }
    return low;
}

/* Two chambers and a constant conductance: the far one crosses its targets at the roots of a sum of
 * two exponentials. */
static void two_chambers(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'],"
        " 'chambers': [{'name': 'far', 'volume': '1 L', 'start': {'N2': '1e-3 Pa'}},"
        "              {'name': 'near', 'volume': '3 L', 'start': {'N2': '0 Pa'}}],"
        " 'lines': [{'name': 'c', 'between': ['far', 'near'], 'pieces': [{'trap': {'conductance': "
        "'2 L/s', 'volume': '1e-9 cm3'}}]}],"
        " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'near', 'to': 'ambient', 'speed': '5 "
        "L/s', 'state': 'on'}],"
        " 'targets': [{'name': 'early', 'chamber': 'far', 'pressure': '7e-4 Pa'},"
        "             {'name': 'middle', 'chamber': 'far', 'pressure': '2e-5 Pa'},"
        "             {'name': 'late', 'chamber': 'far', 'pressure': '3e-9 Pa'}],"
        " 'procedure': [{'when': 'far < 4e-7 Pa', 'do': ['start pump']}], 'run': {'until': '30 "
        "s'}}");
    const double g = 2 * sqrt(0.0289655 / 0.028014); /* L/s; given for air */
    const chain c = {g, g / 3, (g + 5) / 3};
    const double level[] = {7e-4, 2e-5, 3e-9};
    const char *const names[] = {"early", "middle", "late"};
    for (int m = 0; m < METHODS; m++) {
        rfy_result *result = run(system, m, 1e-9, NULL, 0);
        for (size_t i = 0; i < 3; i++)
            assert_close(test_target(result, names[i])->time, chain_crosses(&c, level[i]),
                         methods[m].events, 0, "%s: target %s", methods[m].name, names[i]);
        assert_close(test_event(result, "start pump")->time, chain_crosses(&c, 4e-7),
                     methods[m].events, 0, "%s: the step", methods[m].name);
        rfy_result_free(result);
    }
    rfy_system_free(system);
}

/* ---- events ---- */

/* The state told with an event meets its condition: off by no more than the pressure moves in 1e-10
 * of the time, at loose tolerances too. It is the root that is tested, not the run. */
static void events_meet_their_condition(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'H2O'],"
        " 'chambers': [{'name': 'jar', 'volume': '5 L', 'walls': [{'material': 'stainless steel', "
        "'area': '0.2 m2'}]},"
        "              {'name': 'mouth', 'volume': '0.2 L'}],"
        " 'lines': [{'name': 'hose', 'between': ['jar', 'mouth'], 'pieces': ['tube 10 mm x 0.5 "
        "m']}],"
        " 'pumps': [{'name': 'vane', 'kind': 'rotary vane', 'from': 'mouth', 'to': 'ambient', "
        "'speed': '3 m3/h', 'ultimate': '0.1 Pa', 'state': 'on'}],"
        " 'targets': [{'name': 'high', 'chamber': 'jar', 'pressure': '5e3 Pa'},"
        "             {'name': 'middle', 'chamber': 'jar', 'pressure': '100 Pa'},"
        "             {'name': 'low', 'chamber': 'jar', 'pressure': '1.5 Pa'}],"
        " 'procedure': [{'when': 'jar < 20 Pa', 'do': ['start vane']}],"
        " 'run': {'until': '1 h'}}");
    const double wanted[] = {5e3, 100, 1.5, 20};
    const char *const what[] = {"jar: high", "jar: middle", "jar: low", "start vane"};
    for (int m = 0; m < METHODS; m++)
        for (double tolerance = 1e-3; tolerance > 1e-8; tolerance *= 0.1) {
            rfy_result *result = run(system, m, tolerance, NULL, 0);
            for (size_t i = 0; i < 4; i++) {
                const rfy_event *event = test_event(result, what[i]);
                double t = event->time, p = event->pressure[test_chamber(result, "jar")];
                const double at[] = {t * (1 - 1e-4), t * (1 + 1e-4)};
                rfy_result *beside = run(system, m, tolerance, at, 2);
                double slope =
                    fabs(log(test_pressure(beside, 1, "jar") / test_pressure(beside, 0, "jar"))) /
                    2e-4; /* d ln p/d ln t */
                assert_close(p, wanted[i], 1e-10 * slope + 2e-14, 0, "%s at %g: %s",
                             methods[m].name, tolerance, what[i]);
                rfy_result_free(beside);
            }
            rfy_result_free(result);
        }
    rfy_system_free(system);
}

/* A bench where everything happens: the same events in the same order, at the same times, from
 * every method. */
static const char *const busy =
    "{'rarefy': 1, 'gases': ['N2', 'O2', 'H2O', 'CO2', 'He'],"
    " 'chambers': [{'name': 'bell', 'volume': '20 L', 'walls': [{'material': 'aluminium', 'area': "
    "'0.5 m2'}],"
    "               'leaks': [{'rate': '1e-5 mbar L/s'}, {'rate': '1e-6 mbar L/s', 'gas': 'He'}]},"
    "              {'name': 'mouth', 'volume': '0.2 L'},"
    "              {'name': 'turbo inlet', 'volume': '1 L', 'start': {'N2': '1 Pa'}},"
    "              {'name': 'foreline', 'volume': '0.5 L', 'start': {'N2': '1 Pa'}}],"
    " 'lines': [{'name': 'hose', 'between': ['bell', 'mouth'], 'pieces': ['tube 25 mm x 0.5 m',"
    "            {'valve': {'name': 'main', 'bore': '25 mm', 'length': '50 mm', 'moves_in': '1 "
    "s'}}, 'tube 16 mm x 0.2 m']},"
    "           {'name': 'plate', 'between': ['bell', 'turbo inlet'], 'pieces': [{'valve': "
    "{'name': 'gate', 'bore': '40 mm', 'length': '60 mm', 'state': 'closed', 'moves_in': '2 s'}}]},"
    "           {'name': 'back', 'between': ['foreline', 'mouth'], 'pieces': ['tube 16 mm x 0.5 "
    "m']},"
    "           {'name': 'vent', 'between': ['ambient', 'bell'], 'pieces': [{'valve': {'name': "
    "'air inlet', 'bore': '4 mm', 'length': '10 mm', 'state': 'closed', 'moves_in': '0.2 s'}}]}],"
    " 'pumps': [{'name': 'vane', 'kind': 'rotary vane', 'from': 'mouth', 'to': 'ambient', "
    "'speed': '8 m3/h', 'ultimate': '0.5 Pa'},"
    "           {'name': 'turbo', 'kind': 'turbomolecular', 'from': 'turbo inlet', 'to': "
    "'foreline', 'speed': '40 L/s', 'run_up': '90 s', 'foreline_limit': '500 Pa', 'state': "
    "'off'}],"
    " 'sources': [{'gas': 'CO2', 'at': 'bell', 'amount': '0.3 Pa m3', 'during': ['800 s', '830 "
    "s']}],"
    " 'targets': [{'name': 'rough', 'chamber': 'bell', 'pressure': '30 Pa'}, {'name': 'fine', "
    "'chamber': 'bell', 'pressure': '2e-2 Pa'}],"
    " 'limits': [{'name': 'care', 'watch': 'turbo inlet', 'while': 'turbo > 20 %', 'max': '1e5 "
    "Pa'}],"
    " 'procedure': [{'when': 'bell < 20 Pa', 'do': ['close main', 'start turbo']},"
    "               {'when': 'turbo > 80 %', 'do': ['open gate']},"
    "               {'when': 'time > 30 min', 'do': ['close gate', 'open air inlet']},"
    "               {'when': 'bell > 0.9 bar', 'do': ['close air inlet', 'open main']},"
    "               {'when': 'bell < 20 Pa', 'do': ['close main']},"
    "               {'when': 'elapsed > 1 s', 'do': ['open gate']}],"
    " 'ready_limits': false, 'run': {'until': '70 min'}}";

static void events_are_the_same(void **state) {
    (void)state;
    rfy_system *system = test_sketch("%s", busy);
    rfy_result *first = run(system, 0, 1e-8, NULL, 0);
    assert_true(first->n_events > 20);
    for (int m = 1; m < METHODS; m++) {
        rfy_result *other = run(system, m, 1e-8, NULL, 0);
        assert_int_equal(other->n_events, first->n_events);
        for (size_t i = 0; i < first->n_events; i++) {
            assert_string_equal(other->event[i].what, first->event[i].what);
            assert_close(other->event[i].time, first->event[i].time, 2e-6, 0, "%s: %s",
                         methods[m].name, first->event[i].what);
        }
        rfy_result_free(other);
    }
    rfy_result_free(first);
    rfy_system_free(system);
}

/* A thousand and more steps that are due at one instant are work to do, not a chase. */
static void many_steps_at_once(void **state) {
    (void)state;
    enum { STEPS = 1500 };
    char *text = malloc(200 + 60 * STEPS);
    assert_non_null(text);
    char *at = text;
    at += sprintf(at, "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '10 "
                      "L', 'start': {'N2': '100 Pa'}}], 'pumps': [{'name': 'pump', 'kind': "
                      "'ideal', 'from': 'tank', 'to': 'ambient', 'speed': '1 L/s'}], "
                      "'procedure': [");
    for (int i = 0; i < STEPS; i++)
        at += sprintf(at, "%s{'when': 'tank < 50 Pa', 'do': ['%s pump']}", i ? "," : "",
                      i % 2 ? "start" : "stop");
    sprintf(at, "], 'run': {'until': '20 s'}}");
    rfy_system *system = test_sketch("%s", text);
    free(text);
    const double instants[] = {20};
    for (int m = 0; m < METHODS; m++) {
        rfy_result *result = run(system, m, 1e-9, instants, 1);
        size_t acted = 0;
        for (size_t i = 0; i < result->n_events; i++)
            if (result->event[i].kind == RFY_EVENT_ACTION) {
                assert_close(result->event[i].time, 10 * log(2), methods[m].events, 0,
                             "%s: step %zu", methods[m].name, acted);
                acted++;
            }
        assert_int_equal(acted, STEPS);
        assert_close(test_pressure(result, 0, "tank"), 100 * exp(-2), methods[m].instants, 0,
                     "%s: pumped on", methods[m].name);
        rfy_result_free(result);
    }
    rfy_system_free(system);
}

/* ---- balance and floors ---- */

static void gas_is_kept(void **state) {
    (void)state;
    char *text = test_read_file("examples/photocell-bulb.json", NULL);
    rfy_system *systems[] = {test_sketch("%s", busy), test_system(text)};
    free(text);
    for (int s = 0; s < 2; s++) {
        for (int m = 0; m < METHODS; m++)
            for (double tolerance = 1e-3; tolerance > 1e-8; tolerance *= 0.01) {
                rfy_result *result = run(systems[s], m, tolerance, NULL, 0);
                for (size_t i = 0; i < result->n_gases; i++)
                    assert_close(result->balance[i].residue, 0, 0, methods[m].kept,
                                 "%s at %g: balance of %s in bench %d", methods[m].name, tolerance,
                                 result->gas[i], s);
                rfy_result_free(result);
            }
        rfy_system_free(systems[s]);
    }
}

static void not_below_floor(void *context, rfy_sim *sim, double time, const double *y) {
    double *worst = context;
    (void)time, (void)y;
    const int g = sim->net->mixture.n;
    for (int k = 0; k < sim->net->n_free; k++) {
        const double grain = 10 * rfy_ode_grain(sim->ode, k, sim->y_end);
        for (int i = k * g; i < (k + 1) * g; i++)
            *worst = fmax(*worst, -sim->y_end[i] / (sim->ode->floor[i] + grain));
    }
}

static void amounts_stay_above_floor(void **state) {
    (void)state;
    rfy_system *system = test_sketch("%s", busy);
    double at[3000];
    for (size_t i = 0; i < 3000; i++)
        at[i] = 1e-3 * pow(10, (double)i / 3000 * 6.62);
    for (int m = 0; m < METHODS; m++)
        for (double tolerance = 1e-3; tolerance > 1e-8; tolerance *= 0.01) {
            double worst = 0;
            rfy_observer observer = {.output = not_below_floor, .context = &worst};
            rfy_sim_options options = {
                .method = methods[m].method, .tolerance = tolerance, .at = at, .n_at = 3000};
            rfy_sim *sim = rfy_sim_new(system->network, &options, &observer);
            assert_non_null(sim);
            assert_int_equal(rfy_sim_run(sim), RFY_OK);
            rfy_sim_free(sim);
            /* our steppers refuse a step for it; GSL's multistep method does not know of floors */
            if (worst > (methods[m].method == RFY_METHOD_MSBDF ? 3 : 1))
                fail_msg("%s at %g: an amount stands at -%g floors", methods[m].name, tolerance,
                         worst);
        }
    rfy_system_free(system);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pump_down),
        cmocka_unit_test(two_chambers),
        cmocka_unit_test(events_meet_their_condition),
        cmocka_unit_test(events_are_the_same),
        cmocka_unit_test(many_steps_at_once),
        cmocka_unit_test(gas_is_kept),
        cmocka_unit_test(amounts_stay_above_floor),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
