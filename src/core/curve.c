#include <math.h>
#include <string.h>
#include "core/curve.h"

void rfy_smooth_build(rfy_smooth *c, rfy_arena *arena, const double *x, const double *y, size_t n) {
    c->n = n;
    c->x = RFY_NEW(arena, n, double);
    c->y = RFY_NEW(arena, n, double);
    c->slope = RFY_NEW(arena, n, double);
    memcpy(c->x, x, n * sizeof *x);
    memcpy(c->y, y, n * sizeof *y);
    /* harmonic mean of the neighbouring chords; zero where they disagree in sign and at the ends,
     * so that the curve joins its constant continuation without a kink */
    for (size_t i = 1; i + 1 < n; i++) {
        double left = (y[i] - y[i - 1]) / (x[i] - x[i - 1]);
        double right = (y[i + 1] - y[i]) / (x[i + 1] - x[i]);
        c->slope[i] = left * right > 0 ? 2 * left * right / (left + right) : 0;
    }
}

double rfy_smooth_at(const rfy_smooth *c, double x, double *slope) {
    double unused;
    if (!slope)
        slope = &unused;
    *slope = 0;
    if (x <= c->x[0])
        return c->y[0];
    if (x >= c->x[c->n - 1])
        return c->y[c->n - 1];
    size_t low = 0, high = c->n - 1;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        if (c->x[middle] <= x)
            low = middle;
        else
            high = middle;
    }
    double h = c->x[high] - c->x[low], t = (x - c->x[low]) / h, rise = c->y[high] - c->y[low];
    double m0 = c->slope[low] * h, m1 = c->slope[high] * h;
    double c2 = 3 * rise - 2 * m0 - m1, c3 = m0 + m1 - 2 * rise;
    *slope = (m0 + t * (2 * c2 + 3 * c3 * t)) / h;
    return c->y[low] + t * (m0 + t * (c2 + t * c3));
}
