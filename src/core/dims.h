/* What the dimensions and units of core/units.h are made of; for units.c, unit_table.c,
 * unit_pattern.c and dims.c
 * only. */
#ifndef RFY_CORE_DIMS_H
#define RFY_CORE_DIMS_H

#include "core/units.h"

/* Exponents of m, kg, s, K, mol, and of an angle, which is kept apart from a bare ratio. */
enum { RFY_BASE_M, RFY_BASE_KG, RFY_BASE_S, RFY_BASE_K, RFY_BASE_MOL, RFY_BASE_ANGLE, RFY_N_BASES };

typedef struct rfy_dim_info {
    const char *name;     /* "length" */
    const char *phrase;   /* "a length" */
    const char *example;  /* «a length such as "25 mm"» */
    const char *si;       /* "m" */
    const char *usual[2]; /* units to offer for a number that has none */
    signed char base[RFY_N_BASES];
    bool molar; /* the same with mol in place of Pa m3 is accepted too */
} rfy_dim_info;

extern const rfy_dim_info rfy_dims[RFY_DIM_COUNT];

typedef struct rfy_unit {
    rfy_unit_row row;
    double numerator, denominator, offset;
    signed char base[RFY_N_BASES];
} rfy_unit;

struct rfy_units {
    const char *trouble; /* NULL = none; else there are no units */
    size_t n;
    rfy_unit *unit;
    size_t n_spellings; /* symbols first, then what people write in their place */
    const char **spelling;
    size_t *meaning; /* index of the unit */
};

/* From one of these tables, which end with a NULL name: tests feed broken ones. */
struct rfy_embedded;
const rfy_units *rfy_units_read(rfy_arena *arena, const struct rfy_embedded *tables);

#endif
