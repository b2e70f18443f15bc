/* Block LU of random sparse systems against GSL's dense LU with pivoting. */
#include <math.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include "solve/block_lu.h"
#include "support/draw.h"

typedef struct problem {
    rfy_arena *arena;
    rfy_blocks m;               /* J = D B D^-1 */
    gsl_matrix *dense;          /* fac I + extra - B, of even size */
    double fac, *extra, *scale; /* D */
    int n;                      /* free states */
} problem;

/* Pattern of a random connected graph of `nodes` free nodes and two fixed rows, blocks g x g. B has
 * the shape of a network's Jacobian relative to the amounts: off-diagonal blocks mostly positive on
 * their diagonal, own blocks negative and dominant by columns. J is B for amounts D that differ by
 * `decades` powers of ten, as trace gases do. */
static problem draw(test_dice *dice, int nodes, int extra_links, int g, double decades) {
    problem p = {.arena = rfy_arena_new(), .n = nodes * g};
    bool *link = RFY_NEW(p.arena, (size_t)((nodes + 2) * nodes), bool);
    for (int i = 0; i < nodes; i++) {
        link[i * nodes + i] = true;
        for (int k = 0; k < (i ? 1 : 0) + (test_below(dice, nodes) < extra_links ? 1 : 0); k++) {
            int j = test_below(dice, k ? nodes : i);
            link[i * nodes + j] = link[j * nodes + i] = true;
        }
        link[(nodes + test_below(dice, 2)) * nodes + i] = true;
    }
    rfy_blocks *m = &p.m;
    m->n_rows = nodes + 2;
    m->n_columns = nodes;
    m->g = g;
    m->start = RFY_NEW(p.arena, (size_t)nodes + 3, int);
    m->column = RFY_NEW(p.arena, (size_t)((nodes + 2) * nodes), int);
    int used = 0;
    for (int i = 0; i < nodes + 2; i++) {
        m->start[i] = used;
        for (int j = 0; j < nodes; j++)
            if (link[i * nodes + j])
                m->column[used++] = j;
    }
    m->start[nodes + 2] = used;
    m->value = RFY_NEW(p.arena, (size_t)(used * g * g), double);
    p.extra = RFY_NEW(p.arena, (size_t)p.n, double);
    p.scale = RFY_NEW(p.arena, (size_t)p.n, double);
    double *sum = RFY_NEW(p.arena, (size_t)p.n, double);
    p.fac = test_decades(dice, 1e-3, 1e3);
    for (int i = 0; i < p.n; i++) {
        p.extra[i] = test_below(dice, 6)   ? 0
                     : test_below(dice, 2) ? 1e30
                                           : test_decades(dice, 1e-3, 1e3);
        p.scale[i] = pow(10, -decades * test_even(dice));
    }
    for (int pass = 0; pass < 2; pass++) /* own blocks last: they need the column sums */
        for (int i = 0; i < nodes + 2; i++)
            for (int k = m->start[i]; k < m->start[i + 1]; k++)
                for (int a = 0; a < g && (m->column[k] == i) == (pass == 1); a++)
                    for (int b = 0; b < g; b++) {
                        double *column_sum = &sum[m->column[k] * g + b],
                               *v = &m->value[k * g * g + a * g + b];
                        if (pass == 0)
                            *v = a == b ? test_decades(dice, 1e-3, 1e2)
                                        : test_between(dice, -1, 1) / g;
                        else
                            *v = a == b ? -*column_sum
                                        : test_between(dice, -0.4, 0.4) * *column_sum / g;
                        if (pass == 0)
                            *column_sum += fabs(*v);
                    }
    p.dense = gsl_matrix_calloc((size_t)p.n, (size_t)p.n);
    for (int i = 0; i < nodes + 2; i++)
        for (int k = m->start[i]; k < m->start[i + 1]; k++)
            for (int a = 0; a < g; a++)
                for (int b = 0; b < g; b++) {
                    double *v = &m->value[k * g * g + a * g + b];
                    int row = i * g + a, column = m->column[k] * g + b;
                    if (i < nodes)
                        gsl_matrix_set(p.dense, (size_t)row, (size_t)column, -*v);
                    *v *= (i < nodes ? p.scale[row] : 1) / p.scale[column];
                }
    for (int i = 0; i < p.n; i++)
        *gsl_matrix_ptr(p.dense, (size_t)i, (size_t)i) += p.fac + p.extra[i];
    return p;
}

static void drop(problem *p) {
    gsl_matrix_free(p->dense);
    rfy_arena_free(p->arena);
}

