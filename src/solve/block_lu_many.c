/* The factors for many right-hand sides at once, without their zeros. */
#include "solve/block_lu_parts.h"
#include "solve/packed_rows.h"

rfy_packed_rows *rfy_block_lu_packed(rfy_arena *arena, const rfy_block_lu *lu, int m) {
    const int rows = lu->n * lu->g, blocks = lu->start[lu->n];
    /* below, within and above the diagonal blocks; exchanges */
    return rfy_packed_rows_new(arena, m, 4 * rows, blocks * lu->g * lu->g + rows);
}

/* Row i of the blocks at `from` up to `to` of a row. */
RFY_INLINE int put_blocks(const rfy_block_lu *lu, int from, int to, int i, rfy_packed_rows *out,
                          int n) {
    const int g = lu->g;
    for (int p = from; p < to; p++)
        n = rfy_packed_put(out, n, (const double *)(lu->value + p * lu->size) + i,
                           lu->lanes * RFY_LANES, g, lu->order[lu->column[p]] * g);
    return n;
}

void rfy_block_lu_pack(const rfy_block_lu *lu, rfy_packed_rows *out) {
    const int g = lu->g, stride = lu->lanes * RFY_LANES;
    int n = 0;
    rfy_packed_begin(out);
    for (int r = 0; r < lu->n; r++)
        for (int i = 0; i < g && lu->start[r] < lu->diagonal[r]; i++) {
            n = put_blocks(lu, lu->start[r], lu->diagonal[r], i, out, n);
            rfy_packed_row(out, n, lu->order[r] * g + i, 1);
        }
    for (int r = lu->n - 1; r >= 0; r--) {
        const int own = lu->order[r] * g, *pivot = lu->pivot + r * g;
        const double *d = (const double *)(lu->value + lu->diagonal[r] * lu->size);
        int place[RFY_MAX_GASES]; /* rows as pivoting ordered them */
        for (int i = 0; i < g; i++)
            place[i] = i;
        for (int i = 0; i < g; i++)
            if (pivot[i] != i) {
                const int t = place[i];
                place[i] = place[pivot[i]];
                place[pivot[i]] = t;
                n = rfy_packed_exchange(out, own + i, own + pivot[i]);
            }
        for (int i = 0; i < g; i++) {
            n = put_blocks(lu, lu->diagonal[r] + 1, lu->start[r + 1], place[i], out, n);
            n = rfy_packed_put(out, n, d + i, stride, i, own);
            rfy_packed_row(out, n, own + i, 1);
        }
        for (int i = g - 1; i >= 0; i--) {
            n = rfy_packed_put(out, n, d + (i + 1) * stride + i, stride, g - 1 - i, own + i + 1);
            rfy_packed_row(out, n, own + i, d[i * stride + i]);
        }
    }
}
