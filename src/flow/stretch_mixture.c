#include <math.h>
#include <string.h>
#include "core/bernoulli.h"
#include "flow/stretch_parts.h"
#include "gas/mixture_inline.h"

#define PI RFY_STRETCH_PI

enum { MOST_LANES = RFY_MAX_GASES / RFY_LANES };

/* The drift Z of each gas against the walls and the other gases: p1 Z + (p1 - p2) B(Z) = t, t =
 * extra + p1 - p2, monotone in Z, by Newton (convex or concave throughout, so it cannot oscillate).
 * It starts where (sqrt(Z^2 + 4) - Z)/2, which is close to B(Z) everywhere, solves the equation.
 * B(Z) and B'(Z) come back. */
RFY_INLINE void drift(double p1, double p2, const rfy_v4 *extra, const int lanes, rfy_v4 *z,
                      rfy_v4 *b, rfy_v4 *db) {
    const double dp = p1 - p2, mean = 0.5 * (p1 + p2), p1p2 = p1 * p2;
    rfy_v4 t[MOST_LANES];
    RFY_UNROLL
    for (int v = 0; v < lanes; v++) {
        t[v] = extra[v] + dp;
        rfy_v4 root = t[v] * t[v] + 4 * p1p2;
        RFY_UNROLL
        for (int i = 0; i < RFY_LANES; i++)
            root[i] = sqrt(root[i]);
        root *= 0.5 * dp;
        const rfy_v4i along = dp < 0 ? t[v] < 0 : t[v] >= 0;
        z[v] = RFY_SELECT(along, extra[v] * (t[v] + dp), t[v] * mean - root) /
               RFY_SELECT(along, t[v] * mean + root, rfy_all(p1p2));
        if (dp == 0)
            z[v] = t[v] / p1;
    }
    for (int i = 0; i < 60; i++) {
        rfy_v4 change[MOST_LANES];
        rfy_v4i open = {0};
        RFY_UNROLL
        for (int v = 0; v < lanes; v++) {
            b[v] = rfy_bernoulli(z[v], &db[v]);
            change[v] = (p1 * z[v] + dp * b[v] - t[v]) / (p1 + dp * db[v]);
            open |= rfy_magnitude(change[v]) > 1e-7 * rfy_magnitude(z[v]) + 1e-14;
            z[v] -= change[v];
        }
        if (!rfy_any(open)) {
            /* the last correction, to first order in B as well */
            RFY_UNROLL
            for (int v = 0; v < lanes; v++)
                b[v] -= db[v] * change[v];
            break;
        }
    }
}

/* One step of Gauss and Jordan's elimination: what multiple of row k every other row loses. No
 * pivoting: the matrix is column diagonally dominant with positive diagonal (an M-matrix). */
RFY_INLINE void pivot(const rfy_v4 *column, const int k, const int lanes, rfy_v4 *multiple,
                      rfy_v4 *inverse_pivot) {
    const double inverse = 1 / column[k / RFY_LANES][k % RFY_LANES];
    inverse_pivot[k / RFY_LANES][k % RFY_LANES] = inverse;
    RFY_UNROLL
    for (int v = 0; v < lanes; v++)
        multiple[v] = inverse * column[v];
    multiple[k / RFY_LANES][k % RFY_LANES] = 0;
}

RFY_INLINE void eliminate(rfy_v4 *column, const int k, const int lanes, const rfy_v4 *multiple) {
    const double f = column[k / RFY_LANES][k % RFY_LANES];
    RFY_UNROLL
    for (int v = 0; v < lanes; v++)
        column[v] -= f * multiple[v];
}

/* Everything about the mixture at one instant that flow and derivatives share. */
typedef struct blend {
    rfy_v4 a[MOST_LANES], b[MOST_LANES], inv_kappa[MOST_LANES], resist[MOST_LANES],
        diffusive[MOST_LANES], u[MOST_LANES], z[MOST_LANES], bz[MOST_LANES], dbz[MOST_LANES],
        flow[MOST_LANES];
    rfy_v4 inverse[RFY_MAX_GASES][MOST_LANES]; /* columns of H^-1, when derivatives are wanted */
    rfy_stretch_common c;
    rfy_mixture_state gas;
    rfy_mixture_slopes slopes;
    double p1, p2, mean, q1, q2, w;
    bool nothing;
} blend;

