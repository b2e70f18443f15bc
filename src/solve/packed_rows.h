/* Sparse rows without their zeros: gases that do not meet leave most of a block empty. Entries
 * stand in the order they are used in. What is zero changes slowly, so that rows once packed serve
 * for several matrices: their entries are fetched anew, and packed anew where a zero has become
 * none. */
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
    int *factor_at; /* [n] where it comes from in the matrix; -1 = it is 1 */
    double *value;  /* entries */
    int *from;      /* entries: where vectors stand, in numbers */
    int *at;        /* entries: where they come from in the matrix */
    int entries;
    int *zero, zeros; /* what was left out, in the matrix */
    int serves;       /* so many more times */
} rfy_packed_rows;

rfy_packed_rows *rfy_packed_rows_new(rfy_arena *arena, int m, int most_rows, int most_entries);

static inline void rfy_packed_begin(rfy_packed_rows *p) {
    p->n = p->entries = p->zeros = 0;
    p->serves = 16;
}

/* 1 when one of them is not zero, without a branch. */
RFY_INLINE int rfy_packed_any(double a, double b, double c) {
    unsigned long long bits[3];
    memcpy(&bits[0], &a, sizeof a);
    memcpy(&bits[1], &b, sizeof b);
    memcpy(&bits[2], &c, sizeof c);
    return 2 * (bits[0] | bits[1] | bits[2]) != 0; /* but for the sign */
}

/* Entries behind those that are there: `count` of them, from `at` on by `step`, for rows from `row`
 * on. Those that are 0 in each of the three matrices are left out. */
void rfy_packed_put(rfy_packed_rows *p, const double *const matrix[3], int at, int step, int count,
                    int row);
/* Ends a row whose entries began behind `first`; one that does nothing leaves no trace. */
void rfy_packed_row(rfy_packed_rows *p, int first, int row, int factor_at);
void rfy_packed_exchange(rfy_packed_rows *p, int row, int other);

/* Entries of n matrices (1 or 3) to `value`; false when they have to be packed anew. */
bool rfy_packed_fetch(const rfy_packed_rows *p, int n, const double *const matrix[],
                      double *const value[]);

/* Rows one after the other, x := factor (x - sum of value x[from]), in place. */
void rfy_packed_solve(const rfy_packed_rows *p, rfy_v4 *x);
/* out += sum of value x[from], with other values for the same entries. */
void rfy_packed_apply(const rfy_packed_rows *p, const double *value, const rfy_v4 *x, rfy_v4 *out);

#endif
