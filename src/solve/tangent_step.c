#include "solve/tangent_step.h"
#include <string.h>

rfy_linear rfy_linear_new(rfy_arena *arena, const rfy_network *net, const rfy_blocks *pattern) {
    const int g = net->mixture.n;
    const size_t blocks = (size_t)pattern->start[pattern->n_rows] * (size_t)(g * g);
    return (rfy_linear){.value = RFY_NEW(arena, blocks, double),
                        .by_x = RFY_NEW(arena, (size_t)net->n_inner, double),
                        .by_n = RFY_NEW(arena, (size_t)net->n_inner, double),
                        .through = RFY_NEW(arena, (size_t)net->n_stores, double)};
}

rfy_linear_step *rfy_linear_step_new(rfy_arena *arena, const rfy_network *net,
                                     const rfy_blocks *pattern, int m) {
    rfy_linear_step *w = RFY_NEW(arena, 1, rfy_linear_step);
    const int g = net->mixture.n;
    w->net = net;
    w->pattern = pattern;
    w->free = net->n_free * g;
    w->rows = w->free + net->n_inner;
    w->m = m;
    w->lu = rfy_block_lu_new(arena, pattern);
    w->inner = rfy_inner_step_new(arena, net, m);
    w->factors = rfy_block_lu_packed(arena, w->lu, m);
    const size_t entries = (size_t)(pattern->start[pattern->n_columns] * g * g),
                 vectors = entries / RFY_LANES + 1;
    w->packed = rfy_packed_rows_new(arena, m, w->free, (int)entries);
    for (int i = 0; i < 3; i++)
        w->value[i] = (double *)RFY_NEW(arena, vectors, rfy_v4);
    w->now = (double *)RFY_NEW(arena, vectors, rfy_v4);
    w->through = RFY_NEW(arena, (size_t)net->n_stores, double);
    w->diagonal = RFY_NEW(arena, (size_t)w->free, double);
    const size_t n = (size_t)w->free * (size_t)m;
    for (int k = 0; k < RFY_LINEAR_STAGES; k++)
        w->stage_value[k] = RFY_NEW(arena, n, rfy_v4);
    w->start = RFY_NEW(arena, n, rfy_v4);
    w->end = RFY_NEW(arena, n, rfy_v4);
    w->stage = RFY_NEW(arena, n, rfy_v4);
    w->drift = RFY_NEW(arena, n, rfy_v4);
    return w;
}

/* A of free rows at the three instants without what is zero at all of them. */
static void pack(rfy_linear_step *w, const rfy_linear *const a[3]) {
    const rfy_blocks *pattern = w->pattern;
    const int g = pattern->g;
    const double *const value[3] = {a[0]->value, a[1]->value, a[2]->value};
    rfy_packed_rows *out = w->packed;
    if (out->serves-- > 0 && rfy_packed_fetch(out, 3, value, w->value))
        return;
    rfy_packed_begin(out);
    for (int r = 0; r < pattern->n_columns; r++)
        for (int i = 0; i < g; i++) {
            const int first = out->entries;
            for (int k = pattern->start[r]; k < pattern->start[r + 1]; k++)
                rfy_packed_put(out, value, (k * g + i) * g, 1, g, pattern->column[k] * g);
            rfy_packed_row(out, first, r * g + i, -1);
        }
    rfy_packed_fetch(out, 3, value, w->value);
}

/* out += A x with these values of it. */
static void apply(const rfy_linear_step *w, const double *value, const double *through,
                  const rfy_v4 *x, rfy_v4 *out) {
    const rfy_network *net = w->net;
    const int m = w->m;
    rfy_packed_apply(w->packed, value, x, out);
    for (int i = 0; i < net->n_stores; i++) {
        const int at = (net->store[i].node * net->mixture.n + net->store[i].gas) * m;
        for (int v = at; v < at + m && through[i] != 0; v++)
            out[v] -= through[i] * x[v];
    }
}

void rfy_linear_apply(rfy_linear_step *w, const rfy_linear *a, const rfy_v4 *x, rfy_v4 *out) {
    const rfy_linear *const same[3] = {a, a, a};
    pack(w, same);
    apply(w, w->value[0], a->through, x, out);
}

void rfy_linear_diagonal(const rfy_linear_step *w, const rfy_linear *a, double *out) {
    const rfy_blocks *pattern = w->pattern;
    const rfy_network *net = w->net;
    const int g = pattern->g, first = net->n_free * g, skipped = rfy_network_inner(net);
    for (int r = 0; r < pattern->n_columns; r++)
        for (int k = pattern->start[r]; k < pattern->start[r + 1]; k++)
            for (int i = 0; i < g && pattern->column[k] == r; i++)
                out[r * g + i] = a->value[(k * g + i) * g + i];
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        double *gas = &out[s->node * g + s->gas];
        *gas -= a->through[i];
        for (int j = s->first - skipped; j < s->first - skipped + s->n; j++) {
            out[first + j] = a->by_x[j];
            *gas -= a->by_n[j];
        }
    }
}

