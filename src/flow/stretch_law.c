#include <math.h>
#include <string.h>
#include "core/bernoulli.h"
#include "flow/stretch_parts.h"

#define PI RFY_STRETCH_PI

/* ---- the rarefied part ---- */

typedef struct place {     /* where a delta lies in the table of its stretch, in each lane */
    rfy_v4i index, inside; /* of its cell; whether it is one of the cubics */
    rfy_v4 c[4], integral; /* of the cell */
    rfy_v4 from_start, t, inverse_width;
} place;

RFY_INLINE place place_of(const rfy_stretch *const run[RFY_LANES], rfy_v4 delta) {
    const rfy_v4i bits = (rfy_v4i)delta, zero = {0};
    const long long first = (1023LL + FIRST_OCTAVE) << 2; /* exponent and two bits of mantissa */
    place at;
    rfy_v4i index = (bits >> 50) - (first - 1);
    const rfy_v4i before = index<1, behind = index> CELLS;
    at.inside = ~(before | behind);
    at.index = index = (index & at.inside) | (behind & (CELLS + 1));
    /* the lower edge of the cell, and one over the octave it lies in: a power of two */
    const rfy_v4i edge = bits & ~((1LL << 50) - 1),
                  width = (2046LL << 52) - (bits & (2047LL << 52));
    const rfy_v4 last = rfy_all((double)(1LL << (FIRST_OCTAVE + OCTAVES)));
    at.from_start = delta - RFY_SELECT(behind, last, (rfy_v4)(edge & at.inside));
    at.inverse_width = 4 * (rfy_v4)((at.inside & width) | zero); /* four cells to the octave */
    at.t = at.from_start * at.inverse_width;
    const rfy_stretch_cell *cell[RFY_LANES];
    for (int i = 0; i < RFY_LANES; i++)
        cell[i] = &run[i]->cell[index[i]];
    for (int k = 0; k < 4; k++)
        at.c[k] = (rfy_v4){cell[0]->c[k], cell[1]->c[k], cell[2]->c[k], cell[3]->c[k]};
    at.integral =
        (rfy_v4){cell[0]->integral, cell[1]->integral, cell[2]->integral, cell[3]->integral};
    return at;
}

/* Mean of T_m between two deltas >= 0, with its derivatives by each. */
RFY_INLINE rfy_v4 rarefied_mean(const rfy_stretch *const run[RFY_LANES], rfy_v4 d1, rfy_v4 d2,
                                rfy_v4 *by_1, rfy_v4 *by_2) {
    const place at1 = place_of(run, d1), at2 = place_of(run, d2);
    const rfy_v4i alike = at1.index == at2.index, one_cubic = alike & at1.inside;
    /* one polynomial: the difference cancels exactly */
    const rfy_v4 c1 = at1.c[1] * (1.0 / 2), c2 = at1.c[2] * (1.0 / 3), c3 = at1.c[3] * (1.0 / 4);
    const rfy_v4 a = at1.t, b = at2.t, aa = a * a, ab = a * b, bb = b * b;
    rfy_v4 mean = at1.c[0] + c1 * (a + b) + c2 * (aa + ab + bb) + c3 * (a + b) * (aa + bb);
    *by_1 = (c1 + c2 * (2 * a + b) + c3 * (3 * aa + 2 * ab + bb)) * at1.inverse_width;
    *by_2 = (c1 + c2 * (2 * b + a) + c3 * (3 * bb + 2 * ab + aa)) * at1.inverse_width;
    if (!rfy_any(~one_cubic))
        return mean;
    rfy_v4 value[2], integral[2];
    const place *const at[2] = {&at1, &at2};
    for (int k = 0; k < 2; k++) {
        const rfy_v4 t = at[k]->t, *c = at[k]->c;
        value[k] = c[0] + t * (c[1] + t * (c[2] + t * c[3]));
        integral[k] =
            at[k]->integral +
            at[k]->from_start *
                (c[0] + t * (c[1] * (1.0 / 2) + t * (c[2] * (1.0 / 3) + t * c[3] * 0.25)));
    }
    const rfy_v4 difference = d1 - d2,
                 inverse = 1 / RFY_SELECT(difference == 0, rfy_all(1), difference);
    const rfy_v4 between = RFY_SELECT(alike, value[0], (integral[0] - integral[1]) * inverse);
    *by_1 = RFY_SELECT(one_cubic, *by_1, (value[0] - between) * inverse);
    *by_2 = RFY_SELECT(one_cubic, *by_2, (between - value[1]) * inverse);
    return RFY_SELECT(one_cubic, mean, between);
}

