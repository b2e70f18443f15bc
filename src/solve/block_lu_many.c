/* The factors for many right-hand sides at once, without their zeros. */
#include "solve/block_lu_parts.h"
#include "solve/packed_rows.h"

rfy_packed_rows *rfy_block_lu_packed(rfy_arena *arena, const rfy_block_lu *lu, int m) {
    const int rows = lu->n * lu->g, blocks = lu->start[lu->n];
    /* below, within and above the diagonal blocks; exchanges */
    return rfy_packed_rows_new(arena, m, 4 * rows, blocks * lu->g * lu->g + rows);
}

/* Row i of the blocks at `from` up to `to` of a row. */
static void put_blocks(const rfy_block_lu *lu, const double *const value[3], int from, int to,
                       int i, rfy_packed_rows *out) {
    for (int p = from; p < to; p++)
        rfy_packed_put(out, value, p * lu->size * RFY_LANES + i, lu->lanes * RFY_LANES, lu->g,
                       lu->order[lu->column[p]] * lu->g);
}

static bool any_exchange(const rfy_block_lu *lu) {
    int moved = 0;
    for (int r = 0; r < lu->n; r++)
        for (int i = 0; i < lu->g; i++)
            moved |= lu->pivot[r * lu->g + i] ^ i;
    return moved != 0;
}

void rfy_block_lu_pack(const rfy_block_lu *lu, rfy_packed_rows *out) {
    const int g = lu->g, stride = lu->lanes * RFY_LANES;
    const double *own = (const double *)lu->value, *const value[3] = {own, own, own};
    const bool exchanges = any_exchange(lu);
    if (!exchanges && out->serves-- > 0 && rfy_packed_fetch(out, 1, value, &out->value))
        return;
    rfy_packed_begin(out);
    for (int r = 0; r < lu->n; r++)
        for (int i = 0; i < g && lu->start[r] < lu->diagonal[r]; i++) {
            const int first = out->entries;
            put_blocks(lu, value, lu->start[r], lu->diagonal[r], i, out);
            rfy_packed_row(out, first, lu->order[r] * g + i, -1);
        }
    for (int r = lu->n - 1; r >= 0; r--) {
        const int row = lu->order[r] * g, *pivot = lu->pivot + r * g,
                  d = lu->diagonal[r] * lu->size * RFY_LANES;
        int place[RFY_MAX_GASES]; /* rows as pivoting ordered them */
        for (int i = 0; i < g; i++)
            place[i] = i;
        for (int i = 0; i < g; i++)
            if (pivot[i] != i) {
                const int t = place[i];
                place[i] = place[pivot[i]];
                place[pivot[i]] = t;
                rfy_packed_exchange(out, row + i, row + pivot[i]);
            }
        for (int i = 0; i < g; i++) {
            const int first = out->entries;
            put_blocks(lu, value, lu->diagonal[r] + 1, lu->start[r + 1], place[i], out);
            rfy_packed_put(out, value, d + i, stride, i, row);
            rfy_packed_row(out, first, row + i, -1);
        }
        for (int i = g - 1; i >= 0; i--) {
            const int first = out->entries;
            rfy_packed_put(out, value, d + (i + 1) * stride + i, stride, g - 1 - i, row + i + 1);
            rfy_packed_row(out, first, row + i, d + i * stride + i);
        }
    }
    rfy_packed_fetch(out, 1, value, &out->value);
    if (exchanges)
        out->serves = 0;
}
