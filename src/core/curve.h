/* A monotone smooth curve through points: cubic Hermite with limited slopes (Fritsch and Carlson
 * 1980). */
#ifndef RFY_CORE_CURVE_H
#define RFY_CORE_CURVE_H

#include <stddef.h>
#include "core/arena.h"

typedef struct rfy_smooth {
    size_t n;
    double *x, *y, *slope;
} rfy_smooth;

/* x strictly rising, n >= 2. */
void rfy_smooth_build(rfy_smooth *curve, rfy_arena *arena, const double *x, const double *y,
                      size_t n);
/* Constant beyond the ends. slope may be NULL. */
double rfy_smooth_at(const rfy_smooth *curve, double x, double *slope);

#endif
