/* The steady state, what never reaches one, and where gas and resistance come from. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "support/draw.h"

static rfy_result *ultimate(const rfy_system *system, double after) {
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.ultimate_after = after;
    rfy_result *result = NULL;
    assert_int_equal(rfy_find_ultimate(&result, system, &options), RFY_OK);
    return result;
}

/* ---- Newton against time ---- */

/* Constant sources only: a run long enough ends at the steady state that Newton finds at once. */
static void time_agrees(void **state) {
    (void)state;
    const char *const systems[] = {
        /* molecular, turbo with its backing pump, back-flow of every gas */
        "{'rarefy': 1, 'gases': ['N2', 'H2O', 'H2', 'He'],"
        " 'chambers': [{'name': 'bulb', 'volume': '0.2 L', 'start': {'N2': '1e-3 Pa'}, 'walls': "
        "[{'area': '0.02 m2', 'rate':"
        "  '1e-7 Pa m3/s/m2', 'gas': 'H2O'}]},"
        "  {'name': 'dome', 'volume': '1 L', 'start': {'N2': '1e-3 Pa'}, 'walls': [{'area': '0.1 "
        "m2', 'rate':"
        "  '1e-8 Pa m3/s/m2', 'gas': 'H2'}], 'leaks': [{'rate': '1e-7 mbar L/s'}]},"
        "  {'name': 'fore', 'volume': '0.3 L', 'start': {'N2': '1 Pa'}}],"
        " 'lines': [{'name': 'stem', 'between': ['bulb', 'dome'], 'pieces': ['tube 8 mm x 60 "
        "mm']}],"
        " 'pumps': [{'name': 'turbo', 'kind': 'turbomolecular', 'from': 'dome', 'to': 'fore', "
        "'speed': '40 L/s',"
        "  'compression': {'N2': 1e8, 'H2': 500, 'He': 3000}}, {'name': 'vane', 'kind': 'rotary "
        "vane', 'from': 'fore', 'to':"
        "  'ambient', 'speed': '2 m3/h', 'ultimate': '0.5 Pa'}],",
        /* viscous: a large leak held by a pump behind a hose */
        "{'rarefy': 1, 'gases': ['N2', 'O2', 'Ar', 'H2O'],"
        " 'chambers': [{'name': 'jar', 'volume': '1 L', 'leaks': [{'rate': '0.3 Pa m3/s'}]},"
        "  {'name': 'mouth', 'volume': '0.2 L'}],"
        " 'lines': [{'name': 'hose', 'between': ['jar', 'mouth'], 'pieces': ['tube 12 mm x 1 m', "
        "'tube 8 mm x 0.3 m']}],"
        " 'pumps': [{'name': 'vane', 'kind': 'rotary vane', 'from': 'mouth', 'to': 'ambient', "
        "'speed': '4 m3/h',"
        "  'ultimate': '1 Pa'}],",
        /* a trickle of air through a needle into a pumped line: choked at one end, molecular at the
           other */
        "{'rarefy': 1, 'gases': ['N2', 'O2'],"
        " 'chambers': [{'name': 'a', 'volume': '1 L'}, {'name': 'b', 'volume': '1 L', 'start': "
        "{'N2': '0.1 Pa'}},"
        "  {'name': 'c', 'volume': '1 L', 'start': {'N2': '0.1 Pa'}}],"
        " 'lines': [{'name': '1', 'between': ['ambient', 'a'], 'pieces': ['orifice 1 mm']}, "
        "{'name': '2', 'between': ['a',"
        "  'b'], 'pieces': ['orifice 0.1 mm']}, {'name': '3', 'between': ['b', 'c'], 'pieces': "
        "['tube 20 mm x 0.5 m']}],"
        " 'pumps': [{'name': 'p', 'kind': 'ideal', 'from': 'c', 'to': 'ambient', 'speed': '50 "
        "L/s'}],"
        ""};
    const char *const lengths[] = {"10 h", "10 h", "10 h"};
    for (size_t s = 0; s < 3; s++) {
        for (int early = 0; early < 2; early++) {
            rfy_system *system =
                test_sketch("%s 'run': {'until': '%s'}}", systems[s], early ? "1 s" : lengths[s]);
            rfy_run_options options = RFY_RUN_OPTIONS_INIT;
            options.tolerance = 1e-8;
            rfy_result *steady = ultimate(system, 0),
                       *run = early ? NULL : test_run(system, &options, RFY_OK);
            if (run) {
                const size_t last = run->n_times - 1;
                for (size_t c = 0; c < run->n_chambers; c++)
                    for (size_t g = 0; g < run->n_gases; g++)
                        assert_close(run->partial[(last * run->n_chambers + c) * run->n_gases + g],
                                     steady->ultimate.partial[c * run->n_gases + g], 1e-6, 1e-13,
                                     "system %zu: %s in %s", s, run->gas[g], run->chamber[c]);
                for (size_t c = 0; c < run->n_chambers; c++)
                    assert_close(run->ultimate.total[c], steady->ultimate.total[c], 1e-8, 0,
                                 "run and ultimate");
            }
            /* and the start does not matter: from one second on it is the same state */
            static double kept[64];
            for (size_t c = 0; c < steady->n_chambers; c++) {
                if (early)
                    assert_close(steady->ultimate.total[c], kept[c], 1e-6, 0,
                                 "system %zu from one second: %s", s, steady->chamber[c]);
                kept[c] = steady->ultimate.total[c];
            }
            assert_int_equal(steady->ultimate.n_rising, 0);
            rfy_result_free(run);
            rfy_result_free(steady);
            rfy_system_free(system);
        }
    }
}

