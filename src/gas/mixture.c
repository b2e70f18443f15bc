#include "gas/mixture_inline.h"

/* Below this sum of weights a composition cannot be told from nothing, and the derivatives (which
 * grow as one over the sum) would overflow. */
#define NOTHING 1e-250

void rfy_mixture_init(rfy_mixture *mixture, const rfy_catalog *catalog, const int *species, int n,
                      double temperature) {
    *mixture =
        (rfy_mixture){.n = n, .lanes = (n + RFY_LANES - 1) / RFY_LANES, .temperature = temperature};
    for (int i = 0; i < RFY_MAX_GASES; i++) {
        mixture->mean_speed.d[i] = 1e6;
        mixture->inv_mean_speed.d[i] = 1e-6;
        for (int j = 0; j < RFY_MAX_GASES; j++)
            mixture->wilke_row[j].d[i] = 1;
    }
    for (int i = 0; i < n; i++) {
        const rfy_species *gas = &catalog->species[species[i]];
        mixture->species[i] = species[i];
        mixture->name[i] = gas->name;
        mixture->mass.d[i] = gas->molar_mass;
        mixture->viscosity.d[i] = rfy_viscosity(gas, temperature);
        mixture->mean_speed.d[i] = rfy_mean_speed(gas->molar_mass, temperature);
        mixture->inv_mean_speed.d[i] = 1 / mixture->mean_speed.d[i];
        mixture->gamma.d[i] = gas->gamma;
        mixture->capacity.d[i] = 1 / (gas->gamma - 1);
    }
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++) {
            double phi = rfy_wilke_weight(mixture->viscosity.d[i], mixture->viscosity.d[j],
                                          mixture->mass.d[i], mixture->mass.d[j]);
            mixture->wilke_row[i].d[j] = phi;
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
    const int n = mixture->n;
    rfy_v4 w[RFY_MAX_GASES];
    double total = 0;
    for (int i = 0; i < n; i++) {
        const double one = m[i] > 0 ? m[i] : 0;
        w[i] = rfy_all(one);
        total += one;
    }
    const bool nothing = !(total > NOTHING);
    if (nothing) {
        for (int i = 0; i < n; i++)
            w[i] = rfy_all(1);
        total = n;
    }
    rfy_mixture_four four, slopes[RFY_MAX_GASES];
    rfy_mixture_of_four(mixture, w, rfy_all(total), n, &four, d_viscosity ? slopes : NULL);
    *state = (rfy_mixture_state){four.viscosity[0], four.mass[0], four.gamma[0]};
    for (int k = 0; d_viscosity && k < n; k++) {
        d_viscosity[k] = nothing ? 0 : slopes[k].viscosity[0];
        d_mass[k] = nothing ? 0 : slopes[k].mass[0];
        d_gamma[k] = nothing ? 0 : slopes[k].gamma[0];
    }
}