/* n numbers, and what is behind them up to a whole vector */
RFY_WIDE
static void mix(size_t n, void *out, const double *w, const void *a, const void *b, const void *c) {
    rfy_v4 *restrict to = out;
    const rfy_v4 *x = a, *y = b, *z = c;
    for (size_t i = 0; i < (n + RFY_LANES - 1) / RFY_LANES; i++)
        to[i] = w[0] * x[i] + w[1] * y[i] + w[2] * z[i];
}

/* A of free rows between the three. */
static void mix_all(rfy_linear_step *w, const rfy_linear *const a[3], const double by[3]) {
    mix((size_t)w->packed->entries, w->now, by, w->value[0], w->value[1], w->value[2]);
    for (int i = 0; i < w->net->n_stores; i++)
        w->through[i] =
            by[0] * a[0]->through[i] + by[1] * a[1]->through[i] + by[2] * a[2]->through[i];
}

RFY_WIDE
static void add(size_t n, rfy_v4 *restrict out, double f, const rfy_v4 *x) {
    for (size_t i = 0; i < n; i++)
        out[i] += f * x[i];
}

RFY_WIDE
static void sum(size_t n, const rfy_v4 *restrict a, const rfy_v4 *restrict b,
                rfy_v4 *restrict out) {
    for (size_t i = 0; i < n; i++)
        out[i] = a[i] + b[i];
}

/* What a stage begins with. */
typedef struct beginning {
    const rfy_v4 *s, *b[3], *drift;
    const double *part, *a, *c; /* of b and the stages */
    double driven;              /* of the drift */
    rfy_v4 *const *u;
    rfy_v4 *stage;
} beginning;

/* stage = s + sum of a[j] u[j] and u[k] = sum of part[i] b[i] (or b[0] alone) + driven drift + sum
 * of c[j] u[j] over the stages j before k, in one pass. */
RFY_INLINE void combine(size_t n, const beginning *g, const int k, const bool mixed,
                        const bool driven) {
    const rfy_v4 *restrict s = g->s, *restrict b0 = g->b[0], *restrict b1 = g->b[1],
                           *restrict b2 = g->b[2], *restrict drift = g->drift;
    rfy_v4 *restrict stage = g->stage, *restrict own = g->u[k];
    const rfy_v4 *u[RFY_LINEAR_STAGES];
    rfy_v4 a[RFY_LINEAR_STAGES], c[RFY_LINEAR_STAGES]; /* kept in registers */
    const rfy_v4 part[3] = {rfy_all(g->part[0]), rfy_all(g->part[1]), rfy_all(g->part[2])},
                 along = rfy_all(g->driven);
    RFY_UNROLL
    for (int j = 0; j < k; j++) {
        u[j] = g->u[j];
        a[j] = rfy_all(g->a[j]);
        c[j] = rfy_all(g->c[j]);
    }
    for (size_t i = 0; i < n; i++) {
        rfy_v4 x = s[i], r = mixed ? part[0] * b0[i] + part[1] * b1[i] + part[2] * b2[i] : b0[i];
        if (driven)
            r += along * drift[i];
        RFY_UNROLL
        for (int j = 0; j < k; j++) {
            x += a[j] * u[j][i];
            r += c[j] * u[j][i];
        }
        stage[i] = x;
        own[i] = r;
    }
}

RFY_INLINE void combine_so_many(size_t n, const beginning *g, int k, const bool mixed,
                                const bool driven) {
#define CASE(count)                                                                                \
    case count:                                                                                    \
        combine(n, g, count, mixed, driven);                                                       \
        break
    switch (k) {
        CASE(1);
        CASE(2);
        CASE(3);
        CASE(4);
        CASE(5);
    default: /* the first, with none before it */
        combine(n, g, 0, mixed, driven);
        break;
    }
#undef CASE
}

RFY_WIDE
static void combine_stages(size_t n, const beginning *g, int k, bool mixed) {
    if (mixed)
        combine_so_many(n, g, k, true, true);
    else if (g->driven != 0)
        combine_so_many(n, g, k, false, true);
    else
        combine_so_many(n, g, k, false, false);
}

/* fac, and where pull is not NULL a number for each row, on the diagonal; inner states eliminated
 * as in solve/inner.c. */
static bool factor(rfy_linear_step *w, const rfy_linear *a, double fac, const double *pull) {
    const rfy_network *net = w->net;
    const int free = net->n_free * net->mixture.n, g = net->mixture.n,
              skipped = rfy_network_inner(net);
    if (pull)
        memcpy(w->diagonal, pull, (size_t)free * sizeof *w->diagonal);
    else
        memset(w->diagonal, 0, (size_t)free * sizeof *w->diagonal);
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        double *d = &w->diagonal[s->node * g + s->gas];
        *d += a->through[i];
        for (int j = s->first - skipped; j < s->first - skipped + s->n; j++)
            *d += a->by_n[j] * fac / (fac - a->by_x[j]);
    }
    rfy_blocks matrix = *w->pattern;
    matrix.value = a->value;
    return rfy_block_lu_factor(w->lu, &matrix, fac, w->diagonal);
}

