/* The smallest or largest size that is enough: safeguarded root finding on the logarithms of size
 * and result, which power laws make straight. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_min.h>
#include <gsl/gsl_roots.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/text.h"
#include "study/answers.h"
#include "study/goal.h"
#include "study/variation.h"

/* The search, then at most two standard sizes, then one run that explains: twelve in all. */
enum { MOST_SOLVES = 11, MOST_BRACKET = 6, MOST_ROOT = 9 };

/* Changes of ln(result) below this are nothing to act on. */
static const double noise = 2e-3;

typedef struct box {
    rfy_size_result result; /* first */
    rfy_arena *arena;
} box;

typedef struct search {
    rfy_arena *arena;
    rfy_size_result *r;
    const rfy_size_options *options;
    const rfy_catalog *catalog;
    rfy_variation *variation;
    rfy_goal goal;
    rfy_dim dim;
    rfy_size_point point[MOST_SOLVES];
    size_t n;
    double tolerance;
    bool clipped;   /* the description's own size lies outside the bounds */
    bool over;      /* the solves are used up, or something ended the search */
    double refused; /* a size the system cannot have, NaN = none */
} search;

static rfy_size_point nothing(void) {
    return (rfy_size_point){NAN, NAN, NAN, NULL};
}

static const rfy_size_point *known(const search *s, double size) {
    for (size_t i = 0; i < s->n; i++)
        if (fabs(s->point[i].size - size) <= 1e-12 * fabs(size))
            return &s->point[i];
    return NULL;
}

static const char *first_problem(rfy_arena *arena, const rfy_problems *problems) {
    if (rfy_problems_kept(problems) == 0)
        return "the system cannot be put together";
    const rfy_problem *p = rfy_problems_at(problems, 0);
    return rfy_arena_printf(arena, "%s: %s%s%s", p->path, p->what, p->allowed ? "; allowed: " : "",
                            p->allowed ? p->allowed : "");
}

static const rfy_network *network_of(search *s, double size) {
    double *each = RFY_NEW(s->arena, s->options->n_vary, double);
    for (size_t i = 0; i < s->options->n_vary; i++)
        each[i] = size;
    return rfy_variation_numbers(s->variation, each);
}

/* One full solve; NULL when there can be none. */
static const rfy_size_point *solve(search *s, double size, const char *of) {
    const rfy_size_point *old = known(s, size);
    if (old)
        return old;
    if (s->over || s->n == MOST_SOLVES)
        return NULL;
    const rfy_network *net = network_of(s, size);
    if (!net) {
        s->refused = size;
        s->r->trouble = first_problem(s->arena, rfy_variation_problems(s->variation));
        return NULL;
    }
    rfy_arena *own = rfy_arena_new();
    rfy_goal_result one;
    rfy_goal_run(own, net, &s->goal, s->tolerance, false, s->options->stop, &one);
    rfy_size_point *p = NULL;
    if (one.status == RFY_OK) {
        p = &s->point[s->n++];
        *p = (rfy_size_point){size, one.value, one.excess, of};
        s->r->looked = one.looked;
    } else {
        s->over = true;
        s->r->status = one.status;
        s->r->trouble = one.trouble ? rfy_arena_strdup(s->arena, one.trouble) : NULL;
    }
    rfy_arena_free(own);
    return p;
}

/* The computed point with a given sign that is nearest to the change of sign. */
static const rfy_size_point *nearest(const search *s, bool enough) {
    const rfy_size_point *best = NULL;
    for (size_t i = 0; i < s->n; i++) {
        const rfy_size_point *p = &s->point[i];
        if ((p->excess <= 0) == enough && (!best || fabs(p->excess) < fabs(best->excess)))
            best = p;
    }
    return best;
}

/* What people ask for where a change hardly matters at first. */
static bool usually_smallest(const search *s, bool otherwise) {
    if (strcmp(s->r->key, "bore") == 0 || s->dim == RFY_DIM_FLOW)
        return true;
    if (strcmp(s->r->key, "length") == 0 || s->dim == RFY_DIM_THROUGHPUT)
        return false;
    return otherwise;
}

