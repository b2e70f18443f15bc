/* Water (or another gas) adsorbed on sites that differ in desorption energy.
 *
 * First-order desorption from each class of sites, k = frequency exp(-E/RT), and readsorption of
 * what strikes bare sites. A spread of energies gives a release that falls as 1/t, is emptied by a
 * bake, fills again in humid air, and depends on the pumping speed when molecules stick (Redhead
 * 1995, J. Vac. Sci. Technol. A 13, 467; Horikoshi 1987). */
#ifndef RFY_SURFACE_SITES_H
#define RFY_SURFACE_SITES_H

#include "surface/store.h"

#define RFY_MONOLAYER 1e19 /* molecules/m2: usual round figure, from memory */
#define RFY_SITE_BINS 20   /* 2 kJ/mol apart on the default range: ripple of the rate under 1 % */

typedef struct rfy_sites_spec {
    double layers; /* monolayers in all */
    double energy_low, energy_high, rise, frequency, sticking;
} rfy_sites_spec;

extern const rfy_store_kind rfy_store_sites;

/* Area m2, molar mass kg/mol. `pressure` fills the sites as in balance with that much of the gas at
 * `temperature`; then they empty freely for `pumped_for` seconds. */
void rfy_sites_new(rfy_arena *arena, const rfy_sites_spec *spec, double area, double molar_mass,
                   double pressure, double temperature, double pumped_for, rfy_store *store);

/* Release per area after `time` seconds from full sites at `temperature`, nothing coming back,
 * molecules/m2/s. */
double rfy_sites_release(const rfy_sites_spec *spec, double temperature, double time);

#endif
