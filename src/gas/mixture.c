#include "gas/mixture.h"

/* Below this sum of weights a composition cannot be told from nothing, and the derivatives (which
 * grow as one over the sum) would overflow. */
#define NOTHING 1e-250

void rfy_mixture_init(rfy_mixture *mixture, const rfy_catalog *catalog, const int *species, int n,
                      double temperature) {
    *mixture =
        (rfy_mixture){.n = n, .lanes = (n + RFY_LANES - 1) / RFY_LANES, .temperature = temperature};
    for (int i = 0; i < RFY_MAX_GASES; i++) {
        mixture->mean_speed.d[i] = 1e6;
        for (int j = 0; j < RFY_MAX_GASES; j++)
            mixture->wilke_column[j].d[i] = mixture->wilke_row[j].d[i] = 1;
    }
    for (int i = 0; i < n; i++) {
        const rfy_species *gas = &catalog->species[species[i]];
        mixture->species[i] = species[i];
        mixture->name[i] = gas->name;
        mixture->mass.d[i] = gas->molar_mass;
        mixture->viscosity.d[i] = rfy_viscosity(gas, temperature);
        mixture->mean_speed.d[i] = rfy_mean_speed(gas->molar_mass, temperature);
        mixture->gamma.d[i] = gas->gamma;
    }
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++) {
            double phi = rfy_wilke_weight(mixture->viscosity.d[i], mixture->viscosity.d[j],
                                          mixture->mass.d[i], mixture->mass.d[j]);
            mixture->wilke_column[j].d[i] = mixture->wilke_row[i].d[j] = phi;
            mixture->inv_dp[i].d[j] =
                1.0 / rfy_diffusivity_p(&catalog->species[species[i]],
                                        &catalog->species[species[j]], temperature);
        }
}

/* With weights m of any scale, S_i = sum_j m_j phi_ij:
 *     mu  = sum_i m_i mu_i / S_i                               (Wilke 1950, equation 13)
 *     d mu/d m_k = mu_k/S_k - sum_i m_i mu_i phi_ik / S_i^2
 * The mean gamma comes from the molar heat capacities, cv_i/R = 1/(gamma_i - 1), averaged by mole:
 *     gamma = 1 + sum(m)/sum(m cv/R).
 * All are homogeneous of degree 0 in m. */
RFY_WIDE
void rfy_mixture_at(const rfy_mixture *mixture, const double *m, rfy_mixture_state *state,
                    double *d_viscosity, double *d_mass, double *d_gamma) {
    const int n = mixture->n, lanes = mixture->lanes;
    double w[RFY_MAX_GASES], total = 0.0;
    for (int i = 0; i < n; i++) {
        w[i] = m[i] > 0.0 ? m[i] : 0.0;
        total += w[i];
    }
    bool nothing = !(total > NOTHING);
    if (nothing) {
        for (int i = 0; i < n; i++)
            w[i] = 1.0;
        total = n;
    }

    rfy_gases sum = {{0}}, flow; /* S_i, then mu_i / S_i */
    for (int j = 0; j < n; j++)
        for (int k = 0; k < lanes; k++)
            sum.v[k] += w[j] * mixture->wilke_column[j].v[k];
    for (int k = 0; k < lanes; k++)
        flow.v[k] = mixture->viscosity.v[k] / sum.v[k];
    double viscosity = 0.0, mass = 0.0, capacity = 0.0;
    for (int i = 0; i < n; i++) {
        viscosity += w[i] * flow.d[i];
        mass += w[i] * mixture->mass.d[i];
        capacity += w[i] / (mixture->gamma.d[i] - 1.0);
    }
    mass /= total;
    capacity /= total;
    state->viscosity = viscosity;
    state->mass = mass;
    state->gamma = 1.0 + 1.0 / capacity;
    if (!d_viscosity)
        return;

    rfy_gases slope = flow;
    for (int i = 0; i < n; i++) {
        double pull = w[i] * flow.d[i] / sum.d[i];
        for (int k = 0; k < lanes; k++)
            slope.v[k] -= pull * mixture->wilke_row[i].v[k];
    }
    for (int k = 0; k < n; k++) {
        d_viscosity[k] = nothing ? 0.0 : slope.d[k];
        d_mass[k] = nothing ? 0.0 : (mixture->mass.d[k] - mass) / total;
        d_gamma[k] = nothing ? 0.0
                             : (capacity - 1.0 / (mixture->gamma.d[k] - 1.0)) /
                                   (total * capacity * capacity);
    }
}
