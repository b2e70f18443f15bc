#include "published/kinetic_poiseuille.h"
#include <gsl/gsl_integration.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <string.h>

#define PI 3.14159265358979323846
enum { MOST = 40, FINEST = 120 };

/* The equation, with c in units of v0 = sqrt(2RT), lengths in units of the radius or gap, and a
 * unit gradient of pressure along z:  c.grad h + c_z = delta [2 c_z u + (4/15) c_z (c^2 - 5/2) q -
 * h],  u and q the moments c_z and c_z (c^2 - 5/2) of h (S-model: Shakhov 1968; without q: BGK,
 * Bhatnagar, Gross and Krook 1954). Integrating along straight paths between diffuse walls and over
 * the velocities that do not matter leaves, with U = 1 - 2 delta u and P = -(4/15) delta q, U = 1 +
 * delta (k00 U + k01 P),   (15/2) P = delta (k10 U + k11 P) where k are integrals over all paths
 * that end at the point, with these weights of the distance x = delta s: tube     k00 = T0/pi,  k01
 * = k10 = (T2 - T0)/pi,  k11 = (T4 - 2 T2 + 5/2 T0)/pi channel  k00 = T-1/sqrt(pi),  k01 = (T1 -
 * T-1/2)/sqrt(pi),  k11 = (T3 - T1 + 9/4 T-1)/sqrt(pi) T_n(x) = integral from 0 to infinity of z^n
 * exp(-z^2 - x/z) dz  (Abramowitz 1953). */

typedef struct weights {
    double k00, k01, k11;
} weights;

/* T-1, T0, T1 by the trapezoidal rule in ln z (converges as exp(-pi^2/(2 step))); the others from
 * 2 T_n = (n - 1) T_(n-2) + x T_(n-3). t[n + 1] = T_n, n = -1 … 4. */
static void abramowitz(double x, double *t) {
    const double step = 0.14;
    double low = log(x / 40), sum[3] = {0};
    for (double at = 1.9; at > low; at -= step) {
        double z = exp(at), e = exp(-z * z - x / z);
        sum[0] += e;
        sum[1] += e * z;
        sum[2] += e * z * z;
    }
    for (int n = 0; n < 3; n++)
        t[n] = step * sum[n];
    t[3] = 0.5 * (t[1] + x * t[0]);
    t[4] = 0.5 * (2 * t[2] + x * t[1]);
    t[5] = 0.5 * (3 * t[3] + x * t[2]);
}

typedef struct gauss {
    int n;
    double x[FINEST], w[FINEST]; /* on (0, 1) */
} gauss;

static void gauss_rule(gauss *g, int n) {
    gsl_integration_glfixed_table *t = gsl_integration_glfixed_table_alloc((size_t)n);
    g->n = n;
    for (int i = 0; i < n; i++)
        gsl_integration_glfixed_point(0, 1, (size_t)i, &g->x[i], &g->w[i], t);
    gsl_integration_glfixed_table_free(t);
}

/* P_0 … P_last at x. */
static void legendre(double x, int last, double *p) {
    p[0] = 1;
    p[1] = x;
    for (int n = 1; n < last; n++)
        p[n + 1] = ((2 * n + 1) * x * p[n] - n * p[n - 1]) / (n + 1);
}

typedef struct galerkin {
    int n;
    double a[3][MOST][MOST]; /* of k00, k01, k11 */
} galerkin;

/* Both models' <U>, the mean of the profile with the first basis function (which is 1). */
static void both_means(const galerkin *g, double delta, const double *norm, double *bgk,
                       double *s_model) {
    for (int with_q = 0; with_q < 2; with_q++) {
        const size_t n = (size_t)g->n, size = with_q ? 2 * n : n;
        gsl_matrix *m = gsl_matrix_alloc(size, size);
        gsl_vector *x = gsl_vector_calloc(size);
        for (size_t i = 0; i < size; i++)
            for (size_t j = 0; j < size; j++) {
                size_t block = i / n + j / n;
                double own = i == j ? norm[i % n] * (block ? 7.5 : 1) : 0;
                gsl_matrix_set(m, i, j, own - delta * g->a[block][i % n][j % n]);
            }
        gsl_vector_set(x, 0, norm[0]);
        gsl_linalg_cholesky_decomp1(m);
        gsl_linalg_cholesky_svx(m, x);
        *(with_q ? s_model : bgk) = gsl_vector_get(x, 0);
        gsl_vector_free(x);
        gsl_matrix_free(m);
    }
}

