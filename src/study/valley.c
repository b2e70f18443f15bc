#include "study/valley.h"
#include <gsl/gsl_eigen.h>
#include <gsl/gsl_interp.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <string.h>

enum { MOST_PLACES = 16, MOST_CORRECTIONS = 5, FINE_GRID = 40 };

/* All in units in which an unknown counts by its ln, and the time by fiftieths of the record. */
#define NARROW 0.1 /* reach within which derivatives suffice */
/* Root of the rise that makes an end sure. Where an unknown has hardly an effect any more the sum
 * levels out, and chance decides on which side of the 95 % it does; records picked by that would
 * have intervals that miss. At this rise values without end are less likely than the best by
 * exp(-SURE^2/2) = 1/270: the several powers of e in which a value of a bench may lie weigh
 * together no more than what lies beyond an end at 95 %. */
#define SURE      3.35
#define STRIDE    0.7  /* root of the rise of the sum between two places */
#define LONGEST   0.8  /* way between two places */
#define LEAST     0.01 /* way to a bound that is not worth going */
#define FLAT      0.1  /* rise from place to place where longer ways are tried */
#define GAIN      0.02 /* of the sum, which is not worth another run */
#define BETTER    0.1  /* fall of the sum below the best that is worth a new beginning */
#define MOVES     0.03 /* share of a way in which an unknown counts as going along */
#define RUN_ERROR 0.02 /* scatter below which errors of coarse runs would show in the sum */
#define UNBOUNDED 3.4  /* ln: bounds that far from the start only say that nothing is known */

typedef struct place {
    double way, rise;   /* along the floor; root of the rise of the sum */
    double *x, *across; /* [k] the floor there, and the deviation of each unknown across it */
} place;

typedef struct flank {
    place *place; /* [0] is the bottom */
    size_t n;
    bool open, sure;
    double *heading; /* [k] where it went last */
} flank;

typedef struct walker {
    rfy_squares *s;
    rfy_arena *arena;
    size_t k;
    double *scale; /* [k] */
    double reach, bottom;
    bool fine, better;
} walker;

/* ---- algebra in scaled units ---- */

static bool look_at(walker *w, const double *x, rfy_look *out) {
    const size_t k = w->k;
    out->x = RFY_NEW(w->arena, k, double);
    memcpy(out->x, x, k * sizeof *x);
    if (!rfy_squares_look(w->s, w->arena, w->fine, out) || !isfinite(out->cost))
        return false;
    for (size_t a = 0; a < k; a++) {
        out->g[a] *= w->scale[a];
        for (size_t b = 0; b < k; b++)
            out->h[a * k + b] *= w->scale[a] * w->scale[b];
        out->h[a * k + a] += 1e-9;
    }
    return true;
}

static double dot(const double *a, const double *b, size_t k) {
    double sum = 0;
    for (size_t i = 0; i < k; i++)
        sum += a[i] * b[i];
    return sum;
}

static double bent(const double *h, const double *d, size_t k) {
    double sum = 0;
    for (size_t a = 0; a < k; a++)
        sum += d[a] * dot(h + a * k, d, k);
    return sum;
}

static double largest(const double *d, size_t k) {
    double most = 0;
    for (size_t i = 0; i < k; i++)
        most = fmax(most, fabs(d[i]));
    return most;
}

/* Inverse of a symmetric positive matrix; false when it is none. */
static bool inverse(walker *w, const double *h, double **out) {
    const size_t k = w->k;
    *out = RFY_NEW(w->arena, k * k, double);
    memcpy(*out, h, k * k * sizeof *h);
    gsl_matrix_view m = gsl_matrix_view_array(*out, k, k);
    return gsl_linalg_cholesky_decomp1(&m.matrix) == GSL_SUCCESS &&
           gsl_linalg_cholesky_invert(&m.matrix) == GSL_SUCCESS;
}

static void times(const double *m, const double *v, size_t k, double *out) {
    for (size_t a = 0; a < k; a++)
        out[a] = dot(m + a * k, v, k);
}

