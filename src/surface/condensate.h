/* Ice, water or oil on a surface: it evaporates while there is any, and vapour condenses on it.
 *
 * Rate both ways by Hertz 1882 (Ann. Phys. 253, 177) and Knudsen 1915 (Ann. Phys. 352, 697), alpha
 * A p/sqrt(2 pi M R T) in mol/s; what evaporates takes its heat from the surface, which is joined
 * to its surroundings by a given heat transfer and has no heat capacity of its own. */
#ifndef RFY_SURFACE_CONDENSATE_H
#define RFY_SURFACE_CONDENSATE_H

#include "surface/store.h"

extern const rfy_store_kind rfy_store_condensate;

typedef struct rfy_condensate_spec {
    const rfy_vapour *liquid; /* or ice; `ice` takes over below the freezing point when not NULL */
    const rfy_vapour *ice;
    double amount;        /* at the beginning, mol */
    double area;          /* m2 */
    double sticking;      /* condensation and evaporation coefficient, 0 to 1 */
    double heat_transfer; /* to the surroundings, W/K; infinite = held at their temperature */
    double molar_mass;
} rfy_condensate_spec;

void rfy_condensate_new(rfy_arena *arena, const rfy_condensate_spec *spec, rfy_store *store);

/* Saturation pressure of a row of data/vapours.csv, Pa, and its derivative by temperature. */
double rfy_vapour_saturation(const rfy_vapour *vapour, double temperature, double *by_t);

/* Temperature of the surface while it gains `flow` mol/s. */
double rfy_condensate_temperature(const rfy_store *store, double surroundings, double flow);

#endif
