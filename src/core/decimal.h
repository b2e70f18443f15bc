/* Decimal digits of a number, correctly rounded (half to even, as printf does). */
#ifndef RFY_CORE_DECIMAL_H
#define RFY_CORE_DECIMAL_H

#include <stdbool.h>
#include <stdint.h>

typedef struct rfy_decimal { /* 0.d1 d2 … 10^(exponent + 1), trailing zeros dropped */
    bool negative;
    char digit[32];
    int n, exponent;
} rfy_decimal;

/* A finite value, rounded to 1 … 17 significant digits. */
rfy_decimal rfy_decimal_of(double value, int digits);

/* The same as one whole number n of so many digits, n + rest = size 10^(digits - 1 - exponent) with
 * rest between -0.5 and 0.5, for a size > 0. False where that would take more care: far from 1, or
 * so near to half a unit that the digits beyond decide. */
bool rfy_decimal_quick(double size, int digits, uint64_t *n, double *rest, int *exponent);
/* From such a number. */
rfy_decimal rfy_decimal_from(bool negative, uint64_t n, int digits, int exponent);

#endif
