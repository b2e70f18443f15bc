/* From readings to the best curves of each kind, with the scatter found on the way. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "study/rise.h"

/* Levelling slower than this many records looks like a leak to every rate-of-rise test of that
 * length: it is counted as one, and the answer says so. */
#define SLOWEST 2.0
/* Kass and Raftery 1995 (J. Am. Stat. Assoc. 90, 773): more than 10 in Schwarz's criterion is very
 * strong evidence. */
#define VERY_STRONG 10.0

static int by_value(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median_of(double *list, size_t n) {
    qsort(list, n, sizeof *list, by_value);
    return n % 2 ? list[n / 2] : 0.5 * (list[n / 2 - 1] + list[n / 2]);
}

/* ---- scatter ---- */

/* In ratio, readings are compared on a scale g with g' = 1/sigma: asinh(f p/s)/f (the variance
 * stabilising transform of this variance); in difference by (y - m)/sigma(m). */
static double sigma_at(const rfy_rise_noise *noise, double p) {
    return sqrt(noise->f * noise->f * p * p + noise->s * noise->s);
}

static double deviation(const rfy_rise_noise *noise, double y, double m) {
    if (!noise->ratio || !(noise->f > 0) || !(noise->s > 0))
        return (y - m) / sigma_at(noise, m);
    return (asinh(noise->f * y / noise->s) - asinh(noise->f * m / noise->s)) / noise->f;
}

/* -2 ln likelihood of the readings about a curve, Gauss on the scale of `deviation`. */
static double surprise(const rfy_rise_noise *noise, const double *y, const double *m, size_t n) {
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        double z = deviation(noise, y[i], m[i]);
        sum += z * z + 2 * log(sigma_at(noise, noise->ratio ? y[i] : m[i]));
    }
    return sum;
}

/* Least surprise over f and s by golden sections in turn; both kinds of scatter are tried. */
static double settle(rfy_rise_noise *noise, const double *y, const double *m, size_t n,
                     double top) {
    for (int round = 0; round < 5; round++) {
        double before_f = noise->f, before_s = noise->s;
        for (int which = 0; which < 2; which++) {
            double *x = which ? &noise->s : &noise->f;
            double most = which ? top : 3, least = which ? 1e-9 * top : 1e-7;
            double a = log(fmax(*x / 30, least)), b = log(fmin(*x * 30, most));
            const double g = 0.6180339887498949;
            double c = b - g * (b - a), d = a + g * (b - a), fc, fd;
            *x = exp(c);
            fc = surprise(noise, y, m, n);
            *x = exp(d);
            fd = surprise(noise, y, m, n);
            for (int i = 0; i < 18; i++) {
                if (fc < fd) {
                    b = d;
                    d = c;
                    fd = fc;
                    c = b - g * (b - a);
                    *x = exp(c);
                    fc = surprise(noise, y, m, n);
                } else {
                    a = c;
                    c = d;
                    fc = fd;
                    d = a + g * (b - a);
                    *x = exp(d);
                    fd = surprise(noise, y, m, n);
                }
            }
            *x = exp(0.5 * (a + b));
        }
        if (fabs(log(noise->f / before_f)) < 0.01 && fabs(log(noise->s / before_s)) < 0.01)
            break;
    }
    return surprise(noise, y, m, n);
}

/* Spread of readings about the line between their neighbours, over the spread foreseen there: a
 * first guess of the scatter that needs no curve (Gasser, Sroka and Jennen-Steinmetz 1986,
 * Biometrika 73, 625). NaN with fewer than 8 readings. */
static double neighbour_scatter(const rfy_rise_noise *noise, const double *t, const double *y,
                                size_t n, const double *m) {
    if (n < 8)
        return (double)NAN;
    double sum = 0;
    for (size_t i = 1; i + 1 < n; i++) {
        double a = (t[i + 1] - t[i]) / (t[i + 1] - t[i - 1]), b = 1 - a;
        double s = noise ? sigma_at(noise, m[i]) : 1;
        double d = (a * y[i - 1] + b * y[i + 1] - y[i]) / s;
        sum += d * d / (1 + a * a + b * b);
    }
    return sqrt(sum / (double)(n - 2));
}

/* ---- the grid of shapes ---- */

/* Outgassing that has levelled within this part of the record, or before the second reading, has
 * left nothing to see. */
