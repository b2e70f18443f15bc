/* The usual suspects, one at a time and in pairs, ranked by their evidence in a measured curve. */
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/problem.h"
#include "core/text.h"
#include "study/least_squares.h"
#include "study/log_points.h"

enum { MOST_POINTS = 120, MOST_SUSPECTS = 64, MOST_PATHS = 32, MOST_NUMBERS = 6, POLISHED = 8 };

/* A single suspect: numbers of the description that move, from where, how far beforehand. */
typedef struct suspect {
    rfy_suspect_kind kind, also;
    const char *what; /* printed with the value: "leak at vessel of %s" */
    const char *setting_path[2],
        *setting_value[2]; /* added to the description first; NULL = none */
    size_t n_settings;
    size_t n_numbers, n_paths;
    rfy_unknown number[MOST_NUMBERS];
    rfy_dim dim[MOST_NUMBERS];
    const char *path[MOST_PATHS];
    size_t of[MOST_PATHS];
    double base[MOST_PATHS];
    double grid_low[MOST_NUMBERS], grid_high[MOST_NUMBERS]; /* where to look for a beginning */
    double loss;
    /* found */
    bool solved;
    double log_evidence, scatter;
    const double *curve;
    double x[MOST_NUMBERS];
} suspect;

typedef struct diagnosing {
    rfy_arena *arena;
    const rfy_system *system;
    const rfy_diagnose_options *options;
    rfy_log_points points;
    suspect *item;
    size_t n;
    int runs;
    bool by_clock; /* the log's times are those of a clock */
} diagnosing;

/* ---- who is suspected ---- */

static suspect *add(diagnosing *d, rfy_suspect_kind kind, const char *what) {
    if (d->n == MOST_SUSPECTS)
        return NULL;
    suspect *s = &d->item[d->n++];
    *s = (suspect){.kind = kind, .what = what, .loss = INFINITY};
    return s;
}

/* A number that starts at `centre`, is known beforehand within exp(sd), and looked for from low to
 * high. */
static size_t number(suspect *s, const char *path, rfy_dim dim, double centre, double sd,
                     double low, double high) {
    size_t i = s->n_numbers++;
    s->number[i] = (rfy_unknown){
        .path = path, .start = centre, .centre = centre, .prior = sd, .least = low, .most = high};
    s->dim[i] = dim;
    s->grid_low[i] = low;
    s->grid_high[i] = high;
    return i;
}

static void follow(suspect *s, size_t of, const char *path, double base) {
    if (s->n_paths == MOST_PATHS)
        return;
    s->path[s->n_paths] = path;
    s->of[s->n_paths] = of;
    s->base[s->n_paths++] = base;
}

/* The clock of a log does not say when the run began: that goes along with every suspect. */
static void free_start(const diagnosing *d, suspect *s) {
    if (!d->by_clock || s->n_numbers == MOST_NUMBERS)
        return;
    double span = d->points.t[d->points.n - 1];
    size_t i = s->n_numbers++;
    s->number[i] =
        (rfy_unknown){.prior = fmax(5, 0.01 * span), .least = -0.3 * span, .most = 0.3 * span};
}

/* Leaks: on a log scale from what never matters to what no pump would master. Beforehand a factor
 * of 20 either way about 1e-5 Pa m3/s counts as usual (common practice, no source). */
static void suspect_leaks(diagnosing *d) {
    const rfy_chamber_desc *c = d->system->description->chambers.item;
    for (size_t i = 0; i < d->system->description->chambers.n; i++, c++) {
        if (c->reservoir.given)
            continue;
        suspect *s = add(d, RFY_SUSPECT_LEAK, rfy_arena_printf(d->arena, "leak at %s", c->name));
        if (!s)
            return;
        if (c->leaks.n == 0) {
            s->setting_path[0] = rfy_arena_printf(d->arena, "%s/leaks", c->name);
            s->setting_value[0] = "[{\"rate\": \"1e-12 Pa m3/s\"}]";
            s->n_settings = 1;
        }
        const char *path = rfy_arena_printf(d->arena, "%s/leaks/0/rate", c->name);
        follow(s, number(s, path, RFY_DIM_THROUGHPUT, 1e-5, 3, 1e-9, 1), path, 1e-5);
    }
}

