/* Systems side by side: a whole run of each, and where the curves part. */
#include <math.h>
#include <string.h>
#include "study/answers.h"
#include "study/changes.h"
#include "study/jobs.h"

enum { INSTANTS = 600, GRID = 400, MOST_CHANGES = 12 };

typedef struct box {
    rfy_comparison comparison; /* first */
    rfy_arena *arena;
} box;

typedef struct comparing {
    const rfy_system *const *system;
    const rfy_compare_options *options;
    const double *at;
    rfy_result **result;
} comparing;

static void work(void *context, size_t i) {
    comparing *c = context;
    rfy_run_options o = RFY_RUN_OPTIONS_INIT;
    o.method = c->options->method;
    o.tolerance = c->options->tolerance;
    o.stop = c->options->stop;
    o.at = c->at;
    o.n_at = INSTANTS;
    rfy_run(&c->result[i], c->system[i], &o);
}

/* Instants up to the longest run: close enough that a straight line on log paper between them is
 * better than the threshold asks. */
static double *instants(rfy_arena *arena, const rfy_system *const *system, size_t n) {
    double *at = RFY_NEW(arena, INSTANTS, double), until = 0;
    for (size_t i = 0; i < n; i++)
        until = fmax(until, system[i]->network->until);
    const double first = 0.02 < until * 1e-3 ? 0.02 : until * 1e-3;
    at[0] = 0;
    for (int k = 1; k < INSTANTS; k++)
        at[k] = first * pow(until / first, (double)(k - 1) / (INSTANTS - 2));
    at[INSTANTS - 1] = until;
    return at;
}

/* ---- where curves part ---- */

static long chamber_named(const rfy_result *r, const char *name) {
    for (size_t k = 0; k < r->n_chambers; k++)
        if (strcmp(r->chamber[k], name) == 0)
            return (long)k;
    return -1;
}

static double pressure_at(const rfy_result *r, size_t i, size_t chamber) {
    return r->pressure[i * r->n_chambers + chamber];
}

/* When the pressure first comes down to p; NaN when it never does. */
static double time_to(const rfy_result *r, size_t chamber, double p) {
    for (size_t i = 1; i < r->n_times; i++) {
        double a = pressure_at(r, i - 1, chamber), b = pressure_at(r, i, chamber);
        if (!(a > p) || !(b <= p))
            continue;
        double share = log(a / p) / log(a / b), from = r->time[i - 1], to = r->time[i];
        return from > 0 ? from * pow(to / from, share) : to * share;
    }
    return NAN;
}

static double lowest(const rfy_result *r, size_t chamber) {
    double least = INFINITY;
    for (size_t i = 0; i < r->n_times; i++)
        if (pressure_at(r, i, chamber) > 0)
            least = fmin(least, pressure_at(r, i, chamber));
    return least;
}

static void find_course(const rfy_result *a, const rfy_result *b, const char *chamber,
                        double threshold, rfy_course *out) {
    long ka = chamber_named(a, chamber), kb = chamber_named(b, chamber);
    *out = (rfy_course){.chamber = chamber,
                        .pressure = NAN,
                        .largest = NAN,
                        .largest_at = NAN,
                        .highest = NAN,
                        .lowest = NAN};
    if (ka < 0 || kb < 0 || a->n_times < 2 || b->n_times < 2)
        return;
    double high = 0.9 * fmin(pressure_at(a, 0, (size_t)ka), pressure_at(b, 0, (size_t)kb));
    double low = 1.02 * fmax(lowest(a, (size_t)ka), lowest(b, (size_t)kb));
    if (!(low < high) || !(low > 0))
        return;
    double differs[GRID + 1];
    int first = -1, last = -1, n = 0;
    out->largest = 0;
    out->highest = high;
    out->lowest = low;
    for (int i = 0; i <= GRID; i++) {
        double p = high * pow(low / high, (double)i / GRID);
        double ta = time_to(a, (size_t)ka, p), tb = time_to(b, (size_t)kb, p);
        differs[i] = tb / ta - 1;
        if (!(fabs(differs[i]) > threshold))
            continue;
        n++;
        first = first < 0 ? i : first;
        last = i;
        if (fabs(differs[i]) > fabs(out->largest)) {
            out->largest = differs[i];
            out->largest_at = p;
        }
    }
    /* one point in a hundred may lie on the other side: an event just there */
    const int stray = GRID / 100;
    int to = n == 0                                                  ? -1
             : n >= GRID + 1 - stray                                 ? 0
             : last >= GRID - stray && last - first + 1 - n <= stray ? 1
             : first <= stray && last - first + 1 - n <= stray       ? 2
                                                                     : 3;
    static const rfy_where kinds[] = {RFY_WHERE_ALL, RFY_WHERE_BELOW, RFY_WHERE_ABOVE,
                                      RFY_WHERE_MIXED};
    out->where = to < 0 ? RFY_WHERE_NOWHERE : kinds[to];
    if (to > 0)
        out->pressure = high * pow(low / high, (double)(to == 2 ? last : first) / GRID);
}

static void find_courses(rfy_arena *arena, const rfy_result *a, const rfy_result *b,
                         double threshold, rfy_difference *d) {
    rfy_course *list = RFY_NEW(arena, a->n_targets + 1, rfy_course);
    for (size_t i = 0; i < a->n_targets; i++) {
        bool known = false;
        for (size_t k = 0; k < d->n_courses; k++)
            known = known || strcmp(list[k].chamber, a->target[i].chamber) == 0;
        if (!known)
            find_course(a, b, a->target[i].chamber, threshold, &list[d->n_courses++]);
    }
    if (a->n_targets == 0 && a->n_chambers > 0)
        find_course(a, b, a->chamber[0], threshold, &list[d->n_courses++]);
    d->course = list;
}

rfy_status rfy_compare(rfy_comparison **out, const rfy_system *const *system,
                       const char *const *name, size_t n, const rfy_compare_options *options) {
    rfy_arena *arena = rfy_arena_new();
    box *b = RFY_NEW(arena, 1, box);
    rfy_comparison *c = &b->comparison;
    b->arena = arena;
    *out = c;
    c->n = n;
    c->threshold = options->threshold > 0 ? options->threshold : 0.01;
    const char **names = RFY_NEW(arena, n, const char *);
    rfy_result **result = RFY_NEW(arena, n, rfy_result *);
    rfy_difference *difference = RFY_NEW(arena, n, rfy_difference);
    comparing all = {system, options, instants(arena, system, n), result};
    rfy_jobs_run(options->jobs, n, work, NULL, &all);
    for (size_t i = 0; i < n; i++) {
        names[i] = rfy_arena_strdup(arena, name[i]);
        if (c->status == RFY_OK || (c->status == RFY_LIMIT_BROKEN && result[i]->status != RFY_OK))
            c->status = result[i]->status;
        if (i == 0)
            continue;
        rfy_difference *d = &difference[i];
        d->change = rfy_changes(arena, system[0], system[i], MOST_CHANGES, &d->n_changes);
        find_courses(arena, result[0], result[i], c->threshold, d);
    }
    c->name = names;
    c->result = (const rfy_result *const *)result;
    c->difference = difference;
    return c->status;
}

void rfy_comparison_free(rfy_comparison *comparison) {
    if (!comparison)
        return;
    for (size_t i = 0; i < comparison->n; i++)
        rfy_result_free((rfy_result *)(void *)comparison->result[i]);
    rfy_arena_free(((box *)(void *)comparison)->arena);
}
