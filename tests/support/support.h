/* Shared by all tests: cmocka with its prerequisites, and comparisons of doubles that name the
 * check. */
#ifndef RFY_TESTS_SUPPORT_H
#define RFY_TESTS_SUPPORT_H
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include "rarefy/rarefy.h"

/* |found - wanted| <= rel |wanted| + abs; prints both numbers and the sentence on failure. */
#define assert_close(found, wanted, rel, abs, ...)                                                 \
    rfy_assert_close((found), (wanted), (rel), (abs), __FILE__, __LINE__, __VA_ARGS__)
void rfy_assert_close(double found, double wanted, double rel, double abs, const char *file,
                      int line, const char *format, ...) __attribute__((format(printf, 7, 8)));

/* The whole of a file, NUL-terminated, malloc'ed; fails the test when it cannot be read. Paths are
 * relative to the source tree. */
char *test_read_file(const char *path, size_t *length);
/* A description in text form to a system; prints the problems and fails the test when it is not
 * sound. */
rfy_system *test_system(const char *json);
/* Runs it; fails the test unless the status is the expected one. */
rfy_result *test_run(const rfy_system *system, const rfy_run_options *options, rfy_status expected);
/* Total pressure of a chamber at series point i. */
double test_pressure(const rfy_result *result, size_t i, const char *chamber);
/* Numbers of a CSV under data or tests: rows of n columns, '#' lines and one header line skipped.
 */
size_t test_read_csv(const char *path, size_t n_columns, double **rows);
#endif
