/* Small systems written in place: JSON with ' for ", and the answers picked out by name. */
#ifndef RFY_TESTS_SKETCH_H
#define RFY_TESTS_SKETCH_H

#include "support/support.h"

/* A description from a format with ' in place of "; fails the test when it is not sound. */
rfy_system *test_sketch(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* The problems of a sketch that must be refused, for reading; free with rfy_problems_free. Fails
 * the test when it is accepted. */
rfy_problems *test_refused(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* Where a chamber, gas, target, event stand in a result; each fails the test when there is none. */
size_t test_chamber(const rfy_result *result, const char *name);
size_t test_gas(const rfy_result *result, const char *name);
const rfy_target_result *test_target(const rfy_result *result, const char *name);
const rfy_limit_result *test_limit(const rfy_result *result, const char *name);
/* The first event that is exactly `what`. */
const rfy_event *test_event(const rfy_result *result, const char *what);

/* Partial pressure at series point i, and at the ultimate state, Pa. */
double test_partial(const rfy_result *result, size_t i, const char *chamber, const char *gas);
double test_ultimate(const rfy_result *result, const char *chamber, const char *gas);

#endif
