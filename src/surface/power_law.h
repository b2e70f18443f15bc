/* Outgassing that falls with a power of the time since the wall left atmosphere.
 *
 * A published table gives the rate at 1 h and at 10 h with the local slope a (rate ~ age^-a) at
 * each. On log-log paper the curve used here is three straight lines: slope_1h before 1 h, the
 * chord between the two points, slope_10h after 10 h. Both points are met exactly. Before
 * RFY_POWER_LAW_CAP the rate is held: the tables say nothing there, and a power law has no finite
 * value at age 0. */
#ifndef RFY_SURFACE_POWER_LAW_H
#define RFY_SURFACE_POWER_LAW_H

#include "gas/catalog.h"

#define RFY_POWER_LAW_CAP 60.0 /* s */
#define RFY_POWER_LAW_LEAST                                                                        \
    0.3 /* slopes of tables are kept between these outside 1 h to 10 h: local */
#define RFY_POWER_LAW_MOST                                                                         \
    1.3 /* slopes of 2 to 3 occur in the tables and hold only near their point */

typedef struct rfy_power_law {
    double rate_1h, slope_1h; /* Pa m3/s/m2 at 20 degC, as used (after filling gaps and limits) */
    double rate_10h, slope_10h;
    bool steady; /* the same at every age: rate_1h */
    double log_rate[3],
        slope[3]; /* log rate = log_rate - slope log(age/1 h) before, between, after */
} rfy_power_law;

/* Rate at an age in s (negative counts as 0), Pa m3/s/m2, and its derivative by age (NULL = not
 * wanted). */
double rfy_power_law_rate(const rfy_power_law *law, double age_seconds, double *d_by_age);
/* The same with rfy_power_law_log_age(age_seconds) given, which walls of one age share. */
double rfy_power_law_rate_at(const rfy_power_law *law, double age_seconds, double log_age,
                             double *d_by_age);
double rfy_power_law_log_age(double age_seconds);

/* False when the row has no rate at all. A row with one rate is steady if its slope is 0 or absent.
 */
bool rfy_power_law_from_material(const rfy_material *row, rfy_power_law *law);
/* The same rate at every age, >= 0. */
void rfy_power_law_constant(double rate, rfy_power_law *law);
/* rate (age/at)^-slope with one slope >= 0 throughout, rate >= 0, at > 0 s. */
void rfy_power_law_single(double rate, double at, double slope, rfy_power_law *law);

#endif
