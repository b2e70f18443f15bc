#include "network/stores.h"
#include "surface/condensate.h"

#include <math.h>
#include <string.h>

enum { MOST = 128 }; /* states of one store */

void rfy_stores_update(const rfy_network *net, rfy_controls *c, double switched,
                       const double *scale) {
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        rfy_store_state *was = &c->store_state[i];
        double gas = c->temperature[s->node], wall = isnan(s->temperature) ? gas : s->temperature;
        rfy_store_state now = {wall, gas, scale ? scale[i] : 1, switched >= s->active_from};
        if (now.wall == was->wall && now.gas == was->gas && now.scale == was->scale &&
            now.active == was->active)
            continue;
        *was = now;
        s->kind->law(s, &now, &c->store[i]);
    }
}

double rfy_stores_release(const rfy_network *net, const rfy_controls *c, int store, const double *y,
                          const double *pressure, double *outer) {
    const rfy_store *s = &net->store[store];
    double f[MOST];
    return rfy_store_rates(s, &c->store[store], pressure[s->node * net->mixture.n + s->gas],
                           y + s->first, f, NULL, NULL, outer);
}

void rfy_stores_rates(const rfy_network *net, const rfy_controls *c, const double *y,
                      const double *pressure, double *rate) {
    const int g = net->mixture.n;
    if (c->frozen) {
        for (int i = 0; i < net->n_free * g; i++)
            rate[i] -= c->taken[i] * y[i];
        return;
    }
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        int at = s->node * g + s->gas;
        double outer;
        rate[at] += rfy_store_rates(s, &c->store[i], pressure[at], y + s->first, rate + s->first,
                                    NULL, NULL, &outer);
        if (s->sign)
            rate[net->outside_node * g + s->gas] -= outer;
    }
}

/* Uptake by the pressure, 1/s by the moles in the place, while the store stays as it is; and what
 * it gives off, mol/s. A slab's surface follows the pressure at once: only its net release is
 * lasting. */
static double uptake(const rfy_network *net, const rfy_controls *c, int store, const double *y,
                     const double *pressure, double *gives) {
    const rfy_store *s = &net->store[store];
    double f[MOST], by_x[MOST], by_p[MOST], outer, sum = 0;
    double p = pressure[s->node * net->mixture.n + s->gas];
    *gives = rfy_store_rates(s, &c->store[store], p, y + s->first, f, by_x, by_p, &outer);
    /* a few layers left where ice has gone come and go, and decide nothing */
    bool bare = s->kind == &rfy_store_condensate && y[s->first] < 1e7 * s->grain[0];
    if (!s->kind->exchanges || (bare && *gives > 0))
        return 0;
    if (bare && !(-*gives > 1e-3 * by_p[0] * p))
        return 0;
    for (int j = 0; j < s->n; j++)
        sum += by_p[j];
    *gives += sum * p;
    return sum * RFY_R * c->temperature[s->node] / net->node[s->node].volume;
}

void rfy_stores_freeze(const rfy_network *net, rfy_controls *c, const double *y, double *release) {
    const int g = net->mixture.n;
    rfy_arena *arena = rfy_arena_new();
    double *pressure = RFY_NEW(arena, (size_t)(net->n_nodes * g), double);
    rfy_pressures(net, c->temperature, y, pressure);
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        int at = s->node * g + s->gas;
        c->taken[at] += uptake(net, c, i, y, pressure, &release[i]);
        c->emission[at] += release[i];
    }
    c->frozen = true;
    rfy_arena_free(arena);
}

void rfy_stores_capture(const rfy_network *net, const rfy_controls *c, const double *y,
                        double *capture) {
    rfy_arena *arena = rfy_arena_new();
    double *pressure = RFY_NEW(arena, (size_t)(net->n_nodes * net->mixture.n), double);
    rfy_pressures(net, c->temperature, y, pressure);
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        double gives, rate = uptake(net, c, i, y, pressure, &gives);
        double p = pressure[s->node * net->mixture.n + s->gas];
        double moles = p * net->node[s->node].volume / (RFY_R * c->temperature[s->node]);
        /* what evaporates on balance is no pump */
        capture[i] = s->kind->pumps && rate * moles > gives ? rate : 0;
    }
    rfy_arena_free(arena);
}

double rfy_bake_at(const rfy_bake *b, double time, bool *moving) {
    int i = 0;
    while (i < b->n && b->time[i] <= time)
        i++;
    if (i == 0 || i == b->n)
        return b->temperature[i == 0 ? 0 : b->n - 1];
    double share = (time - b->time[i - 1]) / (b->time[i] - b->time[i - 1]);
    if (moving && b->temperature[i] != b->temperature[i - 1])
        *moving = true;
    return b->temperature[i - 1] + share * (b->temperature[i] - b->temperature[i - 1]);
}
