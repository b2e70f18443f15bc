#include <math.h>
#include <string.h>
#include "core/lanes.h"
#include "solve/block_lu_parts.h"

/* ---- order and pattern --------------------------------------------------------------------------
 */

typedef struct graph {
    int n;
    int *size, *cap;
    int **neighbour; /* unordered, without the node itself */
} graph;

static bool linked(const graph *g, int a, int b) {
    for (int i = 0; i < g->size[a]; i++)
        if (g->neighbour[a][i] == b)
            return true;
    return false;
}

static void add_link(rfy_arena *arena, graph *g, int a, int b) {
    if (g->size[a] == g->cap[a]) {
        int more = g->cap[a] ? 2 * g->cap[a] : 4;
        g->neighbour[a] =
            rfy_arena_grow(arena, g->neighbour[a], (size_t)g->cap[a], (size_t)more, sizeof(int));
        g->cap[a] = more;
    }
    g->neighbour[a][g->size[a]++] = b;
}

static void drop_link(graph *g, int a, int b) {
    for (int i = 0; i < g->size[a]; i++)
        if (g->neighbour[a][i] == b) {
            g->neighbour[a][i] = g->neighbour[a][--g->size[a]];
            return;
        }
}

/* Minimum degree (Tinney and Walker 1967), degrees in bucket lists so that a long chain costs
 * linear time. The neighbours left when a node goes are the columns of its row of U. */
static void eliminate(rfy_arena *arena, graph *g, rfy_block_lu *lu, int **row, int *row_size) {
    const int n = g->n;
    int *head = RFY_NEW(arena, (size_t)n + 1, int), *next = RFY_NEW(arena, (size_t)n, int),
        *prev = RFY_NEW(arena, (size_t)n, int), *where = RFY_NEW(arena, (size_t)n, int);
    for (int d = 0; d <= n; d++)
        head[d] = -1;
    for (int i = n - 1; i >= 0; i--) {
        int d = g->size[i];
        where[i] = d;
        prev[i] = -1;
        next[i] = head[d];
        if (head[d] >= 0)
            prev[head[d]] = i;
        head[d] = i;
    }
    for (int k = 0, d = 0; k < n; k++) {
        while (head[d] < 0)
            d++;
        int node = head[d];
        head[d] = next[node];
        if (head[d] >= 0)
            prev[head[d]] = -1;
        lu->order[k] = node;
        lu->place[node] = k;
        int m = g->size[node];
        row[k] = RFY_NEW(arena, (size_t)m, int);
        row_size[k] = m;
        if (m > 0)
            memcpy(row[k], g->neighbour[node], (size_t)m * sizeof(int));
        for (int i = 0; i < m; i++)
            drop_link(g, row[k][i], node);
        for (int i = 0; i < m; i++)
            for (int j = 0; j < m; j++)
                if (i != j && !linked(g, row[k][i], row[k][j]))
                    add_link(arena, g, row[k][i], row[k][j]);
        for (int i = 0; i < m; i++) {
            int a = row[k][i], now = g->size[a];
            if (prev[a] >= 0)
                next[prev[a]] = next[a];
            else
                head[where[a]] = next[a];
            if (next[a] >= 0)
                prev[next[a]] = prev[a];
            where[a] = now;
            prev[a] = -1;
            next[a] = head[now];
            if (head[now] >= 0)
                prev[head[now]] = a;
            head[now] = a;
            if (now < d)
                d = now;
        }
    }
}

