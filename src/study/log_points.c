#include "study/log_points.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/problem.h"

static const char *list_names(rfy_arena *arena, const rfy_network *net) {
    const char *text = "";
    for (int i = 0; i < net->n_gauges; i++)
        text = rfy_arena_printf(arena, "%s%s\"%s\"", text, i ? ", " : "", net->gauge[i].name);
    return net->n_gauges > 0 ? text : "a chamber of the description, for its true pressure";
}

static bool find_place(rfy_log_points *out, rfy_arena *arena, const rfy_network *net,
                       const char *name, rfy_problems *problems) {
    rfy_place at = {0, 0, ""};
    out->gauge = out->node = -1;
    if (!name && net->n_gauges == 1)
        name = net->gauge[0].name;
    for (int i = 0; i < net->n_gauges && name; i++)
        if (strcmp(net->gauge[i].name, name) == 0) {
            out->gauge = i;
            out->node = net->gauge[i].node;
        }
    for (int i = 0; i < net->n_free && name && out->node < 0; i++)
        if (!net->node[i].internal && strcmp(net->node[i].name, name) == 0)
            out->node = i;
    if (out->node >= 0) {
        out->name = rfy_arena_strdup(arena, name);
        return true;
    }
    const char *allowed = list_names(arena, net);
    if (name)
        rfy_problem_add(problems, RFY_ERROR, &at, allowed, NULL,
                        "--gauge: \"%.60s\" is neither a gauge nor a chamber of the description",
                        name);
    else
        rfy_problem_add(problems, RFY_ERROR, &at, allowed, "say which with --gauge",
                        "it is not said which gauge the log is of");
    return false;
}

static int by_value(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* As in least_squares.c: Gasser, Sroka and Jennen-Steinmetz 1986, by the median. */
static double neighbour_noise(const rfy_log_points *p) {
    if (p->n < 12)
        return (double)NAN;
    double *d = rfy_xcalloc(p->n, sizeof *d);
    size_t k = 0;
    for (size_t i = 1; i + 1 < p->n; i++) {
        double a = (p->t[i + 1] - p->t[i]) / (p->t[i + 1] - p->t[i - 1]), b = 1 - a;
        d[k++] = fabs(a * p->y[i - 1] + b * p->y[i + 1] - p->y[i]) / sqrt(1 + a * a + b * b);
    }
    qsort(d, k, sizeof *d, by_value);
    double noise = 1.4826 * d[k / 2];
    free(d);
    return noise;
}

/* Means of readings that stand closer than a share of their time; the share grows until there are
 * few enough. */
static void thin(rfy_log_points *p, size_t most) {
    double ratio = 1e-3;
    while (p->n > most) {
        size_t kept = 0, weight = 1;
        double from = p->t[0], zero = p->t[0], soon = p->t[p->n > 4 ? 4 : p->n - 1] - zero;
        for (size_t i = 1; i < p->n; i++) {
            if (p->t[i] - from <= ratio * (p->t[i] - zero + soon)) {
                double w = (double)weight;
                p->t[kept] = (w * p->t[kept] + p->t[i]) / (w + 1);
                p->y[kept] = (w * p->y[kept] + p->y[i]) / (w + 1);
                weight++;
            } else {
                from = p->t[i];
                p->t[++kept] = p->t[i];
                p->y[kept] = p->y[i];
                weight = 1;
            }
        }
        p->n = kept + 1;
        ratio *= 1.25;
    }
}

bool rfy_log_points_take(rfy_log_points *out, rfy_arena *arena, const rfy_network *net,
                         const rfy_log *readings, const char *name, size_t most,
                         rfy_problems *problems) {
    *out = (rfy_log_points){.noise = NAN};
    if (!find_place(out, arena, net, name, problems))
        return false;
    double low = 0, high = INFINITY;
    if (out->gauge >= 0) {
        const rfy_gauge *g = &net->gauge[out->gauge];
        low = isnan(g->low) ? 0 : g->low;
        high = isnan(g->high) ? (double)INFINITY : g->high;
    }
    out->t = RFY_NEW(arena, readings->n, double);
    out->y = RFY_NEW(arena, readings->n, double);
    for (size_t i = 0; i < readings->n; i++) {
        double p = readings->pressure[i];
        if (!(p > 0) || p < low || p > high) {
            out->n_beyond++;
            continue;
        }
        out->t[out->n] = readings->time[i];
        out->y[out->n++] = log(p);
    }
    if (out->n < 3) {
        rfy_place at = {0, 0, ""};
        rfy_problem_add(problems, RFY_ERROR, &at, NULL, NULL,
                        "only %zu of %zu readings lie above zero and within the range of %s",
                        out->n, readings->n, out->name);
        return false;
    }
    thin(out, most);
    out->noise = neighbour_noise(out);
    return true;
}
