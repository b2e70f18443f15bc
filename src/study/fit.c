/* Unknowns from a measured curve: values, intervals, what cannot be told apart, and what would. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/problem.h"
#include "core/text.h"
#include "study/least_squares.h"
#include "study/log_points.h"
#include "study/valley.h"

enum { MOST_POINTS = 160, MOST_EXTRA = 40 };

/* An unknown counts as told when the 95 % interval reaches no further than this factor up and down,
 * or as far apart. The data of outgassing scatter by 3 to 10: what is known to 5 is worth saying.
 */
#define LEAST_FACTOR 5.0
/* Reach of an unknown about which nothing is known, as a factor up and down. */
#define REACH 1e5
/* Share by which values stay within their bounds, so that a number beside them is still allowed. */
#define WITHIN 1e-5

typedef struct fit_box {
    rfy_fit_result result; /* first: a pointer to it is a pointer to the box */
    rfy_arena *arena;
} fit_box;

typedef struct fitting {
    rfy_arena *arena;
    const rfy_system *system;
    const rfy_fit_options *options;
    rfy_problems *problems;
    size_t n;
    rfy_unknown unknown[RFY_MOST_UNKNOWNS];
    rfy_varied what[RFY_MOST_UNKNOWNS];
    double factor[RFY_MOST_UNKNOWNS]; /* of the prior */
    const char *path[RFY_MOST_UNKNOWNS];
    size_t n_paths;
    rfy_log_points points;
    rfy_predictor predictor;
    rfy_squares squares;
    rfy_valley valley;
} fitting;

static bool fail(fitting *f, const char *path, const char *allowed, const char *format, ...)
    __attribute__((format(printf, 4, 5)));
static bool fail(fitting *f, const char *path, const char *allowed, const char *format, ...) {
    rfy_place at = {0, 0, path};
    va_list args;
    va_start(args, format);
    rfy_problem_add(f->problems, RFY_ERROR, &at, allowed, NULL, "%s",
                    rfy_arena_vprintf(f->arena, format, args));
    va_end(args);
    return false;
}

/* ---- what is asked ---- */

