/* One piece at every pressure, against numbers of the trade, kinetic tables and gas dynamics. Tags:
 * exact = a closed form; N recomputed numerically from the published equation; M from memory; D
 * worked out by hand here. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support/support.h"

#define PI 3.14159265358979323846
#define R  8.31446261815324

static rfy_status ask(rfy_conductance_result **out, const char *piece,
                      const rfy_conductance_options *options, rfy_problems **problems) {
    rfy_problems *list = rfy_problems_new("test");
    rfy_status status = rfy_conductance_find(out, piece, NULL, 0, options, list);
    if (problems)
        *problems = list;
    else
        rfy_problems_free(list);
    return status;
}

static rfy_conductance_result *answer(const char *piece, rfy_conductance_options options) {
    rfy_conductance_result *r = NULL;
    rfy_problems *problems;
    if (ask(&r, piece, &options, &problems) != RFY_OK) {
        rfy_write_problems(stderr, problems);
        fail_msg("\"%s\" has no answer", piece);
    }
    rfy_problems_free(problems);
    return r;
}

/* The row at one pressure, copied out. */
static rfy_conductance_row at_pressure(const char *piece, double pascal,
                                       rfy_conductance_options options) {
    char text[48];
    snprintf(text, sizeof text, "%.17g Pa", pascal);
    options.from = options.to = text;
    rfy_conductance_result *r = answer(piece, options);
    assert_int_equal(r->n_rows, 1);
    rfy_conductance_row row = r->row[0];
    rfy_conductance_free(r);
    assert_close(row.pressure, pascal, 1e-12, 0, "pressure asked for");
    return row;
}

/* ---- molecular flow ---- */

static void apertures_pass_a_quarter_of_the_mean_speed(void **state) {
    (void)state;
    /* L/s/cm2 at 20 degC: A vbar/4 (exact; Knudsen 1909), N for each gas */
    static const struct {
        const char *gas;
        double litres;
    } known[] = {{"N2", 11.768}, {"air", 11.573}, {"He", 31.13}, {"H2", 43.87},
                 {"H2O", 14.67}, {"Ar", 9.854},   {"CO2", 9.389}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        rfy_conductance_result *r =
            answer("orifice 1 cm", (rfy_conductance_options){.gas = known[i].gas});
        assert_close(r->area, PI * 0.25e-4, 1e-12, 0, "area");
        assert_close(r->transmission, 1, 1e-12, 0, "transmission of a thin hole");
        assert_close(r->molecular * 1e3 / (r->area * 1e4), known[i].litres, 6e-4, 0, "%s",
                     known[i].gas);
        rfy_conductance_free(r);
    }
}

static void long_tubes_meet_knudsen(void **state) {
    (void)state;
    /* air at 20 degC: 12.119 D^3/L in L/s and cm (N; 12.1 in print). 1/W = 3l/8 + 0.281 ln l +
     * 0.754 (N) leaves the tube 0.02 % below at l = 1e5, and the kinetic curve 0.05 % below at
     * delta = 1e-4. */
    rfy_conductance_result *r =
        answer("tube 1 cm x 500 m", (rfy_conductance_options){.gas = "air"});
    assert_close(r->molecular * 1e3, 12.119 / 50000, 3e-4, 0, "12.1 D^3/L");
    rfy_conductance_free(r);
}

static void short_tubes_meet_clausing(void **state) {
    (void)state;
    /* W at length/radius (N, Clausing's integral equation 1932) */
    static const double known[][2] = {
        {1, 0.671984}, {2, 0.514231}, {10, 0.190942}, {50, 0.0484765}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        char piece[64];
        snprintf(piece, sizeof piece, "tube 20 mm x %g mm", 10 * known[i][0]);
        rfy_conductance_result *r = answer(piece, (rfy_conductance_options){.gas = "Xe"});
        assert_close(r->transmission, known[i][1], 1e-4, 0, "%s", piece);
        rfy_conductance_free(r);
    }
}