/* All walls together: one gauge does not tell whose they are. */
static void suspect_walls(diagnosing *d) {
    suspect *s = add(d, RFY_SUSPECT_WALLS, "walls give off");
    const rfy_chamber_desc *c = d->system->description->chambers.item;
    size_t one = 0;
    for (size_t i = 0; s && i < d->system->description->chambers.n; i++, c++) {
        const rfy_wall_desc *wall = c->walls.item;
        for (size_t k = 0; k < c->walls.n; k++) {
            const char *path = rfy_arena_printf(d->arena, "%s/walls/%zu/scale", c->name, k);
            if (s->n_numbers == 0)
                one = number(s, path, RFY_DIM_NONE, 1, 1.2, 0.02, 500);
            follow(s, one, path, isnan(wall[k].scale) ? 1 : wall[k].scale);
        }
    }
    if (s && s->n_numbers == 0)
        d->n--;
}

static void suspect_pocket(diagnosing *d) {
    const rfy_chamber_desc *c = d->system->description->chambers.item;
    const char *at = d->system->network->node[d->points.node].name;
    for (size_t i = 0; i < d->system->description->chambers.n; i++, c++) {
        if (strcmp(c->name, at) != 0 || c->trapped.n > 0 || c->reservoir.given)
            continue;
        suspect *s =
            add(d, RFY_SUSPECT_TRAPPED, rfy_arena_printf(d->arena, "trapped volume at %s", at));
        if (!s)
            return;
        s->setting_path[0] = rfy_arena_printf(d->arena, "%s/trapped", c->name);
        s->setting_value[0] = "[{\"volume\": \"0.1 cm3\", \"conductance\": \"1e-6 L/s\"}]";
        s->n_settings = 1;
        const char *volume = rfy_arena_printf(d->arena, "%s/trapped/0/volume", c->name);
        const char *passage = rfy_arena_printf(d->arena, "%s/trapped/0/conductance", c->name);
        follow(s, number(s, volume, RFY_DIM_VOLUME, 1e-6, 2, 1e-9, 1e-4), volume, 1e-6);
        follow(s, number(s, passage, RFY_DIM_FLOW, 1e-8, 3, 1e-12, 1e-5), passage, 1e-8);
    }
}

static void suspect_pumps(diagnosing *d) {
    const rfy_network *net = d->system->network;
    const rfy_pump_desc *pumps = d->system->description->pumps.item;
    for (size_t i = 0; i < d->system->description->pumps.n; i++) {
        const char *name = pumps[i].name;
        double now = isnan(pumps[i].scale) ? 1 : pumps[i].scale;
        suspect *s = add(d, RFY_SUSPECT_PUMP, rfy_arena_printf(d->arena, "%s pumps", name));
        if (!s)
            return;
        const char *path = rfy_arena_printf(d->arena, "%s/scale", name);
        follow(s, number(s, path, RFY_DIM_NONE, now, 0.7, 0.02 * now, now), path, now);
        /* its ultimate pressure, where it has one */
        path = rfy_arena_printf(d->arena, "%s/ultimate", name);
        rfy_varied what;
        rfy_problems *ignored = rfy_problems_new("");
        bool has = rfy_predict_start(d->system, path, &what, ignored) && what.value > 0 &&
                   what.dim == RFY_DIM_PRESSURE;
        rfy_problems_free(ignored);
        s = has ? add(d, RFY_SUSPECT_PUMP, rfy_arena_printf(d->arena, "%s comes down to", name))
                : NULL;
        if (s)
            follow(s,
                   number(s, path, RFY_DIM_PRESSURE, what.value, 1.5, what.value, 1e4 * what.value),
                   path, what.value);
    }
    (void)net;
}

