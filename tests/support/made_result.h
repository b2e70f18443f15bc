/* A result made by hand, with every part filled in: invented values for the tests of the writers.
 */
#ifndef RFY_TESTS_MADE_RESULT_H
#define RFY_TESTS_MADE_RESULT_H
#include "support/support.h"

enum { CHAMBERS = 7, GASES = 3, TIMES = 120, GAUGES = 2, EVENTS = 11 };

/* One bench, complete: bulb, port, turbo inlet, foreline, vane inlet, a chamber inside a line, a
 * trap. */
typedef struct made_result {
    rfy_result result;
    double time[TIMES], pressure[TIMES * CHAMBERS], partial[TIMES * CHAMBERS * GASES];
    double reading[TIMES * GAUGES], event_pressure[EVENTS][CHAMBERS];
    rfy_event event[EVENTS];
    double at_target[GASES], at_end[GASES], total[CHAMBERS], floor[CHAMBERS],
        level[CHAMBERS * GASES], contribution[4][CHAMBERS];
    rfy_target_result target[2];
    rfy_limit_result limit[3];
    rfy_share share[4];
    rfy_rising rising[1];
    rfy_resistance resistance[4];
    rfy_bottleneck bottleneck[1];
    rfy_balance_row balance[GASES];
} made_result;

/* To be freed with free(). `result` points into the rest; all of it may be changed. */
made_result *test_made_result(void);

typedef rfy_status test_writer(FILE *, const rfy_result *, const rfy_write_options *);
/* What a writer writes, malloc'ed. */
char *test_written(test_writer *write, const rfy_result *r, const rfy_write_options *options);
#endif
