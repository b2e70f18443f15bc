#include <math.h>
#include "flow/kinetic.h"
#include "flow/tables.h"

/* Cubic Hermite through points with the slopes of local parabolas; x within the points. */
static double through(int n, const double *x, const double *y, double at) {
    int i = 0;
    while (i < n - 2 && at > x[i + 1])
        i++;
    double h = x[i + 1] - x[i], chord = (y[i + 1] - y[i]) / h, m[2] = {chord, chord};
    if (i > 0) {
        double before = x[i] - x[i - 1];
        m[0] = ((y[i] - y[i - 1]) / before * h + chord * before) / (before + h);
    }
    if (i + 2 < n) {
        double behind = x[i + 2] - x[i + 1];
        m[1] = (chord * behind + (y[i + 2] - y[i + 1]) / behind * h) / (behind + h);
    }
    double t = (at - x[i]) / h;
    return y[i] +
           h * t * (m[0] + t * (3 * chord - 2 * m[0] - m[1] + t * (m[0] + m[1] - 2 * chord)));
}

/* ---- slit ---------------------------------------------------------------------------------------
 */

/* W of an infinitely wide slit over length/gap. Status N: computed from the radiosity equation,
 * error below 2e-6 (tests/published/slit_duct.csv). */
enum { SLITS = 28 };
static const double slit_l[SLITS] = {0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8,
                                     1,    1.5,  2,    3,   4,   5,   6,   8,   10,  15,
                                     20,   30,   40,   50,  100, 200, 500, 1000};
static const double slit_w[SLITS] = {
    0.99502496, 0.99009966, 0.97561941, 0.95245248, 0.90957992, 0.87097188, 0.83617247,
    0.80472443, 0.77619906, 0.72643002, 0.68438082, 0.60247816, 0.54205777, 0.45715097,
    0.39916203, 0.35640923, 0.32327954, 0.27476711, 0.24055720, 0.18630778, 0.15388825,
    0.11611879, 0.09436552, 0.08003005, 0.04709161, 0.02708606, 0.01270011, 0.00705269};

/* s(l) = (1/W - 1)/l with l the length over half the hydraulic diameter: 1/2 for a short duct of
 * any section (wall over four times the section); for a long one the tube has 3/8 while the slit's
 * falls as 1/ln l. */
static double slit_share(double l) {
    if (l <= slit_l[0])
        return 0.5;
    if (l > slit_l[SLITS - 1]) /* W l = ln l + 0.144935 continues the table, and is the known form
                                  of the limit */
        return 1 / (log(l) + 0.144935) - 1 / l;
    double x[SLITS], y[SLITS];
    for (int i = 0; i < SLITS; i++) {
        x[i] = log(slit_l[i]);
        y[i] = (1 / slit_w[i] - 1) / slit_l[i];
    }
    return through(SLITS, x, y, log(l));
}

double rfy_slit_transmission(double l) {
    return 1 / (1 + l * slit_share(l));
}

/* ---- from short to long ---- */

/* Length at which the slit's s has fallen to what another section keeps for ever. */
static double last_length(double s_long) {
    double low = log(slit_l[0]), high = 200;
    for (int i = 0; i < 60; i++) {
        double middle = 0.5 * (low + high);
        if (slit_share(exp(middle)) > s_long)
            low = middle;
        else
            high = middle;
    }
    return exp(high);
}

/* s of a section that is short at s = 1/2 and long at s_long: along the slit's curve until its own
 * long value. Own interpolation; alone it is within 2 % for every rectangle and 4 % for a tube, and
 * it is used with corrections. */
static double settling(double l, double last) {
    const double p = 0.9;
    return slit_share(l * pow(1 + pow(l / last, p), -1 / p));
}

/* ---- rectangle ---- */

/* W over side ratio and length/short side. Status N: radiosity equation, 1e-4 up to length 10, 0.1
 * % at 50 (tests/published/rect_duct.csv). Length 100 was computed anew on finer meshes (0.05 %),
 * the table's own being up to 0.5 % high there. */
enum { RATIOS = 6, LENGTHS = 11 };
static const double duct_ratio[RATIOS] = {1, 1.5, 2, 3, 5, 10};
static const double duct_l[LENGTHS] = {0.1, 0.2, 0.5, 1, 2, 4, 5, 10, 20, 50, 100};
static const double duct_w[RATIOS][LENGTHS] = {
    {0.912981, 0.842662, 0.689696, 0.536219, 0.377990, 0.242428, 0.206371, 0.119479, 0.065485,
     0.028026, 0.014386},
    {0.925986, 0.864411, 0.725348, 0.578514, 0.419168, 0.275867, 0.236593, 0.139678, 0.077632,
     0.033598, 0.017332},
    {0.932560, 0.875546, 0.744377, 0.602530, 0.444291, 0.297616, 0.256609, 0.153699, 0.086351,
     0.037710, 0.019532},
    {0.939171, 0.886814, 0.764071, 0.628441, 0.473215, 0.324403, 0.281758, 0.172293, 0.098386,
     0.043583, 0.022721},
    {0.944477, 0.895894, 0.780194, 0.650338, 0.499274, 0.350733, 0.307192, 0.192686, 0.112459,
     0.050851, 0.026769},
    {0.948463, 0.902733, 0.792429, 0.667250, 0.520294, 0.373838, 0.330295, 0.213445, 0.128337,
     0.059905, 0.032065}};