#define FASTEST 0.02

static double shortest(const double *t, size_t n) {
    return fmax(0.5 * t[1], FASTEST * t[n - 1]);
}

static void fit_coarse(rfy_rise_fit *f, const rfy_rise_data *data) {
    double last = data->t[data->n - 1];
    rfy_rise_shapes_make(f->shapes, data, RFY_RISE_LEVELS, shortest(data->t, data->n),
                         SLOWEST * last, 24);
    f->both = rfy_rise_best(f->shapes, RFY_RISE_HAS_LEAK | RFY_RISE_HAS_OUTGASSING);
}

static void fit_all(rfy_rise_fit *f, const rfy_rise_data *data, rfy_rise_law law) {
    double last = data->t[data->n - 1], least = shortest(data->t, data->n), most = SLOWEST * last;
    if (law != RFY_RISE_LEVELS)
        most = 0.5 * last;
    if (!(least < 0.5 * most))
        least = 0.1 * most;
    rfy_rise_shapes_make(f->shapes, data, law, least, most, 40);
    f->both = rfy_rise_best(f->shapes, RFY_RISE_HAS_LEAK | RFY_RISE_HAS_OUTGASSING);
    /* once more about the best, so that a sharp minimum is not missed between two shapes */
    size_t from = f->shapes->n, to = 0;
    double bound = f->both.chi2 + 40 * f->both.chi2 / fmax(1, (double)data->n - 4);
    for (size_t k = 0; k < f->shapes->n; k++) {
        rfy_rise_shapes one = {.n = 1, .yy = f->shapes->yy, .last = f->shapes->last};
        one.shape[0] = f->shapes->shape[k];
        if (rfy_rise_best(&one, f->both.parts).chi2 <= bound) {
            from = k < from ? k : from;
            to = k;
        }
    }
    if (from > 0)
        from--;
    if (to + 1 < f->shapes->n)
        to++;
    double low = f->shapes->shape[from].tau, high = f->shapes->shape[to].tau;
    if (low < high && to - from < 30)
        rfy_rise_shapes_make(f->shapes, data, law, low, high, 60);
    f->nothing = rfy_rise_best(f->shapes, 0);
    f->leak = rfy_rise_best(f->shapes, RFY_RISE_HAS_LEAK);
    f->outgassing = rfy_rise_best(f->shapes, RFY_RISE_HAS_OUTGASSING);
    f->both = rfy_rise_best(f->shapes, RFY_RISE_HAS_LEAK | RFY_RISE_HAS_OUTGASSING);
}

/* ---- robust beginning ---- */

/* Of fewer readings the curve goes through all but one or two, and those look far off. */
static const size_t fewest = 12;

/* Cauchy's loss by reweighting (Holland and Welsch 1977, Commun. Stat. A6, 813; 2.385 gives 95 %
 * efficiency under Gauss's law), then everything beyond 5 standard deviations of the rest goes. */
static size_t drop_outliers(rfy_rise_fit *f, const rfy_rise_noise *guess, double *m) {
    rfy_rise_data data = {f->n, f->t, f->y, f->w};
    double *z = rfy_xcalloc(f->n, sizeof *z);
    double scale = 1;
    for (int round = 0; round < 8; round++) {
        for (size_t i = 0; i < f->n; i++) {
            double s = sigma_at(guess, round ? m[i] : f->y[i]);
            double d = round ? (f->y[i] - m[i]) / (s * scale) / 2.385 : 0;
            f->w[i] = 1 / (s * s) / (1 + d * d);
        }
        fit_coarse(f, &data);
        for (size_t i = 0; i < f->n; i++) {
            m[i] = rfy_rise_at(&f->both, f->t[i]);
            z[i] = fabs(f->y[i] - m[i]) / sigma_at(guess, m[i]);
        }
        scale = 1.4826 * median_of(z, f->n);
        if (!(scale > 1e-9))
            scale = 1e-9;
    }
    size_t kept = 0;
    for (size_t i = 0; i < f->n; i++) {
        double s = sigma_at(guess, m[i]) * scale, d = (f->y[i] - m[i]) / s;
        double part = s / fmax(m[i], 1e-300); /* in ratio, as large scatter may be */
        if (part > 0.1 && f->y[i] > 0 && m[i] > 0)
            d = fmin(fabs(d), fabs(log(f->y[i] / m[i])) / part);
        if (fabs(d) > 5 && f->n >= fewest)
            continue;
        f->t[kept] = f->t[i];
        f->y[kept] = f->y[i];
        m[kept++] = m[i];
    }
    free(z);
    size_t dropped = f->n - kept;
    if (kept < 5 || 4 * dropped > f->n) /* that is no scatter with outliers */
        return 0;
    f->n = kept;
    return dropped;
}

