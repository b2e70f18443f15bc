#define _POSIX_C_SOURCE 200809L
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <gsl/gsl_errno.h>
#include "support/replay.h"
#include "support/support.h"

enum { MOST_SEGMENTS = 4000 };

double test_seconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static void *copy(rfy_arena *arena, const void *from, size_t n, size_t size) {
    void *to = rfy_arena_alloc(arena, n, size);
    if (n > 0)
        memcpy(to, from, n * size);
    return to;
}

static void lay_out(test_replay *r);

/* ---- recording ---- */

static void on_event(void *context, rfy_sim *sim, double time, const double *y, rfy_event_kind kind,
                     const char *what) {
    test_replay *r = context;
    const rfy_network *net = sim->net;
    (void)y, (void)what;
    if (kind != RFY_EVENT_START && kind != RFY_EVENT_ACTION && kind != RFY_EVENT_MACHINE &&
        kind != RFY_EVENT_WALL && kind != RFY_EVENT_SOURCE)
        return;
    /* an instant may tell several times, the last has it all */
    bool again = r->n_segments > 0 && r->segment[r->n_segments - 1].from >= time;
    if (again)
        time = r->segment[r->n_segments - 1].from;
    else
        assert_true(r->n_segments < MOST_SEGMENTS);
    r->segment[again ? r->n_segments - 1 : r->n_segments++] = (test_segment){
        .from = time,
        .valve = copy(r->arena, sim->valve, (size_t)net->n_valves, sizeof *sim->valve),
        .pump = copy(r->arena, sim->pump, (size_t)net->n_pumps, sizeof *sim->pump),
        .wall_since = copy(r->arena, sim->wall_since, (size_t)net->n_nodes, sizeof(double)),
        .wall_turns = copy(r->arena, sim->wall_turns, (size_t)net->n_nodes, sizeof(int)),
        .heat = copy(r->arena, sim->heat, (size_t)net->n_nodes, sizeof *sim->heat),
        .heated = copy(r->arena, sim->heated, (size_t)net->n_nodes, sizeof *sim->heated),
        .any_heat = sim->any_heat};
}

static void on_output(void *context, rfy_sim *sim, double time, const double *y) {
    test_replay *r = context;
    size_t i = 0;
    while (i < r->n_at && r->at[i] != time)
        i++;
    assert_true(i < r->n_at);
    memcpy(r->y[i], y, (size_t)sim->ode->n * sizeof *y);
}

double **test_replay_room(test_replay *r) {
    double **y = RFY_NEW(r->arena, r->n_at, double *);
    for (size_t i = 0; i < r->n_at; i++)
        y[i] = RFY_NEW(r->arena, (size_t)rfy_network_states(r->net), double);
    return y;
}

test_replay *test_replay_new(const rfy_network *net, rfy_method method, double rtol,
                             const double *at, size_t n_at, volatile const int *stop) {
    rfy_arena *arena = rfy_arena_new();
    test_replay *r = RFY_NEW(arena, 1, test_replay);
    const size_t n = (size_t)rfy_network_states(net);
    r->arena = arena;
    r->net = net;
    r->stop = stop;
    r->n_free = net->n_free * net->mixture.n;
    r->n = r->n_free + net->n_inner;
    r->segment = RFY_NEW(arena, MOST_SEGMENTS, test_segment);
    r->n_at = n_at;
    r->at = copy(arena, at, n_at, sizeof *at);
    r->y = test_replay_room(r);
    r->controls = rfy_controls_new(arena, net);
    r->blocks = rfy_blocks_new(arena, net);
    r->inner = rfy_inner_new(arena, net);
    lay_out(r);
    r->pressure = RFY_NEW(arena, n, double);
    r->state = RFY_NEW(arena, n, double);
    r->rate = RFY_NEW(arena, n, double);
    r->start = RFY_NEW(arena, n, double);
    rfy_start_state(net, r->start);

    rfy_observer observer = {.event = on_event, .output = on_output, .context = r};
    rfy_sim_options options = {
        .method = method, .tolerance = rtol, .at = r->at, .n_at = n_at, .stop = stop};
    double began = test_seconds();
    r->driver = rfy_sim_new(net, &options, &observer);
    assert_non_null(r->driver);
    if (rfy_sim_run(r->driver) != RFY_OK)
        r->trouble = copy(arena, r->driver->trouble, strlen(r->driver->trouble) + 1, 1);
    r->event_seconds = test_seconds() - began;
    r->end = copy(arena, r->driver->y, n, sizeof(double));
    for (int i = 0; i < r->n_segments; i++)
        r->segment[i].to = i + 1 < r->n_segments ? r->segment[i + 1].from : net->until;
    if (r->n_segments > 0 && r->segment[r->n_segments - 1].from >= net->until)
        r->n_segments--;
    return r;
}

