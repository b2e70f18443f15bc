/* How the results of a run follow the numbers of its description, and what halving or doubling one
 * of them brings. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/dims.h"
#include "study/answers.h"
#include "study/neighbours.h"
#include "study/sensitivity.h"

/* A run with derivatives takes some two to three times as long for usual benches; in small networks
 * that is a few milliseconds. Unknowns times numbers above which it counts as dear. */
static const size_t cheap = 20000;
/* Changes told for a target, how many of them are put to the test by a run of their own, and the
 * least part of the time that is worth telling. */
enum { TOLD = 4, TRIED = 2 };
static const double worth = 0.01;

struct rfy_influence {
    rfy_arena *arena, *scratch; /* of the result; until it is told */
    const rfy_system *system;
    const rfy_parameter *parameter;
    size_t n;
    const rfy_neighbour *neighbour;
    rfy_tangent *tangent;
    double *time_by; /* [target * n] s */
};

rfy_influence *rfy_influence_new(rfy_arena *arena, const rfy_system *system,
                                 const rfy_run_options *options, rfy_sim *sim) {
    const rfy_network *net = system->network;
    if (options->sensitivities == RFY_NOT_WANTED || options->method == RFY_METHOD_MSBDF)
        return NULL;
    rfy_influence *f = RFY_NEW(arena, 1, rfy_influence);
    f->arena = arena;
    f->system = system;
    f->parameter = rfy_parameters_all(arena, system, &f->n);
    if (f->n == 0 ||
        (options->sensitivities == RFY_IF_CHEAP && f->n * (size_t)rfy_network_states(net) > cheap))
        return NULL;
    f->scratch = rfy_arena_new();
    f->neighbour = rfy_neighbours_of(f->scratch, system, f->parameter, f->n);
    f->tangent = rfy_tangent_new(f->scratch, sim, f->neighbour, (int)f->n,
                                 options->sensitivities == RFY_IF_CHEAP);
    f->time_by = RFY_NEW(arena, (size_t)net->n_targets * f->n, double);
    for (size_t i = 0; i < (size_t)net->n_targets * f->n; i++)
        f->time_by[i] = NAN;
    return f;
}

void rfy_influence_target(rfy_influence *f, int target) {
    const double *by = rfy_tangent_of_target(f->tangent, target);
    if (by && rfy_tangent_is_sound(f->tangent))
        memcpy(f->time_by + (size_t)target * f->n, by, f->n * sizeof *by);
}

/* ---- a change put to the test ---- */

static void on_target(void *context, rfy_sim *sim, double time, const double *y, int i) {
    (void)sim, (void)y;
    ((double *)context)[i] = time;
}

/* Times of all targets with a parameter times a factor; NaN when that cannot be run. */
static void try(const rfy_influence *f, size_t parameter, double factor,
                const rfy_sim_options *options, double *time) {
    const rfy_system *system = f->system;
    const int n = system->network->n_targets;
    rfy_observer observer = {.target = on_target, .context = time};
    rfy_sim_options o = *options;
    rfy_arena *arena = rfy_arena_new();
    rfy_problems *problems = rfy_problems_new("");
    o.targets_only = true;
    o.at = NULL;
    const rfy_network *net = rfy_network_new(
        arena, system->catalog,
        rfy_parameter_scaled(arena, system, &f->parameter[parameter], factor), problems);
    for (int i = 0; i < n; i++)
        time[i] = net && net->n_targets == n ? (double)INFINITY : (double)NAN;
    rfy_sim *sim = net && net->n_targets == n ? rfy_sim_new(net, &o, &observer) : NULL;
    if (sim && rfy_sim_run(sim) != RFY_OK)
        for (int i = 0; i < n; i++)
            time[i] = isinf(time[i]) ? (double)NAN : time[i];
    rfy_sim_free(sim);
    rfy_problems_free(problems);
    rfy_arena_free(arena);
}

static int by_estimate(const void *a, const void *b) {
    double x = ((const rfy_gain *)a)->estimate, y = ((const rfy_gain *)b)->estimate;
    return (x > y) - (x < y);
}

/* The changes that bring each target soonest; a power law through the derivative, so that a time
 * never comes out negative. */