/* Where the matrix's blocks and the products of the elimination go. */
static void plan(rfy_arena *arena, rfy_arena *temporary, rfy_block_lu *lu, const rfy_blocks *m) {
    int *slot = RFY_NEW(temporary, (size_t)lu->n, int); /* of a column in the row at work */
    size_t products = 0;
    for (int r = 0; r < lu->n; r++)
        for (int p = lu->start[r]; p < lu->diagonal[r]; p++) {
            int k = lu->column[p];
            products += (size_t)(lu->start[k + 1] - lu->diagonal[k] - 1);
        }
    lu->source = RFY_NEW(arena, (size_t)lu->start[lu->n], int);
    lu->target = RFY_NEW(arena, products, int);
    for (int r = 0, next = 0; r < lu->n; r++) {
        for (int p = lu->start[r]; p < lu->start[r + 1]; p++) {
            slot[lu->column[p]] = p;
            lu->source[p] = -1;
        }
        int node = lu->order[r];
        for (int k = m->start[node]; k < m->start[node + 1]; k++)
            lu->source[slot[lu->place[m->column[k]]]] = k;
        for (int p = lu->start[r]; p < lu->diagonal[r]; p++) {
            int k = lu->column[p];
            for (int q = lu->diagonal[k] + 1; q < lu->start[k + 1]; q++)
                lu->target[next++] = slot[lu->column[q]];
        }
    }
}

rfy_block_lu *rfy_block_lu_new(rfy_arena *arena, const rfy_blocks *pattern) {
    const int n = pattern->n_columns, g = pattern->g;
    rfy_block_lu *lu = RFY_NEW(arena, 1, rfy_block_lu);
    rfy_arena *temporary = rfy_arena_new();
    lu->n = n;
    lu->g = g;
    lu->order = RFY_NEW(arena, (size_t)n, int);
    lu->place = RFY_NEW(arena, (size_t)n, int);
    graph links = {.n = n,
                   .size = RFY_NEW(temporary, (size_t)n, int),
                   .cap = RFY_NEW(temporary, (size_t)n, int),
                   .neighbour = RFY_NEW(temporary, (size_t)n, int *)};
    for (int i = 0; i < n; i++)
        for (int k = pattern->start[i]; k < pattern->start[i + 1]; k++)
            if (pattern->column[k] != i)
                add_link(temporary, &links, i, pattern->column[k]);
    int **row = RFY_NEW(temporary, (size_t)n, int *), *size = RFY_NEW(temporary, (size_t)n, int);
    eliminate(temporary, &links, lu, row, size);

    /* U rows are known; L is its mirror image */
    int *count = RFY_NEW(temporary, (size_t)n + 1, int), total = 0;
    for (int k = 0; k < n; k++) {
        count[k]++;
        total += 1 + 2 * size[k];
        for (int i = 0; i < size[k]; i++) {
            row[k][i] = lu->place[row[k][i]];
            count[k]++;
            count[row[k][i]]++;
        }
    }
    lu->start = RFY_NEW(arena, (size_t)n + 1, int);
    for (int k = 0; k < n; k++)
        lu->start[k + 1] = lu->start[k] + count[k];
    lu->column = RFY_NEW(arena, (size_t)total, int);
    lu->diagonal = RFY_NEW(arena, (size_t)n, int);
    memset(count, 0, (size_t)n * sizeof *count);
    /* columns below the diagonal arrive in rising order of k; then the diagonal; then U, sorted */
    for (int k = 0; k < n; k++)
        for (int i = 0; i < size[k]; i++) {
            int r = row[k][i];
            lu->column[lu->start[r] + count[r]++] = k;
        }
    for (int k = 0; k < n; k++) {
        lu->diagonal[k] = lu->start[k] + count[k];
        lu->column[lu->diagonal[k]] = k;
        int *u = lu->column + lu->diagonal[k] + 1;
        for (int i = 0; i < size[k]; i++) { /* insertion sort: rows are short */
            int j = i;
            for (; j > 0 && u[j - 1] > row[k][i]; j--)
                u[j] = u[j - 1];
            u[j] = row[k][i];
        }
    }
    lu->lanes = (g + RFY_LANES - 1) / RFY_LANES;
    lu->size = lu->lanes * g;
    lu->value = RFY_NEW(arena, (size_t)total * (size_t)lu->size, rfy_v4);
    lu->lower = RFY_NEW(arena, (size_t)n * (size_t)lu->size, rfy_v4);
    lu->upper = RFY_NEW(arena, (size_t)n * (size_t)lu->size, rfy_v4);
    lu->pivot = RFY_NEW(arena, (size_t)n * (size_t)g, int);
    lu->scratch = RFY_NEW(arena, (size_t)n * (size_t)lu->lanes, rfy_v4);
    lu->matrix = pattern;
    lu->below = RFY_NEW(
        arena, (size_t)(pattern->start[pattern->n_rows] - pattern->start[n]) * (size_t)lu->size,
        rfy_v4);
    plan(arena, temporary, lu, pattern);
    rfy_arena_free(temporary);
    return lu;
}

