#include <math.h>
#include <string.h>
#include "core/bernoulli.h"
#include "flow/stretch_parts.h"

#define PI RFY_STRETCH_PI

/* The drift Z of each gas against the walls and the other gases: p1 Z + (p1 - p2) B(Z) = t, t =
 * extra + p1 - p2, monotone in Z, by Newton (convex or concave throughout, so it cannot oscillate).
 * It starts where (sqrt(Z^2 + 4) - Z)/2, which is close to B(Z) everywhere, solves the equation.
 * B(Z) and B'(Z) come back. */
RFY_INLINE void drift(const rfy_v4 p1, const rfy_v4 p2, const rfy_v4 *extra, const int n, rfy_v4 *z,
                      rfy_v4 *b, rfy_v4 *db) {
    const rfy_v4 dp = p1 - p2, mean = 0.5 * (p1 + p2), p1p2 = p1 * p2, inv_p1 = 1 / p1;
    const rfy_v4i level = dp == 0, down = dp < 0;
    rfy_v4 t[RFY_MAX_GASES];
    for (int i = 0; i < n; i++) {
        t[i] = extra[i] + dp;
        const rfy_v4 root = 0.5 * dp * rfy_sqrt(t[i] * t[i] + 4 * p1p2);
        const rfy_v4i along = (down & (t[i] < 0)) | (~down & (t[i] >= 0));
        z[i] = RFY_SELECT(along, extra[i] * (t[i] + dp), t[i] * mean - root) /
               RFY_SELECT(along, t[i] * mean + root, p1p2);
        z[i] = RFY_SELECT(level, t[i] * inv_p1, z[i]);
    }
    for (int round = 0; round < 60; round++) {
        rfy_v4 change[RFY_MAX_GASES];
        rfy_v4i open = {0};
        for (int i = 0; i < n; i++) {
            b[i] = rfy_bernoulli(z[i], &db[i]);
            change[i] = (p1 * z[i] + dp * b[i] - t[i]) / (p1 + dp * db[i]);
            open |= rfy_magnitude(change[i]) > 1e-7 * rfy_magnitude(z[i]) + 1e-14;
            z[i] -= change[i];
        }
        if (!rfy_any(open)) {
            /* the last correction, to first order in B as well */
            for (int i = 0; i < n; i++)
                b[i] -= db[i] * change[i];
            break;
        }
    }
}

/* Everything about the mixtures at one instant that flow and derivatives share. */
typedef struct blend {
    rfy_v4 a[RFY_MAX_GASES], b[RFY_MAX_GASES], inv_kappa[RFY_MAX_GASES], resist[RFY_MAX_GASES],
        diffusive[RFY_MAX_GASES], u[RFY_MAX_GASES], z[RFY_MAX_GASES], bz[RFY_MAX_GASES],
        dbz[RFY_MAX_GASES];
    rfy_v4 inverse[RFY_MAX_GASES][RFY_MAX_GASES]; /* columns of H^-1, when derivatives are wanted */
    rfy_stretch_common c;
    rfy_mixture_four gas, slopes[RFY_MAX_GASES];
    rfy_v4 p1, p2, mean, q1, q2, w;
    rfy_v4i nothing;
} blend;

/* Solves (diag - m_i pull_ij off the diagonal) d = d in place, pull symmetric, by elimination. Rows
 * are their composition times what stays symmetric, so that half of it is enough, and no number is
 * ever the difference of others but on the diagonal. No pivoting: the matrix is column diagonally
 * dominant with positive diagonal (an M-matrix). */
RFY_INLINE void eliminate_symmetric(rfy_v4 (*pull)[RFY_MAX_GASES], rfy_v4 *diagonal,
                                    const rfy_v4 *m, rfy_v4 *d, const int n) {
    rfy_v4 inverse_pivot[RFY_MAX_GASES];
    RFY_UNROLL
    for (int k = 0; k < n; k++) {
        const rfy_v4 inverse = inverse_pivot[k] = 1 / diagonal[k];
        const rfy_v4 share = m[k] * inverse, moved = d[k] * inverse;
        RFY_UNROLL
        for (int i = k + 1; i < n; i++) {
            /* products that need not wait for the division first */
            const rfy_v4 own = m[i] * pull[i][k];
            diagonal[i] -= own * pull[i][k] * share;
            d[i] += own * moved;
            RFY_UNROLL
            for (int j = k + 1; j < i; j++)
                pull[i][j] += pull[i][k] * pull[j][k] * share;
        }
    }
    RFY_UNROLL
    for (int k = n - 1; k >= 0; k--) {
        rfy_v4 sum = {0};
        RFY_UNROLL
        for (int j = k + 1; j < n; j++)
            sum += pull[j][k] * d[j];
        d[k] = (d[k] + m[k] * sum) * inverse_pivot[k];
    }
}