static void find_changes(const rfy_influence *f, const rfy_sim_options *options, rfy_result *out) {
    const size_t n = f->n, targets = out->n_targets;
    rfy_gain *list = RFY_NEW(f->arena, targets * TOLD, rfy_gain);
    rfy_gain *all = RFY_NEW(f->arena, n, rfy_gain);
    double *tried = RFY_NEW(f->arena, 2 * n * targets, double);
    bool *known = RFY_NEW(f->arena, 2 * n, bool);
    size_t count = 0;
    for (size_t i = 0; i < targets; i++) {
        const rfy_target_result *t = &out->target[i];
        size_t found = 0;
        for (size_t k = 0; k < n && t->reached && t->time > 0; k++) {
            double e = out->sensitivity[k].time[i];
            double then = t->time * exp2(-fabs(e));
            if (then < t->time * (1 - worth))
                all[found++] = (rfy_gain){i, k, e > 0 ? 0.5 : 2, then, NAN};
        }
        qsort(all, found, sizeof *all, by_estimate);
        for (size_t k = 0; k < found && k < TOLD; k++) {
            rfy_gain *c = &list[count++];
            *c = all[k];
            const size_t which = 2 * c->sensitivity + (c->factor > 1 ? 1 : 0);
            if (k >= TRIED || options->n_faults > 0) /* a fault belongs to its own network */
                continue;
            if (!known[which]) {
                /* sensitivities were ranked since: back to the number itself */
                size_t own = 0;
                while (strcmp(f->parameter[own].path[0],
                              out->sensitivity[c->sensitivity].path[0]) != 0)
                    own++;
                try(f, own, c->factor, options, tried + which * targets);
                known[which] = true;
            }
            c->time = tried[which * targets + i];
        }
    }
    out->change = list;
    out->n_changes = count;
}

/* ---- the list ---- */

static double weight_of(const rfy_sensitivity *s, const rfy_result *r) {
    double most = 0;
    for (size_t i = 0; i < r->n_targets; i++)
        if (fabs(s->time[i]) > most)
            most = fabs(s->time[i]);
    for (size_t i = 0; i < r->n_targets && most <= 0; i++) /* no target reached: the levels count */
        for (size_t c = 0; c < r->n_chambers; c++)
            if (strcmp(r->chamber[c], r->target[i].chamber) == 0 && fabs(s->ultimate[c]) > most)
                most = fabs(s->ultimate[c]);
    return most;
}

static void rank(rfy_sensitivity *list, size_t n, const rfy_result *r) {
    for (size_t i = 1; i < n; i++) { /* insertion sort: dozens, and equal ones stay in order */
        rfy_sensitivity s = list[i];
        double weight = weight_of(&s, r);
        size_t k = i;
        for (; k > 0 && weight_of(&list[k - 1], r) < weight; k--)
            list[k] = list[k - 1];
        list[k] = s;
    }
}

void rfy_influence_tell(rfy_influence *f, rfy_sim *sim, double after,
                        const rfy_sim_options *options, rfy_result *out) {
    const rfy_network *net = f->system->network;
    const size_t n = f->n, free = (size_t)net->n_free, targets = out->n_targets;
    double *total = RFY_NEW(f->arena, free, double), *by = RFY_NEW(f->arena, free * n, double);
    rfy_sensitivity_ultimate(sim, net, f->tangent, n, after, total, by);
    rfy_sensitivity *list = RFY_NEW(f->arena, n, rfy_sensitivity);
    for (size_t k = 0; k < n; k++) {
        const rfy_parameter *p = &f->parameter[k];
        double *time = RFY_NEW(f->arena, targets, double),
               *ultimate = RFY_NEW(f->arena, free, double);
        const char *unsuited = f->neighbour[k].unsuited;
        for (size_t i = 0; i < targets; i++) {
            const rfy_target_result *t = &out->target[i];
            time[i] = t->reached && t->time > 0 && !unsuited ? f->time_by[i * n + k] / t->time
                                                             : (double)NAN;
        }
        for (size_t c = 0; c < free; c++)
            ultimate[c] = unsuited ? (double)NAN : by[c * n + k];
        list[k] = (rfy_sensitivity){.name = p->name,
                                    .n_paths = p->n_paths,
                                    .path = p->path,
                                    .value = p->value,
                                    .unit = rfy_dims[p->dim].si,
                                    .unsuited = unsuited,
                                    .time = time,
                                    .ultimate = ultimate};
    }
    rank(list, n, out);
    out->sensitivity = list;
    out->n_sensitivities = n;
    if (out->status == RFY_OK || out->status == RFY_LIMIT_BROKEN)
        find_changes(f, options, out);
    rfy_arena_free(f->scratch);
}
