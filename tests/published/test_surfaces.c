/* Walls that remember, against published figures and closed forms. Each check names its source and
 * its status: R read in a published text, N recomputed, M from memory, D derived, P common practice
 * without a source. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "support/sketch.h"
#include "support/catalog.h"
#include "surface/sites.h"
#include "surface/slab.h"

#define HOUR 3600.0
#define KB   1.380649e-23
#define PI   3.14159265358979323846

/* ---- adsorbed water ---- */

/* Net release per area, Pa m3/s/m2, of a vessel of 10 L with a wall of 0.3 m2 under a pump of
 * constant speed, S/A in m/s, at the times; by p S/A. `wall` completes the wall's description. */
static void release(const char *wall, double speed_per_area, const double *at, size_t n,
                    double *q) {
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'H2O'],"
        " 'chambers': [{'name': 'can', 'volume': '10 L', 'walls': [{'area': '0.3 m2', %s}]}],"
        " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'can', 'to': 'ambient', 'speed': "
        "'%.17g m3/s'}],"
        " 'run': {'until': '110 h', 'tolerance': 1e-7}}",
        wall, 0.3 * speed_per_area);
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.at = at;
    options.n_at = n;
    rfy_result *result = test_run(system, &options, RFY_OK);
    for (size_t i = 0; i < n; i++)
        q[i] = test_partial(result, i, "can", "H2O") * speed_per_area;
    rfy_result_free(result);
    rfy_system_free(system);
}

/* Exponent in time a = -dln q/dln t at a time, by a central difference. */
static double exponent(const char *wall, double speed_per_area, double time) {
    double at[2] = {time / 1.1, time * 1.1}, q[2];
    release(wall, speed_per_area, at, 2, q);
    return -log(q[1] / q[0]) / log(1.21);
}

/* Exponent of the pumping speed m = dln q/dln(S/A). */
static double by_speed(const char *wall, double speed_per_area, double time) {
    double low, high;
    release(wall, speed_per_area / 1.1, &time, 1, &low);
    release(wall, speed_per_area * 1.1, &time, 1, &high);
    return log(high / low) / log(1.21);
}

#define CLEAN "'material': 'stainless steel', 'condition': 'cleaned', 'model': 'adsorbed water'"

static void clean_steel_is_inside_the_published_spread(void **state) {
    (void)state;
    /* The number of sites is set by the row's rate at 10 h; the rate at 1 h and the exponent are
     * the model's own. Chiggiato, CERN lectures on outgassing (M): 3e-6 Pa m3/s/m2 at 1 h, 1/t;
     * spread of such tables 3 to 10 times (P). Fedchak et al. 2021 (R) find unbaked chambers of
     * several steels within 3 to 5 times of each other. A bench has S/A of 0.05 to 1 m/s: 60 L/s on
     * 0.06 to 1 m2.
     */
    static const double speeds[] = {0.05, 0.2, 1.0};
    for (size_t k = 0; k < 3; k++) {
        const double at[2] = {HOUR, 10 * HOUR};
        double q[2];
        release(CLEAN, speeds[k], at, 2, q);
        print_message("S/A %g m/s: %.3g and %.3g Pa m3/s/m2 at 1 h and 10 h\n", speeds[k], q[0],
                      q[1]);
        assert_true(q[0] > 3e-6 / 5 && q[0] < 3e-6 * 5);
        assert_true(q[1] > 3e-7 / 5 && q[1] < 3e-7 * 5);
        static const double hours[] = {0.3, 1, 3, 10, 30};
        for (size_t i = 0; i < 5; i++) {
            double a = exponent(CLEAN, speeds[k], hours[i] * HOUR);
            print_message("  %4g h: exponent %.3f\n", hours[i], a);
            assert_true(a > 0.8 && a < 1.2);
        }
    }
}

