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
    double **y;
} bench;

/* All that Python calls. n = free states. */
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
    return b.replay->trouble ? NULL : &b;
}

int bench_states(const bench *b) {
    return b->replay->n_free;
}

int bench_entries(const bench *b) {
    const rfy_blocks *m = b->replay->blocks;
    return m->start[m->n_columns] * m->g * m->g;
}

int bench_segments(const bench *b) {
    return b->replay->n_segments;
}

double bench_border(const bench *b, int segment) {
    const test_replay *r = b->replay;
    return segment < r->n_segments ? r->segment[segment].from : r->net->until;
}

void bench_start(const bench *b, double *y) {
    memcpy(y, b->replay->start, (size_t)b->replay->n_free * sizeof *y);
}

void bench_floor(const bench *b, double *floor) {
    const rfy_network *net = b->replay->net;
    const int g = net->mixture.n;
    for (int i = 0; i < b->replay->n_free; i++)
        floor[i] =
            RFY_PRESSURE_FLOOR * net->node[i / g].volume / (RFY_R * net->node[i / g].temperature);
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
    test_replay_jacobian(b->replay, t, y);
    const rfy_blocks *m = b->replay->blocks;
    const int g = m->g;
    const size_t n = (size_t)b->replay->n_free;
    memset(matrix, 0, n * n * sizeof *matrix);
    for (int r = 0; r < m->n_columns; r++)
        for (int k = m->start[r]; k < m->start[r + 1]; k++)
            for (int i = 0; i < g; i++)
                memcpy(matrix + (size_t)(r * g + i) * n + m->column[k] * g,
                       m->value + (k * g + i) * g, (size_t)g * sizeof *matrix);
}

void bench_pattern(bench *b, int *start, int *column) {
    const rfy_blocks *m = b->replay->blocks;
    const int g = m->g;
    int at = 0;
    for (int r = 0; r < m->n_columns; r++)
        for (int i = 0; i < g; i++) {
            start[r * g + i] = at;
            for (int k = m->start[r]; k < m->start[r + 1]; k++)
                for (int j = 0; j < g; j++)
                    column[at++] = m->column[k] * g + j;
        }
    start[m->n_columns * g] = at;
}

void bench_sparse(bench *b, double t, const double *y, double *value) {
    test_replay_jacobian(b->replay, t, y);
    const rfy_blocks *m = b->replay->blocks;
    const int g = m->g;
    for (int r = 0; r < m->n_columns; r++)
        for (int i = 0; i < g; i++)
            for (int k = m->start[r]; k < m->start[r + 1]; k++, value += g)
                memcpy(value, m->value + (k * g + i) * g, (size_t)g * sizeof *value);
}

void bench_keep(bench *b, int instant, const double *y) {
    memcpy(b->y[instant], y, (size_t)b->replay->n_free * sizeof *y);
}

double bench_error(const bench *b) {
    return test_replay_error(b->replay, b->y, b->replay->y, NULL);
}