/* Goes from what the description gives towards the change of sign: by the slope on log paper, with
 * something on top, and at most by a factor of 20 at once. True when there is a bracket. */
static bool bracket(search *s, double given) {
    rfy_size_result *r = s->r;
    const rfy_size_point *first = solve(s, given, s->clipped ? NULL : "as described");
    if (!first)
        return false;
    if (!s->clipped)
        r->given = *first;
    double other = given * 1.6 <= r->high ? given * 1.6 : given / 1.6;
    if (!(other >= r->low))
        other = given < sqrt(r->low * r->high) ? r->high : r->low;
    const rfy_size_point *second = solve(s, other, NULL);
    if (!second && !isnan(s->refused) && given / 1.6 >= r->low)
        second = solve(s, given / 1.6, NULL);
    if (!second)
        return false;
    const rfy_size_point *a = first, *b = second;
    double slope = (b->excess - a->excess) / log(b->size / a->size);
    r->smallest = s->options->ask ? s->options->ask > 0 : slope < 0;
    if (!s->options->ask && fabs(b->excess - a->excess) < 5e-3)
        r->smallest = usually_smallest(s, r->smallest);
    for (int tries = 0; tries < MOST_BRACKET; tries++) {
        if (nearest(s, true) && nearest(s, false))
            return true;
        const rfy_size_point *at = nearest(s, a->excess <= 0);
        bool up = (at->excess > 0) == r->smallest;
        double end = up ? r->high : r->low;
        if (fabs(at->size - end) <= 1e-9 * end)
            return false;
        double step = fabs(slope) > 0.02 ? 1.25 * fabs(at->excess / slope) + 0.05 : log(20);
        step = step > log(20) ? log(20) : step;
        double next = up ? at->size * exp(step) : at->size * exp(-step);
        next = up ? (next > end * 0.8 ? end : next) : (next < end * 1.25 ? end : next);
        const double from = at->size, excess = at->excess;
        const rfy_size_point *p = solve(s, next, NULL);
        if (!p && !isnan(s->refused) && !s->over) {
            /* no such system: look up to halfway there */
            *(up ? &r->high : &r->low) = sqrt(from * s->refused);
            s->refused = NAN;
            continue;
        }
        if (!p)
            return false;
        slope = (p->excess - excess) / log(p->size / from);
    }
    return nearest(s, true) && nearest(s, false);
}

typedef struct root_call {
    search *s;
    bool failed;
} root_call;

static double excess_at(double ln_size, void *params) {
    root_call *c = params;
    const rfy_size_point *near = NULL;
    /* the ends of the bracket come back as they were, through exp and log */
    for (size_t i = 0; i < c->s->n; i++)
        if (fabs(log(c->s->point[i].size) - ln_size) < 1e-13)
            near = &c->s->point[i];
    if (!near)
        near = solve(c->s, exp(ln_size), NULL);
    c->failed = c->failed || !near;
    return near ? near->excess : 0;
}

/* Where both less and more are worse than some size in between and even that is not enough, the
 * best one may lie nearby: a few steps of Brent's minimiser. True when that is enough. */
static bool best_between(search *s) {
    size_t best = 0;
    double below = 0, above = INFINITY, f_below = 0, f_above = 0;
    if (s->over || s->n < 3 || nearest(s, true))
        return false;
    for (size_t i = 1; i < s->n; i++)
        best = s->point[i].excess < s->point[best].excess ? i : best;
    const rfy_size_point b = s->point[best];
    for (size_t i = 0; i < s->n; i++) {
        const rfy_size_point *p = &s->point[i];
        if (p->size < b.size && p->size > below)
            below = p->size, f_below = p->excess;
        if (p->size > b.size && p->size < above)
            above = p->size, f_above = p->excess;
    }
    if (!(below > 0) || !isfinite(above) || fmin(f_below, f_above) - b.excess < 0.05 * b.excess)
        return false;
    root_call call = {s, false};
    gsl_function f = {excess_at, &call};
    gsl_min_fminimizer *m = gsl_min_fminimizer_alloc(gsl_min_fminimizer_brent);
    if (m && gsl_min_fminimizer_set_with_values(m, &f, log(b.size), b.excess, log(below), f_below,
                                                log(above), f_above) == GSL_SUCCESS)
        for (int i = 0; i < 4 && !call.failed && !nearest(s, true); i++)
            if (gsl_min_fminimizer_iterate(m) != GSL_SUCCESS)
                break;
    if (m)
        gsl_min_fminimizer_free(m);
    return nearest(s, true) != NULL;
}

