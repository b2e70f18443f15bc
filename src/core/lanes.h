/* Vectors of four doubles for the inner loops over gases.
 *
 * GCC and clang vector types: plain C elsewhere, AVX2 and fused multiply-add where the machine has
 * them (chosen at load time, so that one binary serves all). The same operations in the same order
 * everywhere; a fused product is not rounded before it is added, so that results of different kinds
 * of machine agree to round-off and the steps that hang on it, not to the last bit. On one machine
 * they repeat to the bit. */
#ifndef RFY_CORE_LANES_H
#define RFY_CORE_LANES_H

#include <stdbool.h>

#define RFY_LANES 4
typedef double rfy_v4 __attribute__((vector_size(32)));
typedef long long rfy_v4i __attribute__((vector_size(32)));

/* n doubles, n a multiple of 4, seen one by one or four at a time */
#define RFY_LANES_OF(n)                                                                            \
    union {                                                                                        \
        double d[n];                                                                               \
        rfy_v4 v[(n) / RFY_LANES];                                                                 \
    }

#if defined(__GNUC__) && !defined(__clang__) && defined(__x86_64__) && defined(__gnu_linux__) &&   \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#if __GNUC__ >= 12
#define RFY_WIDE __attribute__((target_clones("arch=x86-64-v3", "default")))
#else
#define RFY_WIDE __attribute__((target_clones("avx2", "default")))
#endif
#else
#define RFY_WIDE
#endif
#define RFY_INLINE static inline __attribute__((always_inline))
#if defined(__GNUC__) && !defined(__clang__)
/* Functions that pass vectors by value are always inlined: no calling convention is involved. */
#pragma GCC diagnostic ignored "-Wpsabi"
#endif

#define RFY_SELECT(mask, yes, no) ((rfy_v4)(((mask) & (rfy_v4i)(yes)) | (~(mask) & (rfy_v4i)(no))))

/* Loops over gases with a constant number of them are written out in full, so that what they work
 * on stays in registers. */
#if defined(__clang__)
#define RFY_UNROLL _Pragma("unroll")
#else
#define RFY_UNROLL _Pragma("GCC unroll 16")
#endif

/* And outer loops are kept as loops where all of it would not fit the cache of instructions. */
#if defined(__clang__)
#define RFY_ROLLED _Pragma("nounroll")
#else
#define RFY_ROLLED _Pragma("GCC unroll 1")
#endif

/* call(g), with the usual numbers of gases as constants for the compiler */
#define RFY_BY_GASES(g, call)                                                                      \
    switch (g) {                                                                                   \
    case 1:                                                                                        \
        call(1);                                                                                   \
        break;                                                                                     \
    case 4:                                                                                        \
        call(4);                                                                                   \
        break;                                                                                     \
    case 5:                                                                                        \
        call(5);                                                                                   \
        break;                                                                                     \
    case 6:                                                                                        \
        call(6);                                                                                   \
        break;                                                                                     \
    default:                                                                                       \
        call(g);                                                                                   \
    }

RFY_INLINE rfy_v4 rfy_all(double value) {
    return (rfy_v4){value, value, value, value};
}

RFY_INLINE rfy_v4 rfy_sqrt(rfy_v4 x) {
    RFY_UNROLL
    for (int i = 0; i < RFY_LANES; i++)
        x[i] = __builtin_sqrt(x[i]);
    return x;
}

RFY_INLINE rfy_v4 rfy_magnitude(rfy_v4 x) {
    return (rfy_v4)((rfy_v4i)x & 0x7fffffffffffffffLL);
}

RFY_INLINE bool rfy_any(rfy_v4i mask) {
    return (mask[0] | mask[1] | mask[2] | mask[3]) != 0;
}

/* n values into vectors, 0 behind them. */
RFY_INLINE void rfy_to_lanes(const double *from, int n, int lanes, rfy_v4 *to) {
    RFY_UNROLL
    for (int v = 0; v < lanes; v++) {
        const double *p = from + v * RFY_LANES;
        const int left = n - v * RFY_LANES;
        to[v] = (rfy_v4){p[0], left > 1 ? p[1] : 0, left > 2 ? p[2] : 0, left > 3 ? p[3] : 0};
    }
}

RFY_INLINE void rfy_from_lanes(const rfy_v4 *from, int n, double *to) {
    RFY_UNROLL
    for (int i = 0; i < n; i++)
        to[i] = from[i / RFY_LANES][i % RFY_LANES];
}

#endif
