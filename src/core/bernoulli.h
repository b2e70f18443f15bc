/* The function of drift against diffusion, four at a time. */
#ifndef RFY_CORE_BERNOULLI_H
#define RFY_CORE_BERNOULLI_H

#include "core/lanes.h"

/* e^x - 1 to a few units in the last place, |x| <= 700: x = k ln 2 + r, Taylor's series in r
 * (|r| < 0.35, 13 terms leave 1e-17), then 2^k (e^r - 1) + (2^k - 1). */
RFY_INLINE rfy_v4 rfy_exp_minus_1(rfy_v4 x) {
    const rfy_v4 shift =
        rfy_all(6755399441055744.0); /* 1.5 2^52: adding it rounds to whole numbers */
    rfy_v4 rounded = x * 1.4426950408889634 + shift, k = rounded - shift;
    rfy_v4 r = (x - k * 6.93147180369123816490e-01) - k * 1.90821492927058770002e-10;
    /* in pairs, pairs of pairs, ...: no long chain of sums that wait for each other (Estrin 1960)
     */
    const rfy_v4 r2 = r * r, r4 = r2 * r2;
    const rfy_v4 low = (1.0 / 2 + r * (1.0 / 6)) + r2 * (1.0 / 24 + r * (1.0 / 120)),
                 middle = (1.0 / 720 + r * (1.0 / 5040)) + r2 * (1.0 / 40320 + r * (1.0 / 362880)),
                 high = (1.0 / 3628800 + r * (1.0 / 39916800)) +
                        r2 * (1.0 / 479001600 + r * (1.0 / 6227020800));
    rfy_v4 sum = low + r4 * (middle + r4 * high);
    sum = r + r2 * sum;
    rfy_v4i exponent = ((rfy_v4i)rounded << 52) + (1023LL << 52);
    rfy_v4 power = (rfy_v4)exponent;
    return power * sum + (power - 1);
}

/* B(z) = z/(e^z - 1) and its slope: for |z| < 0.3, where most gases drift most of the time, by its
 * series with Bernoulli's numbers (the next term is below 3e-16), else from e^z. */
RFY_INLINE rfy_v4 rfy_bernoulli(rfy_v4 z, rfy_v4 *slope) {
    const rfy_v4i small = rfy_magnitude(z) < 0.3;
    const rfy_v4 z2 = z * z;
    rfy_v4 even = z2 * (1.0 / 47900160) - 1.0 / 1209600,
           odd = z2 * (10.0 / 47900160) - 8.0 / 1209600;
    even = even * z2 + 1.0 / 30240;
    odd = odd * z2 + 6.0 / 30240;
    even = even * z2 - 1.0 / 720;
    odd = odd * z2 - 4.0 / 720;
    even = even * z2 + 1.0 / 12;
    odd = odd * z2 + 2.0 / 12;
    rfy_v4 value = (z2 * even + 1) - 0.5 * z;
    *slope = z * odd - 0.5;
    if (!rfy_any(~small))
        return value;
    rfy_v4 bounded = RFY_SELECT(z > 700, rfy_all(700), RFY_SELECT(z < -700, rfy_all(-700), z));
    rfy_v4 inverse = 1 / rfy_exp_minus_1(RFY_SELECT(small, rfy_all(1), bounded)), b = z * inverse;
    *slope = RFY_SELECT(small, *slope, inverse - b * (1 + inverse));
    return RFY_SELECT(small, value, b);
}

#endif
