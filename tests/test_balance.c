/* Where gas goes in a run: the balance, floors of the state, walls and their clocks. Every expected
 * number is the closed form of the governing equation written beside it. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "solve/simulate_parts.h"
#include "study/system.h"
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

/* ---- balance ---- */

static void assert_balanced(const rfy_result *result, double most) {
    for (size_t g = 0; g < result->n_gases; g++) {
        const rfy_balance_row *b = &result->balance[g];
        double in = b->start + b->from_walls + b->admitted, out = b->pumped + b->to_walls + b->left;
        assert_close(b->handled, in, 1e-12, 0, "what is handled of %s", result->gas[g]);
        assert_close(out, in, most, 0, "balance of %s", result->gas[g]);
        assert_close(b->residue, (in - out) / (in > 0 ? in : 1), 0, 1e-14, "residue of %s",
                     result->gas[g]);
    }
}

/* Nothing is lost: gas in, out and left agree to round-off, at the loosest tolerance too. */
static void balance_closes(void **state) {
    (void)state;
    const double tolerances[] = {1e-3, 1e-5, 1e-7};
    rfy_system *systems[] = {
        example("examples/photocell-bulb.json"),
        test_sketch(/* vented, pumped again, with a burst and a leak */
                    "{'rarefy': 1, 'gases': ['N2', 'O2', 'H2O', 'CO2', 'He'],"
                    " 'chambers': [{'name': 'bell', 'volume': '20 L', 'walls': [{'material': "
                    "'aluminium', 'area': '0.5 m2'}],"
                    "               'leaks': [{'rate': '1e-5 mbar L/s'}, {'rate': '1e-6 mbar L/s', "
                    "'gas': 'He'}]},"
                    "              {'name': 'mouth', 'volume': '0.2 L'}],"
                    " 'lines': [{'name': 'hose', 'between': ['bell', 'mouth'], 'pieces': ['tube 25 "
                    "mm x 0.5 m',"
                    "            {'valve': {'name': 'main', 'bore': '25 mm', 'length': '50 mm', "
                    "'moves_in': '1 s'}},"
                    "            'tube 16 mm x 0.2 m']},"
                    "           {'name': 'vent', 'between': ['ambient', 'bell'], 'pieces': "
                    "[{'valve': {'name': 'air inlet',"
                    "            'bore': '4 mm', 'length': '10 mm', 'state': 'closed', 'moves_in': "
                    "'0.2 s'}}]}],"
                    " 'pumps': [{'name': 'vane', 'kind': 'rotary vane', 'from': 'mouth', 'to': "
                    "'ambient', 'speed': '8 m3/h',"
                    "            'ultimate': '0.5 Pa'}],"
                    " 'sources': [{'gas': 'CO2', 'at': 'bell', 'amount': '0.3 Pa m3', 'during': "
                    "['100 s', '130 s']}],"
                    " 'procedure': [{'when': 'time > 5 min', 'do': ['close main']},"
                    "               {'when': 'elapsed > 5 s', 'do': ['open air inlet']},"
                    "               {'when': 'bell > 0.9 bar', 'do': ['close air inlet', 'open "
                    "main']}],"
                    " 'run': {'until': '20 min'}}"),
        test_sketch(/* closed box: nothing in, nothing out */
                    "{'rarefy': 1, 'gases': ['H2', 'Xe'],"
                    " 'chambers': [{'name': 'a', 'volume': '1 L', 'start': {'H2': '100 Pa'}},"
                    "              {'name': 'b', 'volume': '2 L', 'start': {'Xe': '300 Pa'}}],"
                    " 'lines': [{'name': 'c', 'between': ['a', 'b'], 'pieces': ['tube 4 mm x 0.1 "
                    "m', 'orifice 1 mm',"
                    "            'tube 6 mm x 0.2 m']}], 'run': {'until': '1 h'}}")};
    for (size_t s = 0; s < 3; s++) {
        for (size_t i = 0; i < 3; i++) {
            rfy_result *result = run(systems[s], tolerances[i], NULL, 0);
            assert_balanced(result, 1e-10);
            if (s == 2)
                for (size_t g = 0; g < 2; g++) {
                    assert_true(result->balance[g].pumped == 0 && result->balance[g].admitted == 0);
                    assert_close(result->balance[g].left, result->balance[g].start, 1e-12, 0,
                                 "closed box");
                }
            rfy_result_free(result);
        }
        rfy_system_free(systems[s]);
    }
}

/* The entries of the balance themselves: a constant wall, a burst and a small leak for a known
 * time. */
