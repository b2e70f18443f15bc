/* Small text services: nearest name, number formatting, UTF-8. No locale dependence anywhere. */
#ifndef RFY_CORE_TEXT_H
#define RFY_CORE_TEXT_H

#include <stdbool.h>
#include <stddef.h>

/* Index of the name nearest to `text` (Damerau-Levenshtein, case folded, at most about a third of
 * the length in edits), else of the only one that has the whole of it inside, or -1 when none is
 * near enough to be worth suggesting. */
int rfy_nearest(const char *text, const char *const *names, size_t n);

/* strtod in the "C" locale whatever the process locale is; accepts only plain decimal numbers with
 * optional exponent (no hex, no inf, no nan). Returns the number of bytes used, 0 if none. */
size_t rfy_read_number(const char *text, double *value);

/* Shortest decimal text that reads back to exactly the same double, into buffer (>= 32 bytes). NaN
 * and infinities are written "null" (the caller warns). Returns buffer. */
char *rfy_write_number(char *buffer, double value);
/* Rounded for people to `digits` significant digits: 0.00123, 12.3, 4.56e-7. Returns buffer (>=
 * 32). */
char *rfy_format_number(char *buffer, double value, int digits);

/* True when the bytes are well-formed UTF-8 (no surrogates, no overlong forms). On failure *bad is
 * the offset of the first offending byte. */
bool rfy_utf8_valid(const char *text, size_t length, size_t *bad);
/* Number of code points in the first `bytes` bytes. */
size_t rfy_utf8_count(const char *text, size_t bytes);

#endif