/* ---- numbers ---- */

/* call(g, vectors in a column), with the usual numbers of gases as constants for the compiler */
#define BY_GASES(lu, call)                                                                         \
    switch ((lu)->g) {                                                                             \
    case 1:                                                                                        \
        call(1, 1);                                                                                \
        break;                                                                                     \
    case 4:                                                                                        \
        call(4, 1);                                                                                \
        break;                                                                                     \
    case 5:                                                                                        \
        call(5, 2);                                                                                \
        break;                                                                                     \
    case 6:                                                                                        \
        call(6, 2);                                                                                \
        break;                                                                                     \
    default:                                                                                       \
        call((lu)->g, (lu)->lanes);                                                                \
    }

/* The diagonal blocks are factored, not inverted: in viscous flow a block is nearly of rank one (a
 * gas feels the others through the total pressure), and what an explicit inverse loses there shows
 * in the balance of the gas. */

RFY_INLINE double *entry(rfy_v4 *a, int lanes, int row, int column) {
    return (double *)(a + column * lanes) + row;
}

/* all ones in the lanes of rows above k (below: behind) */
RFY_INLINE rfy_v4i rows_before(const int v, const int k) {
    const int i = v * RFY_LANES;
    return (rfy_v4i){i < k ? -1 : 0, i + 1 < k ? -1 : 0, i + 2 < k ? -1 : 0, i + 3 < k ? -1 : 0};
}

RFY_INLINE rfy_v4 keep(rfy_v4i mask, rfy_v4 x) {
    return (rfy_v4)(mask & (rfy_v4i)x);
}

/* Brings the row with the largest entry of column k from row k on to row k. */
static void swap_rows(int g, int lanes, rfy_v4 *a, int k, int *pivot) {
    int best = k;
    for (int i = k + 1; i < g; i++)
        if (fabs(*entry(a, lanes, i, k)) > fabs(*entry(a, lanes, best, k)))
            best = i;
    *pivot = best;
    for (int j = 0; best != k && j < g; j++) {
        double t = *entry(a, lanes, k, j);
        *entry(a, lanes, k, j) = *entry(a, lanes, best, j);
        *entry(a, lanes, best, j) = t;
    }
}

/* a becomes L U of its rows as pivoting orders them: a row is exchanged for one twice as large, not
 * for less, so that a trace is not mixed with what is plenty for nothing; on the diagonal stand the
 * inverses of U's. lower, upper: the strict triangles of the factors, each column filled up with
 * zeros. */
RFY_INLINE bool factor_block(const int g, const int lanes, rfy_v4 *a, rfy_v4 *restrict lower,
                             rfy_v4 *restrict upper, int *pivot) {
    bool swapped = false;
    RFY_UNROLL
    for (int k = 0; k < g; k++) {
        rfy_v4 *column = a + k * lanes;
        const double most = 2 * fabs(column[k / RFY_LANES][k % RFY_LANES]);
        rfy_v4i larger = {0};
        RFY_UNROLL
        for (int v = k / RFY_LANES; v < lanes; v++)
            larger |= ~rows_before(v, k) & (rfy_magnitude(column[v]) > most);
        pivot[k] = k;
        if (rfy_any(larger)) {
            swap_rows(g, lanes, a, k, &pivot[k]);
            swapped = true;
        }
        const double largest = column[k / RFY_LANES][k % RFY_LANES];
        if (!(fabs(largest) > 0))
            return false;
        const double inverse = 1 / largest;
        RFY_UNROLL
        for (int v = 0; v < lanes; v++) {
            lower[k * lanes + v] = keep(~rows_before(v, k + 1), inverse * column[v]);
            upper[k * lanes + v] = keep(rows_before(v, k), column[v]);
        }
        RFY_UNROLL
        for (int j = k + 1; j < g; j++) {
            const double f = a[j * lanes + k / RFY_LANES][k % RFY_LANES];
            RFY_UNROLL
            for (int v = k / RFY_LANES; v < lanes; v++)
                a[j * lanes + v] -= f * lower[k * lanes + v];
        }
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            column[v] = upper[k * lanes + v] + lower[k * lanes + v];
        column[k / RFY_LANES][k % RFY_LANES] = inverse;
    }
    /* rows of L that a later pivot swapped */
    for (int k = 0; swapped && k < g; k++)
        for (int i = k + 1; i < g; i++)
            ((double *)(lower + k * lanes))[i] = *entry(a, lanes, i, k);
    return true;
}