/* Gauss and Jordan's elimination of (h | d) and of the unit matrix beside it, for the inverse. */
RFY_INLINE void invert(rfy_v4 (*h)[RFY_MAX_GASES], rfy_v4 *d, rfy_v4 (*inverse)[RFY_MAX_GASES],
                       const int n) {
    rfy_v4 inverse_pivot[RFY_MAX_GASES];
    RFY_UNROLL
    for (int k = 0; k < n; k++) {
        inverse_pivot[k] = 1 / h[k][k];
        RFY_ROLLED
        for (int i = 0; i < n; i++) {
            if (i == k)
                continue;
            const rfy_v4 multiple = h[k][i] * inverse_pivot[k];
            RFY_UNROLL
            for (int j = k + 1; j < n; j++)
                h[j][i] -= multiple * h[j][k];
            d[i] -= multiple * d[k];
            RFY_UNROLL
            for (int j = 0; j < k; j++)
                inverse[j][i] -= multiple * inverse[j][k];
            inverse[k][i] = -multiple;
        }
        inverse[k][k] = rfy_all(1);
    }
    for (int i = 0; i < n; i++) {
        d[i] *= inverse_pivot[i];
        for (int j = 0; j < n; j++)
            inverse[j][i] *= inverse_pivot[i];
    }
}

