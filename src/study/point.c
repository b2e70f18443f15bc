#include "study/point.h"
#include <math.h>
#include <string.h>
#include "study/answers.h"

typedef struct sight {
    const rfy_network *net;
    rfy_point *out;
    double *partial;
    size_t n_targets, next;
} sight;

static double total_at(const sight *s, int node) {
    const int g = s->net->mixture.n;
    double sum = 0;
    for (int i = 0; i < g; i++)
        sum += s->partial[node * g + i] > 0 ? s->partial[node * g + i] : 0;
    return sum;
}

static void on_target(void *context, rfy_sim *sim, double time, const double *y, int i) {
    sight *s = context;
    (void)sim, (void)y;
    if ((size_t)i < s->n_targets)
        s->out->time[i] = time;
}

static void on_output(void *context, rfy_sim *sim, double time, const double *y) {
    sight *s = context;
    rfy_pressures(s->net, rfy_sim_temperatures(sim, time), y, s->partial);
    for (size_t i = 0; i < s->n_targets; i++)
        s->out->curve[s->next * s->n_targets + i] = total_at(s, s->net->target[i].node);
    s->next++;
}

/* With a target that never comes the run goes to its end. */
static const rfy_network *without_end(rfy_arena *arena, const rfy_network *net) {
    rfy_network *copy = RFY_NEW(arena, 1, rfy_network);
    *copy = *net;
    copy->target = rfy_arena_grow(arena, net->target, (size_t)net->n_targets,
                                  (size_t)net->n_targets + 1, sizeof *net->target);
    copy->target[copy->n_targets++] = (rfy_target){.name = "", .node = 0, .pressure = 0};
    return copy;
}

void rfy_point_run(rfy_arena *arena, const rfy_network *net, const rfy_point_options *options,
                   rfy_point *out) {
    const size_t targets = (size_t)net->n_targets, free_nodes = (size_t)net->n_free;
    *out = (rfy_point){.status = RFY_RUN_FAILED, .time = RFY_NEW(arena, targets, double)};
    for (size_t i = 0; i < targets; i++)
        out->time[i] = NAN;
    out->curve = RFY_NEW(arena, options->n_at * targets, double);
    for (size_t i = 0; i < options->n_at * targets; i++)
        out->curve[i] = NAN;
    sight s = {.net = net,
               .out = out,
               .partial = RFY_NEW(arena, (size_t)(net->n_nodes * net->mixture.n), double),
               .n_targets = targets};
    rfy_observer observer = {
        .target = on_target, .output = options->n_at ? on_output : NULL, .context = &s};
    rfy_sim_options o = {.tolerance = options->tolerance > 0 ? options->tolerance : net->tolerance,
                         .wall_scales = options->wall_scales,
                         .targets_only = true,
                         .uncounted = true,
                         .at = options->n_at ? options->at : NULL,
                         .n_at = options->n_at,
                         .stop = options->stop};
    bool to_end = options->ultimate || options->n_at > 0 || targets == 0;
    const rfy_network *own = to_end ? without_end(arena, net) : net;
    rfy_sim *sim = rfy_sim_new(own, &o, &observer);
    if (!sim) {
        out->trouble = "the solver could not be set up";
        return;
    }
    out->status = rfy_sim_run(sim);
    out->end = rfy_sim_time(sim);
    if (rfy_sim_trouble(sim))
        out->trouble = rfy_arena_strdup(arena, rfy_sim_trouble(sim));
    rfy_pressures(net, rfy_sim_temperatures(sim, out->end), rfy_sim_state(sim), s.partial);
    out->pressure = RFY_NEW(arena, free_nodes, double);
    for (int k = 0; k < net->n_free; k++)
        out->pressure[k] = total_at(&s, k);
    if (options->ultimate && out->status == RFY_OK) {
        rfy_ultimate level = {0};
        rfy_sim_start_clocks(sim, out->end);
        rfy_answer_ultimate(arena, sim, own, out->end, &level);
        if (level.found) {
            out->ultimate = RFY_NEW(arena, free_nodes, double);
            memcpy(out->ultimate, level.total, free_nodes * sizeof *out->ultimate);
        }
    }
    rfy_solver_stats stats;
    rfy_sim_stats(sim, &stats);
    out->steps = stats.steps;
    rfy_sim_free(sim);
}