/* The inverses of both factors, by columns, with the exchanges of rows in the first: what one
 * right-hand side after the other is multiplied by. A triangular solve would wait for each of its
 * unknowns in turn, and either way the error is that of the factors (Du Croz and Higham 1992,
 * "Stability of methods for matrix inversion"), not of their product. */
RFY_INLINE void invert_factors(const int g, const int lanes, const rfy_v4 *restrict d,
                               const int *pivot, rfy_v4 *restrict lower, rfy_v4 *restrict upper) {
    rfy_v4 l[RFY_MAX_GASES * RFY_MAX_GASES / RFY_LANES],
        u[RFY_MAX_GASES * RFY_MAX_GASES / RFY_LANES];
    int from[RFY_MAX_GASES];
    for (int j = 0; j < g; j++)
        from[j] = j;
    for (int k = 0; k < g; k++) {
        const int t = from[k];
        from[k] = from[pivot[k]];
        from[pivot[k]] = t;
    }
    RFY_UNROLL
    for (int j = 0; j < g; j++) {
        rfy_v4 z[RFY_MAX_GASES / RFY_LANES] = {{0}};
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            z[v] = -lower[j * lanes + v];
        z[j / RFY_LANES][j % RFY_LANES] = 1;
        RFY_UNROLL
        for (int k = j + 1; k < g - 1; k++) {
            const double f = z[k / RFY_LANES][k % RFY_LANES];
            RFY_UNROLL
            for (int v = 0; v < lanes; v++)
                z[v] -= f * lower[k * lanes + v];
        }
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            l[j * lanes + v] = z[v];
    }
    RFY_UNROLL
    for (int j = 0; j < g; j++) {
        rfy_v4 z[RFY_MAX_GASES / RFY_LANES] = {{0}};
        z[j / RFY_LANES][j % RFY_LANES] = 1;
        RFY_UNROLL
        for (int k = j; k >= 0; k--) {
            const double f =
                z[k / RFY_LANES][k % RFY_LANES] * d[k * lanes + k / RFY_LANES][k % RFY_LANES];
            RFY_UNROLL
            for (int v = 0; v < lanes; v++)
                z[v] -= f * upper[k * lanes + v];
            z[k / RFY_LANES][k % RFY_LANES] = f;
        }
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            u[j * lanes + v] = z[v];
    }
    for (int j = 0; j < g; j++)
        for (int v = 0; v < lanes; v++) {
            lower[from[j] * lanes + v] = l[j * lanes + v];
            upper[j * lanes + v] = u[j * lanes + v];
        }
}

/* x := x d^-1 for a block x, d factored */
RFY_INLINE void divide_block(const int g, const int lanes, rfy_v4 *restrict x,
                             const rfy_v4 *restrict d, const int *pivot) {
    RFY_UNROLL
    for (int j = 0; j < g; j++) {
        const double *u = (const double *)(d + j * lanes);
        rfy_v4 sum[RFY_MAX_GASES / RFY_LANES] = {{0}};
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            sum[v] = x[j * lanes + v];
        RFY_UNROLL
        for (int k = 0; k < j; k++) {
            RFY_UNROLL
            for (int v = 0; v < lanes; v++)
                sum[v] -= u[k] * x[k * lanes + v];
        }
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            x[j * lanes + v] = sum[v] * u[j];
    }
    RFY_UNROLL
    for (int j = g - 1; j >= 0; j--) {
        const double *l = (const double *)(d + j * lanes);
        rfy_v4 sum[RFY_MAX_GASES / RFY_LANES] = {{0}};
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            sum[v] = x[j * lanes + v];
        RFY_UNROLL
        for (int k = j + 1; k < g; k++) {
            RFY_UNROLL
            for (int v = 0; v < lanes; v++)
                sum[v] -= l[k] * x[k * lanes + v];
        }
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            x[j * lanes + v] = sum[v];
    }
    for (int k = g - 1; k >= 0; k--)
        if (pivot[k] != k)
            for (int v = 0; v < lanes; v++) {
                rfy_v4 t = x[k * lanes + v];
                x[k * lanes + v] = x[pivot[k] * lanes + v];
                x[pivot[k] * lanes + v] = t;
            }
}