static bool take_unknown(fitting *f, const char *path) {
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
static bool take_prior(fitting *f, const char *text) {
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

static const char *shown(fitting *f, size_t i, double value) {
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

static const char *name_of(const fitting *f, size_t i) {
    return f->unknown[i].path ? f->unknown[i].path : "start";
}

/* ---- what the readings say ---- */

/* Information of derivatives in units where an unknown without a dimension of its own counts by
 * ln (the time by the first instants). */
static void add_information(gsl_matrix *info, const double *jacobian, const double *weight,
                            size_t n, size_t k, double sigma) {
    for (size_t i = 0; i < n; i++) {
        if (weight && !(weight[i] > 0))
            continue;
        for (size_t a = 0; a < k; a++)
            for (size_t b = 0; b < k; b++)
                gsl_matrix_set(info, a, b,
                               gsl_matrix_get(info, a, b) +
                                   jacobian[i * k + a] * jacobian[i * k + b] / (sigma * sigma));
    }
}

static void add_priors(gsl_matrix *info, const fitting *f) {
    for (size_t j = 0; j < f->n; j++)
        if (!isnan(f->unknown[j].prior))
            gsl_matrix_set(info, j, j, gsl_matrix_get(info, j, j) + pow(f->unknown[j].prior, -2));
}

/* What counts as much as 1 in ln of another: for the time, a fiftieth of the record. */
static double length_scale(const fitting *f, size_t i) {
    return f->unknown[i].path ? 1 : (f->points.t[f->points.n - 1] - f->points.t[0]) / 50;
}

/* The direction least told: its singular value of the scaled derivatives is 1/spread; `way` has
 * length 1. */
static double weakest(const gsl_matrix *info, const fitting *f, double *way) {
    const size_t k = f->n;
    double scaled[RFY_MOST_UNKNOWNS * RFY_MOST_UNKNOWNS];
    for (size_t a = 0; a < k; a++)
        for (size_t b = 0; b < k; b++)
            scaled[a * k + b] =
                gsl_matrix_get(info, a, b) * length_scale(f, a) * length_scale(f, b);
    double value = rfy_valley_flattest(scaled, k, way);
    return value > 1e-12 ? 1 / sqrt(value) : 1e6;
}

/* Cosine between what two unknowns do to the readings. */
static double likeness(const rfy_squares *s, size_t a, size_t b) {
    double aa = 0, bb = 0, ab = 0;
    for (size_t i = 0; i < s->n; i++) {
        if (!(s->weight[i] > 0))
            continue;
        double x = s->jacobian[i * s->n_unknowns + a], y = s->jacobian[i * s->n_unknowns + b];
        aa += x * x;
        bb += y * y;
        ab += x * y;
    }
    return aa > 0 && bb > 0 ? ab / sqrt(aa * bb) : 0;
}

/* What the record says of an unknown that it does not tell: "vane/scale is at least 0.4". */
static const char *say_ends(fitting *f, const rfy_fitted *u) {
    if (u->low && u->high)
        return rfy_arena_printf(f->arena, "%s lies between %s and %s", u->path, u->low, u->high);
    if (u->low || u->high)
        return rfy_arena_printf(f->arena, "%s is %s or %s", u->path, u->low ? u->low : u->high,
                                u->low ? "more" : "less");
    return rfy_arena_printf(f->arena, "%s may be anything", u->path);
}

static const char *list(fitting *f, const char *so_far, size_t i, size_t n, const char *next) {
    return rfy_arena_printf(f->arena, "%s%s%s", so_far,
                            i == 0       ? ""
                            : i + 1 == n ? " and "
                                         : ", ",
                            next);
}

/* Why unknowns are not told, `way` being the direction that the readings fix least. */
static const char *explain(fitting *f, const rfy_fit_result *out, const double *way) {
    size_t part[RFY_MOST_UNKNOWNS] = {0}, n = 0;
    double most = 0;
    char like[32];
    for (size_t j = 0; j < f->n; j++)
        most = out->unknown[j].told ? most : fmax(most, fabs(way[j]));
    for (size_t j = 0; j < f->n; j++)
        if (!out->unknown[j].told && fabs(way[j]) >= 0.25 * most)
            part[n++] = j;
    const char *names = "", *ends = "";
    bool any = true;
    for (size_t i = 0; i < n; i++) {
        any = any && !out->unknown[part[i]].low && !out->unknown[part[i]].high;
        names = list(f, names, i, n, name_of(f, part[i]));
        ends = list(f, ends, i, n, say_ends(f, &out->unknown[part[i]]));
    }
    if (n == 1) {
        const rfy_fitted *u = &out->unknown[part[0]];
        bool flat = !u->low || !u->high;
        return rfy_arena_printf(
            f->arena, "%s cannot be told from this record: %s %s (95 %%)", names,
            flat ? rfy_arena_printf(f->arena, "%s it hardly changes what %s shows in this time;",
                                    u->low    ? "once larger,"
                                    : u->high ? "once smaller,"
                                              : "whatever it is,",
                                    f->points.name)
                 : "the others make up for a change of it;",
            ends);
    }
    if (any)
        ends = "it may be anything";
    double alike = likeness(&f->squares, part[0], part[1]);
    if (n == 2)
        return rfy_arena_printf(
            f->arena,
            "%s cannot be told apart from this record, because raising the one does to the curve "
            "what %s the other does (likeness %s of 1): what is fixed is how they go together; "
            "each by itself, %s (95 %%)",
            names, alike > 0 ? "lowering" : "raising", rfy_format_number(like, fabs(alike), 3),
            ends);
    return rfy_arena_printf(f->arena,
                            "%s cannot be told apart from this record, because changes of all of "
                            "them together leave the curve as it is; each by itself, %s (95 %%)",
                            names, ends);
}

/* ---- measurements that would tell ---- */

typedef struct extra {
    const char *what;
    double spread; /* of the weakest direction, with it */
} extra;

static double with_extra(fitting *f, const gsl_matrix *info, rfy_predictor *p, const double *at,
                         size_t n) {
    const size_t k = f->n;
    rfy_arena *own = rfy_arena_new();
    double *model = RFY_NEW(own, n, double), *jacobian = RFY_NEW(own, n * k, double);
    double way[RFY_MOST_UNKNOWNS], spread = INFINITY;
    p->path = f->predictor.path;
    p->n = f->predictor.n;
    p->system = f->predictor.system;
    p->tolerance = f->predictor.tolerance;
    p->stop = f->predictor.stop;
    rfy_predictor_begin(p, own, 2 * k + 1);
    if (rfy_squares_derive(&f->squares, p, own, at, n, model, jacobian)) {
        gsl_matrix *sum = gsl_matrix_alloc(k, k);
        gsl_matrix_memcpy(sum, info);
        add_information(sum, jacobian, NULL, n, k, fmax(f->squares.scatter, 0.02));
        spread = weakest(sum, f, way);
        gsl_matrix_free(sum);
    }
    rfy_predictor_end(p);
    rfy_arena_free(own);
    return spread;
}

/* Every valve of a line that ends at the place of the gauge, and every pump on it. */
static const char *shut_off(fitting *f, double time) {
    const rfy_network *net = f->system->network;
    const char *text = "";
    size_t n = 0;
    for (int v = 0; v < net->n_user_valves; v++) {
        const rfy_line *line = net->valve[v].line >= 0 ? &net->line[net->valve[v].line] : NULL;
        if (!line || (line->from != f->points.node && line->to != f->points.node))
            continue;
        text =
            rfy_arena_printf(f->arena, "%s%sclose %s", text, n++ ? "; " : "", net->valve[v].name);
    }
    for (int p = 0; p < net->n_pumps; p++)
        if (net->pump[p].from == f->points.node)
            text =
                rfy_arena_printf(f->arena, "%s%sstop %s", text, n++ ? "; " : "", net->pump[p].name);
    return n ? rfy_arena_printf(f->arena, "%s at %.9g s", text, time) : NULL;
}

static void advise(fitting *f, const gsl_matrix *info, rfy_fit_result *out) {
    const rfy_network *net = f->system->network;
    double first = f->points.t[0], last = f->points.t[f->points.n - 1], at[MOST_EXTRA];
    extra *found = RFY_NEW(f->arena, (size_t)net->n_gauges + 3, extra);
    size_t n = 0;
    double wanted = log(LEAST_FACTOR) / 1.96, now, way[RFY_MOST_UNKNOWNS];
    now = weakest(info, f, way);
    double *x = f->squares.x, *kept = RFY_NEW(f->arena, f->n, double);
    memcpy(kept, x, f->n * sizeof *x);
    for (size_t j = 0; j < f->n; j++) /* what drifted away says nothing where it has come to */
        if (fabs(way[j]) > 0.25 && f->unknown[j].path)
            x[j] = log(f->unknown[j].start);
    /* the same gauge for four times as long */
    for (size_t i = 0; i < MOST_EXTRA; i++)
        at[i] = last * pow(4, (double)(i + 1) / MOST_EXTRA);
    rfy_predictor longer = {.gauge = f->points.gauge, .node = f->points.node};
    found[n++] =
        (extra){rfy_arena_printf(f->arena, "a record four times as long (to %.3g s)", 4 * last),
                with_extra(f, info, &longer, at, MOST_EXTRA)};
    /* the valves shut at its end, for as long again: a rate-of-rise test */
    const char *order = shut_off(f, last);
    if (order) {
        for (size_t i = 0; i < MOST_EXTRA; i++)
            at[i] = last * (1 + (double)(i + 1) / MOST_EXTRA);
        rfy_predictor shut = {.gauge = f->points.gauge, .node = f->points.node, .fault = order};
        found[n++] = (extra){
            rfy_arena_printf(f->arena,
                             "a rate-of-rise test at the end of it (%.*s), followed for %.3g s",
                             (int)(strstr(order, " at ") - order), order, last),
            with_extra(f, info, &shut, at, MOST_EXTRA)};
    }
    /* another gauge meanwhile */
    for (size_t i = 0; i < MOST_EXTRA; i++)
        at[i] = fmax(first, last * 1e-3) *
                pow(last / fmax(first, last * 1e-3), (double)(i + 1) / MOST_EXTRA);
    for (int g = 0; g < net->n_gauges; g++) {
        if (g == f->points.gauge)
            continue;
        rfy_predictor other = {.gauge = g, .node = net->gauge[g].node};
        found[n++] = (extra){
            rfy_arena_printf(f->arena, "the readings of %s in the same time", net->gauge[g].name),
            with_extra(f, info, &other, at, MOST_EXTRA)};
    }
    memcpy(x, kept, f->n * sizeof *x);
    for (size_t i = 1; i < n; i++) { /* best first */
        extra e = found[i];
        size_t k = i;
        for (; k > 0 && found[k - 1].spread > e.spread; k--)
            found[k] = found[k - 1];
        found[k] = e;
    }
    const char **advice = RFY_NEW(f->arena, n, const char *);
    for (size_t i = 0; i < n; i++) {
        char number[32];
        if (!(found[i].spread < 0.7 * now) || found[i].spread > 3)
            break;
        advice[out->n_advice++] = rfy_arena_printf(
            f->arena, "%s %s: what is least known would then be known within a factor %s",
            found[i].what, found[i].spread < wanted ? "would tell" : "would help, but not enough",
            rfy_format_number(number, exp(1.96 * found[i].spread), 2));
        if (out->n_advice == 3)
            break;
    }
    out->advice = advice;
}

static void judge(fitting *f, rfy_fit_result *out) {
    const size_t k = f->n;
    const rfy_squares *s = &f->squares;
    gsl_matrix *info = gsl_matrix_calloc(k, k);
    double way[RFY_MOST_UNKNOWNS];
    add_information(info, s->jacobian, s->weight, s->n, k, s->scatter);
    add_priors(info, f); /* what was known before counts as known */
    weakest(info, f, way);
    out->determined = true;
    for (size_t j = 0; j < k; j++)
        out->determined = out->determined && out->unknown[j].told;
    if (!out->determined) {
        const char **doubt = RFY_NEW(f->arena, 1, const char *);
        doubt[0] = explain(f, out, way);
        out->doubt = doubt;
        out->n_doubts = 1;
        advise(f, info, out);
    }
    gsl_matrix_free(info);
}

/* ---- the result ---- */

/* An unknown that was known beforehand is told however little the readings add. */
static bool is_told(const fitting *f, size_t i) {
    const rfy_valley_end *low = &f->valley.low[i], *high = &f->valley.high[i];
    double most = 2 * log(LEAST_FACTOR) * length_scale(f, i);
    if (low->open || high->open || !low->sure || !high->sure)
        return false;
    return !isnan(f->unknown[i].prior) || high->at - low->at <= most;
}

static void fill(fitting *f, rfy_fit_result *out) {
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
        fitted[i] = (rfy_fitted){.path = rfy_arena_strdup(f->arena, name_of(f, i)),
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
static const double *curve_before(fitting *f) {
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
static void find_ends(fitting *f) {
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
    fitting *f = RFY_NEW(arena, 1, fitting);
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
        judge(f, out);
        status = RFY_OK;
    } else {
        status = options->stop && *options->stop ? RFY_INTERRUPTED : RFY_RUN_FAILED;
        fail(f, "", NULL, "%s", f->squares.trouble);
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
