#include "study/least_squares.h"
#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Differences are taken this far apart in ln: runs repeat to about 1e-4. */
#define NUDGE 0.03
#define FINE  1e-5 /* tolerance of the last derivatives */
/* The time is nudged by this share of the first instants. */
#define MOST_STEP 1.6 /* of ln, in one round */

double rfy_squares_value(const rfy_unknown *u, double x) {
    return u->path ? exp(x) : x;
}

double rfy_squares_within(const rfy_unknown *u, double x) {
    double low = u->path && u->least > 0 ? log(u->least) : u->least;
    double high = u->path && u->most > 0 ? log(u->most) : u->most;
    if (x < low)
        return low;
    return x > high ? high : x; /* NaN: no bound */
}

/* Values for the predictor from x, and the time's offset. */
static double unpack(const rfy_squares *s, const double *x, double *value) {
    double offset = 0;
    size_t k = 0;
    for (size_t i = 0; i < s->n_unknowns; i++) {
        if (!s->unknown[i].path)
            offset = x[i];
        else if (!s->of)
            value[k++] = exp(x[i]);
    }
    for (size_t i = 0; i < s->predictor->n && s->of; i++)
        value[i] = s->base[i] * exp(x[s->of[i]]) / s->unknown[s->of[i]].start;
    return offset;
}

static double time_nudge(const double *at, size_t n) {
    double t = at[n > 4 ? 4 : n - 1];
    return fmax(0.02 * t, 1e-3);
}

/* The prediction at x and at x with each unknown nudged; up and down with `central`, which leaves
 * no information where two unknowns do the same: nudges upwards differ at second order. */
static bool predict_all(const rfy_squares *s, rfy_predictor *p, rfy_arena *arena, const double *x,
                        const double *at, size_t n, bool central, double *model, double *jacobian) {
    const size_t k = s->n_unknowns;
    size_t runs = central ? 2 * k + 1 : k + 1;
    rfy_prediction *each = RFY_NEW(arena, runs, rfy_prediction);
    double *nudged = RFY_NEW(arena, k, double), shift = time_nudge(at, n);
    double *way = RFY_NEW(arena, runs, double); /* of each run, in its unknown */
    for (size_t j = 0; j < runs; j++) {
        memcpy(nudged, x, k * sizeof *x);
        if (j > 0) {
            const rfy_unknown *u = &s->unknown[(j - 1) % k];
            double *own = &nudged[(j - 1) % k], from = *own, by = u->path ? NUDGE : shift;
            *own = rfy_squares_within(u, from + (j > k ? -by : by));
            if (!central && *own - from < 0.5 * by) /* at its bound: the other way */
                *own = rfy_squares_within(u, from - by);
            way[j] = *own - from;
        }
        double *value = RFY_NEW(arena, s->predictor->n + 1, double);
        each[j].offset = unpack(s, nudged, value);
        each[j].value = value;
        each[j].log_reading = RFY_NEW(arena, n, double);
    }
    double tolerance = p->tolerance;
    if (central)
        p->tolerance = fmin(tolerance, FINE);
    rfy_predict(p, each, runs, at, n);
    p->tolerance = tolerance;
    for (size_t j = 0; j < runs; j++)
        if (!each[j].good)
            return false;
    memcpy(model, each[0].log_reading, n * sizeof *model);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < k; j++) {
            double down = central ? each[j + 1 + k].log_reading[i] : model[i];
            double d =
                (each[j + 1].log_reading[i] - down) / (way[j + 1] - (central ? way[j + 1 + k] : 0));
            jacobian[i * k + j] = isfinite(d) ? d : 0;
        }
    return true;
}

/* The same by derivatives that one run carries along; false where they cannot be had. */
static bool predict_exactly(const rfy_squares *s, rfy_predictor *p, rfy_arena *arena,
                            const double *x, const double *at, size_t n, double *model,
                            double *jacobian) {
    const size_t k = s->n_unknowns;
    double *value = RFY_NEW(arena, s->predictor->n + 1, double), *by_offset = NULL;
    size_t *of = RFY_NEW(arena, s->predictor->n + 1, size_t);
    size_t *rank = RFY_NEW(arena, k + 1, size_t), told = 0;
    for (size_t j = 0; j < k; j++) {
        if (s->unknown[j].path)
            rank[j] = told++;
        else
            by_offset = RFY_NEW(arena, n, double);
    }
    for (size_t i = 0; i < s->predictor->n && s->of; i++)
        of[i] = rank[s->of[i]];
    rfy_slopes one = {.offset = unpack(s, x, value),
                      .value = value,
                      .n = told,
                      .of = s->of ? of : NULL,
                      .log_reading = model,
                      .by = RFY_NEW(arena, n * told + 1, double),
                      .by_offset = by_offset};
    if (!rfy_predict_slopes(p, &one, at, n))
        return false;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < k; j++)
            jacobian[i * k + j] = s->unknown[j].path ? one.by[i * told + rank[j]] : by_offset[i];
    return true;
}