static void mixtures_pass_gas_by_gas(void **state) {
    (void)state;
    const char *piece = "tube 10 mm x 100 mm";
    rfy_conductance_result *h2 = answer(piece, (rfy_conductance_options){.gas = "H2"});
    rfy_conductance_result *co2 = answer(piece, (rfy_conductance_options){.gas = "CO2"});
    rfy_conductance_options both = {
        .gas = "H2 = 0.25, CO2=75 %", .pump = "1 L/s", .from = "1e-6 Pa", .to = "1e-6 Pa"};
    rfy_conductance_result *r = answer(piece, both);
    double c1 = h2->molecular, c2 = co2->molecular, s = 1e-3;
    assert_close(r->molecular, 0.25 * c1 + 0.75 * c2, 1e-12, 0, "the sum of both");
    /* at delta below 1e-6 each gas flows for itself; each has its own S C/(S + C) (exact) */
    assert_close(r->row[0].conductance, 0.25 * c1 + 0.75 * c2, 1e-5, 0, "at 1e-6 Pa");
    assert_close(r->row[0].effective_speed, 0.25 * s * c1 / (s + c1) + 0.75 * s * c2 / (s + c2),
                 1e-5, 0, "a pump behind it");
    rfy_conductance_free(h2);
    rfy_conductance_free(co2);
    rfy_conductance_free(r);
}

/* Air as one gas, and as the nitrogen and oxygen it is: viscous flow must agree within the data. */
static void twins_of_air_agree(void **state) {
    (void)state;
    const char *piece = "tube 16 mm x 1 m";
    for (double p = 1e-4; p < 2e5; p *= 10) {
        rfy_conductance_options one = {.gas = "air", .pump = "3 m3/h"};
        rfy_conductance_options two = {.gas = "N2=0.79,O2=0.21", .pump = "3 m3/h"};
        rfy_conductance_row a = at_pressure(piece, p, one), b = at_pressure(piece, p, two);
        assert_close(a.conductance, b.conductance, 0.01, 0, "at %g Pa", p);
        assert_close(a.effective_speed, b.effective_speed, 0.01, 0, "pumped at %g Pa", p);
    }
}

static void warm_gas_is_faster(void **state) {
    (void)state;
    rfy_conductance_result *cold =
        answer("tube 16 mm x 1 m", (rfy_conductance_options){.temperature = "300 K"});
    rfy_conductance_result *warm =
        answer("tube 16 mm x 1 m", (rfy_conductance_options){.temperature = "363 K"});
    assert_close(warm->molecular / cold->molecular, sqrt(363.0 / 300.0), 1e-12, 0, "sqrt(T)");
    rfy_conductance_free(cold);
    rfy_conductance_free(warm);
}

/* ---- above it ---- */

static void long_tubes_follow_the_kinetic_curve(void **state) {
    (void)state;
    /* G_P of the S-model for a long tube (N): delta = p radius/(mu v0); C = (pi radius^3 v0/2L)
     * G_P. The minimum found by Knudsen (1909) is near delta = 0.2 to 0.3, 8 % below molecular
     * flow. */
    static const double known[][2] = {{0.01, 1.47701}, {0.1, 1.40902}, {0.2, 1.38983},
                                      {0.5, 1.40054},  {1, 1.47645},   {2, 1.67791},
                                      {10, 3.57624},   {100, 26.0251}};
    const char *piece = "tube 10 mm x 100 m"; /* length/radius 20000: ends take 0.05 % of it */
    const double radius = 0.005, length = 100;
    rfy_conductance_result *r = answer(piece, (rfy_conductance_options){.gas = "Ar"});
    double v0 = sqrt(2 * R * r->temperature / r->molar_mass), mu = r->viscosity;
    double molecular = r->molecular, least = INFINITY, least_delta = 0;
    rfy_conductance_free(r);
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        double delta = known[i][0], p = delta * mu * v0 / radius;
        rfy_conductance_row row = at_pressure(piece, p, (rfy_conductance_options){.gas = "Ar"});
        assert_close(row.conductance,
                     PI * radius * radius * radius * v0 / (2 * length) * known[i][1], 1.5e-3, 0,
                     "delta %g", delta);
        /* lambda/bore = sqrt(pi)/(4 delta) with the stated path (exact) */
        assert_close(row.knudsen, sqrt(PI) / (4 * delta), 1e-9, 0, "Knudsen number at delta %g",
                     delta);
        assert_int_equal(row.regime, row.knudsen > 0.5    ? RFY_REGIME_MOLECULAR
                                     : row.knudsen < 0.01 ? RFY_REGIME_LAMINAR
                                                          : RFY_REGIME_TRANSITION);
        if (row.conductance < least) {
            least = row.conductance;
            least_delta = delta;
        }
    }
    assert_close(least_delta, 0.2, 1e-12, 0, "where the minimum is, of the eight");
    assert_close(least / molecular, 1.38983 * 3 * sqrt(PI) / 8, 2e-3, 0, "how deep it is");
}

