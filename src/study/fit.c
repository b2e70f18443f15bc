/* Unknowns from a measured curve: values and intervals. */
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/problem.h"
#include "core/text.h"
#include "study/fit_parts.h"

enum { MOST_POINTS = 160 };

/* Reach of an unknown about which nothing is known, as a factor up and down. */
#define REACH 1e5
/* Share by which values stay within their bounds, so that a number beside them is still allowed. */
#define WITHIN 1e-5

typedef struct fit_box {
    rfy_fit_result result; /* first: a pointer to it is a pointer to the box */
    rfy_arena *arena;
} fit_box;

static bool fail(rfy_fitting *f, const char *path, const char *allowed, const char *format, ...)
    __attribute__((format(printf, 4, 5)));
static bool fail(rfy_fitting *f, const char *path, const char *allowed, const char *format, ...) {
    rfy_place at = {0, 0, path};
    va_list args;
    va_start(args, format);
    rfy_problem_add(f->problems, RFY_ERROR, &at, allowed, NULL, "%s",
                    rfy_arena_vprintf(f->arena, format, args));
    va_end(args);
    return false;
}

/* ---- what is asked ---- */

static bool take_unknown(rfy_fitting *f, const char *path) {
    if (f->n == RFY_MOST_UNKNOWNS)
        return fail(f, "", NULL, "more unknowns than one curve can tell: at most %d",
                    RFY_MOST_UNKNOWNS);
    for (size_t i = 0; i < f->n; i++)
        if (strcmp(f->unknown[i].path ? f->unknown[i].path : "start", path) == 0)
            return fail(f, path, NULL, "\"%.80s\" is freed twice", path);
    rfy_unknown *u = &f->unknown[f->n];
    *u = (rfy_unknown){.prior = NAN, .least = NAN, .most = NAN};
    f->factor[f->n] = NAN;
    if (strcmp(path, "start") == 0) {
        double span = f->points.t[f->points.n - 1] - f->points.t[0];
        u->least = -0.5 * span;
        u->most = 0.5 * span;
        f->n++;
        return true;
    }
    rfy_varied *w = &f->what[f->n];
    if (!rfy_predict_start(f->system, path, w, f->problems))
        return false;
    if (!(w->value > 0))
        return fail(f, path, "a value above zero to start from", "\"%.80s\" is zero or negative",
                    path);
    u->path = f->path[f->n_paths++] = path;
    u->start = u->centre = w->value;
    u->least = fmax(w->value / REACH, w->min > 0 ? w->min * (1 + WITHIN) : 0);
    u->most = w->max > 0 ? fmin(w->value * REACH, w->max * (1 - WITHIN)) : w->value * REACH;
    double spread = rfy_predict_spread(f->system, path);
    if (spread > 1) {
        f->factor[f->n] = spread;
        u->prior = log(spread) / 1.96;
    }
    f->n++;
    return true;
}

/* "PATH=3", "PATH=20 %", "start=5 s" */
static bool take_prior(rfy_fitting *f, const char *text) {
    const char *equals = strrchr(text, '=');
    size_t length = equals ? (size_t)(equals - text) : 0;
    rfy_unknown *u = NULL;
    size_t which = 0;
    for (size_t i = 0; i < f->n && length > 0; i++) {
        const char *path = f->unknown[i].path ? f->unknown[i].path : "start";
        if (strlen(path) == length && strncmp(path, text, length) == 0) {
            u = &f->unknown[i];
            which = i;
        }
    }
    if (!u)
        return fail(f, "", "PATH=FACTOR for a path that is freed, such as \"vane/speed=1.5\"",
                    "--prior \"%.80s\" belongs to no unknown", text);
    double value;
    rfy_quantity_error error;
    const rfy_units *units = f->system->catalog->units;
    bool good = rfy_parse_quantity(units, equals + 1, u->path ? RFY_DIM_NONE : RFY_DIM_TIME, &value,
                                   &error);
    if (good && u->path && value < 1) /* "20 %" */
        value += 1;
    if (!good || !(value > (u->path ? 1 : 0)))
        return fail(f, "", u->path ? "a factor above 1, or a share such as \"20 %\"" : "a time",
                    "--prior \"%.80s\" is no prior", text);
    f->factor[which] = value;
    u->prior = u->path ? log(value) / 1.96 : value / 1.96;
    return true;
}

