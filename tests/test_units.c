/* Units and quantities: factors against published conversion values, the algebra of units, and
 * messages.
 *
 * Values marked SP811 are the rounded factors of NIST Special Publication 811 (2008), appendix B.8,
 * from memory to the seven digits given (half a unit of the last is at most 5e-7); each is far from
 * any neighbouring definition (conventional and other columns of mercury differ by more than the
 * tolerance). Values marked SI are definitions of the SI Brochure. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include "core/units.h"
#include "gas/gas.h"
#include "support/support.h"

static rfy_arena *arena;
static const rfy_units *units;

static int setup(void **state) {
    (void)state;
    arena = rfy_arena_new();
    units = rfy_units_new(arena);
    return 0;
}

static int teardown(void **state) {
    (void)state;
    rfy_arena_free(arena);
    return 0;
}

static double read(const char *text, rfy_dim dim) {
    double value = 0;
    rfy_quantity_error error;
    if (!rfy_parse_quantity(units, text, dim, &value, &error))
        fail_msg("\"%s\": %s; %s; %s", text, error.what, error.allowed, error.hint);
    return value;
}

static void test_published_factors(void **state) {
    (void)state;
    static const struct {
        const char *text;
        rfy_dim dim;
        double si, tolerance;
    } cases[] = {
        {"1 mbar", RFY_DIM_PRESSURE, 100, 0},                 /* SI */
        {"1 atm", RFY_DIM_PRESSURE, 101325, 0},               /* SP811 */
        {"1 Torr", RFY_DIM_PRESSURE, 133.3224, 5e-7},         /* SP811 1.333224 E+02 */
        {"760 Torr", RFY_DIM_PRESSURE, 101325, 1e-15},        /* its definition */
        {"1000 micron", RFY_DIM_PRESSURE, 133.3224, 5e-7},    /* trade use: 1 micron = 1e-3 Torr */
        {"1 mmHg", RFY_DIM_PRESSURE, 133.3224, 5e-7},         /* SP811, conventional */
        {"1 inHg", RFY_DIM_PRESSURE, 3386.389, 5e-7},         /* SP811, conventional */
        {"1 inH2O", RFY_DIM_PRESSURE, 249.0889, 5e-7},        /* SP811, conventional */
        {"1 cmH2O", RFY_DIM_PRESSURE, 98.0665, 1e-15},        /* SP811, conventional */
        {"1 psi", RFY_DIM_PRESSURE, 6894.757, 5e-7},          /* SP811 */
        {"1 dyn/cm2", RFY_DIM_PRESSURE, 0.1, 1e-15},          /* SP811 */
        {"1 in", RFY_DIM_LENGTH, 0.0254, 0},                  /* SP811 */
        {"1 ft", RFY_DIM_LENGTH, 0.3048, 0},                  /* SP811 */
        {"1 mil", RFY_DIM_LENGTH, 2.54e-5, 1e-15},            /* SP811 */
        {"1 gal", RFY_DIM_VOLUME, 3.785412e-3, 5e-7},         /* SP811, US liquid */
        {"1 ft3", RFY_DIM_VOLUME, 2.831685e-2, 5e-7},         /* SP811 */
        {"1 in3", RFY_DIM_VOLUME, 1.638706e-5, 5e-7},         /* SP811 */
        {"1 cfm", RFY_DIM_FLOW, 4.719474e-4, 5e-7},           /* SP811 ft3/min */
        {"1 ft3/min", RFY_DIM_FLOW, 4.719474e-4, 5e-7},       /* SP811 */
        {"1 L/min", RFY_DIM_FLOW, 1.666667e-5, 5e-7},         /* SP811 */
        {"1 lb", RFY_DIM_MASS, 0.45359237, 0},                /* SP811 */
        {"1 kcal/mol", RFY_DIM_ENERGY_MOLAR, 4184, 0},        /* SP811, thermochemical */
        {"1 cP", RFY_DIM_VISCOSITY, 1e-3, 0},                 /* SP811 */
        {"1 year", RFY_DIM_TIME, 365.25 * 86400, 0},          /* IAU: Julian year */
        {"180 deg", RFY_DIM_ANGLE, 3.141592653589793, 1e-15}, /* SI */
        {"20 degC", RFY_DIM_TEMPERATURE, 293.15, 1e-15},      /* SI */
        {"32 degF", RFY_DIM_TEMPERATURE, 273.15, 1e-14},      /* SP811 */
        {"212 degF", RFY_DIM_TEMPERATURE, 373.15, 1e-14},     /* SP811 */
        {"-459.67 degF", RFY_DIM_TEMPERATURE, 0, 1e-14},      /* SP811 */
        {"1 Torr L/s", RFY_DIM_THROUGHPUT, 0.1333224, 5e-7},  /* SP811 Torr times SI litre */
        {"1 lusec", RFY_DIM_THROUGHPUT, 1.333224e-4, 5e-7},   /* 1e-3 Torr L/s */
        {"1 atm cm3/s", RFY_DIM_THROUGHPUT, 0.101325, 1e-15}, /* SI */
        {"1 mbar L/s/cm2", RFY_DIM_AREA_RATE, 1000, 1e-15},   /* SI */
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        assert_close(read(cases[i].text, cases[i].dim), cases[i].si, cases[i].tolerance,
                     cases[i].si > 0 ? 0 : 1e-10, "%s", cases[i].text);
}

