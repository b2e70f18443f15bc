#include "surface/store.h"

rfy_store_law rfy_store_law_new(rfy_arena *arena, int n) {
    double *all = RFY_NEW(arena, 5 * (size_t)n, double);
    return (rfy_store_law){
        .k = all, .g = all + n, .h = all + 2 * n, .o = all + 3 * n, .c = all + 4 * n};
}

double rfy_store_content(const rfy_store *s, const double *x) {
    double sum = 0;
    for (int j = 0; j < s->n; j++)
        sum += s->weight[j] * x[j];
    return sum;
}

double rfy_store_rates(const rfy_store *s, const rfy_store_law *law, double p, const double *x,
                       double *f, double *by_x, double *by_p, double *outer) {
    double gained = law->through_outside - law->through * p;
    *outer = gained;
    if (s->kind->rate) {
        double slope, by_pressure;
        f[0] = s->kind->rate(s, law, p, x[0], &slope, &by_pressure);
        if (by_x) {
            by_x[0] = slope;
            by_p[0] = by_pressure;
        }
        return gained - f[0];
    }
    for (int j = 0; j < s->n; j++) {
        /* below zero the release goes on straight, so that an overshoot comes back */
        double crowd = x[j] > 0 ? 1 / (1 + law->c[j] * x[j]) : 1;
        double take = law->g[j] - law->h[j] * x[j];
        f[j] = -law->k[j] * x[j] * crowd + take * p + law->o[j];
        gained -= f[j];
        if (s->sign)
            *outer += s->sign[j] * f[j];
        if (by_x) {
            by_x[j] = -law->k[j] * crowd * crowd - law->h[j] * p;
            by_p[j] = take;
        }
    }
    return gained;
}