static void time_and_speed_share_one_exponent(void **state) {
    (void)state;
    /* Quasi-equilibrium between wall and gas: q depends on t (S/A)^-1 times S/A alone, so a + m = 1
     * (D; from the balance q = p S/A with the surface in equilibrium with p). */
    static const struct {
        const char *wall;
        double speed;
    } cases[] = {
        {"'material': 'stainless steel', 'condition': 'cleaned', 'model': 'adsorbed water', "
         "'sticking': 0.1",
         0.05},
        {"'material': 'stainless steel', 'model': 'adsorbed water', 'sticking': 0.1, 'energies': "
         "['85 kJ/mol', '115 kJ/mol'], 'layers': 3",
         0.1},
        {"'material': 'stainless steel', 'model': 'adsorbed water', 'sites': 'steep'", 0.02},
        {"'material': 'stainless steel', 'model': 'adsorbed water', 'sites': 'steep'", 0.01},
    };
    static const double hours[] = {3, 24, 72};
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++)
        for (size_t i = 0; i < 3; i++) {
            double a = exponent(cases[k].wall, cases[k].speed, hours[i] * HOUR);
            double m = by_speed(cases[k].wall, cases[k].speed, hours[i] * HOUR);
            print_message("case %zu, %g h: a %.3f, m %.3f, a + m - 1 = %.4f\n", k, hours[i], a, m,
                          a + m - 1);
            assert_true(fabs(a + m - 1) <= 0.05);
        }
    double m = by_speed("'material': 'stainless steel', 'condition': 'cleaned', 'model': 'adsorbed "
                        "water', 'sticking': 0",
                        0.1, 10 * HOUR);
    assert_close(m, 0, 0, 1e-3, "no sticking, no dependence on the pump");
}

static void steep_sites_follow_the_pump_as_published(void **state) {
    (void)state;
    /* The sites are shaped for this (data/sites.csv); their exponent is the lower of the two
     * published ones at every speed, so the 0.83 is not met. JVST A 15 (1997) 258, abstract (R):
     * 304 steel after 72 h, rate as (S/A)^0.83 above 1e-3 L/s/cm2 = 0.01 m/s and (S/A)^0.47 below.
     */
    static const double speeds[] = {2e-3, 5e-3, 0.02, 0.05};
    for (size_t k = 0; k < 4; k++) {
        double m = by_speed("'material': 'stainless steel', 'model': 'adsorbed water', 'sites': "
                            "'steep'",
                            speeds[k], 72 * HOUR);
        print_message("S/A %g m/s: m %.3f\n", speeds[k], m);
        assert_true(m > 0.4 && m < 0.9);
    }
}

static void no_more_than_one_energy_can_give(void **state) {
    (void)state;
    /* D. Edwards Jr 1976 (R: printed 1.146e-5 A/(S t) Torr, A cm2, S L/s): first-order release of
     * n0 has q t <= n0 kT/e at every time and energy; 0.0149 Pa m3/m2 per 1e19 /m2 at 293 K. */
    const double bound = RFY_MONOLAYER * KB * 293.15 / exp(1);
    assert_close(bound, 0.0149, 0.01, 0, "the bound itself");
    static const char *const walls[] = {
        "'material': 'stainless steel', 'model': 'adsorbed water', 'layers': 1, 'sticking': 0",
        "'material': 'stainless steel', 'model': 'adsorbed water', 'layers': 1",
        "'material': 'stainless steel', 'model': 'adsorbed water', 'layers': 1, 'sticking': 0.1",
        "'material': 'stainless steel', 'model': 'adsorbed water', 'layers': 1, 'sites': 'steep'",
        /* nearly one energy: comes close to the bound at t = 1/k, 41 min for 92 kJ/mol */
        "'material': 'stainless steel', 'model': 'adsorbed water', 'layers': 1, 'sticking': 0, "
        "'energies': ['91.9 kJ/mol', '92.1 kJ/mol']"};
    double most = 0;
    for (size_t k = 0; k < 5; k++) {
        double at[60], q[60];
        for (int i = 0; i < 60; i++)
            at[i] = 60 * pow(10, i * 0.06);
        release(walls[k], 0.1, at, 60, q);
        most = 0;
        for (int i = 0; i < 60; i++) {
            assert_true(q[i] * at[i] <= bound * (1 + 1e-6));
            most = fmax(most, q[i] * at[i] / bound);
        }
        print_message("wall %zu: at most %.3f of the bound\n", k, most);
    }
    assert_true(most > 0.98);
}

static void bins_ripple_little(void **state) {
    (void)state;
    /* Against an even spread without bins: q t = N kT RT/dE (Redhead 1995, JVST A 13, 467; D). */
    rfy_sites_spec spec = {1, 80e3, 120e3, 0, 1e13, 0};
    assert_true(RFY_SITE_BINS >= 15);
    double exact = RFY_MONOLAYER * RFY_R * 293.15 / 40e3, worst = 0;
    for (double t = 600; t < 1e6; t *= 1.02)
        worst = fmax(worst, fabs(rfy_sites_release(&spec, 293.15, t) * t / exact - 1));
    print_message("%d bins: ripple %.2f %%\n", RFY_SITE_BINS, worst * 100);
    assert_true(worst < 0.01);
}

/* ---- hydrogen in steel ---- */

