/* The built-in data: gases, units, wall materials, permeation, bores, generic pumps.
 *
 * Read once from the texts of data/ (embedded at build time), then constant; share it freely. */
#ifndef RFY_GAS_CATALOG_H
#define RFY_GAS_CATALOG_H

#include "core/record.h"
#include "core/units.h"

typedef struct rfy_species {
    const char *name;           /* "N2" */
    const char *long_name;      /* "nitrogen" */
    double molar_mass;          /* kg/mol */
    double viscosity_300;       /* Pa s */
    double sutherland;          /* K */
    double gamma;               /* cp/cv near 293 K */
    double diffusion_volume;    /* Fuller, Schettler and Giddings 1966, cm3/mol atomic sums */
    double air_fraction;        /* mole fraction in dry air */
    double ion_sensitivity;     /* hot and cold cathode gauge, relative to nitrogen */
    double thermal_sensitivity; /* thermal gauge below 100 Pa, relative to nitrogen */
    const char *source, *status;
} rfy_species;

typedef struct rfy_material { /* one row of data/materials.csv: a material in one condition */
    const char *material, *condition;
    double rate_1h, slope_1h, rate_10h,
        slope_10h;          /* Pa m3/s/m2 (at 20 degC); NaN where the row has none */
    double spread;          /* factor up and down that covers most published values */
    const char *gas;        /* main gas given off */
    bool is_default;        /* the row used when only the material is named */
    double max_temperature; /* K, bake limit; NaN unknown */
    const char *alias;      /* other names, separated by '|' */
    const char *source, *status, *note;
} rfy_material;

typedef struct rfy_permeability { /* Q = K A/d dp, K in m2/s counted at 293.15 K */
    const char *material, *gas;
    double k, k_low, k_high;
    const char *source, *status;
} rfy_permeability;

typedef struct rfy_table { /* a data file as it is, for `rarefy list` */
    const char *name;
    size_t n_columns, n_rows;
    const char *const *column;
    const char *const *cell; /* [row * n_columns + column] */
} rfy_table;

typedef struct rfy_catalog {
    const rfy_units *units;
    size_t n_species;
    const rfy_species *species;
    size_t n_materials;
    const rfy_material *material;
    size_t n_permeabilities;
    const rfy_permeability *permeability;
    rfy_table gases, materials, permeation, bores, pumps, unit_table;
} rfy_catalog;

/* Everything in `arena`. The embedded texts are part of the program, so this cannot fail on valid
 * builds; a broken table ends the program with a message naming table, line and column (and a test
 * reads all). */
const rfy_catalog *rfy_catalog_new(rfy_arena *arena);

/* -1 when there is none. Case matters ("CO" is not "Co"). */
int rfy_species_find(const rfy_catalog *catalog, const char *name);
/* The row for a material (name or alias) and condition; condition NULL = the default row. NULL if
 * none. */
const rfy_material *rfy_material_find(const rfy_catalog *catalog, const char *material,
                                      const char *condition);
/* NULL if none. Material by name or alias. */
const rfy_permeability *rfy_permeability_find(const rfy_catalog *catalog, const char *material,
                                              const char *gas);

#endif