RFY_INLINE void blend_flow(const rfy_stretch_four *four, const rfy_mixture *mix,
                           const bool derivatives, blend *x, rfy_v4 *flow, const int n) {
    const rfy_stretch *const *run = four->run;
    const rfy_v4 rt = RFY_R * (rfy_v4){run[0]->temperature, run[1]->temperature,
                                       run[2]->temperature, run[3]->temperature},
                 area = {run[0]->area, run[1]->area, run[2]->area, run[3]->area},
                 scale = {run[0]->scale, run[1]->scale, run[2]->scale, run[3]->scale},
                 inv_kappa = 4 * rt / area, zero = {0};
    rfy_v4 m[RFY_MAX_GASES];
    x->p1 = x->p2 = zero;
    for (int i = 0; i < n; i++) {
        x->a[i] = (rfy_v4){four->a[0][i], four->a[1][i], four->a[2][i], four->a[3][i]};
        x->b[i] = (rfy_v4){four->b[0][i], four->b[1][i], four->b[2][i], four->b[3][i]};
        /* an amount may stand a hair below zero within the solver's floor: the composition ignores
         * it */
        const rfy_v4 left = RFY_SELECT(x->a[i] > 0, x->a[i], zero),
                     right = RFY_SELECT(x->b[i] > 0, x->b[i], zero);
        m[i] = 0.5 * (left + right);
        x->p1 += left;
        x->p2 += right;
        x->inv_kappa[i] = inv_kappa * mix->inv_mean_speed.d[i];
    }
    /* One molecule in 1e80 m3 is no gas at all: such a stretch follows the molecular limit, which
     * is reached in equal parts of every gas at a pressure too low to matter. */
    x->nothing = ~(x->p1 + x->p2 > 2e-100);
    if (rfy_any(x->nothing)) {
        const rfy_v4 little = rfy_all(1e-60);
        for (int i = 0; i < n; i++)
            m[i] = RFY_SELECT(x->nothing, little, m[i]);
        x->p1 = RFY_SELECT(x->nothing, n * little, x->p1);
        x->p2 = RFY_SELECT(x->nothing, n * little, x->p2);
    }
    const rfy_v4 mean = x->mean = 0.5 * (x->p1 + x->p2);
    rfy_mixture_of_four(mix, m, mean, n, &x->gas, derivatives ? x->slopes : NULL);
    rfy_stretch_common_at(run, four->opening, &x->gas, &x->p1, &x->p2, derivatives, &x->c);

    /* Diffusive part (dusty-gas form, Mason and Malinauskas 1983): along the stretch each gas obeys
     *   -dp_i/ds = h_i N_i^D - p_i U_i,  h_i = 1/K_i + sum_j m_j omega_ij,  U_i = sum_j omega_ij
     * N_j^D (1/k_ij = x_j/(A D_ij/(L RT)), and D ~ 1/p makes x_j/k_ij = m_j omega_ij). With the
     * mean composition m the ends give a linear system for N^D: (h_i - m_i omega_ii) N_i - m_i sum
     * omega_ij N_j = a_i - b_i. */
    const rfy_v4 w = x->w = x->c.diffusive_length * rt / (area * scale),
                 inv_tau = 1 / x->c.rarefied;
    if (derivatives) {
        rfy_v4 h[RFY_MAX_GASES][RFY_MAX_GASES];
        for (int i = 0; i < n; i++) {
            /* what a gas does to itself is left out, not taken off again */
            rfy_v4 others = inv_tau * x->inv_kappa[i];
            const rfy_v4 wm = w * m[i];
            for (int j = 0; j < n; j++) {
                others += i == j ? zero : w * m[j] * mix->inv_dp[i].d[j];
                h[j][i] = -wm * mix->inv_dp[i].d[j];
            }
            x->resist[i] = others - h[i][i];
            h[i][i] = others;
            x->diffusive[i] = x->a[i] - x->b[i];
        }
        invert(h, x->diffusive, x->inverse, n);
    } else {
        rfy_v4 pull[RFY_MAX_GASES][RFY_MAX_GASES], diagonal[RFY_MAX_GASES];
        for (int i = 0; i < n; i++)
            diagonal[i] = inv_tau * x->inv_kappa[i];
        RFY_UNROLL
        for (int i = 0; i < n; i++) {
            RFY_UNROLL
            for (int j = 0; j < i; j++) {
                pull[i][j] = w * mix->inv_dp[i].d[j];
                diagonal[i] += m[j] * pull[i][j];
                diagonal[j] += m[i] * pull[i][j];
            }
        }
        for (int i = 0; i < n; i++) {
            x->resist[i] = diagonal[i] + m[i] * (w * mix->inv_dp[i].d[i]);
            x->diffusive[i] = x->a[i] - x->b[i];
        }
        eliminate_symmetric(pull, diagonal, m, x->diffusive, n);
    }

    /* With the viscous flow on top the exact solution of the same equation is an exponential
     * profile: N_i = [a_i B(-Z_i) - b_i B(Z_i)]/h_i,  p1 B(-Z_i) - p2 B(Z_i) = h_i N_v + mean U_i +
     * (p1 - p2) where the second line fixes the drift Z_i so that the whole mixture behaving as gas
     * i would flow as one gas does. One gas, and identical twins together, are then exact; so is
     * molecular flow (Z = 0); a trace at rest obeys e^-Z; and no gas is ever drawn from a side that
     * has none of it, which the linear form alone would do. (Exponential fitting: Scharfetter and
     * Gummel 1969.) */
    const rfy_v4 nv = x->c.viscous,
                 least = 1e-13 * mean; /* an empty side keeps the equation solvable */
    rfy_v4 extra[RFY_MAX_GASES], pull[RFY_MAX_GASES];
    x->q1 = x->p1 + least;
    x->q2 = x->p2 + least;
    for (int j = 0; j < n; j++)
        pull[j] = w * x->diffusive[j];
    for (int i = 0; i < n; i++) {
        rfy_v4 u = zero;
        RFY_UNROLL
        for (int j = 0; j < n; j++)
            u += pull[j] * mix->inv_dp[i].d[j];
        x->u[i] = u;
        extra[i] = x->resist[i] * nv + mean * u;
    }
    drift(x->q1, x->q2, extra, n, x->z, x->bz, x->dbz);
    for (int i = 0; i < n; i++) {
        /* a small difference as a factor of its own; a strong drift as B(-Z) = Z + B(Z) >= 0, of
         * which nothing is left upwind, also where a product is not rounded before it is added */
        const rfy_v4i strong = rfy_magnitude(x->z[i]) > 1;
        flow[i] = RFY_SELECT(strong, x->a[i] * (x->z[i] + x->bz[i]) - x->b[i] * x->bz[i],
                             x->a[i] * x->z[i] + (x->a[i] - x->b[i]) * x->bz[i]) /
                  x->resist[i];
    }
    if (rfy_any(x->nothing))
        for (int i = 0; i < n; i++)
            flow[i] = RFY_SELECT(x->nothing, x->c.rarefied * (x->a[i] - x->b[i]) / x->inv_kappa[i],
                                 flow[i]);
}

/* What U does when a gas more is at an end or in the mean, and when tau' changes: it is the same
 * for both sides. */
