/* Work-precision curves: points of (error, seconds) by tolerance, and the time at a given error. */
#ifndef RFY_BENCH_CURVE_H
#define RFY_BENCH_CURVE_H

#include <stdbool.h>

enum { BENCH_POINTS = 24, BENCH_ROUNDS = 9 };

typedef struct bench_curve {
    const char *name;
    char setting[64]; /* what was tuned; "" = nothing */
    int n;
    double rtol[BENCH_POINTS], error[BENCH_POINTS], seconds[BENCH_POINTS];
} bench_curve;

/* Time at which the method is that accurate: along the lower left border of its points, straight on
 * log paper between them. The cheapest point's when all are more accurate; NaN when none is
 * accurate enough. */
double bench_time_at(const bench_curve *curve, double error);
double bench_median(double *values, int n); /* sorts them */

#endif
