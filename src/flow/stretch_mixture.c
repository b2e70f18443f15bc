#include <math.h>
#include <string.h>
#include "flow/stretch_parts.h"

#define PI RFY_STRETCH_PI

#define SELECT(mask, yes, no) ((rfy_v4)(((mask) & (rfy_v4i)(yes)) | (~(mask) & (rfy_v4i)(no))))

RFY_INLINE rfy_v4 all(double value) {
    return (rfy_v4){value, value, value, value};
}

RFY_INLINE rfy_v4 magnitude(rfy_v4 x) {
    return (rfy_v4)((rfy_v4i)x & 0x7fffffffffffffffLL);
}

/* e^x - 1 to a few units in the last place, |x| <= 700: x = k ln 2 + r, Taylor's series in r
 * (|r| < 0.35, 13 terms leave 1e-17), then 2^k (e^r - 1) + (2^k - 1). */
RFY_INLINE rfy_v4 exp_minus_1(rfy_v4 x) {
    const rfy_v4 shift = all(6755399441055744.0); /* 1.5 2^52: adding it rounds to whole numbers */
    rfy_v4 rounded = x * 1.4426950408889634 + shift, k = rounded - shift;
    rfy_v4 r = (x - k * 6.93147180369123816490e-01) - k * 1.90821492927058770002e-10;
    rfy_v4 sum = all(1.0 / 6227020800);
    sum = sum * r + 1.0 / 479001600;
    sum = sum * r + 1.0 / 39916800;
    sum = sum * r + 1.0 / 3628800;
    sum = sum * r + 1.0 / 362880;
    sum = sum * r + 1.0 / 40320;
    sum = sum * r + 1.0 / 5040;
    sum = sum * r + 1.0 / 720;
    sum = sum * r + 1.0 / 120;
    sum = sum * r + 1.0 / 24;
    sum = sum * r + 1.0 / 6;
    sum = sum * r + 0.5;
    sum = r + r * r * sum;
    rfy_v4i exponent = ((rfy_v4i)rounded << 52) + (1023LL << 52);
    rfy_v4 power = (rfy_v4)exponent;
    return power * sum + (power - 1);
}

RFY_INLINE bool any(rfy_v4i mask) {
    return (mask[0] | mask[1] | mask[2] | mask[3]) != 0;
}

/* B(z) = z/(e^z - 1) and its slope: for |z| < 0.3, where most gases drift most of the time, by its
 * series with Bernoulli's numbers (the next term is below 3e-16), else from e^z. */
RFY_INLINE rfy_v4 bernoulli(rfy_v4 z, rfy_v4 *slope) {
    const rfy_v4i small = magnitude(z) < 0.3;
    const rfy_v4 z2 = z * z;
    rfy_v4 even = z2 * (1.0 / 47900160) - 1.0 / 1209600,
           odd = z2 * (10.0 / 47900160) - 8.0 / 1209600;
    even = even * z2 + 1.0 / 30240;
    odd = odd * z2 + 6.0 / 30240;
    even = even * z2 - 1.0 / 720;
    odd = odd * z2 - 4.0 / 720;
    even = even * z2 + 1.0 / 12;
    odd = odd * z2 + 2.0 / 12;
    rfy_v4 value = (z2 * even + 1) - 0.5 * z;
    *slope = z * odd - 0.5;
    if (!any(~small))
        return value;
    rfy_v4 bounded = SELECT(z > 700, all(700), SELECT(z < -700, all(-700), z));
    rfy_v4 inverse = 1 / exp_minus_1(SELECT(small, all(1), bounded)), b = z * inverse;
    *slope = SELECT(small, *slope, inverse - b * (1 + inverse));
    return SELECT(small, value, b);
}

/* The drift Z of each gas against the walls and the other gases: p1 Z + (p1 - p2) B(Z) = t, t =
 * extra + p1 - p2, monotone in Z, by Newton (convex or concave throughout, so it cannot oscillate).
 * It starts where (sqrt(Z^2 + 4) - Z)/2, which is close to B(Z) everywhere, solves the equation.
 * B(Z) and B'(Z) come back. */
