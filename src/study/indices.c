#include "study/indices.h"
#include <math.h>
#include <stdlib.h>
#include "core/arena.h"

#define PI 3.14159265358979323846

enum { HARMONICS = 8 };

typedef struct pair {
    double x, y;
} pair;

static int by_x(const void *a, const void *b) {
    double x = ((const pair *)a)->x, y = ((const pair *)b)->x;
    return (x > y) - (x < y);
}

/* Sorted by the input and folded (every other point up, the rest back down), y becomes one period
 * of a curve; what its first harmonics hold of the variance is the share of the mean for given x
 * (Plischke 2010, Reliab. Eng. Syst. Saf. 95, 354: EASI). The part that 2 M coefficients take of
 * pure noise is taken off (Tissot and Prieur 2012, ibid. 107, 205). */
double rfy_first_order(const double *x, const double *y, size_t n) {
    if (n < 8 * HARMONICS)
        return NAN;
    pair *sorted = rfy_xcalloc(n, sizeof *sorted);
    double *folded = rfy_xcalloc(n, sizeof *folded), mean = 0, variance = 0, power = 0;
    for (size_t i = 0; i < n; i++)
        sorted[i] = (pair){x[i], y[i]};
    qsort(sorted, n, sizeof *sorted, by_x);
    size_t k = 0;
    for (size_t i = 0; i < n; i += 2)
        folded[k++] = sorted[i].y;
    for (size_t i = n % 2 ? n - 2 : n - 1; i < n; i -= 2) /* wraps below zero: the end */
        folded[k++] = sorted[i].y;
    for (size_t i = 0; i < n; i++)
        mean += folded[i] / (double)n;
    for (size_t i = 0; i < n; i++)
        variance += (folded[i] - mean) * (folded[i] - mean) / (double)n;
    for (int m = 1; m <= HARMONICS; m++) {
        double c = 0, s = 0;
        for (size_t i = 0; i < n; i++) {
            double angle = 2 * PI * m * (double)i / (double)n;
            c += (folded[i] - mean) * cos(angle) / (double)n;
            s += (folded[i] - mean) * sin(angle) / (double)n;
        }
        power += 2 * (c * c + s * s);
    }
    free(sorted);
    free(folded);
    if (!(variance > 1e-12 * mean * mean) || !(variance > 0))
        return NAN;
    double raw = power / variance, noise = 2.0 * HARMONICS / (double)n;
    double share = raw - noise / (1 - noise) * (1 - raw);
    return share < 0 ? 0 : share > 1 ? 1 : share;
}

double rfy_quantile(const double *sorted, size_t n, double q) {
    if (n == 0)
        return NAN;
    double at = q * (double)(n - 1);
    size_t i = (size_t)at;
    double part = at - (double)i;
    if (i + 1 >= n || !(part > 0))
        return sorted[i < n ? i : n - 1];
    return isinf(sorted[i + 1]) ? sorted[i + 1] : sorted[i] + part * (sorted[i + 1] - sorted[i]);
}
