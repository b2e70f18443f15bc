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
    double activation; /* J/mol; NaN where the table has none */
    const char *source, *status;
} rfy_permeability;

typedef struct rfy_site_row { /* data/sites.csv: where water sits on walls */
    const char *sites;
    double layers, energy_low, energy_high; /* monolayers; J/mol */
    double rise, frequency, sticking, spread;
    bool is_default;
    const char *source, *status;
} rfy_site_row;

typedef struct rfy_diffusivity { /* data/diffusion.csv: D = d0 exp(-activation/RT), m2/s */
    const char *material, *gas;
    double d0, activation; /* m2/s, J/mol */
    double content; /* at the beginning, Pa m3 per m3 of wall; NaN = as the surroundings fill it */
    bool outside;   /* the outer face takes up gas from the air */
    double spread;
    const char *source, *status;
} rfy_diffusivity;

typedef struct rfy_getter_row { /* data/getters.csv */
    const char *getter, *gas;
    double speed;                              /* m3/s/m2 when fresh */
    double capacity_by_mass, capacity_by_area; /* Pa m3/kg, Pa m3/m2; one of them NaN */
    double spread;
    const char *source, *status;
} rfy_getter_row;

typedef struct rfy_vapour { /* data/vapours.csv: saturation pressure of what condenses */
    const char *substance, *gas;
    double factor, slope, shift;             /* Magnus form: Pa, -, K */
    double reference, reference_temperature; /* or Pa at K with `heat`; NaN = Magnus form */
    double heat;                             /* of evaporation, J/mol */
    double least, most;                      /* K: where it holds */
    double spread;
    const char *source, *status;
} rfy_vapour;

typedef struct rfy_table { /* a data file as it is, for `rarefy list` */
    const char *name;
    size_t n_columns, n_rows;
    const char *const *column;
    const char *const *cell; /* [row * n_columns + column] */
} rfy_table;

typedef struct rfy_catalog {
    const char *trouble; /* what is wrong with the tables, which are empty then; NULL = nothing */
    const rfy_units *units;
    size_t n_species;
    const rfy_species *species;
    size_t n_materials;
    const rfy_material *material;
    size_t n_permeabilities;
    const rfy_permeability *permeability;
    size_t n_sites, n_diffusivities, n_getters, n_vapours;
    const rfy_site_row *site;
    const rfy_diffusivity *diffusivity;
    const rfy_getter_row *getter;
    const rfy_vapour *vapour;
    rfy_table gases, materials, permeation, bores, pumps;
    rfy_table sites, diffusion, getters, vapours;
} rfy_catalog;

/* Everything in `arena`. The embedded texts are part of the program, so this cannot fail on valid
 * builds (a test reads all); with a broken table all are empty, and `trouble` names table, line and
 * column. Whoever reads a description tells it. */
const rfy_catalog *rfy_catalog_new(rfy_arena *arena);

/* Adds its trouble, if there is any. */
void rfy_catalog_tell(const rfy_catalog *catalog, rfy_problems *problems);

/* -1 when there is none. Case matters ("CO" is not "Co"). */
int rfy_species_find(const rfy_catalog *catalog, const char *name);
/* A material's own name in the table for a name or alias, in capitals or not; what was given when
 * there is none. */
const char *rfy_material_name(const rfy_catalog *catalog, const char *material);
/* The row for a material (name or alias) and condition, in capitals or not; condition NULL = the
 * default row. NULL if none. */
const rfy_material *rfy_material_find(const rfy_catalog *catalog, const char *material,
                                      const char *condition);
/* NULL if none. Material by name or alias. */
const rfy_permeability *rfy_permeability_find(const rfy_catalog *catalog, const char *material,
                                              const char *gas);

/* NULL name = the default row; NULL if none. */
const rfy_site_row *rfy_sites_find(const rfy_catalog *catalog, const char *sites);
const rfy_diffusivity *rfy_diffusivity_find(const rfy_catalog *catalog, const char *material,
                                            const char *gas);
/* NULL if none. */
const rfy_getter_row *rfy_getter_find(const rfy_catalog *catalog, const char *getter,
                                      const char *gas);
const rfy_vapour *rfy_vapour_find(const rfy_catalog *catalog, const char *substance);

#endif
