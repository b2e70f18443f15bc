/* Flow through long and short tubes from kinetic theory: the universal curves every run is built
 * on. Dimensionless: l = length/radius, delta = p radius/(mu v0), v0 = sqrt(2RT/M). */
#ifndef RFY_FLOW_KINETIC_H
#define RFY_FLOW_KINETIC_H

/* Molecular transmission probability of a circular tube with diffuse walls, l >= 0. Within 0.005 %
 * of the solution of Clausing's integral equation for every length, exact in both limits. */
double rfy_tube_transmission(double l);

/* Poiseuille coefficient G_P of a long tube: pV-throughput = (pi R^3 v0/2) G_P (-dp/dz). Within
 * 0.04 % of the S-model solution; 8/(3 sqrt(pi)) at delta = 0, delta/4 + 1.018 for large delta. */
double rfy_tube_poiseuille(double delta);

/* Rarefied part of the same curve, relative to molecular flow: J_s = (G_P - delta/4) 3 sqrt(pi)/8,
 * 1 at delta = 0, and its slope. */
double rfy_tube_rarefied(double delta, double *slope);

/* The same for a wide plane channel of gap h, delta = p h/(mu v0): G_P - delta/6, in the units of
 * Q = (h^2 v0/2) G_P (-dp/dz) a width. Grows as ln(1/delta)/sqrt(pi) for small delta, 1.018 for
 * large. Within 0.33 % of the S-model solution from 5e-4 to 100. slope may be NULL. */
double rfy_channel_rarefied(double delta, double *slope);
double rfy_channel_poiseuille(double delta);

#endif