/* y = a x for a block by columns */
RFY_INLINE void times(const int g, const int lanes, const rfy_v4 *restrict a,
                      const double *restrict x, rfy_v4 *restrict y) {
    rfy_v4 even[RFY_MAX_GASES / RFY_LANES] = {{0}}, odd[RFY_MAX_GASES / RFY_LANES] = {{0}};
    RFY_UNROLL
    for (int j = 0; j < g; j++) {
        const double f = x[j];
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            (j % 2 ? odd : even)[v] += f * a[j * lanes + v];
    }
    RFY_UNROLL
    for (int v = 0; v < lanes; v++)
        y[v] = even[v] + odd[v];
}

/* x := d^-1 x for the amounts x of one node, by the inverses of the factors */
RFY_INLINE void divide(const int g, const int lanes, rfy_v4 *x, const rfy_v4 *lower,
                       const rfy_v4 *upper) {
    rfy_v4 y[RFY_MAX_GASES / RFY_LANES];
    times(g, lanes, lower, (const double *)x, y);
    times(g, lanes, upper, (const double *)y, x);
}

/* x := d^-T x */
static void divide_transposed(int g, int lanes, double *x, const rfy_v4 *d, const int *pivot) {
    for (int k = 0; k < g; k++) {
        const double *u = (const double *)(d + k * lanes);
        for (int i = 0; i < k; i++)
            x[k] -= u[i] * x[i];
        x[k] *= u[k];
    }
    for (int k = g - 1; k >= 0; k--) {
        const double *l = (const double *)(d + k * lanes);
        for (int i = k + 1; i < g; i++)
            x[k] -= l[i] * x[i];
    }
    for (int k = g - 1; k >= 0; k--)
        if (pivot[k] != k) {
            double t = x[k];
            x[k] = x[pivot[k]];
            x[pivot[k]] = t;
        }
}

/* c -= a b, blocks by columns */
RFY_INLINE void subtract_product(const int g, const int lanes, rfy_v4 *restrict c,
                                 const rfy_v4 *restrict a, const rfy_v4 *restrict b) {
    for (int j = 0; j < g; j++) {
        const double *f = (const double *)(b + j * lanes);
        rfy_v4 even[RFY_MAX_GASES / RFY_LANES] = {{0}}, odd[RFY_MAX_GASES / RFY_LANES] = {{0}};
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            even[v] = c[j * lanes + v];
        RFY_UNROLL
        for (int k = 0; k < g; k++) {
            RFY_UNROLL
            for (int v = 0; v < lanes; v++)
                (k % 2 ? odd : even)[v] -= f[k] * a[k * lanes + v];
        }
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            c[j * lanes + v] = even[v] + odd[v];
    }
}

/* A row of the factors times the solution, taken off its right-hand side: z_r less the blocks at
 * `from` up to `to` times the z of their columns. Two sums, so that a product need not wait for the
 * one before it. */