/* ---- words ---- */

static const char *shown(rfy_fitting *f, size_t i, double value) {
    char text[48];
    const rfy_unknown *u = &f->unknown[i];
    if (!u->path || f->what[i].dim != RFY_DIM_NONE) {
        char *end;
        double rounded = strtod(rfy_format_number(text, value, 3), &end);
        return rfy_arena_strdup(
            f->arena, rfy_format_quantity(text, sizeof text,
                                          u->path ? f->what[i].dim : RFY_DIM_TIME, rounded));
    }
    return rfy_arena_strdup(f->arena, rfy_format_number(text, value, 3));
}

/* ---- the result ---- */

/* An unknown that was known beforehand is told however little the readings add. */
static bool is_told(const rfy_fitting *f, size_t i) {
    const rfy_valley_end *low = &f->valley.low[i], *high = &f->valley.high[i];
    double most = 2 * log(RFY_LEAST_FACTOR) * rfy_fit_scale(f, i);
    if (low->open || high->open || !low->sure || !high->sure)
        return false;
    return !isnan(f->unknown[i].prior) || high->at - low->at <= most;
}

static void fill(rfy_fitting *f, rfy_fit_result *out) {
    const rfy_squares *s = &f->squares;
    const size_t k = f->n;
    rfy_fitted *fitted = RFY_NEW(f->arena, k, rfy_fitted);
    double *correlation = RFY_NEW(f->arena, k * k, double);
    for (size_t i = 0; i < k; i++) {
        const rfy_unknown *u = &f->unknown[i];
        const rfy_valley_end *low = &f->valley.low[i], *high = &f->valley.high[i];
        double v = s->covariance[i * k + i];
        rfy_interval value = {rfy_squares_value(u, s->x[i]),
                              low->open ? (u->path ? 0 : (double)-INFINITY)
                                        : rfy_squares_value(u, low->at),
                              high->open ? (double)INFINITY : rfy_squares_value(u, high->at)};
        fitted[i] = (rfy_fitted){.path = rfy_arena_strdup(f->arena, rfy_fit_name(f, i)),
                                 .before = shown(f, i, u->start),
                                 .after = shown(f, i, value.value),
                                 .low = low->open ? NULL : shown(f, i, value.low),
                                 .high = high->open ? NULL : shown(f, i, value.high),
                                 .unit = u->path ? rfy_dim_si(f->what[i].dim) : "s",
                                 .start = u->start,
                                 .value = value,
                                 .told = is_told(f, i),
                                 .prior = f->factor[i],
                                 .by_readings =
                                     isnan(u->prior) ? 1 : fmax(0, 1 - v / (u->prior * u->prior))};
        for (size_t j = 0; j < k; j++)
            correlation[i * k + j] = s->covariance[i * k + j] / sqrt(v * s->covariance[j * k + j]);
    }
    out->unknown = fitted;
    out->n_unknowns = k;
    out->correlation = correlation;
    out->n_points = s->n;
    out->n_used = s->n_used;
    out->n_outliers = s->n_outliers;
    out->n_beyond = f->points.n_beyond;
    out->scatter = s->scatter;
    out->noise = f->points.noise;
    out->runs = s->runs;
    double *time = RFY_NEW(f->arena, s->n, double), *measured = RFY_NEW(f->arena, s->n, double);
    double *after = RFY_NEW(f->arena, s->n, double);
    for (size_t i = 0; i < s->n; i++) {
        time[i] = s->t[i];
        measured[i] = exp(s->y[i]);
        after[i] = exp(s->model[i]);
    }
    out->time = time;
    out->measured = measured;
    out->after = after;
}