/* Of a parabola at its beginning, times the step. */
static const double slope_of_parabola[3] = {-3, 4, -1};

static rfy_linear_stages stages_of(double h) {
    const rfy_rodas_method *method = rfy_rodas_linear;
    rfy_linear_stages s = {.fac = 1 / (h * method->gamma)};
    for (int k = 0; k < RFY_LINEAR_STAGES; k++) {
        const double t = method->at[k];
        const double part[3] = {(1 - t) * (1 - 2 * t), 4 * t * (1 - t), t * (2 * t - 1)};
        for (int i = 0; i < 3; i++) {
            s.part[k][i] = part[i];
            s.driven[k][i] = part[i] + method->in_time[k] * slope_of_parabola[i];
        }
        for (int l = 0; l < k; l++) {
            s.a[k][l] = method->a[k][l];
            s.c[k][l] = method->c[k][l] / h;
        }
    }
    return s;
}

bool rfy_linear_step_take(rfy_linear_step *w, const rfy_linear *const a[3],
                          const rfy_v4 *const b[3], const rfy_fed *const fed[3], double h,
                          const rfy_v4 *s, rfy_v4 *out) {
    const rfy_rodas_method *method = rfy_rodas_linear;
    const size_t n = (size_t)w->free * (size_t)w->m;
    const rfy_linear_stages stages = stages_of(h);
    if (!factor(w, a[0], stages.fac, NULL))
        return false;
    rfy_block_lu_pack(w->lu, w->factors);
    pack(w, a);
    memcpy(w->start, s, n * sizeof *s);
    rfy_inner_step_begin(w->inner, &stages, a, b, fed, s);
    mix_all(w, a, slope_of_parabola);
    mix(RFY_LANES * n, w->drift, slope_of_parabola, b[0], b[1], b[2]);
    apply(w, w->now, w->through, w->start, w->drift);
    double mixed = -1;
    for (int k = 0; k < RFY_LINEAR_STAGES; k++) {
        rfy_v4 *u = w->stage_value[k];
        const double t = method->at[k];
        const bool mixes = t != 0 && t != 1;
        const int here = t == 0 ? 0 : 2;
        if (mixes && t != mixed) {
            mix_all(w, a, stages.part[k]);
            mixed = t;
        }
        const beginning begin = {.s = w->start,
                                 .b = {mixes || t == 0 ? b[0] : b[2], b[1], b[2]},
                                 .drift = w->drift,
                                 .part = stages.part[k],
                                 .driven = method->in_time[k],
                                 .a = stages.a[k],
                                 .c = stages.c[k],
                                 .u = w->stage_value,
                                 .stage = w->stage};
        combine_stages(n, &begin, k, mixes);
        apply(w, mixes ? w->now : w->value[here], mixes ? w->through : a[here]->through, w->stage,
              u);
        rfy_inner_step_feel(w->inner, &stages, k, w->start, w->stage_value, u);
        rfy_packed_solve(w->factors, u);
        rfy_inner_step_follow(w->inner, k, w->stage_value);
    }
    rfy_inner_step_end(w->inner, w->start, w->stage_value, b, s, out);
    sum(n, w->stage, w->stage_value[RFY_LINEAR_STAGES - 1], w->end);
    memcpy(out, w->end, n * sizeof *out);
    return true;
}

RFY_WIDE
static void scale(int rows, int m, const double *factor, double f, const rfy_v4 *restrict s,
                  const rfy_v4 *restrict b, rfy_v4 *restrict out) {
    for (int i = 0; i < rows; i++)
        for (int v = i * m; v < (i + 1) * m; v++)
            out[v] = factor[i] * f * s[v] + b[v];
}

bool rfy_linear_step_quick(rfy_linear_step *w, const rfy_linear *a, const rfy_v4 *b, double h,
                           const double *ratio, const double *pull, const rfy_v4 *s) {
    if (!factor(w, a, 1 / h, pull))
        return false;
    scale(w->free, w->m, ratio, 1 / h, s, b, w->end);
    rfy_block_lu_pack(w->lu, w->factors);
    rfy_packed_solve(w->factors, w->end);
    return true;
}

bool rfy_linear_step_back(rfy_linear_step *w, double *value, double h, const double *ratio,
                          const double *pull, double *x) {
    const rfy_linear a = {.value = value};
    if (!factor(w, &a, 1 / h, pull))
        return false;
    rfy_block_lu_solve_transposed(w->lu, x);
    for (int i = 0; i < w->rows; i++)
        x[i] *= ratio[i] / h;
    return true;
}

void rfy_linear_step_inside(const rfy_linear_step *w, double f, rfy_v4 *out) {
    const rfy_rodas_method *method = rfy_rodas_linear;
    const size_t n = (size_t)w->free * (size_t)w->m;
    memset(out, 0, n * sizeof *out);
    add(n, out, 1 - f, w->start);
    add(n, out, f, w->end);
    for (int k = 0; k < RFY_LINEAR_STAGES; k++)
        add(n, out,
            f * (1 - f) *
                (method->dense[0][k] + f * (method->dense[1][k] + f * method->dense[2][k])),
            w->stage_value[k]);
}