static void viscous_flow_is_poiseuilles(void **state) {
    (void)state;
    /* C = pi D^4 p/(128 mu L) (exact); for air at 20 degC 135 D^4 p/L in L/s, cm and mbar (R),
     * within 1 % of the viscosity. At 1e4 Pa wall slip adds 4 x 1.018/delta = 0.04 % (N). */
    rfy_conductance_result *r =
        answer("tube 2 cm x 100 m",
               (rfy_conductance_options){.gas = "air", .from = "1e4 Pa", .to = "1e4 Pa"});
    double c = r->row[0].conductance, d = 0.02;
    assert_close(c, PI * d * d * d * d * 1e4 / (128 * r->viscosity * 100), 1e-3, 0,
                 "Hagen and Poiseuille");
    assert_close(c * 1e3, 135.4 * 16 * 100 / 1e4, 0.01, 0, "135 D^4 p/L");
    rfy_conductance_free(r);
    /* into a vacuum, long and slow: half of p C (integral of p dp), slip again on top: 4
     * x 1.018/(delta/2), 1.1 % at 737 */
    rfy_conductance_row row = at_pressure("tube 2 cm x 1000 m", 1000, (rfy_conductance_options){0});
    assert_close(row.throughput, 0.5 * 1000 * row.conductance, 0.012, 0, "into a vacuum");
    assert_int_equal(row.regime, RFY_REGIME_LAMINAR);
    /* Re = 4 M Q/(pi mu R T D) (exact) */
    r = answer("tube 2 cm x 1 m",
               (rfy_conductance_options){.from = "1e5 Pa", .to = "1e5 Pa", .drop = "0.1 %"});
    row = r->row[0];
    assert_close(row.reynolds,
                 4 * r->molar_mass * row.throughput / (PI * r->viscosity * R * 293.15 * d), 1e-9, 0,
                 "Reynolds number");
    assert_int_equal(row.regime, RFY_REGIME_TURBULENT);
    rfy_conductance_free(r);
}

static void apertures_choke(void **state) {
    (void)state;
    /* N2 at 20 degC through a lossless nozzle: 20.20 L/s/cm2 (exact gas dynamics, N); a sharp-edged
     * hole passes 0.83 to 0.86 of it into a vacuum (Perry 1949, M) */
    const char *piece = "orifice 10 mm";
    rfy_conductance_row row = at_pressure(piece, 1e5, (rfy_conductance_options){.gas = "N2"});
    double ideal = 20.20 * 1e-3 * PI * 0.25 * 1e5;
    assert_true(row.throughput > 0.83 * ideal && row.throughput < 0.86 * ideal);
    assert_int_equal(row.regime, RFY_REGIME_CHOKED);
    assert_true(isnan(row.effective_speed));
    /* 40 % of the pressure behind it is still below the critical ratio */
    row = at_pressure(piece, 1e5, (rfy_conductance_options){.downstream = "40 kPa"});
    assert_int_equal(row.regime, RFY_REGIME_CHOKED);
    row = at_pressure(piece, 1e5, (rfy_conductance_options){.downstream = "90 kPa"});
    assert_int_equal(row.regime, RFY_REGIME_TURBULENT);
    /* the same stated as a drop */
    rfy_conductance_row drop = at_pressure(piece, 1e5, (rfy_conductance_options){.drop = "10 %"});
    assert_close(drop.throughput, row.throughput, 1e-12, 0, "10 %% is 90 kPa");
    assert_close(drop.downstream, 9e4, 1e-12, 0, "behind a drop");
}

