#include <math.h>
#include <stdint.h>
#include <string.h>
#include "flow/stretch_parts.h"

#define PI RFY_STRETCH_PI

/* ---- the rarefied part ---- */

static int cell_of(double delta) {
    uint64_t bits;
    memcpy(&bits, &delta, sizeof bits);
    return (int)(bits >> 50) -
           ((1023 + FIRST_OCTAVE) << 2); /* exponent and two bits of the mantissa */
}

/* One over the width of a cell: a power of two, exactly. */
static double inverse_width(int cell) {
    const uint64_t bits = (uint64_t)(1023 + 2 - (FIRST_OCTAVE + (cell >> 2))) << 52;
    double inverse;
    memcpy(&inverse, &bits, sizeof inverse);
    return inverse;
}

/* T_m at delta, and the integral from the lower edge of its cell. */
static double rarefied_at(const rfy_stretch *run, double delta, int i, double *partial) {
    const double *c = run->cell[i].c;
    double h = run->start[i + 1] - run->start[i], t = (delta - run->start[i]) * inverse_width(i);
    *partial = h * t * (c[0] + t * (c[1] / 2 + t * (c[2] / 3 + t * c[3] / 4)));
    return c[0] + t * (c[1] + t * (c[2] + t * c[3]));
}

/* Mean of T_m between two deltas >= 0, with its derivatives by each. */
static double rarefied_mean(const rfy_stretch *run, double d1, double d2, double *by_1,
                            double *by_2) {
    int i1 = d1 > 0 ? cell_of(d1) : -1, i2 = d2 > 0 ? cell_of(d2) : -1;
    if (i1 == i2 && i1 >= 0 && i1 < CELLS) {
        /* one polynomial: the difference cancels exactly */
        const double *c = run->cell[i1].c;
        const double inverse = inverse_width(i1), c1 = c[1] / 2, c2 = c[2] / 3, c3 = c[3] / 4;
        const double a = (d1 - run->start[i1]) * inverse, b = (d2 - run->start[i1]) * inverse;
        *by_1 = (c1 + c2 * (2 * a + b) + c3 * (3 * a * a + 2 * a * b + b * b)) * inverse;
        *by_2 = (c1 + c2 * (2 * b + a) + c3 * (3 * b * b + 2 * a * b + a * a)) * inverse;
        return c[0] + c1 * (a + b) + c2 * (a * a + a * b + b * b) + c3 * (a + b) * (a * a + b * b);
    }
    double value[2], integral[2];
    const double d[2] = {d1, d2};
    const int index[2] = {i1, i2};
    for (int k = 0; k < 2; k++) {
        if (index[k] < 0) {
            value[k] = run->first;
            integral[k] = run->first * d[k];
        } else if (index[k] >= CELLS) {
            value[k] = run->last;
            integral[k] = run->integral[CELLS] + run->last * (d[k] - run->start[CELLS]);
        } else {
            double partial;
            value[k] = rarefied_at(run, d[k], index[k], &partial);
            integral[k] = run->integral[index[k]] + partial;
        }
    }
    if (d1 == d2) {
        *by_1 = *by_2 = 0;
        return value[0];
    }
    double mean = (integral[0] - integral[1]) / (d1 - d2);
    if ((i1 < 0 && i2 < 0) || (i1 >= CELLS && i2 >= CELLS))
        mean = value[0];
    *by_1 = (value[0] - mean) / (d1 - d2);
    *by_2 = (mean - value[1]) / (d1 - d2);
    return mean;
}

/* ---- the part common to all gases ---- */

/* psi^2/q of isentropic flow through a nozzle at pressure ratio r = 1 - q (Saint-Venant and
 * Wantzel 1839), with the derivatives of its logarithm by r and gamma. psi is constant below the
 * critical ratio (2/(gamma + 1))^(gamma/(gamma - 1)), which lies between 0.46 and 1/sqrt(e) for any
 * gas (gamma from 1 to 1.8). */
