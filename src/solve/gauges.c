/* What gauges show: each kind by its own sensitivities, with a lag of the first order. */
#include <math.h>
#include "solve/simulate_parts.h"

static double unlagged(const rfy_sim *sim, int gauge, const double *partial) {
    const rfy_gauge *g = &sim->net->gauge[gauge];
    const int n = sim->net->mixture.n;
    double sum = 0;
    for (int i = 0; i < n; i++)
        sum += g->factor[i] * partial[g->node * n + i];
    return sum > 0 ? sum : 0;
}

/* Solution of lag dr/dt = p - r between two instants: for a pressure that rises in a straight line,
 * as gas flowing in makes it, or falls exponentially, as pumping does. */
double rfy_sim_follow(const rfy_lagging *from, double p, double time, double lag) {
    double dt = time - from->time, p0 = from->pressure;
    if (!(dt > 0))
        return from->reading;
    double fades = exp(-dt / lag), slope = (p - p0) / dt;
    if (!(p < p0) || !(p > 0))
        return p - slope * lag + (from->reading - p0 + slope * lag) * fades;
    double x = log(p / p0) + dt / lag;
    return fades * (from->reading + p0 * dt / lag * (fabs(x) > 1e-8 ? expm1(x) / x : 1));
}

double rfy_sim_reading(const rfy_sim *sim, int gauge, double time, const double *partial) {
    const double lag = sim->net->gauge[gauge].lag;
    if (!sim->gauge_on[gauge])
        return NAN;
    double p = unlagged(sim, gauge, partial);
    if (!(lag > 0))
        return p;
    /* outputs of the last step are asked for when its end is settled already */
    const rfy_lagging *now = &sim->lagging[1][gauge], *before = &sim->lagging[0][gauge];
    return rfy_sim_follow(time >= now->time ? now : before, p, time, lag);
}

void rfy_sim_settle_gauges(rfy_sim *sim) {
    for (int i = 0; i < sim->net->n_gauges; i++) {
        const double lag = sim->net->gauge[i].lag;
        if (!(lag > 0))
            continue;
        double p = unlagged(sim, i, sim->sight.partial);
        rfy_lagging *now = &sim->lagging[1][i];
        rfy_lagging next = {sim->time, p, sim->gauge_on[i] ? rfy_sim_follow(now, p, sim->time, lag) : p};
        sim->lagging[0][i] = *now;
        *now = next;
    }
}

void rfy_sim_gauge_begins(rfy_sim *sim, int gauge) {
    double p = unlagged(sim, gauge, sim->sight.partial);
    sim->lagging[0][gauge] = sim->lagging[1][gauge] = (rfy_lagging){sim->time, p, p};
}