/* ---- with a pump ---- */

static void hoses_cost_a_small_pump_speed(void **state) {
    (void)state;
    /* 1 m of hose and 5 m3/h, worked out beforehand by hand with the end-corrected tube, 1/W = 1 +
     * 3l/8 (D): L/s. That formula lies up to 4.2 % above Clausing's solution at these lengths (N).
     * Viscous: at 1 mbar, without slip, which adds 4 x 1.018/delta (N), and without ends, which
     * take 3 pi/8 radii (Sampson 1891). */
    static const struct {
        const char *piece;
        double radius, c, s, viscous;
    } known[] = {{"tube 10 mm x 1 m", 0.005, 0.12, 0.11, 1.35},
                 {"tube 16 mm x 1 m", 0.008, 0.485, 0.36, 8.85},
                 {"tube 25 mm x 1 m", 0.0125, 1.83, 0.79, 52.7},
                 {"tube 40 mm x 1 m", 0.020, 7.35, 1.17, 345}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        rfy_conductance_options o = {.gas = "air", .pump = "5 m3/h"};
        rfy_conductance_row row = at_pressure(known[i].piece, 1e-6, o);
        double c = row.conductance * 1e3, s = row.effective_speed * 1e3, speed = 5 / 3.6;
        assert_true(c < known[i].c + 0.006 && c > 0.955 * known[i].c - 0.006);
        assert_close(s, known[i].s, 0.01, 0.006, "speed through %s", known[i].piece);
        assert_close(s, speed * c / (speed + c), 1e-5, 0,
                     "S C/(S + C) where C does not depend on pressure");
        row = at_pressure(known[i].piece, 100, o);
        double delta = sqrt(PI) / (4 * row.knudsen);
        assert_close(row.conductance * 1e3,
                     known[i].viscous * (1 + 4 * 1.018 / delta) /
                         (1 + 3 * PI / 8 * known[i].radius),
                     0.01, 0, "viscous in %s", known[i].piece);
    }
}

static void pumps_balance_the_flow(void **state) {
    (void)state;
    static const char *const gases[] = {"N2", "He=0.5,Xe=0.5"};
    for (size_t g = 0; g < 2; g++)
        for (double p = 1e-4; p < 2e5; p *= 10) {
            rfy_conductance_options o = {.gas = gases[g], .pump = "20 m3/h"};
            rfy_conductance_row row = at_pressure("tube 25 mm x 0.5 m", p, o);
            assert_close(row.throughput, 20 / 3600.0 * row.pump_pressure, 1e-9, 0,
                         "what the pump takes");
            assert_close(row.effective_speed * p, row.throughput, 1e-9, 0,
                         "what flows before the piece");
            assert_true(row.pump_pressure > 0 && row.pump_pressure < p);
            if (g > 0)
                continue; /* the mixture behind the piece is another one */
            char behind[48];
            snprintf(behind, sizeof behind, "%.17g Pa", row.pump_pressure);
            rfy_conductance_options fixed = {
                .gas = gases[g], .downstream = behind, .pump = "20 m3/h"};
            rfy_conductance_row same = at_pressure("tube 25 mm x 0.5 m", p, fixed);
            assert_close(same.throughput, row.throughput, 1e-6, 0, "what the piece passes at %g Pa",
                         p);
            assert_close(same.effective_speed, row.effective_speed, 1e-12, 0,
                         "the pump is still told of");
        }
}

/* ---- what is given, and what is refused ---- */