static void suspect_lines(diagnosing *d) {
    const rfy_line_desc *lines = d->system->description->lines.item;
    for (size_t i = 0; i < d->system->description->lines.n; i++) {
        double now = isnan(lines[i].scale) ? 1 : lines[i].scale;
        suspect *s = add(d, RFY_SUSPECT_BLOCKED,
                         rfy_arena_printf(d->arena, "%s lets through", lines[i].name));
        if (!s)
            return;
        const char *path = rfy_arena_printf(d->arena, "%s/scale", lines[i].name);
        follow(s, number(s, path, RFY_DIM_NONE, now, 1.5, 1e-3 * now, now), path, now);
    }
}

static void suspect_gauge(diagnosing *d) {
    if (d->points.gauge < 0)
        return;
    const rfy_gauge_desc *gauges = d->system->description->gauges.item;
    const char *name = d->system->network->gauge[d->points.gauge].name;
    double now = 1;
    for (size_t i = 0; i < d->system->description->gauges.n; i++)
        if (strcmp(gauges[i].name, name) == 0 && !isnan(gauges[i].scale))
            now = gauges[i].scale;
    suspect *s = add(d, RFY_SUSPECT_GAUGE, rfy_arena_printf(d->arena, "%s shows", name));
    if (!s)
        return;
    const char *path = rfy_arena_printf(d->arena, "%s/scale", name);
    follow(s, number(s, path, RFY_DIM_NONE, now, 0.7, 0.03 * now, 30 * now), path, now);
}

/* ---- one hypothesis ---- */

static rfy_system *system_with(diagnosing *d, const suspect *s) {
    const rfy_system *from = d->system;
    rfy_setting *setting = RFY_NEW(d->arena, from->n_settings + s->n_settings, rfy_setting);
    size_t n = from->n_settings;
    for (size_t i = 0; i < n; i++)
        setting[i] = from->setting[i];
    for (size_t i = 0; i < s->n_settings; i++)
        setting[n++] = (rfy_setting){s->setting_path[i], s->setting_value[i]};
    rfy_problems *ignored = rfy_problems_new("");
    rfy_system *system = NULL;
    rfy_system_read(&system, from->text, from->length, setting, n, ignored);
    rfy_problems_free(ignored);
    return system;
}

static void prepare(diagnosing *d, const suspect *s, const rfy_system *system, rfy_arena *arena,
                    rfy_predictor *p, rfy_squares *q) {
    *p = (rfy_predictor){.system = system,
                         .n = s->n_paths,
                         .path = s->path,
                         .gauge = d->points.gauge,
                         .node = d->points.node,
                         .tolerance = 3e-4,
                         .stop = d->options->stop};
    *q = (rfy_squares){.predictor = p,
                       .n_unknowns = s->n_numbers,
                       .unknown = s->number,
                       .of = s->of,
                       .base = s->base,
                       .n = d->points.n,
                       .t = d->points.t,
                       .y = d->points.y,
                       .most_rounds = 10};
    rfy_predictor_begin(p, arena, 25);
}

/* Where on a grid the curve comes nearest to the readings. */
static void look_around(diagnosing *d, suspect *s, rfy_squares *q, rfy_arena *arena) {
    enum { ALONE = 13, TOGETHER = 5 };
    const size_t k = s->n_numbers;
    size_t all = 1, of_paths = 0;
    for (size_t j = 0; j < k; j++)
        of_paths += s->number[j].path != NULL;
    const size_t each = of_paths == 1 ? ALONE : TOGETHER;
    for (size_t j = 0; j < of_paths; j++)
        all *= each;
    double **x = RFY_NEW(arena, all, double *), *loss = RFY_NEW(arena, all, double);
    for (size_t i = 0; i < all; i++) {
        x[i] = RFY_NEW(arena, k, double);
        for (size_t j = 0, rest = i; j < k && s->number[j].path; j++, rest /= each) {
            double part = ((double)(rest % each) + 0.5) / (double)each;
            x[i][j] = log(s->grid_low[j]) * (1 - part) + log(s->grid_high[j]) * part;
        }
    }
    for (size_t from = 0; from < all; from += 25)
        rfy_squares_try(q, arena, x + from, all - from < 25 ? all - from : 25, loss + from);
    d->runs += (int)all;
    for (size_t i = 0; i < all; i++)
        if (loss[i] < s->loss) {
            s->loss = loss[i];
            memcpy(s->x, x[i], k * sizeof(double));
        }
}