void test_replay_free(test_replay *r) {
    if (!r)
        return;
    rfy_sim_free(r->driver);
    rfy_arena_free(r->arena);
}

/* ---- the right-hand side ---- */

static void enter(rfy_sim *sim, const test_segment *s) {
    const rfy_network *net = sim->net;
    memcpy(sim->valve, s->valve, (size_t)net->n_valves * sizeof *sim->valve);
    memcpy(sim->pump, s->pump, (size_t)net->n_pumps * sizeof *sim->pump);
    memcpy(sim->wall_since, s->wall_since, (size_t)net->n_nodes * sizeof *sim->wall_since);
    memcpy(sim->wall_turns, s->wall_turns, (size_t)net->n_nodes * sizeof *sim->wall_turns);
    memcpy(sim->heat, s->heat, (size_t)net->n_nodes * sizeof *sim->heat);
    memcpy(sim->heated, s->heated, (size_t)net->n_nodes * sizeof *sim->heated);
    sim->any_heat = s->any_heat;
    for (int i = 0; i < net->n_bursts; i++)
        sim->burst_on[i] = s->from >= net->burst[i].from && s->from < net->burst[i].to;
    sim->time = sim->base = s->from;
}

void test_replay_enter(test_replay *r, int i) {
    enter(r->driver, &r->segment[i]);
    r->base = r->segment[i].from;
    r->controls_at = NAN;
}

static void controls_at(test_replay *r, double t) {
    if (r->controls_at == t)
        return;
    rfy_sim_controls(r->driver, r->base + t, r->controls);
    r->controls_at = t;
}

void test_replay_reduce(const test_replay *r, const double *states, double *y) {
    memcpy(y, states, (size_t)r->n_free * sizeof *y);
    memcpy(y + r->n_free, states + rfy_network_inner(r->net),
           (size_t)(r->n - r->n_free) * sizeof *y);
}

/* The other way round; what only counts stays zero, nothing depends on it. */
static const double *enlarge(test_replay *r, const double *y) {
    memcpy(r->state, y, (size_t)r->n_free * sizeof *y);
    memcpy(r->state + rfy_network_inner(r->net), y + r->n_free,
           (size_t)(r->n - r->n_free) * sizeof *y);
    return r->state;
}

void test_replay_floor(const test_replay *r, double *floor) {
    const rfy_network *net = r->net;
    const int g = net->mixture.n;
    for (int i = 0; i < r->n_free; i++)
        floor[i] =
            RFY_PRESSURE_FLOOR * net->node[i / g].volume / (RFY_R * net->node[i / g].temperature);
    const int shift = r->n_free - rfy_network_inner(net);
    for (int i = 0; i < net->n_stores; i++)
        memcpy(floor + net->store[i].first + shift, net->store[i].grain,
               (size_t)net->store[i].n * sizeof *floor);
}

bool test_replay_rates(test_replay *r, double t, const double *y, double *rate) {
    controls_at(r, t);
    rfy_rates(r->net, r->controls, enlarge(r, y), r->rate, r->pressure);
    r->n_rates++;
    test_replay_reduce(r, r->rate, rate);
    double sum = 0;
    for (int i = 0; i < r->n; i++)
        sum += fabs(rate[i]);
    return isfinite(sum);
}

/* Columns of a free row: the blocks, then the states of each store of this gas in this place. Rows
 * of stores: their gas, themselves. */
