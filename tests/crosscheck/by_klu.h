/* fac I - J of the free states through KLU (Davis and Palamadai Natarajan 2010, ACM Trans. Math.
 * Softw. 37, 36): a left-looking sparse LU with pivoting that knows nothing of gases or blocks. */
#ifndef RFY_TESTS_BY_KLU_H
#define RFY_TESTS_BY_KLU_H

#include <klu.h>
#include "network/rates.h"

typedef struct test_klu {
    int n, entries, g;
    int *start, *row; /* compressed columns */
    double *value;
    int *place;    /* [blocks of the free rows * g * g] where each number of the Jacobian goes */
    int *diagonal; /* [n] */
    klu_common common;
    klu_symbolic *symbolic;
    klu_numeric *numeric;
} test_klu;

/* Orders the pattern once; NULL when KLU cannot. */
test_klu *test_klu_new(rfy_arena *arena, const rfy_blocks *pattern);
/* Puts in the numbers and factors them: `again` with the pivots of the last time. */
bool test_klu_factor(test_klu *klu, const rfy_blocks *jacobian, double fac, bool again);
void test_klu_solve(test_klu *klu, double *x);
void test_klu_solve_transposed(test_klu *klu, double *x);
void test_klu_free(test_klu *klu);

#endif