RFY_INLINE rfy_v4 drift(double p1, double p2, rfy_v4 extra, rfy_v4 *b, rfy_v4 *db) {
    const double dp = p1 - p2, mean = 0.5 * (p1 + p2), p1p2 = p1 * p2;
    const rfy_v4 t = extra + dp;
    rfy_v4 z, root = t * t + 4 * p1p2;
    if (dp == 0) {
        z = t / p1;
    } else {
        for (int i = 0; i < RFY_LANES; i++)
            root[i] = 0.5 * dp * sqrt(root[i]);
        rfy_v4i along = dp < 0 ? t < 0 : t >= 0;
        rfy_v4 top = SELECT(along, extra * (t + dp), t * mean - root);
        z = top / SELECT(along, t * mean + root, all(p1p2));
    }
    for (int i = 0; i < 60; i++) {
        *b = bernoulli(z, db);
        rfy_v4 change = (p1 * z + dp * *b - t) / (p1 + dp * *db);
        rfy_v4i open = magnitude(change) > 1e-7 * magnitude(z) + 1e-14;
        z -= change;
        if (!any(open)) {
            /* the last correction, to first order in B as well */
            *b -= *db * change;
            break;
        }
    }
    return z;
}

typedef struct matrix {
    rfy_gases column[RFY_MAX_GASES];
    double inverse_pivot[RFY_MAX_GASES];
} matrix;

/* LU by columns without pivoting: the matrix is column diagonally dominant with positive diagonal
 * (an M-matrix). L is stored below the diagonal; lanes above it are zeroed in a copy so that whole
 * vectors can be used. */
RFY_INLINE void factor(int n, int lanes, matrix *h, matrix *lower) {
    for (int k = 0; k < n; k++) {
        double inverse = h->inverse_pivot[k] = 1 / h->column[k].d[k];
        rfy_gases *l = &lower->column[k];
        for (int v = 0; v < lanes; v++)
            l->v[v] = inverse * h->column[k].v[v];
        for (int i = 0; i <= k; i++)
            l->d[i] = 0;
        for (int j = k + 1; j < n; j++) {
            double f = h->column[j].d[k];
            for (int v = k / RFY_LANES; v < lanes; v++)
                h->column[j].v[v] -= f * l->v[v];
        }
    }
    for (int k = 0; k < n; k++) /* U by columns without its diagonal */
        for (int i = k; i < lanes * RFY_LANES; i++)
            h->column[k].d[i] = 0;
}

RFY_INLINE void solve(int n, int lanes, const matrix *h, const matrix *lower, rfy_gases *x) {
    for (int k = 0; k + 1 < n; k++) {
        double f = x->d[k];
        for (int v = k / RFY_LANES; v < lanes; v++)
            x->v[v] -= f * lower->column[k].v[v];
    }
    for (int k = n - 1; k >= 0; k--) {
        double f = x->d[k] *= h->inverse_pivot[k];
        for (int v = 0; v <= k / RFY_LANES; v++)
            x->v[v] -= f * h->column[k].v[v];
    }
}

/* Everything about the mixture at one instant that flow and derivatives share. */
typedef struct blend {
    rfy_gases a, b, kappa, resist, diffusive, u, z, bz, dbz, flow;
    matrix h, lower;
    rfy_stretch_common c;
    rfy_mixture_state gas;
    double d_mu[RFY_MAX_GASES], d_mass[RFY_MAX_GASES], d_gamma[RFY_MAX_GASES];
    double p1, p2, mean, q1, q2, w;
    bool nothing;
} blend;

