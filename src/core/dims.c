#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include "core/dims.h"
#include "core/text.h"

const rfy_dim_info rfy_dims[] = {
    [RFY_DIM_NONE] =
        {"number", "a number", "a number such as 0.5 or \"50 %\"", "", {"%", "ppm"}, {0}, false},
    [RFY_DIM_LENGTH] =
        {"length", "a length", "a length such as \"25 mm\"", "m", {"mm", "m"}, {1}, false},
    [RFY_DIM_AREA] =
        {"area", "an area", "an area such as \"900 cm2\"", "m2", {"cm2", "m2"}, {2}, false},
    [RFY_DIM_VOLUME] =
        {"volume", "a volume", "a volume such as \"0.4 L\"", "m3", {"L", "m3"}, {3}, false},
    [RFY_DIM_TIME] =
        {"time", "a time", "a time such as \"90 s\"", "s", {"s", "h"}, {0, 0, 1}, false},
    [RFY_DIM_PRESSURE] = {"pressure",
                          "a pressure",
                          "a pressure such as \"1e-3 Pa\"",
                          "Pa",
                          {"Pa", "mbar"},
                          {-1, 1, -2},
                          false},
    [RFY_DIM_TEMPERATURE] = {"temperature",
                             "a temperature",
                             "a temperature such as \"20 degC\"",
                             "K",
                             {"degC", "K"},
                             {0, 0, 0, 1},
                             false},
    [RFY_DIM_FLOW] = {"volume flow",
                      "a volume flow",
                      "a volume flow such as \"60 L/s\"",
                      "m3/s",
                      {"L/s", "m3/h"},
                      {3, 0, -1},
                      false},
    [RFY_DIM_THROUGHPUT] = {"throughput",
                            "a throughput",
                            "a throughput such as \"1e-8 mbar L/s\"",
                            "Pa m3/s",
                            {"mbar L/s", "Pa m3/s"},
                            {2, 1, -3},
                            true},
    [RFY_DIM_AREA_RATE] = {"gas release per area",
                           "a gas release per area",
                           "a gas release per area such as \"1e-8 mbar L/s/cm2\"",
                           "Pa m3/s/m2",
                           {"mbar L/s/cm2", "Pa m3/s/m2"},
                           {0, 1, -3},
                           true},
    [RFY_DIM_GAS_AMOUNT] = {"amount of gas",
                            "an amount of gas",
                            "an amount of gas such as \"0.12 Pa m3\"",
                            "Pa m3",
                            {"Pa m3", "mbar L"},
                            {2, 1, -2},
                            true},
    [RFY_DIM_ANGLE] = {"angle",
                       "an angle",
                       "an angle such as \"90 deg\"",
                       "rad",
                       {"deg", "rad"},
                       {0, 0, 0, 0, 0, 1},
                       false},
    [RFY_DIM_MASS] = {"mass", "a mass", "a mass such as \"5 g\"", "kg", {"g", "kg"}, {0, 1}, false},
    [RFY_DIM_PRESSURE_RATE] = {"pressure rate",
                               "a pressure rate",
                               "a pressure rate such as \"2 Pa/min\"",
                               "Pa/s",
                               {"Pa/min", "mbar/s"},
                               {-1, 1, -3},
                               false},
    [RFY_DIM_HEATING_RATE] = {"heating rate",
                              "a heating rate",
                              "a heating rate such as \"2 K/min\"",
                              "K/s",
                              {"K/min", "K/h"},
                              {0, 0, -1, 1},
                              false},
    [RFY_DIM_ENERGY_MOLAR] = {"molar energy",
                              "a molar energy",
                              "a molar energy such as \"92 kJ/mol\"",
                              "J/mol",
                              {"kJ/mol", "kcal/mol"},
                              {2, 1, -2, 0, -1},
                              false},
    [RFY_DIM_VISCOSITY] = {"viscosity",
                           "a viscosity",
                           "a viscosity such as \"50 mPa s\"",
                           "Pa s",
                           {"mPa s", "cP"},
                           {-1, 1, -1},
                           false},
    [RFY_DIM_HEAT_TRANSFER] = {"heat transfer",
                               "a heat transfer",
                               "a heat transfer such as \"2 W/K\"",
                               "W/K",
                               {"W/K", "mW/K"},
                               {2, 1, -3, -1},
                               false},
};
static_assert(sizeof rfy_dims / sizeof rfy_dims[0] == RFY_DIM_COUNT, "one row per dimension");

const char *rfy_dim_name(rfy_dim dim) {
    return rfy_dims[dim].name;
}

const char *rfy_dim_example(rfy_dim dim) {
    return rfy_dims[dim].example;
}

const char *rfy_dim_si(rfy_dim dim) {
    return rfy_dims[dim].si;
}

/* Units for people, largest first; SI = factor * value + offset. The rest are written in SI. */
typedef struct rung {
    rfy_dim dim;
    const char *unit;
    double factor, offset;
} rung;

static const rung ladder[] = {
    {RFY_DIM_LENGTH, "m", 1, 0},
    {RFY_DIM_LENGTH, "mm", 1e-3, 0},
    {RFY_DIM_LENGTH, "um", 1e-6, 0},
    {RFY_DIM_AREA, "m2", 1, 0},
    {RFY_DIM_AREA, "cm2", 1e-4, 0},
    {RFY_DIM_VOLUME, "m3", 1, 0},
    {RFY_DIM_VOLUME, "L", 1e-3, 0},
    {RFY_DIM_VOLUME, "cm3", 1e-6, 0},
    {RFY_DIM_TIME, "year", 31557600, 0},
    {RFY_DIM_TIME, "d", 86400, 0},
    {RFY_DIM_TIME, "h", 3600, 0},
    {RFY_DIM_TIME, "min", 60, 0},
    {RFY_DIM_TIME, "s", 1, 0},
    {RFY_DIM_TIME, "ms", 1e-3, 0},
    {RFY_DIM_TEMPERATURE, "K", 1, 0},
    {RFY_DIM_TEMPERATURE, "degC", 1, 273.15},
    {RFY_DIM_FLOW, "m3/s", 1, 0},
    {RFY_DIM_FLOW, "L/s", 1e-3, 0},
    {RFY_DIM_ANGLE, "deg", 3.141592653589793 / 180, 0},
    {RFY_DIM_MASS, "kg", 1, 0},
    {RFY_DIM_MASS, "g", 1e-3, 0},
    {RFY_DIM_ENERGY_MOLAR, "kJ/mol", 1e3, 0},
};

/* Says whether the value has at most 4 digits in this unit, to double precision. */
static bool is_short(double value) {
    char text[32];
    double back = 0;
    rfy_read_number(rfy_format_number(text, value, 4), &back);
    return fabs(back - value) <= 1e-13 * fabs(value);
}

char *rfy_format_quantity(char *buffer, size_t size, rfy_dim dim, double si) {
    const rung *best = NULL, *any = NULL;
    for (size_t i = 0; i < sizeof ladder / sizeof ladder[0] && !best; i++) {
        const rung *r = &ladder[i];
        if (r->dim != dim)
            continue;
        double value = (si - r->offset) / r->factor;
        bool fits = fabs(value) >= 1 || r->offset > 0;
        if (fits && is_short(value))
            best = r;
        if (!any && fits)
            any = r;
    }
    if (!best)
        best = any;
    char number[32];
    const char *unit = best ? best->unit : rfy_dims[dim].si;
    rfy_format_number(number, best ? (si - best->offset) / best->factor : si, 6);
    snprintf(buffer, size, "%s%s%s", number, *unit ? " " : "", unit);
    return buffer;
}