double rfy_valley_flattest(const double *h, size_t k, double *direction) {
    gsl_matrix *m = gsl_matrix_alloc(k, k), *vectors = gsl_matrix_alloc(k, k);
    gsl_vector *values = gsl_vector_alloc(k);
    gsl_eigen_symmv_workspace *work = gsl_eigen_symmv_alloc(k);
    for (size_t a = 0; a < k; a++)
        for (size_t b = 0; b < k; b++)
            gsl_matrix_set(m, a, b, h[a * k + b]);
    gsl_eigen_symmv(m, values, vectors, work);
    size_t least = gsl_vector_min_index(values);
    double bend = gsl_vector_get(values, least);
    for (size_t j = 0; j < k; j++)
        direction[j] = gsl_matrix_get(vectors, j, least);
    gsl_eigen_symmv_free(work);
    gsl_vector_free(values);
    gsl_matrix_free(vectors);
    gsl_matrix_free(m);
    return bend;
}

/* Turns a direction towards where the floor goes on: a step of inverse iteration, which follows the
 * flattest direction without leaping to another that has become as flat. */
static void turn(const walker *w, const double *inverse_h, double *direction) {
    const size_t k = w->k;
    double next[RFY_MOST_UNKNOWNS];
    times(inverse_h, direction, k, next);
    double length = sqrt(dot(next, next, k));
    for (size_t j = 0; j < k; j++)
        direction[j] = next[j] / length;
}

/* The step down to the floor within the plane across a direction, and the fall of the sum. */
static double descend(const walker *w, const rfy_look *at, const double *inverse_h,
                      const double *direction, double *step) {
    const size_t k = w->k;
    double along[RFY_MOST_UNKNOWNS];
    times(inverse_h, direction, k, along);
    times(inverse_h, at->g, k, step);
    double back = dot(direction, step, k) / dot(direction, along, k);
    for (size_t j = 0; j < k; j++)
        step[j] -= back * along[j];
    return dot(at->g, step, k);
}

/* ---- the walk ---- */

static void moved(const walker *w, const double *x, const double *step, double by, double *out) {
    for (size_t j = 0; j < w->k; j++)
        out[j] = rfy_squares_within(&w->s->unknown[j], x[j] + by * step[j] * w->scale[j]);
}

/* The multiple of a step, up to `most`, that no bound is in the way of. */
static double room(const walker *w, const double *x, const double *step, double most) {
    for (size_t j = 0; j < w->k; j++) {
        double wanted = x[j] + most * step[j] * w->scale[j];
        double allowed = rfy_squares_within(&w->s->unknown[j], wanted);
        if (allowed < wanted || allowed > wanted)
            most = fmax(0, (allowed - x[j]) / (step[j] * w->scale[j]));
    }
    return most;
}

/* From a place near it down to the floor across a direction; *at becomes the last look, and x, cost
 * what is expected of the floor. */
static bool settle(walker *w, const double *direction, rfy_look *at, double *x, double *cost,
                   double **inverse_h) {
    double step[RFY_MOST_UNKNOWNS];
    for (int i = 0; i < MOST_CORRECTIONS; i++) {
        if (!inverse(w, at->h, inverse_h))
            return false;
        double gain = descend(w, at, *inverse_h, direction, step), share = 1;
        double longest = largest(step, w->k);
        if (longest > LONGEST)
            share = LONGEST / longest;
        double free = room(w, at->x, step, share);
        if (free < share) { /* the floor lies beyond what is possible */
            gain *= 1 - pow(1 - free, 2);
            share = free;
        }
        moved(w, at->x, step, share, x);
        *cost = at->cost - gain;
        if (gain < GAIN)
            return true;
        rfy_look next = {0};
        bool lower = false;
        for (int half = 0; half < 3 && !lower; half++) {
            moved(w, at->x, step, share, x);
            lower = look_at(w, x, &next) && next.cost < at->cost;
            share *= 0.3;
        }
        if (!lower)
            break;
        *at = next;
    }
    memcpy(x, at->x, w->k * sizeof *x);
    *cost = at->cost;
    return inverse(w, at->h, inverse_h);
}

/* Where a walk is: the last look, and what it says of the floor. */
typedef struct ground {
    rfy_look at;
    double *x, cost, *inverse_h;
} ground;

static double rise_of(const walker *w, double cost) {
    return sqrt(fmax(0, cost - w->bottom));
}