RFY_INLINE void blend_flow(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                           const double *a, const double *b, bool derivatives, blend *x,
                           const int n, const int lanes) {
    const double rt = RFY_R * run->temperature;
    rfy_gases m;
    for (int v = 0; v < lanes; v++) {
        x->a.v[v] = x->b.v[v] = (rfy_v4){0};
        x->kappa.v[v] = run->area / (4 * rt) * mix->mean_speed.v[v];
    }
    for (int i = 0; i < n; i++) {
        x->a.d[i] = a[i];
        x->b.d[i] = b[i];
    }
    x->p1 = x->p2 = 0;
    for (int i = 0; i < lanes * RFY_LANES; i++) {
        /* an amount may stand a hair below zero within the solver's floor: the composition ignores
         * it */
        double left = x->a.d[i] > 0 ? x->a.d[i] : 0, right = x->b.d[i] > 0 ? x->b.d[i] : 0;
        m.d[i] = 0.5 * (left + right);
        x->p1 += left;
        x->p2 += right;
    }
    const double mean = x->mean = 0.5 * (x->p1 + x->p2);
    x->nothing = !(mean > 1e-100); /* one molecule in 1e80 m3: no overflow of its inverse */
    if (x->nothing) {              /* no gas at all: the molecular limit */
        double tau =
            run->first / (1 + (opening < 1 ? (1 / opening - 1) * run->first : 0)) * run->scale;
        x->c.rarefied = tau;
        for (int v = 0; v < lanes; v++)
            x->flow.v[v] = tau * x->kappa.v[v] * (x->a.v[v] - x->b.v[v]);
        return;
    }
    rfy_mixture_at(mix, m.d, &x->gas, derivatives ? x->d_mu : NULL, derivatives ? x->d_mass : NULL,
                   derivatives ? x->d_gamma : NULL);
    rfy_stretch_common_at(run, &x->gas, opening, x->p1, x->p2, derivatives, &x->c);

    /* Diffusive part (dusty-gas form, Mason and Malinauskas 1983): along the stretch each gas obeys
     *   -dp_i/ds = h_i N_i^D - p_i U_i,  h_i = 1/K_i + sum_j m_j omega_ij,  U_i = sum_j omega_ij
     * N_j^D (1/k_ij = x_j/(A D_ij/(L RT)), and D ~ 1/p makes x_j/k_ij = m_j omega_ij). With the
     * mean composition m the ends give a linear system for N^D: (h_i - m_i omega_ii) N_i - m_i sum
     * omega_ij N_j = a_i - b_i. */
    const double w = x->w = x->c.diffusive_length * rt / (run->area * run->scale);
    for (int v = 0; v < lanes; v++) {
        x->resist.v[v] = 1 / (x->c.rarefied * x->kappa.v[v]);
        x->diffusive.v[v] = x->a.v[v] - x->b.v[v];
    }
    for (int j = 0; j < n; j++) {
        double f = w * m.d[j];
        for (int v = 0; v < lanes; v++) {
            x->resist.v[v] += f * mix->inv_dp[j].v[v];
            x->h.column[j].v[v] = -w * m.v[v] * mix->inv_dp[j].v[v];
        }
    }
    for (int j = 0; j < n; j++)
        x->h.column[j].d[j] += x->resist.d[j];
    factor(n, lanes, &x->h, &x->lower);
    solve(n, lanes, &x->h, &x->lower, &x->diffusive);

    /* With the viscous flow on top the exact solution of the same equation is an exponential
     * profile: N_i = [a_i B(-Z_i) - b_i B(Z_i)]/h_i,  p1 B(-Z_i) - p2 B(Z_i) = h_i N_v + mean U_i +
     * (p1 - p2) where the second line fixes the drift Z_i so that the whole mixture behaving as gas
     * i would flow as one gas does. One gas, and identical twins together, are then exact; so is
     * molecular flow (Z = 0); a trace at rest obeys e^-Z; and no gas is ever drawn from a side that
     * has none of it, which the linear form alone would do. (Exponential fitting: Scharfetter and
     * Gummel 1969.) */
    const double nv = x->c.viscous,
                 least = 1e-13 * mean; /* an empty side keeps the equation solvable */
    const double q1 = x->q1 = x->p1 + least, q2 = x->q2 = x->p2 + least;
    for (int v = 0; v < lanes; v++)
        x->u.v[v] = (rfy_v4){0};
    for (int j = 0; j < n; j++) {
        double f = w * x->diffusive.d[j];
        for (int v = 0; v < lanes; v++)
            x->u.v[v] += f * mix->inv_dp[j].v[v];
    }
    for (int v = 0; v < lanes; v++)
        x->z.v[v] =
            drift(q1, q2, x->resist.v[v] * nv + mean * x->u.v[v], &x->bz.v[v], &x->dbz.v[v]);
    for (int v = 0; v < lanes; v++)
        x->flow.v[v] =
            (x->a.v[v] * x->z.v[v] + (x->a.v[v] - x->b.v[v]) * x->bz.v[v]) / x->resist.v[v];
}

