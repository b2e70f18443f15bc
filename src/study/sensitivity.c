#include "study/sensitivity.h"
#include <math.h>
#include <string.h>
#include "network/stores.h"
#include "solve/steady.h"
#include "solve/tangent.h"
#include "study/neighbours.h"

/* The relative change of a number by which parts are compared: the error of a one-sided difference
 * of a smooth law grows with it, that of rounding with its inverse. Smaller for what moves
 * temperatures, on which everything depends exponentially. */
static const double small_step = 1e-6, smallest_step = 3e-8;

static void vary(rfy_arena *arena, const rfy_system *system, const rfy_parameter *parameter,
                 double step, rfy_neighbour *out) {
    rfy_problems *problems = rfy_problems_new("");
    const rfy_description *d = rfy_parameter_scaled(arena, system, parameter, exp(step));
    rfy_neighbour_find(arena, system->network,
                       rfy_network_like(arena, system->catalog, d, problems, system->network), step,
                       out);
    rfy_problems_free(problems);
}

const rfy_neighbour *rfy_neighbours_of(rfy_arena *arena, const rfy_system *system,
                                       const rfy_parameter *parameter, size_t n) {
    rfy_neighbour *list = RFY_NEW(arena, n, rfy_neighbour);
    for (size_t i = 0; i < n; i++) {
        vary(arena, system, &parameter[i], small_step, &list[i]);
        if (list[i].whole)
            vary(arena, system, &parameter[i], smallest_step, &list[i]);
    }
    return list;
}

typedef struct recorder {
    const rfy_network *net;
    rfy_tangent *tangent;
    size_t n, n_at, next; /* n: parameters */
    double *time, *time_by, *log_p, *log_p_by, *log_r, *log_r_by, *partial;
    const rfy_sensitivity_options *options;
    rfy_sim *sim;
} recorder;

static void on_target(void *context, rfy_sim *sim, double time, const double *y, int i) {
    recorder *r = context;
    (void)sim, (void)y;
    r->time[i] = time;
    const double *by = rfy_tangent_of_target(r->tangent, i);
    for (size_t p = 0; p < r->n; p++)
        r->time_by[(size_t)i * r->n + p] =
            by && rfy_tangent_is_sound(r->tangent) ? by[p] : (double)NAN;
}

static void on_output(void *context, rfy_sim *sim, double time, const double *y) {
    recorder *r = context;
    const rfy_network *net = r->net;
    const size_t nodes = (size_t)net->n_free, gauges = (size_t)net->n_gauges, at = r->next;
    if (at >= r->n_at || r->options->at[at] != time)
        return;
    r->next++;
    const int g = net->mixture.n;
    rfy_pressures(net, rfy_sim_temperatures(sim, time), y, r->partial);
    for (size_t k = 0; k < nodes; k++) {
        double sum = 0;
        for (int i = 0; i < g; i++)
            sum += r->partial[k * (size_t)g + (size_t)i];
        r->log_p[at * nodes + k] = sum > 0 ? log(sum) : (double)NAN;
    }
    for (size_t k = 0; k < gauges; k++) {
        double shown = rfy_sim_reading(sim, (int)k, time, r->partial);
        r->log_r[at * gauges + k] = shown > 0 ? log(shown) : (double)NAN;
    }
    if (rfy_tangent_is_sound(r->tangent))
        rfy_tangent_look(r->tangent, time, y, r->log_p_by + at * nodes * r->n,
                         r->log_r_by + at * gauges * r->n);
}

static double *filled(rfy_arena *arena, size_t n) {
    double *list = RFY_NEW(arena, n, double);
    for (size_t i = 0; i < n; i++)
        list[i] = NAN;
    return list;
}