bool rfy_squares_derive(const rfy_squares *s, rfy_predictor *p, rfy_arena *arena, const double *at,
                        size_t n_at, double *model, double *jacobian) {
    return predict_exactly(s, p, arena, s->x, at, n_at, model, jacobian) ||
           predict_all(s, p, arena, s->x, at, n_at, true, model, jacobian);
}

/* Prediction and derivatives at x, in the way that works for these unknowns. */
static bool look(rfy_squares *s, rfy_arena *arena, const double *x, bool fine, double *model,
                 double *jacobian) {
    rfy_predictor *p = s->predictor;
    const size_t k = s->n_unknowns;
    double tolerance = p->tolerance;
    bool good = false;
    if (!s->by_differences) {
        if (fine)
            p->tolerance = fmin(tolerance, FINE);
        good = predict_exactly(s, p, arena, x, s->t, s->n, model, jacobian);
        p->tolerance = tolerance;
        s->runs++;
        s->exactly = s->exactly || good;
    }
    if (!good) {
        good = predict_all(s, p, arena, x, s->t, s->n, fine, model, jacobian);
        s->runs += (int)(fine ? 2 * k + 1 : k + 1);
        s->by_differences = !s->exactly && good;
    }
    return good;
}

/* ---- weights and sums ---- */