static void lay_out(test_replay *r) {
    const rfy_network *net = r->net;
    const rfy_blocks *m = r->blocks;
    const int g = m->g, shift = r->n_free - rfy_network_inner(net);
    r->entries = m->start[m->n_columns] * g * g + 3 * net->n_inner;
    r->row_start = RFY_NEW(r->arena, (size_t)r->n + 1, int);
    r->entry_column = RFY_NEW(r->arena, (size_t)r->entries, int);
    int at = 0;
    for (int row = 0; row < r->n_free; row++) {
        r->row_start[row] = at;
        for (int k = m->start[row / g]; k < m->start[row / g + 1]; k++)
            for (int j = 0; j < g; j++)
                r->entry_column[at++] = m->column[k] * g + j;
        for (int i = 0; i < net->n_stores; i++)
            if (net->store[i].node * g + net->store[i].gas == row)
                for (int j = 0; j < net->store[i].n; j++)
                    r->entry_column[at++] = net->store[i].first + shift + j;
    }
    for (int i = 0; i < net->n_stores; i++)
        for (int j = 0; j < net->store[i].n; j++) {
            int row = net->store[i].first + shift + j;
            r->row_start[row] = at;
            r->entry_column[at++] = net->store[i].node * g + net->store[i].gas;
            r->entry_column[at++] = row;
        }
    r->row_start[r->n] = at;
    assert_int_equal(at, r->entries);
}

void test_replay_jacobian(test_replay *r, double t, const double *y, double *value) {
    const rfy_network *net = r->net;
    const rfy_blocks *m = r->blocks;
    const int g = m->g, shift = r->n_free - rfy_network_inner(net);
    controls_at(r, t);
    rfy_rates_jacobian(net, r->controls, enlarge(r, y), r->pressure, r->blocks, NULL);
    r->n_jacobians++;
    for (int row = 0; row < r->n_free; row++) {
        double *to = value + r->row_start[row];
        for (int k = m->start[row / g]; k < m->start[row / g + 1]; k++, to += g)
            memcpy(to, m->value + (k * g + row % g) * g, (size_t)g * sizeof *to);
    }
    if (!r->inner)
        return;
    const double *by_x, *by_n, *through;
    rfy_inner_jacobian(r->inner, r->controls, r->state, r->pressure);
    rfy_inner_values(r->inner, &by_x, &by_n, &through);
    /* a place loses what its stores gain */
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        const int gas = s->node * g + s->gas, from = r->row_start[gas], to = r->row_start[gas + 1];
        int own = from, first = from;
        while (r->entry_column[own] != gas)
            own++;
        while (first < to && r->entry_column[first] != s->first + shift)
            first++;
        value[own] -= through[i];
        for (int j = 0; j < s->n; j++) {
            const int x = s->first - rfy_network_inner(net) + j;
            double *row = value + r->row_start[s->first + shift + j];
            row[0] = by_n[x];
            row[1] = by_x[x];
            value[own] -= by_n[x];
            value[first + j] = -by_x[x];
        }
    }
}

double test_replay_next_bend(test_replay *r, int segment, double t) {
    bool only_walls;
    r->driver->time = r->base + t;
    double next = rfy_sim_next_break(r->driver, &only_walls);
    r->driver->time = r->base;
    return (only_walls && next < r->segment[segment].to ? next : r->segment[segment].to) - r->base;
}

/* ---- our own steppers ---- */

