#include "solve/tangent_inner.h"
#include <string.h>
#include "solve/columns.h"
#include "solve/tangent_step.h"

enum { STAGES = RFY_LINEAR_STAGES, INPUTS = RFY_LINEAR_INPUTS, MOST = 128 /* states of a store */ };

typedef struct rfy_wide_stages {
    rfy_v4 fac, a[STAGES][STAGES], c[STAGES][STAGES], part[STAGES][3], driven[STAGES][3];
    int only[STAGES]; /* the one of the three that a stage is at, or -1 */
} wide_stages;

rfy_inner_step *rfy_inner_step_new(rfy_arena *arena, const rfy_network *net, int m) {
    rfy_inner_step *w = RFY_NEW(arena, 1, rfy_inner_step);
    w->net = net;
    w->m = m;
    w->store = RFY_NEW(arena, (size_t)net->n_stores, rfy_inner_answer);
    w->way = RFY_NEW(arena, 4 * STAGES * MOST, double);
    w->wide = RFY_NEW(arena, 1, wide_stages);
    for (int i = 0; i < net->n_stores; i++) {
        rfy_inner_answer *q = &w->store[i];
        q->lanes = (net->store[i].n + RFY_LANES - 1) / RFY_LANES * RFY_LANES;
        q->own = RFY_NEW(arena, (size_t)(STAGES * m), rfy_v4);
        q->u = RFY_NEW(arena, (size_t)(STAGES * m), rfy_v4);
        q->fed = RFY_NEW(arena, (size_t)(3 * m), rfy_v4);
        q->end = RFY_NEW(arena, (size_t)(INPUTS * q->lanes), double);
    }
    return w;
}

static void widen(const rfy_linear_stages *s, wide_stages *out) {
    out->fac = rfy_all(s->fac);
    for (int k = 0; k < STAGES; k++) {
        for (int l = 0; l < k; l++) {
            out->a[k][l] = rfy_all(s->a[k][l]);
            out->c[k][l] = rfy_all(s->c[k][l]);
        }
        for (int i = 0; i < 3; i++) {
            out->part[k][i] = rfy_all(s->part[k][i]);
            out->driven[k][i] = rfy_all(s->driven[k][i]);
        }
        out->only[k] = s->part[k][0] == 1 ? 0 : s->part[k][2] == 1 ? 2 : -1;
    }
}

/* Of four states: stage values by every input, and the end. */
typedef struct replies {
    rfy_v4 start[STAGES], gas[STAGES], stage[STAGES][STAGES], fed[STAGES][3];
    rfy_v4 end[INPUTS];
} replies;

/* The stages of
 *     (fac - a0) u_k = a_k (x + sum a_kl u_l) + c_k (N + sum a_kl v_l) + c0 v_k + sum c_kl u_l
 *                      + drift_k (a' x + c' N) + b_k + drift_k b'
 * for x, N, each v and each b in turn as the only one that is not zero. */
