/* The photocell bench again with CVODE (variable-order BDF, dense), between the same switchings,
 * from the same right-hand side and Jacobian: what it checks is the time stepping, not the physics.
 * CVODE keeps its own state all the way. */
#include <stdlib.h>
#include <gsl/gsl_errno.h>
#include "crosscheck/by_cvode.h"
#include "study/system.h"
#include "support/sketch.h"

enum { INSTANTS = 10 };

static void steps_like_cvode(void **state) {
    (void)state;
    char *text = test_read_file("examples/photocell-bulb.json", NULL);
    rfy_system *system = test_system(text);
    free(text);
    const double at[INSTANTS] = {0.5, 5, 20, 45, 90, 170, 400, 2000, 10000, 28800};
    test_replay *r = test_replay_new(system->network, RFY_METHOD_RODAS, 1e-9, at, INSTANTS, NULL);
    assert_null(r->trouble);
    assert_true(r->n_segments > 6);
    double **y = test_replay_room(r);
    assert_true(test_by_cvode(r, &(test_cvode){.rtol = 1e-9}, y, NULL, NULL));
    assert_close(test_replay_error(r, y, r->y, NULL), 0, 0, 1e-6,
                 "worst of all gases, nodes, instants");
    test_replay_free(r);
    rfy_system_free(system);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(steps_like_cvode)};
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
