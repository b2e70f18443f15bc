/* Gas dissolved in a wall and diffusing through it: hydrogen in steel, water and air in elastomers,
 * helium in glass.
 *
 * One dimension, Fick's law, both faces in balance with the gas before them (Henry's law with
 * solubility k/D), or the outer face closed. The exact modes of the slab (Crank 1975, The
 * Mathematics of Diffusion, 2nd ed., section 4.3) are independent states; above the first ones they
 * are gathered in groups that keep the first four moments of each group (two-point Gauss rule).
 * Everything scales with the integral of D over time, so temperature may change in any way as long
 * as the wall is even in temperature. */
#ifndef RFY_SURFACE_SLAB_H
#define RFY_SURFACE_SLAB_H

#include "surface/store.h"

typedef struct rfy_slab_spec {
    double thickness, area; /* m, m2 */
    double d0, activation;  /* diffusivity d0 exp(-activation/RT): m2/s, J/mol */
    double k, k_activation; /* permeability at 20 degC, m2/s, and its activation energy, J/mol;
                               0 = gas outside does not dissolve */
    bool open;              /* the outer face meets the gas outside */
    double outside;         /* its partial pressure there, Pa */
    double content;         /* at the beginning, evenly spread, mol/m3 */
    bool settled;           /* content lies in the slowest mode alone: long pumped */
} rfy_slab_spec;

extern const rfy_store_kind rfy_store_slab;

void rfy_slab_new(rfy_arena *arena, const rfy_slab_spec *spec, rfy_store *store);

double rfy_slab_diffusivity(const rfy_slab_spec *spec, double temperature);
double rfy_slab_permeability(const rfy_slab_spec *spec, double temperature);
/* Rate of the slowest mode at a temperature, 1/s: pi^2 D/(4 d^2) with the outer face closed. */
double rfy_slab_slowest(const rfy_slab_spec *spec, double temperature);

#endif
