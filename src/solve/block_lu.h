/* LU factors of fac I - J for a matrix of gas-by-gas blocks, with a fill-reducing order fixed once
 * per network. */
#ifndef RFY_SOLVE_BLOCK_LU_H
#define RFY_SOLVE_BLOCK_LU_H

#include <stdbool.h>
#include "network/rates.h"
#include "solve/packed_rows.h"

typedef struct rfy_block_lu rfy_block_lu;

rfy_block_lu *rfy_block_lu_new(rfy_arena *arena, const rfy_blocks *pattern);
/* Factors fac I - J on the free rows. False when it is singular. fac may be zero (steady state).
 * `diagonal` adds its own value per free state to the diagonal when not NULL. */
bool rfy_block_lu_factor(rfy_block_lu *lu, const rfy_blocks *jacobian, double fac,
                         const double *diagonal);
/* Solves in place for the free states x[n_free * g]. */
void rfy_block_lu_solve(const rfy_block_lu *lu, double *x);
/* The same for 4 * n_vectors right-hand sides at once, x[n_free * g][n_vectors], by
 * rfy_packed_solve: room for the rows, and the factors as they are now. */
rfy_packed_rows *rfy_block_lu_packed(rfy_arena *arena, const rfy_block_lu *lu, int n_vectors);
void rfy_block_lu_pack(const rfy_block_lu *lu, rfy_packed_rows *out);
/* The transposed system, in place. */
void rfy_block_lu_solve_transposed(const rfy_block_lu *lu, double *x);

/* Rows of the matrix behind the free nodes only count what passes. Takes a copy of their blocks of
 * `matrix` (of the same pattern) … */
void rfy_block_lu_take_counts(rfy_block_lu *lu, const rfy_blocks *matrix);
/* … and makes the entries x of these rows (x + J y)/fac, y being the entries of the free nodes. */
void rfy_block_lu_count(rfy_block_lu *lu, double fac, double *x);

#endif
