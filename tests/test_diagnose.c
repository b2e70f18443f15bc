/* Six faults, told by the curve: a slice of the records of `campaign_measured`. */
#include "support/support.h"
#include "support/fault_records.h"

static void each_fault_is_named(void **state) {
    (void)state;
    fault_tally tally = {0};
    fault_records_try(&tally, 0.1, 18, 3);
    fault_tally_write(stdout, &tally);
    assert_true(tally.right >= 16);
}

/* Without noise to speak of the name is right each time. */
static void steady_readings_leave_no_doubt(void **state) {
    (void)state;
    fault_tally tally = {0};
    fault_records_try(&tally, 0.01, 6, 4);
    fault_tally_write(stdout, &tally);
    assert_int_equal(tally.right, 6);
}

static void two_faults_are_named_together(void **state) {
    (void)state;
    assert_true(fault_pair_is_found(0.03, 5));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_fault_is_named),
        cmocka_unit_test(steady_readings_leave_no_doubt),
        cmocka_unit_test(two_faults_are_named_together),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
