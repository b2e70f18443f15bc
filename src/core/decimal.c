#include "core/decimal.h"
#include <float.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* A sum of two doubles, the second below half a unit in the last place of the first: some 32 digits
 * (Dekker 1971, "A floating-point technique for extending the available precision", Numer. Math.
 * 18, 224; products by a fused multiplication). */
typedef struct twice {
    double hi, lo;
} twice;

static twice product(double a, double b) {
    const double p = a * b;
    return (twice){p, fma(a, b, -p)};
}

static twice joined(double hi, double lo) {
    const double sum = hi + lo;
    return (twice){sum, lo - (sum - hi)};
}

static twice times(twice a, twice b) {
    const twice p = product(a.hi, b.hi);
    return joined(p.hi, p.lo + (a.hi * b.lo + a.lo * b.hi));
}

static twice over(double a, twice b) {
    const double q = a / b.hi, left = fma(-q, b.hi, a) - q * b.lo;
    return joined(q, left / b.hi);
}

static const double small_power[16] = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                       1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
/* 10^16 to 10^256, each the square of the one before */
static const twice great_power[5] = {{1e16, 0},
                                     {1e32, -5366162204393472.0},
                                     {1e64, -2.1320419009454396e+47},
                                     {1e128, -7.51744869165182e+111},
                                     {1e256, -3.012765990014054e+239}};

static twice power_of_ten(int k) {
    twice p = {small_power[k & 15], 0};
    for (int i = 0; i < 5; i++)
        if (k & (16 << i))
            p = times(p, great_power[i]);
    return p;
}

/* size 10^k */
static twice scaled(double size, int k) {
    if (k < 0)
        return over(size, power_of_ten(-k));
    return times((twice){size, 0}, power_of_ten(k));
}

static const uint64_t whole_power[18] = {1,
                                         10,
                                         100,
                                         1000,
                                         10000,
                                         100000,
                                         1000000,
                                         10000000,
                                         100000000,
                                         1000000000,
                                         10000000000,
                                         100000000000,
                                         1000000000000,
                                         10000000000000,
                                         100000000000000,
                                         1000000000000000,
                                         10000000000000000,
                                         100000000000000000};

bool rfy_decimal_quick(double size, int digits, uint64_t *n, double *rest, int *exponent) {
    /* what is scaled is good to some 1e-14 of a unit; half a unit is told from less and more */
    static const double close = 1e-6;
    if (FLT_EVAL_METHOD != 0 || !(size > 1e-250 && size < 1e250))
        return false;
    const uint64_t least = whole_power[digits - 1], most = whole_power[digits];
    int e = (int)floor(log10(size));
    for (int tries = 0; tries < 3; tries++) {
        const twice t = scaled(size, digits - 1 - e);
        const double below = floor(t.lo + (t.hi - floor(t.hi)));
        const double part = t.lo + (t.hi - floor(t.hi)) - below;
        const uint64_t whole = (uint64_t)((int64_t)t.hi + (int64_t)below);
        if (fabs(part - 0.5) < close)
            return false;
        *n = whole + (part > 0.5);
        *rest = part > 0.5 ? part - 1 : part;
        *exponent = e;
        if (whole >= least && *n < most)
            return true;
        if (whole >= least && *n == most &&
            whole < most) { /* rounded up to the next power of ten */
            *n = least;
            *rest /= 10;
            *exponent = e + 1;
            return true;
        }
        e += whole < least ? -1 : 1; /* the logarithm was rounded */
    }
    return false;
}

rfy_decimal rfy_decimal_from(bool negative, uint64_t n, int digits, int exponent) {
    rfy_decimal d = {.negative = negative, .n = digits, .exponent = exponent};
    int i = digits;
    for (; i > 1; i -= 2, n /= 100) { /* two at a time */
        const unsigned two = (unsigned)(n % 100);
        d.digit[i - 1] = (char)('0' + two % 10);
        d.digit[i - 2] = (char)('0' + two / 10);
    }
    if (i > 0)
        d.digit[0] = (char)('0' + n % 10);
    while (d.n > 1 && d.digit[d.n - 1] == '0')
        d.n--;
    return d;
}

rfy_decimal rfy_decimal_of(double value, int digits) {
    uint64_t n;
    double rest;
    int exponent;
    if (!(fabs(value) > 0))
        return (rfy_decimal){.digit = "0", .n = 1};
    if (rfy_decimal_quick(fabs(value), digits, &n, &rest, &exponent))
        return rfy_decimal_from(value < 0, n, digits, exponent);
    rfy_decimal d = {.negative = value < 0, .digit = "0"};
    char raw[48];
    snprintf(raw, sizeof raw, "%.*e", digits - 1, fabs(value));
    const char *c = raw;
    for (; *c && *c != 'e'; c++)
        if (*c >= '0' && *c <= '9' && d.n < 30) /* whatever the locale's radix character is */
            d.digit[d.n++] = *c;
    d.exponent = (int)strtol(*c ? c + 1 : "0", NULL, 10);
    while (d.n > 1 && d.digit[d.n - 1] == '0')
        d.n--;
    return d;
}
