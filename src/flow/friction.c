#include <math.h>
#include <stdbool.h>
#include "flow/friction.h"

#define LOWEST  1000.0
#define HIGHEST 1e8

double rfy_darcy_friction(double reynolds, double roughness) {
    double a = 2.457 * log(1 / (pow(7 / reynolds, 0.9) + 0.27 * roughness));
    double a16 = pow(a, 16), b16 = pow(37530 / reynolds, 16);
    return 8 * pow(pow(8 / reynolds, 12) + pow(a16 + b16, -1.5), 1.0 / 12);
}

static void build(rfy_friction *t, double roughness) {
    /* more than half of the points resolve the transition from 1e3 to 1e4 */
    const int n = RFY_FRICTION_POINTS, dense = 3 * n / 5;
    for (int i = 0; i < n; i++) {
        double re = i < dense ? LOWEST * pow(10, (double)i / dense)
                              : 1e4 * pow(HIGHEST / 1e4, (double)(i - dense) / (n - 1 - dense));
        const double h = 1e-4;
        double f = rfy_darcy_friction(re, roughness);
        double up = rfy_darcy_friction(re * (1 + h), roughness);
        double down = rfy_darcy_friction(re * (1 - h), roughness);
        t->real[i] = log(re);
        t->laminar[i] = log(f * re * re / 64);
        t->slope[i] = 2 + (log(up) - log(down)) / (log1p(h) - log1p(-h));
    }
    t->laminar[0] = t->real[0]; /* laminar to 1e-12 here: join the identity exactly */
    t->slope[0] = 1;
}

/* The lines of a system mostly share one roughness, and a study builds thousands of systems: the
 * table made last by this thread serves again. It depends on nothing else. */
void rfy_friction_build(rfy_friction *t, double roughness) {
    static _Thread_local rfy_friction last;
    static _Thread_local double last_roughness;
    static _Thread_local bool made = false;
    if (!made || roughness < last_roughness || roughness > last_roughness) {
        build(&last, roughness);
        last_roughness = roughness;
        made = true;
    }
    *t = last;
}

/* The cell of a rising table that holds x. */
static int cell_of(const double *table, double x) {
    int low = 0, high = RFY_FRICTION_POINTS - 1;
    while (high - low > 1) {
        int middle = (low + high) / 2;
        if (table[middle] <= x)
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* ln G at a place s (0 to 1) of a cell and its slope by ln Re: a cubic Hermite polynomial. */
static double in_cell(const rfy_friction *t, int i, double s, double *slope) {
    double h = t->real[i + 1] - t->real[i], rise = t->laminar[i + 1] - t->laminar[i];
    double m0 = t->slope[i] * h, m1 = t->slope[i + 1] * h;
    double c2 = 3 * rise - 2 * m0 - m1, c3 = m0 + m1 - 2 * rise;
    *slope = (m0 + s * (2 * c2 + 3 * c3 * s)) / h;
    return t->laminar[i] + s * (m0 + s * (c2 + s * c3));
}

double rfy_friction_laminar(const rfy_friction *t, double x, double *slope) {
    const int n = RFY_FRICTION_POINTS;
    if (x <= t->real[0]) {
        *slope = 1;
        return x;
    }
    if (x >= t->real[n - 1]) { /* fully turbulent: continue the last slope */
        *slope = t->slope[n - 1];
        return t->laminar[n - 1] + t->slope[n - 1] * (x - t->real[n - 1]);
    }
    int i = cell_of(t->real, x);
    return in_cell(t, i, (x - t->real[i]) / (t->real[i + 1] - t->real[i]), slope);
}

double rfy_friction_real(const rfy_friction *t, double y, double *slope) {
    const int n = RFY_FRICTION_POINTS;
    if (y <= t->laminar[0]) {
        *slope = 1;
        return y;
    }
    if (y >= t->laminar[n - 1]) {
        *slope = t->slope[n - 1];
        return t->real[n - 1] + (y - t->laminar[n - 1]) / t->slope[n - 1];
    }
    int i = cell_of(t->laminar, y);
    double h = t->real[i + 1] - t->real[i];
    double s = (y - t->laminar[i]) / (t->laminar[i + 1] - t->laminar[i]);
    for (int round = 0; round < 20; round++) {
        double change = (in_cell(t, i, s, slope) - y) / (*slope * h);
        s -= change;
        if (fabs(change) < 1e-9)
            break;
    }
    in_cell(t, i, s, slope);
    return t->real[i] + s * h;
}