RFY_INLINE void subtract_row(const int g, const int lanes, const rfy_v4 *restrict value,
                             const int *restrict column, int from, int to, rfy_v4 *z, int row) {
    rfy_v4 even[RFY_MAX_GASES / RFY_LANES] = {{0}}, odd[RFY_MAX_GASES / RFY_LANES] = {{0}};
    if (from == to)
        return;
    RFY_UNROLL
    for (int v = 0; v < lanes; v++)
        even[v] = z[row * lanes + v];
    for (int p = from; p < to; p++) {
        const rfy_v4 *a = value + p * g * lanes;
        const double *y = (const double *)(z + column[p] * lanes);
        RFY_UNROLL
        for (int j = 0; j < g; j++) {
            const double f = y[j];
            RFY_UNROLL
            for (int v = 0; v < lanes; v++)
                (j % 2 ? odd : even)[v] -= f * a[j * lanes + v];
        }
    }
    RFY_UNROLL
    for (int v = 0; v < lanes; v++)
        z[row * lanes + v] = even[v] + odd[v];
}

/* to = sign from, which is by rows; the padding is zero */
RFY_INLINE void take_block(const int g, const int lanes, const double sign, rfy_v4 *restrict to,
                           const double *restrict from) {
    RFY_UNROLL
    for (int j = 0; j < g; j++) {
        RFY_UNROLL
        for (int v = 0; v < lanes; v++) {
            const double *p = from + v * RFY_LANES * g + j;
            const int left = g - v * RFY_LANES;
            to[j * lanes + v] = sign * (rfy_v4){p[0], left > 1 ? p[g] : 0, left > 2 ? p[2 * g] : 0,
                                                left > 3 ? p[3 * g] : 0};
        }
    }
}

RFY_INLINE bool factor(rfy_block_lu *lu, const rfy_blocks *m, double fac, const double *extra,
                       const int g, const int lanes) {
    const int size = g * lanes;
    const int *target = lu->target;
    for (int r = 0; r < lu->n; r++) {
        int node = lu->order[r];
        for (int p = lu->start[r]; p < lu->start[r + 1]; p++) {
            rfy_v4 *to = lu->value + p * size;
            if (lu->source[p] < 0) {
                memset(to, 0, (size_t)size * sizeof *to);
                continue;
            }
            take_block(g, lanes, -1, to, m->value + lu->source[p] * g * g);
        }
        rfy_v4 *own = lu->value + lu->diagonal[r] * size;
        RFY_UNROLL
        for (int i = 0; i < g; i++)
            own[i * lanes + i / RFY_LANES][i % RFY_LANES] +=
                fac + (extra ? extra[node * g + i] : 0);
        for (int p = lu->start[r]; p < lu->diagonal[r]; p++) {
            int k = lu->column[p];
            rfy_v4 *l = lu->value + p * size;
            divide_block(g, lanes, l, lu->value + lu->diagonal[k] * size, lu->pivot + k * g);
            for (int q = lu->diagonal[k] + 1; q < lu->start[k + 1]; q++)
                subtract_product(g, lanes, lu->value + *target++ * size, l, lu->value + q * size);
        }
        if (!factor_block(g, lanes, own, lu->lower + r * size, lu->upper + r * size,
                          lu->pivot + r * g))
            return false;
        invert_factors(g, lanes, own, lu->pivot + r * g, lu->lower + r * size,
                       lu->upper + r * size);
    }
    return true;
}

RFY_WIDE
bool rfy_block_lu_factor(rfy_block_lu *lu, const rfy_blocks *m, double fac, const double *extra){
#define CALL(g, lanes) return factor(lu, m, fac, extra, g, lanes)
    BY_GASES(lu, CALL)
#undef CALL
}

RFY_INLINE void gather(const rfy_block_lu *lu, const double *x, rfy_v4 *z) {
    const int g = lu->g, lanes = lu->lanes;
    for (int r = 0; r < lu->n; r++) {
        z[r * lanes + lanes - 1] = (rfy_v4){0};
        memcpy(z + r * lanes, x + lu->order[r] * g, (size_t)g * sizeof *x);
    }
}

RFY_INLINE void solve(const rfy_block_lu *lu, double *x, const int g, const int lanes) {
    const int size = g * lanes;
    rfy_v4 *z = lu->scratch;
    gather(lu, x, z);
    for (int r = 0; r < lu->n; r++)
        subtract_row(g, lanes, lu->value, lu->column, lu->start[r], lu->diagonal[r], z, r);
    for (int r = lu->n - 1; r >= 0; r--) {
        subtract_row(g, lanes, lu->value, lu->column, lu->diagonal[r] + 1, lu->start[r + 1], z, r);
        divide(g, lanes, z + r * lanes, lu->lower + r * size, lu->upper + r * size);
        memcpy(x + lu->order[r] * g, z + r * lanes, (size_t)g * sizeof *x);
    }
}

