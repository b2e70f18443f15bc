#include "core/text.h"
#include <assert.h>
#include <float.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "core/decimal.h"

/* ---- nearest name ---- */

#define MAX_WORD 96 /* longer texts are not names anybody mistyped */

static unsigned char fold(char c) {
    return (unsigned char)(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
}

static bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

/* Damerau-Levenshtein distance with free transpositions (Lowrance and Wagner, J. ACM 22 (1975)
 * 177). */
static int distance(const char *a, int n, const char *b, int m, bool folded) {
    static_assert(MAX_WORD < 256, "lengths fit the work array");
    unsigned char d[MAX_WORD + 2][MAX_WORD + 2];
    unsigned char last_row[256] = {0};
    const int far = n + m;
    d[0][0] = (unsigned char)far;
    for (int i = 0; i <= n; i++)
        d[i + 1][0] = (unsigned char)far, d[i + 1][1] = (unsigned char)i;
    for (int j = 0; j <= m; j++)
        d[0][j + 1] = (unsigned char)far, d[1][j + 1] = (unsigned char)j;
    for (int i = 1; i <= n; i++) {
        unsigned char ca = folded ? fold(a[i - 1]) : (unsigned char)a[i - 1];
        int last_column = 0;
        for (int j = 1; j <= m; j++) {
            unsigned char cb = folded ? fold(b[j - 1]) : (unsigned char)b[j - 1];
            int row = last_row[cb], column = last_column;
            int best = d[i][j] + (ca != cb);
            if (d[i + 1][j] + 1 < best)
                best = d[i + 1][j] + 1;
            if (d[i][j + 1] + 1 < best)
                best = d[i][j + 1] + 1;
            int swap = d[row][column] + (i - row - 1) + 1 + (j - column - 1);
            if (swap < best)
                best = swap;
            if (ca == cb)
                last_column = j;
            d[i + 1][j + 1] = (unsigned char)best;
        }
        last_row[ca] = (unsigned char)i;
    }
    return d[n + 1][m + 1];
}

static bool contains(const char *name, const char *word) {
    for (; *name != '\0'; name++) {
        size_t i = 0;
        while (word[i] != '\0' && fold(name[i]) == fold(word[i]))
            i++;
        if (word[i] == '\0')
            return true;
    }
    return false;
}

/* The only name that has the whole word in it: "turbo" for "turbomolecular". -1 when there is none,
 * or several. */
static int only_one_with(const char *word, const char *const *names, size_t n) {
    int found = -1;
    for (size_t k = 0; k < n && strlen(word) >= 3; k++) {
        if (!contains(names[k], word) || (found >= 0 && strcmp(names[found], names[k]) == 0))
            continue;
        if (found >= 0)
            return -1;
        found = (int)k;
    }
    return found;
}

int rfy_nearest(const char *text, const char *const *names, size_t n) {
    size_t length = strlen(text);
    if (length == 0 || length > MAX_WORD)
        return -1;
    int best = -1;
    int best_rank[4] = {0};
    for (size_t k = 0; k < n; k++) {
        size_t other = strlen(names[k]);
        size_t longer = other > length ? other : length;
        int difference = (int)(longer - (other < length ? other : length));
        int limit = longer < 2 ? 0 : longer < 6 ? 1 : (int)longer / 3;
        if (other == 0 || other > MAX_WORD || difference > limit)
            continue;
        int edits = distance(text, (int)length, names[k], (int)other, true);
        if (edits > limit)
            continue;
        /* Among equally near names: the same capitals, the same length, the same beginning. */
        int common = 0;
        while (common < (int)length && common < (int)other &&
               fold(text[common]) == fold(names[k][common]))
            common++;
        int rank[4] = {edits, distance(text, (int)length, names[k], (int)other, false), difference,
                       -common};
        bool better = best < 0;
        for (int i = 0; i < 4 && !better; i++) {
            if (rank[i] > best_rank[i])
                break;
            better = rank[i] < best_rank[i];
        }
        if (better) {
            best = (int)k;
            memcpy(best_rank, rank, sizeof rank);
        }
    }
    return best >= 0 ? best : only_one_with(text, names, n);
}

/* ---- numbers ---- */

/* Short numbers are a whole number below 2^53 times or over a power of ten up to 22: both are exact
 * doubles, so the one multiplication or division rounds as it should (Clinger 1990, "How to read
 * floating point numbers accurately", Proc. PLDI). */
static bool read_short(const char *digit, size_t n, long scale, double *value) {
    static const double power[23] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                     1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                     1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
    uint64_t whole = 0;
    if (FLT_EVAL_METHOD != 0 || n > 18 || scale < -22 || scale > 22)
        return false;
    for (size_t i = 0; i < n; i++)
        whole = 10 * whole + (uint64_t)(digit[i] - '0');
    if (whole > (uint64_t)1 << 53)
        return false;
    *value = scale < 0 ? (double)whole / power[-scale] : (double)whole * power[scale];
    return true;
}

/* The digits go to strtod as an integer with an exponent ("12.5e3" as "125e2"), so no radix
 * character of the process locale is ever involved. 780 digits decide every double; a '1' stands
 * for the rest. */
#define MAX_DIGITS 780

size_t rfy_read_number(const char *text, double *value) {
    char work[MAX_DIGITS + 32];
    size_t n = 0, at = 0;
    long scale = 0;
    bool any = false, beyond = false;
    bool negative = text[0] == '-';
    at += negative || text[0] == '+';
    for (bool fraction = false;; at++) {
        if (text[at] == '.' && !fraction && is_digit(text[at + 1])) {
            fraction = true;
            continue;
        }
        if (!is_digit(text[at]))
            break;
        any = true;
        if (n == 0 && text[at] == '0') {
            scale -= fraction;
        } else if (n < MAX_DIGITS) {
            work[n++] = text[at];
            scale -= fraction;
        } else {
            beyond = beyond || text[at] != '0';
            scale += !fraction;
        }
    }
    if (!any)
        return 0;
    if (text[at] == 'e' || text[at] == 'E') {
        size_t e = at + 1;
        bool down = text[e] == '-';
        e += down || text[e] == '+';
        if (is_digit(text[e])) {
            long exponent = 0;
            for (; is_digit(text[e]); e++)
                if (exponent < 100000000)
                    exponent = 10 * exponent + (text[e] - '0');
            scale += down ? -exponent : exponent;
            at = e;
        }
    }
    if (n == 0) {
        *value = negative ? -0.0 : 0.0;
        return at;
    }
    if (beyond) {
        work[n++] = '1';
        scale--;
    }
    double found;
    if (!read_short(work, n, scale, &found)) {
        snprintf(work + n, sizeof work - n, "e%ld", scale);
        found = strtod(work, NULL);
    }
    *value = negative ? -found : found;
    return at;
}

/* With fewer digits. */
static rfy_decimal rounded(rfy_decimal d, int digits) {
    if (d.n <= digits)
        return d;
    bool up = d.digit[digits] >= '5';
    d.n = digits;
    while (up && d.n > 0 && d.digit[d.n - 1] == '9')
        d.n--;
    if (up && d.n == 0) {
        d.digit[0] = '1';
        d.n = 1;
        d.exponent++;
    } else if (up) {
        d.digit[d.n - 1]++;
    }
    while (d.n > 1 && d.digit[d.n - 1] == '0')
        d.n--;
    return d;
}

/* Plain when low <= exponent < high. */
static char *lay_out(char *buffer, const rfy_decimal *d, int low, int high) {
    const int exponent = d->exponent;
    char *to = buffer;
    if (d->negative)
        *to++ = '-';
    if (exponent < low || exponent >= high) {
        *to++ = d->digit[0];
        if (d->n > 1)
            *to++ = '.';
        for (int i = 1; i < d->n; i++)
            *to++ = d->digit[i];
        const unsigned size = (unsigned)abs(exponent) % 1000;
        *to++ = 'e';
        *to++ = exponent < 0 ? '-' : '+';
        if (size >= 100)
            *to++ = (char)('0' + size / 100);
        *to++ = (char)('0' + size / 10 % 10);
        *to++ = (char)('0' + size % 10);
        *to = '\0';
        return buffer;
    }
    const size_t n = (size_t)d->n;
    if (exponent < 0) { /* 0.00ddd */
        const size_t zeros = (size_t)-exponent - 1;
        memcpy(to, "0.0000000000000000", 2 + zeros);
        memcpy(to + 2 + zeros, d->digit, n);
        to += 2 + zeros + n;
    } else if (exponent + 1 < d->n) { /* dd.d */
        const size_t whole = (size_t)exponent + 1;
        memcpy(to, d->digit, whole);
        to[whole] = '.';
        memcpy(to + whole + 1, d->digit + whole, n - whole);
        to += n + 1;
    } else { /* ddd00 */
        memcpy(to, d->digit, n);
        memset(to + n, '0', (size_t)exponent + 1 - n);
        to += exponent + 1;
    }
    *to = '\0';
    return buffer;
}

/* Whether the 17 digits of a normal number lie so far from 15 that these cannot give it back: half
 * a unit in its last place is at most 11.1 of the 17th digit. */
static bool needs_more_than_15(const rfy_decimal *d) {
    if (d->n < 16)
        return false;
    int last = 10 * (d->digit[15] - '0') + (d->n > 16 ? d->digit[16] - '0' : 0);
    return last >= 12 && last <= 88;
}

/* Fewer digits give a number back when they miss it by less than half a unit in its last place.
 * Decided from its 17 digits and what is left over; false where only reading them back can tell. */
static bool quick_shortest(double value, rfy_decimal *out) {
    const double size = fabs(value);
    uint64_t n;
    double rest;
    int exponent, two;
    if (!rfy_decimal_quick(size, 17, &n, &rest, &exponent) || !(frexp(size, &two) > 0.5))
        return false; /* below a power of two the units are half as large */
    const double half = (double)n * (0.5 * DBL_EPSILON * ldexp(1, two - 1) / size);
    static const uint64_t unit[3] = {100, 10, 1};
    for (int i = 0; i < 3; i++) {
        const uint64_t last = n % unit[i], fewer = n / unit[i] + (2 * last >= unit[i] && i < 2);
        const double missed = fabs((double)(int64_t)(fewer * unit[i] - n) - rest);
        if ((i < 2 && 2 * last == unit[i]) || fabs(missed - half) < 1e-6)
            return false;
        if (missed > half)
            continue;
        const int digits = 15 + i;
        const bool carried = fewer == (i == 0 ? 1000000000000000 : 10000000000000000) && i < 2;
        *out = carried ? rfy_decimal_from(value < 0, 1, 1, exponent + 1)
                       : rfy_decimal_from(value < 0, fewer, digits, exponent);
        return true;
    }
    return false;
}

char *rfy_write_number(char *buffer, double value) {
    if (!isfinite(value)) {
        memcpy(buffer, "null", 5);
        return buffer;
    }
    /* 15 digits always survive decimal -> double -> decimal, so if they give the value back, their
     * trailing zeros can go; only subnormal numbers need fewer still. 17 always give it back. */
    if (!(fabs(value) > 0))
        return memcpy(buffer, "0", 2);
    rfy_decimal shortest;
    if (quick_shortest(value, &shortest))
        return lay_out(buffer, &shortest, -5, 17);
    const double size = fabs(value);
    const bool tiny = size > 0 && size < 2.3e-308;
    const rfy_decimal all = rfy_decimal_of(value, 17);
    for (int digits = tiny ? 1 : needs_more_than_15(&all) ? 16 : 15; digits < 17; digits++) {
        /* a last 5 may have been rounded itself: it does not say which way to go */
        const bool unsure = tiny || (all.n == digits + 1 && all.digit[digits] == '5');
        const rfy_decimal fewer = unsure ? rfy_decimal_of(value, digits) : rounded(all, digits);
        double back = 0;
        rfy_read_number(lay_out(buffer, &fewer, -5, 17), &back);
        if (back >= value && back <= value)
            return buffer;
    }
    return lay_out(buffer, &all, -5, 17);
}

char *rfy_format_number(char *buffer, double value, int digits) {
    if (!isfinite(value)) {
        memcpy(buffer, "null", 5);
        return buffer;
    }
    int kept = digits < 1 ? 1 : digits > 17 ? 17 : digits;
    const rfy_decimal d = rfy_decimal_of(value, kept);
    lay_out(buffer, &d, -4, 6);
    char *exponent = strchr(buffer, 'e'); /* e-07 reads e-7 for people */
    if (exponent && exponent[2] == '0')
        memmove(exponent + 2, exponent + 3, strlen(exponent + 3) + 1);
    return buffer;
}

/* ---- UTF-8 (Unicode Standard, table 3-7) ---- */

bool rfy_utf8_valid(const char *text, size_t length, size_t *bad) {
    const unsigned char *t = (const unsigned char *)text;
    size_t i = 0;
    while (i < length) {
        uint64_t eight;
        if (length - i >= sizeof eight) { /* mostly all of them ASCII */
            memcpy(&eight, t + i, sizeof eight);
            if ((eight & 0x8080808080808080u) == 0) {
                i += sizeof eight;
                continue;
            }
        }
        unsigned char c = t[i];
        size_t more = c < 0x80                 ? 0
                      : c >= 0xC2 && c <= 0xDF ? 1
                      : c >= 0xE0 && c <= 0xEF ? 2
                      : c >= 0xF0 && c <= 0xF4 ? 3
                                               : 4;
        bool good = more < 4 && length - i > more;
        for (size_t k = 1; good && k <= more; k++) {
            unsigned char low = 0x80, high = 0xBF;
            if (k == 1 && c == 0xE0)
                low = 0xA0;
            if (k == 1 && c == 0xED)
                high = 0x9F;
            if (k == 1 && c == 0xF0)
                low = 0x90;
            if (k == 1 && c == 0xF4)
                high = 0x8F;
            good = t[i + k] >= low && t[i + k] <= high;
        }
        if (!good) {
            if (bad)
                *bad = i;
            return false;
        }
        i += more + 1;
    }
    return true;
}

size_t rfy_utf8_count(const char *text, size_t bytes) {
    size_t n = 0;
    for (size_t i = 0; i < bytes; i++)
        n += ((unsigned char)text[i] & 0xC0) != 0x80;
    return n;
}