static void fourier_numbers_of_a_bake(void **state) {
    (void)state;
    /* Avdiaj and Erjavec 2012 (R): wall 2.62 mm, 250 degC 380 h: Fo = D t/(d/2)^2 = 3.09; 350 degC
     * 140 h: another 8.66. */
    const rfy_diffusivity *row = rfy_diffusivity_find(catalog, "stainless steel", "H2");
    rfy_slab_spec spec = {.d0 = row->d0, .activation = row->activation};
    double half = 2.62e-3 / 2;
    double first = rfy_slab_diffusivity(&spec, 523.15) * 380 * HOUR / (half * half);
    double second = rfy_slab_diffusivity(&spec, 623.15) * 140 * HOUR / (half * half);
    print_message("Fo %.3f and %.3f\n", first, second);
    assert_close(first, 3.09, 0.05, 0, "first bake");
    assert_close(second, 8.66, 0.05, 0, "second bake");
}

/* Drives one store under a constant pressure over its face by its own exact solution: with constant
 * coefficients each linear state relaxes as exp(-k t). */
static double flow_after(const rfy_store *s, const rfy_store_law *law, double p, double time,
                         double *content, double *outer) {
    double x[128], f[128];
    for (int j = 0; j < s->n; j++) {
        double rest = (law->g[j] * p + law->o[j]) / law->k[j];
        x[j] = rest + (s->start[j] - rest) * exp(-law->k[j] * time);
    }
    *content = rfy_store_content(s, x);
    return rfy_store_rates(s, law, p, x, f, NULL, NULL, outer);
}

static void slab_matches_the_exact_series(void **state) {
    (void)state;
    /* Crank 1975, section 4.3 (M), summed here (N): even content c0, outer face closed: flow
     * 2 c0 D/d sum exp(-((n + 1/2) pi)^2 Fo), content c0 d sum 2/((n + 1/2) pi)^2 exp(..). Fo here
     * counts the whole thickness d of the wall with one closed face. */
    rfy_arena *own = rfy_arena_new();
    rfy_slab_spec spec = {
        .thickness = 2e-3, .area = 1, .d0 = 1.2e-6, .activation = 55e3, .content = 16};
    rfy_store store = {0};
    rfy_slab_new(own, &spec, &store);
    rfy_store_law law = rfy_store_law_new(own, store.n);
    rfy_store_state at = {500, 293.15, 1, true};
    store.kind->law(&store, &at, &law);
    double d = rfy_slab_diffusivity(&spec, 500), worst = 0, worst_content = 0;
    for (double fo = 1e-4; fo <= 1.0001; fo *= 1.1) {
        double t = fo * spec.thickness * spec.thickness / d, content, outer, sum = 0, left = 0;
        for (int n = 20000; n >= 0; n--) {
            double root = (n + 0.5) * PI;
            sum += 2 * exp(-root * root * fo);
            left += 2 / (root * root) * exp(-root * root * fo);
        }
        double flow = flow_after(&store, &law, 0, t, &content, &outer);
        worst = fmax(worst, fabs(flow / (spec.content * d / spec.thickness * sum) - 1));
        worst_content =
            fmax(worst_content, fabs(content / (spec.content * spec.thickness * left) - 1));
        if (fo < 0.02) /* c0 sqrt(D/(pi t)): the half-infinite wall (Calder and Lewin 1967, M) */
            assert_close(flow, spec.content * sqrt(d / (PI * t)), 1e-4, 0, "early, Fo %g", fo);
    }
    print_message("%d states: flow within %.1e, content within %.1e of the series\n", store.n,
                  worst, worst_content);
    assert_true(worst < 1e-4);
    assert_true(worst_content < 1e-4);
    rfy_arena_free(own);
}

