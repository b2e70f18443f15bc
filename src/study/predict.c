#include "study/predict.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "study/answers.h"
#include "study/jobs.h"
#include "network/neighbour.h"
#include "solve/tangent.h"

void rfy_predictor_begin(rfy_predictor *p, rfy_arena *arena, size_t n_workers) {
    p->n_workers = n_workers;
    p->worker = RFY_NEW(arena, n_workers, rfy_variation *);
    for (size_t i = 0; i < n_workers; i++)
        p->worker[i] = rfy_variation_new(p->system, p->path, p->n);
}

void rfy_predictor_end(rfy_predictor *p) {
    for (size_t i = 0; i < p->n_workers; i++)
        rfy_variation_free(p->worker[i]);
    p->n_workers = 0;
}

/* ---- one run ---- */

typedef struct watcher {
    const rfy_network *net;
    const rfy_predictor *p;
    double *pressures, *out;
    const double *at;
    size_t next, n_at;
    /* with derivatives */
    rfy_tangent *tangent; /* NULL = without */
    size_t n_by, every;   /* the middle one of every so many instants has derivatives */
    double *by, *by_node, *by_gauge;
} watcher;

static void on_output(void *context, rfy_sim *sim, double time, const double *y) {
    watcher *w = context;
    const int n = w->net->mixture.n;
    while (w->next < w->n_at && w->at[w->next] < time - 1e-9 * fabs(time))
        w->next++;
    if (w->next >= w->n_at)
        return;
    rfy_pressures(w->net, rfy_sim_temperatures(sim, time), y, w->pressures);
    double sum = 0;
    const double *own = w->pressures + w->p->node * n;
    const rfy_gauge *g = w->p->gauge >= 0 ? &w->net->gauge[w->p->gauge] : NULL;
    for (int i = 0; i < n; i++)
        sum += (g ? g->factor[i] : 1) * (own[i] > 0 ? own[i] : 0);
    if (g && g->lag > 0) {
        double lagging = rfy_sim_reading(sim, w->p->gauge, time, w->pressures);
        sum = lagging > 0 ? lagging : sum; /* a gauge that was logged was on */
    }
    if (w->tangent && w->next % w->every == w->every / 2 && rfy_tangent_is_sound(w->tangent)) {
        rfy_tangent_look(w->tangent, time, y, w->by_node, g ? w->by_gauge : NULL);
        const double *from = g ? w->by_gauge + (size_t)w->p->gauge * w->n_by
                               : w->by_node + (size_t)w->p->node * w->n_by;
        memcpy(w->by + w->next / w->every * w->n_by, from, w->n_by * sizeof *from);
    }
    w->out[w->next++] = sum > 0 ? log(sum) : (double)NAN;
}

/* Derivatives are by networks of which one number is larger by this, as in study/sensitivity.c. */
static const double small_step = 1e-6, smallest_step = 3e-8;

/* Runs one network past the instants of a watcher, with derivatives by n neighbours when there are
 * any. */
static bool run_past(watcher *w, rfy_arena *arena, const rfy_neighbour *neighbour, size_t n) {
    const rfy_predictor *p = w->p;
    const rfy_network *net = w->net;
    rfy_fault *fault = NULL;
    rfy_problems *problems = NULL;
    const rfy_program *program = NULL;
    if (p->fault) {
        rfy_system as = *p->system;
        as.network = net;
        problems = rfy_problems_new("");
        if (rfy_fault_read(&fault, &as, p->fault, problems) == RFY_OK)
            program = &fault->program;
    }
    double last = w->n_at > 0 ? w->at[w->n_at - 1] : 0;
    rfy_sim_options o = {.method = RFY_METHOD_RODAS,
                         .tolerance = p->tolerance,
                         .at = w->at,
                         .n_at = w->n_at,
                         .stop = p->stop,
                         .until = last * (1 + 1e-12),
                         .fault = program ? &program : NULL,
                         .n_faults = program ? 1 : 0};
    rfy_observer observer = {.output = on_output, .context = w};
    rfy_sim *sim = last > 0 && (!p->fault || program) ? rfy_sim_new(net, &o, &observer) : NULL;
    if (sim && neighbour)
        w->tangent = rfy_tangent_new(arena, sim, neighbour, (int)n, false);
    bool good = sim && rfy_sim_run(sim) == RFY_OK;
    good = good && (!w->tangent || rfy_tangent_is_sound(w->tangent));
    rfy_sim_free(sim);
    rfy_fault_free(fault);
    rfy_problems_free(problems);
    return good;
}

