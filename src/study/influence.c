/* How the results of a run follow the numbers of its description, and what halving or doubling one
 * of them brings. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/dims.h"
#include "solve/tangent_memory.h"
#include "study/answers.h"
#include "study/neighbours.h"
#include "study/rerun.h"
#include "study/sensitivity.h"

/* A run with derivatives takes some two to three times as long for usual benches; in small networks
 * that is a few milliseconds. Unknowns times numbers above which it counts as dear. */
static const size_t cheap = 20000;
/* Changes told for a target, how many of them are put to the test by a run of their own, and the
 * least part of the time that is worth telling. */
enum { TOLD = 4, TRIED = 2 };
/* A change that to first order takes more than this part of a time is run again as well: near where
 * a pressure levels off, derivatives promise far more than twice or half of anything can bring. */
static const double steep = 0.4;
static const double worth = 0.01;

struct rfy_influence {
    rfy_arena *arena, *scratch; /* of the result; until it is told */
    const rfy_system *system;
    const rfy_parameter *parameter;
    size_t n, columns; /* of the tangent: the numbers, then perhaps all walls */
    const rfy_neighbour *neighbour;
    bool quick; /* a first look, told to a few digits */
    rfy_tangent *tangent;
    double *time_by; /* [target * n] s */
    rfy_sim *sim;
    double spread; /* the widest of all walls */
    double *clear; /* [target] s, when a wall at its worst could not hold it up any more; NaN */
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
    f->quick = options->sensitivities == RFY_IF_CHEAP;
    f->columns = f->n;
    if (f->quick) { /* one more for all walls at once */
        rfy_neighbour *list = RFY_NEW(f->scratch, f->n + 1, rfy_neighbour);
        memcpy(list, f->neighbour, f->n * sizeof *list);
        list[f->n] = (rfy_neighbour){.net = net, .step = 1, .walls = true};
        f->neighbour = list;
        f->columns++;
    }
    f->tangent = rfy_tangent_new(f->scratch, sim, f->neighbour, (int)f->columns, f->quick);
    rfy_tangent_remember(f->tangent);
    f->sim = sim;
    f->spread = 1;
    for (int i = 0; i < net->n_emitters; i++)
        f->spread = fmax(f->spread, net->emitter[i].spread);
    f->clear = RFY_NEW(arena, (size_t)net->n_targets, double);
    for (int i = 0; i < net->n_targets; i++)
        f->clear[i] = NAN;
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

/* Walls raise no pressure by more than the factor by which they give off more. */
static void note_clear(rfy_influence *f) {
    const rfy_network *net = f->system->network;
    const int g = net->mixture.n;
    const double *y = rfy_sim_state(f->sim);
    for (int i = 0; i < net->n_targets; i++) {
        const rfy_target *target = &net->target[i];
        if (!isnan(f->clear[i]) || !rfy_tangent_of_target(f->tangent, i))
            continue;
        const rfy_node *node = &net->node[target->node];
        double sum = 0;
        for (int k = 0; k < g; k++)
            sum += y[target->node * g + k];
        if (sum * RFY_R * node->temperature / node->volume * f->spread <= target->pressure)
            f->clear[i] = rfy_sim_time(f->sim);
    }
}

void rfy_influence_step(rfy_influence *f) {
    rfy_tangent_lay_aside(f->tangent);
    if (rfy_tangent_is_quick(f->tangent))
        note_clear(f);
}

/* The latest instant before which a column mattered to nothing, if all targets wanted come after
 * it; NULL = the beginning. */
static const rfy_snapshot *untouched_by(const rfy_influence *f, size_t column, const bool *wanted) {
    const rfy_snapshot *s = rfy_tangent_untouched(f->tangent, (int)column);
    for (int i = 0; s && i < f->system->network->n_targets; i++)
        if (wanted[i] && rfy_snapshot_met(s, i))
            return NULL;
    return s;
}

/* ---- the scatter of walls ---- */

const rfy_snapshot *rfy_influence_walls_begin(const rfy_influence *f, const bool *wanted) {
    return rfy_tangent_is_quick(f->tangent) ? untouched_by(f, f->n, wanted) : NULL;
}

/* Parts of a change that may be left out, and of a time that walls hardly change: that is all that
 * is said then. */
static const double left_out = 0.01, hardly = 0.02;
/* Part of a pressure that walls may make up without the time bending towards never. */
static const double little = 0.2;
/* Where they make up more, a plunge may still end it soon. Part of a level that the order of work
 * waits for, how much more than to first order its time may then bend (-ln(1 - u)/u for a pressure
 * that falls exponentially towards what walls hold up), and the part of a time by which that and
 * the rest of the plunge may make it later and still be hardly any. */
static const double strained = 0.5, bend = 1.5, still_hardly = 0.04;

void rfy_influence_band(const rfy_influence *f, const rfy_sim_options *options,
                        const rfy_target_result *target, double *time, bool *known) {
    const rfy_network *net = f->system->network;
    if (!rfy_tangent_is_quick(f->tangent) || !rfy_tangent_is_sound(f->tangent))
        return;
    const double spread = f->spread,
                 added = spread > 1 ? (pow(spread, options->wall_scale) - 1) / log(spread)
                                    : options->wall_scale;
    const bool holds = rfy_tangent_strain(f->tangent, (int)f->n) * fabs(added) <= strained;
    for (int i = 0; i < net->n_targets; i++) {
        const double *by = rfy_tangent_of_target(f->tangent, i);
        if (!by || !target[i].reached || !(target[i].time > 0))
            continue;
        const double e = by[f->n] / target[i].time,
                     then = target[i].time * exp(options->wall_scale * e), beside = added * e;
        /* of the pressure at the target, what comes from walls as they are then */
        const double part = fabs(added * by[f->n] * rfy_tangent_fall_at_target(f->tangent, i));
        const bool soon =
            holds && f->clear[i] - target[i].time + bend * fabs(beside) * target[i].time <=
                         still_hardly * target[i].time;
        if (fabs(beside) <= hardly && (options->wall_scale < 0 || part <= little || soon)) {
            time[i] = target[i].time * (1 + beside); /* in proportion to what they give off */
            known[i] = true;
            continue;
        }
        const rfy_snapshot *from = rfy_tangent_late_start(f->tangent, i, (int)f->n, then, left_out);
        if (!from)
            continue;
        rfy_arena *arena = rfy_arena_new();
        double *found = RFY_NEW(arena, (size_t)net->n_targets, double);
        bool *wanted = RFY_NEW(arena, (size_t)net->n_targets, bool);
        wanted[i] = true;
        known[i] = rfy_rerun(net, options, from, wanted, found);
        time[i] = found[i];
        rfy_arena_free(arena);
    }
}

/* ---- a change put to the test ---- */

typedef struct trial { /* a number times a factor */
    bool *wanted;      /* [target] */
    double *estimate;  /* [target] */
    double *time;      /* [target] */
} trial;

/* The instant at which it may begin; NULL = the beginning. */
static const rfy_snapshot *begin_of(const rfy_influence *f, size_t parameter, const trial *t) {
    const rfy_snapshot *begin = NULL, *untouched = untouched_by(f, parameter, t->wanted);
    for (int i = 0; i < f->system->network->n_targets; i++) {
        if (!t->wanted[i])
            continue;
        const rfy_snapshot *s =
            rfy_tangent_late_start(f->tangent, i, (int)parameter, t->estimate[i], left_out);
        if (!s || (untouched && rfy_snapshot_time(s) < rfy_snapshot_time(untouched)))
            s = untouched;
        if (!s)
            return NULL;
        if (!begin || rfy_snapshot_time(s) < rfy_snapshot_time(begin))
            begin = s;
    }
    return begin;
}

static bool same_shape(const rfy_network *a, const rfy_network *b) {
    return a->n_nodes == b->n_nodes && a->n_free == b->n_free && a->n_edges == b->n_edges &&
           a->n_valves == b->n_valves && a->n_pumps == b->n_pumps && a->n_gauges == b->n_gauges &&
           a->n_stores == b->n_stores && a->n_targets == b->n_targets &&
           a->n_limits == b->n_limits && a->mixture.n == b->mixture.n;
}

/* Times of the targets wanted; NaN when that cannot be run. */
static void make(const rfy_influence *f, size_t parameter, double factor,
                 const rfy_sim_options *options, const trial *t) {
    const rfy_system *system = f->system;
    const int n = system->network->n_targets;
    rfy_arena *arena = rfy_arena_new();
    rfy_problems *problems = rfy_problems_new("");
    const rfy_description *d =
        rfy_parameter_scaled(arena, system, &f->parameter[parameter], factor);
    const rfy_network *net = rfy_network_like(arena, system->catalog, d, problems, system->network);
    const bool same = net && same_shape(net, system->network);
    if (net && !same)
        net = rfy_network_new(arena, system->catalog, d, problems);
    if (net && net->n_targets == n)
        rfy_rerun(net, options, same ? begin_of(f, parameter, t) : NULL, t->wanted, t->time);
    else
        for (int i = 0; i < n; i++)
            t->time[i] = NAN;
    rfy_problems_free(problems);
    rfy_arena_free(arena);
}

static int by_estimate(const void *a, const void *b) {
    double x = ((const rfy_gain *)a)->estimate, y = ((const rfy_gain *)b)->estimate;
    return (x > y) - (x < y);
}

static int by_target_and_time(const void *a, const void *b) {
    const rfy_gain *x = a, *y = b;
    if (x->target != y->target)
        return (x->target > y->target) - (x->target < y->target);
    const double s = isnan(x->time) ? x->estimate : x->time,
                 t = isnan(y->time) ? y->estimate : y->time;
    return (s > t) - (s < t);
}

/* The changes that bring each target soonest; a power law through the derivative, so that a time
 * never comes out negative. */
static size_t choose(const rfy_influence *f, const rfy_result *out, rfy_gain *list) {
    const size_t n = f->n;
    rfy_gain *all = RFY_NEW(f->arena, n, rfy_gain);
    size_t count = 0;
    for (size_t i = 0; i < out->n_targets; i++) {
        const rfy_target_result *t = &out->target[i];
        size_t found = 0;
        for (size_t k = 0; k < n && t->reached && t->time > 0; k++) {
            double e = out->sensitivity[k].time[i];
            double then = t->time * exp2(-fabs(e));
            if (then < t->time * (1 - worth))
                all[found++] = (rfy_gain){i, k, e > 0 ? 0.5 : 2, then, NAN};
        }
        qsort(all, found, sizeof *all, by_estimate);
        for (size_t k = 0; k < found && k < TOLD; k++)
            list[count++] = all[k];
    }
    return count;
}

/* Sensitivities were ranked since: back to the number itself. */
static size_t own_place(const rfy_influence *f, const rfy_sensitivity *s) {
    size_t own = 0;
    while (strcmp(f->parameter[own].path[0], s->path[0]) != 0)
        own++;
    return own;
}

static void find_changes(const rfy_influence *f, const rfy_sim_options *options, rfy_result *out) {
    const size_t targets = out->n_targets;
    rfy_gain *list = RFY_NEW(f->arena, targets * TOLD, rfy_gain);
    const size_t count = choose(f, out, list);
    trial *all = RFY_NEW(f->arena, 2 * f->n, trial);
    rfy_sim_options o = *options;
    if (f->quick)
        o.tolerance = rfy_rerun_tolerance(o.tolerance);
    for (size_t c = 0, place = 0; c < count; c++) {
        place = c > 0 && list[c].target == list[c - 1].target ? place + 1 : 0;
        const double now = out->target[list[c].target].time;
        if (options->n_faults > 0 || /* a fault belongs to its own network */
            (place >= TRIED && list[c].estimate > (1 - steep) * now))
            continue;
        trial *t = &all[2 * list[c].sensitivity + (list[c].factor > 1 ? 1 : 0)];
        if (!t->wanted) {
            t->wanted = RFY_NEW(f->arena, targets, bool);
            t->time = RFY_NEW(f->arena, targets, double);
            t->estimate = RFY_NEW(f->arena, targets, double);
        }
        t->wanted[list[c].target] = true;
        t->estimate[list[c].target] = list[c].estimate;
    }
    for (size_t k = 0; k < f->n; k++)
        for (size_t up = 0; up < 2; up++)
            if (all[2 * k + up].wanted)
                make(f, own_place(f, &out->sensitivity[k]), up ? 2 : 0.5, &o, &all[2 * k + up]);
    for (size_t c = 0; c < count; c++) {
        const trial *t = &all[2 * list[c].sensitivity + (list[c].factor > 1 ? 1 : 0)];
        if (t->wanted && t->wanted[list[c].target])
            list[c].time = t->time[list[c].target];
    }
    qsort(list, count, sizeof *list, by_target_and_time);
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
    double *total = RFY_NEW(f->arena, free, double),
           *by = RFY_NEW(f->arena, free * f->columns, double);
    rfy_sensitivity_ultimate(sim, net, f->tangent, f->columns, after,
                             out->ultimate.found ? out->ultimate.partial : NULL, total, by);
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
            ultimate[c] = unsuited ? (double)NAN : by[c * f->columns + k];
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
    out->rough_sensitivities = rfy_tangent_is_quick(f->tangent);
    if (out->status == RFY_OK || out->status == RFY_LIMIT_BROKEN)
        find_changes(f, options, out);
    rfy_tangent_forget(f->tangent);
    rfy_arena_free(f->scratch);
}
