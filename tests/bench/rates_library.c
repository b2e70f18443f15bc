/* The right-hand side, the Jacobian and the switchings of a benchmark for SciPy, through ctypes:
 * what is then timed is SciPy's own work. */
#include <string.h>
#include <gsl/gsl_errno.h>
#include "bench/cases.h"
#include "study/system.h"
#include "support/replay.h"

typedef struct bench {
    rfy_system *system;
    test_replay *replay;
    double **y, *value;
} bench;

/* All that Python calls. n = states that a stepper needs. */
bench *bench_open(const char *name);
int bench_states(const bench *b);
int bench_entries(const bench *b); /* of the sparse Jacobian */
int bench_segments(const bench *b);
double bench_border(const bench *b, int segment); /* its beginning; the end for n_segments */
void bench_start(const bench *b, double *y);
void bench_floor(const bench *b, double *floor); /* to be multiplied by rtol */
double bench_instant(const bench *b, int i);
void bench_enter(bench *b, int segment);
void bench_rates(bench *b, double t, const double *y, double *rate);
void bench_dense(bench *b, double t, const double *y, double *matrix); /* [n * n] by rows */
void bench_pattern(bench *b, int *start, int *column);                 /* compressed rows */
void bench_sparse(bench *b, double t, const double *y, double *value);
void bench_keep(bench *b, int instant, const double *y);
double bench_error(const bench *b);

bench *bench_open(const char *name) {
    static bench b;
    const bench_case *c = bench_case_named(name);
    gsl_set_error_handler_off();
    if (!c)
        return NULL;
    b.system = bench_read(c, NULL, NULL);
    b.replay = test_replay_new(b.system->network, RFY_METHOD_RODAS, c->reference, c->at,
                               BENCH_INSTANTS, NULL);
    b.y = test_replay_room(b.replay);
    b.value = RFY_NEW(b.replay->arena, (size_t)b.replay->entries, double);
    return b.replay->trouble ? NULL : &b;
}

int bench_states(const bench *b) {
    return b->replay->n;
}

int bench_entries(const bench *b) {
    return b->replay->entries;
}

int bench_segments(const bench *b) {
    return b->replay->n_segments;
}

double bench_border(const bench *b, int segment) {
    const test_replay *r = b->replay;
    return segment < r->n_segments ? r->segment[segment].from : r->net->until;
}

void bench_start(const bench *b, double *y) {
    test_replay_reduce(b->replay, b->replay->start, y);
}

void bench_floor(const bench *b, double *floor) {
    test_replay_floor(b->replay, floor);
}

double bench_instant(const bench *b, int i) {
    return b->replay->at[i];
}

void bench_enter(bench *b, int segment) {
    test_replay_enter(b->replay, segment);
}

void bench_rates(bench *b, double t, const double *y, double *rate) {
    test_replay_rates(b->replay, t, y, rate);
}

void bench_dense(bench *b, double t, const double *y, double *matrix) {
    const test_replay *r = b->replay;
    const size_t n = (size_t)r->n;
    test_replay_jacobian(b->replay, t, y, b->value);
    memset(matrix, 0, n * n * sizeof *matrix);
    for (int i = 0; i < r->n; i++)
        for (int k = r->row_start[i]; k < r->row_start[i + 1]; k++)
            matrix[(size_t)i * n + (size_t)r->entry_column[k]] = b->value[k];
}

void bench_pattern(bench *b, int *start, int *column) {
    memcpy(start, b->replay->row_start, ((size_t)b->replay->n + 1) * sizeof *start);
    memcpy(column, b->replay->entry_column, (size_t)b->replay->entries * sizeof *column);
}

void bench_sparse(bench *b, double t, const double *y, double *value) {
    test_replay_jacobian(b->replay, t, y, value);
}

void bench_keep(bench *b, int instant, const double *y) {
    memcpy(b->y[instant], y, (size_t)b->replay->n * sizeof *y);
}

double bench_error(const bench *b) {
    return test_replay_error(b->replay, b->y, b->replay->y, NULL);
}