typedef struct bends {
    rfy_v4 by_end[RFY_MAX_GASES][RFY_MAX_GASES];  /* [j] column of w omega H^-1 */
    rfy_v4 by_mean[RFY_MAX_GASES][RFY_MAX_GASES]; /* [j] the same by (dH/dm_j) N */
    rfy_v4 by_tau[RFY_MAX_GASES];
} bends;

RFY_INLINE void bend(const rfy_mixture *mix, const blend *x, const int n, bends *out) {
    /* d N^D = H^-1 (+-e_j - (dH/dm_j) N/2 + N/(tau'^2 kappa) d tau'), and dU = w omega d N^D with
     * (dH/dm_j) N = w omega_.j N_. - e_j U_j */
    const rfy_v4 zero = {0}, inv_tau = 1 / x->c.rarefied;
    RFY_ROLLED
    for (int j = 0; j < n; j++)
        for (int i = 0; i < n; i++) {
            rfy_v4 sum = zero;
            RFY_UNROLL
            for (int k = 0; k < n; k++)
                sum += x->inverse[j][k] * mix->inv_dp[i].d[k];
            out->by_end[j][i] = x->w * sum;
        }
    for (int i = 0; i < n; i++)
        out->by_tau[i] = zero;
    rfy_v4 push[RFY_MAX_GASES];
    for (int k = 0; k < n; k++) {
        const rfy_v4 by_tau = x->diffusive[k] * x->inv_kappa[k] * (inv_tau * inv_tau);
        for (int i = 0; i < n; i++)
            out->by_tau[i] += out->by_end[k][i] * by_tau;
        push[k] = x->w * x->diffusive[k];
    }
    RFY_ROLLED
    for (int j = 0; j < n; j++)
        for (int i = 0; i < n; i++) {
            rfy_v4 sum = zero;
            RFY_UNROLL
            for (int k = 0; k < n; k++)
                sum += out->by_end[k][i] * (push[k] * mix->inv_dp[j].d[k]);
            out->by_mean[j][i] = sum;
        }
}

/* Derivatives by the partial pressures of one side; out is row-major n x n. */
RFY_INLINE void blend_derivatives(const rfy_mixture *mix, const blend *x, const bends *bent,
                                  const rfy_v4 *flow, const int side, rfy_v4 *out, const int n) {
    const rfy_stretch_common *c = &x->c;
    const rfy_v4 zero = {0}, inv_tau = 1 / c->rarefied;
    const int by_p = side ? BY_P2 : BY_P1;
    rfy_v4 inv_resist[RFY_MAX_GASES], shape[RFY_MAX_GASES], inv_bottom[RFY_MAX_GASES];
    for (int i = 0; i < n; i++) {
        inv_resist[i] = 1 / x->resist[i];
        shape[i] = (x->a[i] + (x->a[i] - x->b[i]) * x->dbz[i]) * inv_resist[i];
        inv_bottom[i] = 1 / (x->q1 + (x->q1 - x->q2) * x->dbz[i]);
    }
    RFY_ROLLED
    for (int j = 0; j < n; j++) {
        /* composition and totals see only positive amounts */
        const rfy_v4i there = (side ? x->b[j] : x->a[j]) >= 0;
        const rfy_v4 alive = RFY_SELECT(there, rfy_all(1), zero), half = 0.5 * alive;
        const rfy_v4 d_nv =
            alive * c->d_viscous[by_p] + half * (c->d_viscous[BY_MU] * x->slopes[j].viscosity +
                                                 c->d_viscous[BY_M] * x->slopes[j].mass +
                                                 c->d_viscous[BY_GAMMA] * x->slopes[j].gamma);
        const rfy_v4 d_tau =
            alive * c->d_rarefied[by_p] + half * (c->d_rarefied[BY_MU] * x->slopes[j].viscosity +
                                                  c->d_rarefied[BY_M] * x->slopes[j].mass +
                                                  c->d_rarefied[BY_GAMMA] * x->slopes[j].gamma);
        const rfy_v4 end = (side ? -1.0 : 1.0) + half * x->u[j],
                     kd = -d_tau * (inv_tau * inv_tau), /* d (1/tau') */
            d_q1 = side ? zero : alive, d_p = side ? -alive : alive;
        for (int i = 0; i < n; i++) {
            const rfy_v4 d_u =
                d_tau * bent->by_tau[i] + end * bent->by_end[j][i] - half * bent->by_mean[j][i];
            const rfy_v4 d_h = kd * x->inv_kappa[i] + half * x->w * mix->inv_dp[j].d[i];
            const rfy_v4 d_t =
                c->viscous * d_h + d_nv * x->resist[i] + half * x->u[i] + x->mean * d_u + d_p;
            const rfy_v4 d_z = (d_t - d_q1 * x->z[i] - d_p * x->bz[i]) * inv_bottom[i];
            rfy_v4 by = shape[i] * d_z - flow[i] * inv_resist[i] * d_h;
            if (i == j)
                by += (side ? -x->bz[i] : x->z[i] + x->bz[i]) * inv_resist[i];
            out[i * n + j] = by;
        }
    }
    if (!rfy_any(x->nothing))
        return;
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++) {
            const rfy_v4 bare = i == j ? c->rarefied / x->inv_kappa[i] : zero;
            out[i * n + j] = RFY_SELECT(x->nothing, side ? -bare : bare, out[i * n + j]);
        }
}

