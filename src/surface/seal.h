/* Elastomer seals: air that comes through them, and the strip that gives off gas.
 *
 * Steady permeation only: Q_i = K_i (A/d) (outside - inside), gas by gas by its own partial
 * pressure. For a squeezed ring, area over thickness per unit length is about 1 (the squeezed
 * section is about as wide as it is deep), whatever the cord. Not modelled: the time lag after a
 * change outside (hours to days, cord^2/6D; it belongs to walls with a memory) and the temperature
 * dependence of K (tables hold for 20 to 25 degC). */
#ifndef RFY_SURFACE_SEAL_H
#define RFY_SURFACE_SEAL_H

#include "gas/mixture.h"

#define RFY_SEAL_SHAPE 1.0  /* A/d per length; common practice for a ring squeezed by 20 to 30 % */
#define RFY_SEAL_CORD  5e-3 /* m, when not given: common practice for small flanges */

typedef struct rfy_seal {
    int n;
    double conductance[RFY_MAX_GASES]; /* K_i length shape, m3/s; 0 where there is no K */
    bool known[RFY_MAX_GASES];         /* the table has a K for this gas and material */
    bool any_known;
    double strip_area; /* gives off gas into the vacuum, m2 */
} rfy_seal;

/* length in m. cord and exposed_width may be NaN: RFY_SEAL_CORD, and the whole cord counted as
 * exposed. The gas "air" gets the mean K of its parts. Metal and unknown materials permeate
 * nothing. */
void rfy_seal_init(rfy_seal *seal, const rfy_catalog *catalog, const rfy_mixture *mixture,
                   const char *material, double length, double cord, double exposed_width);

/* Throughput inwards by gas, Pa m3/s counted at 293.15 K (negative = outwards). The derivative by
 * the inside pressure of the same gas is -conductance[i], and by the outside pressure
 * +conductance[i]. */
void rfy_seal_permeation(const rfy_seal *seal, const double *outside, const double *inside,
                         double *throughput);

#endif