/* Derivatives by the partial pressures of one side; out is row-major n x n. */
RFY_INLINE void blend_derivatives(const rfy_mixture *mix, const blend *x, const matrix *inverse,
                                  const rfy_gases *by_tau, const int side, double *out, const int n,
                                  const int lanes) {
    const rfy_stretch_common *c = &x->c;
    const double nv = c->viscous, w = x->w;
    const double *p = side ? x->b.d : x->a.d;
    const int by_p = side ? BY_P2 : BY_P1;
    rfy_gases inv_resist, shape, inv_bottom, own;
    for (int v = 0; v < lanes; v++) {
        inv_resist.v[v] = 1 / x->resist.v[v];
        shape.v[v] = x->a.v[v] + (x->a.v[v] - x->b.v[v]) * x->dbz.v[v];
        inv_bottom.v[v] = 1 / (x->q1 + (x->q1 - x->q2) * x->dbz.v[v]);
        own.v[v] = side ? -x->bz.v[v] : x->z.v[v] + x->bz.v[v];
    }
    for (int j = 0; j < n; j++) {
        bool alive = p[j] >= 0; /* composition and totals see only positive amounts */
        double half = alive ? 0.5 : 0, d_nv = 0, d_tau = 0;
        if (alive) {
            d_nv = c->d_viscous[by_p] +
                   half * (c->d_viscous[BY_MU] * x->d_mu[j] + c->d_viscous[BY_M] * x->d_mass[j] +
                           c->d_viscous[BY_GAMMA] * x->d_gamma[j]);
            d_tau = c->d_rarefied[by_p] +
                    half * (c->d_rarefied[BY_MU] * x->d_mu[j] + c->d_rarefied[BY_M] * x->d_mass[j] +
                            c->d_rarefied[BY_GAMMA] * x->d_gamma[j]);
        }
        /* d N^D: H^-1 applied to +-e_j - (dH/dm_j) N / 2, and the part through tau' */
        rfy_gases rhs = {{0}}, d_n, d_u, column;
        for (int v = 0; v < lanes; v++) {
            rhs.v[v] = -half * w * mix->inv_dp[j].v[v] * x->diffusive.v[v];
            d_n.v[v] = d_tau * by_tau->v[v];
            d_u.v[v] = (rfy_v4){0};
        }
        rhs.d[j] += (side ? -1 : 1) + half * x->u.d[j];
        for (int k = 0; k < n; k++)
            for (int v = 0; v < lanes; v++)
                d_n.v[v] += rhs.d[k] * inverse->column[k].v[v];
        for (int k = 0; k < n; k++)
            for (int v = 0; v < lanes; v++)
                d_u.v[v] += w * d_n.d[k] * mix->inv_dp[k].v[v];
        double kd = -d_tau / (c->rarefied * c->rarefied); /* d (1/tau') */
        double d_q = alive ? 1 : 0, d_q1 = side ? 0 : d_q, d_q2 = side ? d_q : 0;
        for (int v = 0; v < lanes; v++) {
            rfy_v4 d_h = kd / x->kappa.v[v] + half * w * mix->inv_dp[j].v[v];
            rfy_v4 d_t = nv * d_h + d_nv * x->resist.v[v] + half * x->u.v[v] + x->mean * d_u.v[v] +
                         (d_q1 - d_q2);
            rfy_v4 d_z = (d_t - d_q1 * x->z.v[v] - (d_q1 - d_q2) * x->bz.v[v]) * inv_bottom.v[v];
            column.v[v] = (shape.v[v] * d_z - x->flow.v[v] * d_h) * inv_resist.v[v];
        }
        column.d[j] += own.d[j] * inv_resist.d[j];
        for (int i = 0; i < n; i++)
            out[i * n + j] = column.d[i];
    }
}

RFY_INLINE void flow_and_derivatives_in(const rfy_stretch *run, const rfy_mixture *mix,
                                        double opening, const double *a, const double *b,
                                        double *flow, double *by_a, double *by_b, const int n,
                                        const int lanes) {
    blend x;
    blend_flow(run, mix, opening, a, b, true, &x, n, lanes);
    for (int i = 0; i < n; i++)
        flow[i] = x.flow.d[i];
    if (x.nothing) {
        for (int i = 0; i < n; i++)
            for (int j = 0; j < n; j++) {
                by_a[i * n + j] = i == j ? x.kappa.d[i] * x.c.rarefied : 0;
                by_b[i * n + j] = -by_a[i * n + j];
            }
        return;
    }
    matrix inverse; /* columns of H^-1 */
    for (int j = 0; j < n; j++) {
        for (int v = 0; v < lanes; v++)
            inverse.column[j].v[v] = (rfy_v4){0};
        inverse.column[j].d[j] = 1;
        solve(n, lanes, &x.h, &x.lower, &inverse.column[j]);
    }
    rfy_gases by_tau; /* d N^D / d tau' */
    for (int v = 0; v < lanes; v++)
        by_tau.v[v] = x.diffusive.v[v] / (x.c.rarefied * x.c.rarefied * x.kappa.v[v]);
    solve(n, lanes, &x.h, &x.lower, &by_tau);
    blend_derivatives(mix, &x, &inverse, &by_tau, 0, by_a, n, lanes);
    blend_derivatives(mix, &x, &inverse, &by_tau, 1, by_b, n, lanes);
}

