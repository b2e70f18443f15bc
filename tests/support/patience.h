/* Processor time that a solver of somebody else's may take before it is told to stop. */
#ifndef RFY_TESTS_PATIENCE_H
#define RFY_TESTS_PATIENCE_H

/* Set when the time allowed is over; for test_replay_new. */
extern volatile int test_out_of_time;
/* Clears it and starts counting anew; 0 = stop counting. */
void test_allow(int seconds);

#endif
