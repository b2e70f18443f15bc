/* Two gases in one stretch: a trace against a stream, and two against each other. */
#include <math.h>
#include <string.h>
#include "flow/kinetic.h"
#include "flow/stretch.h"
#include "support/support.h"
#include "support/catalog.h"

#define PI 3.14159265358979323846

typedef struct pair_of_gases {
    rfy_stretch_geometry geometry;
    double bore, length, temperature, opening;
    rfy_mixture mix;
    const rfy_stretch *run;
    double a[2], b[2];
} pair_of_gases;

static const rfy_species *gas_of(const pair_of_gases *d, int i) {
    return &catalog->species[d->mix.species[i]];
}

static double mean_speed(const pair_of_gases *d, int i) {
    return rfy_mean_speed(gas_of(d, i)->molar_mass, d->temperature);
}

static void flow_of(const pair_of_gases *d, const double *a, const double *b, double *flow) {
    rfy_stretch_flow(d->run, &d->mix, d->opening, a, b, flow, NULL, NULL);
}

static void pair(pair_of_gases *d, const char *one, const char *other, double bore, double length) {
    memset(d, 0, sizeof *d);
    d->geometry = rfy_tube_geometry(bore, length, length);
    d->bore = bore;
    d->length = length;
    d->temperature = d->geometry.temperature[0] = d->geometry.temperature[1] = 293.15;
    d->opening = 1;
    d->run = rfy_stretch_new(arena, &d->geometry);
    int species[2] = {rfy_species_find(catalog, one), rfy_species_find(catalog, other)};
    assert_true(species[0] >= 0 && species[1] >= 0);
    rfy_mixture_init(&d->mix, catalog, species, 2, d->temperature);
}

static void a_trace_at_rest_is_swept_back(void **state) {
    (void)state;
    /* Dusty-gas equation (Mason and Malinauskas 1983) of a trace without net flux in a moving gas
       of uniform pressure p: d ln x/ds = [N_v/K + N/k]/p, with K its conductance against the walls,
       k against the carrier, N_v the viscous and N the whole flow of the carrier. Written out here
       from the geometry. */
    static const char *const traces[] = {"H2", "He", "O2", "Ar", "CO2", "Xe"};
    double worst = 0;
    for (int k = 0; k < 6; k++)
        for (int e = -6; e <= 12; e += 2) {
            pair_of_gases d;
            const double bore = 0.016, r = bore / 2, length = 0.4, area = PI * r * r;
            pair(&d, "N2", traces[k], bore, length);
            d.geometry.cells = 2; /* half of a longer one, the half without inertia */
            d.run = rfy_stretch_new(arena, &d.geometry);
            const double rt = RFY_R * d.temperature,
                         mu = rfy_viscosity(gas_of(&d, 0), d.temperature);
            const double v0 = rfy_probable_speed(gas_of(&d, 0)->molar_mass, d.temperature);
            const double delta = ldexp(1, e), p = delta * mu * v0 / r; /* a knot of the table */
            const double dp = p * fmin(1e-5, 0.2 / (delta * delta)); /* Peclet numbers of order 1 */
            const double trace = 1e-20 * p;
            d.a[0] = p + dp / 2;
            d.b[0] = p - dp / 2;
            d.a[1] = trace;
            /* root in ln(b/a), between no difference and e^20 */
            double low = -1e-9, high = 20, flow[2];
            for (int i = 0; i < 200; i++) {
                double middle = 0.5 * (low + high);
                d.b[1] = trace * exp(middle);
                flow_of(&d, d.a, d.b, flow);
                if (flow[1] > 0)
                    low = middle;
                else
                    high = middle;
            }
            double w = rfy_tube_transmission(length / r);
            double t = 1 / (1 + (1 / w - 1) / rfy_tube_rarefied(delta, NULL));
            double to_wall = area * mean_speed(&d, 1) / (4 * rt) * t;
            double to_gas = area * rfy_diffusivity_p(gas_of(&d, 0), gas_of(&d, 1), d.temperature) /
                            (p * (length + r * PI / 2) * rt);
            double nv = area * r / (8 * rt * (length / r + 3 * PI / 8) * mu) * p * dp;
            double n = nv + area * mean_speed(&d, 0) / (4 * rt) * t * dp;
            double peclet = (nv / to_wall + n / to_gas) / p;
            double off = fabs(high / peclet - 1);
            worst = fmax(worst, off);
            assert_close(high, peclet, 1e-6, 1e-13, "%s in N2 at delta %g", traces[k], delta);
        }
    print_message("trace at rest: at most %.2g off\n", worst);
}

static void graham(void **state) {
    (void)state;
    /* Equal totals, two gases against each other: N1 sqrt(M1) = -N2 sqrt(M2) (Graham 1833). Exact
       in the dusty-gas equations at uniform pressure; the exponential profile departs from it a
       little where the mixture as a whole drifts. */
    static const char *const others[] = {"H2", "He", "CO2", "Xe"};
    for (int k = 0; k < 4; k++) {
        double worst = 0, at = 0;
        for (double p = 1e-7; p < 2e5; p *= 1.5)
            for (double share = 0.05; share < 1; share += 0.1) {
                pair_of_gases d;
                pair(&d, "N2", others[k], 0.01, 0.1);
                /* opposed gradients, of any steepness */
                d.a[0] = p * share;
                d.a[1] = p * (1 - share);
                d.b[0] = p * (1 - share);
                d.b[1] = p * share;
                if (fabs(share - 0.5) < 0.01)
                    continue;
                double flow[2];
                flow_of(&d, d.a, d.b, flow);
                double off = flow[0] / flow[1] *
                                 sqrt(gas_of(&d, 0)->molar_mass / gas_of(&d, 1)->molar_mass) +
                             1;
                double delta = p * 0.005 /
                               (rfy_viscosity(gas_of(&d, 0), d.temperature) *
                                rfy_probable_speed(gas_of(&d, 0)->molar_mass, d.temperature));
                if (delta < 1e-8)
                    assert_close(off, 0, 0, 1e-6, "Graham in molecular flow, %s", others[k]);
                if (fabs(off) > worst) {
                    worst = fabs(off);
                    at = delta;
                }
            }
        print_message("Graham's law, N2 against %s: at most %.2g off, at delta %.3g\n", others[k],
                      worst, at);
        assert_true(worst < 0.015);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_trace_at_rest_is_swept_back),
        cmocka_unit_test(graham),
    };
    return cmocka_run_group_tests(tests, test_catalog_setup, test_catalog_teardown);
}
