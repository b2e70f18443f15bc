/* All that changes in a run, laid aside and taken up again. The methods are one-step methods: there
 * is no history beyond the state itself. */
#include <string.h>
#include "solve/simulate_parts.h"

struct rfy_snapshot {
    rfy_arena *arena;
    const rfy_network *net;
    double time;
    double *y;
    rfy_motion *valve, *pump, *heat;
    bool *heated, any_heat;
    double *temperature;
    bool *gauge_on, *driven, *pump_held, *valve_held;
    bool mains;
    double *wall_since;
    rfy_lagging *lagging;
    int *wall_turns;
    rfy_track *track;
    int n_tracks;
    rfy_limit_state *limit;
    bool *target_met;
};

static void *copied(rfy_arena *arena, const void *from, size_t n, size_t size) {
    return rfy_arena_grow(arena, from, n, n, size);
}

rfy_snapshot *rfy_sim_save(const rfy_sim *sim) {
    const rfy_network *net = sim->net;
    rfy_arena *a = rfy_arena_new();
    rfy_snapshot *s = RFY_NEW(a, 1, rfy_snapshot);
    const size_t valves = (size_t)net->n_valves, pumps = (size_t)net->n_pumps,
                 nodes = (size_t)net->n_nodes;
    s->arena = a;
    s->net = net;
    s->time = sim->time;
    s->mains = sim->mains;
    s->y = copied(a, sim->y, (size_t)sim->ode->n, sizeof *s->y);
    s->valve = copied(a, sim->valve, valves, sizeof *s->valve);
    s->pump = copied(a, sim->pump, pumps, sizeof *s->pump);
    s->gauge_on = copied(a, sim->gauge_on, (size_t)net->n_gauges, sizeof *s->gauge_on);
    s->driven = copied(a, sim->driven, pumps, sizeof *s->driven);
    s->pump_held = copied(a, sim->pump_held, pumps, sizeof *s->pump_held);
    s->valve_held = copied(a, sim->valve_held, valves, sizeof *s->valve_held);
    s->lagging = copied(a, sim->lagging[1], (size_t)net->n_gauges, sizeof *s->lagging);
    s->wall_since = copied(a, sim->wall_since, nodes, sizeof *s->wall_since);
    s->wall_turns = copied(a, sim->wall_turns, nodes, sizeof *s->wall_turns);
    s->any_heat = sim->any_heat;
    s->heat = copied(a, sim->heat, nodes, sizeof *s->heat);
    s->heated = copied(a, sim->heated, nodes, sizeof *s->heated);
    s->temperature = RFY_NEW(a, nodes, double);
    rfy_sim_warmth(sim, sim->time, s->temperature);
    s->limit = copied(a, sim->limit, (size_t)net->n_limits, sizeof *s->limit);
    s->target_met = copied(a, sim->target_met, (size_t)net->n_targets, sizeof *s->target_met);
    s->n_tracks = sim->n_tracks;
    s->track = copied(a, sim->track, (size_t)sim->n_tracks, sizeof *s->track);
    for (int i = 0; i < s->n_tracks; i++)
        s->track[i].counter = copied(a, sim->track[i].counter,
                                     (size_t)sim->track[i].program->n_counters, sizeof(int));
    return s;
}

/* The same, or that of a description with other numbers; faults have their own network. */
static bool same_program(const rfy_program *a, const rfy_program *b) {
    return a->op == b->op || (a->kind != RFY_FAULT && a->kind == b->kind && a->n_ops == b->n_ops &&
                              a->n_counters == b->n_counters);
}

#define TAKE(field, n) memcpy(sim->field, s->field, (size_t)(n) * sizeof *sim->field)

void rfy_sim_load(rfy_sim *sim, const rfy_snapshot *s) {
    const rfy_network *net = sim->net;
    const int g = net->mixture.n;
    sim->time = sim->base = sim->switched = s->time;
    sim->local = 0;
    sim->mains = s->mains;
    TAKE(y, sim->ode->n);
    for (int k = 0; k < net->n_free; k++)
        for (int i = 0; i < g; i++)
            sim->y[k * g + i] *= net->node[k].volume / s->net->node[k].volume;
    TAKE(valve, net->n_valves);
    TAKE(pump, net->n_pumps);
    TAKE(heat, net->n_nodes);
    TAKE(heated, net->n_nodes);
    sim->any_heat = s->any_heat;
    TAKE(gauge_on, net->n_gauges);
    TAKE(driven, net->n_pumps);
    TAKE(pump_held, net->n_pumps);
    TAKE(valve_held, net->n_valves);
    for (int k = 0; k < 2; k++)
        memcpy(sim->lagging[k], s->lagging, (size_t)net->n_gauges * sizeof *s->lagging);
    TAKE(wall_since, net->n_nodes);
    TAKE(wall_turns, net->n_nodes);
    TAKE(target_met, net->n_targets);
    for (int i = 0; i < net->n_limits; i++) {
        sim->limit[i] = s->limit[i];
        sim->limit[i].peak = sim->limit[i].peak_at = (double)NAN;
    }
    for (int i = 0; i < sim->n_tracks; i++) {
        rfy_track *t = &sim->track[i];
        t->began = t->since = s->time;
        if (i >= s->n_tracks || !same_program(s->track[i].program, t->program))
            continue;
        int *counter = t->counter;
        const rfy_program *program = t->program;
        memcpy(counter, s->track[i].counter, (size_t)t->program->n_counters * sizeof *counter);
        *t = s->track[i];
        t->counter = counter;
        t->program = program;
    }
}

void rfy_snapshot_free(rfy_snapshot *snapshot) {
    if (snapshot)
        rfy_arena_free(snapshot->arena);
}

double rfy_snapshot_time(const rfy_snapshot *s) {
    return s->time;
}

bool rfy_snapshot_driven(const rfy_snapshot *s, int pump) {
    return s->driven[pump];
}

bool rfy_snapshot_switched(const rfy_snapshot *s, int gauge) {
    return s->gauge_on[gauge];
}

double rfy_snapshot_opening(const rfy_snapshot *s, int valve) {
    return rfy_motion_at(&s->valve[valve], s->time);
}

double rfy_snapshot_pressure(const rfy_snapshot *s, int node) {
    const int g = s->net->mixture.n;
    double sum = 0;
    for (int i = 0; i < g; i++)
        sum += s->y[node * g + i];
    return sum * RFY_R * s->temperature[node] / s->net->node[node].volume;
}

bool rfy_snapshot_broken(const rfy_snapshot *s, int limit) {
    return s->limit[limit].broken;
}

bool rfy_snapshot_met(const rfy_snapshot *s, int target) {
    return s->target_met[target];
}

double rfy_snapshot_turn(const rfy_snapshot *s, int pump) {
    return rfy_motion_at(&s->pump[pump], s->time);
}
