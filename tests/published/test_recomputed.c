/* Makes the tables of kinetic and molecular flow again, from the published equations, by other
 * methods than those that made the tables first. A table that passes here can be trusted as far as
 * its own error column. */
#include <math.h>
#include <stdlib.h>
#include "published/clausing.h"
#include "published/kinetic_poiseuille.h"
#include "published/radiosity.h"
#include "support/support.h"

static void clausing_tubes(void **state) {
    (void)state;
    double *row;
    size_t n = test_read_csv("tests/published/clausing_tube.csv", 3, &row);
    assert_int_equal(n, 69);
    for (size_t i = 0; i < n; i++) { /* ten decimals in the table */
        double l = row[3 * i], w = clausing_transmission(l, 12);
        assert_close(w, row[3 * i + 1], 0, 2e-10 + row[3 * i + 2], "W(%g)", l);
        assert_close(clausing_transmission(l, 9), w, 0, 1e-9, "W(%g), coarser", l);
    }
    free(row);
    /* six digits of Cole 1977 and of Gomez-Goni and Lobo 2003 (M) */
    static const double at[] = {0.1, 0.5, 1, 2, 5, 10},
                        w[] = {0.952399, 0.801271, 0.671984, 0.514231, 0.310525, 0.190942};
    for (int i = 0; i < 6; i++)
        assert_close(clausing_transmission(at[i], 12), w[i], 0, 1e-6, "published W(%g)", at[i]);
    /* 1/W = 3l/8 + 0.281 ln l + 0.754 for long tubes (fit to the table) */
    assert_close(1 / clausing_transmission(3000, 12), 1125 + 0.281 * log(3000) + 0.754, 1e-5, 0,
                 "long tube");
}

static void slits(void **state) {
    (void)state;
    double *row;
    size_t n = test_read_csv("tests/published/slit_duct.csv", 3, &row);
    assert_int_equal(n, 28);
    for (size_t i = 0; i < n; i++) /* eight decimals in the table */
        assert_close(slit_transmission(row[3 * i], 14), row[3 * i + 1], 0, 6e-9 + row[3 * i + 2],
                     "slit, L/h = %g", row[3 * i]);
    free(row);
}

static void cones(void **state) {
    (void)state;
    double *row;
    size_t n = test_read_csv("tests/published/cone.csv", 4, &row);
    assert_int_equal(n, 45);
    for (size_t i = 0; i < n; i++) {
        double k = row[4 * i], l = row[4 * i + 1], w = cone_transmission(1, k, l, 14);
        assert_close(w, row[4 * i + 2], 0, 6e-7 + row[4 * i + 3], "cone to %g, L/r = %g", k, l);
        /* reciprocity */
        assert_close(cone_transmission(k, 1, l, 14) * k * k, w, 1e-10, 0, "cone from %g", k);
    }
    free(row);
    for (double l = 0.1; l < 100; l *= 3) /* no taper: a tube */
        assert_close(cone_transmission(1, 1, l, 14), clausing_transmission(l, 12), 1e-8, 0,
                     "cone without taper, %g", l);
}

static void annuli(void **state) {
    (void)state;
    double *row;
    size_t n = test_read_csv("tests/published/annulus_long.csv", 2, &row);
    assert_int_equal(n, 17);
    for (size_t i = 0; i < n; i++)
        assert_close(annulus_factor(row[2 * i], 60), row[2 * i + 1], 0, 1e-4, "annulus %g",
                     row[2 * i]);
    free(row);
    /* classic table (M), good to 1 % */
    static const double k[] = {0.25, 0.5, 0.707, 0.866, 0.966},
                        value[] = {1.072, 1.154, 1.254, 1.430, 1.675};
    for (int i = 0; i < 5; i++)
        assert_close(annulus_factor(k[i], 60), value[i], 0.01, 0, "classic annulus %g", k[i]);
    /* a thin annulus is a channel: K grows as the logarithm of the gap, slowly */
    assert_true(annulus_factor(0.999, 60) > annulus_factor(0.99, 60));
}

