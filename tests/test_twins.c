/* Two gases that are the same gas: whatever the split, their sum is the single gas. A naive law of
 * a mixture (each gas by its own pressure, or viscous flow shared by the mean of the ends) fails
 * this by tens of per cent in transition flow. A description cannot name a gas twice, so a system
 * of two gases gets the mixture of nitrogen and nitrogen after it is read; nothing in it may then
 * depend on the second one's name (no leaks, no seals, no traps; pumps say their values for both).
 */
#include <math.h>
#include <stdlib.h>
#include "study/system.h"
#include "support/draw.h"

static const char *const single_bench =
    "{'rarefy': 1, 'gases': ['N2'],"
    " 'chambers': [{'name': 'bulb', 'volume': '2 L', 'start': {'N2': '1e5 Pa'},"
    "               'walls': [{'area': '0.3 m2', 'rate': '2e-5 Pa m3/s/m2', 'exponent': 1, 'gas': "
    "'N2'}]},"
    "              {'name': 'side', 'volume': '0.5 L', 'start': {'N2': '40 Pa'}},"
    "              {'name': 'dome', 'volume': '1 L', 'start': {'N2': '3e4 Pa'}},"
    "              {'name': 'foreline', 'volume': '0.3 L', 'start': {'N2': '3e4 Pa'}}],"
    " 'lines': [%s],"
    " 'pumps': [{'name': 'turbo', 'kind': 'turbomolecular', 'from': 'dome', 'to': 'foreline',"
    "            'speed': {'N2': '60 L/s'}, 'compression': {'N2': 1e6}},"
    "           {'name': 'vane', 'kind': 'rotary vane', 'from': 'foreline', 'to': 'ambient',"
    "            'speed': '3 m3/h', 'ultimate': '0.3 Pa', 'ultimate_gas': 'N2'}],"
    " 'targets': [{'name': 'low', 'chamber': 'bulb', 'pressure': '0.01 Pa'}],"
    " 'ready_limits': false, 'run': {'until': '2 h'}}";

static const char *const twin_bench =
    "{'rarefy': 1, 'gases': ['N2', 'He'],"
    " 'chambers': [{'name': 'bulb', 'volume': '2 L', 'start': {'N2': '3e4 Pa', 'He': '7e4 Pa'},"
    "               'walls': [{'area': '0.1 m2', 'rate': '2e-5 Pa m3/s/m2', 'exponent': 1, 'gas': "
    "'N2'},"
    "                         {'area': '0.2 m2', 'rate': '2e-5 Pa m3/s/m2', 'exponent': 1, 'gas': "
    "'He'}]},"
    "              {'name': 'side', 'volume': '0.5 L', 'start': {'He': '40 Pa'}},"
    "              {'name': 'dome', 'volume': '1 L', 'start': {'N2': '3e4 Pa'}},"
    "              {'name': 'foreline', 'volume': '0.3 L', 'start': {'N2': '1e4 Pa', 'He': '2e4 "
    "Pa'}}],"
    " 'lines': [%s],"
    " 'pumps': [{'name': 'turbo', 'kind': 'turbomolecular', 'from': 'dome', 'to': 'foreline',"
    "            'speed': {'N2': '60 L/s', 'He': '60 L/s'}, 'compression': {'N2': 1e6, 'He': 1e6}},"
    "           {'name': 'vane', 'kind': 'rotary vane', 'from': 'foreline', 'to': 'ambient',"
    "            'speed': '3 m3/h', 'ultimate': '0.3 Pa', 'ultimate_gas': 'N2'}],"
    " 'targets': [{'name': 'low', 'chamber': 'bulb', 'pressure': '0.01 Pa'}],"
    " 'ready_limits': false, 'run': {'until': '2 h'}}";

static const char *const lines =
    "{'name': 'stem', 'between': ['bulb', 'dome'], 'pieces': ['tube 10 mm x 60 mm', 'elbow 10 mm "
    "90 deg', 'tube 25 mm x 0.2 m']},"
    "{'name': 'branch', 'between': ['bulb', 'side'], 'pieces': ['orifice 0.5 mm', 'tube 4 mm x 0.1 "
    "m']}";

static rfy_system *single(void) {
    return test_sketch(single_bench, lines);
}