/* Brent's method between the nearest sizes on both sides, until size or result is known to 1e-5. */
static void find_root(search *s) {
    const rfy_size_point *yes = nearest(s, true), *no = nearest(s, false);
    double a = log(yes->size), b = log(no->size), low = a < b ? a : b, high = a < b ? b : a;
    root_call call = {s, false};
    gsl_function f = {excess_at, &call};
    gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    if (solver && gsl_root_fsolver_set(solver, &f, low, high) == GSL_SUCCESS)
        while (s->n < MOST_ROOT && !call.failed) {
            if (gsl_root_fsolver_iterate(solver) != GSL_SUCCESS || call.failed)
                break;
            double wide = gsl_root_fsolver_x_upper(solver) - gsl_root_fsolver_x_lower(solver);
            yes = nearest(s, true);
            no = nearest(s, false);
            if (wide < 1e-5 || fabs(yes->excess) < 3e-6 || fabs(no->excess) < 3e-6)
                break;
        }
    if (solver)
        gsl_root_fsolver_free(solver);
    yes = nearest(s, true);
    no = nearest(s, false);
    if (call.failed && s->over)
        return;
    /* the side that is enough when both are as good: by 1e-5 a straight line says the rest */
    const rfy_size_point *best = fabs(no->excess) < 0.1 * fabs(yes->excess) ? no : yes;
    s->r->exact = *best;
    double slope = (yes->excess - no->excess) / log(yes->size / no->size);
    s->r->size = best->size;
    if (fabs(slope) > 1e-3 && fabs(best->excess / slope) < 1e-2)
        s->r->size = best->size * exp(-best->excess / slope);
}

/* ---- what one can buy ---- */

typedef struct stock {
    double bore;
    const char *name;
} stock;

static int by_bore(const void *a, const void *b) {
    double x = ((const stock *)a)->bore, y = ((const stock *)b)->bore;
    return (x > y) - (x < y);
}

static size_t standard_bores(rfy_arena *arena, const rfy_catalog *catalog, stock **out) {
    const rfy_table *t = &catalog->bores;
    stock *list = RFY_NEW(arena, t->n_rows, stock);
    size_t n = 0;
    for (size_t i = 0; i < t->n_rows; i++) {
        const char *const *row = t->cell + i * t->n_columns, *standard = "", *nominal = "",
                          *kind = "";
        double bore = 0;
        for (size_t c = 0; c < t->n_columns; c++) {
            if (strcmp(t->column[c], "bore_mm") == 0)
                rfy_read_number(row[c], &bore);
            else if (strcmp(t->column[c], "standard") == 0)
                standard = row[c];
            else if (strcmp(t->column[c], "nominal") == 0)
                nominal = row[c];
            else if (strcmp(t->column[c], "kind") == 0)
                kind = row[c];
        }
        if (bore > 0)
            list[n++] =
                (stock){bore * 1e-3, rfy_arena_printf(arena, "%s, %s%s%s", nominal, standard,
                                                      *standard ? " " : "", kind)};
    }
    if (n)
        qsort(list, n, sizeof *list, by_bore);
    *out = list;
    return n;
}

/* The next one in the safe direction, checked by a run of its own; the one after it where that is
 * not enough after all. */
