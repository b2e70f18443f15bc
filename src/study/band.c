/* Bands: everything that is uncertain varies at once, and the answers are counted. */
#include <gsl/gsl_qrng.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "study/axes.h"
#include "study/indices.h"
#include "study/jobs.h"
#include "study/point.h"
#include "study/variation.h"

enum { USUAL_SAMPLES = 256, USUAL_INSTANTS = 60, LUMP = 8 };

typedef struct box {
    rfy_band band; /* first */
    rfy_arena *arena;
} box;

typedef struct drawing {
    const rfy_system *system;
    const rfy_band_options *options;
    rfy_axes axes;
    const char **path;
    size_t n, dimensions, n_targets, n_chambers, n_times;
    int *node_target; /* [chamber] a target at it */
    int *node;        /* [chamber] */
    double tolerance;
    const double *at;
    double *u;        /* [n * dimensions] */
    bool *good;       /* [n] */
    double *time;     /* [n * n_targets] infinite = never */
    double *end;      /* [n] */
    double *pressure; /* [n * n_times * n_chambers] */
    double *ultimate; /* [n * n_chambers] NaN unknown */
    double *sorted;   /* [n] scratch */
} drawing;

/* ---- the samples ---- */

static void draw(drawing *d) {
    if (d->options->plain) {
        gsl_rng *random = gsl_rng_alloc(gsl_rng_mt19937);
        gsl_rng_set(random, d->options->seed);
        for (size_t i = 0; i < d->n * d->dimensions; i++)
            d->u[i] = gsl_rng_uniform_pos(random);
        gsl_rng_free(random);
        return;
    }
    gsl_qrng *sobol = gsl_qrng_alloc(gsl_qrng_sobol, (unsigned)d->dimensions);
    for (size_t i = 0; i < d->n; i++)
        gsl_qrng_get(sobol, d->u + i * d->dimensions);
    gsl_qrng_free(sobol);
}

static void one(drawing *d, rfy_variation *variation, rfy_arena *arena, size_t i) {
    const size_t values = d->axes.n;
    const double *u = d->u + i * d->dimensions;
    const char **value = RFY_NEW(arena, values, const char *);
    for (size_t k = 0; k < values; k++)
        value[k] = rfy_axis_text(arena, &d->axes.item[k], u[k]);
    const rfy_network *net = rfy_variation_network(variation, value);
    if (!net || net->n_targets != (int)d->n_targets)
        return;
    rfy_point p;
    rfy_point_options o = {.tolerance = d->tolerance,
                           .ultimate = true,
                           .at = d->at,
                           .n_at = d->n_times,
                           .stop = d->options->stop};
    if (d->axes.walls.n > 0)
        o.wall_scales = rfy_walls_scales(arena, &d->axes.walls, net, u + values);
    rfy_point_run(arena, net, &o, &p);
    d->good[i] = p.status == RFY_OK;
    d->end[i] = p.end;
    for (size_t t = 0; t < d->n_targets; t++)
        d->time[i * d->n_targets + t] = isnan(p.time[t]) ? (double)INFINITY : p.time[t];
    for (size_t c = 0; c < d->n_chambers; c++) {
        d->ultimate[i * d->n_chambers + c] = p.ultimate ? p.ultimate[d->node[c]] : (double)NAN;
        for (size_t k = 0; k < d->n_times; k++)
            d->pressure[(i * d->n_times + k) * d->n_chambers + c] =
                p.curve[k * d->n_targets + (size_t)d->node_target[c]];
    }
}

/* Some samples by one thread, which reads the description once for all of them. */
static void work(void *context, size_t lump) {
    drawing *d = context;
    rfy_variation *variation = rfy_variation_new(d->system, d->path, d->axes.n);
    rfy_arena *arena = rfy_arena_new();
    for (size_t i = lump * LUMP; i < (lump + 1) * LUMP && i < d->n; i++) {
        if (d->options->stop && *d->options->stop)
            break;
        rfy_arena_reset(arena);
        one(d, variation, arena, i);
    }
    rfy_arena_free(arena);
    rfy_variation_free(variation);
}

