/* Properties of gases and mixtures. Molar quantities; each formula is cited at its definition. */
#ifndef RFY_GAS_GAS_H
#define RFY_GAS_GAS_H

#include <stddef.h>
#include "gas/catalog.h"

#define RFY_R     8.31446261815324 /* J/mol/K, exact (SI 2019) */
#define RFY_ATM   101325.0         /* Pa, exact */
#define RFY_T_REF 293.15           /* K; throughputs in Pa m3/s are counted at this temperature */

double rfy_viscosity(const rfy_species *gas, double temperature); /* Pa s, Sutherland */
double rfy_mean_speed(double molar_mass, double temperature);     /* sqrt(8RT/pi M), m/s */
double rfy_probable_speed(double molar_mass, double temperature); /* v0 = sqrt(2RT/M), m/s */
double rfy_mean_free_path(double viscosity, double molar_mass, double temperature, double pressure);
/* Binary diffusivity times pressure, D_ij p, Pa m2/s (Fuller, Schettler and Giddings 1966).
 * Symmetric; for a gas in a twin of itself it is the self-diffusion value of the same formula. */
double rfy_diffusivity_p(const rfy_species *a, const rfy_species *b, double temperature);
/* Wilke 1950 weight phi_ij: mu_mix = sum_i x_i mu_i / sum_j x_j phi_ij. */
double rfy_wilke_weight(double mu_i, double mu_j, double mass_i, double mass_j);
/* Saturation pressure of water over liquid above 0 degC, over ice below, Pa (Magnus, WMO
 * coefficients). */
double rfy_water_saturation(double temperature);

#endif