/* One mole at 0 degC and 101325 Pa fills 22.413969 54... L (CODATA 2018 molar volume of an ideal
 * gas, exact since 2019), so 1 slm is 1/22.41396954 mol/min; at 293.15 K it is counted as 101325 Pa
 * x 1 L/min x 293.15/273.15. */
static void test_molar_flow(void **state) {
    (void)state;
    const double molar_volume = 22.41396954e-3;
    double one_mole = read("1 mol", RFY_DIM_GAS_AMOUNT);
    assert_close(one_mole, 101325 * molar_volume * 293.15 / 273.15, 1e-9, 0,
                 "Pa m3 of a mole at 20 degC");
    assert_close(read("1 slm", RFY_DIM_THROUGHPUT), 101325 * 1e-3 / 60 * 293.15 / 273.15, 1e-12, 0,
                 "slm");
    assert_close(read("1000 sccm", RFY_DIM_THROUGHPUT), read("1 slm", RFY_DIM_THROUGHPUT), 1e-14, 0,
                 "sccm");
    assert_close(read("1 slm", RFY_DIM_THROUGHPUT), one_mole * 1e-3 / molar_volume / 60, 1e-9, 0,
                 "slm in moles");
    assert_close(read("1 mol/s", RFY_DIM_THROUGHPUT), one_mole, 1e-15, 0, "mol/s");
    assert_close(read("1 mol/s/m2", RFY_DIM_AREA_RATE), one_mole, 1e-15, 0, "mol/s/m2");
    /* core may not include gas, so it has its own copies of the two constants. */
    assert_close(RFY_UNITS_R, RFY_R, 0, 0, "gas constant");
    assert_close(RFY_UNITS_T_REF, RFY_T_REF, 0, 0, "reference temperature");
}