RFY_INLINE void blend_flow(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                           const double *a, const double *b, const bool derivatives, blend *x,
                           const int n, const int lanes) {
    const double rt = RFY_R * run->temperature, inv_kappa = 4 * rt / run->area;
    const rfy_v4 zero = {0};
    rfy_v4 m[MOST_LANES], sum1 = zero, sum2 = zero;
    rfy_to_lanes(a, n, lanes, x->a);
    rfy_to_lanes(b, n, lanes, x->b);
    RFY_UNROLL
    for (int v = 0; v < lanes; v++) {
        /* an amount may stand a hair below zero within the solver's floor: the composition ignores
         * it */
        rfy_v4 left = RFY_SELECT(x->a[v] > 0, x->a[v], zero),
               right = RFY_SELECT(x->b[v] > 0, x->b[v], zero);
        m[v] = 0.5 * (left + right);
        sum1 += left;
        sum2 += right;
        x->inv_kappa[v] = inv_kappa * mix->inv_mean_speed.v[v];
    }
    x->p1 = rfy_sum(sum1);
    x->p2 = rfy_sum(sum2);
    const double mean = x->mean = 0.5 * (x->p1 + x->p2);
    x->nothing = !(mean > 1e-100); /* one molecule in 1e80 m3: no overflow of its inverse */
    if (x->nothing) {              /* no gas at all: the molecular limit */
        double tau =
            run->first / (1 + (opening < 1 ? (1 / opening - 1) * run->first : 0)) * run->scale;
        x->c.rarefied = tau;
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            x->flow[v] = tau * (x->a[v] - x->b[v]) / x->inv_kappa[v];
        return;
    }
    rfy_mixture_in_lanes(mix, m, mean, n, lanes, &x->gas, derivatives ? &x->slopes : NULL);
    rfy_stretch_common_at(run, &x->gas, opening, x->p1, x->p2, derivatives, &x->c);

    /* Diffusive part (dusty-gas form, Mason and Malinauskas 1983): along the stretch each gas obeys
     *   -dp_i/ds = h_i N_i^D - p_i U_i,  h_i = 1/K_i + sum_j m_j omega_ij,  U_i = sum_j omega_ij
     * N_j^D (1/k_ij = x_j/(A D_ij/(L RT)), and D ~ 1/p makes x_j/k_ij = m_j omega_ij). With the
     * mean composition m the ends give a linear system for N^D: (h_i - m_i omega_ii) N_i - m_i sum
     * omega_ij N_j = a_i - b_i. */
    const double w = x->w = x->c.diffusive_length * rt / (run->area * run->scale),
                 inv_tau = 1 / x->c.rarefied;
    rfy_v4 h[RFY_MAX_GASES][MOST_LANES], minus_wm[MOST_LANES], inverse_pivot[MOST_LANES];
    RFY_UNROLL
    for (int v = 0; v < lanes; v++) {
        x->resist[v] = inv_tau * x->inv_kappa[v];
        x->diffusive[v] = x->a[v] - x->b[v];
        minus_wm[v] = -w * m[v];
        inverse_pivot[v] = zero;
    }
    RFY_UNROLL
    for (int j = 0; j < n; j++) {
        const double f = minus_wm[j / RFY_LANES][j % RFY_LANES];
        RFY_UNROLL
        for (int v = 0; v < lanes; v++) {
            x->resist[v] -= f * mix->inv_dp[j].v[v];
            h[j][v] = minus_wm[v] * mix->inv_dp[j].v[v];
        }
    }
    RFY_UNROLL
    for (int j = 0; j < n; j++) {
        h[j][j / RFY_LANES][j % RFY_LANES] += x->resist[j / RFY_LANES][j % RFY_LANES];
        RFY_UNROLL
        for (int v = 0; v < lanes && derivatives; v++)
            x->inverse[j][v] = zero;
        if (derivatives)
            x->inverse[j][j / RFY_LANES][j % RFY_LANES] = 1;
    }
    RFY_UNROLL
    for (int k = 0; k < n; k++) {
        rfy_v4 multiple[MOST_LANES];
        pivot(h[k], k, lanes, multiple, inverse_pivot);
        RFY_UNROLL
        for (int j = k + 1; j < n; j++)
            eliminate(h[j], k, lanes, multiple);
        eliminate(x->diffusive, k, lanes, multiple);
        RFY_UNROLL
        for (int j = 0; j <= k && derivatives; j++)
            eliminate(x->inverse[j], k, lanes, multiple);
    }
    RFY_UNROLL
    for (int v = 0; v < lanes; v++) {
        x->diffusive[v] *= inverse_pivot[v];
        RFY_UNROLL
        for (int j = 0; j < n && derivatives; j++)
            x->inverse[j][v] *= inverse_pivot[v];
    }

    /* With the viscous flow on top the exact solution of the same equation is an exponential
     * profile: N_i = [a_i B(-Z_i) - b_i B(Z_i)]/h_i,  p1 B(-Z_i) - p2 B(Z_i) = h_i N_v + mean U_i +
     * (p1 - p2) where the second line fixes the drift Z_i so that the whole mixture behaving as gas
     * i would flow as one gas does. One gas, and identical twins together, are then exact; so is
     * molecular flow (Z = 0); a trace at rest obeys e^-Z; and no gas is ever drawn from a side that
     * has none of it, which the linear form alone would do. (Exponential fitting: Scharfetter and
     * Gummel 1969.) */
    const double nv = x->c.viscous,
                 least = 1e-13 * mean; /* an empty side keeps the equation solvable */
    rfy_v4 extra[MOST_LANES];
    x->q1 = x->p1 + least;
    x->q2 = x->p2 + least;
    RFY_UNROLL
    for (int v = 0; v < lanes; v++)
        x->u[v] = zero;
    RFY_UNROLL
    for (int j = 0; j < n; j++) {
        const double f = w * x->diffusive[j / RFY_LANES][j % RFY_LANES];
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            x->u[v] += f * mix->inv_dp[j].v[v];
    }
    RFY_UNROLL
    for (int v = 0; v < lanes; v++)
        extra[v] = x->resist[v] * nv + mean * x->u[v];
    drift(x->q1, x->q2, extra, lanes, x->z, x->bz, x->dbz);
    RFY_UNROLL
    for (int v = 0; v < lanes; v++)
        x->flow[v] = (x->a[v] * x->z[v] + (x->a[v] - x->b[v]) * x->bz[v]) / x->resist[v];
}