static rfy_system *twins(void) {
    rfy_system *system = test_sketch(twin_bench, lines);
    int n2 = rfy_species_find(system->catalog, "N2"), both[2] = {n2, n2};
    assert_true(n2 >= 0);
    rfy_mixture *mixture = (rfy_mixture *)&system->network->mixture;
    assert_int_equal(mixture->n, 2);
    rfy_mixture_init(mixture, system->catalog, both, 2, system->network->ambient_temperature);
    return system;
}

static void rates_add_up(void **state) {
    (void)state;
    rfy_system *one = single(), *two = twins();
    const rfy_network *a = one->network, *b = two->network;
    assert_int_equal(a->n_nodes, b->n_nodes);
    assert_int_equal(a->n_free, b->n_free);
    rfy_arena *arena = rfy_arena_new();
    rfy_controls *ca = rfy_controls_new(arena, a), *cb = rfy_controls_new(arena, b);
    const size_t na = (size_t)rfy_network_states(a), nb = (size_t)rfy_network_states(b);
    double *ya = RFY_NEW(arena, na, double), *yb = RFY_NEW(arena, nb, double);
    double *ra = RFY_NEW(arena, na, double), *rb = RFY_NEW(arena, nb, double);
    double *pa = RFY_NEW(arena, nb, double), *pb = RFY_NEW(arena, nb, double);
    test_dice dice = {9};
    for (int trial = 0; trial < 5000; trial++) {
        rfy_start_state(a, ya);
        rfy_start_state(b, yb);
        double level = test_decades(&dice, 1e-9, 1), most = 0;
        for (int k = 0; k < a->n_free; k++) {
            double share = trial % 3 ? test_even(&dice) : test_below(&dice, 2);
            ya[k] *= level * test_decades(&dice, 1e-2, 1);
            yb[2 * k] = ya[k] * share;
            yb[2 * k + 1] = ya[k] - yb[2 * k];
        }
        rfy_rates(a, ca, ya, ra, pa);
        rfy_rates(b, cb, yb, rb, pb);
        for (int k = 0; k < a->n_free; k++)
            most = fmax(most, fabs(ra[k]));
        for (int k = 0; k < a->n_free; k++)
            assert_close(rb[2 * k] + rb[2 * k + 1], ra[k], 0, 1e-10 * most, "trial %d: %s", trial,
                         a->node[k].name);
    }
    rfy_arena_free(arena);
    rfy_system_free(one);
    rfy_system_free(two);
}

static void runs_add_up(void **state) {
    (void)state;
    const double at[] = {0.5, 5, 20, 60, 200, 1000, 7200};
    enum { N = sizeof at / sizeof *at };
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.tolerance = 1e-9;
    options.at = at;
    options.n_at = N;
    rfy_system *systems[2] = {single(), twins()};
    rfy_result *a = test_run(systems[0], &options, RFY_OK),
               *b = test_run(systems[1], &options, RFY_OK);
    assert_int_equal(a->n_chambers, b->n_chambers);
    assert_int_equal(b->n_gases, 2);
    for (size_t i = 0; i < N; i++)
        for (size_t c = 0; c < a->n_chambers; c++) {
            const double *part = b->partial + (i * b->n_chambers + c) * 2;
            assert_close(part[0] + part[1], a->partial[i * a->n_chambers + c], 1e-7, 1e-13,
                         "%s after %g s", a->chamber[c], at[i]);
        }
    assert_true(a->target[0].reached && b->target[0].reached);
    assert_close(b->target[0].time, a->target[0].time, 1e-7, 0, "the target");
    assert_true(a->ultimate.found && b->ultimate.found);
    for (size_t c = 0; c < a->n_chambers; c++)
        assert_close(b->ultimate.total[c], a->ultimate.total[c], 1e-7, 0, "%s levels",
                     a->chamber[c]);
    const rfy_balance_row *one = a->balance, *two = b->balance;
    assert_close(two[0].pumped + two[1].pumped, one->pumped, 1e-8, 0, "pumped");
    /* what is only counted does not steer the steps, and those of the two runs differ */
    assert_close(two[0].from_walls + two[1].from_walls, one->from_walls, 5e-6, 0, "from walls");
    assert_close(two[0].left + two[1].left, one->left, 1e-7, 0, "left");
    for (int k = 0; k < 2; k++) /* both take part: not one gas and a trace */
        assert_true(two[k].pumped > 0.2 * one->pumped);
    rfy_result_free(a);
    rfy_result_free(b);
    rfy_system_free(systems[0]);
    rfy_system_free(systems[1]);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(rates_add_up),
                                       cmocka_unit_test(runs_add_up)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
