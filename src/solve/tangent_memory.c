#include "solve/tangent_memory.h"
#include <math.h>
#include <string.h>
#include "solve/tangent_parts.h"

/* Steps remembered since a switching, instants laid aside among them, and the bytes that may cost.
 */
enum { MOST_STEPS = 96, MOST_KEPT = 10, MOST_BYTES = 6 << 20 };

/* Instants laid aside are so much later each, counted from the switching. */
static const double apart = 2;

typedef struct passed { /* a step: (1/h - A + pull) s_1 = ratio s_0/h + … */
    double from, to, h, *value, *ratio, *pull, *y; /* y: where it began */
} passed;

typedef struct kept {
    double time;
    rfy_snapshot *sim;
    rfy_v4 *s;   /* [rows * m] */
    bool needed; /* a target was met since */
} kept;

typedef struct answer { /* of a target */
    bool known;
    double time;
    int n_lambda, n_kept;
    double *when, *lambda; /* [n_lambda], latest first; [n_lambda * rows] by logarithms of states */
    kept kept[MOST_KEPT];
} answer;

struct rfy_memory {
    int n_passed, n_kept, n_all, cap_all;
    passed passed[MOST_STEPS];
    kept kept[MOST_KEPT];
    bool of_no_use; /* this stretch: too long, no target to come, or clocks that run on from before
                     */
    double began;   /* this stretch between two switchings */
    answer *target;
    rfy_snapshot **all; /* what targets may still ask for */
    /* [n] numbers that have not mattered up to now, and the instant of which that is known */
    bool *idle;
    rfy_snapshot **untouched;
};

static size_t blocks_of(const rfy_tangent *t) {
    const rfy_blocks *p = t->step->pattern;
    return (size_t)p->start[p->n_columns] * (size_t)(p->g * p->g);
}

/* Only paces of motions differ, or what walls give off: without motions and with walls in air all
 * goes on as it would without, whatever the number is. */
static bool may_idle(const rfy_network *net, const rfy_neighbour *v) {
    if (v->unsuited || v->whole || v->fixed || v->n_edges > 0 || v->n_nodes > 0 ||
        v->n_bursts > 0 || v->n_stores > 0)
        return false;
    for (int i = 0; i < net->n_bursts; i++)
        if (v->net->burst[i].from != net->burst[i].from || v->net->burst[i].to != net->burst[i].to)
            return false;
    return true;
}

void rfy_tangent_remember(rfy_tangent *t) {
    const size_t rows = (size_t)t->rows, block = rows * (size_t)t->m * sizeof(rfy_v4);
    const size_t bytes =
        MOST_STEPS * (blocks_of(t) + 3 * rows) * sizeof(double) + 2 * MOST_KEPT * block;
    if (!t->quick || bytes > MOST_BYTES || t->net->n_targets == 0)
        return;
    t->memory = RFY_NEW(t->arena, 1, rfy_memory);
    t->memory->target = RFY_NEW(t->arena, (size_t)t->net->n_targets, answer);
    t->memory->idle = RFY_NEW(t->arena, (size_t)t->n, bool);
    t->memory->untouched = RFY_NEW(t->arena, (size_t)t->n, rfy_snapshot *);
    for (int p = 0; p < t->n; p++)
        t->memory->idle[p] = may_idle(t->net, &t->neighbour[p]);
}

static void free_unneeded(rfy_memory *m, int from, int to) {
    for (int i = from; i < to; i++)
        if (!m->kept[i].needed)
            rfy_snapshot_free(m->kept[i].sim);
}

/* ---- numbers that do not matter yet ---- */

static bool none(const double *d, int rows, int columns, int column) {
    for (int i = 0; i < rows; i++)
        if (d[i * columns + column] != 0)
            return false;
    return true;
}

/* No derivative by it differs from zero, nor that of the present instant. */
static bool idles(const rfy_tangent *t, int column) {
    const rfy_network *net = t->net;
    const int c = t->columns;
    return none((const double *)(const void *)t->s, t->rows, c, column) &&
           none(t->valve, net->n_valves * RFY_D_MOTION, c, column) &&
           none(t->pump, net->n_pumps * RFY_D_MOTION, c, column) &&
           none(t->wall, net->n_nodes, c, column) && t->moment[column] == 0;
}