static void kinetic_tube(void **state) {
    (void)state;
    double *row;
    size_t n = test_read_csv("tests/published/poiseuille_tube_kinetic.csv", 4, &row);
    assert_int_equal(n, 43);
    for (size_t i = 0; i < n; i++) {
        double delta = row[4 * i], err = row[4 * i + 3];
        poiseuille p = poiseuille_tube(delta, 18);
        assert_close(p.bgk, row[4 * i + 1], 3e-6, err, "tube, BGK, delta = %g", delta);
        assert_close(p.s_model, row[4 * i + 2], 3e-6, err, "tube, S-model, delta = %g", delta);
    }
    free(row);
    /* Table 15.5 of Karniadakis, Beskok and Aluru 2005 (R; BGK, after Sharipov and Seleznev 1998,
       whose older numerics are 0.04 % high) */
    static const double at[] = {0.01, 0.02, 0.04, 0.08}, value[] = {1.4768, 1.4608, 1.4391, 1.4131};
    for (int i = 0; i < 4; i++)
        assert_close(poiseuille_tube(at[i], 12).bgk, value[i], 6e-4, 0, "published, %g", at[i]);
    /* free-molecular limit, 8/(3 sqrt(pi)) (Knudsen 1909) */
    assert_close(poiseuille_tube(1e-7, 12).s_model, 1.5045055561, 1e-5, 0, "delta -> 0");
}

static void kinetic_channel(void **state) {
    (void)state;
    double *row;
    size_t n = test_read_csv("tests/published/poiseuille_channel_kinetic.csv", 4, &row);
    assert_int_equal(n, 43);
    for (size_t i = 0; i < n; i++) {
        double delta = row[4 * i], err = row[4 * i + 3];
        poiseuille p = poiseuille_channel(delta, 20);
        assert_close(p.bgk, row[4 * i + 1], 2e-6, err, "channel, BGK, delta = %g", delta);
        assert_close(p.s_model, row[4 * i + 2], 2e-6, err, "channel, S-model, delta = %g", delta);
    }
    free(row);
    /* Cercignani 1963, Loyalka et al. 1975, BGK to five digits (M) */
    static const double at[] = {0.1, 1, 10}, value[] = {2.0327, 1.5387, 2.7686};
    for (int i = 0; i < 3; i++)
        assert_close(poiseuille_channel(at[i], 16).bgk, value[i], 5e-5, 0, "published, %g", at[i]);
}

typedef double curve(double);
static double tube_s(double d) {
    return poiseuille_tube(d, 10).s_model;
}
static double tube_bgk(double d) {
    return poiseuille_tube(d, 10).bgk;
}
static double channel_s(double d) {
    return poiseuille_channel(d, 12).s_model;
}
static double channel_bgk(double d) {
    return poiseuille_channel(d, 12).bgk;
}

static void knudsen_minima(void **state) {
    (void)state;
    static const struct {
        curve *g;
        double at, least;
    } rows[] = {{tube_s, 0.280, 1.38663},
                {tube_bgk, 0.306, 1.37619},
                {channel_s, 1.060, 1.55323},
                {channel_bgk, 1.072, 1.53808}};
    for (int k = 0; k < 4; k++) { /* golden section */
        double low = 0.5 * rows[k].at, high = 2 * rows[k].at, ratio = 0.6180339887498949;
        double a = high - ratio * (high - low), b = low + ratio * (high - low);
        double ga = rows[k].g(a), gb = rows[k].g(b);
        for (int i = 0; i < 18; i++) {
            if (ga < gb) {
                high = b;
                b = a;
                gb = ga;
                a = high - ratio * (high - low);
                ga = rows[k].g(a);
            } else {
                low = a;
                a = b;
                ga = gb;
                b = low + ratio * (high - low);
                gb = rows[k].g(b);
            }
        }
        assert_close(0.5 * (low + high), rows[k].at, 0, 2e-3, "place of Knudsen's minimum %d", k);
        assert_close(fmin(ga, gb), rows[k].least, 0, 1e-5, "Knudsen's minimum %d", k);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clausing_tubes), cmocka_unit_test(slits),
        cmocka_unit_test(cones),          cmocka_unit_test(annuli),
        cmocka_unit_test(kinetic_tube),   cmocka_unit_test(kinetic_channel),
        cmocka_unit_test(knudsen_minima),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