RFY_INLINE void run_stages(const wide_stages *s, const rfy_v4 a[3], const rfy_v4 c[3], bool fed,
                           replies *r) {
    const rfy_v4 inverse = 1 / (s->fac - a[0]), own = c[0] * inverse;
    RFY_UNROLL
    for (int k = 0; k < STAGES; k++) {
        const rfy_v4 *part = s->part[k], *driven = s->driven[k];
        rfy_v4 here, gas;
        if (s->only[k] < 0) {
            here = part[0] * a[0] + part[1] * a[1] + part[2] * a[2];
            gas = part[0] * c[0] + part[1] * c[1] + part[2] * c[2];
        } else {
            here = a[s->only[k]];
            gas = c[s->only[k]];
        }
        rfy_v4 by[STAGES], x = driven[0] * a[0] + driven[1] * a[1] + driven[2] * a[2],
                           n = driven[0] * c[0] + driven[1] * c[1] + driven[2] * c[2];
        RFY_UNROLL
        for (int l = 0; l < k; l++) {
            by[l] = s->a[k][l] * here + s->c[k][l];
            x += by[l] * r->start[l];
            n += by[l] * r->gas[l];
        }
        r->start[k] = x * inverse;
        r->gas[k] = n * inverse;
        RFY_UNROLL
        for (int l = 0; l < k; l++) {
            rfy_v4 v = s->a[k][l] * gas;
            RFY_UNROLL
            for (int i = l; i < k; i++)
                v += by[i] * r->stage[i][l];
            r->stage[k][l] = v * inverse;
        }
        r->stage[k][k] = own;
        for (int i = 0; i < 3 && fed; i++) {
            rfy_v4 b = driven[i];
            RFY_UNROLL
            for (int l = 0; l < k; l++)
                b += by[l] * r->fed[l][i];
            r->fed[k][i] = b * inverse;
        }
    }
    /* the last stage begins with the sum of a_kl u_l, and its own u is added */
    const rfy_v4 *last = s->a[STAGES - 1];
    rfy_v4 x = 1 + r->start[STAGES - 1], n = r->gas[STAGES - 1];
    RFY_UNROLL
    for (int l = 0; l < STAGES - 1; l++) {
        x += last[l] * r->start[l];
        n += last[l] * r->gas[l];
    }
    r->end[0] = x;
    r->end[1] = n;
    RFY_UNROLL
    for (int l = 0; l < STAGES; l++) {
        rfy_v4 v = r->stage[STAGES - 1][l];
        RFY_UNROLL
        for (int i = l; i < STAGES - 1; i++)
            v += last[i] * r->stage[i][l];
        r->end[2 + l] = v;
    }
    for (int i = 0; i < 3 && fed; i++) {
        rfy_v4 b = r->fed[STAGES - 1][i];
        for (int l = 0; l < STAGES - 1; l++)
            b += last[l] * r->fed[l][i];
        r->end[2 + STAGES + i] = b;
    }
}

RFY_INLINE double sum_of(rfy_v4 x) {
    return (x[0] + x[1]) + (x[2] + x[3]);
}

/* Answers of all states of a store; of u by the states and by b to `way`. Lanes behind the last
 * state answer nothing. */
RFY_WIDE
static void answer(const wide_stages *s, const rfy_linear *const a[3], int first, int n,
                   rfy_inner_answer *q, double *way) {
    rfy_v4 gas[STAGES] = {{0}}, stage[STAGES][STAGES] = {{{0}}};
    for (int j = 0; j < n; j += RFY_LANES) {
        rfy_v4 by_x[3], by_n[3];
        replies r;
        for (int i = 0; i < 3; i++) {
            rfy_to_lanes(a[i]->by_x + first + j, n - j, 1, &by_x[i]);
            rfy_to_lanes(a[i]->by_n + first + j, n - j, 1, &by_n[i]);
        }
        run_stages(s, by_x, by_n, q->is_fed != 0, &r);
        for (int k = 0; k < STAGES; k++) {
            memcpy(way + k * q->lanes + j, &r.start[k], sizeof r.start[k]);
            gas[k] += r.gas[k];
            for (int l = 0; l <= k; l++)
                stage[k][l] += r.stage[k][l];
            for (int i = 0; i < 3 && q->is_fed; i++)
                memcpy(way + ((i + 1) * STAGES + k) * q->lanes + j, &r.fed[k][i],
                       sizeof r.fed[k][i]);
        }
        for (int i = 0; i < (q->is_fed ? INPUTS : INPUTS - 3); i++)
            memcpy(q->end + i * q->lanes + j, &r.end[i], sizeof r.end[i]);
    }
    for (int k = 0; k < STAGES; k++) {
        q->by_start[k] = sum_of(gas[k]);
        for (int l = 0; l <= k; l++)
            q->by_stage[k][l] = sum_of(stage[k][l]);
    }
}