static void drop(rfy_memory *m, int n, const rfy_snapshot *snapshot) {
    for (int p = 0; p < n; p++)
        if (m->untouched[p] == snapshot)
            return;
    rfy_snapshot_free((rfy_snapshot *)(size_t)snapshot);
}

void rfy_memory_before(rfy_tangent *t) {
    rfy_memory *m = t->memory;
    rfy_snapshot *now = NULL;
    if (!m || !(t->sim->time > 0))
        return;
    for (int p = 0; p < t->n; p++) {
        m->idle[p] = m->idle[p] && t->sound && idles(t, p);
        if (!m->idle[p])
            continue;
        rfy_snapshot *was = m->untouched[p];
        now = now ? now : rfy_sim_save(t->sim);
        m->untouched[p] = now;
        drop(m, t->n, was);
    }
}

const rfy_snapshot *rfy_tangent_untouched(const rfy_tangent *t, int column) {
    return t->memory ? t->memory->untouched[column] : NULL;
}

/* ---- what is forgotten ---- */

/* A valve or rotor on its way hands on when it began. */
static bool clocks_run(const rfy_tangent *t) {
    const rfy_sim *sim = t->sim;
    for (int i = 0; i < t->net->n_valves; i++)
        if (sim->valve[i].end > t->memory->began)
            return true;
    for (int i = 0; i < t->net->n_pumps; i++)
        if (sim->pump[i].end > t->memory->began)
            return true;
    return false;
}

static bool all_met(const rfy_tangent *t) {
    for (int i = 0; i < t->net->n_targets; i++)
        if (!t->target_known[i])
            return false;
    return true;
}

void rfy_memory_begin(rfy_tangent *t) {
    rfy_memory *m = t->memory;
    if (!m)
        return;
    free_unneeded(m, 0, m->n_kept);
    m->n_passed = m->n_kept = 0;
    m->began = t->sim->time;
    m->of_no_use = clocks_run(t) || all_met(t);
}

void rfy_memory_step(rfy_tangent *t, const rfy_tangent_place *from, const double *value,
                     const double *ratio, const double *pull) {
    rfy_memory *m = t->memory;
    if (!m || m->of_no_use)
        return;
    if (m->n_passed == MOST_STEPS) {
        m->of_no_use = true;
        return;
    }
    const size_t blocks = blocks_of(t), rows = (size_t)t->rows;
    passed *p = &m->passed[m->n_passed++];
    if (!p->value) {
        p->value = RFY_NEW(t->arena, blocks + 3 * rows, double);
        p->ratio = p->value + blocks;
        p->pull = p->ratio + rows;
        p->y = p->pull + rows;
    }
    p->from = from->time;
    p->to = t->sim->time;
    p->h = p->to - p->from;
    memcpy(p->value, value, blocks * sizeof *value);
    memcpy(p->ratio, ratio, rows * sizeof *ratio);
    memcpy(p->pull, pull, rows * sizeof *pull);
    memcpy(p->y, from->y, rows * sizeof *p->y);
}

void rfy_tangent_lay_aside(rfy_tangent *t) {
    rfy_memory *m = t->memory;
    const size_t block = (size_t)t->rows * (size_t)t->m;
    if (!m || m->of_no_use || t->resting || !(t->sim->time > m->began) ||
        (m->n_kept > 0 &&
         t->sim->time - m->began < apart * (m->kept[m->n_kept - 1].time - m->began)))
        return;
    rfy_tangent_catch_up(t);
    if (m->n_passed == 0 || m->passed[m->n_passed - 1].to != t->sim->time)
        return;
    if (m->n_kept == MOST_KEPT) { /* every other one: times grow by factors */
        int left = 0;
        for (int i = 0; i < MOST_KEPT; i++)
            if (i % 2 == 1) {
                const kept other = m->kept[left];
                m->kept[left++] = m->kept[i];
                m->kept[i] = other;
            }
        free_unneeded(m, left, MOST_KEPT);
        m->n_kept = left;
    }
    kept *k = &m->kept[m->n_kept++];
    if (!k->s || k->needed)
        k->s = RFY_NEW(t->arena, block, rfy_v4);
    for (int i = 0; i < t->rows; i++) /* of logarithms, too */
        for (int v = i * t->m; v < (i + 1) * t->m; v++)
            k->s[v] = t->sim->y[i] > 0 ? t->s[v] / t->sim->y[i] : t->s[v] * 0;
    k->time = t->sim->time;
    k->needed = false;
    k->sim = rfy_sim_save(t->sim);
}

