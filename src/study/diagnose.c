/* The usual suspects, one at a time and in pairs, ranked by their evidence in a measured curve. */
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/problem.h"
#include "core/text.h"
#include "study/suspects.h"

enum { MOST_POINTS = 120, POLISHED = 8 };

/* ---- one hypothesis ---- */

static rfy_system *system_with(rfy_diagnosing *d, const rfy_suspected *s) {
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

static void prepare(rfy_diagnosing *d, const rfy_suspected *s, const rfy_system *system,
                    rfy_arena *arena, rfy_predictor *p, rfy_squares *q) {
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
static void look_around(rfy_diagnosing *d, rfy_suspected *s, rfy_squares *q, rfy_arena *arena) {
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

static void keep_curve(rfy_diagnosing *d, rfy_suspected *s, const double *model) {
    double *curve = RFY_NEW(d->arena, d->points.n, double);
    for (size_t i = 0; i < d->points.n; i++)
        curve[i] = exp(model[i]);
    s->curve = curve;
}

/* Every reading counts for every hypothesis: outliers of one may be the fault of another. */
static void weigh(rfy_diagnosing *d, rfy_suspected *s, rfy_squares *q) {
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

static void solve(rfy_diagnosing *d, rfy_suspected *s) {
    rfy_system *own = s->n_settings > 0 ? system_with(d, s) : NULL;
    const rfy_system *system = s->n_settings > 0 ? own : d->system;
    rfy_arena *arena = rfy_arena_new();
    rfy_predictor p;
    rfy_squares q;
    if (system) {
        rfy_unknown begin[RFY_SUSPECT_NUMBERS];
        double base[RFY_SUSPECT_PATHS];
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

static void look(rfy_diagnosing *d, rfy_suspected *s) {
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
static void solve_none(rfy_diagnosing *d, rfy_suspected *s) {
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

static void pair(rfy_diagnosing *d, const rfy_suspected *a, const rfy_suspected *b) {
    if (a->n_numbers + b->n_numbers > RFY_SUSPECT_NUMBERS + (size_t)d->by_clock ||
        a->n_paths + b->n_paths > RFY_SUSPECT_PATHS || a->n_numbers == 0 || b->n_numbers == 0 ||
        strcmp(a->path[0], b->path[0]) == 0)
        return;
    rfy_suspected *s = rfy_suspect_add(d, a->kind, NULL);
    if (!s)
        return;
    const rfy_suspected *both[2] = {a, b};
    s->also = b->kind;
    s->what = NULL;
    for (int which = 0; which < 2; which++) {
        const rfy_suspected *one = both[which];
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
            rfy_suspect_follow(s, one->of[i] + shift, one->path[i], one->base[i]);
    }
    rfy_suspect_start(d, s);
    solve(d, s);
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

static void when_it_shows(const rfy_diagnosing *d, const double *expected, rfy_suspect *s) {
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

static void fill(rfy_diagnosing *d, rfy_diagnosis *out) {
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
        rfy_suspected *s = &d->item[i];
        if (!s->solved)
            continue;
        rfy_suspect *r = &list[out->n++];
        *r = (rfy_suspect){.kind = s->kind,
                           .also = s->also,
                           .name = rfy_suspect_name(d, s),
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
    const rfy_suspected *x = *(rfy_suspected *const *)a, *y = *(rfy_suspected *const *)b;
    return (x->loss > y->loss) - (x->loss < y->loss);
}

static int by_own_evidence(const void *a, const void *b) {
    const rfy_suspected *x = *(rfy_suspected *const *)a, *y = *(rfy_suspected *const *)b;
    return (x->log_evidence < y->log_evidence) - (x->log_evidence > y->log_evidence);
}

static bool stopped(const rfy_diagnosing *d) {
    return d->options->stop && *d->options->stop;
}

static void investigate(rfy_diagnosing *d) {
    rfy_suspected *none = rfy_suspect_add(d, RFY_SUSPECT_NONE, NULL), *order[RFY_MOST_SUSPECTS];
    rfy_suspect_start(d, none);
    if (none->n_numbers > 0)
        solve(d, none);
    else
        solve_none(d, none);
    rfy_suspects_list(d);
    size_t n = 0;
    for (size_t i = 1; i < d->n && !stopped(d); i++) {
        rfy_suspect_start(d, &d->item[i]);
        look(d, &d->item[i]);
        order[n++] = &d->item[i];
    }
    qsort(order, n, sizeof *order, by_loss);
    for (size_t i = 0; i < n && i < POLISHED && !stopped(d); i++)
        solve(d, order[i]);
    /* each of the two best with every other, where one alone does not follow the readings */
    rfy_suspected *solved[POLISHED];
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
    rfy_diagnosing *d = RFY_NEW(arena, 1, rfy_diagnosing);
    *out_box = NULL;
    box->arena = arena;
    *d = (rfy_diagnosing){.arena = arena, .system = system, .options = options};
    d->item = RFY_NEW(arena, RFY_MOST_SUSPECTS, rfy_suspected);
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