/* What U does when a gas more is at an end or in the mean, and when tau' changes: it is the same
 * for both sides. */
typedef struct bends {
    rfy_v4 by_end[RFY_MAX_GASES][MOST_LANES];  /* [j] column of w omega H^-1 */
    rfy_v4 by_mean[RFY_MAX_GASES][MOST_LANES]; /* [j] the same by (dH/dm_j) N */
    rfy_v4 by_tau[MOST_LANES];
} bends;

/* out += matrix x, with the columns of the matrix in vectors */
RFY_INLINE void times(rfy_v4 (*matrix)[MOST_LANES], const rfy_v4 *x, const int n, const int lanes,
                      rfy_v4 *out) {
    RFY_UNROLL
    for (int k = 0; k < n; k++) {
        const double f = x[k / RFY_LANES][k % RFY_LANES];
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            out[v] += f * matrix[k][v];
    }
}

RFY_INLINE void bend(const rfy_mixture *mix, const blend *x, const int n, const int lanes,
                     bends *out) {
    /* d N^D = H^-1 (+-e_j - (dH/dm_j) N/2 + N/(tau'^2 kappa) d tau'), and dU = w omega d N^D with
     * (dH/dm_j) N = w omega_.j N_. - e_j U_j */
    rfy_v4 push[MOST_LANES];
    const double inv_tau = 1 / x->c.rarefied;
    for (int j = 0; j < n; j++) {
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            out->by_end[j][v] = (rfy_v4){0};
        RFY_UNROLL
        for (int k = 0; k < n; k++) {
            const double f = x->w * x->inverse[j][k / RFY_LANES][k % RFY_LANES];
            RFY_UNROLL
            for (int v = 0; v < lanes; v++)
                out->by_end[j][v] += f * mix->inv_dp[k].v[v];
        }
    }
    for (int j = 0; j < n; j++) {
        RFY_UNROLL
        for (int v = 0; v < lanes; v++) {
            out->by_mean[j][v] = (rfy_v4){0};
            push[v] = x->w * mix->inv_dp[j].v[v] * x->diffusive[v];
        }
        times(out->by_end, push, n, lanes, out->by_mean[j]);
    }
    RFY_UNROLL
    for (int v = 0; v < lanes; v++) {
        out->by_tau[v] = (rfy_v4){0};
        push[v] = x->diffusive[v] * x->inv_kappa[v] * (inv_tau * inv_tau);
    }
    times(out->by_end, push, n, lanes, out->by_tau);
}

