#include "study/rise_shapes.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

double rfy_rise_h(const rfy_rise_shape *shape, double t) {
    switch (shape->law) {
    case RFY_RISE_LOG:
        return log1p(t / shape->tau);
    case RFY_RISE_ROOT:
        return sqrt(1 + t / shape->tau) - 1;
    case RFY_RISE_LEVELS:
        break;
    }
    return -expm1(-t / shape->tau);
}

double rfy_rise_at(const rfy_rise_curve *curve, double t) {
    return curve->background + curve->slope * t +
           (curve->shape ? curve->amount * rfy_rise_h(curve->shape, t) : 0);
}

void rfy_rise_shapes_make(rfy_rise_shapes *out, const rfy_rise_data *data, rfy_rise_law law,
                          double tau_least, double tau_most, size_t n) {
    out->n = n < RFY_RISE_MOST_SHAPES ? n : RFY_RISE_MOST_SHAPES;
    out->last = data->t[data->n - 1];
    double base[6] = {0}; /* w, wt, wtt, wy, wty, wyy */
    for (size_t i = 0; i < data->n; i++) {
        double w = data->w[i], t = data->t[i], y = data->y[i];
        base[0] += w;
        base[1] += w * t;
        base[2] += w * t * t;
        base[3] += w * y;
        base[4] += w * t * y;
        base[5] += w * y * y;
    }
    out->yy = base[5];
    for (size_t k = 0; k < out->n; k++) {
        rfy_rise_shape *s = &out->shape[k];
        double part = out->n > 1 ? (double)k / (double)(out->n - 1) : 0;
        *s = (rfy_rise_shape){.law = law, .tau = tau_least * pow(tau_most / tau_least, part)};
        s->initial = (law == RFY_RISE_ROOT ? 0.5 : 1) / s->tau;
        s->final = rfy_rise_h(s, out->last);
        double sums[4] = {0};
        for (size_t i = 0; i < data->n; i++) {
            double h = rfy_rise_h(s, data->t[i]), wh = data->w[i] * h;
            sums[0] += wh;
            sums[1] += wh * data->t[i];
            sums[2] += wh * h;
            sums[3] += wh * data->y[i];
        }
        s->s[0][0] = base[0];
        s->s[0][1] = s->s[1][0] = base[1];
        s->s[1][1] = base[2];
        s->s[0][2] = s->s[2][0] = sums[0];
        s->s[1][2] = s->s[2][1] = sums[1];
        s->s[2][2] = sums[2];
        s->v[0] = base[3];
        s->v[1] = base[4];
        s->v[2] = sums[3];
    }
}

/* Solves the normal equations for the parts in `use` (part 0, the background, always), the others
 * being fixed at x. False when they are singular. */
static bool solve(const rfy_rise_shape *s, const bool use[3], double x[3]) {
    int place[3], n = 0;
    double a[3][4], scale[3];
    for (int i = 0; i < 3; i++)
        if (use[i])
            place[n++] = i;
    for (int i = 0; i < n; i++) {
        scale[i] = 1 / sqrt(s->s[place[i]][place[i]]);
        if (!isfinite(scale[i]))
            return false;
    }
    for (int i = 0; i < n; i++) {
        double right = s->v[place[i]];
        for (int k = 0; k < 3; k++)
            if (!use[k])
                right -= s->s[place[i]][k] * x[k];
        for (int k = 0; k < n; k++)
            a[i][k] = s->s[place[i]][place[k]] * scale[i] * scale[k];
        a[i][n] = right * scale[i];
    }
    for (int i = 0; i < n; i++) { /* symmetric and positive: no pivoting is needed */
        if (!(a[i][i] > 1e-12))
            return false;
        for (int k = i + 1; k < n; k++) {
            double f = a[k][i] / a[i][i];
            for (int j = i; j <= n; j++)
                a[k][j] -= f * a[i][j];
        }
    }
    for (int i = n - 1; i >= 0; i--) {
        double sum = a[i][n];
        for (int k = i + 1; k < n; k++)
            sum -= a[i][k] * x[place[k]] / scale[k];
        x[place[i]] = sum / a[i][i] * scale[i];
    }
    return true;
}

static double chi2_of(const rfy_rise_shape *s, double yy, const double x[3]) {
    double sum = yy;
    for (int i = 0; i < 3; i++) {
        sum -= 2 * x[i] * s->v[i];
        for (int k = 0; k < 3; k++)
            sum += x[i] * x[k] * s->s[i][k];
    }
    return sum > 0 ? sum : 0;
}

/* The best of one shape with parts free or fixed, none of those that may vary below zero. */
static double best_of(const rfy_rise_shape *s, double yy, const bool may[3], double x[3]) {
    double best = INFINITY, from[3];
    memcpy(from, x, sizeof from);
    for (int mask = 0; mask < 4; mask++) {
        bool use[3] = {true, (mask & 1) != 0, (mask & 2) != 0};
        if ((use[1] && !may[1]) || (use[2] && !may[2]))
            continue;
        double y[3] = {0, may[1] ? 0 : from[1], may[2] ? 0 : from[2]};
        if (!solve(s, use, y) || (use[1] && y[1] < 0) || (use[2] && y[2] < 0))
            continue;
        double chi2 = chi2_of(s, yy, y);
        if (chi2 < best) {
            best = chi2;
            memcpy(x, y, sizeof y);
        }
    }
    return best;
}

