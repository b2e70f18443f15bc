/* Stepping linear equations s' = A(t) s + b(t) for many s at once.
 *
 * A and b are known at the beginning, the middle and the end of a step and taken as parabolas
 * between. The step itself is that of the run's own method (RODAS5P) for a linear equation driven
 * in time, with A of the beginning as its Jacobian, so that one factorisation serves all columns.
 * Vectors run over the columns: s[row][m] with m vectors of four columns. Rows are the states that
 * act back: free nodes by gas, then inner states (solve/tangent_inner.h). */
#ifndef RFY_SOLVE_TANGENT_STEP_H
#define RFY_SOLVE_TANGENT_STEP_H

#include "core/lanes.h"
#include "solve/block_lu.h"
#include "solve/rodas_method.h"
#include "solve/tangent_inner.h"

struct rfy_linear {      /* A at one instant */
    double *value;       /* blocks, in the pattern's order */
    double *by_x, *by_n; /* [n_inner] */
    double *through;     /* [n_stores] */
};

typedef struct rfy_linear_step {
    const rfy_network *net;
    const rfy_blocks *pattern;
    int rows, free, m; /* free: rows of free nodes */
    rfy_block_lu *lu;
    rfy_packed_rows *factors, *packed; /* packed: A, … */
    double *value[3], *now;            /* … [entries] at the three, and between them */
    rfy_inner_step *inner;
    double *through;                        /* scratch, [n_stores] */
    double *diagonal;                       /* scratch, of free rows */
    rfy_v4 *stage_value[RFY_LINEAR_STAGES]; /* of the last step, for its inside; [free * m] */
    rfy_v4 *start, *end;                    /* [free * m] */
    rfy_v4 *stage, *drift;                  /* scratch */
} rfy_linear_step;

rfy_linear rfy_linear_new(rfy_arena *arena, const rfy_network *net, const rfy_blocks *pattern);
rfy_linear_step *rfy_linear_step_new(rfy_arena *arena, const rfy_network *net,
                                     const rfy_blocks *pattern, int m);

/* out += A x, over all columns of the free rows, without what inner states give and take. */
void rfy_linear_apply(rfy_linear_step *w, const rfy_linear *a, const rfy_v4 *x, rfy_v4 *out);

/* The diagonal of A. */
void rfy_linear_diagonal(const rfy_linear_step *w, const rfy_linear *a, double *out);

/* From s over a step h to out, which may be the same. a[3], b[3]: at the beginning, middle and end;
 * fed[3]: where there is b in inner rows. False when the matrix is singular; then s stays. */
bool rfy_linear_step_take(rfy_linear_step *w, const rfy_linear *const a[3],
                          const rfy_v4 *const b[3], const rfy_fed *const fed[3], double h,
                          const rfy_v4 *s, rfy_v4 *out);
/* The same in one stage to w->end, for networks without inner states: backward Euler, for states
 * that fall for w = s/y, the derivative of their logarithm, (1/h - A + f/y) s_1 = (y_1/y_0) s_0/h +
 * b, with A and f at the end of the step. Where states fall alike, s does with them and w stays as
 * it is: long steps in which pressures fall by decades do not harm it. ratio[rows]: y_1/y_0,
 * pull[rows]: f/y; 1 and 0 for a state that does not fall. */
bool rfy_linear_step_quick(rfy_linear_step *w, const rfy_linear *a, const rfy_v4 *b, double h,
                           const double *ratio, const double *pull, const rfy_v4 *s);
/* Such a step backwards, for networks without inner states: x = ratio/h (1/h - A + pull)^-T x, with
 * the blocks of A. */
bool rfy_linear_step_back(rfy_linear_step *w, double *value, double h, const double *ratio,
                          const double *pull, double *x);
/* Free rows inside the step last taken, at a fraction of it. */
void rfy_linear_step_inside(const rfy_linear_step *w, double fraction, rfy_v4 *out);

#endif