/* Random pumped networks: a steady state is found, and its rates vanish (partial pressures stay
 * when run on from it). */
static void random_networks_settle(void **state) {
    (void)state;
    test_dice dice = {5};
    for (int trial = 0; trial < 40; trial++) {
        rfy_system *system = test_random_system(&dice, 2 + test_below(&dice, 7),
                                                test_below(&dice, 4), 1 + test_below(&dice, 6));
        rfy_result *result = ultimate(system, 0);
        if (!result->ultimate.found)
            fail_msg("trial %d: no steady state", trial);
        for (size_t c = 0; c < result->n_chambers; c++)
            assert_true(result->ultimate.total[c] >= 0 && isfinite(result->ultimate.total[c]));
        /* what comes in by all shares is what the pumps throw out: the sum of the shares explains
         * the pressures; checked for molecular systems in shares_explain_the_pressure */
        rfy_result_free(result);
        rfy_system_free(system);
    }
}

/* ---- without end ---- */

static void closed_chamber_rises(void **state) {
    (void)state;
    rfy_system *system =
        test_sketch("{'rarefy': 1, 'gases': ['N2', 'H2O', 'H2'],"
                    " 'chambers': [{'name': 'shut', 'volume': '2 L', 'start': {'N2': '1e-4 Pa'}, "
                    "'walls': [{'area': '0.1 m2', 'rate':"
                    "   '1e-6 Pa m3/s/m2', 'gas': 'H2O'}, {'area': '0.2 m2', 'rate': '1e-8 Pa "
                    "m3/s/m2', 'gas': 'H2'}]},"
                    "  {'name': 'annex', 'volume': '3 L', 'start': {'N2': '1e-4 Pa'}},"
                    "  {'name': 'pumped', 'volume': '1 L', 'start': {'N2': '1e-4 Pa'}, 'walls': "
                    "[{'area': '0.1 m2', 'rate':"
                    "   '1e-6 Pa m3/s/m2', 'gas': 'H2O'}]}],"
                    " 'lines': [{'name': 'joint', 'between': ['shut', 'annex'], 'pieces': ['tube "
                    "16 mm x 0.1 mm']},"
                    "  {'name': 'off', 'between': ['shut', 'pumped'], 'pieces': [{'valve': "
                    "{'name': 'gate', 'bore': '16 mm', 'length':"
                    "   '0.1 mm', 'state': 'closed'}}]}],"
                    " 'pumps': [{'name': 'p', 'kind': 'ideal', 'from': 'pumped', 'to': 'ambient', "
                    "'speed': '10 L/s'}],"
                    " 'run': {'until': '1 h'}}");
    rfy_result *result = ultimate(system, 0);
    assert_true(result->ultimate.found);
    assert_close(test_ultimate(result, "pumped", "H2O"), 1e-7 / 10e-3, 1e-9, 0,
                 "the pumped side settles");
    double volume = 5e-3;
    size_t water = 0, hydrogen = 0;
    for (size_t i = 0; i < result->ultimate.n_rising; i++) {
        const rfy_rising *r = &result->ultimate.rising[i];
        const char *chamber = result->chamber[r->chamber], *gas = result->gas[r->gas];
        assert_true(strcmp(chamber, "shut") == 0 || strcmp(chamber, "annex") == 0);
        if (strcmp(gas, "H2O") == 0) {
            water++;
            assert_close(r->rate, 1e-7 / volume, 1e-4, 0, "rise of water in %s", chamber);
        } else {
            assert_string_equal(gas, "H2");
            hydrogen++;
            assert_close(r->rate, 2e-9 / volume, 1e-4, 0, "rise of hydrogen in %s", chamber);
        }
    }
    assert_int_equal(water, 2);
    assert_int_equal(hydrogen, 2);
    rfy_result_free(result);
    rfy_system_free(system);
}

