#include "support/rise_records.h"
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "support/support.h"

enum { MOST = 1500 };

typedef struct record {
    truth_kind kind;
    scatter_kind scatter;
    size_t n;
    double length, background, slope, amount, tau, rise;
    double t[MOST], truth[MOST], sigma[MOST], reading[MOST];
} record;

static double curve(const record *r, double t) {
    return r->background + r->slope * t + r->amount * (1 - exp(-t / r->tau));
}

static void draw(record *r, truth_kind kind, scatter_kind scatter, gsl_rng *rng) {
    static const size_t lengths[] = {60, 240, 1500};
    r->kind = kind;
    r->scatter = scatter;
    r->n = lengths[gsl_rng_uniform_int(rng, 3)];
    r->length = 300 * pow(20, gsl_rng_uniform(rng));  /* 5 min to 100 min */
    r->rise = pow(10, -4 + 4 * gsl_rng_uniform(rng)); /* Pa */
    r->background = r->rise * (0.05 + 0.25 * gsl_rng_uniform(rng));
    r->tau = r->length * 0.08 * pow(10, gsl_rng_uniform(rng));
    double share = kind == TRUE_LEAK         ? 1
                   : kind == TRUE_OUTGASSING ? 0
                                             : 0.3 + 0.4 * gsl_rng_uniform(rng);
    r->slope = share * r->rise / r->length;
    r->amount = (1 - share) * r->rise / (1 - exp(-r->length / r->tau));
    for (size_t i = 0; i < r->n; i++) {
        r->t[i] = r->length * (double)i / (double)(r->n - 1);
        double p = r->truth[i] = curve(r, r->t[i]), z = gsl_ran_gaussian_ziggurat(rng, 1);
        r->sigma[i] = scatter == SCATTER_5       ? 0.05 * p
                      : scatter == SCATTER_FLOOR ? hypot(0.02 * p, 0.1 * r->rise)
                                                 : 0.3 * p;
        r->reading[i] = scatter == SCATTER_30_IN_RATIO ? p * exp(0.3 * z) : p + r->sigma[i] * z;
    }
}

/* ---- how far the truth is from curves of another kind, in squares of the scatter ---- */

/* Least weighted squares of the true curve less c0 + c1 f1 (+ c2 f2): normal equations by Cramer.
 */
static double distance(const record *r, const double *f1, const double *f2) {
    double a[3][4] = {{0}}, yy = 0;
    int n = f2 ? 3 : f1 ? 2 : 1;
    for (size_t i = 0; i < r->n; i++) {
        double b[3] = {1, f1 ? f1[i] : 0, f2 ? f2[i] : 0};
        double w = 1 / (r->sigma[i] * r->sigma[i]), y = (r->truth[i] - r->background) / r->rise;
        w *= r->rise * r->rise;
        for (int k = 0; k < n; k++) {
            for (int j = 0; j < n; j++)
                a[k][j] += w * b[k] * b[j];
            a[k][3] += w * b[k] * y;
        }
        yy += w * y * y;
    }
    double x[3] = {0};
    for (int i = 0; i < n; i++)
        for (int k = i + 1; k < n; k++) {
            double f = a[k][i] / a[i][i];
            for (int j = 0; j < 4; j++)
                a[k][j] -= f * a[i][j];
        }
    for (int i = n - 1; i >= 0; i--) {
        x[i] = a[i][3];
        for (int k = i + 1; k < n; k++)
            x[i] -= a[i][k] * x[k];
        x[i] /= a[i][i];
    }
    double sum = 0;
    for (size_t i = 0; i < r->n; i++) {
        double y = (r->truth[i] - r->background) / r->rise - x[0] - (f1 ? x[1] * f1[i] : 0) -
                   (f2 ? x[2] * f2[i] : 0);
        sum += y * y * r->rise * r->rise / (r->sigma[i] * r->sigma[i]);
    }
    return sum;
}