/* own += sum of way[k][j] row j, for all stages k; two of them in a pass over the rows. */
RFY_INLINE void gather(const double *way, int lanes, int n, const rfy_v4 *rows, rfy_v4 *own, int m,
                       const int w) {
    for (int k = 0; k < STAGES; k += 2) {
        const double *f = way + k * lanes;
        rfy_v4 a[RFY_MOST_WIDE], b[RFY_MOST_WIDE];
        RFY_UNROLL
        for (int v = 0; v < w; v++) {
            a[v] = own[k * m + v];
            b[v] = own[(k + 1) * m + v];
        }
        for (int j = 0; j < n; j++) {
            const rfy_v4 *row = rows + j * m;
            const double f0 = f[j], f1 = f[lanes + j];
            RFY_UNROLL
            for (int v = 0; v < w; v++) {
                const rfy_v4 x = row[v];
                a[v] += f0 * x;
                b[v] += f1 * x;
            }
        }
        RFY_UNROLL
        for (int v = 0; v < w; v++) {
            own[k * m + v] = a[v];
            own[(k + 1) * m + v] = b[v];
        }
    }
}

RFY_WIDE
static void gather_rows(const double *way, int lanes, int n, const rfy_v4 *rows, rfy_v4 *own,
                        int m){
#define GATHER(c, stride, w) gather(way, lanes, n, rows + (c), own + (c), stride, w)
    RFY_BY_COLUMNS(m, GATHER)
#undef GATHER
}

/* One vector of the rows of a store that b feeds. */
RFY_WIDE static void gather_fed(const rfy_inner_answer *q, const double *way, int n,
                                const rfy_v4 *const b[3], rfy_v4 *own, rfy_v4 *fed, int m) {
    rfy_v4 stage[STAGES];
    RFY_UNROLL
    for (int k = 0; k < STAGES; k++)
        stage[k] = own[k * m];
    for (int i = 0; i < 3; i++) {
        const double *f = way + (i + 1) * STAGES * q->lanes;
        rfy_v4 sum = rfy_all(0);
        for (int j = 0; j < n; j++, f++) {
            const rfy_v4 x = b[i][j * m];
            sum += x;
            RFY_UNROLL
            for (int k = 0; k < STAGES; k++)
                stage[k] += f[k * q->lanes] * x;
        }
        fed[i * m] = sum;
    }
    RFY_UNROLL
    for (int k = 0; k < STAGES; k++)
        own[k * m] = stage[k];
}

void rfy_inner_step_begin(rfy_inner_step *w, const rfy_linear_stages *stages,
                          const rfy_linear *const a[3], const rfy_v4 *const b[3],
                          const rfy_fed *const fed[3], const rfy_v4 *s) {
    const rfy_network *net = w->net;
    const int m = w->m, free = net->n_free * net->mixture.n, skipped = rfy_network_inner(net);
    widen(stages, w->wide);
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *store = &net->store[i];
        const int first = store->first - skipped, row = (free + first) * m;
        rfy_inner_answer *q = &w->store[i];
        q->is_fed = fed[0][i] | fed[1][i] | fed[2][i];
        answer(w->wide, a, first, store->n, q, w->way);
        memset(q->own, 0, (size_t)(STAGES * m) * sizeof *q->own);
        gather_rows(w->way, q->lanes, store->n, s + row, q->own, m);
        for (int v = 0; v < m && q->is_fed; v++) {
            const rfy_v4 *of[3] = {b[0] + row + v, b[1] + row + v, b[2] + row + v};
            if (q->is_fed & rfy_fed_at(v))
                gather_fed(q, w->way, store->n, of, q->own + v, q->fed + v, m);
        }
    }
}

/* The gas loses d(sum of x)/dt - b, and the stage equations of the sum, U, are
 *     fac U_k = sum of (d x/dt)_k + sum c_kl U_l . */
RFY_WIDE
static void feel(rfy_inner_answer *q, const rfy_linear_stages *stages, const int k, int m,
                 const rfy_v4 *start, const rfy_v4 *const stage[], rfy_v4 *rhs) {
    for (int v = 0; v < m; v++) {
        rfy_v4 u = q->own[k * m + v] + q->by_start[k] * start[v], rest = rfy_all(0);
        for (int l = 0; l < k; l++) {
            u += q->by_stage[k][l] * stage[l][v];
            rest += stages->c[k][l] * q->u[l * m + v];
        }
        for (int l = 0; l < 3 && (q->is_fed & rfy_fed_at(v)); l++)
            rest += stages->driven[k][l] * q->fed[l * m + v];
        q->u[k * m + v] = u;
        rhs[v] -= stages->fac * u - rest;
    }
}

