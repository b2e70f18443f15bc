#include <math.h>
#include <string.h>
#include "solve/block_lu.h"

struct rfy_block_lu {
    int n, g;
    int *order;    /* order[k] = node eliminated k-th */
    int *place;    /* its inverse */
    int *start;    /* rows in elimination order; columns are elimination numbers, rising */
    int *column;
    int *diagonal; /* position of the diagonal block of each row */
    double *value; /* L_ik, inverse of U_ii, U_ij */
    int *slot;     /* scratch: position of a column in the row at work */
    double *scratch;
};

/* ---- order and pattern -------------------------------------------------------------------------- */

typedef struct graph {
    int n;
    int *size, *cap;
    int **neighbour; /* unordered, without the node itself */
} graph;

static bool linked(const graph *g, int a, int b)
{
    for (int i = 0; i < g->size[a]; i++)
        if (g->neighbour[a][i] == b)
            return true;
    return false;
}

static void add_link(rfy_arena *arena, graph *g, int a, int b)
{
    if (g->size[a] == g->cap[a]) {
        int more = g->cap[a] ? 2 * g->cap[a] : 4;
        g->neighbour[a] = rfy_arena_grow(arena, g->neighbour[a], (size_t)g->cap[a], (size_t)more,
                                         sizeof(int));
        g->cap[a] = more;
    }
    g->neighbour[a][g->size[a]++] = b;
}

static void drop_link(graph *g, int a, int b)
{
    for (int i = 0; i < g->size[a]; i++)
        if (g->neighbour[a][i] == b) {
            g->neighbour[a][i] = g->neighbour[a][--g->size[a]];
            return;
        }
}

/* Minimum degree (Tinney and Walker 1967), degrees in bucket lists so that a long chain costs linear time. The
 * neighbours left when a node goes are the columns of its row of U. */