static void permeation_sets_in_with_its_time_lag(void **state) {
    (void)state;
    /* Crank 1975, section 4.3.3 (M), summed here (N): empty wall, gas before the outer face from t
     * = 0: flow = K A p/d (1 + 2 sum (-1)^n exp(-n^2 pi^2 Fo)), and what has come through by a late
     * t is K A p/d (t - d^2/6D). */
    rfy_arena *own = rfy_arena_new();
    const rfy_diffusivity *row = rfy_diffusivity_find(catalog, "borosilicate glass", "He");
    const rfy_permeability *k = rfy_permeability_find(catalog, "borosilicate glass", "He");
    rfy_slab_spec spec = {.thickness = 1e-3,
                          .area = 0.01,
                          .d0 = row->d0,
                          .activation = row->activation,
                          .k = k->k,
                          .k_activation = k->activation,
                          .open = true,
                          .outside = 0.5309};
    rfy_store store = {0};
    rfy_slab_new(own, &spec, &store);
    rfy_store_law law = rfy_store_law_new(own, store.n);
    rfy_store_state at = {293.15, 293.15, 1, true};
    store.kind->law(&store, &at, &law);
    double d = rfy_slab_diffusivity(&spec, 293.15), lag = 1e-6 / (6 * d);
    double steady = k->k * 0.01 / 1e-3 * 0.5309 / (RFY_R * 293.15), worst = 0;
    double content, outer;
    for (double fo = 0.003; fo < 3; fo *= 1.05) {
        double sum = 1;
        for (int n = 1; n < 400; n++)
            sum += 2 * (n % 2 ? -1 : 1) * exp(-n * n * PI * PI * fo);
        double flow = flow_after(&store, &law, 0, fo * 1e-6 / d, &content, &outer);
        worst = fmax(worst, fabs(flow / steady - sum));
    }
    print_message("%d states: flow within %.1e of the steady one\n", store.n, worst);
    assert_true(worst < 1e-4);
    /* through by a time: the integral of the flow is what entered less what the wall holds */
    double late = 40 * lag, through = 0, before = flow_after(&store, &law, 0, 0, &content, &outer);
    const int steps = 40000;
    for (int i = 1; i <= steps; i++) {
        double now = flow_after(&store, &law, 0, late * i / steps, &content, &outer);
        through += 0.5 * (before + now) * late / steps;
        before = now;
    }
    assert_close(through, steady * (late - lag), 1e-4, 0, "time lag d2/6D");
    assert_close(before, steady, 1e-4, 0, "steady at last");
    assert_close(outer, steady, 1e-4, 0, "in from outside as it comes out");
    print_message("helium in 1 mm of borosilicate glass at 20 degC: time lag %.0f d\n",
                  lag / 86400);
    rfy_arena_free(own);
}

static void helium_comes_through_a_bulb(void **state) {
    (void)state;
    /* Own arithmetic of the reference collection (D, no published answer): borosilicate tube 100
     * cm2, wall 1 mm, 100 cm3, helium of the air 0.53 Pa: 1.9e-14 Pa m3/s and 6e-3 Pa a year. Its K
     * is R+M; the diffusivity alone is checked against fused silica, Swets et al. 1961 (R): 3.04e-4
     * cm2/s, 5.58 kcal/mol. */
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'He'], 'ambient': {'pressure': '101325 Pa', 'temperature': "
        "'20 degC', 'relative_humidity': 0},"
        " 'chambers': [{'name': 'tube', 'volume': '100 cm3', 'start': {}, 'walls': [{'material': "
        "'borosilicate glass', 'area': '100 cm2', 'thickness': '1 mm', 'gas': 'He', 'model': "
        "'diffusion', 'filled': 'empty'}]}], 'run': {'until': '4 year', 'tolerance': 1e-7}}");
    const double year = 31557600, at[4] = {2 * year, 3 * year, 3.5 * year, 4 * year};
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.at = at;
    options.n_at = 4;
    rfy_result *result = test_run(system, &options, RFY_OK);
    double a_year = test_partial(result, 3, "tube", "He") - test_partial(result, 1, "tube", "He");
    print_message("helium: %.2e Pa a year, %.2e Pa m3/s\n", a_year, a_year * 1e-4 / year);
    assert_close(a_year, 6e-3, 0.06, 0, "a year");
    assert_close(a_year * 1e-4 / year, 1.9e-14, 0.06, 0, "flow");
    rfy_result_free(result);
    rfy_system_free(system);
    const rfy_diffusivity *silica = rfy_diffusivity_find(catalog, "fused silica", "He");
    assert_close(silica->d0 * exp(-silica->activation / (RFY_R * 373.15)),
                 3.04e-8 * exp(-5.58 * 4184 / (RFY_R * 373.15)), 0.02, 0,
                 "Swets et al. at 100 degC");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clean_steel_is_inside_the_published_spread),
        cmocka_unit_test(time_and_speed_share_one_exponent),
        cmocka_unit_test(steep_sites_follow_the_pump_as_published),
        cmocka_unit_test(no_more_than_one_energy_can_give),
        cmocka_unit_test(bins_ripple_little),
        cmocka_unit_test(fourier_numbers_of_a_bake),
        cmocka_unit_test(slab_matches_the_exact_series),
        cmocka_unit_test(permeation_sets_in_with_its_time_lag),
        cmocka_unit_test(helium_comes_through_a_bulb),
    };
    return cmocka_run_group_tests(tests, test_catalog_setup, test_catalog_teardown);
}