/* Laplace's approximation to ln of the evidence (MacKay 1992, Neural Comput. 4, 415), the scatter
 * marginalised with its scale-free prior: -n/2 ln(RSS), the prior at the best values, and the share
 * of the prior's volume that the readings leave. */
static double evidence_of(const rfy_squares *q) {
    const size_t k = q->n_unknowns;
    double rss = q->scatter * q->scatter * q->freedom, value = 0;
    double n = (double)q->n_used;
    value = -0.5 * n * log(fmax(rss / n, 1e-8)) - 0.5 * q->prior_chi2;
    if (k > 0) {
        gsl_matrix *c = gsl_matrix_alloc(k, k);
        for (size_t i = 0; i < k * k; i++)
            gsl_matrix_set(c, i / k, i % k, q->covariance[i]);
        if (gsl_linalg_cholesky_decomp1(c) == GSL_SUCCESS)
            for (size_t i = 0; i < k; i++)
                value += log(gsl_matrix_get(c, i, i)) - log(q->unknown[i].prior);
        gsl_matrix_free(c);
    }
    return value;
}

static void keep_curve(diagnosing *d, suspect *s, const double *model) {
    double *curve = RFY_NEW(d->arena, d->points.n, double);
    for (size_t i = 0; i < d->points.n; i++)
        curve[i] = exp(model[i]);
    s->curve = curve;
}

/* Every reading counts for every hypothesis: outliers of one may be the fault of another. */
static void weigh(diagnosing *d, suspect *s, rfy_squares *q) {
    double sum = 0, n = (double)d->points.n, c = 4.5;
    double scale = fmax(isnan(d->points.noise) ? 0.05 : d->points.noise, 5e-3);
    for (size_t i = 0; i < d->points.n; i++) {
        double z = (q->y[i] - q->model[i]) / scale;
        double soft = q->soft ? fmax(q->soft[i], 0.02) : 1;
        z = isnan(z) ? c : z;
        sum += soft * c * c * log1p(z * z / (c * c));
    }
    s->scatter = scale * sqrt(sum / n);
    q->n_used = d->points.n;
    q->freedom = n;
    q->scatter = s->scatter;
    s->log_evidence = evidence_of(q);
    s->solved = isfinite(s->log_evidence);
    keep_curve(d, s, q->model);
}

static void solve(diagnosing *d, suspect *s) {
    rfy_system *own = s->n_settings > 0 ? system_with(d, s) : NULL;
    const rfy_system *system = s->n_settings > 0 ? own : d->system;
    rfy_arena *arena = rfy_arena_new();
    rfy_predictor p;
    rfy_squares q;
    if (system) {
        rfy_unknown begin[MOST_NUMBERS];
        double base[MOST_PATHS];
        prepare(d, s, system, arena, &p, &q);
        memcpy(begin, s->number, sizeof begin);
        memcpy(base, s->base, sizeof base);
        for (size_t j = 0; j < s->n_numbers; j++)
            begin[j].start = begin[j].path ? exp(s->x[j]) : s->x[j];
        for (size_t i = 0; i < s->n_paths; i++)
            base[i] = s->base[i] * begin[s->of[i]].start / s->number[s->of[i]].start;
        q.unknown = begin;
        q.base = base;
        rfy_squares_solve(&q, arena);
        d->runs += q.runs;
        if (q.good) {
            memcpy(s->x, q.x, s->n_numbers * sizeof(double));
            weigh(d, s, &q);
        }
        rfy_predictor_end(&p);
    }
    rfy_arena_free(arena);
    rfy_system_free(own);
}

static void look(diagnosing *d, suspect *s) {
    rfy_system *own = s->n_settings > 0 ? system_with(d, s) : NULL;
    const rfy_system *system = s->n_settings > 0 ? own : d->system;
    rfy_arena *arena = rfy_arena_new();
    rfy_predictor p;
    rfy_squares q;
    if (system) {
        prepare(d, s, system, arena, &p, &q);
        look_around(d, s, &q, arena);
        rfy_predictor_end(&p);
    }
    rfy_arena_free(arena);
    rfy_system_free(own);
}