bool rfy_sensitivity_ultimate(rfy_sim *sim, const rfy_network *net, rfy_tangent *tangent, size_t n,
                              double after, const double *guess, double *total, double *by) {
    const int g = net->mixture.n;
    const size_t free = (size_t)net->n_free;
    rfy_arena *scratch = rfy_arena_new();
    rfy_controls *controls = rfy_controls_new(scratch, net);
    rfy_sim_start_clocks(sim, after);
    rfy_sim_controls(sim, after, controls);
    rfy_stores_freeze(net, controls, rfy_sim_state(sim),
                      RFY_NEW(scratch, (size_t)net->n_stores, double));
    for (int i = 0; i < net->n_free * g; i++)
        controls->emission_slope[i] = 0;
    rfy_ode *ode = rfy_ode_frozen(scratch, net, controls);
    bool *held = RFY_NEW(scratch, free * (size_t)g, bool);
    double *y = RFY_NEW(scratch, (size_t)ode->n, double),
           *p = RFY_NEW(scratch, (size_t)(net->n_nodes * g), double);
    int iterations;
    for (size_t i = 0; i < free * n; i++)
        by[i] = NAN;
    memcpy(y, rfy_sim_state(sim), (size_t)ode->n * sizeof *y);
    rfy_steady_held(ode, y, held);
    for (int i = 0; guess && i < net->n_free * g; i++)
        if (!held[i])
            y[i] = guess[i] * net->node[i / g].volume / (RFY_R * controls->temperature[i / g]);
    bool found = rfy_steady_solve(ode, y, held, &iterations);
    if (found && !rfy_tangent_of_steady(tangent, ode, after, y, held, by))
        for (size_t i = 0; i < free * n; i++)
            by[i] = NAN;
    rfy_pressures(net, controls->temperature, y, p);
    for (size_t k = 0; k < free && found; k++) {
        total[k] = 0;
        for (int i = 0; i < g; i++)
            total[k] += p[k * (size_t)g + (size_t)i];
    }
    rfy_arena_free(scratch);
    return found;
}

const rfy_sensitivities *rfy_sensitivities_of(rfy_arena *arena, const rfy_system *system,
                                              const rfy_sensitivity_options *options) {
    const rfy_network *net = system->network;
    const size_t n = options->n_parameters, targets = (size_t)net->n_targets, n_at = options->n_at,
                 nodes = (size_t)net->n_free, gauges = (size_t)net->n_gauges;
    rfy_sensitivities *out = RFY_NEW(arena, 1, rfy_sensitivities);
    rfy_arena *scratch = rfy_arena_new();
    const rfy_neighbour *neighbour = rfy_neighbours_of(scratch, system, options->parameter, n);
    recorder r = {.net = net,
                  .n = n,
                  .n_at = n_at,
                  .options = options,
                  .time = filled(arena, targets),
                  .time_by = filled(arena, targets * n),
                  .log_p = filled(arena, n_at * nodes),
                  .log_p_by = filled(arena, n_at * nodes * n),
                  .log_r = filled(arena, n_at * gauges),
                  .log_r_by = filled(arena, n_at * gauges * n),
                  .partial = RFY_NEW(scratch, (size_t)(net->n_nodes * net->mixture.n), double)};
    static const double none[1] = {INFINITY};
    rfy_observer observer = {.target = on_target, .output = on_output, .context = &r};
    const double usual = net->tolerance < 3e-5 ? net->tolerance : 3e-5;
    rfy_sim_options o = {.tolerance = options->tolerance > 0 ? options->tolerance : usual,
                         .at = n_at > 0 ? options->at : none,
                         .n_at = n_at > 0 ? n_at : 1,
                         .stop = options->stop};
    *out = (rfy_sensitivities){.n_parameters = n,
                               .n_nodes = nodes,
                               .n_gauges = gauges,
                               .n_targets = targets,
                               .n_at = n_at,
                               .target_time = r.time,
                               .target_time_by = r.time_by,
                               .log_pressure = r.log_p,
                               .log_pressure_by = r.log_p_by,
                               .log_reading = r.log_r,
                               .log_reading_by = r.log_r_by};
    const char **unsuited = RFY_NEW(arena, n, const char *);
    for (size_t i = 0; i < n; i++)
        unsuited[i] = neighbour[i].unsuited;
    out->unsuited = unsuited;
    rfy_sim *sim = rfy_sim_new(net, &o, &observer);
    if (!sim) {
        out->status = RFY_RUN_FAILED;
        out->trouble = "the solver could not be set up";
        rfy_arena_free(scratch);
        return out;
    }
    r.sim = sim;
    r.tangent = rfy_tangent_new(scratch, sim, neighbour, (int)n, false);
    out->status = rfy_sim_run(sim);
    out->end = rfy_sim_time(sim);
    if (rfy_sim_trouble(sim))
        out->trouble = rfy_arena_strdup(arena, rfy_sim_trouble(sim));
    rfy_sim_stats(sim, &out->solver);
    if (!options->targets_only) {
        double *total = filled(arena, nodes), *by = filled(arena, nodes * n);
        double after = options->ultimate_after > 0 ? options->ultimate_after : out->end;
        out->ultimate_found =
            rfy_sensitivity_ultimate(sim, net, r.tangent, n, after, NULL, total, by);
        out->ultimate = total;
        out->log_ultimate_by = by;
    }
    rfy_sim_free(sim);
    rfy_arena_free(scratch);
    return out;
}
