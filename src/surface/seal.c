#include "surface/seal.h"

#include <math.h>
#include <string.h>

/* K of dry air as one gas: at equal total pressure difference each part sees its own fraction of
 * it. Parts without a K (mostly argon) count as not permeating. */
static bool air_permeability(const rfy_catalog *catalog, const char *material, double *k) {
    bool any = false;
    *k = 0.0;
    for (size_t s = 0; s < catalog->n_species; s++) {
        const rfy_species *part = &catalog->species[s];
        const rfy_permeability *row =
            part->air_fraction > 0.0 ? rfy_permeability_find(catalog, material, part->name) : NULL;
        if (row) {
            *k += part->air_fraction * row->k;
            any = true;
        }
    }
    return any;
}

void rfy_seal_init(rfy_seal *seal, const rfy_catalog *catalog, const rfy_mixture *mixture,
                   const char *material, double length, double cord, double exposed_width) {
    *seal = (rfy_seal){.n = mixture->n};
    for (int i = 0; i < mixture->n; i++) {
        const rfy_permeability *row = rfy_permeability_find(catalog, material, mixture->name[i]);
        double k = row ? row->k : 0.0;
        bool known = row != NULL;
        if (!row && strcmp(mixture->name[i], "air") == 0)
            known = air_permeability(catalog, material, &k);
        seal->conductance[i] = k * length * RFY_SEAL_SHAPE;
        seal->known[i] = known;
        seal->any_known = seal->any_known || known;
    }
    double width = !isnan(exposed_width) ? exposed_width : !isnan(cord) ? cord : RFY_SEAL_CORD;
    seal->strip_area = length * width;
}

void rfy_seal_permeation(const rfy_seal *seal, const double *outside, const double *inside,
                         double *throughput) {
    for (int i = 0; i < seal->n; i++)
        throughput[i] = seal->conductance[i] * (outside[i] - inside[i]);
}