/* The description as it is. */
static void solve_none(diagnosing *d, suspect *s) {
    rfy_arena *arena = rfy_arena_new();
    rfy_predictor p;
    rfy_squares q;
    prepare(d, s, d->system, arena, &p, &q);
    double *model = RFY_NEW(arena, d->points.n, double), value = 0;
    rfy_prediction one = {.value = &value, .log_reading = model};
    rfy_predict(&p, &one, 1, d->points.t, d->points.n);
    q.model = model;
    double *none = NULL;
    double loss;
    rfy_squares_try(&q, arena, &none, 1, &loss); /* sets what readings count less */
    if (one.good)
        weigh(d, s, &q);
    d->runs += 2;
    rfy_predictor_end(&p);
    rfy_arena_free(arena);
}

static void pair(diagnosing *d, const suspect *a, const suspect *b) {
    if (a->n_numbers + b->n_numbers > MOST_NUMBERS + (size_t)d->by_clock ||
        a->n_paths + b->n_paths > MOST_PATHS || a->n_numbers == 0 || b->n_numbers == 0 ||
        strcmp(a->path[0], b->path[0]) == 0)
        return;
    suspect *s = add(d, a->kind, NULL);
    if (!s)
        return;
    const suspect *both[2] = {a, b};
    s->also = b->kind;
    s->what = NULL;
    for (int which = 0; which < 2; which++) {
        const suspect *one = both[which];
        size_t shift = s->n_numbers;
        for (size_t i = 0; i < one->n_settings; i++) {
            s->setting_path[s->n_settings] = one->setting_path[i];
            s->setting_value[s->n_settings++] = one->setting_value[i];
        }
        for (size_t j = 0; j < one->n_numbers && one->number[j].path; j++) {
            s->number[s->n_numbers] = one->number[j];
            s->dim[s->n_numbers] = one->dim[j];
            s->x[s->n_numbers++] = one->x[j];
        }
        for (size_t i = 0; i < one->n_paths; i++)
            follow(s, one->of[i] + shift, one->path[i], one->base[i]);
    }
    free_start(d, s);
    solve(d, s);
}

/* ---- words ---- */

static const char *value_text(diagnosing *d, const suspect *s, size_t j) {
    char text[64], plain[32];
    double value = exp(s->x[j]);
    rfy_format_number(plain, value, 2);
    if (s->dim[j] == RFY_DIM_NONE)
        return rfy_arena_strdup(d->arena, plain);
    return rfy_arena_strdup(d->arena,
                            rfy_format_quantity(text, sizeof text, s->dim[j], strtod(plain, NULL)));
}

static const char *name_single(diagnosing *d, const suspect *s, const char *what,
                               rfy_suspect_kind kind, size_t from) {
    const char *v = value_text(d, s, from);
    switch (kind) {
    case RFY_SUSPECT_LEAK:
        return rfy_arena_printf(d->arena, "%s of %s", what, v);
    case RFY_SUSPECT_TRAPPED:
        return rfy_arena_printf(d->arena, "%s of %s behind %s", what, v,
                                value_text(d, s, from + 1));
    case RFY_SUSPECT_WALLS:
        return rfy_arena_printf(d->arena, "%s %s times what is described", what, v);
    case RFY_SUSPECT_PUMP:
        return s->dim[from] == RFY_DIM_NONE
                   ? rfy_arena_printf(d->arena, "%s at %s of its speed (worn pump)", what, v)
                   : rfy_arena_printf(d->arena, "%s %s only (worn pump)", what, v);
    case RFY_SUSPECT_BLOCKED:
        return rfy_arena_printf(d->arena, "%s %s of what it should (blocked, or a valve not open)",
                                what, v);
    case RFY_SUSPECT_GAUGE:
        return rfy_arena_printf(d->arena, "%s %s times the pressure", what, v);
    case RFY_SUSPECT_NONE:
        break;
    }
    return "nothing: the description as it is";
}

