#include "crosscheck/by_klu.h"
#include <string.h>

test_klu *test_klu_new(rfy_arena *arena, const rfy_blocks *m) {
    test_klu *k = RFY_NEW(arena, 1, test_klu);
    const int g = m->g, gg = g * g, n = m->n_columns * g, blocks = m->start[m->n_columns];
    k->n = n;
    k->g = g;
    k->entries = blocks * gg;
    k->start = RFY_NEW(arena, (size_t)n + 1, int);
    k->row = RFY_NEW(arena, (size_t)k->entries, int);
    k->value = RFY_NEW(arena, (size_t)k->entries, double);
    k->place = RFY_NEW(arena, (size_t)k->entries, int);
    k->diagonal = RFY_NEW(arena, (size_t)n, int);
    for (int b = 0; b < blocks; b++)
        for (int j = 0; j < g; j++)
            k->start[m->column[b] * g + j + 1] += g;
    for (int c = 0; c < n; c++)
        k->start[c + 1] += k->start[c];
    int *used = RFY_NEW(arena, (size_t)n, int);
    for (int r = 0; r < m->n_columns; r++) /* rows rise within each column */
        for (int b = m->start[r]; b < m->start[r + 1]; b++)
            for (int i = 0; i < g; i++)
                for (int j = 0; j < g; j++) {
                    int row = r * g + i, column = m->column[b] * g + j,
                        at = k->start[column] + used[column]++;
                    k->row[at] = row;
                    k->place[b * gg + i * g + j] = at;
                    if (row == column)
                        k->diagonal[row] = at;
                }
    klu_defaults(&k->common);
    k->common.ordering = 0; /* AMD: the pattern is symmetric */
    k->symbolic = klu_analyze(n, k->start, k->row, &k->common);
    return k->symbolic ? k : NULL;
}

bool test_klu_factor(test_klu *k, const rfy_blocks *m, double fac, bool again) {
    for (int e = 0; e < k->entries; e++)
        k->value[k->place[e]] = -m->value[e];
    for (int i = 0; i < k->n; i++)
        k->value[k->diagonal[i]] += fac;
    if (again && k->numeric)
        return klu_refactor(k->start, k->row, k->value, k->symbolic, k->numeric, &k->common);
    if (k->numeric)
        klu_free_numeric(&k->numeric, &k->common);
    k->numeric = klu_factor(k->start, k->row, k->value, k->symbolic, &k->common);
    return k->numeric != NULL;
}

void test_klu_solve(test_klu *k, double *x) {
    klu_solve(k->symbolic, k->numeric, k->n, 1, x, &k->common);
}

void test_klu_solve_transposed(test_klu *k, double *x) {
    klu_tsolve(k->symbolic, k->numeric, k->n, 1, x, &k->common);
}

void test_klu_free(test_klu *k) {
    if (k->numeric)
        klu_free_numeric(&k->numeric, &k->common);
    klu_free_symbolic(&k->symbolic, &k->common);
}