/* Derivatives by the partial pressures of one side; out is row-major n x n. */
RFY_INLINE void blend_derivatives(const rfy_mixture *mix, const blend *x, const bends *bent,
                                  const int side, double *out, const int n, const int lanes) {
    const rfy_stretch_common *c = &x->c;
    const rfy_v4 zero = {0};
    const int by_p = side ? BY_P2 : BY_P1;
    rfy_v4 inv_resist[MOST_LANES], shape[MOST_LANES], inv_bottom[MOST_LANES], own[MOST_LANES],
        half[MOST_LANES], alive[MOST_LANES], d_nv[MOST_LANES], d_tau[MOST_LANES], end[MOST_LANES];
    RFY_UNROLL
    for (int v = 0; v < lanes; v++) {
        const rfy_v4i there = (side ? x->b[v] : x->a[v]) >= 0;
        inv_resist[v] = 1 / x->resist[v];
        shape[v] = x->a[v] + (x->a[v] - x->b[v]) * x->dbz[v];
        inv_bottom[v] = 1 / (x->q1 + (x->q1 - x->q2) * x->dbz[v]);
        own[v] = (side ? -x->bz[v] : x->z[v] + x->bz[v]) * inv_resist[v];
        /* composition and totals see only positive amounts */
        half[v] = RFY_SELECT(there, rfy_all(0.5), zero);
        alive[v] = RFY_SELECT(there, rfy_all(1), zero);
        d_nv[v] = alive[v] * c->d_viscous[by_p] +
                  half[v] * (c->d_viscous[BY_MU] * x->slopes.viscosity[v] +
                             c->d_viscous[BY_M] * x->slopes.mass[v] +
                             c->d_viscous[BY_GAMMA] * x->slopes.gamma[v]);
        d_tau[v] = alive[v] * c->d_rarefied[by_p] +
                   half[v] * (c->d_rarefied[BY_MU] * x->slopes.viscosity[v] +
                              c->d_rarefied[BY_M] * x->slopes.mass[v] +
                              c->d_rarefied[BY_GAMMA] * x->slopes.gamma[v]);
        end[v] = (side ? -1.0 : 1.0) + half[v] * x->u[v];
    }
    const double inv_tau = 1 / c->rarefied;
    for (int j = 0; j < n; j++) {
        const int jv = j / RFY_LANES, jl = j % RFY_LANES;
        const double half_j = half[jv][jl], d_q = alive[jv][jl], tau_j = d_tau[jv][jl],
                     nv_j = d_nv[jv][jl], end_j = end[jv][jl];
        const double kd = -tau_j * (inv_tau * inv_tau); /* d (1/tau') */
        const double d_q1 = side ? 0 : d_q, d_p = side ? -d_q : d_q;
        rfy_v4 column[MOST_LANES];
        RFY_UNROLL
        for (int v = 0; v < lanes; v++) {
            rfy_v4 d_u =
                tau_j * bent->by_tau[v] + end_j * bent->by_end[j][v] - half_j * bent->by_mean[j][v];
            rfy_v4 d_h = kd * x->inv_kappa[v] + half_j * x->w * mix->inv_dp[j].v[v];
            rfy_v4 d_t =
                c->viscous * d_h + nv_j * x->resist[v] + half_j * x->u[v] + x->mean * d_u + d_p;
            rfy_v4 d_z = (d_t - d_q1 * x->z[v] - d_p * x->bz[v]) * inv_bottom[v];
            column[v] = (shape[v] * d_z - x->flow[v] * d_h) * inv_resist[v];
        }
        column[jv][jl] += own[jv][jl];
        RFY_UNROLL
        for (int i = 0; i < n; i++)
            out[i * n + j] = column[i / RFY_LANES][i % RFY_LANES];
    }
}

