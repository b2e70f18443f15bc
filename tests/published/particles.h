/* Molecular flow by following particles one by one (test-particle Monte Carlo, Davis 1960):
 * straight flights, diffuse walls that send every particle off by the cosine law, nothing between
 * particles. Fixed seeds. */
#ifndef RFY_TESTS_PARTICLES_H
#define RFY_TESTS_PARTICLES_H

#include <stdint.h>

/* A wall that is round about the z axis, between two of its circles: a cone, a cylinder (r1 = r2)
 * or a flat ring (z1 = z2). Gas is inside, or outside of a rod; a ring has gas on the side of
 * `facing` (+1: above it). */
typedef struct round_wall {
    double z1, r1, z2, r2;
    int outside; /* 1 = a rod */
    int facing;  /* rings only */
} round_wall;

typedef struct passed {
    double w, sigma; /* transmission and its standard error */
    long lost;       /* particles that found no wall or bounced too often: should be none */
} passed;

/* From the plane z = 0, radius `inlet` outside a rod of `inner`, to the plane z = length. */
passed round_transmission(const round_wall *wall, int n, double inlet, double inner, double length,
                          long particles, uint64_t seed);

/* Round tube of radius 1 with a mitre at 90 degrees: axial lengths of the two legs. */
passed mitre_transmission(double leg1, double leg2, long particles, uint64_t seed);

#endif
