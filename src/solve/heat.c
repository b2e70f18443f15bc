/* Temperatures of places in a run: bakes of the description, and what actions set. */
#include <math.h>
#include "network/stores.h"
#include "solve/simulate_parts.h"
#include "surface/getter.h"

bool rfy_sim_warmth(const rfy_sim *sim, double time, double *temperature) {
    const rfy_network *net = sim->net;
    bool moving = false;
    for (int k = 0; k < net->n_nodes; k++)
        temperature[k] = net->node[k].temperature;
    for (int i = 0; i < net->n_bakes; i++)
        if (!sim->heated[net->bake[i].node])
            temperature[net->bake[i].node] = rfy_bake_at(&net->bake[i], time, &moving);
    for (int k = 0; k < net->n_free; k++)
        if (sim->heated[k]) {
            temperature[k] = rfy_motion_at(&sim->heat[k], time);
            moving = moving || time < sim->heat[k].end;
        }
    return moving;
}

const double *rfy_sim_temperatures(rfy_sim *sim, double time) {
    if (!sim->any_heat)
        return NULL;
    rfy_sim_warmth(sim, time, sim->temperature);
    return sim->temperature;
}

double rfy_sim_heat_break(const rfy_sim *sim) {
    const rfy_network *net = sim->net;
    double next = INFINITY;
    for (int i = 0; i < net->n_stores; i++)
        if (net->store[i].active_from > sim->time && net->store[i].active_from < next)
            next = net->store[i].active_from;
    if (!sim->any_heat)
        return next;
    for (int i = 0; i < net->n_bakes; i++)
        for (int k = 0; k < net->bake[i].n && !sim->heated[net->bake[i].node]; k++)
            if (net->bake[i].time[k] > sim->time && net->bake[i].time[k] < next)
                next = net->bake[i].time[k];
    for (int k = 0; k < net->n_free; k++)
        if (sim->heated[k] && sim->heat[k].end > sim->time && sim->heat[k].end < next)
            next = sim->heat[k].end;
    return next;
}

void rfy_sim_heat(rfy_sim *sim, int node, double target, double rate) {
    rfy_sim_warmth(sim, sim->time, sim->temperature);
    double from = sim->temperature[node];
    sim->heat[node] = (rfy_motion){from, target, sim->time, sim->time + fabs(target - from) / rate};
    sim->heated[node] = sim->any_heat = true;
}

bool rfy_sim_heat_hold(rfy_sim *sim, int node) {
    rfy_motion *m = &sim->heat[node];
    if (!sim->heated[node] || !(m->end > sim->time))
        return false;
    double at = rfy_motion_at(m, sim->time);
    *m = (rfy_motion){at, at, sim->time, sim->time};
    return true;
}

double rfy_sim_heat_end(const rfy_sim *sim, int node, double temperature) {
    const rfy_motion *m = &sim->heat[node];
    return sim->heated[node] && m->to == temperature ? m->end : (double)INFINITY;
}

void rfy_sim_heat_new(rfy_sim *sim) {
    const rfy_network *net = sim->net;
    sim->heat = RFY_NEW(sim->arena, (size_t)net->n_nodes, rfy_motion);
    sim->heated = RFY_NEW(sim->arena, (size_t)net->n_nodes, bool);
    sim->temperature = RFY_NEW(sim->arena, (size_t)net->n_nodes, double);
    sim->store_scale = RFY_NEW(sim->arena, (size_t)net->n_stores, double);
    sim->any_heat = net->n_bakes > 0;
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        /* the worse case holds more gas and takes up less */
        double sense = s->kind == &rfy_store_getter ? -1 : 1;
        double scale = sim->options.wall_scales ? sim->options.wall_scales[net->n_emitters + i]
                                                : sim->options.wall_scale;
        sim->store_scale[i] = pow(s->spread, sense * scale);
    }
}

void rfy_sim_heat_events(rfy_sim *sim) {
    const rfy_network *net = sim->net;
    for (int i = 0; i < net->n_bakes; i++) {
        const rfy_bake *b = &net->bake[i];
        for (int k = 0; k < b->n && !sim->heated[b->node]; k++) {
            if (b->time[k] != sim->time)
                continue;
            /* four points a cycle: cold, hot, hot, cold */
            bool leaves = k % 2 == 0;
            double to = b->temperature[leaves ? k + 1 : k];
            const char *says = !leaves ? "is at" : k % 4 == 0 ? "on its way to" : "cools to";
            rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_MACHINE, "bake: %s %s %.0f degC",
                         net->node[b->node].name, says, to - 273.15);
        }
    }
    for (int k = 0; k < net->n_free; k++)
        if (sim->heated[k] && sim->heat[k].end == sim->time && sim->heat[k].start < sim->time)
            rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_MACHINE, "%s is at %.0f degC",
                         net->node[k].name, sim->heat[k].to - 273.15);
    for (int i = 0; i < net->n_stores; i++)
        if (net->store[i].active_from == sim->time &&
            (i == 0 || net->store[i - 1].active_from != sim->time))
            rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_MACHINE, "%s: active",
                         net->store[i].name);
}