static void balance_amounts(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'H2O', 'CO'], 'ambient': {'pressure': '101325 Pa', "
        "'relative_humidity': 0},"
        " 'chambers': [{'name': 'box', 'volume': '10 L', 'start': {'N2': '50 Pa'},"
        "               'walls': [{'area': '2 m2', 'rate': '3e-6 Pa m3/s/m2', 'gas': 'H2O'}],"
        "               'leaks': [{'rate': '1e-9 Pa m3/s'}]}],"
        " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'box', 'to': 'ambient', 'speed': '1 "
        "L/s'}],"
        " 'sources': [{'gas': 'CO', 'at': 'box', 'amount': '0.12 Pa m3', 'during': ['100 s', '400 "
        "s']},"
        "             {'gas': 'CO', 'at': 'box', 'amount': '0.05 Pa m3', 'during': ['200 s', '300 "
        "s']},"
        "             {'gas': 'CO', 'at': 'box', 'amount': '9 Pa m3', 'during': ['900 s', '3600 "
        "s']}],"
        " 'run': {'until': '1000 s'}}");
    rfy_result *result = run(system, 1e-8, NULL, 0);
    const rfy_balance_row *n2 = &result->balance[test_gas(result, "N2")],
                          *h2o = &result->balance[test_gas(result, "H2O")],
                          *co = &result->balance[test_gas(result, "CO")];
    assert_close(n2->start, 50 * 0.01 / (R * T), 1e-12, 0, "gas at the start");
    assert_close(n2->admitted, 1e-9 * 1000 / (R * T), 1e-5, 0, "through the leak");
    assert_close(h2o->from_walls, 6e-6 * 1000 / (R * T), 1e-9, 0, "from the wall");
    assert_close(h2o->admitted, 0, 0, 1e-20, "no water from outside");
    /* the third burst has given 100 s of its 2700 s */
    assert_close(co->admitted, (0.17 + 9 * 100 / 2700.0) / (R * T), 1e-9, 0, "by the bursts");
    assert_close(h2o->pumped, 6e-6 * (1000 - 10 * (1 - exp(-100.0))) / (R * T), 1e-6, 0,
                 "water pumped");
    assert_balanced(result, 1e-10);
    rfy_result_free(result);
    rfy_system_free(system);
}

/* A burst into a closed box adds amount/volume, evenly. */
static void bursts_add_up(void **state) {
    (void)state;
    rfy_system *system =
        test_sketch("{'rarefy': 1, 'gases': ['CO2', 'N2'],"
                    " 'chambers': [{'name': 'bulb', 'volume': '0.5 L', 'start': {'N2': '2 Pa'}}],"
                    " 'sources': [{'name': 'cathode', 'gas': 'CO2', 'at': 'bulb', 'amount': '0.01 "
                    "Pa m3', 'during': ['10 s', '30 s']}],"
                    " 'run': {'until': '60 s'}}");
    const double at[] = {10, 15, 30, 60}, share[] = {0, 0.25, 1, 1};
    rfy_result *result = run(system, 1e-6, at, 4);
    for (size_t i = 0; i < 4; i++) {
        assert_close(test_partial(result, i, "bulb", "CO2"), share[i] * 0.01 / 0.5e-3, 1e-9, 1e-12,
                     "at %g s", at[i]);
        assert_close(test_partial(result, i, "bulb", "N2"), 2, 1e-12, 0, "nitrogen stays");
    }
    assert_true(test_event(result, "cathode begins")->time == 10);
    assert_true(test_event(result, "cathode ends")->time == 30);
    rfy_result_free(result);
    rfy_system_free(system);
}

/* ---- floors ---- */

typedef struct lowest {
    double worst; /* smallest accepted amount in units of its floor */
    size_t looks;
} lowest;

static void look_at_step(void *context, rfy_sim *sim, double time, const double *y) {
    lowest *low = context;
    const rfy_network *net = sim->net;
    (void)time, (void)y;
    for (int i = 0; i < net->n_free * net->mixture.n; i++) {
        double ratio = sim->y_end[i] / sim->ode->floor[i];
        if (ratio < low->worst)
            low->worst = ratio;
    }
    low->looks++;
}

/* Accepted amounts are never below minus their floor (a gas pumped to nothing may swing by the
 * allowed error). */