RFY_WIDE
void rfy_block_lu_solve(const rfy_block_lu *lu, double *x){
#define CALL(g, lanes) solve(lu, x, g, lanes)
    BY_GASES(lu, CALL)
#undef CALL
}

RFY_INLINE void count(rfy_block_lu *lu, double fac, double *x, const int g, const int lanes) {
    const rfy_blocks *m = lu->matrix;
    const int first = m->start[lu->n];
    const double inverse = 1 / fac;
    for (int r = lu->n; r < m->n_rows; r++) {
        rfy_v4 even[RFY_MAX_GASES / RFY_LANES] = {{0}}, odd[RFY_MAX_GASES / RFY_LANES] = {{0}};
        rfy_to_lanes(x + r * g, g, lanes, even);
        for (int p = m->start[r]; p < m->start[r + 1]; p++) {
            const rfy_v4 *a = lu->below + (p - first) * g * lanes;
            const double *y = x + m->column[p] * g;
            RFY_UNROLL
            for (int j = 0; j < g; j++) {
                const double f = y[j];
                RFY_UNROLL
                for (int v = 0; v < lanes; v++)
                    (j % 2 ? odd : even)[v] -= f * a[j * lanes + v];
            }
        }
        RFY_UNROLL
        for (int v = 0; v < lanes; v++)
            even[v] = inverse * (even[v] + odd[v]);
        rfy_from_lanes(even, g, x + r * g);
    }
}

RFY_INLINE void take_counts(rfy_block_lu *lu, const rfy_blocks *m, const int g, const int lanes) {
    const int first = m->start[lu->n];
    for (int p = first; p < m->start[m->n_rows]; p++)
        take_block(g, lanes, -1, lu->below + (p - first) * g * lanes, m->value + p * g * g);
}

RFY_WIDE
void rfy_block_lu_take_counts(rfy_block_lu *lu, const rfy_blocks *m){
#define CALL(g, lanes) take_counts(lu, m, g, lanes)
    BY_GASES(lu, CALL)
#undef CALL
}

RFY_WIDE void rfy_block_lu_count(rfy_block_lu *lu, double fac, double *x) {
#define CALL(g, lanes) count(lu, fac, x, g, lanes)
    BY_GASES(lu, CALL)
#undef CALL
}

/* x -= a^T y */
static void subtract_transposed(int g, int lanes, rfy_v4 *x, const rfy_v4 *a, const rfy_v4 *y) {
    for (int j = 0; j < g; j++)
        for (int i = 0; i < g; i++)
            ((double *)x)[j] -= ((const double *)(a + j * lanes))[i] * ((const double *)y)[i];
}

void rfy_block_lu_solve_transposed(const rfy_block_lu *lu, double *x) {
    /* (LU)^T = U^T L^T: forward with U^T, then back with L^T (unit diagonal) */
    const int g = lu->g, lanes = lu->lanes, size = lu->size;
    rfy_v4 *z = lu->scratch;
    gather(lu, x, z);
    for (int r = 0; r < lu->n; r++) {
        divide_transposed(g, lanes, (double *)(z + r * lanes), lu->value + lu->diagonal[r] * size,
                          lu->pivot + r * g);
        for (int p = lu->diagonal[r] + 1; p < lu->start[r + 1]; p++)
            subtract_transposed(g, lanes, z + lu->column[p] * lanes, lu->value + p * size,
                                z + r * lanes);
    }
    for (int r = lu->n - 1; r >= 0; r--) {
        for (int p = lu->start[r]; p < lu->diagonal[r]; p++)
            subtract_transposed(g, lanes, z + lu->column[p] * lanes, lu->value + p * size,
                                z + r * lanes);
        memcpy(x + lu->order[r] * g, z + r * lanes, (size_t)g * sizeof *x);
    }
}
