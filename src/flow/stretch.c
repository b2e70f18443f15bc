#include <math.h>
#include <stdint.h>
#include <string.h>
#include "flow/kinetic.h"
#include "flow/stretch.h"

#define PI 3.14159265358979323846

/* The rarefied part of the flow law, T_m(delta) = 1/[e + (1/W - 1)/J_s(delta)], as piecewise cubics on
 * cells that are quarters of an octave: the cell of a delta is read off its bits, and integrals of the
 * polynomial have the pressure difference as an exact factor. */
enum { FIRST_OCTAVE = -24, OCTAVES = 45, PER_OCTAVE = 4, CELLS = OCTAVES * PER_OCTAVE };

typedef struct cell {
    double c[4]; /* in t = (delta - start)/width */
} cell;

struct rfy_stretch {
    double temperature, radius, area;
    double ends;             /* e: apertures counted, 0 to 1 */
    double viscous_ratio;    /* viscous length/radius, end correction included */
    double diffusive_length; /* m */
    double scale;            /* n for one of n cells */
    bool inertia;
    double inverse_cd2[2][2]; /* [direction]{at r -> 1, at r -> 0}: 1/Cd^2 of the kinetic-energy loss */
    double creep[2];          /* ln(T_mean/T_end): thermal transpiration; 0 where all is at one temperature */
    double creep_delta;       /* delta per pascal of mean pressure, of air at the mean temperature */
    double first;             /* T_m below the first cell */
    double last;              /* and above the last */
    double start[CELLS + 1];
    double integral[CELLS + 1]; /* of T_m from 0 to start[i] */
    cell cell[CELLS];
    rfy_friction friction;
};

/* ---- building ------------------------------------------------------------------------------- */

static double cell_start(int i)
{
    return ldexp(1 + (double)(i % PER_OCTAVE) / PER_OCTAVE, FIRST_OCTAVE + i / PER_OCTAVE);
}

/* A channel's own curve grows without bound as delta -> 0, where in truth the length takes the place of the mean
 * free path: the curve is entered at delta + shift, with the shift that makes the molecular limit exact.
 * Body conductance sqrt(pi) (radius/length) g(delta + shift), g(shift) = length/(sqrt(pi) radius body). */
static double channel_shift(const rfy_stretch_geometry *g)
{
    double wanted = g->length / (sqrt(PI) * g->radius * g->body);
    double low = 1e-300, high = 1e3; /* g falls with its argument */
    if (!(wanted > rfy_channel_rarefied(high, NULL)))
        return -1;
    for (int i = 0; i < 200; i++) {
        double middle = sqrt(low) * sqrt(high);
        if (rfy_channel_rarefied(middle, NULL) > wanted)
            low = middle;
        else
            high = middle;
    }
    return high;
}

/* Resistance of the body at delta over that in molecular flow, and its slope. */
static double body_at(rfy_section section, double shift, double delta, double *slope)
{
    double d, value;
    if (section == RFY_SECTION_CHANNEL && shift > 0) {
        value = rfy_channel_rarefied(delta + shift, &d) / rfy_channel_rarefied(shift, NULL);
        d /= rfy_channel_rarefied(shift, NULL);
    } else {
        value = rfy_tube_rarefied(delta, &d);
    }
    *slope = -d / (value * value);
    return 1 / value;
}

static void tabulate(rfy_stretch *run, const rfy_stretch_geometry *g)
{
    double value[CELLS + 1], slope[CELLS + 1];
    double shift = g->section == RFY_SECTION_CHANNEL && g->body > 0 ? channel_shift(g) : 0;
    for (int i = 0; i <= CELLS; i++) {
        double d_body, body;
        run->start[i] = cell_start(i);
        body = g->body * body_at(g->section, shift, run->start[i], &d_body);
        value[i] = 1 / (run->ends + body);
        slope[i] = -value[i] * value[i] * g->body * d_body;
    }
    run->first = value[0];
    run->last = value[CELLS];
    slope[0] = slope[CELLS] = 0;
    run->integral[0] = run->first * run->start[0];
    for (int i = 0; i < CELLS; i++) {
        double h = run->start[i + 1] - run->start[i];
        double rise = value[i + 1] - value[i], m0 = slope[i] * h, m1 = slope[i + 1] * h;
        double *c = run->cell[i].c;
        c[0] = value[i];
        c[1] = m0;
        c[2] = 3 * rise - 2 * m0 - m1;
        c[3] = m0 + m1 - 2 * rise;
        run->integral[i + 1] =
            run->integral[i] + h * (c[0] + c[1] / 2 + c[2] / 3 + c[3] / 4);
    }
}