RFY_INLINE void four_in(const rfy_stretch_four *four, const rfy_mixture *mix, rfy_v4 *flow,
                        rfy_v4 *by_a, rfy_v4 *by_b, const bool derivatives, const int n) {
    blend x;
    blend_flow(four, mix, derivatives, &x, flow, n);
    if (!derivatives)
        return;
    bends bent;
    bend(mix, &x, n, &bent);
    blend_derivatives(mix, &x, &bent, flow, 0, by_a, n);
    blend_derivatives(mix, &x, &bent, flow, 1, by_b, n);
}

/* The usual numbers of gases as constants for the compiler. */
#define KERNELS(derivatives)                                                                       \
    switch (mix->n) {                                                                              \
    case 1:                                                                                        \
        four_in(four, mix, flow, by_a, by_b, derivatives, 1);                                      \
        break;                                                                                     \
    case 4:                                                                                        \
        four_in(four, mix, flow, by_a, by_b, derivatives, 4);                                      \
        break;                                                                                     \
    case 5:                                                                                        \
        four_in(four, mix, flow, by_a, by_b, derivatives, 5);                                      \
        break;                                                                                     \
    case 6:                                                                                        \
        four_in(four, mix, flow, by_a, by_b, derivatives, 6);                                      \
        break;                                                                                     \
    default:                                                                                       \
        four_in(four, mix, flow, by_a, by_b, derivatives, mix->n);                                 \
    }

RFY_WIDE
static void flow_of_four(const rfy_stretch_four *four, const rfy_mixture *mix, rfy_v4 *flow) {
    rfy_v4 *by_a = NULL, *by_b = NULL;
    KERNELS(false)
}

RFY_WIDE
static void derivatives_of_four(const rfy_stretch_four *four, const rfy_mixture *mix, rfy_v4 *flow,
                                rfy_v4 *by_a, rfy_v4 *by_b) {
    KERNELS(true)
}

void rfy_stretch_flow_four(const rfy_stretch_four *four, const rfy_mixture *mix, rfy_v4 *flow,
                           rfy_v4 *by_a, rfy_v4 *by_b) {
    if (by_a)
        derivatives_of_four(four, mix, flow, by_a, by_b);
    else
        flow_of_four(four, mix, flow);
}

bool rfy_stretch_alone(const rfy_stretch *run) {
    return run->creep[0] != 0 || run->creep[1] != 0;
}

/* One stretch fills all four lanes. */
static void flow_of_one(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                        const double *a, const double *b, double *flow, double *by_a,
                        double *by_b) {
    const rfy_stretch_four four = {
        {run, run, run, run}, {opening, opening, opening, opening}, {a, a, a, a}, {b, b, b, b}};
    const int n = mix->n;
    rfy_v4 moved[RFY_MAX_GASES];
    if (!by_a) {
        flow_of_four(&four, mix, moved);
        for (int i = 0; i < n; i++)
            flow[i] = moved[i][0];
        return;
    }
    rfy_v4 by[2][RFY_MAX_GASES * RFY_MAX_GASES];
    derivatives_of_four(&four, mix, moved, by[0], by[1]);
    for (int i = 0; i < n; i++)
        flow[i] = moved[i][0];
    for (int i = 0; i < n * n; i++) {
        by_a[i] = by[0][i][0];
        by_b[i] = by[1][i][0];
    }
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
        flow_of_one(run, mix, opening, warm[0], warm[1], flow, NULL, NULL);
        return;
    }
    flow_of_one(run, mix, opening, warm[0], warm[1], flow, by_a, by_b);
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
    } else if (rfy_stretch_alone(run)) {
        flow_with_creep(run, mix, opening, a, b, flow, by_a, by_b);
    } else {
        flow_of_one(run, mix, opening, a, b, flow, by_a, by_b);
    }
}