/* ---- the part common to all gases ---- */

/* ln r for r = 1 - q, 0.46 <= r < 1: ln r = ln c + 2 artanh((r - c)/(r + c)) with c = 1 or 0.58, so
 * that the argument stays below 0.17 and nine terms leave 1e-16. */
RFY_INLINE rfy_v4 log_of_rest(rfy_v4 q) {
    const rfy_v4i near = q < 0.28;
    const rfy_v4 c = RFY_SELECT(near, rfy_all(1), rfy_all(0.58));
    const rfy_v4 s = RFY_SELECT(near, -q, 1 - q - 0.58) / (1 - q + c), s2 = s * s;
    const rfy_v4 s4 = s2 * s2;
    const rfy_v4 low = (1.0 / 3 + s2 * (1.0 / 5)) + s4 * (1.0 / 7 + s2 * (1.0 / 9)),
                 high = (1.0 / 11 + s2 * (1.0 / 13)) + s4 * (1.0 / 15 + s2 * (1.0 / 17)),
                 sum = low + s4 * s4 * (high + s4 * s4 * (1.0 / 19));
    return RFY_SELECT(near, rfy_all(0), rfy_all(-0.54472717544167215)) + 2 * (s + s * s2 * sum);
}

/* psi^2/q of isentropic flow through a nozzle at pressure ratio r = 1 - q (Saint-Venant and
 * Wantzel 1839), with the derivatives of its logarithm by r and gamma. psi is constant below the
 * critical ratio (2/(gamma + 1))^(gamma/(gamma - 1)), which lies between 0.46 and 0.61 for any gas
 * (gamma from 1 to 1.8). */
RFY_INLINE rfy_v4 psi2_by_q(rfy_v4 q, rfy_v4 gamma, rfy_v4 *by_r, rfy_v4 *by_gamma) {
    const rfy_v4i slight = q < 1e-5, far = ~(q < 0.54);
    /* what another lane needs is worked out for a harmless q */
    const rfy_v4 safe = RFY_SELECT(slight | far, rfy_all(0.25), q), inv_gamma = 1 / gamma;
    const rfy_v4 k = (gamma - 1) * inv_gamma, r = 1 - safe;
    const rfy_v4 lr = log_of_rest(safe), rise = -rfy_exp_minus_1(k * lr), rk = 1 - rise,
                 root = r / rk; /* 1 - r^k, r^k, r^(1/gamma) */
    rfy_v4 value = 2 / k * (root * root) * (rise / safe);
    *by_r = (2 * inv_gamma - k * rk / rise) / r + 1 / safe;
    *by_gamma = -(1 / k + 2 * lr + rk * lr / rise) * inv_gamma * inv_gamma;
    if (rfy_any(slight)) { /* psi^2/q = 2 (1 - 3 q/(2 gamma) + ...) */
        value = RFY_SELECT(slight, 2 * (1 - 1.5 * q * inv_gamma), value);
        *by_r = RFY_SELECT(slight, 1.5 * inv_gamma, *by_r);
        *by_gamma = RFY_SELECT(slight, rfy_all(0), *by_gamma);
    }
    if (rfy_any(q > 0.39)) {
        const rfy_v4 ln = log_of_rest((gamma - 1) / (gamma + 1)), /* of 2/(gamma + 1) */
            inverse = 1 / (gamma - 1);
        const rfy_v4i choked = far | (rfy_v4i)(RFY_SELECT(slight, rfy_all(0), k * lr) <= ln);
        const rfy_v4 most = gamma * (rfy_exp_minus_1((gamma + 1) * inverse * ln) + 1);
        value = RFY_SELECT(choked, most / q, value);
        *by_r = RFY_SELECT(choked, 1 / q, *by_r);
        *by_gamma = RFY_SELECT(choked, inv_gamma - 2 * inverse * inverse * ln - inverse, *by_gamma);
    }
    return value;
}

