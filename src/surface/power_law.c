#include "surface/power_law.h"

#include <math.h>

#define HOUR 3600.0
#define LN10 2.302585092994045684

/* Piece-wise power law through the points of Elsey 1975 (Vacuum 25:299 and 25:347), who tabulates
 * the rate and the exponent at 1 h and 10 h. */

double rfy_power_law_log_age(double age_seconds) {
    return log((age_seconds > RFY_POWER_LAW_CAP ? age_seconds : RFY_POWER_LAW_CAP) / HOUR);
}

double rfy_power_law_rate(const rfy_power_law *law, double age_seconds, double *d_by_age) {
    return rfy_power_law_rate_at(law, age_seconds,
                                 law->steady ? 0 : rfy_power_law_log_age(age_seconds), d_by_age);
}

double rfy_power_law_rate_at(const rfy_power_law *law, double age_seconds, double log_age,
                             double *d_by_age) {
    bool held = !(age_seconds > RFY_POWER_LAW_CAP);
    if (law->steady) {
        if (d_by_age)
            *d_by_age = 0.0;
        return law->rate_1h;
    }
    double age = held ? RFY_POWER_LAW_CAP : age_seconds;
    int part = age < HOUR ? 0 : age < 10.0 * HOUR ? 1 : 2;
    double rate = exp(law->log_rate[part] - law->slope[part] * log_age);
    if (d_by_age)
        *d_by_age = held ? 0.0 : -law->slope[part] * rate / age;
    return rate;
}

void rfy_power_law_constant(double rate, rfy_power_law *law) {
    *law = (rfy_power_law){.rate_1h = rate, .rate_10h = rate, .steady = true};
}

void rfy_power_law_single(double rate, double at, double slope, rfy_power_law *law) {
    if (!(rate > 0.0) || slope == 0.0) {
        rfy_power_law_constant(rate > 0.0 ? rate : 0.0, law);
        return;
    }
    double at_1h = log(rate) + slope * log(at / HOUR);
    *law = (rfy_power_law){.rate_1h = exp(at_1h), .slope_1h = slope, .slope_10h = slope};
    law->rate_10h = exp(at_1h - slope * LN10);
    for (int part = 0; part < 3; part++) {
        law->log_rate[part] = at_1h;
        law->slope[part] = slope;
    }
}

/* The slope used outside the table: its own, else the other end's, else the chord; within the
 * limits. */
static double outer_slope(double own, double other, double chord) {
    double slope = !isnan(own) ? own : !isnan(other) ? other : chord;
    return fmin(fmax(slope, RFY_POWER_LAW_LEAST), RFY_POWER_LAW_MOST);
}

bool rfy_power_law_from_material(const rfy_material *row, rfy_power_law *law) {
    bool has_1h = row->rate_1h > 0.0, has_10h = row->rate_10h > 0.0;
    if (!has_1h && !has_10h)
        return false;
    if (!has_1h || !has_10h) {
        double rate = has_1h ? row->rate_1h : row->rate_10h;
        double own = has_1h ? row->slope_1h : row->slope_10h;
        double slope = isnan(own) || own == 0.0 ? 0.0 : outer_slope(own, own, own);
        rfy_power_law_single(rate, has_1h ? HOUR : 10.0 * HOUR, slope, law);
        return true;
    }
    double at_1h = log(row->rate_1h), at_10h = log(row->rate_10h);
    double chord = (at_1h - at_10h) / LN10;
    *law = (rfy_power_law){.rate_1h = row->rate_1h, .rate_10h = row->rate_10h};
    law->slope_1h = outer_slope(row->slope_1h, row->slope_10h, chord);
    law->slope_10h = outer_slope(row->slope_10h, row->slope_1h, chord);
    law->slope[0] = law->slope_1h;
    law->slope[1] = chord;
    law->slope[2] = law->slope_10h;
    law->log_rate[0] = law->log_rate[1] = at_1h;
    law->log_rate[2] = at_10h + law->slope_10h * LN10;
    return true;
}