rfy_rise_curve rfy_rise_best(const rfy_rise_shapes *shapes, int parts) {
    rfy_rise_curve best = {.parts = parts, .chi2 = INFINITY};
    bool may[3] = {true, (parts & RFY_RISE_HAS_LEAK) != 0, (parts & RFY_RISE_HAS_OUTGASSING) != 0};
    for (size_t k = 0; k < shapes->n; k++) {
        double x[3] = {0};
        double chi2 = best_of(&shapes->shape[k], shapes->yy, may, x);
        if (chi2 < best.chi2) {
            best.chi2 = chi2;
            best.background = x[0];
            best.slope = x[1];
            best.amount = x[2];
            best.shape = may[2] ? &shapes->shape[k] : NULL;
        }
        if (!may[2])
            break;
    }
    return best;
}

static double multiple(const rfy_rise_shape *s, rfy_rise_of of) {
    return of == RFY_OF_INITIAL ? s->initial : of == RFY_OF_SHARE ? s->final : 1;
}

double rfy_rise_value(const rfy_rise_curve *curve, rfy_rise_of of) {
    if (of == RFY_OF_SLOPE)
        return curve->slope;
    return curve->shape ? curve->amount * multiple(curve->shape, of) : 0;
}

double rfy_rise_profile(const rfy_rise_shapes *shapes, rfy_rise_of of, double value) {
    double best = INFINITY;
    for (size_t k = 0; k < shapes->n; k++) {
        const rfy_rise_shape *s = &shapes->shape[k];
        bool slope = of == RFY_OF_SLOPE;
        bool may[3] = {true, !slope, slope};
        double x[3] = {0, slope ? value : 0, slope ? 0 : value / multiple(s, of)};
        double chi2 = best_of(s, shapes->yy, may, x);
        best = chi2 < best ? chi2 : best;
    }
    return best;
}

double rfy_rise_threshold(double mu) {
    double low = 2.7055, high = 3.8415; /* one-sided and two-sided 95 % */
    if (mu <= 0)
        return low;
    for (int i = 0; i < 40; i++) {
        double c = 0.5 * (low + high), root = sqrt(c);
        double least = mu >= root ? -root : (mu * mu - c) / (2 * mu) - mu;
        double chance = gsl_cdf_ugaussian_P(root) - gsl_cdf_ugaussian_P(least);
        *(chance < 0.95 ? &low : &high) = c;
    }
    return high;
}

void rfy_rise_interval(const rfy_rise_shapes *shapes, rfy_rise_of of, double chi2_least,
                       double best, double variance, double freedom, double wider, double *low,
                       double *high) {
    double scale = 1;
    if (freedom >= 1)
        scale = pow(gsl_cdf_tdist_Pinv(0.975, freedom) / 1.959963984540054, 2);
    *low = 0;
    *high = INFINITY;
    /* a step to where the profile has risen by about 1 */
    double step = 0, span = shapes->yy > 0 ? sqrt(variance) : 0;
    const rfy_rise_shape *s = &shapes->shape[shapes->n / 2];
    double unit = of == RFY_OF_SLOPE ? 1 / sqrt(s->s[1][1]) : multiple(s, of) / sqrt(s->s[2][2]);
    step = span * unit;
    if (!(step > 0))
        step = best > 0 ? 1e-12 * best : 1e-300;
    for (int i = 0; i < 200; i++) {
        double rise = (rfy_rise_profile(shapes, of, best + step) - chi2_least) / variance;
        if (rise > 1)
            break;
        step *= 2;
        if (step > 1e30)
            return;
    }
    /* The profile near its least is (x - x0)^2/sigma^2, x0 below zero when the bound holds it: the
     * second difference gives sigma. */
    double d1 = (rfy_rise_profile(shapes, of, best + step) - chi2_least) / variance;
    double d2 = (rfy_rise_profile(shapes, of, best + 2 * step) - chi2_least) / variance;
    double bend = d2 - 2 * d1;
    double sigma = bend > 0 ? step * sqrt(2 / bend) : step;
    double from = best, to = best + step;
    for (int side = 0; side < 2; side++) {
        if (side == 0) {
            for (int i = 0; i < 200; i++) {
                double c =
                    scale * rfy_rise_threshold(to / sigma) * (1 + wider * exp(-0.5 * to / sigma));
                if ((rfy_rise_profile(shapes, of, to) - chi2_least) / variance > c)
                    break;
                from = to;
                to = best + 2 * (to - best);
            }
        } else {
            from = best;
            to = 0;
            double c = scale * rfy_rise_threshold(0) * (1 + wider);
            if (best <= 0 || (rfy_rise_profile(shapes, of, 0) - chi2_least) / variance <= c)
                return;
        }
        for (int i = 0; i < 60; i++) {
            double mid = 0.5 * (from + to);
            double c =
                scale * rfy_rise_threshold(mid / sigma) * (1 + wider * exp(-0.5 * mid / sigma));
            *((rfy_rise_profile(shapes, of, mid) - chi2_least) / variance > c ? &to : &from) = mid;
        }
        *(side == 0 ? high : low) = 0.5 * (from + to);
    }
}