void rfy_inner_step_feel(rfy_inner_step *w, const rfy_linear_stages *stages, int k,
                         const rfy_v4 *start, rfy_v4 *const stage[], rfy_v4 *rhs) {
    const rfy_network *net = w->net;
    for (int i = 0; i < net->n_stores; i++) {
        const int at = (net->store[i].node * net->mixture.n + net->store[i].gas) * w->m;
        const rfy_v4 *gas[STAGES];
        for (int l = 0; l < k; l++)
            gas[l] = stage[l] + at;
        feel(&w->store[i], stages, k, w->m, start + at, gas, rhs + at);
    }
}

RFY_WIDE
static void follow(rfy_v4 *u, double by, const rfy_v4 *stage, int m) {
    for (int v = 0; v < m; v++)
        u[v] += by * stage[v];
}

void rfy_inner_step_follow(rfy_inner_step *w, int k, rfy_v4 *const stage[]) {
    const rfy_network *net = w->net;
    for (int i = 0; i < net->n_stores; i++) {
        const int at = (net->store[i].node * net->mixture.n + net->store[i].gas) * w->m;
        rfy_inner_answer *q = &w->store[i];
        follow(q->u + k * w->m, q->by_stage[k][k], stage[k] + at, w->m);
    }
}

/* w vectors of every row of a store: out = end[0] s + sum of end[i] gas[i] (rows of the gas: at the
 * beginning, and its stages). */
RFY_INLINE void put(const rfy_inner_answer *q, int n, const rfy_v4 *const gas[1 + STAGES], int c,
                    const rfy_v4 *s, rfy_v4 *out, int m, const int w) {
    for (int j = 0; j < n; j++) {
        const double *f = q->end + j;
        rfy_v4 x[RFY_MOST_WIDE];
        RFY_UNROLL
        for (int v = 0; v < w; v++)
            x[v] = f[0] * s[j * m + c + v];
        RFY_UNROLL
        for (int i = 0; i < 1 + STAGES; i++) {
            const double by = f[(1 + i) * q->lanes];
            RFY_UNROLL
            for (int v = 0; v < w; v++)
                x[v] += by * gas[i][c + v];
        }
        RFY_UNROLL
        for (int v = 0; v < w; v++)
            out[j * m + c + v] = x[v];
    }
}

RFY_WIDE
static void put_rows(const rfy_inner_answer *q, int n, const rfy_v4 *const gas[1 + STAGES],
                     const rfy_v4 *s, rfy_v4 *out, int m){
#define PUT(c, stride, w) put(q, n, gas, c, s, out, stride, w)
    RFY_BY_COLUMNS(m, PUT)
#undef PUT
}

/* And what b made of one vector of them. */
RFY_WIDE static void put_fed(const rfy_inner_answer *q, int n, const rfy_v4 *const b[3],
                             rfy_v4 *out, int m) {
    const double *f = q->end + (2 + STAGES) * q->lanes;
    for (int j = 0; j < n; j++)
        out[j * m] +=
            f[j] * b[0][j * m] + f[q->lanes + j] * b[1][j * m] + f[2 * q->lanes + j] * b[2][j * m];
}

void rfy_inner_step_end(rfy_inner_step *w, const rfy_v4 *start, rfy_v4 *const stage[],
                        const rfy_v4 *const b[3], const rfy_v4 *s, rfy_v4 *out) {
    const rfy_network *net = w->net;
    const int m = w->m, free = net->n_free * net->mixture.n, skipped = rfy_network_inner(net);
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *store = &net->store[i];
        const int row = (free + store->first - skipped) * m,
                  at = (store->node * net->mixture.n + store->gas) * m;
        const rfy_inner_answer *q = &w->store[i];
        const rfy_v4 *gas[1 + STAGES] = {start + at};
        for (int k = 0; k < STAGES; k++)
            gas[1 + k] = stage[k] + at;
        put_rows(q, store->n, gas, s + row, out + row, m);
        for (int v = 0; v < m && q->is_fed; v++) {
            const rfy_v4 *of[3] = {b[0] + row + v, b[1] + row + v, b[2] + row + v};
            if (q->is_fed & rfy_fed_at(v))
                put_fed(q, store->n, of, out + row + v, m);
        }
    }
}