/* The single suspect that a pair's numbers beginning at `from` belong to. */
static const suspect *single_of(const diagnosing *d, const suspect *s, size_t from) {
    for (size_t i = 0; i < d->n; i++)
        if (d->item[i].what && d->item[i].n_numbers > 0 && s->number[from].path &&
            strcmp(d->item[i].number[0].path, s->number[from].path) == 0)
            return &d->item[i];
    return NULL;
}

static const char *name_of(diagnosing *d, const suspect *s) {
    if (s->kind == RFY_SUSPECT_NONE || s->what)
        return name_single(d, s, s->what, s->kind, 0);
    const suspect *a = single_of(d, s, 0);
    size_t own = 0;
    while (a && own < a->n_numbers && a->number[own].path)
        own++;
    const suspect *b = a ? single_of(d, s, own) : NULL;
    if (!a || !b)
        return "two of these together";
    return rfy_arena_printf(d->arena, "%s, and %s", name_single(d, s, a->what, s->kind, 0),
                            name_single(d, s, b->what, s->also, own));
}

/* ---- the answer ---- */

typedef struct diagnosis_box {
    rfy_diagnosis diagnosis; /* first: a pointer to it is a pointer to the box */
    rfy_arena *arena;
} diagnosis_box;

static int by_evidence(const void *a, const void *b) {
    const rfy_suspect *x = a, *y = b;
    return (x->log_evidence < y->log_evidence) - (x->log_evidence > y->log_evidence);
}

static void when_it_shows(const diagnosing *d, const double *expected, rfy_suspect *s) {
    s->from = s->most_at = NAN;
    s->most = 1;
    for (size_t i = 0; i < d->points.n; i++) {
        double by = log(s->curve[i] / expected[i]);
        if (isnan(by))
            continue;
        if (fabs(by) > log(1.2) && isnan(s->from))
            s->from = d->points.t[i];
        if (fabs(by) > fabs(log(s->most))) {
            s->most = exp(by);
            s->most_at = d->points.t[i];
        }
    }
}

static void fill(diagnosing *d, rfy_diagnosis *out) {
    rfy_suspect *list = RFY_NEW(d->arena, d->n, rfy_suspect);
    double *time = RFY_NEW(d->arena, d->points.n, double);
    double *measured = RFY_NEW(d->arena, d->points.n, double);
    for (size_t i = 0; i < d->points.n; i++) {
        time[i] = d->points.t[i];
        measured[i] = exp(d->points.y[i]);
    }
    out->time = time;
    out->measured = measured;
    out->n_points = d->points.n;
    out->n_beyond = d->points.n_beyond;
    out->noise = d->points.noise;
    out->expected = d->item[0].curve;
    for (size_t i = 0; i < d->n; i++) {
        suspect *s = &d->item[i];
        if (!s->solved)
            continue;
        rfy_suspect *r = &list[out->n++];
        *r = (rfy_suspect){.kind = s->kind,
                           .also = s->also,
                           .name = name_of(d, s),
                           .log_evidence = s->log_evidence,
                           .scatter = s->scatter,
                           .curve = s->curve};
        if (out->expected)
            when_it_shows(d, out->expected, r);
    }
    qsort(list, out->n, sizeof *list, by_evidence);
    /* Kass and Raftery 1995: below 1 in ln a difference is not worth more than a bare mention. A
     * fault too small to show then comes behind none at all. */
    for (size_t i = 1; i < out->n; i++) {
        rfy_suspect none = list[i];
        if (none.kind != RFY_SUSPECT_NONE || none.log_evidence < list[0].log_evidence - 1)
            continue;
        memmove(list + 1, list, i * sizeof *list);
        list[0] = none;
    }
    double sum = 0, first = 0, best = out->n > 0 ? list[0].log_evidence : 0;
    for (size_t i = 0; i < out->n; i++) {
        list[i].log_evidence = fmin(0, list[i].log_evidence - best);
        list[i].weight = exp(list[i].log_evidence);
        sum += list[i].weight;
    }
    for (size_t i = 0; i < out->n; i++) {
        list[i].weight /= sum;
        if (list[i].kind == list[0].kind && list[i].also == list[0].also)
            first += list[i].weight;
    }
    out->suspect = list;
    out->clear = first > 0.9;
    out->runs = d->runs;
}