typedef struct batch {
    const rfy_predictor *p;
    rfy_prediction *each;
    const double *at;
    size_t n_at;
} batch;

static void one_run(void *context, size_t k) {
    const batch *b = context;
    const rfy_predictor *p = b->p;
    rfy_prediction *out = &b->each[k];
    out->good = false;
    for (size_t i = 0; i < b->n_at; i++)
        out->log_reading[i] = NAN;
    const rfy_network *net = rfy_variation_numbers(p->worker[k], out->value);
    if (!net)
        return;
    rfy_arena *arena = rfy_arena_new();
    double *at = RFY_NEW(arena, b->n_at + 1, double);
    size_t first = 0;
    for (size_t i = 0; i < b->n_at; i++)
        at[i] = b->at[i] + out->offset;
    while (first < b->n_at && at[first] < 0)
        first++;
    watcher w = {.net = net, .p = p, .at = at + first, .n_at = b->n_at - first};
    w.pressures = RFY_NEW(arena, (size_t)(net->n_nodes * net->mixture.n), double);
    w.out = out->log_reading + first;
    out->good = run_past(&w, arena, NULL, 0);
    rfy_arena_free(arena);
}

void rfy_predict(const rfy_predictor *p, rfy_prediction *each, size_t n, const double *at,
                 size_t n_at) {
    batch b = {p, each, at, n_at};
    rfy_jobs_run(0, n, one_run, NULL, &b);
}

/* ---- one run with derivatives ---- */

/* Networks beside `net`, each with one unknown a little larger. */
static const rfy_neighbour *neighbours(const rfy_predictor *p, const rfy_slopes *s,
                                       const rfy_network *net, rfy_arena *arena) {
    rfy_neighbour *list = RFY_NEW(arena, s->n, rfy_neighbour);
    double *value = RFY_NEW(arena, p->n + 1, double);
    for (size_t j = 0; j < s->n; j++)
        for (int k = 0; k < 2; k++) {
            double step = k == 0 ? small_step : smallest_step;
            for (size_t i = 0; i < p->n; i++)
                value[i] = s->value[i] * ((s->of ? s->of[i] : i) == j ? exp(step) : 1);
            const rfy_network *beside = rfy_variation_numbers(p->worker[j + 1], value);
            rfy_neighbour_find(arena, net, beside, step, &list[j]);
            if (list[j].unsuited)
                return NULL;
            if (!list[j].whole)
                break;
        }
    return list;
}

/* The share of its time by which an instant is moved to see how steep the curve is there. */
#define MOVED 0.01

bool rfy_predict_slopes(const rfy_predictor *p, rfy_slopes *s, const double *at, size_t n_at) {
    const rfy_network *net = rfy_variation_numbers(p->worker[0], s->value);
    if (!net || s->n + 1 > p->n_workers || n_at == 0)
        return false;
    rfy_arena *arena = rfy_arena_new();
    const size_t every = s->by_offset ? 3 : 1, middle = every / 2;
    double *when = RFY_NEW(arena, every * n_at, double),
           *shown = RFY_NEW(arena, every * n_at, double);
    double *by = RFY_NEW(arena, n_at * s->n + 1, double);
    size_t first = 0;
    while (first < n_at && at[first] + s->offset < 0)
        first++;
    const size_t n = n_at - first;
    for (size_t i = 0; i < every * n; i++) {
        const size_t own = first + i / every;
        double t = at[own] + s->offset, away = MOVED * fmax(t, 0.1);
        if (i % every < middle) /* not before the one before, nor before the run */
            when[i] = t - fmin(away, 0.4 * (own > first ? at[own] - at[own - 1] : t));
        else if (i % every > middle)
            when[i] = t + fmin(away, own + 1 < n_at ? 0.4 * (at[own + 1] - at[own]) : away);
        else
            when[i] = t;
        shown[i] = NAN;
    }
    for (size_t i = 0; i < n * s->n; i++)
        by[i] = NAN;
    watcher w = {.net = net, .p = p, .at = when, .n_at = every * n, .every = every, .n_by = s->n};
    w.pressures = RFY_NEW(arena, (size_t)(net->n_nodes * net->mixture.n), double);
    w.out = shown;
    w.by = by;
    w.by_node = RFY_NEW(arena, (size_t)net->n_free * s->n + 1, double);
    w.by_gauge = RFY_NEW(arena, (size_t)net->n_gauges * s->n + 1, double);
    const rfy_neighbour *beside = neighbours(p, s, net, arena);
    bool good = beside && run_past(&w, arena, s->n > 0 ? beside : NULL, s->n);
    for (size_t i = 0; i < n_at && good; i++) {
        const double *value = i < first ? NULL : shown + every * (i - first);
        s->log_reading[i] = value ? value[middle] : (double)NAN;
        for (size_t j = 0; j < s->n; j++) {
            double d = value ? by[(i - first) * s->n + j] : 0;
            good = good && (isfinite(d) || isnan(s->log_reading[i]));
            s->by[i * s->n + j] = isfinite(d) ? d : 0;
        }
        if (s->by_offset) {
            const double *t = when + every * (i - first);
            double d = value ? (value[2] - value[0]) / (t[2] - t[0]) : 0;
            s->by_offset[i] = isfinite(d) ? d : 0;
        }
    }
    rfy_arena_free(arena);
    return good;
}

