/* Quantities with units: parsed at the edge to SI, converted back only in output.
 *
 * Units are data (data/units.csv): symbol, exact factor as numerator/denominator, offset, exponents
 * of metre, kilogram, second, kelvin, mole. A unit text is a product and quotient of symbols with
 * exponents: "mbar L/s", "Torr L/s/cm2", "Pa m3/s", "m^2", "m²", "mbar·L/(s·cm2)". */
#ifndef RFY_CORE_UNITS_H
#define RFY_CORE_UNITS_H

#include <stdbool.h>
#include <stddef.h>
#include "core/arena.h"

/* What a quantity is. The order must match the table in units.c (checked by static_assert). */
typedef enum rfy_dim {
    RFY_DIM_NONE,          /* a bare number, or with % or ppm */
    RFY_DIM_LENGTH,        /* m */
    RFY_DIM_AREA,          /* m2 */
    RFY_DIM_VOLUME,        /* m3 */
    RFY_DIM_TIME,          /* s */
    RFY_DIM_PRESSURE,      /* Pa */
    RFY_DIM_TEMPERATURE,   /* K, absolute: degC and degF carry their offset */
    RFY_DIM_FLOW,          /* m3/s: pumping speed and conductance */
    RFY_DIM_THROUGHPUT,    /* Pa m3/s; molar flow (mol/s, sccm, slm) is accepted at 293.15 K, see
                              units.c */
    RFY_DIM_AREA_RATE,     /* Pa m3/s/m2 */
    RFY_DIM_GAS_AMOUNT,    /* Pa m3; mol accepted at 293.15 K */
    RFY_DIM_ANGLE,         /* rad */
    RFY_DIM_MASS,          /* kg */
    RFY_DIM_PRESSURE_RATE, /* Pa/s */
    RFY_DIM_HEATING_RATE,  /* K/s: degC here is a difference */
    RFY_DIM_ENERGY_MOLAR,  /* J/mol */
    RFY_DIM_VISCOSITY,     /* Pa s */
    RFY_DIM_HEAT_TRANSFER, /* W/K */
    RFY_DIM_COUNT
} rfy_dim;

/* "pressure", "length", … */
const char *rfy_dim_name(rfy_dim dim);
/* A phrase with examples: «a length such as "25 mm"». */
const char *rfy_dim_example(rfy_dim dim);
/* The SI unit text used in JSON keys and tables: "Pa", "m3/s", … ("" for a bare number). */
const char *rfy_dim_si(rfy_dim dim);

/* A quantity of a dimension in a unit people would choose ("100 mm", "8 h", "1e-05 Pa"), up to 6
 * digits; it reads back with rfy_parse_quantity. Returns buffer (>= 48 bytes). */
char *rfy_format_quantity(char *buffer, size_t size, rfy_dim dim, double si);

/* Throughputs and amounts of gas given in moles are counted as Pa m3 at this temperature: p V = n R
 * T. The same numbers as RFY_R and RFY_T_REF of gas/gas.h, which core must not include; a test
 * compares them. */
#define RFY_UNITS_R     8.31446261815324 /* J/mol/K, exact (SI 2019) */
#define RFY_UNITS_T_REF 293.15           /* K */

typedef struct rfy_units rfy_units;

/* Reads the built-in table; lives in the arena. */
const rfy_units *rfy_units_new(rfy_arena *arena);
/* What is wrong with the table, which then has no units; NULL = nothing (a test holds that). */
const char *rfy_units_trouble(const rfy_units *units);

typedef struct rfy_unit_row {
    const char *symbol, *dimension, *factor, *offset, *source, *status;
    double si; /* numerator / denominator */
} rfy_unit_row;
size_t rfy_units_count(const rfy_units *units);
const rfy_unit_row *rfy_units_row(const rfy_units *units, size_t i);

typedef struct rfy_quantity_error {
    size_t offset;     /* byte in the text where it goes wrong */
    char what[160];    /* «unit "mn" is not known» */
    char allowed[160]; /* «a length such as "25 mm"» */
    char hint[96];     /* «did you mean "mm"?» or "" */
} rfy_quantity_error;

/* "25 mm" -> 0.025 with RFY_DIM_LENGTH. The number must be finite. False fills *error. */
bool rfy_parse_quantity(const rfy_units *units, const char *text, rfy_dim dim, double *si,
                        rfy_quantity_error *error);
/* A unit alone ("mbar"): value_in_SI = factor * value + offset. */
bool rfy_parse_unit(const rfy_units *units, const char *text, rfy_dim dim, double *factor,
                    double *offset, rfy_quantity_error *error);
/* Reads one quantity at the start of a longer text ("16 mm x 1.0 m", "10 Pa and t > 3 s") and says
 * how many bytes it used: the number and the longest run of words after it that is a unit. */
bool rfy_parse_quantity_prefix(const rfy_units *units, const char *text, rfy_dim dim, double *si,
                               size_t *used, rfy_quantity_error *error);

#endif