/* a += weight * k(s) * integral over the chord of phi_i(here) phi_j(s back). */
static void add(galerkin *g, const weights *k, double weight, const double *here,
                const double *back) {
    for (int i = 0; i < g->n; i++)
        for (int j = 0; j < g->n; j++) {
            double both = weight * here[i] * back[j];
            g->a[0][i][j] += both * k->k00;
            g->a[1][i][j] += both * k->k01;
            g->a[2][i][j] += both * k->k11;
        }
}

static void symmetrise(galerkin *g) { /* paths run both ways */
    for (int b = 0; b < 3; b++)
        for (int i = 0; i < g->n; i++)
            for (int j = 0; j <= i; j++)
                g->a[b][i][j] = g->a[b][j][i] = 0.5 * (g->a[b][i][j] + g->a[b][j][i]);
}

poiseuille poiseuille_tube(double delta, int order) {
    /* All pairs of points that see each other, sorted by the chord they lie on: distance b =
       sin(psi) from the axis, half length c = cos(psi). Profile: Legendre polynomials in 2 r^2 - 1,
       so that the integral along the chord at a given distance s apart is that of a polynomial. */
    static galerkin g; /* large */
    memset(&g, 0, sizeof g);
    g.n = order;
    gauss chord, apart, along;
    gauss_rule(&chord, order + 16);
    gauss_rule(&apart, order + 24);
    gauss_rule(&along, 2 * order);
    double here[MOST + 1], back[MOST + 1], t[6];
    for (int p = 0; p < chord.n; p++) {
        double v = chord.x[p], psi = PI / 2 * v * (2 - v), b = sin(psi), c = cos(psi);
        double weight_b = chord.w[p] * PI / 2 * (2 - 2 * v) * c * 2; /* both signs of b */
        for (int q = 0; q < apart.n; q++) {
            double u = apart.x[q], s = 2 * c * u * u * u, weight_s = apart.w[q] * 6 * c * u * u;
            abramowitz(delta * s, t);
            weights k = {t[1] / PI, (t[3] - t[1]) / PI, (t[5] - 2 * t[3] + 2.5 * t[1]) / PI};
            for (int l = 0; l < along.n; l++) {
                double x = -c + s + (2 * c - s) * along.x[l], y = x - s;
                legendre(2 * (b * b + x * x) - 1, order, here);
                legendre(2 * (b * b + y * y) - 1, order, back);
                add(&g, &k, weight_b * weight_s * along.w[l] * (2 * c - s), here, back);
            }
        }
    }
    symmetrise(&g);
    double norm[MOST];
    for (int i = 0; i < order; i++)
        norm[i] = 1 / (2.0 * (2 * i + 1));
    poiseuille answer;
    both_means(&g, delta, norm, &answer.bgk, &answer.s_model);
    answer.bgk = (answer.bgk - 1) / delta;
    answer.s_model = (answer.s_model - 1) / delta;
    return answer;
}

poiseuille poiseuille_channel(double delta, int order) {
    static galerkin g;
    memset(&g, 0, sizeof g);
    g.n = order;
    gauss apart, along;
    gauss_rule(&apart, 2 * order + 30);
    gauss_rule(&along, 2 * order);
    double here[2 * MOST + 1], back[2 * MOST + 1], even[2][MOST], t[6];
    for (int q = 0; q < apart.n; q++) {
        double u = apart.x[q], s = u * u * u * u, weight_s = apart.w[q] * 4 * u * u * u;
        abramowitz(delta * s, t);
        double root = sqrt(PI);
        weights k = {t[0] / root, (t[2] - 0.5 * t[0]) / root, (t[4] - t[2] + 2.25 * t[0]) / root};
        for (int l = 0; l < along.n; l++) {
            double x = -0.5 + s + (1 - s) * along.x[l];
            legendre(2 * x, 2 * order, here);
            legendre(2 * (x - s), 2 * order, back);
            for (int i = 0; i < order; i++) {
                even[0][i] = here[2 * i];
                even[1][i] = back[2 * i];
            }
            add(&g, &k, 2 * weight_s * along.w[l] * (1 - s), even[0], even[1]);
        }
    }
    symmetrise(&g);
    double norm[MOST];
    for (int i = 0; i < order; i++)
        norm[i] = 1 / (4.0 * i + 1);
    poiseuille answer;
    both_means(&g, delta, norm, &answer.bgk, &answer.s_model);
    answer.bgk = (answer.bgk - 1) / delta;
    answer.s_model = (answer.s_model - 1) / delta;
    return answer;
}