static void find_standard(search *s) {
    stock *list;
    size_t n = 0;
    if (strcmp(s->r->key, "bore") != 0)
        return;
    n = standard_bores(s->arena, s->catalog, &list);
    int tries = 0;
    for (size_t k = 0; k < n && tries < 2; k++) {
        size_t i = s->r->smallest ? k : n - 1 - k;
        bool fits = s->r->smallest ? list[i].bore >= s->r->size * (1 - 1e-9)
                                   : list[i].bore <= s->r->size * (1 + 1e-9);
        if (!fits)
            continue;
        tries++;
        const rfy_size_point *p = solve(s, list[i].bore, list[i].name);
        if (!p)
            return;
        if (p->excess <= 0) {
            s->r->standard = *p;
            s->r->standard.of = list[i].name;
            return;
        }
        while (k + 1 < n && fabs(list[s->r->smallest ? k + 1 : n - 2 - k].bore - list[i].bore) <
                                1e-9 * list[i].bore)
            k++;
    }
}

/* ---- the answer ---- */

static int by_size(const void *a, const void *b) {
    double x = ((const rfy_size_point *)a)->size, y = ((const rfy_size_point *)b)->size;
    return (x > y) - (x < y);
}

/* Whether more always helps or always hurts, at the sizes computed. */
static bool is_steady(const rfy_size_point *p, size_t n) {
    int sign = 0;
    for (size_t i = 1; i < n; i++) {
        double rise = p[i].excess - p[i - 1].excess;
        int now = fabs(rise) < noise ? 0 : rise > 0 ? 1 : -1;
        if (sign && now && now != sign)
            return false;
        sign = now ? now : sign;
    }
    return true;
}

static void judge(search *s, bool bracketed) {
    rfy_size_result *r = s->r;
    const rfy_size_point *yes = nearest(s, true), *no = nearest(s, false);
    if (bracketed) {
        r->verdict = isnan(r->size) ? RFY_SIZE_UNKNOWN : RFY_SIZE_FOUND;
        r->smallest = yes->size > no->size;
        return;
    }
    if (s->n < 2 || s->over) {
        r->verdict = RFY_SIZE_UNKNOWN;
        return;
    }
    r->verdict = yes ? RFY_SIZE_ANY : RFY_SIZE_NONE;
    /* the least excess of all, and whether it still falls there */
    size_t best = 0;
    for (size_t i = 1; i < s->n; i++)
        if (s->point[i].excess < s->point[best].excess)
            best = i;
    r->best = s->point[best];
    double gain = INFINITY;
    for (size_t i = 0; i < s->n; i++)
        if (i != best && s->point[i].excess - r->best.excess < gain &&
            fabs(log(s->point[i].size / r->best.size)) > log(1.5))
            gain = s->point[i].excess - r->best.excess;
    r->levels_off = gain < 0.02;
}

/* Once more at the answer, for what holds it back there. */
static void explain(search *s) {
    rfy_size_result *r = s->r;
    double at = r->verdict == RFY_SIZE_FOUND ? r->exact.size : r->best.size;
    if (isnan(at))
        at = s->point[0].size;
    const rfy_network *net = isnan(at) ? NULL : network_of(s, at);
    if (!net || s->goal.kind == RFY_GOAL_KEEP)
        return;
    rfy_arena *own = rfy_arena_new();
    rfy_goal_result one;
    rfy_goal_run(own, net, &s->goal, 1e-4, true, s->options->stop, &one);
    r->n_solves++;
    if (one.status == RFY_OK && one.bottleneck.n > 0) {
        rfy_bottleneck *b = RFY_NEW(s->arena, 1, rfy_bottleneck);
        *b = one.bottleneck;
        rfy_resistance *list = RFY_NEW(s->arena, b->n, rfy_resistance);
        for (size_t i = 0; i < b->n; i++)
            list[i] = (rfy_resistance){rfy_arena_strdup(s->arena, b->resistance[i].part),
                                       b->resistance[i].share};
        b->resistance = list;
        b->chamber = rfy_arena_strdup(s->arena, b->chamber);
        b->gas = rfy_arena_strdup(s->arena, b->gas);
        b->target = NULL;
        r->bottleneck = b;
    }
    if (one.status == RFY_OK && one.source) {
        r->source = rfy_arena_strdup(s->arena, one.source->source);
        r->source_gas = rfy_arena_strdup(s->arena, one.source_gas);
        r->source_share = one.source_share;
    }
    rfy_arena_free(own);
}

