/* Which kind of curve a record speaks for, and how long it would have to be to tell. */
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>
#include "study/rise.h"

/* Kass and Raftery 1995 (J. Am. Stat. Assoc. 90, 773): a difference of 6 to 10 in Schwarz's
 * criterion is strong evidence. */
#define STRONG 6.0
/* What an F test must besides reach where readings are few. */
#define FEW 0.01

/* Whether `more` is needed: k more numbers bring chi2 down by more than Schwarz's criterion asks,
 * and by more than chance does (F test). The margin is in standard deviations of the root. */
static bool is_needed(double less, double more, double k, const rfy_rise_fit *f, double margin) {
    double gain = (less - more) / f->variance, n = (double)f->n;
    double least = STRONG + k * log(n);
    if (!(sqrt(fmax(gain, 0)) > sqrt(least) + margin))
        return false;
    double freedom = fmax(1, f->freedom);
    return margin > 0 || gsl_cdf_fdist_Q(gain / k, k, freedom) < FEW;
}

rfy_rise_judgement rfy_rise_judge(const rfy_rise_fit *f, double margin) {
    rfy_rise_judgement j = {.verdict = RFY_RISE_UNDECIDED};
    const double n = (double)f->n;
    const double chi2[4] = {f->nothing.chi2, f->leak.chi2, f->outgassing.chi2, f->both.chi2};
    static const double numbers[4] = {1, 2, 3, 4};
    double least = INFINITY;
    for (int i = 0; i < 4; i++) {
        j.bic[i] = chi2[i] / f->variance + numbers[i] * log(n);
        least = fmin(least, j.bic[i]);
    }
    for (int i = 0; i < 4; i++)
        j.bic[i] -= least;
    bool rises = is_needed(f->nothing.chi2, f->leak.chi2, 1, f, margin) ||
                 is_needed(f->nothing.chi2, f->outgassing.chi2, 2, f, margin);
    j.leak_certain = is_needed(f->outgassing.chi2, f->both.chi2, 1, f, margin);
    j.outgassing_certain = is_needed(f->leak.chi2, f->outgassing.chi2, 1, f, margin) ||
                           is_needed(f->leak.chi2, f->both.chi2, 2, f, margin);
    double last = f->t[f->n - 1], rise = rfy_rise_at(&f->both, last) - f->both.background;
    double low, high, wide = 1 + margin; /* foreseen intervals lie about the truth, not at it */
    double best = rfy_rise_value(&f->both, RFY_OF_SHARE);
    rfy_rise_interval(f->shapes, RFY_OF_SHARE, f->both.chi2, best, f->variance * wide, f->freedom,
                      0, &low, &high);
    j.outgassing_share = rise > 0 ? fmin(1, high / rise) : (double)NAN;
    rfy_rise_interval(f->shapes, RFY_OF_SLOPE, f->both.chi2, f->both.slope, f->variance * wide,
                      f->freedom, 0, &low, &high);
    j.leak_share = rise > 0 ? fmin(1, high * last / rise) : (double)NAN;
    if (!rises)
        j.verdict = RFY_RISE_NOTHING;
    else if (j.leak_certain && j.outgassing_certain)
        j.verdict = RFY_RISE_BOTH;
    else if (j.leak_certain && j.outgassing_share < 0.5)
        j.verdict = RFY_RISE_LEAK;
    else if (j.outgassing_certain && j.leak_share < 0.5)
        j.verdict = RFY_RISE_OUTGASSING;
    return j;
}

/* What would be told of a record of another length, if the curve were the truth. */
static rfy_rise_verdict foresee(rfy_arena *arena, const rfy_rise_fit *f,
                                const rfy_rise_curve *truth, double last) {
    enum { POINTS = 80 };
    double t[POINTS], y[POINTS], w[POINTS], n = (double)f->n * last / f->t[f->n - 1];
    double interval = f->t[f->n - 1] / (double)f->n;
    for (size_t i = 0; i < POINTS; i++) {
        t[i] = interval * (n - 1) * (double)i / (POINTS - 1);
        y[i] = rfy_rise_at(truth, t[i]);
        double s2 = f->noise.f * f->noise.f * y[i] * y[i] + f->noise.s * f->noise.s;
        w[i] = n / POINTS / (s2 * f->variance);
    }
    rfy_rise_fit g = *f;
    g.shapes = RFY_NEW(arena, 1, rfy_rise_shapes);
    g.n = POINTS;
    g.t = t;
    g.y = y;
    g.w = w;
    rfy_rise_data data = {POINTS, t, y, w};
    rfy_rise_law law = f->both.shape ? f->both.shape->law : RFY_RISE_LEVELS;
    rfy_rise_shapes_make(g.shapes, &data, law, 0.005 * last, 2 * last, 60);
    g.nothing = rfy_rise_best(g.shapes, 0);
    g.leak = rfy_rise_best(g.shapes, RFY_RISE_HAS_LEAK);
    g.outgassing = rfy_rise_best(g.shapes, RFY_RISE_HAS_OUTGASSING);
    g.both = rfy_rise_best(g.shapes, RFY_RISE_HAS_LEAK | RFY_RISE_HAS_OUTGASSING);
    g.variance = 1;
    g.freedom = fmax(1, n - 4);
    return rfy_rise_judge(&g, 1.645).verdict;
}

/* Whether every curve that the record allows would be told for what it is. */
static bool would_tell(rfy_arena *arena, const rfy_rise_fit *f, const rfy_rise_judgement *j,
                       double last) {
    bool maybe_leak = !j->outgassing_certain, maybe_out = !j->leak_certain;
    if (maybe_leak && foresee(arena, f, &f->leak, last) != RFY_RISE_LEAK)
        return false;
    if (maybe_out && f->outgassing.shape &&
        foresee(arena, f, &f->outgassing, last) != RFY_RISE_OUTGASSING)
        return false;
    if (!maybe_leak && !maybe_out && foresee(arena, f, &f->both, last) != RFY_RISE_BOTH)
        return false;
    return true;
}

double rfy_rise_needed(const rfy_rise_fit *f, const rfy_rise_judgement *j) {
    double last = f->t[f->n - 1], at = last;
    bool told = j->verdict != RFY_RISE_UNDECIDED && j->verdict != RFY_RISE_NOTHING;
    rfy_arena *arena = rfy_arena_new();
    rfy_rise_judgement as = *j;
    if (told) { /* would less have done? */
        as.leak_certain = j->verdict != RFY_RISE_OUTGASSING;
        as.outgassing_certain = j->verdict != RFY_RISE_LEAK;
        while (at > 0.02 * last && would_tell(arena, f, &as, at / 1.25))
            at /= 1.25;
    } else {
        at *= 1.25;
        while (at < 1000 * last && !would_tell(arena, f, &as, at))
            at *= 1.25;
        if (!(at < 1000 * last))
            at = INFINITY;
    }
    rfy_arena_free(arena);
    return at;
}
