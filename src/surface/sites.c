#include "surface/sites.h"

#include <math.h>

#define PI       3.14159265358979323846
#define AVOGADRO 6.02214076e23 /* 1/mol, exact */

typedef struct sites {
    double energy[RFY_SITE_BINS], share[RFY_SITE_BINS]; /* J/mol; of all sites, adds up to 1 */
    double frequency, sticking, area, molar_mass;
    double capacity; /* mol in all */
} sites;

/* Shares of evenly spaced classes whose density grows as exp(rise u), u from 0 to 1: the integral
 * over each class. */
static void spread_out(const rfy_sites_spec *spec, double *energy, double *share) {
    double sum = 0;
    for (int j = 0; j < RFY_SITE_BINS; j++) {
        double u = (j + 0.5) / RFY_SITE_BINS;
        energy[j] = spec->energy_low + u * (spec->energy_high - spec->energy_low);
        share[j] = exp(spec->rise * (u - 1));
        sum += share[j];
    }
    for (int j = 0; j < RFY_SITE_BINS; j++)
        share[j] /= sum;
}

double rfy_sites_release(const rfy_sites_spec *spec, double temperature, double time) {
    double energy[RFY_SITE_BINS], share[RFY_SITE_BINS], sum = 0;
    spread_out(spec, energy, share);
    for (int j = 0; j < RFY_SITE_BINS; j++) {
        double k = spec->frequency * exp(-energy[j] / (RFY_R * temperature));
        sum += share[j] * k * exp(-k * time);
    }
    return sum * spec->layers * RFY_MONOLAYER;
}

static void law(const rfy_store *store, const rfy_store_state *at, rfy_store_law *out) {
    const sites *s = store->data;
    /* molecules that strike, mol/m2/s/Pa (Knudsen 1915) */
    double strike = 1 / sqrt(2 * PI * s->molar_mass * RFY_R * at->gas);
    /* desorption of first order (Frenkel 1924, Z. Phys. 26, 117: sojourn time exp(E/RT)/frequency)
     */
    for (int j = 0; j < store->n; j++) {
        out->k[j] = s->frequency * exp(-s->energy[j] / (RFY_R * at->wall));
        out->g[j] = s->sticking * s->area * strike * s->share[j];
        out->h[j] = out->g[j] / (s->share[j] * s->capacity * at->scale);
    }
}

const rfy_store_kind rfy_store_sites = {.name = "adsorbed water", .exchanges = true, .law = law};

void rfy_sites_new(rfy_arena *arena, const rfy_sites_spec *spec, double area, double molar_mass,
                   double pressure, double temperature, double pumped_for, rfy_store *store) {
    sites *s = RFY_NEW(arena, 1, sites);
    const int n = RFY_SITE_BINS;
    spread_out(spec, s->energy, s->share);
    s->frequency = spec->frequency;
    s->sticking = spec->sticking;
    s->area = area;
    s->molar_mass = molar_mass;
    s->capacity = spec->layers * RFY_MONOLAYER / AVOGADRO * area;
    store->kind = &rfy_store_sites;
    store->data = s;
    store->n = n;
    store->start = RFY_NEW(arena, (size_t)n, double);
    double *weight = RFY_NEW(arena, (size_t)n, double);
    store->grain = RFY_NEW(arena, (size_t)n, double);
    rfy_store_law full = rfy_store_law_new(arena, n);
    rfy_store_state cold = {temperature, temperature, 1, true};
    law(store, &cold, &full);
    for (int j = 0; j < n; j++) {
        double filled = full.g[j] * pressure;
        double out = full.k[j] + full.h[j] * pressure;
        /* without sticking nothing would ever fill: taken as full */
        store->start[j] = s->sticking > 0 ? filled / out : s->share[j] * s->capacity;
        store->start[j] *= exp(-full.k[j] * pumped_for);
        weight[j] = 1;
        store->grain[j] = 1e-9 * s->share[j] * s->capacity;
    }
    store->weight = weight;
}