RFY_INLINE void flow_only_in(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                             const double *a, const double *b, double *flow, const int n,
                             const int lanes) {
    blend x;
    blend_flow(run, mix, opening, a, b, false, &x, n, lanes);
    for (int i = 0; i < n; i++)
        flow[i] = x.flow.d[i];
}

/* The usual numbers of gases as constants for the compiler. */
RFY_WIDE
static void flow_only(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                      const double *a, const double *b, double *flow) {
#define CASE(n)                                                                                    \
    case n:                                                                                        \
        flow_only_in(run, mix, opening, a, b, flow, n, (n + RFY_LANES - 1) / RFY_LANES);           \
        break
    switch (mix->n) {
        CASE(1);
        CASE(4);
        CASE(5);
        CASE(6);
    default:
        flow_only_in(run, mix, opening, a, b, flow, mix->n, mix->lanes);
    }
#undef CASE
}

RFY_WIDE
static void flow_and_derivatives(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                                 const double *a, const double *b, double *flow, double *by_a,
                                 double *by_b) {
#define CASE(n)                                                                                    \
    case n:                                                                                        \
        flow_and_derivatives_in(run, mix, opening, a, b, flow, by_a, by_b, n,                      \
                                (n + RFY_LANES - 1) / RFY_LANES);                                  \
        break
    switch (mix->n) {
        CASE(1);
        CASE(4);
        CASE(5);
        CASE(6);
    default:
        flow_and_derivatives_in(run, mix, opening, a, b, flow, by_a, by_b, mix->n, mix->lanes);
    }
#undef CASE
}

/* Thermal transpiration: between temperatures T_a and T_b gas stands still in molecular flow when
 * p/sqrt(T) is equal (Reynolds 1879), in viscous flow when p is. Pressures are brought to the mean
 * temperature as p (T_mean/T)^gamma with gamma = 1/2 for delta -> 0 and 4.7/delta^2 for large delta
 * (thermal creep coefficient of the S-model, about 1.18 at large delta; interpolated between, the
 * two limits exact). */
static double creep_exponent(double delta, double *slope) {
    double bottom = 1 + delta * (0.6 + delta / 9.4);
    *slope = -0.5 * (0.6 + 2 * delta / 9.4) / (bottom * bottom);
    return 0.5 / bottom;
}

static void flow_with_creep(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                            const double *a, const double *b, double *flow, double *by_a,
                            double *by_b) {
    const int n = mix->n;
    double warm[2][RFY_MAX_GASES] = {{0}}, factor_[2], slope, sum = 0;
    for (int i = 0; i < n; i++)
        sum += (a[i] > 0 ? a[i] : 0) + (b[i] > 0 ? b[i] : 0);
    double gamma = creep_exponent(run->creep_delta * sum / 2, &slope);
    for (int k = 0; k < 2; k++) {
        factor_[k] = exp(gamma * run->creep[k]);
        for (int i = 0; i < n; i++)
            warm[k][i] = factor_[k] * (k ? b[i] : a[i]);
    }
    if (!by_a) {
        flow_only(run, mix, opening, warm[0], warm[1], flow);
        return;
    }
    flow_and_derivatives(run, mix, opening, warm[0], warm[1], flow, by_a, by_b);
    /* both sides' pressures depend on the mean pressure through gamma */
    double through[RFY_MAX_GASES] = {0}, d_gamma = slope * run->creep_delta / 2;
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++)
            through[i] += by_a[i * n + j] * warm[0][j] * run->creep[0] +
                          by_b[i * n + j] * warm[1][j] * run->creep[1];
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++) {
            by_a[i * n + j] = by_a[i * n + j] * factor_[0] + (a[j] >= 0 ? through[i] * d_gamma : 0);
            by_b[i * n + j] = by_b[i * n + j] * factor_[1] + (b[j] >= 0 ? through[i] * d_gamma : 0);
        }
}

void rfy_stretch_flow(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                      const double *a, const double *b, double *flow, double *by_a, double *by_b) {
    const size_t n = (size_t)mix->n;
    if (opening <= 0) {
        memset(flow, 0, n * sizeof *flow);
        if (by_a) {
            memset(by_a, 0, n * n * sizeof *by_a);
            memset(by_b, 0, n * n * sizeof *by_b);
        }
    } else if (run->creep[0] != 0 || run->creep[1] != 0) {
        flow_with_creep(run, mix, opening, a, b, flow, by_a, by_b);
    } else if (by_a) {
        flow_and_derivatives(run, mix, opening, a, b, flow, by_a, by_b);
    } else {
        flow_only(run, mix, opening, a, b, flow);
    }
}
