/* Transmission of a cone: the radiosity equation of its wall, solved by Galerkin's method with
 * piecewise constants. */
#include <math.h>
#include <stdlib.h>
#include "core/arena.h"
#include "flow/kinetic.h"
#include "flow/tables.h"

#define PI 3.14159265358979323846

/* Exchange (area times view factor, over pi) of two coaxial discs of radii a, b at a distance h
 * (the closed form of radiation textbooks), arranged so that nothing cancels for distant or narrow
 * ones. */
static double exchange(double a, double b, double h) {
    double s = a * a + b * b + h * h;
    return 2 * a * a * b * b / (s + sqrt((s - 2 * a * b) * (s + 2 * a * b)));
}

/* n bands, finer towards the ends and evenly spread in ln r; small radius 1. */
static double solve(double ratio, double l, int n) {
    const int edges = n + 1;
    double *r = rfy_xcalloc((size_t)(edges * edges + n * n + 4 * edges), sizeof *r);
    double *z = r + edges, *rhs = z + edges, *out = rhs + edges, *disc = out + edges;
    double *m = disc + edges * edges;
    const double ln = log(ratio);
    for (int i = 0; i < edges; i++) {
        double t = 0.5 * (1 - cos(PI * i / n));
        r[i] = exp(ln * t);
        z[i] = ln > 1e-9 ? l * expm1(ln * t) / expm1(ln) : l * t;
    }
    for (int i = 0; i < edges; i++)
        for (int j = 0; j <= i; j++)
            disc[i * edges + j] = disc[j * edges + i] =
                i == j ? r[i] * r[i] : exchange(r[i], r[j], z[i] - z[j]);
    /* Bands see each other through the discs that bound them. (area - exchange) eta = what comes
     * from the inlet. */
    for (int i = 0; i < n; i++) {
        const double *here = disc + i * edges, *next = here + edges;
        for (int j = 0; j < i; j++)
            m[i * n + j] = here[j] - here[j + 1] - next[j] + next[j + 1];
        m[i * n + i] = here[i] + next[i + 1] - 2 * here[i + 1];
        rhs[i] = here[0] - next[0];
        out[i] = next[n] - here[n];
    }
    for (int i = 0; i < n; i++) /* Cholesky; the matrix is a symmetric M-matrix */
        for (int j = 0; j <= i; j++) {
            double s = m[i * n + j];
            for (int k = 0; k < j; k++)
                s -= m[i * n + k] * m[j * n + k];
            m[i * n + j] = i == j ? sqrt(s) : s / m[j * n + j];
        }
    for (int i = 0; i < n; i++) {
        for (int k = 0; k < i; k++)
            rhs[i] -= m[i * n + k] * rhs[k];
        rhs[i] /= m[i * n + i];
    }
    double w = disc[n];
    for (int i = n - 1; i >= 0; i--) {
        for (int k = i + 1; k < n; k++)
            rhs[i] -= m[k * n + i] * rhs[k];
        rhs[i] /= m[i * n + i];
        w += rhs[i] * out[i];
    }
    free(r);
    return w;
}

/* Length in local radii: the integral of dz/r. */
static double local_length(double ratio, double l) {
    double wider = ratio - 1;
    return wider > 1e-9 ? l * log1p(wider) / wider : l;
}

static double within_reach(double ratio, double l) {
    /* six bands to a local radius or more, second order: error about 0.02 (length/n)^4 after
     * Richardson's step */
    int half = 16 + (int)(3 * local_length(ratio, l));
    double coarse = solve(ratio, l, half), fine = solve(ratio, l, 2 * half);
    return (4 * fine - coarse) / 3;
}

/* 1/W of a long cone, (3/8) L r1^2 times the mean of 1/r^3 over its length (Knudsen 1909). */
static double long_cone(double ratio, double l) {
    double rho = 1 / ratio;
    return 3.0 / 8 * l * (rho + rho * rho) / 2;
}

double rfy_cone_transmission(double ratio, double l) {
    const double reach = 24;
    double length = local_length(ratio, l);
    if (!(l > 0))
        return 1;
    if (length <= reach)
        return within_reach(ratio, l);
    /* Beyond: what the ends add to the long cone grows with ln L as for a tube, but less: the share
     * was fitted to our own solutions at 96 local radii, ratios 1 to 50 (good to 0.03 there). */
    double near = l * reach / length, rho = 1 / ratio, share = 0.3 + 0.7 * rho * sqrt(rho);
    double ends = 1 / within_reach(ratio, near) - long_cone(ratio, near);
    ends += share * (1 / rfy_tube_transmission(length) - 1 / rfy_tube_transmission(reach) -
                     3.0 / 8 * (length - reach));
    return 1 / (long_cone(ratio, l) + ends);
}