static void keep_lambda(answer *a, double when, int rows, const double *x, const double *y) {
    double *to = a->lambda + a->n_lambda * rows;
    for (int i = 0; i < rows; i++)
        to[i] = y[i] > 0 ? x[i] * y[i] : 0;
    a->when[a->n_lambda++] = when;
}

void rfy_memory_target(rfy_tangent *t, int target, double time, const rfy_tangent_place *from,
                       double *value, const double *ratio, const double *pull, const double *f) {
    rfy_memory *m = t->memory;
    if (!m || m->of_no_use || m->n_kept == 0)
        return;
    answer *a = &m->target[target];
    const int rows = t->rows, g = t->net->mixture.n, first = t->net->target[target].node * g;
    double rise = 0, *x = RFY_NEW(t->arena, (size_t)rows, double);
    for (int i = 0; i < g; i++)
        rise += f[first + i];
    for (int i = 0; i < g; i++)
        x[first + i] = -1 / rise;
    a->when = RFY_NEW(t->arena, (size_t)m->n_passed + 1, double);
    a->lambda = RFY_NEW(t->arena, ((size_t)m->n_passed + 1) * (size_t)rows, double);
    if (!isfinite(rise) ||
        !rfy_linear_step_back(t->aside, value, time - from->time, ratio, pull, x))
        return;
    a->n_lambda = 0;
    keep_lambda(a, from->time, rows, x, from->y);
    for (int k = m->n_passed - 1; k >= 0; k--) {
        const passed *p = &m->passed[k];
        if (p->from >= from->time) /* the step that holds the target, as a whole */
            continue;
        if (!rfy_linear_step_back(t->aside, p->value, p->h, p->ratio, p->pull, x))
            return;
        keep_lambda(a, p->from, rows, x, p->y);
    }
    for (int i = 0; i < m->n_kept; i++) {
        if (!m->kept[i].needed) {
            if (m->n_all == m->cap_all) {
                const int more = m->cap_all + 4 * MOST_KEPT;
                m->all = rfy_arena_grow(t->arena, m->all, (size_t)m->cap_all, (size_t)more,
                                        sizeof *m->all);
                m->cap_all = more;
            }
            m->all[m->n_all++] = m->kept[i].sim;
        }
        m->kept[i].needed = true;
        a->kept[i] = m->kept[i];
    }
    a->n_kept = m->n_kept;
    a->time = time;
    a->known = true;
}

const rfy_snapshot *rfy_tangent_late_start(const rfy_tangent *t, int target, int column,
                                           double then, double part) {
    const answer *a = t->memory ? &t->memory->target[target] : NULL;
    if (!a || !a->known)
        return NULL;
    const double whole = fabs(t->target[target * t->columns + column]);
    for (int k = 0; k < t->net->n_nodes; k++) /* a clock of walls that begins as much later */
        if (fabs(t->wall[k * t->columns + column]) > part * whole)
            return NULL;
    for (int k = a->n_kept - 1; k >= 0; k--) {
        /* as long before the target as it will be then, at the most */
        const double from = a->kept[k].time, least = fmax(from, a->time - then + from);
        int j = -1;
        while (j + 1 < a->n_lambda && a->when[j + 1] >= least)
            j++;
        if (j < 0)
            continue;
        double missed = 0;
        for (int i = 0; i < t->rows; i++)
            missed += a->lambda[j * t->rows + i] * rfy_tangent_row(a->kept[k].s, t, i)[column];
        if (fabs(missed) <= part * whole)
            return a->kept[k].sim;
    }
    return NULL;
}

void rfy_tangent_forget(rfy_tangent *t) {
    rfy_memory *m = t->memory;
    if (!m)
        return;
    free_unneeded(m, 0, m->n_kept);
    for (int i = 0; i < m->n_all; i++)
        rfy_snapshot_free(m->all[i]);
    for (int p = 0; p < t->n; p++) {
        rfy_snapshot *last = m->untouched[p];
        m->untouched[p] = NULL;
        drop(m, t->n, last);
    }
    t->memory = NULL;
}
