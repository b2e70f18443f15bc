/* Gas and mixture properties: identities, limits and derivatives. Checks against published numbers
 * are in published/test_gas_published.c. */
#include <math.h>
#include <string.h>
#include "gas/mixture.h"
#include "support/support.h"
#include "support/catalog.h"

static rfy_mixture mix(int n, const char *const *name, double temperature) {
    int species[RFY_MAX_GASES];
    for (int i = 0; i < n; i++) {
        species[i] = rfy_species_find(catalog, name[i]);
        assert_true(species[i] >= 0);
    }
    rfy_mixture mixture;
    rfy_mixture_init(&mixture, catalog, species, n, temperature);
    return mixture;
}

static void speeds_follow_kinetic_theory(void **state) {
    (void)state;
    /* vbar/v0 = 2/sqrt(pi) for every Maxwellian gas. */
    for (size_t i = 0; i < catalog->n_species; i++) {
        double m = catalog->species[i].molar_mass;
        assert_close(rfy_mean_speed(m, 293.15) / rfy_probable_speed(m, 293.15), 1.1283791670955126,
                     1e-14, 0, "vbar/v0 of %s", catalog->species[i].name);
    }
    assert_close(rfy_mean_speed(0.028014, 1200) / rfy_mean_speed(0.028014, 300), 2, 1e-14, 0,
                 "speed goes as sqrt(T)");
}

static void viscosity_has_its_reference_value_and_rises(void **state) {
    (void)state;
    for (size_t i = 0; i < catalog->n_species; i++) {
        const rfy_species *s = &catalog->species[i];
        assert_close(rfy_viscosity(s, 300), s->viscosity_300, 1e-14, 0, "%s at 300 K", s->name);
        for (double t = 50; t < 1500; t *= 1.1)
            assert_true(rfy_viscosity(s, t * 1.1) > rfy_viscosity(s, t));
    }
}

static void free_path_goes_inversely_with_pressure(void **state) {
    (void)state;
    double one = rfy_mean_free_path(1.76e-5, 0.028, 293.15, 1.0);
    assert_close(rfy_mean_free_path(1.76e-5, 0.028, 293.15, 1e-3), 1e3 * one, 1e-14, 0, "path");
}

static void diffusivity_is_symmetric(void **state) {
    (void)state;
    for (size_t i = 0; i < catalog->n_species; i++)
        for (size_t j = 0; j < catalog->n_species; j++) {
            const rfy_species *a = &catalog->species[i], *b = &catalog->species[j];
            double d = rfy_diffusivity_p(a, b, 300);
            assert_close(d, rfy_diffusivity_p(b, a, 300), 1e-15, 0, "%s-%s", a->name, b->name);
            assert_true(d > 0 && isfinite(d));
            assert_close(rfy_diffusivity_p(a, b, 600) / d, pow(2, 1.75), 1e-13, 0, "T^1.75");
        }
}

static void saturation_is_continuous_and_finite(void **state) {
    (void)state;
    assert_close(rfy_water_saturation(273.15 - 1e-9), rfy_water_saturation(273.15), 1e-8, 0,
                 "ice meets water at 0 degC");
    double before = -1;
    for (double t = 0; t < 600; t += 0.25) {
        double p = rfy_water_saturation(t);
        assert_true(isfinite(p) && p >= before);
        before = p;
    }
}

static const char *const six[] = {"N2", "O2", "Ar", "H2O", "H2", "He"};
static const double parts[][6] = {{0.78, 0.21, 0.01, 0.012, 5e-7, 5e-6},
                                  {1e-9, 2e-10, 1e-11, 3e-3, 4e-4, 1e-12},
                                  {0, 0, 0, 1, 1, 0},
                                  {1, 1, 1, 1, 1, 1},
                                  {0, 0, 0, 0, 0, 7}};
enum { N_PARTS = sizeof parts / sizeof parts[0] };

static void mixture_derivatives_match_differences(void **state) {
    (void)state;
    rfy_mixture mixture = mix(6, six, 310);
    for (int c = 0; c < N_PARTS; c++) {
        double total = 0, by_mu[6], by_mass[6], by_gamma[6];
        for (int i = 0; i < 6; i++)
            total += parts[c][i];
        rfy_mixture_state at, up, down;
        rfy_mixture_at(&mixture, parts[c], &at, by_mu, by_mass, by_gamma);
        for (int k = 0; k < 6; k++) {
            double m[6], h = 1e-5 * total;
            memcpy(m, parts[c], sizeof m);
            /* Off the border first, so that the difference may be central where the weight is 0. */
            m[k] += 2 * h;
            double mu_k[6], mass_k[6], gamma_k[6];
            rfy_mixture_at(&mixture, m, &at, mu_k, mass_k, gamma_k);
            m[k] += h;
            rfy_mixture_at(&mixture, m, &up, NULL, NULL, NULL);
            m[k] -= 2 * h;
            rfy_mixture_at(&mixture, m, &down, NULL, NULL, NULL);
            double scale = 1 / total;
            assert_close((up.viscosity - down.viscosity) / (2 * h), mu_k[k], 1e-6,
                         1e-7 * at.viscosity * scale, "d mu / d m[%d], mixture %d", k, c);
            assert_close((up.mass - down.mass) / (2 * h), mass_k[k], 1e-6, 1e-7 * at.mass * scale,
                         "d M / d m[%d], mixture %d", k, c);
            assert_close((up.gamma - down.gamma) / (2 * h), gamma_k[k], 1e-6,
                         1e-7 * at.gamma * scale, "d gamma / d m[%d], mixture %d", k, c);
            assert_true(isfinite(by_mu[k]) && isfinite(by_mass[k]) && isfinite(by_gamma[k]));
        }
    }
}

