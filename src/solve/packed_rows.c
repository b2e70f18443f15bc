#include "solve/packed_rows.h"

rfy_packed_rows *rfy_packed_rows_new(rfy_arena *arena, int m, int most_rows, int most_entries) {
    rfy_packed_rows *p = RFY_NEW(arena, 1, rfy_packed_rows);
    const size_t rows = (size_t)most_rows + 1, entries = (size_t)most_entries + 1;
    p->m = m; /* one behind the last is written to */
    p->row = RFY_NEW(arena, rows, int);
    p->count = RFY_NEW(arena, rows, int);
    p->factor = RFY_NEW(arena, rows, double);
    p->factor_at = RFY_NEW(arena, rows, int);
    p->value = RFY_NEW(arena, entries, double);
    p->from = RFY_NEW(arena, entries, int);
    p->at = RFY_NEW(arena, entries, int);
    p->zero = RFY_NEW(arena, entries, int);
    return p;
}

void rfy_packed_put(rfy_packed_rows *p, const double *const matrix[3], int at, int step, int count,
                    int row) {
    const int stride = p->m * RFY_LANES;
    for (int j = 0, place = row * stride; j < count; j++, place += stride, at += step) {
        const int there = rfy_packed_any(matrix[0][at], matrix[1][at], matrix[2][at]);
        p->from[p->entries] = place;
        p->at[p->entries] = at;
        p->zero[p->zeros] = at;
        p->entries += there;
        p->zeros += !there;
    }
}

void rfy_packed_row(rfy_packed_rows *p, int first, int row, int factor_at) {
    p->row[p->n] = row * p->m;
    p->count[p->n] = p->entries - first;
    p->factor_at[p->n] = factor_at;
    p->factor[p->n] = 1;
    p->n += p->entries > first || factor_at >= 0;
}

void rfy_packed_exchange(rfy_packed_rows *p, int row, int other) {
    p->row[p->n] = row * p->m;
    p->factor_at[p->n] = -1;
    p->count[p->n++] = -1;
    p->at[p->entries] = 0;
    p->from[p->entries++] = other * p->m * RFY_LANES;
}

RFY_INLINE bool fetch(const rfy_packed_rows *p, const int n, const double *const matrix[],
                      double *const value[]) {
    const int *at = p->at, *zero = p->zero;
    unsigned long long left = 0;
    for (int k = 0; k < p->entries; k++) {
        RFY_UNROLL
        for (int i = 0; i < n; i++)
            value[i][k] = matrix[i][at[k]];
    }
    for (int k = 0; k < p->zeros; k++) {
        RFY_UNROLL
        for (int i = 0; i < n; i++) {
            unsigned long long bits;
            memcpy(&bits, &matrix[i][zero[k]], sizeof bits);
            left |= bits;
        }
    }
    return 2 * left == 0; /* but for the sign */
}

bool rfy_packed_fetch(const rfy_packed_rows *p, int n, const double *const matrix[],
                      double *const value[]) {
    for (int r = 0; r < p->n; r++)
        if (p->factor_at[r] >= 0)
            p->factor[r] = matrix[0][p->factor_at[r]];
    return n == 3 ? fetch(p, 3, matrix, value) : fetch(p, 1, matrix, value);
}

/* sum += (minus: -=) f y */
RFY_INLINE void add_entry(double f, const rfy_v4 *y, const bool minus, rfy_v4 *sum, const int w) {
    RFY_UNROLL
    for (int v = 0; v < w; v++)
        if (minus)
            sum[v] -= f * y[v];
        else
            sum[v] += f * y[v];
}

/* All n entries of a row, two in a turn. */
RFY_INLINE void gather(int n, const double *value, const int *from, const rfy_v4 *x,
                       const bool minus, rfy_v4 *sum, const int w) {
    const double *base = (const double *)x;
    int k = n & 1;
    if (k)
        add_entry(value[0], (const rfy_v4 *)(base + from[0]), minus, sum, w);
    for (; k < n; k += 2) {
        add_entry(value[k], (const rfy_v4 *)(base + from[k]), minus, sum, w);
        add_entry(value[k + 1], (const rfy_v4 *)(base + from[k + 1]), minus, sum, w);
    }
}

RFY_INLINE void solve(const rfy_packed_rows *p, rfy_v4 *x, const int w) {
    const double *value = p->value;
    const int *from = p->from;
    for (int r = 0; r < p->n; r++) {
        const int count = p->count[r];
        rfy_v4 *own = x + p->row[r], sum[RFY_MOST_WIDE];
        if (count < 0) {
            rfy_v4 *other = (rfy_v4 *)((double *)x + *from);
            for (int v = 0; v < w; v++) {
                rfy_v4 t = own[v];
                own[v] = other[v];
                other[v] = t;
            }
            value++;
            from++;
            continue;
        }
        RFY_UNROLL
        for (int v = 0; v < w; v++)
            sum[v] = own[v];
        gather(count, value, from, x, true, sum, w);
        value += count;
        from += count;
        if (p->factor[r] != 1) {
            RFY_UNROLL
            for (int v = 0; v < w; v++)
                sum[v] *= p->factor[r];
        }
        RFY_UNROLL
        for (int v = 0; v < w; v++)
            own[v] = sum[v];
    }
}

RFY_WIDE
void rfy_packed_solve(const rfy_packed_rows *p, rfy_v4 *x){
#define SOLVE(c, stride, w) solve(p, x + (c), w)
    RFY_BY_COLUMNS(p->m, SOLVE)
#undef SOLVE
}

RFY_INLINE void apply(const rfy_packed_rows *p, const double *value, const rfy_v4 *x, rfy_v4 *out,
                      const int w) {
    const int *from = p->from;
    for (int r = 0; r < p->n; r++) {
        const int count = p->count[r];
        rfy_v4 *own = out + p->row[r], sum[RFY_MOST_WIDE];
        RFY_UNROLL
        for (int v = 0; v < w; v++)
            sum[v] = own[v];
        gather(count, value, from, x, false, sum, w);
        value += count;
        from += count;
        RFY_UNROLL
        for (int v = 0; v < w; v++)
            own[v] = sum[v];
    }
}

RFY_WIDE
void rfy_packed_apply(const rfy_packed_rows *p, const double *value, const rfy_v4 *x, rfy_v4 *out) {
#define APPLY(c, stride, w) apply(p, value, x + (c), out + (c), w)
    RFY_BY_COLUMNS(p->m, APPLY)
#undef APPLY
}