static void note(walker *w, flank *side, double way, const ground *g, const double *direction) {
    const size_t k = w->k;
    place *p = &side->place[side->n++];
    double along[RFY_MOST_UNKNOWNS];
    p->way = way;
    p->rise = rise_of(w, g->cost);
    p->x = RFY_NEW(w->arena, k, double);
    p->across = RFY_NEW(w->arena, k, double);
    memcpy(p->x, g->x, k * sizeof *p->x);
    times(g->inverse_h, direction, k, along);
    double whole = dot(direction, along, k);
    for (size_t j = 0; j < k; j++)
        p->across[j] =
            w->scale[j] * sqrt(fmax(0, g->inverse_h[j * k + j] - along[j] * along[j] / whole));
}

/* How far to go for the root of the rise to grow by so much. */
static double stride(const walker *w, const ground *g, const double *heading, double more) {
    const rfy_look *at = &g->at;
    double rise = rise_of(w, g->cost), bend = bent(at->h, heading, w->k),
           slope = fmax(0, -2 * dot(at->g, heading, w->k)),
           wanted = (rise + more) * (rise + more) - rise * rise;
    return (sqrt(slope * slope + 4 * bend * wanted) - slope) / (2 * bend);
}

static bool advance(walker *w, const ground *from, const double *heading, double by, ground *to) {
    double *goal = RFY_NEW(w->arena, w->k, double);
    to->x = RFY_NEW(w->arena, w->k, double);
    moved(w, from->x, heading, by, goal);
    return look_at(w, goal, &to->at) &&
           settle(w, heading, &to->at, to->x, &to->cost, &to->inverse_h);
}

static void walk(walker *w, const rfy_look *bottom, const double *direction, flank *out) {
    const size_t k = w->k;
    ground here = {.at = *bottom, .x = bottom->x, .cost = bottom->cost};
    double way = 0, longest = LONGEST;
    out->place = RFY_NEW(w->arena, MOST_PLACES + 1, place);
    out->heading = RFY_NEW(w->arena, k, double);
    memcpy(out->heading, direction, k * sizeof *direction);
    out->open = true;
    if (!inverse(w, bottom->h, &here.inverse_h))
        return;
    note(w, out, 0, &here, direction);
    while (out->n < MOST_PLACES) {
        double rise = rise_of(w, here.cost), more = rise < w->reach ? STRIDE : 2 * STRIDE;
        double by = fmin(longest, stride(w, &here, out->heading, more));
        ground next = {0};
        bool ran = false;
        by = room(w, here.x, out->heading, by);
        if (by < LEAST)
            return;
        for (int half = 0; half < 4 && !ran; half++) { /* too far: the slope was seen too late */
            ran = advance(w, &here, out->heading, by, &next) &&
                  (half == 3 || rise_of(w, next.cost) < rise + 1.8 * more);
            by *= ran ? 1 : 0.4;
        }
        if (!ran)
            return;
        if (next.cost < w->bottom - BETTER) {
            memcpy(w->s->x, next.x, k * sizeof *next.x);
            w->better = true;
            return;
        }
        way += by;
        here = next;
        note(w, out, way, &here, out->heading);
        turn(w, here.inverse_h, out->heading);
        double risen = rise_of(w, here.cost);
        longest = risen < rise + FLAT ? 1.6 * longest : LONGEST;
        out->open = out->open && risen <= w->reach;
        out->sure = risen > fmax(SURE, w->reach);
        if (out->sure)
            return;
    }
}

/* ---- what it shows ---- */

static void extend(rfy_valley *out, size_t j, double low, double high) {
    out->low[j].at = fmin(out->low[j].at, low);
    out->high[j].at = fmax(out->high[j].at, high);
}

/* The valley is cut into slices across its floor; in each the values that chance allows lie about
 * the floor as far as the rise there has left of the whole. */