/* x solves (fac I + extra - D B D^-1) x = D right, or its transpose with D^-1 right: compared with
 * GSL's solution of the even-sized system, so that every amount counts alike. */
static void compare(const problem *p, bool transposed, const double *right, const double *x,
                    const char *what, int trial) {
    const size_t n = (size_t)p->n;
    gsl_matrix *lu = gsl_matrix_alloc(n, n);
    gsl_permutation *perm = gsl_permutation_alloc(n);
    gsl_vector *b = gsl_vector_alloc(n), *y = gsl_vector_alloc(n);
    if (transposed)
        gsl_matrix_transpose_memcpy(lu, p->dense);
    else
        gsl_matrix_memcpy(lu, p->dense);
    for (size_t i = 0; i < n; i++)
        gsl_vector_set(b, i, right[i]);
    int sign;
    gsl_linalg_LU_decomp(lu, perm, &sign);
    gsl_linalg_LU_solve(lu, perm, b, y);
    double most = 0;
    for (size_t i = 0; i < n; i++)
        most = fmax(most, fabs(gsl_vector_get(y, i)));
    for (size_t i = 0; i < n; i++)
        assert_close(transposed ? x[i] * p->scale[i] : x[i] / p->scale[i], gsl_vector_get(y, i),
                     1e-8, 1e-10 * most, "%s, trial %d: x[%zu]", what, trial, i);
    gsl_vector_free(y);
    gsl_vector_free(b);
    gsl_permutation_free(perm);
    gsl_matrix_free(lu);
}

static void check(double decades, uint64_t seed) {
    test_dice dice = {seed};
    for (int trial = 0; trial < 120; trial++) {
        int nodes = 1 + test_below(&dice, 14), g = 1 + trial % 16;
        problem p = draw(&dice, nodes, test_below(&dice, nodes + 1), g, decades);
        rfy_block_lu *lu = rfy_block_lu_new(p.arena, &p.m);
        double *x = RFY_NEW(p.arena, (size_t)p.n, double),
               *right = RFY_NEW(p.arena, (size_t)p.n, double);
        /* twice with one object: nothing may be left over from the first time */
        for (int again = 0; again < 2; again++) {
            assert_true(rfy_block_lu_factor(lu, &p.m, p.fac, p.extra));
            for (int i = 0; i < p.n; i++) {
                right[i] = test_between(&dice, -1, 1);
                x[i] = right[i] * p.scale[i];
            }
            rfy_block_lu_solve(lu, x);
            compare(&p, false, right, x, "solve", trial);
            for (int i = 0; i < p.n; i++)
                x[i] = right[i] / p.scale[i];
            rfy_block_lu_solve_transposed(lu, x);
            compare(&p, true, right, x, "transposed", trial);
        }
        drop(&p);
    }
}

/* Many right-hand sides at once, of every width, each against GSL; the rows were packed before for
 * a matrix whose gases do not meet, so that zeros have become none. */
static void many_at_once(void **state) {
    (void)state;
    test_dice dice = {20};
    for (int trial = 0; trial < 48; trial++) {
        const int nodes = 1 + test_below(&dice, 9), g = 1 + trial % 9, m = 1 + trial % 8;
        problem p = draw(&dice, nodes, test_below(&dice, nodes + 1), g, trial % 3 ? 8 : 0);
        rfy_block_lu *lu = rfy_block_lu_new(p.arena, &p.m);
        rfy_packed_rows *rows = rfy_block_lu_packed(p.arena, lu, m);
        rfy_blocks apart = p.m;
        apart.value = RFY_NEW(p.arena, (size_t)(p.m.start[p.m.n_rows] * g * g), double);
        for (int k = 0; k < p.m.start[p.m.n_rows]; k++)
            for (int i = 0; i < g; i++)
                apart.value[(k * g + i) * g + i] = p.m.value[(k * g + i) * g + i];
        rfy_v4 *x = RFY_NEW(p.arena, (size_t)(p.n * m), rfy_v4);
        double *right = RFY_NEW(p.arena, (size_t)(p.n * m * RFY_LANES), double),
               *own = RFY_NEW(p.arena, (size_t)p.n, double);
        for (int again = 0; again < 3; again++) {
            assert_true(rfy_block_lu_factor(lu, again == 0 ? &apart : &p.m, p.fac, p.extra));
            rfy_block_lu_pack(lu, rows);
            for (int c = 0; c < m * RFY_LANES; c++)
                for (int i = 0; i < p.n; i++) {
                    right[c * p.n + i] = test_between(&dice, -1, 1);
                    ((double *)(x + i * m))[c] = right[c * p.n + i] * p.scale[i];
                }
            rfy_packed_solve(rows, x);
            for (int c = 0; c < m * RFY_LANES && again > 0; c += 3) {
                for (int i = 0; i < p.n; i++)
                    own[i] = ((double *)(x + i * m))[c];
                compare(&p, false, right + c * p.n, own, "many", trial);
            }
        }
        drop(&p);
    }
}