/* ---- beginnings ---- */

bool rfy_predict_start(const rfy_system *system, const char *path, rfy_varied *out,
                       rfy_problems *problems) {
    size_t length = strlen(path);
    if (length < 7 || strcmp(path + length - 6, "/scale") != 0)
        return rfy_variation_given(system, path, out, problems);
    rfy_problems *ignored = rfy_problems_new("");
    bool given = rfy_variation_given(system, path, out, ignored);
    rfy_problems_free(ignored);
    if (given)
        return true;
    static const char *const one = "1";
    rfy_variation *v = rfy_variation_new(system, &path, 1);
    given = rfy_variation_network(v, &one) && rfy_variation_at(v, 0, out);
    const rfy_problems *why = rfy_variation_problems(v);
    if (!given) {
        rfy_place at = {0, 1, path};
        rfy_problem_add(problems, RFY_ERROR, &at, why->n > 0 ? why->item[0].allowed : NULL,
                        why->n > 0 ? why->item[0].hint : NULL, "%s",
                        why->n > 0 ? why->item[0].what : "there is no such value");
    }
    rfy_variation_free(v);
    return given;
}

/* "port/walls/0/scale": the wall, or NULL. */
static const rfy_wall_desc *wall_of(const rfy_system *system, const char *path) {
    const rfy_description *d = system->description;
    const char *walls = strstr(path, "/walls/");
    if (!walls)
        return NULL;
    const rfy_chamber_desc *chamber = d->chambers.item;
    for (size_t i = 0; i < d->chambers.n; i++, chamber++) {
        size_t n = strlen(chamber->name);
        if (n != (size_t)(walls - path) || strncmp(chamber->name, path, n) != 0)
            continue;
        const char *which = walls + 7, *end = strchr(which, '/');
        const rfy_wall_desc *wall = chamber->walls.item;
        for (size_t k = 0; k < chamber->walls.n && end; k++, wall++) {
            char *rest;
            bool by_place = strtoul(which, &rest, 10) == k && rest == end;
            size_t length = (size_t)(end - which);
            if (by_place || (wall->name && strlen(wall->name) == length &&
                             strncmp(wall->name, which, length) == 0))
                return wall;
        }
    }
    return NULL;
}

double rfy_predict_spread(const rfy_system *system, const char *path) {
    const rfy_spreads *given = &system->description->spreads;
    for (size_t i = 0; i < given->n; i++)
        if (strcmp(given->item[i].path, path) == 0)
            return given->item[i].factor;
    size_t length = strlen(path);
    const rfy_wall_desc *wall =
        length > 6 && strcmp(path + length - 6, "/scale") == 0 ? wall_of(system, path) : NULL;
    const rfy_material *row =
        wall && wall->material && isnan(wall->rate)
            ? rfy_material_find(system->catalog, wall->material, wall->condition)
            : NULL;
    return row && row->spread > 1 ? row->spread : (double)NAN;
}