static void eliminate(rfy_arena *arena, graph *g, rfy_block_lu *lu, int **row, int *row_size)
{
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

rfy_block_lu *rfy_block_lu_new(rfy_arena *arena, const rfy_blocks *pattern)
{
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
    lu->value = RFY_NEW(arena, (size_t)total * (size_t)(g * g), double);
    lu->slot = RFY_NEW(arena, (size_t)n, int);
    lu->scratch = RFY_NEW(arena, (size_t)n * (size_t)g, double);
    for (int i = 0; i < n; i++)
        lu->slot[i] = -1;
    rfy_arena_free(temporary);
    return lu;
}

/* ---- numbers ------------------------------------------------------------------------------------- */

/* In-place inverse by Gauss-Jordan with row pivoting. */
static bool invert(int g, double *a)
{
    int pivot[RFY_MAX_GASES];
    for (int k = 0; k < g; k++) {
        int best = k;
        for (int i = k + 1; i < g; i++)
            if (fabs(a[i * g + k]) > fabs(a[best * g + k]))
                best = i;
        pivot[k] = best;
        if (!(fabs(a[best * g + k]) > 0))
            return false;
        if (best != k)
            for (int j = 0; j < g; j++) {
                double t = a[k * g + j];
                a[k * g + j] = a[best * g + j];
                a[best * g + j] = t;
            }
        double inverse = 1 / a[k * g + k];
        a[k * g + k] = 1;
        for (int j = 0; j < g; j++)
            a[k * g + j] *= inverse;
        for (int i = 0; i < g; i++) {
            double f = a[i * g + k];
            if (i == k || f == 0)
                continue;
            a[i * g + k] = 0;
            for (int j = 0; j < g; j++)
                a[i * g + j] -= f * a[k * g + j];
        }
    }
    for (int k = g - 1; k >= 0; k--)
        if (pivot[k] != k)
            for (int i = 0; i < g; i++) {
                double t = a[i * g + k];
                a[i * g + k] = a[i * g + pivot[k]];
                a[i * g + pivot[k]] = t;
            }
    return true;
}

/* c -= a b, blocks */
static void subtract_product(int g, double *restrict c, const double *restrict a,
                             const double *restrict b)
{
    for (int i = 0; i < g; i++)
        for (int k = 0; k < g; k++) {
            double f = a[i * g + k];
            for (int j = 0; j < g; j++)
                c[i * g + j] -= f * b[k * g + j];
        }
}

bool rfy_block_lu_factor(rfy_block_lu *lu, const rfy_blocks *m, double fac, const double *extra)
{
    const int g = lu->g, gg = g * g;
    memset(lu->value, 0, (size_t)(lu->start[lu->n] * gg) * sizeof *lu->value);
    for (int r = 0; r < lu->n; r++) {
        int node = lu->order[r];
        for (int p = lu->start[r]; p < lu->start[r + 1]; p++)
            lu->slot[lu->column[p]] = p;
        for (int k = m->start[node]; k < m->start[node + 1]; k++) {
            double *to = lu->value + lu->slot[lu->place[m->column[k]]] * gg;
            const double *from = m->value + k * gg;
            for (int i = 0; i < gg; i++)
                to[i] = -from[i];
        }
        double *own = lu->value + lu->diagonal[r] * gg;
        for (int i = 0; i < g; i++)
            own[i * g + i] += fac + (extra ? extra[node * g + i] : 0);
        for (int p = lu->start[r]; p < lu->diagonal[r]; p++) {
            int k = lu->column[p];
            double *l = lu->value + p * gg, product[RFY_MAX_GASES * RFY_MAX_GASES] = {0};
            subtract_product(g, product, l, lu->value + lu->diagonal[k] * gg);
            for (int i = 0; i < gg; i++)
                l[i] = -product[i];
            for (int q = lu->diagonal[k] + 1; q < lu->start[k + 1]; q++)
                subtract_product(g, lu->value + lu->slot[lu->column[q]] * gg, l,
                                 lu->value + q * gg);
        }
        for (int p = lu->start[r]; p < lu->start[r + 1]; p++)
            lu->slot[lu->column[p]] = -1;
        if (!invert(g, own))
            return false;
    }
    return true;
}

static void subtract_times(int g, double *x, const double *a, const double *y)
{
    for (int i = 0; i < g; i++)
        for (int j = 0; j < g; j++)
            x[i] -= a[i * g + j] * y[j];
}

static void subtract_transposed(int g, double *x, const double *a, const double *y)
{
    for (int i = 0; i < g; i++)
        for (int j = 0; j < g; j++)
            x[j] -= a[i * g + j] * y[i];
}

void rfy_block_lu_solve(const rfy_block_lu *lu, double *x)
{
    const int g = lu->g, gg = g * g;
    double *z = lu->scratch;
    for (int r = 0; r < lu->n; r++) {
        memcpy(z + r * g, x + lu->order[r] * g, (size_t)g * sizeof *z);
        for (int p = lu->start[r]; p < lu->diagonal[r]; p++)
            subtract_times(g, z + r * g, lu->value + p * gg, z + lu->column[p] * g);
    }
    for (int r = lu->n - 1; r >= 0; r--) {
        for (int p = lu->diagonal[r] + 1; p < lu->start[r + 1]; p++)
            subtract_times(g, z + r * g, lu->value + p * gg, z + lu->column[p] * g);
        double t[RFY_MAX_GASES] = {0};
        subtract_times(g, t, lu->value + lu->diagonal[r] * gg, z + r * g);
        for (int i = 0; i < g; i++)
            z[r * g + i] = x[lu->order[r] * g + i] = -t[i];
    }
}

void rfy_block_lu_solve_transposed(const rfy_block_lu *lu, double *x)
{
    /* (LU)^T = U^T L^T: forward with U^T, then back with L^T (unit diagonal) */
    const int g = lu->g, gg = g * g;
    double *z = lu->scratch;
    for (int r = 0; r < lu->n; r++)
        memcpy(z + r * g, x + lu->order[r] * g, (size_t)g * sizeof *z);
    for (int r = 0; r < lu->n; r++) {
        double t[RFY_MAX_GASES] = {0};
        subtract_transposed(g, t, lu->value + lu->diagonal[r] * gg, z + r * g);
        for (int i = 0; i < g; i++)
            z[r * g + i] = -t[i];
        for (int p = lu->diagonal[r] + 1; p < lu->start[r + 1]; p++)
            subtract_transposed(g, z + lu->column[p] * g, lu->value + p * gg, z + r * g);
    }
    for (int r = lu->n - 1; r >= 0; r--) {
        for (int p = lu->start[r]; p < lu->diagonal[r]; p++)
            subtract_transposed(g, z + lu->column[p] * g, lu->value + p * gg, z + r * g);
        memcpy(x + lu->order[r] * g, z + r * g, (size_t)g * sizeof *z);
    }
}