static void given_conductances_stay(void **state) {
    (void)state;
    rfy_conductance_options o = {.gas = "He", .pump = "2 L/s"};
    rfy_setting setting[] = {{"conductance", "5 L/s"}, {"volume", "0.3 L"}};
    rfy_problems *problems = rfy_problems_new("test");
    rfy_conductance_result *r;
    assert_int_equal(rfy_conductance_find(&r, "trap", setting, 2, &o, problems), RFY_OK);
    double c = 5e-3 * sqrt(28.9655 / 4.002602); /* for air, so by the root of the masses (exact) */
    for (size_t i = 0; i < r->n_rows; i++) {
        assert_close(r->row[i].conductance, c, 1e-6, 0, "the same everywhere");
        assert_close(r->row[i].effective_speed, 2e-3 * c / (2e-3 + c), 1e-6, 0, "and so the speed");
        assert_int_equal(r->row[i].regime, RFY_REGIME_GIVEN);
        assert_true(isnan(r->row[i].knudsen));
    }
    assert_true(isnan(r->area));
    assert_int_equal(r->n_care, 1);
    rfy_conductance_free(r);
    rfy_problems_free(problems);
}

static void closed_valves_pass_nothing(void **state) {
    (void)state;
    rfy_setting setting[] = {{"state", "closed"}};
    rfy_conductance_options o = {.pump = "2 L/s"};
    rfy_problems *problems = rfy_problems_new("test");
    rfy_conductance_result *r;
    assert_int_equal(rfy_conductance_find(&r, "valve 16 mm x 50 mm", setting, 1, &o, problems),
                     RFY_OK);
    for (size_t i = 0; i < r->n_rows; i++) {
        assert_true(r->row[i].conductance == 0 && r->row[i].throughput == 0);
        assert_true(r->row[i].effective_speed == 0);
    }
    assert_non_null(strstr(r->care[0], "closed"));
    rfy_conductance_free(r);
    rfy_problems_free(problems);
}

static void rows_stand_at_whole_decades_of_the_unit(void **state) {
    (void)state;
    rfy_conductance_result *r =
        answer("orifice 2 mm", (rfy_conductance_options){.pressure_unit = "mbar"});
    assert_int_equal(r->n_rows, 10);
    for (size_t i = 0; i < r->n_rows; i++)
        assert_close(r->row[i].pressure, 100 * pow(10, (double)i - 6), 1e-12, 0, "row %zu", i);
    rfy_conductance_free(r);
    r = answer("orifice 2 mm", (rfy_conductance_options){.from = "0.2 Pa", .to = "40 Pa"});
    static const double few[] = {0.2, 0.3, 1, 3, 10, 30, 40};
    assert_int_equal(r->n_rows, 7);
    for (size_t i = 0; i < r->n_rows; i++)
        assert_close(r->row[i].pressure, few[i], 1e-12, 0, "row %zu", i);
    rfy_conductance_free(r);
}

static void doubtful_gas_is_told(void **state) {
    (void)state;
    /* water boils at 23.4 hPa when it has 20 degC (M) */
    rfy_conductance_result *r = answer("orifice 2 mm", (rfy_conductance_options){.gas = "H2O"});
    assert_int_equal(r->n_care, 1);
    assert_non_null(strstr(r->care[0], "condense"));
    assert_non_null(strstr(r->care[0], "2.3"));
    rfy_conductance_free(r);
    r = answer("orifice 2 mm", (rfy_conductance_options){.temperature = "77 K"});
    assert_int_equal(r->n_care, 1);
    assert_non_null(strstr(r->care[0], "extrapolated"));
    rfy_conductance_free(r);
}

static void silence_is_told(void **state) {
    (void)state;
    rfy_conductance_result *r = answer("elbow 16 mm 90 deg", (rfy_conductance_options){0});
    bool gas = false, temperature = false, radius = false;
    for (size_t i = 0; i < r->n_assumed; i++) {
        gas = gas || strstr(r->assumed[i], "nitrogen");
        temperature = temperature || strstr(r->assumed[i], "20 degC");
        radius = radius || strstr(r->assumed[i], "radius: one bore");
    }
    assert_true(gas && temperature && radius);
    rfy_conductance_free(r);
}