/* The curve of the description as it was. */
static const double *curve_before(rfy_fitting *f) {
    double *before = RFY_NEW(f->arena, f->points.n, double), value[RFY_MOST_UNKNOWNS];
    size_t n = 0;
    for (size_t i = 0; i < f->n; i++)
        if (f->unknown[i].path)
            value[n++] = f->unknown[i].start;
    rfy_prediction one = {.value = value, .log_reading = before};
    rfy_predict(&f->predictor, &one, 1, f->points.t, f->points.n);
    for (size_t i = 0; i < f->points.n; i++)
        before[i] = exp(before[i]);
    return before;
}

/* The ends of intervals; where a better fit is met on the way to them, once more from there. */
static void find_ends(rfy_fitting *f) {
    rfy_squares *s = &f->squares;
    double span = f->points.t[f->points.n - 1] - f->points.t[0];
    for (int i = 0; i < 4 && s->good; i++) {
        double reach =
            s->sigma > 0 ? gsl_cdf_ugaussian_Pinv(0.975) : gsl_cdf_tdist_Pinv(0.975, s->freedom);
        rfy_valley_follow(s, f->arena, reach, span, &f->valley);
        if (!f->valley.better)
            return;
        rfy_squares_resume(s);
    }
}

rfy_status rfy_fit(rfy_fit_result **out_box, const rfy_system *system, const rfy_log *log,
                   const rfy_fit_options *options, rfy_problems *problems) {
    rfy_arena *arena = rfy_arena_new();
    fit_box *box = RFY_NEW(arena, 1, fit_box);
    rfy_fit_result *out = &box->result;
    rfy_fitting *f = RFY_NEW(arena, 1, rfy_fitting);
    rfy_status status = RFY_BAD_INPUT;
    *out_box = NULL;
    box->arena = arena;
    f->arena = arena;
    f->system = system;
    f->options = options;
    f->problems = problems;
    out->title = rfy_arena_strdup(arena, rfy_system_title(system));
    out->log = log;
    if (options->n_free == 0) {
        fail(f, "", "paths as in --set, such as --free \"port/leaks/0/rate\"",
             "nothing is free to be fitted");
        status = RFY_USAGE;
        goto done;
    }
    if (!rfy_log_points_take(&f->points, arena, system->network, log, options->gauge, MOST_POINTS,
                             problems))
        goto done;
    out->gauge = f->points.name;
    bool good = true;
    for (size_t i = 0; i < options->n_free && good; i++)
        good = take_unknown(f, options->free[i]);
    for (size_t i = 0; i < options->n_prior && good; i++)
        good = take_prior(f, options->prior[i]);
    if (!good)
        goto done;
    f->predictor = (rfy_predictor){.system = system,
                                   .n = f->n_paths,
                                   .path = f->path,
                                   .gauge = f->points.gauge,
                                   .node = f->points.node,
                                   .tolerance = 2e-4,
                                   .stop = options->stop};
    rfy_predictor_begin(&f->predictor, arena, 2 * f->n + 1);
    f->squares = (rfy_squares){.predictor = &f->predictor,
                               .n_unknowns = f->n,
                               .unknown = f->unknown,
                               .n = f->points.n,
                               .t = f->points.t,
                               .y = f->points.y,
                               .sigma = options->noise};
    out->before = curve_before(f);
    rfy_squares_solve(&f->squares, arena);
    find_ends(f);
    if (f->squares.good) {
        fill(f, out);
        rfy_fit_judge(f, out);
    }
    if (options->stop && *options->stop) { /* ends that were not reached are no open ends */
        status = RFY_INTERRUPTED;
        fail(f, "", NULL, "interrupted");
    } else if (!f->squares.good) {
        status = RFY_RUN_FAILED;
        fail(f, "", NULL, "%s", f->squares.trouble);
    } else {
        status = RFY_OK;
    }
    rfy_predictor_end(&f->predictor);
done:
    if (status == RFY_OK)
        *out_box = out;
    else
        rfy_arena_free(arena);
    return status;
}

void rfy_fit_free(rfy_fit_result *result) {
    if (result)
        rfy_arena_free(((fit_box *)result)->arena);
}