/* s of a long duct, over half the hydraulic diameter: Smoluchowski's chord integral in closed form
 * (Smoluchowski 1910, Ann. Phys. 33, 1559), short side 1. */
static double duct_long(double ratio) {
    double a = ratio;
    double edge = a * a * a * expm1(1.5 * log1p(1 / (a * a))) - 1; /* (a^2 + 1)^(3/2) - a^3 - 1 */
    double passed = a * asinh(a) + a * a * asinh(1 / a) - edge / 3;
    return a / passed * a / (1 + a);
}

/* s over the interpolation above, on the line of ratio k, at length l over the short side. */
static double duct_correction(int k, double l, double last, double s_long) {
    const double a = duct_ratio[k], radius = a / (1 + a);
    double x[LENGTHS], q[LENGTHS];
    for (int i = 0; i < LENGTHS; i++) {
        double own = duct_l[i] / radius;
        x[i] = log(duct_l[i]);
        q[i] = (1 / duct_w[k][i] - 1) / own / settling(own, last);
    }
    if (l < duct_l[0]) /* corners see each other in proportion to the length */
        return 1 + (q[0] - 1) * l / duct_l[0];
    double end = duct_l[LENGTHS - 1];
    if (l <= end)
        return through(LENGTHS, x, q, log(l));
    /* What the ends add to a long duct of area A grows with (2/pi) A (resistance a length)^2 ln L:
     * 9/32 for a tube, and the slope of our own solutions for the rectangles. */
    double slope = 2 / 3.14159265358979323846 * a * s_long * s_long / (radius * radius);
    double ends = 1 / duct_w[k][LENGTHS - 1] - 1 - end * s_long / radius + slope * log(l / end);
    return (s_long + ends * radius / l) / settling(l / radius, last);
}

double rfy_duct_transmission(double ratio, double l) {
    const double radius = ratio / (1 + ratio), own = l / radius;
    const double s_long = duct_long(ratio), last = last_length(s_long);
    if (!(l > 0))
        return 1;
    double correction;
    if (ratio > duct_ratio[RATIOS - 1]) {
        /* towards the slit: the last line, at the length that is as far from its own long limit,
         * fading */
        double wide_long = duct_long(duct_ratio[RATIOS - 1]), wide = last_length(wide_long);
        double fade = sqrt(duct_ratio[RATIOS - 1] / ratio);
        correction = duct_correction(RATIOS - 1, l * wide / last, wide, wide_long);
        correction = 1 + fade * (correction - 1);
    } else {
        double y[RATIOS], q[RATIOS]; /* against short over long side, rising */
        for (int k = 0; k < RATIOS; k++) {
            int from = RATIOS - 1 - k;
            y[k] = 1 / duct_ratio[from];
            double line_long = duct_long(duct_ratio[from]);
            q[k] = duct_correction(from, l, last_length(line_long), line_long);
        }
        correction = through(RATIOS, y, q, 1 / ratio);
    }
    return 1 / (1 + own * correction * settling(own, last));
}

/* ---- annulus ---- */

/* K over Di/D0. Status N: Smoluchowski's chord integral, 1e-4 (tests/published/annulus_long.csv).
 */
enum { RINGS = 15 };
static const double ring_ratio[RINGS] = {0,   0.1, 0.2,   0.25, 0.3,  0.4,   0.5, 0.6,
                                         0.7, 0.8, 0.866, 0.9,  0.95, 0.966, 0.99};
static const double ring_k[RINGS] = {1.0000, 1.0258, 1.0535, 1.0683, 1.0839, 1.1178, 1.1566, 1.2029,
                                     1.2610, 1.3409, 1.4185, 1.4745, 1.6062, 1.6791, 1.9093};

double rfy_annulus_factor(double ratio) {
    /* K grows as (3/16) ln 1/(1 - Di/D0): chords are bounded by the curvature of the gap */
    double at = -log1p(-ratio), x[RINGS];
    for (int i = 0; i < RINGS; i++)
        x[i] = -log1p(-ring_ratio[i]);
    if (at > x[RINGS - 1])
        return ring_k[RINGS - 1] + 3.0 / 16 * (at - x[RINGS - 1]);
    return through(RINGS, x, ring_k, at);
}

double rfy_annulus_transmission(double ratio, double l) {
    if (!(l > 0))
        return 1;
    /* A tube (Di = 0) is Clausing's; a thin ring is a slit until its curvature shows. Between, the
     * tube's correction is applied with an exponent fitted to our own test-particle runs (3e6
     * particles, Di/D0 0.02 to 0.95, lengths 0.5 to 30: at most 0.5 % off). */
    const double s_long = 3 / (8 * rfy_annulus_factor(ratio)), last = last_length(s_long);
    const double tube_last = last_length(3.0 / 8), u = l * sqrt(tube_last / last);
    double tube = 1;
    if (u > 1e-6)
        tube = (1 / rfy_tube_transmission(u) - 1) / u / settling(u, tube_last);
    double s = settling(l, last) * pow(tube, 1 - 1.4 * pow(ratio, 1.6));
    return 1 / (1 + l * s);
}