/* Walls at a stated time: rate q1 (1 h/t), pump S: p = q A/S, and the floor without walls is what
 * leaks in. */
static void walls_at_a_stated_time(void **state) {
    (void)state;
    rfy_system *system =
        test_sketch("{'rarefy': 1, 'gases': ['N2', 'H2O'], 'ambient': {'relative_humidity': 0},"
                    " 'chambers': [{'name': 'box', 'volume': '1 L', 'start': {'N2': '0 Pa'}, "
                    "'walls': [{'area': '1 m2', 'rate':"
                    "   '1e-6 Pa m3/s/m2', 'exponent': 1, 'gas': 'H2O'}], 'leaks': [{'rate': '1e-9 "
                    "Pa m3/s'}]}],"
                    " 'pumps': [{'name': 'p', 'kind': 'ideal', 'from': 'box', 'to': 'ambient', "
                    "'speed': '10 L/s'}],"
                    " 'run': {'until': '2 h'}}");
    const double after[] = {0, 3600, 7200, 36000, 3.6e6};
    for (size_t i = 0; i < 5; i++) {
        rfy_result *result = ultimate(system, after[i]);
        double t = after[i] > 0 ? after[i] : 7200; /* 0: the end of the run */
        assert_close(result->ultimate.after, t, 1e-12, 0, "clock");
        assert_close(test_ultimate(result, "box", "H2O"), 1e-6 * 3600 / t / 10e-3, 1e-9, 0,
                     "water at %g s", t);
        assert_close(result->ultimate.floor[0], 1e-9 / 10e-3, 1e-5, 0, "floor");
        rfy_result_free(result);
    }
    rfy_system_free(system);
}

/* ---- shares ---- */

