/* What holds gas (surface/store.h) as part of a network. */
#ifndef RFY_NETWORK_STORES_H
#define RFY_NETWORK_STORES_H

#include "network/rates.h"

/* Works the coefficients out anew where temperature, scale or activity changed. `scale` [n_stores]:
 * amounts as a multiple of the best estimate; `switched`, the time of the last switching, decides
 * what is active. */
void rfy_stores_update(const rfy_network *net, rfy_controls *controls, double switched,
                       const double *scale);

/* Adds the stores' part to rate[states]; nothing when the controls are frozen. */
void rfy_stores_rates(const rfy_network *net, const rfy_controls *controls, const double *y,
                      const double *pressure, double *rate);

/* Freezes them as they are at this state: what they give off, mol/s (and into release[n_stores]),
 * joins the emission, what they take up by the pressure joins controls->taken. */
void rfy_stores_freeze(const rfy_network *net, rfy_controls *controls, const double *y,
                       double *release);

/* What one store gives off (negative: takes up) at these pressures, mol/s, and what enters it
 * through its outer face. */
double rfy_stores_release(const rfy_network *net, const rfy_controls *controls, int store,
                          const double *y, const double *pressure, double *outer);

/* How fast each store that pumps takes gas from its place, 1/s by [n_stores]; 0 for the others. */
void rfy_stores_capture(const rfy_network *net, const rfy_controls *controls, const double *y,
                        double *capture);

/* Temperature of a bake's schedule at a time, K; *moving = it is changing then. */
double rfy_bake_at(const rfy_bake *bake, double time, bool *moving);

#endif
