/* A bench whose walls remember, baked and gettered, again with CVODE (variable-order BDF) between
 * the same bends of temperature, from the same right-hand side and Jacobian: what it checks is the
 * time stepping and the elimination of inner states, not the physics. */
#include <gsl/gsl_errno.h>
#include "crosscheck/by_cvode.h"
#include "study/system.h"
#include "support/sketch.h"

enum { INSTANTS = 8 };

static void holds_gas_like_cvode(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'H2O', 'H2'], 'chambers': [{'name': 'can', 'volume': '3 L', "
        "'start': {'N2': '10 Pa', 'H2O': '5 Pa'}, 'walls': [{'material': 'stainless steel', "
        "'condition': 'cleaned', 'area': '0.2 m2', 'model': 'adsorbed water', 'sticking': 0.02}, "
        "{'material': 'stainless steel', 'area': '0.2 m2', 'gas': 'H2', 'model': 'diffusion', "
        "'thickness': '1 mm'}], 'getters': [{'getter': 'non-evaporable strip', 'area': '5 cm2', "
        "'active_from': '6 h'}]}, {'name': 'mouth', 'volume': '0.2 L'}],"
        " 'lines': [{'name': 'neck', 'between': ['can', 'mouth'], 'pieces': ['tube 16 mm x 0.2 "
        "m']}],"
        " 'pumps': [{'name': 'p', 'kind': 'ideal', 'from': 'mouth', 'to': 'ambient', 'speed': '15 "
        "L/s'}], 'bakes': [{'chambers': ['can'], 'from': '1 h', 'temperature': '120 degC', 'ramp': "
        "'2 K/min', 'soak': '2 h', 'cool': '1 K/min'}], 'run': {'until': '8 h'}}");
    const double at[INSTANTS] = {10, 600, 3600, 5000, 9000, 15000, 21600, 28800};
    test_replay *r = test_replay_new(system->network, RFY_METHOD_RODAS, 1e-8, at, INSTANTS, NULL);
    assert_null(r->trouble);
    assert_true(r->n > r->n_free);
    assert_int_equal(r->n_segments, 6); /* four bends of the bake, the getter wakes */
    double **y = test_replay_room(r);
#ifdef RAREFY_CVODE_KLU
    const int matrices = 2;
#else
    const int matrices = 1;
#endif
    for (int sparse = 0; sparse < matrices; sparse++) {
        const test_cvode options = {.rtol = 1e-9, .nonlinear = 0.01, .klu = sparse == 1};
        assert_true(test_by_cvode(r, &options, y, NULL, NULL));
        double gas = test_replay_error(r, y, r->y, NULL), held = test_replay_held_error(r, y, 1e3);
        print_message("%s: gas within %.1e, what is held within %.1e of CVODE's\n",
                      sparse ? "sparse" : "dense", gas, held);
        assert_true(gas < 2e-6);
        assert_true(held < 2e-5);
    }
    assert_close(test_replay_residue(r), 0, 0, 1e-10, "gas that came or went");
    test_replay_free(r);
    rfy_system_free(system);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(holds_gas_like_cvode)};
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