static void solves_like_dense(void **state) {
    (void)state;
    check(0, 11);
}

/* A trace of 1e-20 beside an atmosphere must come out as exactly as the atmosphere. */
static void trace_gases_count_alike(void **state) {
    (void)state;
    check(20, 12);
}

/* A closed network has no steady state: without decay the matrix is singular, and a gas that
 * nothing moves shows it. */
static void singular_is_told(void **state) {
    (void)state;
    rfy_arena *arena = rfy_arena_new();
    int start[] = {0, 2, 4}, column[] = {0, 1, 0, 1};
    double value[] = {-1, 1, 1, -1};
    rfy_blocks m = {
        .n_rows = 2, .n_columns = 2, .g = 1, .start = start, .column = column, .value = value};
    rfy_block_lu *lu = rfy_block_lu_new(arena, &m);
    assert_false(rfy_block_lu_factor(lu, &m, 0, NULL));
    assert_true(
        rfy_block_lu_factor(lu, &m, 0.5, NULL)); /* (0.5 + 1, -1; -1, 1.5): inverse by hand */
    double x[] = {1, 0};
    rfy_block_lu_solve(lu, x);
    assert_close(x[0], 1.5 / 1.25, 1e-15, 0, "first");
    assert_close(x[1], 1.0 / 1.25, 1e-15, 0, "second");
    const double drain[] = {0, 1};
    assert_true(rfy_block_lu_factor(lu, &m, 0, drain));
    value[0] = NAN;
    assert_false(rfy_block_lu_factor(lu, &m, 0.5, NULL));
    rfy_arena_free(arena);
}

/* A thousand nodes in a chain and in a star: the order keeps fill and time in proportion. */
static void long_chain(void **state) {
    (void)state;
    for (int star = 0; star < 2; star++) {
        rfy_arena *arena = rfy_arena_new();
        const int n = 20000;
        int *start = RFY_NEW(arena, (size_t)n + 1, int),
            *column = RFY_NEW(arena, 4 * (size_t)n, int), used = 0;
        for (int i = 0; i < n; i++) {
            start[i] = used;
            if (star) {
                if (i > 0)
                    column[used++] = 0;
                if (i > 0)
                    column[used++] = i;
                for (int j = 0; i == 0 && j < n; j++)
                    column[used++] = j;
            } else {
                for (int j = i - 1; j <= i + 1; j++)
                    if (j >= 0 && j < n)
                        column[used++] = j;
            }
        }
        start[n] = used;
        double *value = RFY_NEW(arena, (size_t)used, double),
               *x = RFY_NEW(arena, (size_t)n, double);
        for (int i = 0; i < n; i++)
            for (int k = start[i]; k < start[i + 1]; k++)
                value[k] = column[k] != i ? 1 : star ? (i ? -1 : -(n - 1)) : -2;
        rfy_blocks m = {
            .n_rows = n, .n_columns = n, .g = 1, .start = start, .column = column, .value = value};
        rfy_block_lu *lu = rfy_block_lu_new(arena, &m);
        assert_true(rfy_block_lu_factor(lu, &m, 1, NULL));
        for (int i = 0; i < n; i++)
            x[i] = 1; /* rows inside sum to 1 (fac I - J), the chain's ends to 2 */
        rfy_block_lu_solve(lu, x);
        if (star) {
            for (int i = 0; i < n; i++)
                assert_close(x[i], 1, 1e-11, 0, "star, node %d", i);
        } else { /* x = 1 - c r^i near an end, r = (3 - sqrt 5)/2; the middle is 1 */
            double r = (3 - sqrt(5)) / 2,
                   c = 1 / (3 - r); /* 3 x0 - x1 = 1 with x = 1 - c r^i: c (3 - r) = 1 */
            assert_close(x[n / 2], 1, 1e-13, 0, "middle of the chain");
            assert_close(x[0], 1 - c, 1e-13, 0, "end of the chain");
            assert_close(x[n - 3], 1 - c * r * r, 1e-13, 0, "near the other end");
        }
        rfy_arena_free(arena);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(solves_like_dense),
        cmocka_unit_test(many_at_once),
        cmocka_unit_test(trace_gases_count_alike),
        cmocka_unit_test(singular_is_told),
        cmocka_unit_test(long_chain),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