/* ---- the last step to the minimum ---- */

typedef struct polish_data {
    const rfy_rise_data *data;
    const rfy_rise_curve *curve;
    bool slope;
} polish_data;

static rfy_rise_curve curve_of(const gsl_vector *x, const polish_data *p, rfy_rise_shape *shape) {
    *shape = *p->curve->shape;
    shape->tau = exp(gsl_vector_get(x, 2));
    rfy_rise_curve c = {.background = gsl_vector_get(x, 0), .amount = gsl_vector_get(x, 1)};
    c.slope = p->slope ? gsl_vector_get(x, 3) : 0;
    c.shape = shape;
    return c;
}

static int residuals(const gsl_vector *x, void *params, gsl_vector *f) {
    const polish_data *p = params;
    rfy_rise_shape shape;
    rfy_rise_curve c = curve_of(x, p, &shape);
    for (size_t i = 0; i < p->data->n; i++)
        gsl_vector_set(f, i,
                       sqrt(p->data->w[i]) * (rfy_rise_at(&c, p->data->t[i]) - p->data->y[i]));
    return GSL_SUCCESS;
}

/* Levenberg and Marquardt from the best shape of the grid to the minimum beside it; the curve is
 * left as it was unless that finds a better one within the bounds. */
static void polish(rfy_rise_curve *curve, rfy_rise_shape *own, const rfy_rise_data *data) {
    bool slope = curve->slope > 0;
    size_t n = slope ? 4 : 3;
    if (!curve->shape || !(curve->amount > 0) || data->n < n)
        return;
    polish_data p = {data, curve, slope};
    gsl_multifit_nlinear_parameters with = gsl_multifit_nlinear_default_parameters();
    with.scale = gsl_multifit_nlinear_scale_more;
    gsl_multifit_nlinear_fdf fdf = {.f = residuals, .n = data->n, .p = n, .params = &p};
    gsl_multifit_nlinear_workspace *work =
        gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &with, data->n, n);
    gsl_vector *x = gsl_vector_alloc(n);
    if (work && x) {
        gsl_vector_set(x, 0, curve->background);
        gsl_vector_set(x, 1, curve->amount);
        gsl_vector_set(x, 2, log(curve->shape->tau));
        if (slope)
            gsl_vector_set(x, 3, curve->slope);
        int info;
        if (gsl_multifit_nlinear_init(x, &fdf, work) == GSL_SUCCESS)
            gsl_multifit_nlinear_driver(30, 1e-9, 1e-9, 0, NULL, NULL, &info, work);
        rfy_rise_shape shape;
        rfy_rise_curve better = curve_of(gsl_multifit_nlinear_position(work), &p, &shape);
        double chi2 = 0;
        for (size_t i = 0; i < data->n; i++) {
            double d = rfy_rise_at(&better, data->t[i]) - data->y[i];
            chi2 += data->w[i] * d * d;
        }
        double most = SLOWEST * data->t[data->n - 1];
        if (chi2 < curve->chi2 && better.amount > 0 && better.slope >= 0 && shape.tau <= most &&
            shape.tau >= shortest(data->t, data->n)) {
            shape.initial *= curve->shape->tau / shape.tau;
            shape.final = rfy_rise_h(&shape, data->t[data->n - 1]);
            *own = shape;
            better.parts = curve->parts;
            better.chi2 = chi2;
            *curve = better;
            curve->shape = own;
        }
    }
    gsl_vector_free(x);
    gsl_multifit_nlinear_free(work);
}

/* ---- all of it ---- */

/* Fit and scatter in turn until they agree. In ratio, the readings are moved to where their
 * deviation stands in difference, so that the curves stay linear. */
