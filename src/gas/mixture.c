#include "gas/mixture.h"

/* Below this sum of weights a composition cannot be told from nothing, and the derivatives (which
 * grow as one over the sum) would overflow. */
#define NOTHING 1e-250

void rfy_mixture_init(rfy_mixture *mixture, const rfy_catalog *catalog, const int *species, int n,
                      double temperature) {
    *mixture = (rfy_mixture){.n = n, .temperature = temperature};
    for (int i = 0; i < n; i++) {
        const rfy_species *gas = &catalog->species[species[i]];
        mixture->species[i] = species[i];
        mixture->name[i] = gas->name;
        mixture->mass[i] = gas->molar_mass;
        mixture->viscosity[i] = rfy_viscosity(gas, temperature);
        mixture->mean_speed[i] = rfy_mean_speed(gas->molar_mass, temperature);
        mixture->gamma[i] = gas->gamma;
    }
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++) {
            mixture->wilke[i][j] = rfy_wilke_weight(mixture->viscosity[i], mixture->viscosity[j],
                                                    mixture->mass[i], mixture->mass[j]);
            mixture->inv_dp[i][j] =
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
void rfy_mixture_at(const rfy_mixture *mixture, const double *m, rfy_mixture_state *state,
                    double *d_viscosity, double *d_mass, double *d_gamma) {
    int n = mixture->n;
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

    double flow[RFY_MAX_GASES]; /* mu_i / S_i */
    double pull[RFY_MAX_GASES]; /* m_i mu_i / S_i^2 */
    double viscosity = 0.0, mass = 0.0, capacity = 0.0;
    for (int i = 0; i < n; i++) {
        const double *phi = mixture->wilke[i];
        double sum = 0.0;
        for (int j = 0; j < n; j++)
            sum += w[j] * phi[j];
        flow[i] = mixture->viscosity[i] / sum;
        double share = w[i] / sum;
        pull[i] = share * flow[i];
        viscosity += share * mixture->viscosity[i];
        mass += w[i] / total * mixture->mass[i];
        capacity += w[i] / total / (mixture->gamma[i] - 1.0);
    }
    state->viscosity = viscosity;
    state->mass = mass;
    state->gamma = 1.0 + 1.0 / capacity;

    for (int k = 0; k < n; k++) {
        if (d_viscosity) {
            double slope = flow[k];
            for (int i = 0; i < n; i++)
                slope -= pull[i] * mixture->wilke[i][k];
            d_viscosity[k] = nothing ? 0.0 : slope;
        }
        if (d_mass)
            d_mass[k] = nothing ? 0.0 : (mixture->mass[k] - mass) / total;
        if (d_gamma)
            d_gamma[k] = nothing ? 0.0
                                 : (capacity - 1.0 / (mixture->gamma[k] - 1.0)) /
                                       (total * capacity * capacity);
    }
}
