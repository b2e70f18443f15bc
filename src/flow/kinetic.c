#include <math.h>
#include <stddef.h>
#include "flow/kinetic.h"

#define SQRT_PI 1.7724538509055160

double rfy_tube_transmission(double l) {
    /* Fit to our solution of Clausing's equation (Clausing 1932; table
     * tests/published/clausing_tube.csv), greatest error 0.0047 %. W = 1 - l/2 + … for short and
     * 8/(3 l) for long tubes hold exactly. */
    double inverse = 1 + 3 * l / 8 +
                     l / 8 * (1 + 0.470819 * l) / (1 + 0.724657 * l + 0.261941 * l * l) +
                     0.273542 * log1p(0.124584 * l * l / (1 + 0.599225 * l));
    return 1 / inverse;
}

/* Closed form fitted to the S-model (Shakhov 1968) solution of the linearised kinetic equation for
 * a long tube with diffuse walls, greatest error 0.036 % for delta 5e-4 to 100. Slip
 * coefficient 1.018. */
static const double slip = 1.018, fit_a = 1.24663, fit_b = 0.044737, fit_c = 5.46147,
                    fit_e = 1.05341, fit_f = 1.61289;

double rfy_tube_rarefied(double delta, double *slope) {
    const double molecular = 8 / (3 * SQRT_PI);
    double lg = delta > 0 ? log1p(fit_b / delta) : 0;
    double top = molecular - slip + fit_a * delta - fit_e * delta * lg;
    double bottom = 1 + fit_c * delta + fit_f * delta * delta;
    double value = slip + top / bottom;
    if (slope) {
        double d_top = fit_a - fit_e * lg + (delta > 0 ? fit_e * fit_b / (delta + fit_b) : 0);
        double d_bottom = fit_c + 2 * fit_f * delta;
        *slope = (d_top - top / bottom * d_bottom) / bottom * (3 * SQRT_PI / 8);
    }
    return value * (3 * SQRT_PI / 8);
}

double rfy_tube_poiseuille(double delta) {
    return delta / 4 + rfy_tube_rarefied(delta, NULL) * 8 / (3 * SQRT_PI);
}

double rfy_channel_rarefied(double delta, double *slope) {
    /* fit to the S-model solution, greatest error 0.33 % */
    double lg = log1p(0.0222908 / delta);
    double top = lg / SQRT_PI + 1.514765 + 3.552614 * delta;
    double bottom = 1 + 9.341239 * delta + 3.276894 * delta * delta;
    if (slope) {
        double d_top = -0.0222908 / (delta * (delta + 0.0222908)) / SQRT_PI + 3.552614;
        double d_bottom = 9.341239 + 2 * 3.276894 * delta;
        *slope = (d_top - top / bottom * d_bottom) / bottom;
    }
    return slip + top / bottom;
}

double rfy_channel_poiseuille(double delta) {
    return delta / 6 + rfy_channel_rarefied(delta, NULL);
}