static void iterate(rfy_rise_fit *f, rfy_rise_law law, const double *y, double *m, double top) {
    rfy_rise_data data = {f->n, f->t, f->y, f->w};
    rfy_rise_noise kinds[2] = {f->noise, f->noise};
    kinds[1].ratio = true;
    for (int round = 0; round < 8; round++) {
        if (f->n >= 12) {
            double plain = settle(&kinds[0], y, m, f->n, top);
            /* in ratio only where the scatter is large enough to tell, and all readings allow it */
            f->noise = kinds[0];
            if (kinds[0].f > 0.08) {
                double even = settle(&kinds[1], y, m, f->n, top);
                if (even < plain)
                    f->noise = kinds[1];
            }
        }
        for (size_t i = 0; i < f->n; i++) {
            double s = sigma_at(&f->noise, m[i]);
            f->w[i] = 1 / (s * s);
            f->y[i] = f->noise.ratio ? m[i] + s * deviation(&f->noise, y[i], m[i]) : y[i];
        }
        double before = f->both.chi2;
        fit_all(f, &data, law);
        for (size_t i = 0; i < f->n; i++)
            m[i] = rfy_rise_at(&f->both, f->t[i]);
        if (round > 2 && fabs(f->both.chi2 - before) < 1e-4 * before)
            break;
    }
    double parts = 1 + (f->both.slope > 0) + 2 * (f->both.amount > 0);
    f->freedom = fmax(1, (double)f->n - parts);
    f->variance = fmax(f->both.chi2 / f->freedom, 1e-30);
}

void rfy_rise_fit_make(rfy_rise_fit *f, rfy_arena *arena, const double *t, const double *y,
                       size_t n) {
    *f = (rfy_rise_fit){.n = n, .misfit = NAN};
    f->t = RFY_NEW(arena, n, double);
    f->y = RFY_NEW(arena, n, double);
    f->w = RFY_NEW(arena, n, double);
    f->shapes = RFY_NEW(arena, 1, rfy_rise_shapes);
    double *m = RFY_NEW(arena, n, double), *read = RFY_NEW(arena, n, double), top = 0;
    memcpy(f->t, t, n * sizeof *t);
    memcpy(f->y, y, n * sizeof *y);
    for (size_t i = 0; i < n; i++)
        top = fmax(top, fabs(y[i]));
    double spread = neighbour_scatter(NULL, t, y, n, NULL);
    if (!(spread > 1e-7 * top))
        spread = fmax(1e-7 * top, 1e-300);
    f->noise = (rfy_rise_noise){.f = n < 12 ? 1e-9 : 0.5 * spread / top, .s = 0.5 * spread};
    if (n >= 12) {
        /* a first guess of how the scatter goes with pressure, from neighbours */
        for (size_t i = 0; i < n; i++)
            m[i] = i > 0 && i + 1 < n ? (y[i - 1] + y[i] + y[i + 1]) / 3 : y[i];
        settle(&f->noise, y, m, n, top);
    }
    f->n_outliers = drop_outliers(f, &f->noise, m);
    memcpy(read, f->y, f->n * sizeof *read);
    iterate(f, RFY_RISE_LEVELS, read, m, top);
    double foreseen = neighbour_scatter(&f->noise, f->t, read, f->n, m);
    f->misfit = sqrt(f->variance) / foreseen;
    /* Another law of outgassing only where levelling plainly does not do. */
    if (f->n >= 12 && f->both.amount > 0) {
        static const rfy_rise_law laws[] = {RFY_RISE_LOG, RFY_RISE_ROOT};
        rfy_rise_data data = {f->n, f->t, f->y, f->w};
        rfy_rise_law best = RFY_RISE_LEVELS;
        double least = (double)f->n * log(f->both.chi2) - VERY_STRONG, levels = f->both.chi2;
        for (int i = 0; i < 2 && levels > 0; i++) {
            fit_all(f, &data, laws[i]);
            double own = (double)f->n * log(f->both.chi2);
            if (own < least) {
                least = own;
                best = laws[i];
            }
        }
        iterate(f, best, read, m, top);
        foreseen = neighbour_scatter(&f->noise, f->t, read, f->n, m);
        f->misfit = sqrt(f->variance) / foreseen;
    }
    rfy_rise_data data = {f->n, f->t, f->y, f->w};
    rfy_rise_shape *own = RFY_NEW(arena, 2, rfy_rise_shape);
    polish(&f->both, &own[0], &data);
    polish(&f->outgassing, &own[1], &data);
    f->variance = fmax(f->both.chi2 / f->freedom, 1e-30);
}
