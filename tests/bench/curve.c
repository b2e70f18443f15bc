#include "bench/curve.h"
#include <math.h>
#include <stdlib.h>

static int rising(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double bench_median(double *values, int n) {
    if (n == 0)
        return NAN;
    qsort(values, (size_t)n, sizeof *values, rising);
    return n % 2 ? values[n / 2] : 0.5 * (values[n / 2 - 1] + values[n / 2]);
}

static bool beaten(const bench_curve *c, int i) {
    for (int k = 0; k < c->n; k++)
        if (k != i && c->error[k] <= c->error[i] && c->seconds[k] <= c->seconds[i] &&
            (c->error[k] < c->error[i] || c->seconds[k] < c->seconds[i] || k < i))
            return true;
    return false;
}

double bench_time_at(const bench_curve *c, double error) {
    int coarse = -1, fine = -1; /* neighbours of the wanted error among the unbeaten */
    for (int i = 0; i < c->n; i++) {
        if (!(c->error[i] > 0) || beaten(c, i))
            continue;
        if (c->error[i] > error && (coarse < 0 || c->error[i] < c->error[coarse]))
            coarse = i;
        if (c->error[i] <= error && (fine < 0 || c->error[i] > c->error[fine]))
            fine = i;
    }
    if (fine < 0)
        return NAN;
    if (coarse < 0)
        return c->seconds[fine];
    double part = log(c->error[coarse] / error) / log(c->error[coarse] / c->error[fine]);
    return c->seconds[coarse] * pow(c->seconds[fine] / c->seconds[coarse], part);
}