static int by_value(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* How much steeper than around it a curve is at a reading, in ln p by ln t: a valve was switched
 * there. */
static double excess_slope(const double *t, const double *y, size_t n, size_t i) {
    enum { AROUND = 4 };
    double slope[2 * AROUND + 1], own = 0;
    size_t k = 0, from = i > AROUND ? i - AROUND : 0, to = i + AROUND < n ? i + AROUND : n - 1;
    for (size_t j = from; j <= to; j++) {
        size_t a = j > 0 ? j - 1 : j, b = j + 1 < n ? j + 1 : j;
        double span = log(fmax(t[b], 1e-9) / fmax(t[a], 1e-9));
        double s = span > 0 ? fabs(y[b] - y[a]) / span : 0;
        if (isnan(s))
            continue;
        if (j == i)
            own = s;
        slope[k++] = s;
    }
    if (k == 0)
        return 0;
    qsort(slope, k, sizeof *slope, by_value);
    return fmax(0, own - 3 * slope[k / 2] - 1);
}

/* Where a switching makes the curve a step, its time is all that a reading tells, and no difference
 * of two runs tells it well: such readings count less, by what a shift of `tolerance` of the time
 * would do to them. */
static void soften(rfy_squares *s, double tolerance) {
    for (size_t i = 0; i < s->n; i++) {
        double slope =
            fmax(excess_slope(s->t, s->y, s->n, i), excess_slope(s->t, s->model, s->n, i));
        double shift = tolerance * slope / s->scatter;
        s->soft[i] = 1 / (1 + shift * shift);
    }
}

/* Scatter of readings about the line between their neighbours, without regard to any model
 * (Gasser, Sroka and Jennen-Steinmetz 1986, Biometrika 73, 625), by the median. */
static double neighbour_scatter(const rfy_squares *s) {
    if (s->n < 8)
        return 0.05;
    double *d = rfy_xcalloc(s->n, sizeof *d);
    size_t k = 0;
    for (size_t i = 1; i + 1 < s->n; i++) {
        double a = (s->t[i + 1] - s->t[i]) / (s->t[i + 1] - s->t[i - 1]), b = 1 - a;
        d[k++] = fabs(a * s->y[i - 1] + b * s->y[i + 1] - s->y[i]) / sqrt(1 + a * a + b * b);
    }
    qsort(d, k, sizeof *d, by_value);
    double scatter = 1.4826 * d[k / 2];
    free(d);
    return fmax(scatter, 2e-3); /* runs repeat no better */
}

static double residual(const rfy_squares *s, const double *model, size_t i) {
    return s->y[i] - model[i];
}

/* Cauchy's loss (Holland and Welsch 1977, Commun. Stat. A6, 813), half its usual sum. */
static double loss(const rfy_squares *s, const double *model, bool robust) {
    double sum = 0;
    const double c = 2.385;
    for (size_t i = 0; i < s->n; i++) {
        double z = residual(s, model, i) / s->scatter;
        if (isnan(z))
            z = 3; /* a reading where the model has none */
        if (!robust && !(s->weight[i] > 0))
            continue;
        sum += s->soft[i] * (robust ? c * c * log1p(z * z / (c * c)) : z * z);
    }
    return sum;
}

static double prior_loss(const rfy_squares *s, const double *x) {
    double sum = 0;
    for (size_t j = 0; j < s->n_unknowns; j++) {
        const rfy_unknown *u = &s->unknown[j];
        double d = (x[j] - (u->path ? log(u->centre) : u->centre)) / u->prior;
        sum += isnan(u->prior) ? 0 : d * d;
    }
    return sum;
}

/* J'WJ/sigma^2 + P, and the gradient. */
static void normal_equations(const rfy_squares *s, bool robust, const double *x,
                             const double *model, const double *jacobian, gsl_matrix *h,
                             gsl_vector *g) {
    const size_t k = s->n_unknowns;
    const double c = 2.385, per = 1 / (s->scatter * s->scatter);
    gsl_matrix_set_zero(h);
    gsl_vector_set_zero(g);
    for (size_t i = 0; i < s->n; i++) {
        double r = residual(s, model, i), z = r / s->scatter;
        double w = s->soft[i] * (robust ? 1 / (1 + z * z / (c * c)) : s->weight[i]);
        if (isnan(r) || !(w > 0))
            continue;
        const double *row = jacobian + i * k;
        for (size_t a = 0; a < k; a++) {
            gsl_vector_set(g, a, gsl_vector_get(g, a) + w * per * row[a] * r);
            for (size_t b = 0; b < k; b++)
                gsl_matrix_set(h, a, b, gsl_matrix_get(h, a, b) + w * per * row[a] * row[b]);
        }
    }
    for (size_t j = 0; j < k; j++) {
        const rfy_unknown *u = &s->unknown[j];
        if (isnan(u->prior))
            continue;
        double d = (u->path ? log(u->centre) : u->centre) - x[j], v = u->prior * u->prior;
        gsl_vector_set(g, j, gsl_vector_get(g, j) + d / v);
        gsl_matrix_set(h, j, j, gsl_matrix_get(h, j, j) + 1 / v);
    }
}

/* ---- one round of Levenberg and Marquardt ---- */

static bool step_to(const rfy_squares *s, const gsl_matrix *h, const gsl_vector *g, double lambda,
                    double *x) {
    const size_t k = s->n_unknowns;
    gsl_matrix *a = gsl_matrix_alloc(k, k);
    gsl_vector *d = gsl_vector_alloc(k);
    gsl_matrix_memcpy(a, h);
    for (size_t j = 0; j < k; j++)
        gsl_matrix_set(a, j, j, gsl_matrix_get(h, j, j) * (1 + lambda) + 1e-9);
    bool good = gsl_linalg_cholesky_decomp1(a) == GSL_SUCCESS &&
                gsl_linalg_cholesky_solve(a, g, d) == GSL_SUCCESS;
    for (size_t j = 0; good && j < k; j++) {
        double by = gsl_vector_get(d, j);
        if (s->unknown[j].path)
            by = fmax(-MOST_STEP, fmin(MOST_STEP, by));
        x[j] = s->x[j] + by;
        x[j] = rfy_squares_within(&s->unknown[j], x[j]);
        good = isfinite(x[j]);
    }
    gsl_vector_free(d);
    gsl_matrix_free(a);
    return good;
}

/* Steps of two lengths are tried at once, since cores are there; the better counts. The long one
 * shortens the crawl along valleys that bend. Where neither helps, shorter ones follow. */
enum { TRIALS = 2, ATTEMPTS = 7 };
#define LONG 3.0
/* Fall of the sum that is not worth another round. */
#define LEAST_GAIN 0.005

/* How far the sum would fall if it were the bowl that its derivatives make it: g.d for the step d
 * to the bottom. */
static double foreseen(const rfy_squares *s, const gsl_matrix *h, const gsl_vector *g) {
    const size_t k = s->n_unknowns;
    gsl_matrix *a = gsl_matrix_alloc(k, k);
    gsl_vector *d = gsl_vector_alloc(k);
    double gain = (double)INFINITY;
    gsl_matrix_memcpy(a, h);
    if (gsl_linalg_cholesky_decomp1(a) == GSL_SUCCESS &&
        gsl_linalg_cholesky_solve(a, g, d) == GSL_SUCCESS)
        gsl_blas_ddot(g, d, &gain);
    gsl_vector_free(d);
    gsl_matrix_free(a);
    return gain;
}

static bool improve(rfy_squares *s, rfy_arena *arena, bool robust, const gsl_matrix *h,
                    const gsl_vector *g, double *lambda) {
    const size_t k = s->n_unknowns;
    double now = loss(s, s->model, robust) + prior_loss(s, s->x);
    if (foreseen(s, h, g) < LEAST_GAIN)
        return false;
    for (int round = 0; round < ATTEMPTS; round++) {
        double *x[TRIALS];
        rfy_prediction each[TRIALS];
        for (int i = 0; i < TRIALS; i++) {
            x[i] = RFY_NEW(arena, k, double);
            double *value = RFY_NEW(arena, s->predictor->n + 1, double);
            if (!step_to(s, h, g, *lambda, x[i]))
                memcpy(x[i], s->x, k * sizeof(double));
            for (size_t j = 0; j < k && i == 1; j++) {
                x[i][j] = s->x[j] + LONG * (x[i][j] - s->x[j]);
                x[i][j] = rfy_squares_within(&s->unknown[j], x[i][j]);
            }
            each[i].offset = unpack(s, x[i], value);
            each[i].value = value;
            each[i].log_reading = RFY_NEW(arena, s->n, double);
        }
        rfy_predict(s->predictor, each, TRIALS, s->t, s->n);
        s->runs += TRIALS;
        int best = -1;
        double least = now;
        for (int i = 0; i < TRIALS; i++) {
            double own = each[i].good ? loss(s, each[i].log_reading, robust) + prior_loss(s, x[i])
                                      : (double)INFINITY;
            if (own < least) {
                least = own;
                best = i;
            }
        }
        if (best >= 0) {
            memcpy(s->x, x[best], k * sizeof(double));
            memcpy(s->model, each[best].log_reading, s->n * sizeof(double));
            *lambda /= 10;
            return now - least > LEAST_GAIN;
        }
        *lambda *= 30;
    }
    return false;
}

static double median_residual(const rfy_squares *s) {
    double *z = rfy_xcalloc(s->n, sizeof *z);
    size_t k = 0;
    for (size_t i = 0; i < s->n; i++) {
        double r = fabs(residual(s, s->model, i));
        if (!isnan(r))
            z[k++] = r;
    }
    qsort(z, k, sizeof *z, by_value);
    double median = k > 0 ? 1.4826 * z[k / 2] : 1;
    free(z);
    return median;
}

static void settle_scatter(rfy_squares *s) {
    double sum = 0;
    size_t used = 0;
    for (size_t i = 0; i < s->n; i++) {
        double r = residual(s, s->model, i);
        if (isnan(r) || !(s->weight[i] > 0) || s->soft[i] < 0.5)
            continue;
        sum += r * r;
        used++;
    }
    s->n_used = used;
    s->freedom = fmax(1, (double)used - (double)s->n_unknowns);
    if (!(s->sigma > 0))
        s->scatter = fmax(sqrt(sum / s->freedom), 1e-3);
    s->chi2 = sum / (s->scatter * s->scatter);
}

/* Readings beyond 4.5 standard deviations of the rest are left out from then on. */
static void drop_outliers(rfy_squares *s) {
    double scale = fmax(median_residual(s), 1e-3);
    for (size_t i = 0; i < s->n; i++) {
        double r = fabs(residual(s, s->model, i));
        s->weight[i] = isnan(r) || r > 4.5 * scale ? 0 : 1;
        s->n_outliers += r > 4.5 * scale;
    }
    if (4 * s->n_outliers > s->n) { /* the model does not fit; that is no matter of outliers */
        for (size_t i = 0; i < s->n; i++)
            s->weight[i] = isnan(residual(s, s->model, i)) ? 0 : 1;
        s->n_outliers = 0;
    }
}

void rfy_squares_try(rfy_squares *s, rfy_arena *arena, double *const *x, size_t n, double *out) {
    rfy_prediction *each = RFY_NEW(arena, n, rfy_prediction);
    s->scatter = s->sigma > 0 ? s->sigma : neighbour_scatter(s);
    s->soft = RFY_NEW(arena, s->n, double);
    for (size_t i = 0; i < s->n; i++)
        s->soft[i] = 1 / (1 + pow(0.1 * excess_slope(s->t, s->y, s->n, i) / s->scatter, 2));
    for (size_t i = 0; i < n; i++) {
        double *value = RFY_NEW(arena, s->predictor->n + 1, double);
        each[i].offset = unpack(s, x[i], value);
        each[i].value = value;
        each[i].log_reading = RFY_NEW(arena, s->n, double);
    }
    rfy_predict(s->predictor, each, n, s->t, s->n);
    for (size_t i = 0; i < n; i++)
        out[i] = each[i].good ? loss(s, each[i].log_reading, true) : (double)INFINITY;
}

/* Rounds until none is better, robust ones first or none of them; then derivatives and what they
 * say of the errors. */
static void approach(rfy_squares *s, bool robust, int most) {
    const size_t k = s->n_unknowns;
    gsl_matrix *h = gsl_matrix_alloc(k, k);
    gsl_vector *g = gsl_vector_alloc(k);
    double lambda = robust ? 1e-2 : 1e-3;
    bool last = false;
    const double noise = s->scatter;
    s->good = false;
    for (int round = 0; round <= most; round++, s->rounds++) {
        last = last || round == most;
        if (s->predictor->stop && *s->predictor->stop) {
            s->trouble = "interrupted";
            goto done;
        }
        rfy_arena *own = rfy_arena_new();
        bool ran = look(s, own, s->x, last, s->model, s->jacobian);
        if (!ran) {
            rfy_arena_free(own);
            s->trouble = "a run with these values could not be finished";
            goto done;
        }
        if (last) {
            rfy_arena_free(own);
            break;
        }
        soften(s, robust ? fmax(NUDGE, 0.3 * pow(0.6, round)) : NUDGE);
        if (robust) /* broad at first, so that what is far off still pulls */
            s->scatter = fmax(noise, 0.5 * median_residual(s));
        normal_equations(s, robust, s->x, s->model, s->jacobian, h, g);
        bool better = improve(s, own, robust, h, g, &lambda);
        rfy_arena_free(own);
        if (robust && (!better || round > most / 2)) {
            robust = false;
            s->scatter = noise;
            drop_outliers(s);
            settle_scatter(s);
            lambda = 1e-3;
        } else if (!better) {
            last = true; /* derivatives once more, where it ends */
        }
    }
    settle_scatter(s);
    s->prior_chi2 = prior_loss(s, s->x);
    normal_equations(s, false, s->x, s->model, s->jacobian, h, g);
    for (size_t j = 0; j < k; j++) /* what nothing is known of has no end, but the inverse has */
        gsl_matrix_set(h, j, j, gsl_matrix_get(h, j, j) + 1e-6);
    if (gsl_linalg_cholesky_decomp1(h) != GSL_SUCCESS ||
        gsl_linalg_cholesky_invert(h) != GSL_SUCCESS) {
        s->trouble = "the readings do not determine the unknowns";
        goto done;
    }
    for (size_t a = 0; a < k; a++)
        for (size_t b = 0; b < k; b++)
            s->covariance[a * k + b] = gsl_matrix_get(h, a, b);
    s->good = true;
done:
    gsl_matrix_free(h);
    gsl_vector_free(g);
}

void rfy_squares_solve(rfy_squares *s, rfy_arena *arena) {
    const size_t k = s->n_unknowns;
    s->x = RFY_NEW(arena, k, double);
    s->model = RFY_NEW(arena, s->n, double);
    s->jacobian = RFY_NEW(arena, s->n * k, double);
    s->weight = RFY_NEW(arena, s->n, double);
    s->soft = RFY_NEW(arena, s->n, double);
    s->covariance = RFY_NEW(arena, k * k, double);
    for (size_t j = 0; j < k; j++)
        s->x[j] = s->unknown[j].path ? log(s->unknown[j].start) : s->unknown[j].start;
    s->scatter = s->sigma > 0 ? s->sigma : neighbour_scatter(s);
    s->rounds = 0;
    approach(s, true, s->most_rounds > 0 ? s->most_rounds : 20);
}

void rfy_squares_resume(rfy_squares *s) {
    approach(s, false, 10);
}

bool rfy_squares_look(rfy_squares *s, rfy_arena *arena, bool fine, rfy_look *out) {
    const size_t k = s->n_unknowns;
    out->h = RFY_NEW(arena, k * k, double);
    out->g = RFY_NEW(arena, k, double);
    rfy_arena *own = rfy_arena_new();
    double *model = RFY_NEW(own, s->n, double), *jacobian = RFY_NEW(own, s->n * k, double);
    bool good = look(s, own, out->x, fine, model, jacobian);
    if (good) {
        gsl_matrix_view h = gsl_matrix_view_array(out->h, k, k);
        gsl_vector_view g = gsl_vector_view_array(out->g, k);
        out->cost = loss(s, model, false) + prior_loss(s, out->x);
        normal_equations(s, false, out->x, model, jacobian, &h.matrix, &g.vector);
    }
    rfy_arena_free(own);
    return good;
}