/* Different ways to write the same unit. */
static void test_algebra(void **state) {
    (void)state;
    static const char *const same[] = {
        "3 mbar L/s/cm2",        "3 mbar l/s/cm2",           "3 mbar*L/s/cm^2",
        "3 mbar·L/(s·cm2)",      "3 mbar L/(s cm²)",         "3 mbar L s-1 cm-2",
        "3 mbar L s^-1 cm^-2",   "3 mbar L s⁻¹ cm⁻²",        "3mbar L / s / cm2",
        "  3   mbar  L/s/cm2  ", "3 mbar.L/s/cm2",           "3\xC2\xA0mbar L/s/cm2",
        "3 mbar/(s cm2/L)",      "3e0 mbar ⋅ L / (s ⋅ cm2)", "3.0 hPa dm3/s/cm2"};
    for (size_t i = 0; i < sizeof same / sizeof same[0]; i++)
        assert_close(read(same[i], RFY_DIM_AREA_RATE), 3000, 1e-14, 0, "%s", same[i]);
    assert_close(read("5 µm", RFY_DIM_LENGTH), 5e-6, 1e-15, 0, "micro sign");
    assert_close(read("5 μm", RFY_DIM_LENGTH), 5e-6, 1e-15, 0, "Greek mu");
    assert_close(read("20 °C", RFY_DIM_TEMPERATURE), 293.15, 1e-15, 0, "degree sign");
    assert_close(read("90°", RFY_DIM_ANGLE), 1.5707963267948966, 1e-15, 0, "degree of arc");
    assert_close(read("4 m³/h", RFY_DIM_FLOW), 4.0 / 3600, 1e-15, 0, "superscript");
    assert_close(read("50 %", RFY_DIM_NONE), 0.5, 0, 0, "percent");
    assert_close(read("50%", RFY_DIM_NONE), 0.5, 0, 0, "percent without a blank");
    assert_close(read("3 ppm", RFY_DIM_NONE), 3e-6, 1e-15, 0, "ppm");
    assert_close(read("0.7", RFY_DIM_NONE), 0.7, 0, 0, "bare number");
    /* A heating rate is a difference: 9 degF per minute are 5 K per minute. */
    assert_close(read("5 degC/min", RFY_DIM_HEATING_RATE), 5.0 / 60, 1e-15, 0,
                 "degC as difference");
    assert_close(read("9 degF/min", RFY_DIM_HEATING_RATE), 5.0 / 60, 1e-14, 0,
                 "degF as difference");
}

static void test_messages(void **state) {
    (void)state;
    static const struct {
        const char *text;
        rfy_dim dim;
        const char *what, *hint; /* parts of them */
        size_t offset;
    } cases[] = {
        {"25 mn", RFY_DIM_LENGTH, "unit \"mn\" is not known", "did you mean \"mm\"?", 3},
        {"10 mBar", RFY_DIM_PRESSURE, "unit \"mBar\"", "did you mean \"mbar\"?", 3},
        {"1 torr", RFY_DIM_PRESSURE, "unit \"torr\"", "did you mean \"Torr\"?", 2},
        {"3 sec", RFY_DIM_TIME, "unit \"sec\"", "did you mean \"s\"?", 2},
        {"3 hrs", RFY_DIM_TIME, "unit \"hrs\"", "did you mean \"h\"?", 2},
        {"20 C", RFY_DIM_TEMPERATURE, "unit \"C\"", "did you mean \"degC\"?", 3},
        {"2 liters", RFY_DIM_VOLUME, "unit \"liters\"", "did you mean \"L\"?", 2},
        {"1 mbar l/sec", RFY_DIM_THROUGHPUT, "unit \"sec\"", "did you mean \"mbar l/s\"?", 9},
        {"3 M3/h", RFY_DIM_FLOW, "unit \"M\"", "did you mean \"m3/h\"?", 2},
        {"5 s", RFY_DIM_LENGTH, "\"5 s\" is a time", "", 0},
        {"5 mm", RFY_DIM_AREA, "\"5 mm\" is a length", "", 0},
        {"5 L/s", RFY_DIM_THROUGHPUT, "\"5 L/s\" is a volume flow", "", 0},
        {"5 %", RFY_DIM_LENGTH, "\"5 %\" is a ratio", "", 0},
        {"5 N", RFY_DIM_LENGTH, "\"5 N\" is not a length", "", 0},
        {"90 deg", RFY_DIM_NONE, "\"90 deg\" is an angle", "", 0},
        {"0.4", RFY_DIM_VOLUME, "\"0.4\" has no unit", "write \"0.4 L\" or \"0.4 m3\"", 0},
        {"", RFY_DIM_VOLUME, "empty", "", 0},
        {"L", RFY_DIM_VOLUME, "does not begin with a number", "", 0},
        {"1,5 L", RFY_DIM_VOLUME, "cannot be read", "decimals take a point", 1},
        {"1 500 L", RFY_DIM_VOLUME, "cannot be read", "one piece", 2},
        {"1x10-3 L", RFY_DIM_VOLUME, "cannot be read", "1e-8", 1},
        {"10^-3 L", RFY_DIM_VOLUME, "cannot be read", "1e-8", 2},
        {"2·10-3 L", RFY_DIM_VOLUME, "cannot be read", "1e-8", 1},
        {"1e999 L", RFY_DIM_VOLUME, "too large", "", 0},
        {"1e308 km", RFY_DIM_LENGTH, "too large", "", 0},
        {"-300 degC", RFY_DIM_TEMPERATURE, "below absolute zero", "", 0},
        {"5 degC m/m", RFY_DIM_TEMPERATURE, "stand alone", "", 0},
        {"5 Pa)", RFY_DIM_PRESSURE, "does not belong", "", 4},
        {"5 (Pa", RFY_DIM_PRESSURE, "not closed", "", 5},
        {"5 Pa/", RFY_DIM_PRESSURE, "unit is missing", "", 5},
        {"5 m^0", RFY_DIM_LENGTH, "exponent", "", 5},
        {"5 m^", RFY_DIM_AREA, "exponent", "", 3},
        {"5 mm 3", RFY_DIM_LENGTH, "does not belong", "", 5},
        {"5 m3xyz", RFY_DIM_VOLUME, "unit \"m3xyz\" is not known", "", 2},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        double value;
        rfy_quantity_error e;
        if (rfy_parse_quantity(units, cases[i].text, cases[i].dim, &value, &e))
            fail_msg("\"%s\" was accepted", cases[i].text);
        if (!strstr(e.what, cases[i].what) || !strstr(e.hint, cases[i].hint) ||
            (!*cases[i].hint && *e.hint) || e.offset != cases[i].offset)
            fail_msg("\"%s\": at %zu: %s; %s", cases[i].text, e.offset, e.what, e.hint);
        assert_string_equal(e.allowed, rfy_dim_example(cases[i].dim));
    }
}