static double psi2_by_q(double q, double gamma, double *by_r, double *by_gamma) {
    if (q < 1e-5) { /* psi^2/q = 2 (1 - 3 q/(2 gamma) + ...) */
        *by_r = 1.5 / gamma;
        *by_gamma = 0;
        return 2 * (1 - 1.5 * q / gamma);
    }
    const double k = (gamma - 1) / gamma, r = 1 - q;
    if (!(r > 0.46) || (r < 0.61 && log(r) * k <= log(2 / (gamma + 1)))) {
        const double ln = log(2 / (gamma + 1));
        *by_r = 1 / q;
        *by_gamma = 1 / gamma - 2 / ((gamma - 1) * (gamma - 1)) * ln - 1 / (gamma - 1);
        return gamma * exp((gamma + 1) / (gamma - 1) * ln) / q;
    }
    const double lr = log1p(-q), rise = -expm1(k * lr), rk = 1 - rise; /* 1 - r^k and r^k */
    *by_r = (2 / gamma - k * rk / rise) / r + 1 / q;
    *by_gamma =
        -1 / (k * gamma * gamma) - 2 / (gamma * gamma) * lr - rk * lr / (rise * gamma * gamma);
    /* r^(2/gamma) = (r/r^k)^2 */
    const double root = r / rk;
    return 2 / k * (root * root) * (rise / q);
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

void rfy_stretch_common_at(const rfy_stretch *run, const rfy_mixture_state *gas, double opening,
                           double p1, double p2, bool derivatives, rfy_stretch_common *out) {
    const double rt = RFY_R * run->temperature, mu = gas->viscosity, mass = gas->mass;
    const double dp = p1 - p2, mean = 0.5 * (p1 + p2);
    const double v0 = sqrt(2 * rt / mass), g = run->radius / (mu * v0);

    /* rarefied part; a valve leaves an aperture of s A in series: 1/T + 1/s - 1 (Oatley 1957) */
    double t1, t2, tau = rarefied_mean(run, g * p1, g * p2, &t1, &t2);
    double extra = opening < 1 ? 1 / opening - 1 : 0, weight = 1 / (1 + extra * tau);
    tau *= weight * run->scale;
    t1 *= weight * weight * run->scale;
    t2 *= weight * weight * run->scale;
    double d_tau[PARTS] = {0};
    if (derivatives) {
        d_tau[BY_P1] = t1 * g;
        d_tau[BY_P2] = t2 * g;
        d_tau[BY_MU] = -(t1 * g * p1 + t2 * g * p2) / mu;
        d_tau[BY_M] = (t1 * g * p1 + t2 * g * p2) / (2 * mass);
    }

    /* viscous part: Hagen-Poiseuille with Sampson's end correction, the valve's hole likewise */
    double ratio = run->viscous_ratio;
    out->diffusive_length = run->diffusive_length;
    if (opening < 1) {
        ratio += 3 * PI / 8 * (1 / (opening * sqrt(opening)) - 1);
        out->diffusive_length += run->radius * PI / 2 * (1 / sqrt(opening) - 1);
    }
    double k_v = run->scale * run->area * run->radius / (8 * rt * ratio * mu);
    double n_v = k_v * mean * dp;
    const double d_v[PARTS] = {k_v * p1, -k_v * p2, derivatives ? -n_v / mu : 0, 0, 0};

    out->viscous = n_v;
    out->rarefied = tau;
    if (derivatives) {
        memcpy(out->d_viscous, d_v, sizeof d_v);
        memcpy(out->d_rarefied, d_tau, sizeof d_tau);
    }

    double up = dp > 0 ? p1 : p2, q = fabs(dp) / up;
    if (!(up > 0) || g * up < 1e-5)
        return; /* inertia takes less than 1e-11 there: c < 0.07 delta^2 */

    /* inertia: laminar flow N_1, nozzle-limited flow N_in */
    const double mean_speed = sqrt(4 / PI) * v0, kappa = run->area * mean_speed / (4 * rt);
    double lin = k_v * mean + kappa * tau; /* N_1 = lin dp, laminar */
    double d_lin[PARTS] = {0};
    if (derivatives) {
        for (int i = 0; i < PARTS; i++)
            d_lin[i] = kappa * d_tau[i];
        d_lin[BY_P1] += k_v / 2;
        d_lin[BY_P2] += k_v / 2;
        d_lin[BY_MU] -= k_v * mean / mu;
        d_lin[BY_M] -= kappa * tau / (2 * mass);
    }

    double re =
        2 * mass * fabs(n_v) * run->radius / (run->area * mu); /* if the flow were laminar */
    int from = dp > 0 ? 0 : 1, i_up = dp > 0 ? BY_P1 : BY_P2, i_dn = dp > 0 ? BY_P2 : BY_P1;
    if (!run->inertia[from]) {
        /* of the cells of a cut line only one carries the inertia; here there is friction alone */
        double share, power, rho = left_of_laminar(&run->friction, re, 0, &share, &power);
        for (int i = 0; derivatives && i < PARTS && rho < 1; i++) {
            double d_re = d_v[i] / n_v - (i == BY_MU ? 1 / mu : 0) + (i == BY_M ? 1 / mass : 0);
            double d_rho = -rho * (power - 1) * d_re / power, d_dp = i == BY_P1   ? 1
                                                                     : i == BY_P2 ? -1
                                                                                  : 0;
            out->d_viscous[i] =
                rho * (d_lin[i] * dp + lin * d_dp) + lin * dp * d_rho -
                kappa * (d_tau[i] * dp + tau * (d_dp - (i == BY_M ? 0.5 * dp / mass : 0)));
        }
        out->viscous = n_v + (rho - 1) * lin * dp;
        return;
    }
    double pc = 3.3 * mu * v0 / run->radius; /* makes the nozzle harmless in rarefied flow */
    double psi_r, psi_g, psi2 = psi2_by_q(q, gas->gamma, &psi_r, &psi_g), r = 1 - q;

    /* 1/Cd^2 between its two ends with r^2; a partly open valve adds a sharp hole of s A */
    double cd1 = run->cd[from][0], cd0 = run->cd[from][1];
    double cd = cd0 + (cd1 - cd0) * r * r, d_cd = 2 * (cd1 - cd0) * r;
    double inv = 1 / (cd * cd), d_inv = -2 * d_cd / (cd * cd * cd);
    if (opening < 1) {
        double hole = 1 / (opening * opening) - 1, co = 0.84 - 0.24 * r * r;
        inv += hole / (co * co);
        d_inv += hole * 2 * 0.48 * r / (co * co * co);
    }
    double n_in2 = run->area * run->area * (up + pc) * (up + pc) * psi2 / (inv * rt * mass);
    double n_1 = lin * up, x_q = n_1 * n_1 / n_in2; /* (N_1/N_in)^2 = x_q q */
    /* For small q = dp/p the flow goes as the root of q, whose slope has no bound: two chambers
     * joined by a wide opening would never settle numerically. Where inertia rules at q = 5e-4 the
     * law is made straight below that; it moves a pressure by less than that part of it. The end
     * cell of a cut line carries inertia one way only: there the law leaves zero as without
     * inertia, so that it has no corner at rest. */
    const double e = x_q * 5e-4, e2 = e * e, c_q = x_q * q;
    const double slow = e2 * e2 / (1 + e2),
                 slow_by_x = slow * (2 + e2) / (1 + e2); /* half of d slow/d ln x_q */
    double root = sqrt(c_q * c_q + slow), c = root;
    double by_x = root > 0 ? (c_q * c_q + slow_by_x) / root : 0; /* d c/d ln x_q */
    double by_q = root > 0 ? x_q * c_q / root : 0;               /* d c/d q */
    if (!run->inertia[1 - from] && slow > 0) {
        c = c_q * c_q / (root + sqrt(slow));
        by_x -= slow_by_x / sqrt(slow);
    }
    double share, power, rho = left_of_laminar(&run->friction, re, c, &share, &power);
    /* the rarefied part alone against the same nozzle: what diffuses is held back only where it is
     * a jet itself */
    double n_k = kappa * tau * up, x_k = n_k * n_k / n_in2, c_k = x_k * q,
           y_k = 2 / (1 + sqrt(1 + 4 * c_k));
    out->viscous = rho * lin * dp - y_k * kappa * tau * dp;
    out->rarefied = y_k * tau;
    if (!derivatives)
        return;

    for (int i = 0; i < PARTS; i++) {
        double d_re = n_v != 0 ? d_v[i] / n_v : 0; /* d ln Re */
        d_re -= i == BY_MU ? 1 / mu : 0;
        d_re += i == BY_M ? 1 / mass : 0;
        double d_in = 0, d_up = 0, d_q = 0; /* d ln N_in^2/q, d ln up */
        if (i == i_up) {
            d_in = 2 / (up + pc) - (psi_r - d_inv / inv) * r / up;
            d_up = 1 / up;
            d_q = r / up;
        } else if (i == i_dn) {
            d_in = (psi_r - d_inv / inv) / up;
            d_q = -1 / up;
        } else if (i == BY_MU) {
            d_in = 2 * pc / (mu * (up + pc));
        } else if (i == BY_M) {
            d_in = -pc / (mass * (up + pc)) - 1 / mass;
        } else {
            d_in = psi_g;
        }
        double d_c = by_x * (2 * d_lin[i] / lin + 2 * d_up - d_in) + by_q * d_q;
        double d_rho = -rho * (share * (power - 1) * d_re + rho * rho * d_c) /
                       (share * power + 2 * c * rho * rho);
        double d_ln_kt = d_tau[i] / tau - (i == BY_M ? 0.5 / mass : 0); /* d ln (kappa tau) */
        double d_c_k = c_k * (2 * d_ln_kt + 2 * d_up - d_in) + x_k * d_q;
        double d_ln_y_k = -y_k * d_c_k / (1 + 2 * c_k * y_k);
        double d_dp = i == BY_P1 ? 1 : i == BY_P2 ? -1 : 0;
        out->d_rarefied[i] = y_k * (d_tau[i] + tau * d_ln_y_k);
        out->d_viscous[i] = rho * (d_lin[i] * dp + lin * d_dp) + lin * dp * d_rho -
                            y_k * kappa * tau * (d_dp + dp * (d_ln_kt + d_ln_y_k));
    }
}

double rfy_stretch_total(const rfy_stretch *run, const rfy_mixture_state *gas, double opening,
                         double p_a, double p_b) {
    rfy_stretch_common c;
    double rt = RFY_R * run->temperature;
    rfy_stretch_common_at(run, gas, opening, p_a, p_b, false, &c);
    return c.viscous +
           run->area * sqrt(8 * rt / (PI * gas->mass)) / (4 * rt) * c.rarefied * (p_a - p_b);
}

double rfy_stretch_knudsen(const rfy_stretch *run, const rfy_mixture_state *gas, double pressure) {
    return rfy_mean_free_path(gas->viscosity, gas->mass, run->temperature, pressure) /
           (2 * run->radius);
}

double rfy_stretch_molecular_conductance(const rfy_stretch *run, double molar_mass) {
    return run->area * rfy_mean_speed(molar_mass, run->temperature) / 4 * run->first * run->scale;
}