static void amounts_stay_above_floor(void **state) {
    (void)state;
    rfy_system *systems[] = {
        example("examples/photocell-bulb.json"),
        test_sketch(/* two gases that leave altogether, and one that arrives later */
                    "{'rarefy': 1, 'gases': ['He', 'Ar', 'CO2'],"
                    " 'chambers': [{'name': 'a', 'volume': '1 L', 'start': {'He': '100 Pa', 'Ar': "
                    "'0.01 Pa'}},"
                    "              {'name': 'b', 'volume': '1 L', 'start': {'Ar': '50 Pa'}}],"
                    " 'lines': [{'name': 'c', 'between': ['a', 'b'], 'pieces': ['tube 16 mm x 0.2 "
                    "m']}],"
                    " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'b', 'to': 'ambient', "
                    "'speed': '100 L/s'}],"
                    " 'sources': [{'gas': 'CO2', 'at': 'a', 'amount': '1 Pa m3', 'during': ['1000 "
                    "s', '1001 s']}],"
                    " 'run': {'until': '1 h'}}")};
    double at[4000];
    for (size_t i = 0; i < 4000; i++)
        at[i] = 1e-3 * pow(10, (double)i / 4000 * 6.55);
    for (size_t s = 0; s < 2; s++) {
        for (double tolerance = 1e-3; tolerance > 1e-8; tolerance *= 0.01) {
            lowest low = {INFINITY, 0};
            rfy_observer observer = {.output = look_at_step, .context = &low};
            rfy_sim_options options = {.tolerance = tolerance, .at = at, .n_at = 4000};
            rfy_sim *sim = rfy_sim_new(systems[s]->network, &options, &observer);
            assert_non_null(sim);
            assert_int_equal(rfy_sim_run(sim), RFY_OK);
            rfy_sim_free(sim);
            assert_true(low.looks > 2000);
            if (low.worst < -1)
                fail_msg("system %zu, tolerance %g: an amount stands at %g floors", s, tolerance,
                         low.worst);
        }
        rfy_system_free(systems[s]);
    }
}

/* Printed pressures are never negative and never NaN, over the whole series. */
static void series_is_sound(void **state) {
    (void)state;
    rfy_system *system = example("examples/photocell-bulb.json");
    rfy_result *result = run(system, 0, NULL, 0);
    assert_true(result->n_times > 50);
    for (size_t i = 1; i < result->n_times; i++)
        assert_true(result->time[i] > result->time[i - 1]);
    assert_true(result->time[0] == 0 && result->time[result->n_times - 1] == result->end);
    assert_true(result->end == 8 * 3600);
    for (size_t i = 0; i < result->n_times * result->n_chambers; i++) {
        double sum = 0;
        for (size_t g = 0; g < result->n_gases; g++) {
            double p = result->partial[i * result->n_gases + g];
            assert_true(p >= 0);
            sum += p;
        }
        assert_close(result->pressure[i], sum, 1e-14, 0, "total at %zu", i);
    }
    for (size_t i = 1; i < result->n_events; i++)
        assert_true(result->event[i].time >= result->event[i - 1].time);
    rfy_result_free(result);
    rfy_system_free(system);
}

/* ---- walls ---- */

/* With V/S of a millisecond the pressure is q A/S at every moment: the table's figures at 1 h and
 * 10 h after the walls left atmosphere (Elsey 1975 as read into data/materials.csv: 2.33e-5
 * and 2.8e-6 Pa m3/s/m2, stainless steel as received, marked M there). */
static void wall_clock(void **state) {
    (void)state;
    const char *const starts[] = {"'start': {'N2': '0 Pa'},", ""};
    for (size_t s = 0; s < 2; s++) {
        rfy_system *system = test_sketch("{'rarefy': 1, 'gases': ['N2', 'H2O'],"
                                         " 'chambers': [{'name': 'box', 'volume': '10 L', %s"
                                         "               'walls': [{'material': 'stainless steel', "
                                         "'condition': 'as received', 'area': '3 m2'}]}],"
                                         " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': "
                                         "'box', 'to': 'ambient', 'speed': '10 m3/s'}],"
                                         " 'run': {'until': '20 h'}}",
                                         starts[s]);
        /* from ambient the clock starts at a tenth of atmosphere */
        double begins = s ? 1e-3 * log(10) : 0;
        const double at[] = {3600 + begins, 36000 + begins};
        rfy_result *result = run(system, 1e-8, at, 2);
        if (s)
            assert_close(test_event(result, "box: outgassing clock starts")->time, begins, 1e-6, 0,
                         "start of the clock");
        assert_close(test_partial(result, 0, "box", "H2O") * 10 / 3, 2.33e-5, 1e-6, 0,
                     "rate after 1 h");
        assert_close(test_partial(result, 1, "box", "H2O") * 10 / 3, 2.8e-6, 1e-6, 0,
                     "rate after 10 h");
        rfy_result_free(result);
        rfy_system_free(system);
    }
}

/* The pressure of a chamber pumped fast follows its walls, p = q(t) A/S with q as 1/t, to a lag of
 * V/S = 1 ms. Instants lie inside long steps: what is read there must be as good as the steps are.
 */