/* Distance to the nearest curve for which another verdict would hold: without the leak, without
 * the outgassing, or with half of the rise or more from what is not there. Levelling slower than
 * twice the record counts as a leak, as the answer says. */
static double distance_to_rivals(const record *r) {
    double line[MOST], level[MOST], mixed[MOST], least = INFINITY;
    for (size_t i = 0; i < r->n; i++)
        line[i] = r->t[i] / r->length;
    if (r->kind == TRUE_BOTH)
        least = distance(r, line, NULL);
    for (int k = 0; k < 60; k++) {
        double tau = r->length * 0.01 * pow(200, k / 59.0);
        for (size_t i = 0; i < r->n; i++) {
            level[i] = (1 - exp(-r->t[i] / tau)) / (1 - exp(-r->length / tau));
            mixed[i] = 0.5 * (line[i] + level[i]);
        }
        double d = r->kind == TRUE_BOTH ? distance(r, level, NULL) : distance(r, mixed, NULL);
        least = d < least ? d : least;
    }
    return least;
}

/* ---- counting ---- */

static void count(rise_tally *tally, const record *r, const rfy_rise_result *found) {
    static const rfy_rise_verdict right[] = {RFY_RISE_LEAK, RFY_RISE_OUTGASSING, RFY_RISE_BOTH};
    double volume = found->volume, outgassing = r->amount / r->tau;
    tally->records++;
    tally->leak_in += found->leak.low <= r->slope * volume && r->slope * volume <= found->leak.high;
    tally->outgassing_in += found->outgassing.low <= outgassing * volume &&
                            outgassing * volume <= found->outgassing.high;
    bool good = found->verdict == right[r->kind];
    bool silent = found->verdict == RFY_RISE_UNDECIDED || found->verdict == RFY_RISE_NOTHING;
    double apart = distance_to_rivals(r);
    if (apart >= 45) { /* Schwarz's 6 + 2 ln n, root, and 2.5 standard deviations more */
        tally->separable++;
        tally->right += good;
        tally->wrong_separable += !good && !silent;
    } else if (apart <= 1) {
        tally->alike++;
        tally->cannot_tell += silent;
        tally->wrong_alike += !good && !silent;
    } else {
        tally->between++;
        tally->wrong_between += !good && !silent;
    }
}

void rise_records_try(rise_tally *tally, scatter_kind scatter, size_t n, unsigned long seed) {
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    record *r = malloc(sizeof *r);
    assert_non_null(r);
    gsl_rng_set(rng, seed);
    for (size_t i = 0; i < n; i++) {
        draw(r, (truth_kind)(i % 3), scatter, rng);
        rfy_log log = {.name = "made", .n = r->n, .time = r->t, .pressure = r->reading};
        rfy_rise_options o = RFY_RISE_OPTIONS_INIT;
        o.volume = 1e-3;
        rfy_rise_result *found;
        assert_int_equal(rfy_rise(&found, &log, &o, NULL), RFY_OK);
        count(tally, r, found);
        rfy_rise_free(found);
    }
    free(r);
    gsl_rng_free(rng);
}

void rise_tally_write(FILE *out, const char *name, const rise_tally *t) {
    fprintf(out,
            "%-22s %4zu records: leak in its interval %.1f %%, outgassing %.1f %%; separable %zu, "
            "right %.1f %%, wrong %zu; alike %zu, \"cannot tell\" %.1f %%, wrong %zu; between %zu, "
            "wrong %zu\n",
            name, t->records, 100.0 * (double)t->leak_in / (double)t->records,
            100.0 * (double)t->outgassing_in / (double)t->records, t->separable,
            100.0 * (double)t->right / (double)(t->separable ? t->separable : 1),
            t->wrong_separable, t->alike,
            100.0 * (double)t->cannot_tell / (double)(t->alike ? t->alike : 1), t->wrong_alike,
            t->between, t->wrong_between);
}
