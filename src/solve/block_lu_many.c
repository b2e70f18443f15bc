/* Many right-hand sides at once: the vectors run over them, as many as stay in registers. */
#include "solve/block_lu_parts.h"
#include "solve/columns.h"

/* One row of one node: what is subtracted for the blocks at `from` up to `to` of its row. */
RFY_INLINE void gather_many(const rfy_block_lu *lu, int from, int to, int i, const rfy_v4 *x, int m,
                            const int w, rfy_v4 *sum) {
    const int g = lu->g, lanes = lu->lanes;
    for (int p = from; p < to; p++) {
        const rfy_v4 *a = lu->value + p * lu->size;
        const rfy_v4 *y = x + lu->order[lu->column[p]] * g * m;
        for (int j = 0; j < g; j++, y += m) {
            const double f = ((const double *)(a + j * lanes))[i];
            if (f == 0) /* gases that do not meet */
                continue;
            RFY_UNROLL
            for (int v = 0; v < w; v++)
                sum[v] -= f * y[v];
        }
    }
}

/* w of the m vectors of every row, from x on. */
RFY_INLINE void solve_many(const rfy_block_lu *lu, rfy_v4 *x, int m, const int w) {
    const int g = lu->g, lanes = lu->lanes;
    rfy_v4 sum[RFY_MOST_WIDE];
    for (int r = 0; r < lu->n; r++) /* in place, by node */
        for (int i = 0; i < g && lu->start[r] < lu->diagonal[r]; i++) {
            rfy_v4 *row = x + (lu->order[r] * g + i) * m;
            RFY_UNROLL
            for (int v = 0; v < w; v++)
                sum[v] = row[v];
            gather_many(lu, lu->start[r], lu->diagonal[r], i, x, m, w, sum);
            RFY_UNROLL
            for (int v = 0; v < w; v++)
                row[v] = sum[v];
        }
    for (int r = lu->n - 1; r >= 0; r--) {
        rfy_v4 *own = x + lu->order[r] * g * m;
        const rfy_v4 *d = lu->value + lu->diagonal[r] * lu->size;
        const int *pivot = lu->pivot + r * g;
        for (int i = 0; i < g && lu->diagonal[r] + 1 < lu->start[r + 1]; i++) {
            RFY_UNROLL
            for (int v = 0; v < w; v++)
                sum[v] = own[i * m + v];
            gather_many(lu, lu->diagonal[r] + 1, lu->start[r + 1], i, x, m, w, sum);
            RFY_UNROLL
            for (int v = 0; v < w; v++)
                own[i * m + v] = sum[v];
        }
        for (int k = 0; k < g; k++)
            for (int v = 0; v < w && pivot[k] != k; v++) {
                rfy_v4 t = own[k * m + v];
                own[k * m + v] = own[pivot[k] * m + v];
                own[pivot[k] * m + v] = t;
            }
        for (int i = 1; i < g; i++) {
            RFY_UNROLL
            for (int v = 0; v < w; v++)
                sum[v] = own[i * m + v];
            for (int k = 0; k < i; k++) {
                const double f = ((const double *)(d + k * lanes))[i];
                RFY_UNROLL
                for (int v = 0; v < w; v++)
                    sum[v] -= f * own[k * m + v];
            }
            RFY_UNROLL
            for (int v = 0; v < w; v++)
                own[i * m + v] = sum[v];
        }
        for (int i = g - 1; i >= 0; i--) {
            RFY_UNROLL
            for (int v = 0; v < w; v++)
                sum[v] = own[i * m + v];
            for (int k = i + 1; k < g; k++) {
                const double f = ((const double *)(d + k * lanes))[i];
                RFY_UNROLL
                for (int v = 0; v < w; v++)
                    sum[v] -= f * own[k * m + v];
            }
            const double f = ((const double *)(d + i * lanes))[i];
            RFY_UNROLL
            for (int v = 0; v < w; v++)
                own[i * m + v] = f * sum[v];
        }
    }
}

RFY_WIDE
void rfy_block_lu_solve_many(const rfy_block_lu *lu, rfy_v4 *x, int m) {
#define SOLVE(c, stride, w) solve_many(lu, x + (c), stride, w)
    RFY_BY_COLUMNS(m, SOLVE)
#undef SOLVE
}