static bool along(const test_replay *r, rfy_sim *sim, const test_segment *s, bool land, size_t *out,
                  double **y, test_accepted *accepted, void *context) {
    const size_t n = (size_t)sim->ode->n;
    enter(sim, s);
    rfy_sim_restart(sim);
    while (sim->time < s->to) {
        bool only_walls;
        double h = sim->h, stop = rfy_sim_next_break(sim, &only_walls), from = sim->time;
        if (stop >= s->to) {
            stop = s->to;
            only_walls = false;
        }
        bool landing = land && *out < r->n_at && r->at[*out] < stop;
        if (landing)
            stop = r->at[*out];
        if (rfy_sim_step(sim, stop) != RFY_OK)
            return false;
        if (accepted)
            accepted(context, sim);
        for (; *out < r->n_at && r->at[*out] <= sim->time; (*out)++) {
            assert_true(r->at[*out] > from);
            if (r->at[*out] == sim->time)
                memcpy(y[*out], sim->y, n * sizeof(double));
            else
                rfy_sim_inside(sim, r->at[*out], y[*out]);
        }
        if (sim->time == stop && sim->h < h)
            sim->h = h;
        if (sim->time == stop && only_walls && !landing)
            rfy_ode_stale(sim->ode);
    }
    return true;
}

bool test_replay_ours(const test_replay *r, rfy_method method, const gsl_odeiv2_step_type *with,
                      double rtol, bool land, double **y, test_accepted *accepted, void *context,
                      size_t *steps) {
    rfy_sim_options options = {.method = method, .tolerance = rtol};
    rfy_sim *sim = rfy_sim_new(r->net, &options, NULL);
    if (!sim)
        return false;
    if (with) {
        gsl_odeiv2_step_free(sim->step);
        sim->step = gsl_odeiv2_step_alloc(with, (size_t)sim->ode->n);
    }
    size_t out = 0;
    bool fine = sim->step != NULL;
    for (int i = 0; fine && i < r->n_segments; i++)
        fine = along(r, sim, &r->segment[i], land, &out, y, accepted, context);
    if (steps)
        *steps = sim->steps;
    rfy_sim_free(sim);
    return fine && out == r->n_at;
}

double test_replay_error(const test_replay *r, double *const *y, double *const *ref,
                         test_place *place) {
    const rfy_network *net = r->net;
    const int g = net->mixture.n;
    double worst = 0;
    for (size_t k = 0; k < r->n_at; k++)
        for (int i = 0; i < r->n_free; i++) {
            double factor = RFY_R * net->node[i / g].temperature / net->node[i / g].volume;
            double e = fabs(y[k][i] - ref[k][i]) * factor /
                       (fabs(ref[k][i]) * factor + RFY_PRESSURE_FLOOR);
            if (e <= worst)
                continue;
            worst = e;
            if (place)
                *place = (test_place){r->at[k], net->node[i / g].name, net->mixture.name[i % g],
                                      ref[k][i] * factor, y[k][i] * factor};
            if (isnan(e))
                return e;
        }
    return worst;
}

double test_replay_held_error(const test_replay *r, double *const *y, double grain) {
    const rfy_network *net = r->net;
    const int shift = r->n_free - rfy_network_inner(net);
    double worst = 0;
    for (size_t k = 0; k < r->n_at; k++)
        for (int i = 0; i < net->n_stores; i++)
            for (int j = 0; j < net->store[i].n; j++) {
                const double ref = r->y[k][net->store[i].first + j];
                double e = fabs(y[k][net->store[i].first + shift + j] - ref) /
                           (fabs(ref) + grain * net->store[i].grain[j]);
                if (!(e <= worst))
                    worst = e;
            }
    return worst;
}

double test_replay_residue(const test_replay *r) {
    const rfy_network *net = r->net;
    const int g = net->mixture.n;
    double worst = 0;
    for (int i = 0; i < g; i++) {
        double start = 0, end = 0, handled = 0;
        for (int k = 0; k <= net->n_nodes; k++) {
            double was = r->start[k * g + i], now = r->end[k * g + i];
            start += was;
            end += now;
            handled += was > 0 ? was : 0;
            if (k >= net->n_free && now < 0)
                handled -= now;
        }
        for (int k = 0; k < net->n_stores; k++) {
            if (net->store[k].gas != i)
                continue;
            double was = rfy_store_content(&net->store[k], r->start + net->store[k].first);
            start += was;
            end += rfy_store_content(&net->store[k], r->end + net->store[k].first);
            handled += was > 0 ? was : 0;
        }
        double off = handled > 0 ? fabs(end - start) / handled : 0;
        if (!(off <= worst))
            worst = off;
    }
    return worst;
}
