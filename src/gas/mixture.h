/* The gases of one system at one temperature: everything pairwise worked out beforehand. */
#ifndef RFY_GAS_MIXTURE_H
#define RFY_GAS_MIXTURE_H

#include "gas/gas.h"

#define RFY_MAX_GASES 16 /* gases followed in one system */

typedef struct rfy_mixture {
    int n;
    int species[RFY_MAX_GASES]; /* index in the catalogue */
    const char *name[RFY_MAX_GASES];
    double temperature;
    double mass[RFY_MAX_GASES];       /* kg/mol */
    double viscosity[RFY_MAX_GASES];  /* Pa s */
    double mean_speed[RFY_MAX_GASES]; /* m/s */
    double gamma[RFY_MAX_GASES];
    double wilke[RFY_MAX_GASES][RFY_MAX_GASES];   /* phi_ij */
    double inv_dp[RFY_MAX_GASES][RFY_MAX_GASES];  /* 1/(D_ij p), 1/(Pa m2/s) */
} rfy_mixture;

void rfy_mixture_init(rfy_mixture *mixture, const rfy_catalog *catalog, const int *species, int n,
                      double temperature);

/* Viscosity (Wilke 1950), mean molar mass and mean gamma of a composition given by weights m[] >= 0 of any scale,
 * with their derivatives by m (NULL = not wanted). An all-zero composition counts as equal parts. */
typedef struct rfy_mixture_state {
    double viscosity, mass, gamma;
} rfy_mixture_state;
void rfy_mixture_at(const rfy_mixture *mixture, const double *m, rfy_mixture_state *state,
                    double *d_viscosity, double *d_mass, double *d_gamma);

#endif