static void spread_out(walker *w, const flank *side, size_t j, rfy_valley *out) {
    const size_t n = side->n;
    double way[MOST_PLACES], rise[MOST_PLACES], x[MOST_PLACES], across[MOST_PLACES];
    for (size_t i = 0; i < n; i++) {
        const place *p = &side->place[i];
        way[i] = p->way;
        rise[i] = p->rise;
        x[i] = p->x[j];
        across[i] = p->across[j];
    }
    extend(out, j, x[0] - w->reach * across[0], x[0] + w->reach * across[0]);
    if (n < 2)
        return;
    const gsl_interp_type *type = n < 3 ? gsl_interp_linear : gsl_interp_steffen;
    const double *value[3] = {rise, x, across};
    gsl_interp *curve[3];
    for (int c = 0; c < 3; c++) {
        curve[c] = gsl_interp_alloc(type, n);
        gsl_interp_init(curve[c], way, value[c], n);
    }
    double before = 0;
    for (size_t i = 1; i <= FINE_GRID * (n - 1); i++) {
        /* not a rounding error beyond the last place, where nothing is interpolated */
        double at = fmin(way[n - 1] * (double)i / (double)(FINE_GRID * (n - 1)), way[n - 1]), v[3];
        for (int c = 0; c < 3; c++)
            v[c] = gsl_interp_eval(curve[c], way, value[c], at, NULL);
        if (v[0] > w->reach) { /* the end, found between the two */
            double step = way[n - 1] / (double)(FINE_GRID * (n - 1));
            double ended = at - step * (v[0] - w->reach) / fmax(v[0] - before, 1e-12);
            v[1] = gsl_interp_eval(curve[1], way, x, ended, NULL);
            extend(out, j, v[1], v[1]);
            break;
        }
        before = v[0];
        double by = v[2] * sqrt(w->reach * w->reach - v[0] * v[0]);
        extend(out, j, v[1] - by, v[1] + by);
    }
    for (int c = 0; c < 3; c++)
        gsl_interp_free(curve[c]);
}

static void open_ends(const walker *w, const flank *side, rfy_valley *out) {
    const place *end = &side->place[side->n - 1];
    for (size_t j = 0; j < w->k; j++) {
        const rfy_unknown *u = &w->s->unknown[j];
        double heading = side->heading[j];
        if (fabs(heading) < MOVES)
            continue;
        /* a bound that says what can be at all is an end */
        double beyond = end->x[j] + heading * 1e-6 * w->scale[j];
        bool bounded = fabs(rfy_squares_within(u, beyond) - beyond) > 0 && u->path &&
                       fabs(beyond - log(u->start)) < UNBOUNDED;
        rfy_valley_end *which = heading > 0 ? &out->high[j] : &out->low[j];
        which->open = which->open || (side->open && !bounded);
        which->sure = which->sure && bounded;
    }
}

void rfy_valley_follow(rfy_squares *s, rfy_arena *arena, double reach, double span,
                       rfy_valley *out) {
    const size_t k = s->n_unknowns;
    walker w = {.s = s, .arena = arena, .k = k, .reach = reach, .fine = s->scatter < RUN_ERROR};
    *out = (rfy_valley){.low = RFY_NEW(arena, k, rfy_valley_end),
                        .high = RFY_NEW(arena, k, rfy_valley_end)};
    w.scale = RFY_NEW(arena, k, double);
    double widest = 0;
    for (size_t j = 0; j < k; j++) {
        w.scale[j] = s->unknown[j].path ? 1 : span / 50;
        double by = reach * sqrt(s->covariance[j * k + j]);
        widest = fmax(widest, by / w.scale[j]);
        out->low[j].at = s->x[j] - by;
        out->high[j].at = s->x[j] + by;
    }
    for (size_t j = 0; j < k; j++)
        out->low[j].sure = out->high[j].sure = widest < NARROW;
    if (widest < NARROW)
        return;
    rfy_look bottom;
    double direction[RFY_MOST_UNKNOWNS] = {0};
    flank side[2] = {{0}, {0}};
    if (!look_at(&w, s->x, &bottom))
        return;
    w.bottom = bottom.cost;
    rfy_valley_flattest(bottom.h, k, direction);
    for (int i = 0; i < 2 && !w.better; i++) {
        for (size_t j = 0; j < k && i == 1; j++)
            direction[j] = -direction[j];
        walk(&w, &bottom, direction, &side[i]);
        out->n_places += side[i].n;
    }
    out->better = w.better;
    if (w.better || side[0].n == 0 || side[1].n == 0)
        return;
    for (size_t j = 0; j < k; j++) {
        out->low[j].at = out->high[j].at = s->x[j];
        out->low[j].sure = out->high[j].sure = true;
        for (int i = 0; i < 2; i++)
            spread_out(&w, &side[i], j, out);
    }
    for (int i = 0; i < 2; i++)
        if (!side[i].sure)
            open_ends(&w, &side[i], out);
}