/* In molecular flow every source adds its own pressure: the shares add up to the whole. */
static void shares_explain_the_pressure(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'H2O', 'H2', 'He'], 'ambient': {'temperature': '20 degC'},"
        " 'chambers': [{'name': 'bulb', 'volume': '0.2 L', 'start': {'N2': '1e-5 Pa'}, 'walls': ["
        "   {'name': 'glass', 'area': '0.02 m2', 'rate': '1e-8 Pa m3/s/m2', 'gas': 'H2O'},"
        "   {'name': 'metal', 'area': '0.01 m2', 'rate': '3e-8 Pa m3/s/m2', 'gas': 'H2O'}]},"
        "  {'name': 'dome', 'volume': '1 L', 'start': {'N2': '1e-5 Pa'}, 'walls': [{'name': "
        "'steel', 'area': '0.1 m2', 'rate':"
        "   '1e-9 Pa m3/s/m2', 'gas': 'H2'}], 'leaks': [{'name': 'crack', 'rate': '1e-10 Pa "
        "m3/s'}]}],"
        " 'lines': [{'name': 'stem', 'between': ['bulb', 'dome'], 'pieces': ['tube 6 mm x 60 "
        "mm']}],"
        " 'pumps': [{'name': 'p', 'kind': 'rotary vane', 'from': 'dome', 'to': 'ambient', 'speed': "
        "'10 L/s',"
        "   'ultimate': '1e-8 Pa', 'ultimate_gas': 'He'}], 'run': {'until': '1 h'}}");
    rfy_result *result = ultimate(system, 0);
    const rfy_ultimate *u = &result->ultimate;
    const struct {
        const char *source;
        double throughput;
    } expected[] = {{"metal", 3e-10}, {"glass", 2e-10}, {"steel", 1e-10}, {"p (", 1e-10}};
    for (size_t k = 0; k < 4; k++) {
        bool found = false;
        for (size_t i = 0; i < u->n_shares; i++)
            if (strncmp(u->share[i].source, expected[k].source, strlen(expected[k].source)) == 0 &&
                u->share[i].throughput > 1e-12) {
                found = true;
                assert_close(u->share[i].throughput, expected[k].throughput, 1e-6, 0,
                             "throughput of %s", expected[k].source);
            }
        if (!found)
            fail_msg("no share of %s", expected[k].source);
    }
    for (size_t i = 1; i < u->n_shares; i++)
        assert_true(u->share[i].throughput <= u->share[i - 1].throughput);
    for (size_t c = 0; c < result->n_chambers; c++) {
        double sum = 0;
        for (size_t i = 0; i < u->n_shares; i++)
            sum += u->share[i].pressure[c];
        assert_close(sum, u->total[c], 1e-2, 0, "shares of %s", result->chamber[c]);
        assert_close(sum, u->total[c], 1e-4, 0, "closer: %s", result->chamber[c]);
    }
    rfy_result_free(result);
    rfy_system_free(system);
}

/* ---- bottleneck ---- */

/* Parts that resist add up to the whole, in every regime and with branches; a directed pump counts
 * too. */
static void resistances_add_up(void **state) {
    (void)state;
    const char *const systems[] = {
        "{'rarefy': 1, 'gases': ['N2', 'H2O'], 'chambers': [{'name': 'a', 'volume': '10 L'}, "
        "{'name': 'b', 'volume': '1 L'}],"
        " 'junctions': ['j'], 'lines': [{'name': '1', 'between': ['a', 'j'], 'pieces': ['tube 16 "
        "mm x 1 m']},"
        "  {'name': '2', 'between': ['j', 'b'], 'pieces': ['tube 16 mm x 1 m', 'tube 10 mm x 0.3 "
        "m']},"
        "  {'name': '3', 'between': ['j', 'b'], 'pieces': ['tube 8 mm x 0.2 m']}],"
        " 'pumps': [{'name': 'vane', 'kind': 'rotary vane', 'from': 'b', 'to': 'ambient', 'speed': "
        "'3 m3/h',"
        "  'ultimate': '0.01 Pa'}],"
        " 'targets': [{'name': 'r', 'chamber': 'a', 'pressure': '3e4 Pa'}, {'name': 's', "
        "'chamber': 'a', 'pressure': '1 kPa'},"
        "  {'name': 't', 'chamber': 'a', 'pressure': '10 Pa'}, {'name': 'u', 'chamber': 'a', "
        "'pressure': '0.05 Pa'}],"
        " 'run': {'until': '1 h'}}",
        "{'rarefy': 1, 'gases': ['N2', 'H2'], 'chambers': [{'name': 'a', 'volume': '1 L', 'start': "
        "{'H2': '1e-3 Pa'}},"
        "  {'name': 'dome', 'volume': '1 L', 'start': {'H2': '1e-3 Pa'}}, {'name': 'fore', "
        "'volume': '0.2 L', 'start': {'H2':"
        "  '0.1 Pa'}}], 'lines': [{'name': 'l', 'between': ['a', 'dome'], 'pieces': ['tube 10 mm x "
        "0.1 m']}],"
        " 'pumps': [{'name': 'turbo', 'kind': 'turbomolecular', 'from': 'dome', 'to': 'fore', "
        "'speed': '10 L/s',"
        "  'compression': {'H2': 20}}, {'name': 'back', 'kind': 'ideal', 'from': 'fore', 'to': "
        "'ambient', 'speed':"
        "  '0.3 L/s'}], 'targets': [{'name': 'r', 'chamber': 'a', 'pressure': '5e-4 Pa'}, {'name': "
        "'s', 'chamber': 'dome',"
        "  'pressure': '2e-4 Pa'}], 'run': {'until': '1 h'}}"};
    for (size_t s = 0; s < 2; s++) {
        rfy_system *system = test_sketch("%s", systems[s]);
        rfy_result *result = test_run(system, NULL, RFY_OK);
        assert_int_equal(result->n_bottlenecks, result->n_targets);
        for (size_t i = 0; i < result->n_bottlenecks; i++) {
            const rfy_bottleneck *b = &result->bottleneck[i];
            assert_true(result->target[i].reached);
            double sum = 0;
            for (size_t k = 0; k < b->n; k++) {
                sum += b->resistance[k].share;
                assert_true(k == 0 || b->resistance[k].share <= b->resistance[k - 1].share);
            }
            assert_true(b->n >= 2 && b->speed > 0);
            assert_close(sum, 1, 1e-4, 0, "system %zu, %s", s, b->target);
        }
        rfy_result_free(result);
        rfy_system_free(system);
    }
}

