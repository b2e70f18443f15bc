/* The gases of one system at one temperature: everything pairwise worked out beforehand. */
#ifndef RFY_GAS_MIXTURE_H
#define RFY_GAS_MIXTURE_H

#include "core/lanes.h"
#include "gas/gas.h"

#define RFY_MAX_GASES 16 /* gases followed in one system */

typedef RFY_LANES_OF(RFY_MAX_GASES) rfy_gases; /* one value a gas; entries beyond n are padding */

typedef struct rfy_mixture {
    int n;
    int lanes;                  /* vectors of four that hold n gases */
    int species[RFY_MAX_GASES]; /* index in the catalogue */
    const char *name[RFY_MAX_GASES];
    double temperature;
    rfy_gases mass;       /* kg/mol */
    rfy_gases viscosity;  /* Pa s; 0 in the padding */
    rfy_gases mean_speed; /* m/s; 1e6 in the padding: nothing holds it back, so it does not drift */
    rfy_gases inv_mean_speed;
    rfy_gases gamma;
    rfy_gases capacity;                 /* cv/R = 1/(gamma - 1); 0 in the padding */
    rfy_gases wilke_row[RFY_MAX_GASES]; /* [i] holds phi_ij by j; 1 in the padding */
    rfy_gases inv_dp[RFY_MAX_GASES];    /* 1/(D_ij p), 1/(Pa m2/s); symmetric; 0 in the padding */
} rfy_mixture;

void rfy_mixture_init(rfy_mixture *mixture, const rfy_catalog *catalog, const int *species, int n,
                      double temperature);

/* Viscosity (Wilke 1950), mean molar mass and mean gamma of a composition given by weights m[n] of
 * any scale (negative ones count as zero), with their derivatives by m (NULL = not wanted; all
 * three or none). A composition of nothing counts as equal parts, with zero derivatives. */
typedef struct rfy_mixture_state {
    double viscosity, mass, gamma;
} rfy_mixture_state;
void rfy_mixture_at(const rfy_mixture *mixture, const double *m, rfy_mixture_state *state,
                    double *d_viscosity, double *d_mass, double *d_gamma);

#endif