static void refused(const char *piece, rfy_conductance_options o, rfy_status wanted,
                    const char *path, const char *says) {
    rfy_conductance_result *r;
    rfy_problems *problems;
    rfy_status status = ask(&r, piece, &o, &problems);
    if (status != wanted || rfy_problems_errors(problems) == 0) {
        rfy_write_problems(stderr, problems);
        fail_msg("%s: status %d, wanted %d", piece, (int)status, (int)wanted);
    }
    assert_null(r);
    const rfy_problem *p = rfy_problems_at(problems, 0);
    assert_string_equal(p->path, path);
    char all[1024];
    snprintf(all, sizeof all, "%s; %s; %s", p->what, p->allowed ? p->allowed : "",
             p->hint ? p->hint : "");
    if (!strstr(all, says))
        fail_msg("%s: \"%s\" does not say \"%s\"", piece, all, says);
    rfy_problems_free(problems);
}

static void faults_are_named(void **state) {
    (void)state;
    const char *tube = "tube 16 mm x 1 m";
    const rfy_conductance_options none = {0};
    refused("tub 16 mm x 1 m", none, RFY_USAGE, "", "did you mean \"tube\"");
    refused("", none, RFY_USAGE, "", "does not begin with a kind");
    refused("\xff", none, RFY_USAGE, "", "UTF-8");
    refused("tube", none, RFY_USAGE, "tube/bore", "missing");
    refused("tube 16 mn x 1 m", none, RFY_BAD_INPUT, "", "bore of the piece");
    refused("tube 16 mm x -1 m", none, RFY_BAD_INPUT, "tube/length", "too small");
    refused(tube, (rfy_conductance_options){.gas = "n2"}, RFY_BAD_INPUT, "gas",
            "did you mean \"N2\"");
    refused(tube, (rfy_conductance_options){.gas = ""}, RFY_BAD_INPUT, "gas", "no gas");
    refused(tube, (rfy_conductance_options){.gas = "N2,O2"}, RFY_BAD_INPUT, "gas", "mole fraction");
    refused(tube, (rfy_conductance_options){.gas = "N2=0.8,N2=0.2"}, RFY_BAD_INPUT, "gas", "twice");
    refused(tube, (rfy_conductance_options){.gas = "N2=0.8,O2=0.3"}, RFY_BAD_INPUT, "gas",
            "add up to 1");
    refused(tube, (rfy_conductance_options){.gas = "N2=1.5,O2=-0.5"}, RFY_BAD_INPUT, "gas",
            "above 0");
    refused(tube, (rfy_conductance_options){.from = "0 Pa"}, RFY_BAD_INPUT, "from", "too small");
    refused(tube, (rfy_conductance_options){.from = "10 Pa", .to = "1 Pa"}, RFY_BAD_INPUT, "to",
            "from");
    refused(tube, (rfy_conductance_options){.from = "1 Pa", .downstream = "2 Pa"}, RFY_BAD_INPUT,
            "from", "behind");
    refused(tube, (rfy_conductance_options){.drop = "5 Pa"}, RFY_BAD_INPUT, "drop", "downstream");
    refused(tube, (rfy_conductance_options){.drop = "120 %"}, RFY_BAD_INPUT, "drop", "too large");
    refused(tube, (rfy_conductance_options){.drop = "10 %", .downstream = "1 Pa"}, RFY_USAGE,
            "drop", "one of the two");
    refused(tube, (rfy_conductance_options){.pump = "0 L/s"}, RFY_BAD_INPUT, "pump", "too small");
    refused(tube, (rfy_conductance_options){.temperature = "1 K"}, RFY_BAD_INPUT, "temperature",
            "too small");
    refused(tube, (rfy_conductance_options){.pressure_unit = "m"}, RFY_USAGE, "pressure_unit",
            "pressure");

    static const struct {
        rfy_setting setting;
        rfy_status status;
        const char *says;
    } given[] = {{{"bore", "16 mm"}, RFY_USAGE, "twice"},
                 {{"lenght", "16 mm"}, RFY_USAGE, "did you mean \"length\""},
                 {{"name", "x"}, RFY_USAGE, "no say"},
                 {{"roughness", "1"}, RFY_BAD_INPUT, "unit"},
                 {{"roughness", "[1]"}, RFY_BAD_INPUT, "length"}};
    for (size_t i = 0; i < sizeof given / sizeof *given; i++) {
        rfy_problems *problems = rfy_problems_new("test");
        rfy_conductance_result *r;
        assert_int_equal(rfy_conductance_find(&r, tube, &given[i].setting, 1, NULL, problems),
                         given[i].status);
        const rfy_problem *p = rfy_problems_at(problems, 0);
        char all[512];
        snprintf(all, sizeof all, "%s %s %s", p->what, p->allowed ? p->allowed : "",
                 p->hint ? p->hint : "");
        assert_string_equal(p->path + strlen("tube/"), given[i].setting.path);
        if (!strstr(all, given[i].says))
            fail_msg("\"%s\" does not say \"%s\"", all, given[i].says);
        rfy_problems_free(problems);
    }
}