rfy_stretch_geometry rfy_tube_geometry(double bore, double molecular_length, double viscous_length)
{
    double radius = bore / 2, area = PI * radius * radius;
    /* transmission of the stretch itself (Clausing 1932); the apertures are counted at the ends, so that series
     * sums are the published rules (Oatley 1957 for equal bores) */
    return (rfy_stretch_geometry){
        .section = RFY_SECTION_TUBE,
        .area = area,
        .radius = radius,
        .end_area = {area, area},
        .body = 1 / rfy_tube_transmission(molecular_length / radius) - 1,
        .length = viscous_length,
        .viscous_length = viscous_length,
    };
}

const rfy_stretch *rfy_stretch_new(rfy_arena *arena, const rfy_stretch_geometry *g)
{
    rfy_stretch *run = RFY_NEW(arena, 1, rfy_stretch);
    run->temperature = 0.5 * (g->temperature[0] + g->temperature[1]);
    run->radius = g->radius;
    run->area = g->area;
    double narrow[2]; /* how much the flow is contracted entering at each end: 1 from an open chamber */
    run->ends = 0;
    for (int i = 0; i < 2; i++) {
        double ratio = g->end_area[i] * g->inverse_area[i]; /* A_end/A_node */
        run->ends += 0.5 * g->area * fabs(1 / g->end_area[i] - g->inverse_area[i]);
        narrow[i] = ratio < 1 ? (1 - ratio) * (g->area / g->end_area[i]) : 0;
        run->creep[i] = log(run->temperature / g->temperature[i]);
    }
    const double air_viscosity = 1.82e-5 * pow(run->temperature / 293.15, 0.76), air_mass = 0.02897;
    run->creep_delta =
        run->radius / (air_viscosity * sqrt(2 * RFY_R * run->temperature / air_mass));
    tabulate(run, g);
    /* Creeping flow into an orifice (Sampson 1891) adds 3 pi/8 radii of tube. */
    run->viscous_ratio = g->viscous_length / run->radius + run->ends * 3 * PI / 8;
    run->diffusive_length = g->length + run->ends * run->radius * PI / 2;
    run->scale = g->cells > 1 ? g->cells : 1;
    run->inertia = g->cells <= 1 || g->inertia;
    for (int from = 0; from < 2; from++) {
        /* Kinetic-energy loss: development of the profile with entrance and exit takes K = 2.28 between open
         * chambers (Langhaar 1942): 1.28 where the flow contracts, 1 where it spreads (Borda-Carnot). No
         * stretch passes more than a lossless nozzle: K >= 1. */
        double exit_ratio = narrow[1 - from];
        double k = 1.28 * narrow[from] + exit_ratio * exit_ratio + g->loss;
        if (k < 1)
            k = 1;
        run->inverse_cd2[from][0] = k;
        /* Into a vacuum the contraction matters less: Cd = 0.83 for a sharp inlet (Perry 1949). */
        run->inverse_cd2[from][1] = 1 + 0.35 * (k - 1);
        if (g->thin) { /* sharp-edged orifice: Cd 0.60 at small, 0.84 at large ratio (Perry 1949) */
            run->inverse_cd2[from][0] = 1 / (0.60 * 0.60);
            run->inverse_cd2[from][1] = 1 / (0.84 * 0.84);
        }
    }
    rfy_friction_build(&run->friction, g->roughness / (2 * run->radius));
    return run;
}

/* ---- the rarefied part ---------------------------------------------------------------------- */

static int cell_of(double delta)
{
    uint64_t bits;
    memcpy(&bits, &delta, sizeof bits);
    return (int)(bits >> 50) - ((1023 + FIRST_OCTAVE) << 2); /* exponent and two bits of the mantissa */
}

/* T_m at delta, and the integral from the lower edge of its cell. */
static double rarefied_at(const rfy_stretch *run, double delta, int i, double *partial)
{
    const double *c = run->cell[i].c;
    double h = run->start[i + 1] - run->start[i], t = (delta - run->start[i]) / h;
    *partial = h * t * (c[0] + t * (c[1] / 2 + t * (c[2] / 3 + t * c[3] / 4)));
    return c[0] + t * (c[1] + t * (c[2] + t * c[3]));
}