static int by_loss(const void *a, const void *b) {
    const suspect *x = *(suspect *const *)a, *y = *(suspect *const *)b;
    return (x->loss > y->loss) - (x->loss < y->loss);
}

static int by_own_evidence(const void *a, const void *b) {
    const suspect *x = *(suspect *const *)a, *y = *(suspect *const *)b;
    return (x->log_evidence < y->log_evidence) - (x->log_evidence > y->log_evidence);
}

static bool stopped(const diagnosing *d) {
    return d->options->stop && *d->options->stop;
}

static void investigate(diagnosing *d) {
    suspect *none = add(d, RFY_SUSPECT_NONE, NULL), *order[MOST_SUSPECTS];
    free_start(d, none);
    if (none->n_numbers > 0)
        solve(d, none);
    else
        solve_none(d, none);
    suspect_leaks(d);
    suspect_walls(d);
    suspect_pocket(d);
    suspect_pumps(d);
    suspect_lines(d);
    suspect_gauge(d);
    size_t n = 0;
    for (size_t i = 1; i < d->n && !stopped(d); i++) {
        free_start(d, &d->item[i]);
        look(d, &d->item[i]);
        order[n++] = &d->item[i];
    }
    qsort(order, n, sizeof *order, by_loss);
    for (size_t i = 0; i < n && i < POLISHED && !stopped(d); i++)
        solve(d, order[i]);
    /* each of the two best with every other, where one alone does not follow the readings */
    suspect *solved[POLISHED];
    size_t n_solved = 0;
    double least = none->scatter;
    for (size_t i = 0; i < n && i < POLISHED; i++)
        if (order[i]->solved) {
            solved[n_solved++] = order[i];
            least = fmin(least, order[i]->scatter);
        }
    qsort(solved, n_solved, sizeof *solved, by_own_evidence);
    double noise = isnan(d->points.noise) ? 0.05 : fmax(d->points.noise, 0.01);
    if (least < 1.3 * noise)
        return;
    for (size_t a = 0; a < 2 && a < n_solved; a++)
        for (size_t b = a + 1; b < n_solved && !stopped(d); b++)
            pair(d, solved[a], solved[b]);
}

rfy_status rfy_diagnose(rfy_diagnosis **out_box, const rfy_system *system, const rfy_log *log,
                        const rfy_diagnose_options *options, rfy_problems *problems) {
    rfy_arena *arena = rfy_arena_new();
    diagnosis_box *box = RFY_NEW(arena, 1, diagnosis_box);
    rfy_diagnosis *out = &box->diagnosis;
    diagnosing *d = RFY_NEW(arena, 1, diagnosing);
    *out_box = NULL;
    box->arena = arena;
    *d = (diagnosing){.arena = arena, .system = system, .options = options};
    d->item = RFY_NEW(arena, MOST_SUSPECTS, suspect);
    out->title = rfy_arena_strdup(arena, rfy_system_title(system));
    out->log = log;
    if (!rfy_log_points_take(&d->points, arena, system->network, log, options->gauge, MOST_POINTS,
                             problems)) {
        rfy_arena_free(arena);
        return RFY_BAD_INPUT;
    }
    out->gauge = d->points.name;
    d->by_clock = log->clock;
    investigate(d);
    fill(d, out);
    if (stopped(d) || out->n == 0) {
        rfy_status status = stopped(d) ? RFY_INTERRUPTED : RFY_RUN_FAILED;
        rfy_place at = {0, 0, ""};
        rfy_problem_add(problems, RFY_ERROR, &at, NULL, NULL, "%s",
                        stopped(d) ? "interrupted" : "no run came to the end of the log");
        rfy_arena_free(arena);
        return status;
    }
    *out_box = out;
    return RFY_OK;
}

void rfy_diagnosis_free(rfy_diagnosis *diagnosis) {
    if (diagnosis)
        rfy_arena_free(((diagnosis_box *)diagnosis)->arena);
}
