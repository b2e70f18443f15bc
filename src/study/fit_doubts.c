/* What readings do not tell, why, and what would tell it. */
#include <gsl/gsl_matrix.h>
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "study/fit_parts.h"

enum { MOST_EXTRA = 40 };

/* Cosine of what two unknowns do to the curve, from which they count as doing the same. */
#define ALIKE 0.9

const char *rfy_fit_name(const rfy_fitting *f, size_t i) {
    return f->unknown[i].path ? f->unknown[i].path : "start";
}

double rfy_fit_scale(const rfy_fitting *f, size_t i) {
    return f->unknown[i].path ? 1 : (f->points.t[f->points.n - 1] - f->points.t[0]) / 50;
}

static const char *say_time(rfy_fitting *f, double time) {
    char text[48];
    return rfy_arena_strdup(f->arena, rfy_format_quantity(text, sizeof text, RFY_DIM_TIME, time));
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

static void add_priors(gsl_matrix *info, const rfy_fitting *f) {
    for (size_t j = 0; j < f->n; j++)
        if (!isnan(f->unknown[j].prior))
            gsl_matrix_set(info, j, j, gsl_matrix_get(info, j, j) + pow(f->unknown[j].prior, -2));
}

/* The direction least told: its singular value of the scaled derivatives is 1/spread; `way` has
 * length 1. */
static double weakest(const gsl_matrix *info, const rfy_fitting *f, double *way) {
    const size_t k = f->n;
    double scaled[RFY_MOST_UNKNOWNS * RFY_MOST_UNKNOWNS];
    for (size_t a = 0; a < k; a++)
        for (size_t b = 0; b < k; b++)
            scaled[a * k + b] =
                gsl_matrix_get(info, a, b) * rfy_fit_scale(f, a) * rfy_fit_scale(f, b);
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
static const char *say_ends(rfy_fitting *f, const rfy_fitted *u) {
    if (u->low && u->high)
        return rfy_arena_printf(f->arena, "%s lies between %s and %s", u->path, u->low, u->high);
    if (u->low || u->high)
        return rfy_arena_printf(f->arena, "%s is %s or %s", u->path, u->low ? u->low : u->high,
                                u->low ? "more" : "less");
    return rfy_arena_printf(f->arena, "%s may be anything", u->path);
}

static const char *list(rfy_fitting *f, const char *so_far, size_t i, size_t n, const char *next) {
    return rfy_arena_printf(f->arena, "%s%s%s", so_far,
                            i == 0       ? ""
                            : i + 1 == n ? " and "
                                         : ", ",
                            next);
}

/* Why unknowns are not told, `way` being the direction that the readings fix least. */
static const char *explain(rfy_fitting *f, const rfy_fit_result *out, const double *way) {
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
        names = list(f, names, i, n, rfy_fit_name(f, part[i]));
        ends = list(f, ends, i, n, say_ends(f, &out->unknown[part[i]]));
    }
    if (n == 1) {
        const rfy_valley_end *low = &f->valley.low[part[0]], *high = &f->valley.high[part[0]];
        bool down = low->open || !low->sure, up = high->open || !high->sure;
        return rfy_arena_printf(
            f->arena, "%s cannot be told from this record: %s (95 %%)", names,
            down || up
                ? rfy_arena_printf(f->arena, "%s it hardly changes what %s shows in this time; %s",
                                   up && down ? "whatever it is,"
                                   : up       ? "once it is larger,"
                                              : "once it is smaller,",
                                   f->points.name, ends)
                : rfy_arena_printf(f->arena, "others make up for a change of it; %s", ends));
    }
    if (any)
        ends = "it may be anything";
    double alike = likeness(&f->squares, part[0], part[1]);
    if (n == 2 && fabs(alike) > ALIKE)
        return rfy_arena_printf(
            f->arena,
            "%s cannot be told apart from this record, because raising the one does to the curve "
            "what %s the other does (likeness %s of 1): what is fixed is how they go together; "
            "each by itself, %s (95 %%)",
            names, alike > 0 ? "lowering" : "raising", rfy_format_number(like, fabs(alike), 3),
            ends);
    return rfy_arena_printf(f->arena,
                            "%s cannot be told apart from this record, because changes of all of "
                            "them%s together leave the curve as it is; each by itself, %s (95 %%)",
                            names, n < f->n ? " and of others" : "", ends);
}

/* ---- measurements that would tell ---- */

typedef struct extra {
    const char *what;
    double spread; /* of the weakest direction, with it */
} extra;

static double with_extra(rfy_fitting *f, const gsl_matrix *info, rfy_predictor *p, const double *at,
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
static const char *shut_off(rfy_fitting *f, double time) {
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

static void advise(rfy_fitting *f, const gsl_matrix *info, rfy_fit_result *out) {
    const rfy_network *net = f->system->network;
    double first = f->points.t[0], last = f->points.t[f->points.n - 1], at[MOST_EXTRA];
    extra *found = RFY_NEW(f->arena, (size_t)net->n_gauges + 3, extra);
    size_t n = 0;
    double wanted = log(RFY_LEAST_FACTOR) / 1.96, now, way[RFY_MOST_UNKNOWNS];
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
    found[n++] = (extra){
        rfy_arena_printf(f->arena, "a record four times as long (to %s)", say_time(f, 4 * last)),
        with_extra(f, info, &longer, at, MOST_EXTRA)};
    /* the valves shut at its end, for as long again: a rate-of-rise test */
    const char *order = shut_off(f, last);
    if (order) {
        for (size_t i = 0; i < MOST_EXTRA; i++)
            at[i] = last * (1 + (double)(i + 1) / MOST_EXTRA);
        rfy_predictor shut = {.gauge = f->points.gauge, .node = f->points.node, .fault = order};
        found[n++] =
            (extra){rfy_arena_printf(
                        f->arena, "a rate-of-rise test at the end of it (%.*s), followed for %s",
                        (int)(strstr(order, " at ") - order), order, say_time(f, last)),
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

void rfy_fit_judge(rfy_fitting *f, rfy_fit_result *out) {
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