/* Mean of T_m between two deltas >= 0, with its derivatives by each. */
static double rarefied_mean(const rfy_stretch *run, double d1, double d2, double *by_1, double *by_2)
{
    int i1 = d1 > 0 ? cell_of(d1) : -1, i2 = d2 > 0 ? cell_of(d2) : -1;
    if (i1 == i2 && i1 >= 0 && i1 < CELLS) {
        /* one polynomial: the difference cancels exactly */
        const double *c = run->cell[i1].c;
        double h = run->start[i1 + 1] - run->start[i1];
        double a = (d1 - run->start[i1]) / h, b = (d2 - run->start[i1]) / h;
        *by_1 = (c[1] / 2 + c[2] / 3 * (2 * a + b) + c[3] / 4 * (3 * a * a + 2 * a * b + b * b)) / h;
        *by_2 = (c[1] / 2 + c[2] / 3 * (2 * b + a) + c[3] / 4 * (3 * b * b + 2 * a * b + a * a)) / h;
        return c[0] + c[1] / 2 * (a + b) + c[2] / 3 * (a * a + a * b + b * b) +
               c[3] / 4 * (a + b) * (a * a + b * b);
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

/* ---- the part common to all gases ------------------------------------------------------------ */

enum { BY_P1, BY_P2, BY_MU, BY_M, BY_GAMMA, PARTS };

typedef struct common {
    double viscous;              /* N_v: carried by the mixture, mol/s */
    double rarefied;             /* tau': multiplies each gas's aperture conductance */
    double d_viscous[PARTS], d_rarefied[PARTS];
    double diffusive_length;     /* m, with the valve's constriction */
} common;

/* ln (psi^2/q) of isentropic flow through a nozzle at pressure ratio r = 1 - q (Saint-Venant and Wantzel 1839), with
 * its derivatives by r and gamma. psi is constant below the critical ratio. */
static double log_psi2_by_q(double q, double gamma, double *by_r, double *by_gamma)
{
    if (q < 1e-5) { /* psi^2/q = 2 (1 - 3 q/(2 gamma) + ...) */
        *by_r = 1.5 / gamma;
        *by_gamma = 0;
        return log(2) - 1.5 * q / gamma;
    }
    double k = (gamma - 1) / gamma, lr = log1p(-q);
    double critical = log(2 / (gamma + 1)) / k;
    if (!(q < 1) || lr <= critical) {
        *by_r = 1 / q;
        *by_gamma = 1 / gamma - 2 / ((gamma - 1) * (gamma - 1)) * log(2 / (gamma + 1)) -
                    1 / (gamma - 1);
        return log(gamma) + (gamma + 1) / (gamma - 1) * log(2 / (gamma + 1)) - log(q);
    }
    double r = 1 - q, rise = -expm1(k * lr), rk = 1 - rise; /* 1 - r^k and r^k */
    *by_r = (2 / gamma - k * rk / rise) / r + 1 / q;
    *by_gamma = -1 / (k * gamma * gamma) - 2 / (gamma * gamma) * lr -
                rk * lr / (rise * gamma * gamma);
    return log(2 / k) + 2 / gamma * lr + log(rise / q);
}

/* How much of the laminar flow N_1 is left when turbulence and inertia take their share of the pressure: the
 * solution rho of G(rho Re)/Re + c rho^2 = 1, with G(Re) = f Re^2/64 and c = (N_1/N_in)^2. In laminar flow G(Re) = Re
 * and the solution is in closed form. Otherwise Newton on the logarithm of the left side, which rises evenly with
 * ln rho (slope between 1 and about 3). friction_share: the first term; power: d ln G/d ln Re. */
static double left_of_laminar(const rfy_friction *friction, double re, double c,
                              double *friction_share, double *power)
{
    double rho = 2 / (1 + sqrt(1 + 4 * c));
    *friction_share = rho;
    *power = 1;
    if (rho * re <= 1000)
        return rho;
    double ln_re = log(re), x = log(rho);
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

static void flow_common(const rfy_stretch *run, const rfy_mixture_state *gas, double opening, double p1,
                        double p2, common *out)
{
    const double rt = RFY_R * run->temperature, mu = gas->viscosity, mass = gas->mass;
    const double dp = p1 - p2, mean = 0.5 * (p1 + p2);
    const double v0 = sqrt(2 * rt / mass), g = run->radius / (mu * v0);

    /* rarefied part; a valve leaves an aperture of s A in series: 1/T + 1/s - 1 (Oatley 1957) */
    double t1, t2, tau = rarefied_mean(run, g * p1, g * p2, &t1, &t2);
    double extra = opening < 1 ? 1 / opening - 1 : 0, weight = 1 / (1 + extra * tau);
    tau *= weight * run->scale;
    t1 *= weight * weight * run->scale;
    t2 *= weight * weight * run->scale;
    double d_tau[PARTS] = {t1 * g, t2 * g, -(t1 * g * p1 + t2 * g * p2) / mu,
                           (t1 * g * p1 + t2 * g * p2) / (2 * mass), 0};

    /* viscous part: Hagen-Poiseuille with Sampson's end correction, the valve's hole likewise */
    double ratio = run->viscous_ratio;
    out->diffusive_length = run->diffusive_length;
    if (opening < 1) {
        ratio += 3 * PI / 8 * (1 / (opening * sqrt(opening)) - 1);
        out->diffusive_length += run->radius * PI / 2 * (1 / sqrt(opening) - 1);
    }
    double k_v = run->scale * run->area * run->radius / (8 * rt * ratio * mu);
    double n_v = k_v * mean * dp;
    double d_v[PARTS] = {k_v * p1, -k_v * p2, -n_v / mu, 0, 0};

    out->viscous = n_v;
    out->rarefied = tau;
    memcpy(out->d_viscous, d_v, sizeof d_v);
    memcpy(out->d_rarefied, d_tau, sizeof d_tau);

    double up = dp > 0 ? p1 : p2, q = fabs(dp) / up;
    if (!(up > 0) || g * up < 1e-5)
        return; /* inertia takes less than 1e-11 there: c < 0.07 delta^2 */

    /* inertia: laminar flow N_1, nozzle-limited flow N_in */
    double kappa = run->area * sqrt(8 * rt / (PI * mass)) / (4 * rt);
    double lin = k_v * mean + kappa * tau; /* N_1 = lin dp, laminar */
    double d_lin[PARTS];
    for (int i = 0; i < PARTS; i++)
        d_lin[i] = kappa * d_tau[i];
    d_lin[BY_P1] += k_v / 2;
    d_lin[BY_P2] += k_v / 2;
    d_lin[BY_MU] -= k_v * mean / mu;
    d_lin[BY_M] -= kappa * tau / (2 * mass);

    double re = 2 * mass * fabs(n_v) * run->radius / (run->area * mu); /* if the flow were laminar */
    int from = dp > 0 ? 0 : 1, i_up = dp > 0 ? BY_P1 : BY_P2, i_dn = dp > 0 ? BY_P2 : BY_P1;
    double pc = 3.3 * mu * v0 / run->radius; /* makes the nozzle harmless in rarefied flow */
    double psi_r, psi_g, ln_psi2 = log_psi2_by_q(q, gas->gamma, &psi_r, &psi_g), r = 1 - q;

    /* 1/Cd^2 between its two ends with r^2; a partly open valve adds a sharp hole of s A */
    double cd1 = 1 / sqrt(run->inverse_cd2[from][0]), cd0 = 1 / sqrt(run->inverse_cd2[from][1]);
    double cd = cd0 + (cd1 - cd0) * r * r, d_cd = 2 * (cd1 - cd0) * r;
    double inv = 1 / (cd * cd), d_inv = -2 * d_cd / (cd * cd * cd);
    if (opening < 1) {
        double hole = 1 / (opening * opening) - 1, co = 0.84 - 0.24 * r * r;
        inv += hole / (co * co);
        d_inv += hole * 2 * 0.48 * r / (co * co * co);
    }
    double n_in2 = run->area * run->area * (up + pc) * (up + pc) * exp(ln_psi2) / (inv * rt * mass);
    /* (N_1/N_in)^2 = x_q q; of the cells of a cut line only one carries it */
    double n_1 = lin * up, x_q = run->inertia ? n_1 * n_1 / n_in2 : 0;
    /* For small q = dp/p the flow goes as the root of q, whose slope has no bound: two chambers joined by a wide
     * opening would never settle numerically. Where inertia rules at q = 5e-4 the law is made straight below that;
     * it moves a pressure by less than that part of it. */
    const double e = x_q * 5e-4, e2 = e * e, c_q = x_q * q;
    double c = sqrt(c_q * c_q + e2 * e2 / (1 + e2));
    double c2 = c > 0 ? c * c : 1;
    double by_x = (c_q * c_q + e2 * e2 * (2 + e2) / ((1 + e2) * (1 + e2))) / c2; /* d ln c/d ln x_q */
    double by_q = x_q * c_q / c2;                                               /* d ln c/d q */
    double share, power, rho = left_of_laminar(&run->friction, re, c, &share, &power);
    /* the rarefied part alone against the same nozzle: what diffuses is held back only where it is a jet itself */
    double x_k = kappa * tau * up, c_k = (x_k = run->inertia ? x_k * x_k / n_in2 : 0) * q, y_k = 2 / (1 + sqrt(1 + 4 * c_k));

    double cr2 = c * rho * rho;
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
        double d_ln_c =
            by_x * (2 * d_lin[i] / lin + 2 * d_up - d_in) + by_q * d_q;
        double d_rho =
            -rho * (share * (power - 1) * d_re + cr2 * d_ln_c) / (share * power + 2 * cr2);
        double d_ln_kt = d_tau[i] / tau - (i == BY_M ? 0.5 / mass : 0); /* d ln (kappa tau) */
        double d_c_k = c_k * (2 * d_ln_kt + 2 * d_up - d_in) + x_k * d_q;
        double d_ln_y_k = -y_k * d_c_k / (1 + 2 * c_k * y_k);
        double d_dp = i == BY_P1 ? 1 : i == BY_P2 ? -1 : 0;
        out->d_rarefied[i] = y_k * (d_tau[i] + tau * d_ln_y_k);
        out->d_viscous[i] = rho * (d_lin[i] * dp + lin * d_dp) + lin * dp * d_rho -
                            y_k * kappa * tau * (d_dp + dp * (d_ln_kt + d_ln_y_k));
    }
    out->viscous = rho * lin * dp - y_k * kappa * tau * dp;
    out->rarefied = y_k * tau;
}

double rfy_stretch_total(const rfy_stretch *run, const rfy_mixture_state *gas, double opening, double p_a,
                     double p_b)
{
    common c;
    double rt = RFY_R * run->temperature;
    flow_common(run, gas, opening, p_a, p_b, &c);
    return c.viscous + run->area * sqrt(8 * rt / (PI * gas->mass)) / (4 * rt) * c.rarefied * (p_a - p_b);
}

double rfy_stretch_knudsen(const rfy_stretch *run, const rfy_mixture_state *gas, double pressure)
{
    return rfy_mean_free_path(gas->viscosity, gas->mass, run->temperature, pressure) /
           (2 * run->radius);
}

double rfy_stretch_molecular_conductance(const rfy_stretch *run, double molar_mass)
{
    return run->area * rfy_mean_speed(molar_mass, run->temperature) / 4 * run->first * run->scale;
}

/* ---- the mixture ----------------------------------------------------------------------------- */

/* B(z) = z/(e^z - 1) and its slope. */
static double bernoulli(double z, double *slope)
{
    if (fabs(z) < 0.02) {
        double z2 = z * z;
        *slope = -0.5 + z * (1.0 / 6 - z2 / 180);
        return 1 - z / 2 + z2 / 12 - z2 * z2 / 720;
    }
    if (z > 60) {
        *slope = 0;
        return 0;
    }
    if (z < -60) {
        *slope = -1;
        return -z;
    }
    double inverse = 1 / expm1(z), b = z * inverse;
    *slope = inverse - b * (1 + inverse);
    return b;
}

/* The drift Z of a gas against the walls and the other gases: p1 Z + (p1 - p2) B(Z) = t, monotone in Z, by Newton
 * (convex or concave throughout, so it cannot oscillate). `guess` starts it; B(Z) and B'(Z) come back. */
static double drift(double p1, double p2, double t, double guess, double *b, double *db)
{
    double z = guess, dp = p1 - p2;
    for (int i = 0; i < 60; i++) {
        *b = bernoulli(z, db);
        double change = (p1 * z + dp * *b - t) / (p1 + dp * *db);
        if (fabs(change) <= 1e-8 * fabs(z) + 1e-14) {
            /* the last correction, to first order in B as well */
            *b -= *db * change;
            return z - change;
        }
        z -= change;
    }
    return z;
}

typedef struct matrix {
    rfy_gases column[RFY_MAX_GASES];
    double inverse_pivot[RFY_MAX_GASES];
} matrix;

/* LU by columns without pivoting: the matrix is column diagonally dominant with positive diagonal (an
 * M-matrix). L is stored below the diagonal; lanes above it are zeroed in a copy so that whole vectors can be
 * used. */
RFY_INLINE void factor(int n, int lanes, matrix *h, matrix *lower)
{
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

RFY_INLINE void solve(int n, int lanes, const matrix *h, const matrix *lower, rfy_gases *x)
{
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
    common c;
    rfy_mixture_state gas;
    double d_mu[RFY_MAX_GASES], d_mass[RFY_MAX_GASES], d_gamma[RFY_MAX_GASES];
    double p1, p2, mean, q1, q2, w;
    bool nothing;
} blend;

RFY_INLINE void blend_flow(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                           const double *a, const double *b, bool derivatives, blend *x,
                           const int lanes)
{
    const int n = mix->n;
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
        /* an amount may stand a hair below zero within the solver's floor: the composition ignores it */
        double left = x->a.d[i] > 0 ? x->a.d[i] : 0, right = x->b.d[i] > 0 ? x->b.d[i] : 0;
        m.d[i] = 0.5 * (left + right);
        x->p1 += left;
        x->p2 += right;
    }
    const double mean = x->mean = 0.5 * (x->p1 + x->p2);
    x->nothing = !(mean > 1e-100); /* one molecule in 1e80 m3: no overflow of its inverse */
    if (x->nothing) { /* no gas at all: the molecular limit */
        double tau = run->first / (1 + (opening < 1 ? (1 / opening - 1) * run->first : 0)) * run->scale;
        x->c.rarefied = tau;
        for (int v = 0; v < lanes; v++)
            x->flow.v[v] = tau * x->kappa.v[v] * (x->a.v[v] - x->b.v[v]);
        return;
    }
    rfy_mixture_at(mix, m.d, &x->gas, derivatives ? x->d_mu : NULL, derivatives ? x->d_mass : NULL,
                   derivatives ? x->d_gamma : NULL);
    flow_common(run, &x->gas, opening, x->p1, x->p2, &x->c);

    /* Diffusive part (dusty-gas form, Mason and Malinauskas 1983): along the stretch each gas obeys
     *   -dp_i/ds = h_i N_i^D - p_i U_i,  h_i = 1/K_i + sum_j m_j omega_ij,  U_i = sum_j omega_ij N_j^D
     * (1/k_ij = x_j/(A D_ij/(L RT)), and D ~ 1/p makes x_j/k_ij = m_j omega_ij). With the mean composition m the
     * ends give a linear system for N^D: (h_i - m_i omega_ii) N_i - m_i sum omega_ij N_j = a_i - b_i. */
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

    /* With the viscous flow on top the exact solution of the same equation is an exponential profile:
     *   N_i = [a_i B(-Z_i) - b_i B(Z_i)]/h_i,  p1 B(-Z_i) - p2 B(Z_i) = h_i N_v + mean U_i + (p1 - p2)
     * where the second line fixes the drift Z_i so that the whole mixture behaving as gas i would flow as one gas
     * does. One gas, and identical twins together, are then exact; so is molecular flow (Z = 0); a trace at rest
     * obeys e^-Z; and no gas is ever drawn from a side that has none of it, which the linear form alone would
     * do. (Exponential fitting: Scharfetter and Gummel 1969.) */
    const double nv = x->c.viscous, least = 1e-13 * mean; /* an empty side keeps the equation solvable */
    const double q1 = x->q1 = x->p1 + least, q2 = x->q2 = x->p2 + least;
    for (int v = 0; v < lanes; v++)
        x->u.v[v] = (rfy_v4){0};
    for (int j = 0; j < n; j++) {
        double f = w * x->diffusive.d[j];
        for (int v = 0; v < lanes; v++)
            x->u.v[v] += f * mix->inv_dp[j].v[v];
    }
    for (int i = 0; i < n; i++) {
        double extra = x->resist.d[i] * nv + mean * x->u.d[i];
        x->z.d[i] = drift(q1, q2, extra + (q1 - q2), extra / mean, &x->bz.d[i], &x->dbz.d[i]);
    }
    for (int i = n; i < lanes * RFY_LANES; i++)
        x->z.d[i] = x->bz.d[i] = x->dbz.d[i] = 0;
    for (int v = 0; v < lanes; v++)
        x->flow.v[v] = (x->a.v[v] * x->z.v[v] + (x->a.v[v] - x->b.v[v]) * x->bz.v[v]) /
                       x->resist.v[v];
}

/* Derivatives by the partial pressures of one side; out is row-major n x n. */
RFY_INLINE void blend_derivatives(const rfy_mixture *mix, const blend *x, const matrix *inverse,
                                  const rfy_gases *by_tau, const int side, double *out,
                                  const int lanes)
{
    const int n = mix->n;
    const common *c = &x->c;
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
            d_nv = c->d_viscous[by_p] + half * (c->d_viscous[BY_MU] * x->d_mu[j] +
                                                c->d_viscous[BY_M] * x->d_mass[j] +
                                                c->d_viscous[BY_GAMMA] * x->d_gamma[j]);
            d_tau = c->d_rarefied[by_p] + half * (c->d_rarefied[BY_MU] * x->d_mu[j] +
                                                  c->d_rarefied[BY_M] * x->d_mass[j] +
                                                  c->d_rarefied[BY_GAMMA] * x->d_gamma[j]);
        }
        /* d N^D: H^-1 applied to +-e_j - (dH/dm_j) N / 2, and the part through tau' */
        rfy_gases rhs, d_n, d_u, column;
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
                                        double *flow, double *by_a, double *by_b, const int lanes)
{
    const int n = mix->n;
    blend x;
    blend_flow(run, mix, opening, a, b, true, &x, lanes);
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
    blend_derivatives(mix, &x, &inverse, &by_tau, 0, by_a, lanes);
    blend_derivatives(mix, &x, &inverse, &by_tau, 1, by_b, lanes);
}

RFY_INLINE void flow_only_in(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                             const double *a, const double *b, double *flow, const int lanes)
{
    blend x;
    blend_flow(run, mix, opening, a, b, false, &x, lanes);
    for (int i = 0; i < mix->n; i++)
        flow[i] = x.flow.d[i];
}

/* The usual widths as constants for the compiler. */
RFY_WIDE
static void flow_only(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                      const double *a, const double *b, double *flow)
{
    if (mix->lanes == 1)
        flow_only_in(run, mix, opening, a, b, flow, 1);
    else if (mix->lanes == 2)
        flow_only_in(run, mix, opening, a, b, flow, 2);
    else
        flow_only_in(run, mix, opening, a, b, flow, mix->lanes);
}

RFY_WIDE
static void flow_and_derivatives(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                                 const double *a, const double *b, double *flow, double *by_a,
                                 double *by_b)
{
    if (mix->lanes == 1)
        flow_and_derivatives_in(run, mix, opening, a, b, flow, by_a, by_b, 1);
    else if (mix->lanes == 2)
        flow_and_derivatives_in(run, mix, opening, a, b, flow, by_a, by_b, 2);
    else
        flow_and_derivatives_in(run, mix, opening, a, b, flow, by_a, by_b, mix->lanes);
}

/* Thermal transpiration: between temperatures T_a and T_b gas stands still in molecular flow when p/sqrt(T) is equal
 * (Reynolds 1879), in viscous flow when p is. Pressures are brought to the mean temperature as p (T_mean/T)^gamma with
 * gamma = 1/2 for delta -> 0 and 4.7/delta^2 for large delta (thermal creep coefficient of the S-model, about 1.18
 * at large delta; interpolated between, the two limits exact). */
static double creep_exponent(double delta, double *slope)
{
    double bottom = 1 + delta * (0.6 + delta / 9.4);
    *slope = -0.5 * (0.6 + 2 * delta / 9.4) / (bottom * bottom);
    return 0.5 / bottom;
}

static void flow_with_creep(const rfy_stretch *run, const rfy_mixture *mix, double opening,
                            const double *a, const double *b, double *flow, double *by_a,
                            double *by_b)
{
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

void rfy_stretch_flow(const rfy_stretch *run, const rfy_mixture *mix, double opening, const double *a,
                      const double *b, double *flow, double *by_a, double *by_b)
{
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