static void instants_inside_steps(void **state) {
    (void)state;
    rfy_system *system = test_sketch("{'rarefy': 1, 'gases': ['N2', 'H2O'],"
                                     " 'chambers': [{'name': 'box', 'volume': '10 L', 'start': "
                                     "{'N2': '0 Pa'}, 'walls': [{'area': '3 m2',"
                                     "               'rate': '1e-5 Pa m3/s/m2', 'exponent': 1, "
                                     "'gas': 'H2O', 'pumped_for': '10 min'}]}],"
                                     " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'box', "
                                     "'to': 'ambient', 'speed': '10 m3/s'}],"
                                     " 'run': {'until': '20 h'}}");
    double at[300];
    for (size_t i = 0; i < 300; i++)
        at[i] = 100 + 239.4 * (double)i;
    for (double tolerance = 1e-4; tolerance > 1e-9; tolerance *= 0.1) {
        rfy_result *result = run(system, tolerance, at, 300);
        for (size_t i = 0; i < 300; i++)
            assert_close(test_pressure(result, i, "box"), 1e-5 * 3600 / (600 + at[i]) * 3 / 10,
                         30 * tolerance + 2e-6, 0, "pressure after %g s at tolerance %g", at[i],
                         tolerance);
        rfy_result_free(result);
    }
    rfy_system_free(system);
}

/* Venting stops the clock and starts it afresh; walls already pumped begin with their age. */
static void wall_clock_starts_again(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'H2O'],"
        " 'chambers': [{'name': 'box', 'volume': '10 L', 'start': {'N2': '0 Pa'}, 'walls': "
        "[{'area': '3 m2',"
        "               'rate': '1e-5 Pa m3/s/m2', 'exponent': 1, 'gas': 'H2O', 'pumped_for': '9 "
        "h'}]}],"
        " 'lines': [{'name': 'vent', 'between': ['ambient', 'box'], 'pieces': [{'valve': {'name': "
        "'air inlet',"
        "            'bore': '16 mm', 'length': '20 mm', 'state': 'closed'}}]}],"
        " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'box', 'to': 'ambient', 'speed': '10 "
        "m3/s'}],"
        " 'procedure': [{'when': 'time > 1 h', 'do': ['stop pump', 'open air inlet']},"
        "               {'when': 'time > 2 h', 'do': ['close air inlet', 'start pump']}],"
        " 'run': {'until': '4 h'}}");
    rfy_result *plain = run(system, 1e-8, NULL, 0);
    double up = test_event(plain, "box: walls meet air again")->time;
    double down = test_event(plain, "box: outgassing clock starts")->time;
    assert_close(up, 3600, 1e-3, 0, "air comes in");
    assert_close(down, 7200 + 1e-3 * log(10), 1e-7, 0, "air has gone");
    rfy_result_free(plain);
    const double at[] = {3599, 7100, down + 3600};
    rfy_result *result = run(system, 1e-8, at, 3);
    assert_close(test_partial(result, 0, "box", "H2O") * 10 / 3, 1e-5 * 3600 / (9 * 3600 + 3599),
                 2e-6, 0, "aged walls");
    assert_close(test_pressure(result, 1, "box"), 101325, 1e-6, 0, "vented");
    assert_close(test_partial(result, 2, "box", "H2O") * 10 / 3, 1e-5, 1e-6, 0,
                 "fresh walls after 1 h");
    rfy_result_free(result);
    rfy_system_free(system);
}

/* The law of a wall bends 60 s, 1 h and 10 h after its clock started: the run stops at each exactly
 * once, however the clock's start is rounded, and not again a hair later. */
static void bends_come_once(void **state) {
    (void)state;
    rfy_system *system =
        test_sketch("{'rarefy': 1, 'gases': ['H2O'], 'chambers': [{'name': 'box', 'volume': '1 L', "
                    "'start': {'H2O': '1 Pa'}, 'walls': [{'material': 'stainless steel', 'area': "
                    "'1 m2'}]}], 'run': {'until': '100 h'}}");
    rfy_sim_options options = {.tolerance = 1e-4};
    rfy_sim *sim = rfy_sim_new(system->network, &options, NULL);
    assert_non_null(sim);
    const double ages[] = {60, 3600, 36000};
    for (int i = 0; i < 20000; i++) {
        const double since = 0.7 + 1e-3 * i * sqrt(2);
        bool only_walls;
        sim->wall_since[0] = sim->time = since;
        for (int k = 0; k < 3; k++) {
            double next = rfy_sim_next_break(sim, &only_walls);
            assert_true(only_walls);
            assert_close(next, since + ages[k], 1e-12, 0, "bend %d of a clock from %.17g s", k,
                         since);
            sim->time = next;
        }
    }
    rfy_sim_free(sim);
    rfy_system_free(system);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bends_come_once),
        cmocka_unit_test(balance_closes),
        cmocka_unit_test(balance_amounts),
        cmocka_unit_test(bursts_add_up),
        cmocka_unit_test(amounts_stay_above_floor),
        cmocka_unit_test(series_is_sound),
        cmocka_unit_test(wall_clock),
        cmocka_unit_test(instants_inside_steps),
        cmocka_unit_test(wall_clock_starts_again),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