/* How much of the laminar flow N_1 is left when turbulence and inertia take their share of the
 * pressure: the solution rho of G(rho Re)/Re + c rho^2 = 1, with G(Re) = f Re^2/64 and c =
 * (N_1/N_in)^2. In laminar flow G(Re) = Re and the solution is in closed form. Otherwise Newton on
 * the logarithm of the left side, which rises evenly with ln rho (slope between 1 and about 3).
 * friction_share: the first term; power: d ln G/d ln Re. */
static double left_of_laminar(const rfy_friction *friction, double re, double c,
                              double *friction_share, double *power) {
    double rho = 2 / (1 + sqrt(1 + 4 * c));
    *friction_share = rho;
    *power = 1;
    if (rho * re <= 1000)
        return rho;
    double ln_re = log(re), x = rfy_friction_real(friction, ln_re, power) - ln_re;
    if (c == 0) {
        *friction_share = 1;
        return exp(x);
    }
    if (x > log(rho)) /* both take their share: there is less left than each would leave alone */
        x = log(rho);
    for (int i = 0; i < 50; i++) {
        double a = exp(rfy_friction_laminar(friction, x + ln_re, power) - ln_re);
        double b = c * exp(2 * x), step = log(a + b) * (a + b) / (*power * a + 2 * b);
        *friction_share = a;
        x -= step;
        if (fabs(step) < 1e-12) {
            *friction_share -= a * *power * step;
            break;
        }
    }
    return exp(x);
}

#define OF(field)       ((rfy_v4){run[0]->field, run[1]->field, run[2]->field, run[3]->field})
#define OF_WHOLE(field) ((rfy_v4i){run[0]->field, run[1]->field, run[2]->field, run[3]->field})

