/* Vectors of four doubles for the inner loops over gases.
 *
 * GCC and clang vector types: plain C elsewhere, AVX2 where the machine has it (chosen at load
 * time, so that one binary serves all). The same operations in the same order everywhere: results
 * do not depend on the machine. */
#ifndef RFY_CORE_LANES_H
#define RFY_CORE_LANES_H

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
#define RFY_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define RFY_WIDE
#endif
#define RFY_INLINE static inline __attribute__((always_inline))
#if defined(__GNUC__) && !defined(__clang__)
/* Functions that pass vectors by value are always inlined: no calling convention is involved. */
#pragma GCC diagnostic ignored "-Wpsabi"
#endif

#endif
