/* How much of what varies comes from one input. */
#ifndef RFY_STUDY_INDICES_H
#define RFY_STUDY_INDICES_H

#include <stddef.h>

/* First-order index of an input from the points at hand, without runs of its own: the share of the
 * variance of y that its mean for given x makes up. n points, x and y any order; NaN when y does not
 * vary. */
double rfy_first_order(const double *x, const double *y, size_t n);

/* The quantile q (0 to 1) of sorted values, infinite ones at the end allowed: linear between order
 * statistics (Hyndman and Fan 1996, type 7). */
double rfy_quantile(const double *sorted, size_t n, double q);

#endif