/* The answer where walls give off more by their spread, if there is a solve left for it. */
static void find_worst(search *s) {
    rfy_size_result *r = s->r;
    double at = isnan(r->standard.size) ? r->size : r->standard.size;
    const rfy_network *net = isnan(at) || r->n_solves > MOST_SOLVES ? NULL : network_of(s, at);
    if (!net || s->goal.kind == RFY_GOAL_KEEP || net->n_emitters + net->n_stores == 0)
        return;
    rfy_arena *own = rfy_arena_new();
    rfy_goal goal = s->goal;
    rfy_goal_result one;
    goal.wall_scale = 1;
    rfy_goal_run(own, net, &goal, 1e-3, false, s->options->stop, &one);
    r->n_solves++;
    if (one.status == RFY_OK)
        r->worst = (rfy_size_point){at, one.value, one.excess, NULL};
    rfy_arena_free(own);
}

/* ---- what is asked ---- */

static rfy_status usage(rfy_problems *problems, const char *where, const char *what,
                        const char *allowed) {
    rfy_place at = {0, 0, where};
    rfy_problem_add(problems, RFY_ERROR, &at, allowed, NULL, "%s", what);
    return RFY_USAGE;
}

static rfy_status read_bound(const search *s, const char *text, const char *where, double *bound,
                             const rfy_catalog *catalog, rfy_problems *problems) {
    rfy_quantity_error error;
    if (!text)
        return RFY_OK;
    if (!rfy_parse_quantity(catalog->units, text, s->dim, bound, &error))
        return usage(problems, where, error.what, error.allowed);
    if (!(*bound > 0))
        return usage(problems, where, "sizes are looked for on log paper, above 0", NULL);
    return RFY_OK;
}

static rfy_status prepare(search *s, const rfy_system *system, rfy_problems *problems,
                          double *given) {
    const rfy_size_options *o = s->options;
    rfy_size_result *r = s->r;
    if (o->n_vary == 0)
        return usage(problems, "--vary", "nothing is varied", "the path of one value");
    if (!o->reach == !o->keep)
        return usage(problems, "--reach", "one of --reach and --keep says what is wanted",
                     "\"bulb < 10 Pa\"");
    if (o->keep && (!o->fault || !(o->within > 0)))
        return usage(problems, "--keep", "--keep needs --fault and --for",
                     "--fault \"stop vane at 1 h\" --for \"20 min\"");
    rfy_varied first = {0};
    for (size_t i = 0; i < o->n_vary; i++) {
        rfy_varied one;
        if (!rfy_variation_given(system, o->vary[i], &one, problems))
            return RFY_BAD_INPUT;
        if (i > 0 && one.dim != first.dim)
            return usage(problems, o->vary[i], "this is another kind of quantity than the first",
                         NULL);
        first = i ? first : one;
    }
    s->dim = first.dim;
    s->tolerance = o->tolerance > 0 ? o->tolerance : 1e-6;
    r->key = rfy_arena_strdup(s->arena, first.key);
    r->unit = rfy_dim_si(first.dim);
    *given = first.value;
    if (!(*given > 0))
        return usage(problems, o->vary[0], "sizes are looked for on log paper: it must be above 0",
                     NULL);
    bool warm = first.dim == RFY_DIM_TEMPERATURE;
    r->low = *given / (warm ? 1.6 : 100);
    r->high = *given * (warm ? 1.6 : 100);
    if (first.max > 0 && r->high > first.max)
        r->high = first.max;
    if (r->low < first.min)
        r->low = first.min;
    rfy_status status = read_bound(s, o->from, "--from", &r->low, system->catalog, problems);
    if (status == RFY_OK)
        status = read_bound(s, o->to, "--to", &r->high, system->catalog, problems);
    if (status != RFY_OK)
        return status;
    if (!(r->low < r->high))
        return usage(problems, "--from", "the range to look in is empty", NULL);
    s->clipped = *given < r->low || *given > r->high;
    *given = *given < r->low ? r->low : *given > r->high ? r->high : *given;
    s->goal = (rfy_goal){.kind = o->keep ? RFY_GOAL_KEEP : RFY_GOAL_REACH,
                         .condition = o->keep ? o->keep : o->reach,
                         .fault = o->fault,
                         .wanted = o->within > 0 ? o->within : system->network->until};
    return rfy_goal_read(&s->goal, s->arena, system->network, problems) ? RFY_OK : RFY_USAGE;
}

