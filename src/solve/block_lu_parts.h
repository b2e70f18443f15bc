/* The inside of the block factors, shared by block_lu.c (order, factors, one right-hand side) and
 * block_lu_many.c. */
#ifndef RFY_SOLVE_BLOCK_LU_PARTS_H
#define RFY_SOLVE_BLOCK_LU_PARTS_H

#include "core/lanes.h"
#include "solve/block_lu.h"

struct rfy_block_lu {
    int n, g;
    int lanes, size; /* vectors in a column of a block; vectors in a block */
    int *order;      /* order[k] = node eliminated k-th */
    int *place;      /* its inverse */
    int *start;      /* rows in elimination order; columns are elimination numbers, rising */
    int *column;
    int *diagonal;         /* position of the diagonal block of each row */
    int *source;           /* [start[n]] the matrix's own block that comes here; -1 = fill-in */
    int *target;           /* where each product L_ik U_kj goes, in the order they are made */
    rfy_v4 *lower, *upper; /* [n * size] inverses of the diagonal blocks' factors */
    int *pivot;            /* [n * g] rows of the diagonal blocks as pivoting swapped them */
    rfy_v4 *value; /* L_ik, factors of U_ii, U_ij: blocks by columns, each column padded to whole
                      vectors */
    rfy_v4 *scratch;
    const rfy_blocks *matrix; /* its pattern */
    rfy_v4 *below;            /* its blocks in rows that only count, as last taken */
};

#endif