/* Every kind in every gas: finite, rising with pressure, never more than a
 * lossless nozzle. */
static void every_kind_is_sane(void **state) {
    (void)state;
    static const char *const pieces[] = {"tube 5 mm x 1 mm",    "tube 50 mm x 5 m",
                                         "elbow 25 mm 90 deg",  "orifice 1 mm",
                                         "valve 40 mm x 60 mm", "bellows 25 mm x 500 mm"};
    static const char *const gases[] = {
        "N2",  "O2",  "Ar", "H2O", "H2", "He",  "CO",
        "CO2", "CH4", "Ne", "Kr",  "Xe", "air", "H2=0.1,Xe=0.4,N2=0.5"};
    for (size_t i = 0; i < sizeof pieces / sizeof *pieces; i++)
        for (size_t g = 0; g < sizeof gases / sizeof *gases; g++) {
            rfy_conductance_result *r =
                answer(pieces[i], (rfy_conductance_options){
                                      .gas = gases[g], .pump = "10 m3/h", .downstream = "0 Pa"});
            double nozzle = 0.73 * r->area *
                            sqrt(R * 293.15 / r->molar_mass); /* psi of a monatomic gas, exact */
            for (size_t k = 0; k < r->n_rows; k++) {
                const rfy_conductance_row *x = &r->row[k];
                /* Knudsen's minimum; hydrogen dragged along by xenon loses more */
                double least = r->n_gases > 1 ? 0.7 : 0.92;
                assert_true(isfinite(x->conductance) && x->conductance > least * r->molecular);
                assert_true(x->throughput > 0 && x->throughput < x->pressure * nozzle);
                assert_true(x->effective_speed > 0 && x->effective_speed < 10 / 3600.0);
                assert_true(k == 0 || x->throughput > r->row[k - 1].throughput);
                assert_true(k == 0 || x->effective_speed > 0.95 * r->row[k - 1].effective_speed);
            }
            rfy_conductance_free(r);
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(apertures_pass_a_quarter_of_the_mean_speed),
        cmocka_unit_test(long_tubes_meet_knudsen),
        cmocka_unit_test(short_tubes_meet_clausing),
        cmocka_unit_test(mixtures_pass_gas_by_gas),
        cmocka_unit_test(twins_of_air_agree),
        cmocka_unit_test(warm_gas_is_faster),
        cmocka_unit_test(long_tubes_follow_the_kinetic_curve),
        cmocka_unit_test(viscous_flow_is_poiseuilles),
        cmocka_unit_test(apertures_choke),
        cmocka_unit_test(hoses_cost_a_small_pump_speed),
        cmocka_unit_test(pumps_balance_the_flow),
        cmocka_unit_test(given_conductances_stay),
        cmocka_unit_test(closed_valves_pass_nothing),
        cmocka_unit_test(rows_stand_at_whole_decades_of_the_unit),
        cmocka_unit_test(doubtful_gas_is_told),
        cmocka_unit_test(silence_is_told),
        cmocka_unit_test(faults_are_named),
        cmocka_unit_test(every_kind_is_sane),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
