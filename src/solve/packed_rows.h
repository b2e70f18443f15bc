/* Sparse rows without their zeros: gases that do not meet leave most of a block empty. Entries
 * stand in the order they are used in; places are in vectors of m to a row. */
#ifndef RFY_SOLVE_PACKED_ROWS_H
#define RFY_SOLVE_PACKED_ROWS_H

#include <string.h>
#include "core/arena.h"
#include "core/lanes.h"
#include "solve/columns.h"

typedef struct rfy_packed_rows {
    int n, m;       /* rows; vectors in a row of what they are used on */
    int *row;       /* [n] where its own vectors stand, in vectors */
    int *count;     /* [n] entries; -1: no row, an exchange of `row` with the entry `from` */
    double *factor; /* [n] what the sum is multiplied by at last */
    double *value;  /* entries */
    int *from;      /* entries: where vectors stand, in numbers */
    int entries;
} rfy_packed_rows;

rfy_packed_rows *rfy_packed_rows_new(rfy_arena *arena, int m, int most_rows, int most_entries);

static inline void rfy_packed_begin(rfy_packed_rows *p) {
    p->n = p->entries = 0;
}

/* 1 when one of them is not zero, without a branch. */
RFY_INLINE int rfy_packed_any(double a, double b, double c) {
    unsigned long long bits[3];
    memcpy(&bits[0], &a, sizeof a);
    memcpy(&bits[1], &b, sizeof b);
    memcpy(&bits[2], &c, sizeof c);
    return 2 * (bits[0] | bits[1] | bits[2]) != 0; /* but for the sign */
}

/* Entries behind the n that are there: `count` of them, `step` apart, for rows from `row` on. Those
 * of 0 leave no trace. Returns how many there are now. */
RFY_INLINE int rfy_packed_put(rfy_packed_rows *p, int n, const double *entry, int step, int count,
                              int row) {
    double *value = p->value;
    int *from = p->from;
    const int stride = p->m * RFY_LANES;
    for (int j = 0, place = row * stride; j < count; j++, place += stride, entry += step) {
        value[n] = *entry;
        from[n] = place;
        n += rfy_packed_any(*entry, 0, 0);
    }
    return n;
}

/* Ends a row, with n entries up to there; one that does nothing leaves no trace. */
RFY_INLINE void rfy_packed_row(rfy_packed_rows *p, int n, int row, double factor) {
    const int count = n - p->entries;
    p->row[p->n] = row * p->m;
    p->count[p->n] = count;
    p->factor[p->n] = factor;
    p->n += count > 0 || factor != 1;
    p->entries = n;
}

/* Exchanges two rows. */
RFY_INLINE int rfy_packed_exchange(rfy_packed_rows *p, int row, int other) {
    p->row[p->n] = row * p->m;
    p->count[p->n++] = -1;
    p->value[p->entries] = 0;
    p->from[p->entries] = other * p->m * RFY_LANES;
    return ++p->entries;
}

/* Rows one after the other, x := factor (x - sum of value x[from]), in place. */
void rfy_packed_solve(const rfy_packed_rows *p, rfy_v4 *x);
/* out += sum of value x[from], with other values for the same entries. */
void rfy_packed_apply(const rfy_packed_rows *p, const double *value, const rfy_v4 *x, rfy_v4 *out);

#endif
