/* Readings beside a predicted curve, and their deviation as stretches of time. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/problem.h"
#include "study/answers.h"

/* Within this factor a reading is on the curve: what good gauges differ by (common practice, no
 * source). */
#define ON_CURVE 1.25

static long find_column(const rfy_result *r, const char *name, bool *gauge) {
    *gauge = true;
    if (!name && r->n_gauges == 1)
        return 0;
    for (size_t i = 0; i < r->n_gauges && name; i++)
        if (strcmp(r->gauge[i], name) == 0)
            return (long)i;
    *gauge = false;
    for (size_t i = 0; i < r->n_chambers && name; i++)
        if (strcmp(r->chamber[i], name) == 0)
            return (long)i;
    return -1;
}

static double value_at(const rfy_result *r, size_t i, long column, bool gauge) {
    return gauge ? r->gauge_reading[i * r->n_gauges + (size_t)column]
                 : r->pressure[i * r->n_chambers + (size_t)column];
}

/* Between two instants of the series, straight in ln p by time. */
static double predicted(const rfy_result *r, double time, long column, bool gauge) {
    size_t low = 0, high = r->n_times - 1;
    if (r->n_times == 0 || time < r->time[0] || time > r->time[high])
        return (double)NAN;
    while (high - low > 1) {
        size_t mid = (low + high) / 2;
        *(r->time[mid] <= time ? &low : &high) = mid;
    }
    double a = value_at(r, low, column, gauge), b = value_at(r, high, column, gauge);
    double span = r->time[high] - r->time[low], part = span > 0 ? (time - r->time[low]) / span : 0;
    return a > 0 && b > 0 ? exp(log(a) + part * (log(b) - log(a))) : (double)NAN;
}

static int by_value(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median_of(const double *d, size_t from, size_t to) {
    double own[9];
    size_t n = 0;
    for (size_t i = from; i <= to && n < 9; i++)
        own[n++] = d[i];
    qsort(own, n, sizeof *own, by_value);
    return own[n / 2];
}

/* Stretches on one side; those of fewer than a twentieth of the readings join the one before. */
static void find_parts(rfy_arena *arena, rfy_overlay *o) {
    double *d = RFY_NEW(arena, o->n, double), *size = RFY_NEW(arena, o->n, double);
    rfy_deviation *part = RFY_NEW(arena, o->n, rfy_deviation);
    size_t *count = RFY_NEW(arena, o->n, size_t), n = 0;
    for (size_t i = 0; i < o->n; i++) {
        d[i] = log(o->measured[i] / o->predicted[i]);
        size[i] = fabs(d[i]);
    }
    for (size_t i = 0; i < o->n; i++) {
        size_t from = i > 2 ? i - 2 : 0, to = i + 2 < o->n ? i + 2 : o->n - 1;
        double smooth = median_of(d, from, to);
        int side = smooth > log(ON_CURVE) ? 1 : smooth < -log(ON_CURVE) ? -1 : 0;
        if (n == 0 || side != part[n - 1].side) {
            if (n > 0 && count[n - 1] * 20 < o->n) { /* too short to tell of */
                n--;
                if (n > 0 && part[n - 1].side == side) {
                    part[n - 1].to = o->time[i];
                    count[n - 1]++;
                    continue;
                }
            }
            double begin = n > 0 ? part[n - 1].to : o->time[0];
            part[n] = (rfy_deviation){
                .from = begin, .to = o->time[i], .side = side, .most = 1, .most_at = o->time[i]};
            count[n++] = 0;
        }
        part[n - 1].to = o->time[i];
        count[n - 1]++;
    }
    for (size_t k = 0; k < n; k++)
        for (size_t i = 0; i < o->n; i++) {
            rfy_deviation *p = &part[k];
            if (o->time[i] < p->from || o->time[i] > p->to || (p->side != 0 && p->side * d[i] < 0))
                continue;
            if (fabs(d[i]) > fabs(log(p->most))) {
                p->most = exp(d[i]);
                p->most_at = o->time[i];
            }
        }
    o->part = part;
    o->n_parts = n;
    qsort(size, o->n, sizeof *size, by_value);
    o->scatter = size[o->n / 2];
}

rfy_status rfy_result_measure(rfy_result *result, const rfy_log *log, const char *gauge,
                              rfy_problems *problems) {
    rfy_arena *arena = ((rfy_result_box *)result)->arena;
    rfy_overlay *o = RFY_NEW(arena, 1, rfy_overlay);
    rfy_place at = {0, 0, ""};
    bool of_gauge;
    long column = find_column(result, gauge, &of_gauge);
    if (column < 0) {
        const char *allowed = "";
        for (size_t i = 0; i < result->n_gauges; i++)
            allowed =
                rfy_arena_printf(arena, "%s%s\"%s\"", allowed, i ? ", " : "", result->gauge[i]);
        if (!*allowed)
            allowed = "a chamber of the description";
        if (gauge)
            rfy_problem_add(problems, RFY_ERROR, &at, allowed, NULL,
                            "--gauge: \"%.60s\" is neither a gauge nor a chamber", gauge);
        else
            rfy_problem_add(problems, RFY_ERROR, &at, allowed, NULL,
                            "say with --gauge whose readings the log holds");
        return RFY_BAD_INPUT;
    }
    double *time = RFY_NEW(arena, log->n, double), *measured = RFY_NEW(arena, log->n, double);
    double *curve = RFY_NEW(arena, log->n, double);
    *o = (rfy_overlay){.log = log,
                       .gauge = of_gauge ? result->gauge[column] : result->chamber[column],
                       .time = time,
                       .measured = measured,
                       .predicted = curve};
    for (size_t i = 0; i < log->n; i++) {
        double p = predicted(result, log->time[i], column, of_gauge);
        if (!(p > 0) || !(log->pressure[i] > 0)) {
            o->n_beyond++;
            continue;
        }
        time[o->n] = log->time[i];
        measured[o->n] = log->pressure[i];
        curve[o->n++] = p;
    }
    if (o->n == 0) {
        rfy_problem_add(problems, RFY_ERROR, &at, NULL, NULL,
                        "no reading of the log has a prediction of %s beside it", o->gauge);
        return RFY_BAD_INPUT;
    }
    find_parts(arena, o);
    result->measured = o;
    return RFY_OK;
}