static void test_prefix(void **state) {
    (void)state;
    static const struct {
        const char *text;
        rfy_dim dim;
        double si;
        size_t used; /* 0 = an error */
    } cases[] = {
        {"16 mm x 1.0 m", RFY_DIM_LENGTH, 0.016, 5},
        {"16 mm, 2 m", RFY_DIM_LENGTH, 0.016, 5},
        {"16mm 90 deg", RFY_DIM_LENGTH, 0.016, 4},
        {"10 Pa and t > 3 s", RFY_DIM_PRESSURE, 10, 5},
        {"1e-8 mbar L/s or more", RFY_DIM_THROUGHPUT, 1e-9, 13},
        {"90 % and x", RFY_DIM_NONE, 0.9, 4},
        {"3 or 4", RFY_DIM_NONE, 3, 1},
        {"3", RFY_DIM_NONE, 3, 1},
        {"2 m s", RFY_DIM_LENGTH, 2, 3}, /* the longest unit of the wanted dimension */
        {"16 x 2 m", RFY_DIM_LENGTH, 0, 0},
        {"10 s and", RFY_DIM_LENGTH, 0, 0},
        {"10 mn and", RFY_DIM_LENGTH, 0, 0},
        {"and", RFY_DIM_LENGTH, 0, 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        double value = 0;
        size_t used = 0;
        rfy_quantity_error e;
        bool good =
            rfy_parse_quantity_prefix(units, cases[i].text, cases[i].dim, &value, &used, &e);
        if (good != (cases[i].used > 0) || (good && used != cases[i].used))
            fail_msg("\"%s\": %d, %zu bytes", cases[i].text, good, used);
        if (good)
            assert_close(value, cases[i].si, 1e-14, 0, "%s", cases[i].text);
        else
            assert_true(e.what[0] && e.allowed[0]);
    }
}

/* Every row of the table, alone: a value and its inverse make the round trip. */
static void test_every_unit(void **state) {
    (void)state;
    assert_true(rfy_units_count(units) > 60);
    for (size_t i = 0; i < rfy_units_count(units); i++) {
        const rfy_unit_row *row = rfy_units_row(units, i);
        assert_true(row->si > 0 && isfinite(row->si));
        assert_true(*row->source && strlen(row->status) == 1 && strchr("RNMDP", row->status[0]));
        int dims = 0;
        for (int d = 0; d < RFY_DIM_COUNT; d++) {
            double factor = 0, offset = 0;
            rfy_quantity_error error;
            if (!rfy_parse_unit(units, row->symbol, (rfy_dim)d, &factor, &offset, &error))
                continue;
            dims++;
            char text[80];
            snprintf(text, sizeof text, "37.25 %s", row->symbol);
            double si = read(text, (rfy_dim)d);
            assert_close((si - offset) / factor, 37.25, 1e-13, 0, "%s back and forth", row->symbol);
        }
        /* Force and energy are there for pressures and molar energies; J is also Pa m3. */
        bool part = strcmp(row->dimension, "force") == 0;
        assert_true(part ? dims == 0 : dims == 1);
        for (size_t k = 0; k < i; k++)
            assert_string_not_equal(rfy_units_row(units, k)->symbol, row->symbol);
    }
}

static void test_dimensions(void **state) {
    (void)state;
    for (int d = 0; d < RFY_DIM_COUNT; d++) {
        assert_true(*rfy_dim_name((rfy_dim)d) && *rfy_dim_example((rfy_dim)d));
        const char *si = rfy_dim_si((rfy_dim)d);
        if (*si) {
            double factor = 0, offset = 0;
            rfy_quantity_error error;
            assert_true(rfy_parse_unit(units, si, (rfy_dim)d, &factor, &offset, &error));
            assert_close(factor, 1, 0, 0, "SI unit of %s", rfy_dim_name((rfy_dim)d));
        }
        /* The example in the phrase is one. */
        char example[64];
        if (sscanf(rfy_dim_example((rfy_dim)d), "%*[^\"]\"%63[^\"]\"", example) == 1)
            read(example, (rfy_dim)d);
        /* What is written for people reads back. */
        for (double value = 1.5e-9; value < 1e9; value *= 7) {
            char text[64];
            rfy_format_quantity(text, sizeof text, (rfy_dim)d, value);
            assert_close(read(text, (rfy_dim)d), value, 1e-5, d == RFY_DIM_TEMPERATURE ? 1e-3 : 0,
                         "%s", text);
        }
    }
}

static void test_format(void **state) {
    (void)state;
    static const struct {
        double si;
        rfy_dim dim;
        const char *text;
    } cases[] = {{0.1, RFY_DIM_LENGTH, "100 mm"},      {10, RFY_DIM_LENGTH, "10 m"},
                 {0, RFY_DIM_LENGTH, "0 m"},           {28800, RFY_DIM_TIME, "8 h"},
                 {100, RFY_DIM_TIME, "100 s"},         {293.15, RFY_DIM_TEMPERATURE, "20 degC"},
                 {200, RFY_DIM_TEMPERATURE, "200 K"},  {1e-3, RFY_DIM_VOLUME, "1 L"},
                 {2e5, RFY_DIM_PRESSURE, "200000 Pa"}, {0.5, RFY_DIM_NONE, "0.5"}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[64];
        assert_string_equal(rfy_format_quantity(text, sizeof text, cases[i].dim, cases[i].si),
                            cases[i].text);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_published_factors),
        cmocka_unit_test(test_molar_flow),
        cmocka_unit_test(test_algebra),
        cmocka_unit_test(test_messages),
        cmocka_unit_test(test_prefix),
        cmocka_unit_test(test_every_unit),
        cmocka_unit_test(test_dimensions),
        cmocka_unit_test(test_format),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
