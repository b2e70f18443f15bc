#include "published/clausing.h"
#include <math.h>
#include "published/radiosity.h"

/* Clausing 1932 (Ann. Phys. 12, 961) with radius 1:
 *   eta(x) = f(x) + integral of K(|x - y|) eta(y) dy,  W = F + 2 integral of eta(x) f(L - x) dx
 *   f(x) = (x^2/4 + 1/2)/sqrt(x^2/4 + 1) - x/2,  K(z) = [1 - z (z^2 + 6)/(z^2 + 4)^(3/2)]/2
 * f and K are written here without the differences of nearly equal numbers that they have at large
 * argument. */
static double f(double x) {
    /* (a - b) = (a^2 - b^2)/(a + b) with a^2 - b^2 = 1/(x^2 + 4) */
    double root = sqrt(x * x / 4 + 1), a = (x * x / 4 + 0.5) / root;
    return 1 / ((x * x + 4) * (a + x / 2));
}
static double kernel(double z) {
    /* (z^2+4)^3 - z^2 (z^2+6)^2 = 12 z^2 + 64 */
    double s = z * z + 4, root = s * sqrt(s), b = z * (z * z + 6);
    return 0.5 * (12 * z * z + 64) / (root * (root + b));
}
static double area(const duct *d, double x) {
    (void)d;
    (void)x;
    return 1;
}
static double in(const duct *d, double x) {
    (void)d;
    return f(x);
}
static double out(const duct *d, double x) {
    return 2 * f(d->length - x);
}
static double across(const duct *d, double x, double y) {
    (void)d;
    return kernel(fabs(x - y));
}

double clausing_transmission(double l, int order) {
    double root = sqrt(l * l + 4), side = 2 / (root + l); /* (root - l)/2 */
    duct d = {.length = l,
              .inlet = 1,
              .direct = side * side,
              .area = area,
              .from_inlet = in,
              .to_outlet = out,
              .exchange = across,
              .scale = area};
    return duct_transmission(&d, order);
}