static void done(void *context, size_t lumps) {
    const drawing *d = context;
    size_t n = lumps * LUMP < d->n ? lumps * LUMP : d->n;
    if (d->options->progress)
        d->options->progress(d->options->context, n, d->n);
}

/* ---- counting ---- */

static int rising(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Of the values of the good samples, `stride` apart; those that are NaN are left out. */
static rfy_quantiles quantiles(drawing *d, const double *value, size_t stride) {
    size_t n = 0;
    for (size_t i = 0; i < d->n; i++)
        if (d->good[i] && !isnan(value[i * stride]))
            d->sorted[n++] = value[i * stride];
    qsort(d->sorted, n, sizeof *d->sorted, rising);
    return (rfy_quantiles){rfy_quantile(d->sorted, n, 0.05), rfy_quantile(d->sorted, n, 0.5),
                           rfy_quantile(d->sorted, n, 0.95)};
}

/* First-order shares of the variance of ln(value); infinite values count as `most`. */
static const double *shares(drawing *d, rfy_arena *arena, const double *value, size_t stride) {
    double *share = RFY_NEW(arena, d->dimensions, double);
    double *x = rfy_xcalloc(d->n, sizeof *x), *y = rfy_xcalloc(d->n, sizeof *y);
    for (size_t k = 0; k < d->dimensions; k++) {
        size_t n = 0;
        for (size_t i = 0; i < d->n; i++) {
            double v = value[i * stride];
            if (!d->good[i] || isnan(v))
                continue;
            v = isinf(v) ? d->end[i] : v;
            x[n] = d->u[i * d->dimensions + k];
            y[n++] = log(v > 1e-300 ? v : 1e-300);
        }
        share[k] = rfy_first_order(x, y, n);
    }
    free(x);
    free(y);
    return share;
}

static void count(drawing *d, rfy_arena *arena, rfy_band *b) {
    size_t n_good = 0, n_tried = 0;
    for (size_t i = 0; i < d->n; i++) {
        n_good += d->good[i];
        n_tried += d->good[i] || d->end[i] > 0;
    }
    b->samples = n_good;
    b->failed = b->whole ? d->n - n_good : n_tried - n_good;
    const rfy_network *net = d->system->network;
    rfy_band_target *target = RFY_NEW(arena, d->n_targets, rfy_band_target);
    for (size_t t = 0; t < d->n_targets; t++) {
        size_t never = 0;
        for (size_t i = 0; i < d->n; i++)
            never += d->good[i] && isinf(d->time[i * d->n_targets + t]);
        target[t] = (rfy_band_target){
            .name = rfy_arena_strdup(arena, net->target[t].name),
            .chamber = rfy_arena_strdup(arena, net->node[net->target[t].node].name),
            .pressure = net->target[t].pressure,
            .time = quantiles(d, d->time + t, d->n_targets),
            .never = n_good ? (double)never / (double)n_good : (double)NAN,
            .share = shares(d, arena, d->time + t, d->n_targets)};
    }
    rfy_band_chamber *chamber = RFY_NEW(arena, d->n_chambers, rfy_band_chamber);
    for (size_t c = 0; c < d->n_chambers; c++) {
        rfy_quantiles *curve = RFY_NEW(arena, d->n_times, rfy_quantiles);
        for (size_t k = 0; k < d->n_times; k++)
            curve[k] =
                quantiles(d, d->pressure + k * d->n_chambers + c, d->n_times * d->n_chambers);
        chamber[c] = (rfy_band_chamber){.name = rfy_arena_strdup(arena, net->node[d->node[c]].name),
                                        .pressure = curve,
                                        .ultimate = quantiles(d, d->ultimate + c, d->n_chambers),
                                        .share = shares(d, arena, d->ultimate + c, d->n_chambers)};
    }
    b->target = target;
    b->n_targets = d->n_targets;
    b->chamber = chamber;
    b->n_chambers = d->n_chambers;
    b->time = d->at;
    b->n_times = d->n_times;
}

/* ---- putting it together ---- */

static void choose_instants(drawing *d, rfy_arena *arena) {
    const double until = d->system->network->until;
    size_t n = d->options->at ? d->options->n_at : USUAL_INSTANTS;
    double *at = RFY_NEW(arena, n, double), first = fmin(1, 1e-4 * until);
    for (size_t k = 0; k < n; k++)
        at[k] = d->options->at ? d->options->at[k]
                               : first * pow(until / first, (double)k / (double)(n - 1));
    if (!d->options->at)
        at[n - 1] = until;
    d->at = at;
    d->n_times = n;
}

static void choose_chambers(drawing *d, rfy_arena *arena) {
    const rfy_network *net = d->system->network;
    d->n_targets = (size_t)net->n_targets;
    d->node = RFY_NEW(arena, d->n_targets, int);
    d->node_target = RFY_NEW(arena, d->n_targets, int);
    for (int t = 0; t < net->n_targets; t++) {
        bool known = false;
        for (size_t c = 0; c < d->n_chambers; c++)
            known = known || d->node[c] == net->target[t].node;
        if (known)
            continue;
        d->node[d->n_chambers] = net->target[t].node;
        d->node_target[d->n_chambers++] = t;
    }
}

static void list_inputs(const drawing *d, rfy_arena *arena, rfy_band *b) {
    rfy_band_input *input = RFY_NEW(arena, d->dimensions, rfy_band_input);
    for (size_t k = 0; k < d->axes.n; k++)
        input[k] = (rfy_band_input){d->axes.item[k].path, false, d->axes.item[k].b};
    for (size_t k = 0; k < d->axes.walls.n; k++)
        input[d->axes.n + k] =
            (rfy_band_input){d->axes.walls.material[k], true, d->axes.walls.spread[k]};
    b->input = input;
    b->n_inputs = d->dimensions;
}

rfy_status rfy_band_find(rfy_band **out, const rfy_system *system,
                         const rfy_band_options *options) {
    rfy_arena *arena = rfy_arena_new();
    box *own = RFY_NEW(arena, 1, box);
    rfy_band *b = &own->band;
    own->arena = arena;
    *out = NULL;
    drawing d = {.system = system,
                 .options = options,
                 .n = options->samples > 0 ? options->samples : USUAL_SAMPLES,
                 .tolerance = options->tolerance > 0 ? options->tolerance : 1e-3};
    rfy_problems *problems = rfy_problems_new("");
    bool sound = rfy_axes_read(&d.axes, arena, system, NULL, 0, d.n, true, problems) &&
                 system->network->n_targets > 0;
    rfy_problems_free(problems);
    if (!sound) {
        rfy_arena_free(arena);
        return RFY_USAGE;
    }
    d.dimensions = rfy_axes_dimensions(&d.axes);
    d.path = RFY_NEW(arena, d.axes.n, const char *);
    for (size_t k = 0; k < d.axes.n; k++)
        d.path[k] = d.axes.item[k].path = rfy_arena_strdup(arena, d.axes.item[k].path);
    choose_instants(&d, arena);
    choose_chambers(&d, arena);
    d.u = rfy_xcalloc(d.n * d.dimensions, sizeof *d.u);
    d.good = rfy_xcalloc(d.n, sizeof *d.good);
    d.time = rfy_xcalloc(d.n * d.n_targets, sizeof *d.time);
    d.end = rfy_xcalloc(d.n, sizeof *d.end);
    d.pressure = rfy_xcalloc(d.n * d.n_times * d.n_chambers, sizeof *d.pressure);
    d.ultimate = rfy_xcalloc(d.n * d.n_chambers, sizeof *d.ultimate);
    d.sorted = rfy_xcalloc(d.n, sizeof *d.sorted);
    draw(&d);
    rfy_jobs_run(options->jobs, (d.n + LUMP - 1) / LUMP, work, done, &d);
    b->whole = !(options->stop && *options->stop);
    list_inputs(&d, arena, b);
    count(&d, arena, b);
    free(d.u);
    free(d.good);
    free(d.time);
    free(d.end);
    free(d.pressure);
    free(d.ultimate);
    free(d.sorted);
    *out = b;
    return b->whole ? RFY_OK : RFY_INTERRUPTED;
}

void rfy_band_free(rfy_band *band) {
    if (band)
        rfy_arena_free(((box *)(void *)band)->arena);
}