/* Hydrogen through the pair: closed form S = S0/(1 - 1/K0 + S0/(K0 S_b)), and raising S0 by a hair
 * raises S by the turbo's share: share = d ln S/d ln S0, here in closed form as well. (Conductance
 * at the mouth: none, open chamber.) */
static void shares_are_derivatives(void **state) {
    (void)state;
    rfy_system *system =
        test_sketch("{'rarefy': 1, 'gases': ['N2', 'H2'], 'chambers': [{'name': 'dome', 'volume': "
                    "'1 L', 'start': {'H2': '1e-6 Pa'}},"
                    "  {'name': 'fore', 'volume': '0.2 L', 'start': {'H2': '1e-5 Pa'}}],"
                    " 'pumps': [{'name': 'turbo', 'kind': 'turbomolecular', 'from': 'dome', 'to': "
                    "'fore', 'speed': '10 L/s',"
                    "  'compression': {'H2': 20}}, {'name': 'back', 'kind': 'ideal', 'from': "
                    "'fore', 'to': 'ambient', 'speed':"
                    "  '0.3 L/s'}], 'targets': [{'name': 'r', 'chamber': 'dome', 'pressure': '1e-9 "
                    "Pa'}], 'run': {'until': '1 h'}}");
    rfy_result *result = test_run(system, NULL, RFY_OK);
    double s0 = 10e-3, k0 = 20, sb = 0.3e-3, s = s0 / (1 - 1 / k0 + s0 / (k0 * sb));
    const rfy_bottleneck *b = &result->bottleneck[0];
    assert_close(b->speed, s, 1e-4, 0, "speed of the pair");
    for (size_t k = 0; k < b->n; k++) {
        bool turbo = strcmp(b->resistance[k].part, "turbo") == 0;
        assert_close(b->resistance[k].share, turbo ? s * (1 - 1 / k0) / s0 : s / (k0 * sb), 1e-4, 0,
                     "share of %s", b->resistance[k].part);
    }
    rfy_result_free(result);
    rfy_system_free(system);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(time_agrees),
        cmocka_unit_test(random_networks_settle),
        cmocka_unit_test(closed_chamber_rises),
        cmocka_unit_test(walls_at_a_stated_time),
        cmocka_unit_test(shares_explain_the_pressure),
        cmocka_unit_test(resistances_add_up),
        cmocka_unit_test(shares_are_derivatives),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
