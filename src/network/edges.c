#include <math.h>
#include <string.h>
#include "core/curve.h"
#include "network/edges.h"

static void clear(int n, double *by_a, double *by_b) {
    if (by_a) {
        memset(by_a, 0, (size_t)(n * n) * sizeof *by_a);
        memset(by_b, 0, (size_t)(n * n) * sizeof *by_b);
    }
}

void rfy_edge_stretch(const rfy_edge *edge, const rfy_mixture *mix, double opening, const double *a,
                      const double *b, double *flow, double *by_a, double *by_b) {
    rfy_stretch_flow(edge->stretch, mix, opening, a, b, flow, by_a, by_b);
}

const rfy_given *rfy_given_molecular(rfy_arena *arena, const rfy_mixture *mix, double conductance,
                                     double temperature) {
    const double air = 0.0289655; /* kg/mol */
    rfy_given *given = RFY_NEW(arena, 1, rfy_given);
    for (int i = 0; i < mix->n; i++)
        given->moles[i] = conductance * sqrt(air / mix->mass.d[i] * temperature / RFY_T_REF) /
                          (RFY_R * temperature);
    return given;
}

void rfy_edge_given(const rfy_edge *edge, const rfy_mixture *mix, double opening, const double *a,
                    const double *b, double *flow, double *by_a, double *by_b) {
    const rfy_given *given = edge->data;
    const int n = mix->n;
    clear(n, by_a, by_b);
    for (int i = 0; i < n; i++) {
        double c = opening * given->moles[i];
        flow[i] = c * (a[i] - b[i]);
        if (by_a) {
            by_a[i * n + i] = c;
            by_b[i * n + i] = -c;
        }
    }
}

struct rfy_given_curve {
    const rfy_given *unit; /* per m3/s */
    rfy_smooth ln;         /* ln C over ln p */
};

const rfy_given_curve *rfy_given_curve_new(rfy_arena *arena, const rfy_mixture *mix,
                                           const rfy_curve *curve, double temperature) {
    rfy_given_curve *given = RFY_NEW(arena, 1, rfy_given_curve);
    double *x = RFY_NEW(arena, curve->n, double), *y = RFY_NEW(arena, curve->n, double);
    bool rising = curve->x[1] > curve->x[0];
    for (size_t i = 0; i < curve->n; i++) {
        size_t k = rising ? i : curve->n - 1 - i;
        x[i] = log(curve->x[k]);
        y[i] = log(curve->y[k]);
    }
    given->unit = rfy_given_molecular(arena, mix, 1, temperature);
    rfy_smooth_build(&given->ln, arena, x, y, curve->n);
    return given;
}

void rfy_edge_given_curve(const rfy_edge *edge, const rfy_mixture *mix, double opening,
                          const double *a, const double *b, double *flow, double *by_a,
                          double *by_b) {
    const rfy_given_curve *given = edge->data;
    const int n = mix->n;
    double mean = 0, slope = 0, ln = given->ln.y[0];
    for (int i = 0; i < n; i++)
        mean += 0.5 * (a[i] + b[i]);
    if (mean > 0)
        ln = rfy_smooth_at(&given->ln, log(mean), &slope);
    double c = opening * exp(ln), by_mean = mean > 0 ? c * slope / mean : 0;
    for (int i = 0; i < n; i++) {
        double unit = given->unit->moles[i];
        flow[i] = unit * c * (a[i] - b[i]);
        for (int j = 0; by_a && j < n; j++) {
            double through_c = unit * (a[i] - b[i]) * by_mean / 2, own = i == j ? unit * c : 0;
            by_a[i * n + j] = through_c + own;
            by_b[i * n + j] = through_c - own;
        }
    }
}

void rfy_edge_pump(const rfy_edge *edge, const rfy_mixture *mix, double turn, const double *a,
                   const double *b, double *flow, double *by_a, double *by_b) {
    (void)mix;
    const rfy_pump *pump = edge->data;
    pump->kind->flow(pump->data, turn, a, b, flow, by_a, by_b);
}

/* A leak is molecular when small and viscous when large (common practice, no source: viscous above
 * about 1e-6, molecular below about 1e-8 Pa m3/s). Molecular: each gas by its own pressure and
 * 1/sqrt(M). Viscous: laminar, by the difference of squared total pressures, carrying the upstream
 * mixture. */
struct rfy_leak {
    double molecular[RFY_MAX_GASES]; /* mol/s/Pa */
    double viscous;                  /* mol/s/Pa2 */
    bool fixed;
    double outside[RFY_MAX_GASES];
};

const rfy_leak *rfy_leak_new(rfy_arena *arena, const rfy_mixture *mix, double rate,
                             const double *outside, bool fixed_outside) {
    rfy_leak *leak = RFY_NEW(arena, 1, rfy_leak);
    double moles = rate / (RFY_R * RFY_T_REF), share = rate / (rate + 1e-7);
    double total = 0, weight = 0;
    for (int i = 0; i < mix->n; i++)
        total += outside[i];
    for (int i = 0; i < mix->n; i++)
        weight += outside[i] / total / sqrt(mix->mass.d[i]);
    for (int i = 0; i < mix->n; i++) {
        leak->molecular[i] = moles * (1 - share) / sqrt(mix->mass.d[i]) / weight / RFY_ATM;
        leak->outside[i] = outside[i];
    }
    leak->viscous = moles * share / (RFY_ATM * RFY_ATM);
    leak->fixed = fixed_outside;
    return leak;
}

void rfy_edge_leak(const rfy_edge *edge, const rfy_mixture *mix, double control, const double *at_a,
                   const double *b, double *flow, double *by_a, double *by_b) {
    const rfy_leak *leak = edge->data;
    const int n = mix->n;
    const double *a = leak->fixed ? leak->outside : at_a;
    double pa = 0, pb = 0;
    for (int i = 0; i < n; i++) {
        pa += a[i];
        pb += b[i];
    }
    double nv = control * leak->viscous * (pa * pa - pb * pb);
    const double *up = nv >= 0 ? a : b;
    double p_up = nv >= 0 ? pa : pb, inverse = p_up > 0 ? 1 / p_up : 0;
    clear(n, by_a, by_b);
    for (int i = 0; i < n; i++) {
        double k = control * leak->molecular[i], x = up[i] * inverse;
        flow[i] = k * (a[i] - b[i]) + nv * x;
        if (!by_a)
            continue;
        double *by_up = nv >= 0 ? by_a : by_b;
        for (int j = 0; j < n; j++) {
            by_a[i * n + j] += control * leak->viscous * 2 * pa * x;
            by_b[i * n + j] -= control * leak->viscous * 2 * pb * x;
            by_up[i * n + j] += nv * ((i == j ? 1 : 0) - x) * inverse;
        }
        by_a[i * n + i] += k;
        by_b[i * n + i] -= k;
    }
    if (by_a && leak->fixed)
        memset(by_a, 0, (size_t)(n * n) * sizeof *by_a);
}