RFY_INLINE void flow_and_derivatives_in(const rfy_stretch *run, const rfy_mixture *mix,
                                        double opening, const double *a, const double *b,
                                        double *flow, double *by_a, double *by_b, const int n,
                                        const int lanes) {
    blend x;
    blend_flow(run, mix, opening, a, b, true, &x, n, lanes);
    rfy_from_lanes(x.flow, n, flow);
    if (x.nothing) {
        for (int i = 0; i < n; i++)
            for (int j = 0; j < n; j++) {
                by_a[i * n + j] =
                    i == j ? x.c.rarefied / x.inv_kappa[i / RFY_LANES][i % RFY_LANES] : 0;
                by_b[i * n + j] = -by_a[i * n + j];
            }
        return;
    }
    bends bent;
    bend(mix, &x, n, lanes, &bent);
    blend_derivatives(mix, &x, &bent, 0, by_a, n, lanes);
    blend_derivatives(mix, &x, &bent, 1, by_b, n, lanes);
}

RFY_INLINE void flow_only_in(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                             const double *a, const double *b, double *flow, const int n,
                             const int lanes) {
    blend x;
    blend_flow(run, mix, opening, a, b, false, &x, n, lanes);
    rfy_from_lanes(x.flow, n, flow);
}

/* The usual numbers of gases as constants for the compiler; others are filled up with gases that
 * are not there. */
#define KERNELS(n, exactly, padded)                                                                \
    switch (n) {                                                                                   \
    case 1:                                                                                        \
        exactly(1, 1);                                                                             \
        break;                                                                                     \
    case 4:                                                                                        \
        exactly(4, 1);                                                                             \
        break;                                                                                     \
    case 5:                                                                                        \
        exactly(5, 2);                                                                             \
        break;                                                                                     \
    case 6:                                                                                        \
        exactly(6, 2);                                                                             \
        break;                                                                                     \
    default:                                                                                       \
        if ((n) < 4)                                                                               \
            padded(4, 1);                                                                          \
        else if ((n) <= 8)                                                                         \
            padded(8, 2);                                                                          \
        else                                                                                       \
            padded(16, 4);                                                                         \
    }

static void fill_up(double *to, const double *from, int n) {
    memset(to, 0, RFY_MAX_GASES * sizeof *to);
    memcpy(to, from, (size_t)n * sizeof *to);
}

RFY_WIDE
static void flow_only(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                      const double *a, const double *b, double *flow) {
    double more_a[RFY_MAX_GASES], more_b[RFY_MAX_GASES], more[RFY_MAX_GASES];
#define EXACTLY(n, lanes) flow_only_in(run, mix, opening, a, b, flow, n, lanes)
#define PADDED(N, L)                                                                               \
    do {                                                                                           \
        fill_up(more_a, a, mix->n);                                                                \
        fill_up(more_b, b, mix->n);                                                                \
        flow_only_in(run, mix, opening, more_a, more_b, more, N, L);                               \
        memcpy(flow, more, (size_t)mix->n * sizeof *flow);                                         \
    } while (0)
    KERNELS(mix->n, EXACTLY, PADDED)
#undef EXACTLY
#undef PADDED
}

RFY_WIDE
static void flow_and_derivatives(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                                 const double *a, const double *b, double *flow, double *by_a,
                                 double *by_b) {
    double more_a[RFY_MAX_GASES], more_b[RFY_MAX_GASES], more[RFY_MAX_GASES],
        more_by[2][RFY_MAX_GASES * RFY_MAX_GASES];
#define EXACTLY(n, lanes)                                                                          \
    flow_and_derivatives_in(run, mix, opening, a, b, flow, by_a, by_b, n, lanes)
#define PADDED(N, L)                                                                               \
    do {                                                                                           \
        fill_up(more_a, a, mix->n);                                                                \
        fill_up(more_b, b, mix->n);                                                                \
        flow_and_derivatives_in(run, mix, opening, more_a, more_b, more, more_by[0], more_by[1],   \
                                N, L);                                                             \
        for (int i = 0; i < mix->n; i++) {                                                         \
            flow[i] = more[i];                                                                     \
            for (int j = 0; j < mix->n; j++) {                                                     \
                by_a[i * mix->n + j] = more_by[0][i * (N) + j];                                    \
                by_b[i * mix->n + j] = more_by[1][i * (N) + j];                                    \
            }                                                                                      \
        }                                                                                          \
    } while (0)
    KERNELS(mix->n, EXACTLY, PADDED)
#undef EXACTLY
#undef PADDED
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