RFY_WIDE
void rfy_stretch_common_at(const rfy_stretch *const run[RFY_LANES],
                           const double opening_[RFY_LANES], const rfy_mixture_four *gas,
                           const rfy_v4 *p1_, const rfy_v4 *p2_, bool derivatives,
                           rfy_stretch_common *out) {
    const rfy_v4 zero = {0}, one = rfy_all(1), p1 = *p1_, p2 = *p2_,
                 asked = {opening_[0], opening_[1], opening_[2], opening_[3]},
                 opening = RFY_SELECT(asked < 1, asked, one);
    const rfy_v4 rt = RFY_R * OF(temperature), radius = OF(radius), area = OF(area),
                 scale = OF(scale), mu = gas->viscosity, mass = gas->mass;
    const rfy_v4 dp = p1 - p2, mean = 0.5 * (p1 + p2), inv_mu = 1 / mu, inv_mass = 1 / mass;
    const rfy_v4 v0 = rfy_sqrt(2 * rt * inv_mass), g = radius * inv_mu / v0;

    /* rarefied part; a valve leaves an aperture of s A in series: 1/T + 1/s - 1 (Oatley 1957) */
    const rfy_v4 delta1 = g * p1, delta2 = g * p2, closed = 1 / opening;
    rfy_v4 t1, t2, tau = rarefied_mean(run, delta1, delta2, &t1, &t2);
    const rfy_v4 weight = 1 / (1 + (closed - 1) * tau);
    tau *= weight * scale;
    t1 *= weight * weight * scale * g;
    t2 *= weight * weight * scale * g;

    /* viscous part: Hagen-Poiseuille with Sampson's end correction, the valve's hole likewise */
    const rfy_v4 throat = closed / rfy_sqrt(opening),
                 ratio = OF(viscous_ratio) + 3 * PI / 8 * (throat - 1);
    out->diffusive_length = OF(diffusive_length) + radius * (PI / 2) * (rfy_sqrt(closed) - 1);
    const rfy_v4 k_v = scale * area * radius * inv_mu / (8 * rt * ratio), n_v = k_v * mean * dp;

    out->viscous = n_v;
    out->rarefied = tau;
    const rfy_v4 d_v[PARTS] = {k_v * p1, -k_v * p2, -n_v * inv_mu, zero, zero};
    const rfy_v4 t_p = t1 * p1 + t2 * p2,
                 d_tau[PARTS] = {t1, t2, -t_p * inv_mu, 0.5 * t_p * inv_mass, zero};
    if (derivatives)
        for (int i = 0; i < PARTS; i++) {
            out->d_viscous[i] = d_v[i];
            out->d_rarefied[i] = d_tau[i];
        }

    /* inertia takes less than 1e-11 where delta is below 1e-5: c < 0.07 delta^2 */
    const rfy_v4i forward = dp > 0;
    const rfy_v4 up = RFY_SELECT(forward, p1, p2);
    const rfy_v4i thick = (up > 0) & ~(g * up < 1e-5);
    if (!rfy_any(thick))
        return;
    const rfy_v4 inv_up = 1 / RFY_SELECT(thick, up, one),
                 q = RFY_SELECT(thick, rfy_magnitude(dp), zero) * inv_up;

    /* inertia: laminar flow N_1, nozzle-limited flow N_in */
    const rfy_v4 kappa = area * (1.1283791670955126 * v0) / (4 * rt); /* 2/sqrt(pi) v0 */
    const rfy_v4 diffuse = kappa * tau, lin = k_v * mean + diffuse;   /* N_1 = lin dp, laminar */
    /* Reynolds number if the flow were laminar */
    const rfy_v4 re = 2 * mass * rfy_magnitude(n_v) * radius * inv_mu / area;
    /* Of the cells of a cut line only one carries the inertia, perhaps one way only; in the others
     * there is friction alone. */
    const rfy_v4i from_1 = OF_WHOLE(inertia[0]), from_2 = OF_WHOLE(inertia[1]);
    const rfy_v4i held = thick & ((forward & from_1) | (~forward & from_2)),
                  both = (forward & from_2) | (~forward & from_1);
    const rfy_v4 cd1 = RFY_SELECT(forward, OF(cd[0][0]), OF(cd[1][0])),
                 cd0 = RFY_SELECT(forward, OF(cd[0][1]), OF(cd[1][1]));
    const rfy_v4 pc = 3.3 * mu * v0 / radius; /* makes the nozzle harmless in rarefied flow */
    rfy_v4 psi_r, psi_g, psi2 = psi2_by_q(q, gas->gamma, &psi_r, &psi_g);
    const rfy_v4 r = 1 - q;

    /* 1/Cd^2 between its two ends with r^2; a partly open valve adds a sharp hole of s A */
    const rfy_v4 cd = cd0 + (cd1 - cd0) * r * r, inv_cd = 1 / cd, hole = closed * closed - 1,
                 inv_co = 1 / (0.84 - 0.24 * r * r);
    const rfy_v4 inv = inv_cd * inv_cd + hole * inv_co * inv_co,
                 d_inv = -4 * (cd1 - cd0) * r * inv_cd * inv_cd * inv_cd +
                         hole * (2 * 0.48) * r * inv_co * inv_co * inv_co;
    const rfy_v4 top = up + pc, inv_n_in2 = inv * rt * mass / (area * area * top * top * psi2);
    const rfy_v4 n_1 = lin * up,
                 x_q = RFY_SELECT(held, n_1 * n_1 * inv_n_in2, zero); /* (N_1/N_in)^2 = x_q q */
    /* For small q = dp/p the flow goes as the root of q, whose slope has no bound: two chambers
     * joined by a wide opening would never settle numerically. Where inertia rules at q = 5e-4 the
     * law is made straight below that; it moves a pressure by less than that part of it. The end
     * cell of a cut line carries inertia one way only: there the law leaves zero as without
     * inertia, so that it has no corner at rest. */
    const rfy_v4 e = x_q * 5e-4, e2 = e * e, c_q = x_q * q, inv_e = 1 / (1 + e2);
    const rfy_v4 slow = e2 * e2 * inv_e,
                 slow_by_x = slow * (2 + e2) * inv_e; /* half of d slow/d ln x_q */
    const rfy_v4 root = rfy_sqrt(c_q * c_q + slow);
    const rfy_v4i moves = root > 0;
    const rfy_v4 inv_root = 1 / RFY_SELECT(moves, root, one);
    rfy_v4 c = root, by_x = (c_q * c_q + slow_by_x) * inv_root, /* d c/d ln x_q */
        by_q = x_q * c_q * inv_root;                            /* d c/d q */
    const rfy_v4i single = ~both & (slow > 0);
    if (rfy_any(single)) {
        const rfy_v4 root_slow = rfy_sqrt(RFY_SELECT(single, slow, one));
        c = RFY_SELECT(single, c_q * c_q / (root + root_slow), c);
        by_x = RFY_SELECT(single, by_x - slow_by_x / root_slow, by_x);
    }
    rfy_v4 rho = 2 / (1 + rfy_sqrt(1 + 4 * c)), share = rho, power = one;
    const rfy_v4i turbulent = rho * re > 1000;
    if (rfy_any(turbulent))
        for (int i = 0; i < RFY_LANES; i++)
            if (turbulent[i]) {
                double share_i, power_i;
                rho[i] = left_of_laminar(&run[i]->friction, re[i], c[i], &share_i, &power_i);
                share[i] = share_i;
                power[i] = power_i;
            }
    /* the rarefied part alone against the same nozzle: what diffuses is held back only where it is
     * a jet itself */
    const rfy_v4 n_k = diffuse * up, x_k = RFY_SELECT(held, n_k * n_k * inv_n_in2, zero),
                 c_k = x_k * q, y_k = 2 / (1 + rfy_sqrt(1 + 4 * c_k));
    /* rho N_1 less what diffuses; where next to nothing is held back, that as a difference from N_v
     */
    const rfy_v4i little = rho > 0.9;
    out->viscous = RFY_SELECT(little, n_v + (rho - 1) * lin * dp - (y_k - 1) * diffuse * dp,
                              rho * lin * dp - y_k * diffuse * dp);
    out->rarefied = y_k * tau;
    if (!derivatives)
        return;

    /* by each of p1, p2, mu, M and gamma: ln N_in^2/q, ln up, q */
    const rfy_v4 bend = psi_r - d_inv / inv, inv_top = 1 / top, inv_lin = 1 / lin,
                 inv_tau = 1 / tau;
    const rfy_v4 at_up = 2 * inv_top - bend * r * inv_up, at_down = bend * inv_up;
    const rfy_v4 d_in[PARTS] = {RFY_SELECT(forward, at_up, at_down),
                                RFY_SELECT(forward, at_down, at_up), 2 * pc * inv_mu * inv_top,
                                -pc * inv_mass * inv_top - inv_mass, psi_g};
    const rfy_v4 d_up[PARTS] = {RFY_SELECT(forward, inv_up, zero),
                                RFY_SELECT(forward, zero, inv_up), zero, zero, zero};
    const rfy_v4 d_q[PARTS] = {RFY_SELECT(forward, r * inv_up, -inv_up),
                               RFY_SELECT(forward, -inv_up, r * inv_up), zero, zero, zero};
    const rfy_v4 d_dp[PARTS] = {one, -one, zero, zero, zero};
    const rfy_v4 half_k = 0.5 * k_v, inv_nv = 1 / RFY_SELECT(n_v != 0, n_v, one);
    const rfy_v4 by_lin[PARTS] = {half_k, half_k, -k_v * mean * inv_mu, -0.5 * diffuse * inv_mass,
                                  zero};
    const rfy_v4 by_re[PARTS] = {zero, zero, -inv_mu, inv_mass, zero};
    const rfy_v4 inv_slope = 1 / (share * power + 2 * c * rho * rho),
                 inv_slope_k = 1 / (1 + 2 * c_k * y_k);
    for (int i = 0; i < PARTS; i++) {
        const rfy_v4 d_lin = kappa * d_tau[i] + by_lin[i];
        const rfy_v4 d_re = d_v[i] * inv_nv + by_re[i]; /* d ln Re */
        const rfy_v4 d_c = by_x * (2 * d_lin * inv_lin + 2 * d_up[i] - d_in[i]) + by_q * d_q[i];
        const rfy_v4 d_rho = -rho * (share * (power - 1) * d_re + rho * rho * d_c) * inv_slope;
        rfy_v4 d_ln_kt = d_tau[i] * inv_tau; /* d ln (kappa tau) */
        if (i == BY_M)
            d_ln_kt -= 0.5 * inv_mass;
        const rfy_v4 d_c_k = c_k * (2 * d_ln_kt + 2 * d_up[i] - d_in[i]) + x_k * d_q[i];
        const rfy_v4 d_ln_y_k = -y_k * d_c_k * inv_slope_k;
        out->d_rarefied[i] = y_k * (d_tau[i] + tau * d_ln_y_k);
        const rfy_v4 d_n1 = d_lin * dp + lin * d_dp[i], d_nk = d_dp[i] + dp * d_ln_kt,
                     rest = lin * dp * d_rho - diffuse * y_k * dp * d_ln_y_k;
        out->d_viscous[i] =
            rest + RFY_SELECT(little, d_v[i] + (rho - 1) * d_n1 - (y_k - 1) * diffuse * d_nk,
                              rho * d_n1 - y_k * diffuse * d_nk);
    }
}