/* Euler: sum of m_k d/dm_k of a function homogeneous of degree 0 is 0. */
static void mixture_does_not_depend_on_scale(void **state) {
    (void)state;
    rfy_mixture mixture = mix(6, six, 293.15);
    static const double scales[] = {1e-200, 1e-30, 1, 1e30, 1e200};
    for (int c = 0; c < N_PARTS; c++) {
        rfy_mixture_state one;
        rfy_mixture_at(&mixture, parts[c], &one, NULL, NULL, NULL);
        for (size_t s = 0; s < sizeof scales / sizeof *scales; s++) {
            double m[6], by[6], mass[6], gamma[6], euler = 0;
            for (int i = 0; i < 6; i++)
                m[i] = parts[c][i] * scales[s];
            rfy_mixture_state at;
            rfy_mixture_at(&mixture, m, &at, by, mass, gamma);
            assert_close(at.viscosity, one.viscosity, 1e-13, 0, "viscosity at scale %g", scales[s]);
            assert_close(at.mass, one.mass, 1e-13, 0, "mass at scale %g", scales[s]);
            assert_close(at.gamma, one.gamma, 1e-13, 0, "gamma at scale %g", scales[s]);
            for (int i = 0; i < 6; i++)
                euler += m[i] * by[i];
            assert_close(euler, 0, 0, 1e-14 * one.viscosity, "Euler sum at scale %g", scales[s]);
        }
    }
}

static void a_single_gas_is_itself(void **state) {
    (void)state;
    rfy_mixture mixture = mix(6, six, 293.15);
    for (int i = 0; i < 6; i++) {
        double m[6] = {0};
        m[i] = 3e-7;
        rfy_mixture_state at;
        rfy_mixture_at(&mixture, m, &at, NULL, NULL, NULL);
        assert_close(at.viscosity, rfy_viscosity(test_species(six[i]), 293.15), 1e-15, 0, "%s",
                     six[i]);
        assert_close(at.mass, test_species(six[i])->molar_mass, 1e-15, 0, "%s", six[i]);
        assert_close(at.gamma, test_species(six[i])->gamma, 1e-14, 0, "%s", six[i]);
    }
}

static void twins_are_one_gas(void **state) {
    (void)state;
    for (size_t i = 0; i < catalog->n_species; i++) {
        const char *name = catalog->species[i].name;
        const char *pair[] = {name, name, name};
        rfy_mixture mixture = mix(3, pair, 317.3);
        for (int a = 0; a < 3; a++)
            for (int b = 0; b < 3; b++)
                assert_true(mixture.wilke_row[a].d[b] == 1.0);
        double m[3] = {0.1, 0.37, 1e-9}, mu[3], mass[3], gamma[3];
        rfy_mixture_state at;
        rfy_mixture_at(&mixture, m, &at, mu, mass, gamma);
        assert_close(at.viscosity, mixture.viscosity.d[0], 4e-16, 0, "viscosity of %s", name);
        for (int k = 0; k < 3; k++) {
            assert_close(mu[k], 0, 0, 4e-16 * at.viscosity / 0.47, "d mu of %s", name);
            assert_close(mass[k], 0, 0, 4e-16 * at.mass / 0.47, "d M of %s", name);
            assert_close(gamma[k], 0, 0, 4e-15 * at.gamma / 0.47, "d gamma of %s", name);
        }
    }
}

static void odd_compositions_stay_finite(void **state) {
    (void)state;
    rfy_mixture mixture = mix(6, six, 293.15);
    static const double odd[][6] = {{0, 0, 0, 0, 0, 0},
                                    {-1e-20, 0, 0, 0, 0, 0},
                                    {1e-300, 0, 0, 0, 0, 0},
                                    {5e-324, 5e-324, 0, 0, 0, 0},
                                    {1, -1e-12, 0, 0, 0, 0}};
    double equal[6] = {1, 1, 1, 1, 1, 1};
    rfy_mixture_state parts_alike, at;
    rfy_mixture_at(&mixture, equal, &parts_alike, NULL, NULL, NULL);
    for (size_t c = 0; c < sizeof odd / sizeof *odd; c++) {
        double mu[6], mass[6], gamma[6];
        rfy_mixture_at(&mixture, odd[c], &at, mu, mass, gamma);
        assert_true(at.viscosity > 0 && at.mass > 0 && at.gamma > 1);
        for (int k = 0; k < 6; k++)
            assert_true(isfinite(mu[k]) && isfinite(mass[k]) && isfinite(gamma[k]));
        if (c < 2)
            assert_close(at.viscosity, parts_alike.viscosity, 1e-15, 0, "nothing is equal parts");
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(speeds_follow_kinetic_theory),
        cmocka_unit_test(viscosity_has_its_reference_value_and_rises),
        cmocka_unit_test(free_path_goes_inversely_with_pressure),
        cmocka_unit_test(diffusivity_is_symmetric),
        cmocka_unit_test(saturation_is_continuous_and_finite),
        cmocka_unit_test(mixture_derivatives_match_differences),
        cmocka_unit_test(mixture_does_not_depend_on_scale),
        cmocka_unit_test(a_single_gas_is_itself),
        cmocka_unit_test(twins_are_one_gas),
        cmocka_unit_test(odd_compositions_stay_finite),
    };
    return cmocka_run_group_tests(tests, test_catalog_setup, test_catalog_teardown);
}
