/* Poiseuille flow of a rarefied gas in a long duct with diffuse walls, from the linearised kinetic
 * equation. */
#ifndef RFY_TESTS_KINETIC_POISEUILLE_H
#define RFY_TESTS_KINETIC_POISEUILLE_H

typedef struct poiseuille {
    double bgk, s_model; /* G_P */
} poiseuille;

/* Round tube, delta = p R/(mu v0), Q = (pi R^3 v0/2) G_P (-dp/dz). `order`: polynomials of the
 * profile, 4 to 40. */
poiseuille poiseuille_tube(double delta, int order);
/* Wide channel of gap a, delta = p a/(mu v0), Q per width = (a^2 v0/2) G_P (-dp/dz). */
poiseuille poiseuille_channel(double delta, int order);

#endif
