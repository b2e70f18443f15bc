#include <math.h>
#include "flow/friction.h"

#define LOWEST  1000.0
#define HIGHEST 1e8

double rfy_darcy_friction(double reynolds, double roughness) {
    double a = 2.457 * log(1 / (pow(7 / reynolds, 0.9) + 0.27 * roughness));
    double a16 = pow(a, 16), b16 = pow(37530 / reynolds, 16);
    return 8 * pow(pow(8 / reynolds, 12) + pow(a16 + b16, -1.5), 1.0 / 12);
}

void rfy_friction_build(rfy_friction *t, double roughness) {
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
    int low = 0, high = n - 1;
    while (high - low > 1) {
        int middle = (low + high) / 2;
        if (t->real[middle] <= x)
            low = middle;
        else
            high = middle;
    }
    /* cubic Hermite */
    double h = t->real[high] - t->real[low], s = (x - t->real[low]) / h;
    double rise = t->laminar[high] - t->laminar[low];
    double m0 = t->slope[low] * h, m1 = t->slope[high] * h;
    double c2 = 3 * rise - 2 * m0 - m1, c3 = m0 + m1 - 2 * rise;
    *slope = (m0 + s * (2 * c2 + 3 * c3 * s)) / h;
    return t->laminar[low] + s * (m0 + s * (c2 + s * c3));
}