#undef OF
#undef OF_WHOLE

double rfy_stretch_total(const rfy_stretch *run, const rfy_mixture_state *gas, double opening,
                         double p_a, double p_b) {
    const rfy_stretch *const same[RFY_LANES] = {run, run, run, run};
    const double openings[RFY_LANES] = {opening, opening, opening, opening};
    const rfy_mixture_four four = {rfy_all(gas->viscosity), rfy_all(gas->mass),
                                   rfy_all(gas->gamma)};
    const rfy_v4 a = rfy_all(p_a), b = rfy_all(p_b);
    rfy_stretch_common c;
    double rt = RFY_R * run->temperature;
    rfy_stretch_common_at(same, openings, &four, &a, &b, false, &c);
    return c.viscous[0] +
           run->area * sqrt(8 * rt / (PI * gas->mass)) / (4 * rt) * c.rarefied[0] * (p_a - p_b);
}

double rfy_stretch_knudsen(const rfy_stretch *run, const rfy_mixture_state *gas, double pressure) {
    return rfy_mean_free_path(gas->viscosity, gas->mass, run->temperature, pressure) /
           (2 * run->radius);
}

double rfy_stretch_molecular_conductance(const rfy_stretch *run, double molar_mass) {
    return run->area * rfy_mean_speed(molar_mass, run->temperature) / 4 * run->cell[0].c[0] *
           run->scale;
}