rfy_status rfy_size(rfy_size_result **out, const rfy_system *system,
                    const rfy_size_options *options, rfy_problems *problems) {
    rfy_arena *arena = rfy_arena_new();
    box *b = RFY_NEW(arena, 1, box);
    rfy_size_result *r = &b->result;
    b->arena = arena;
    *out = NULL;
    search s = {
        .arena = arena, .r = r, .options = options, .catalog = system->catalog, .refused = NAN};
    *r = (rfy_size_result){.title = rfy_arena_strdup(arena, rfy_system_title(system)),
                           .n_vary = options->n_vary,
                           .size = NAN,
                           .given = nothing(),
                           .exact = nothing(),
                           .standard = nothing(),
                           .best = nothing(),
                           .worst = nothing()};
    double given;
    rfy_status status = prepare(&s, system, problems, &given);
    if (status != RFY_OK) {
        rfy_arena_free(arena);
        return status;
    }
    const char **paths = RFY_NEW(arena, options->n_vary, const char *);
    for (size_t i = 0; i < options->n_vary; i++)
        paths[i] = rfy_arena_strdup(arena, options->vary[i]);
    r->vary = paths;
    r->goal = rfy_arena_strdup(arena, options->keep ? options->keep : options->reach);
    r->chamber = s.goal.chamber ? rfy_arena_strdup(arena, s.goal.chamber) : NULL;
    r->pressure = s.goal.kind == RFY_GOAL_ULTIMATE;
    r->keeps = s.goal.kind == RFY_GOAL_KEEP;
    r->wanted = s.goal.wanted;
    s.variation = rfy_variation_new(system, options->vary, options->n_vary);
    bool bracketed = bracket(&s, given) || best_between(&s);
    if (bracketed)
        find_root(&s);
    judge(&s, bracketed);
    if (r->verdict == RFY_SIZE_FOUND)
        find_standard(&s);
    rfy_size_point *points = RFY_NEW(arena, s.n, rfy_size_point);
    memcpy(points, s.point, s.n * sizeof *points);
    if (s.n)
        qsort(points, s.n, sizeof *points, by_size);
    r->point = points;
    r->n_points = r->n_solves = s.n;
    if (s.n > 0 && r->status == RFY_OK)
        explain(&s);
    find_worst(&s);
    r->steady = is_steady(points, s.n);
    if (r->verdict == RFY_SIZE_UNKNOWN && r->status == RFY_OK)
        r->status = RFY_RUN_FAILED;
    rfy_variation_free(s.variation);
    const rfy_network *net = system->network;
    const char **assumed = RFY_NEW(arena, net->n_assumed, const char *);
    for (size_t i = 0; i < net->n_assumed; i++)
        assumed[i] = rfy_arena_strdup(arena, net->assumed[i]);
    r->assumed = assumed;
    r->n_assumed = net->n_assumed;
    rfy_answer_cautions(arena, net, &r->cautions, &r->n_cautions);
    *out = r;
    return r->status;
}

void rfy_size_free(rfy_size_result *result) {
    if (result)
        rfy_arena_free(((box *)(void *)result)->arena);
}
