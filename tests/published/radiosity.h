/* Molecular flow through ducts with diffuse walls, solved from the balance of what each piece of
 * wall takes in and gives off. Everything is geometry: lengths in any one unit. Made to check
 * tables; not part of the program. */
#ifndef RFY_TESTS_RADIOSITY_H
#define RFY_TESTS_RADIOSITY_H

/* A duct whose wall depends on one coordinate 0 <= z <= length. Exchange areas (area times view
 * factor) per unit of z: the balance is area(z) eta(z) = from_inlet(z) + integral of exchange(z, y)
 * eta(y) dy. */
typedef struct duct {
    double length;
    double inlet;  /* its area */
    double direct; /* exchange area of inlet and outlet */
    double (*area)(const struct duct *, double z);
    double (*from_inlet)(const struct duct *, double z);
    double (*to_outlet)(const struct duct *, double z);
    double (*exchange)(const struct duct *, double z, double y); /* may have a corner at z = y */
    double (*scale)(const struct duct *, double z);              /* length over which it changes */
    double r1, r2;
} duct;

/* Transmission probability for a cosine inlet. Spectral: Nystrom's method with polynomials of the
 * given order on panels that grow from both ends, kernel integrated piece by piece around its
 * corner. */
double duct_transmission(const duct *d, int order);

/* Between parallel plates of gap 1, infinitely wide. */
double slit_transmission(double length, int order);

/* Conical frustum from radius r1 to r2, referred to the area at r1. */
double cone_transmission(double r1, double r2, double length, int order);

/* Rectangular duct of sides a >= b = 1: panels of constant eta with exact view factors, nx by ny a
 * half wall, once, twice and three times as fine, extrapolated. */
double rectangle_transmission(double a, double length, int nx, int ny);

/* Long annulus of radii k and 1: conductance over (pi/12) vbar (D0 - Di)^2 (D0 + Di)/L. */
double annulus_factor(double k, int order);

#endif
