/* Quick derivatives: one stage over one or several steps of the run. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "solve/steady.h"
#include "solve/tangent_memory.h"
#include "solve/tangent_parts.h"

static const double most_growth = 10; /* in a step */

/* s + sense f dT/dq to out, which may be the same. */
RFY_WIDE
static void shifted(int rows, int m, const double *f, double sense, const rfy_v4 *shift,
                    const rfy_v4 *s, rfy_v4 *out) {
    for (int i = 0; i < rows; i++)
        for (int v = 0; v < m; v++)
            out[i * m + v] = s[i * m + v] + sense * f[i] * shift[v];
}

/* The same in one stage, with the equations at the end of the step alone. What is stepped is r = s
 * + f dT/dq with T the last switching, that is the derivative at a fixed time since that switching
 * (r' = A r + b + f_t dT/dq), for after it everything happens as much later as it does: s by itself
 * would follow each of the fast changes there. From s to *out, which changes places with what the
 * step keeps; no inner states. */
static bool take_quickly(rfy_tangent *t, rfy_linear_step *step, double h, const double *y_from,
                         const double *y_to, const rfy_tangent_point *begin,
                         const rfy_tangent_point *end, const rfy_v4 *s, rfy_v4 **out) {
    const rfy_v4 *shift = (const rfy_v4 *)(const void *)t->shift;
    double *ratio = t->slope[0], *pull = t->slope[1], *slope = t->slope[2], *own = t->column;
    rfy_linear_diagonal(step, &end->a, own);
    for (int i = 0; i < t->rows; i++) {
        const double was = y_from[i], now = y_to[i], floor = t->sim->ode->floor[i];
        const double fall = was > floor && now > floor && now < was ? end->f[i] / now : 0;
        /* not what is taken away at a pace that does not depend on it */
        const bool falls = fall < 0 && own[i] < 0.5 * fall;
        ratio[i] = falls ? now / was : 1;
        pull[i] = falls ? fmax(fall, own[i]) : 0;
        slope[i] = falls ? now * log(ratio[i]) / h : (now - was) / h;
        if (falls && own[i] > fall)
            ratio[i] *= exp(fmin(h * (own[i] - fall), 1));
        const double as_rate = begin->f[i] != 0 ? end->f[i] / begin->f[i] : 1;
        if (own[i] > 0 ||
            (fall < 0 && !falls && as_rate > 1)) { /* grows by itself, as the rate does */
            ratio[i] = fmin(fmax(as_rate, 1), most_growth);
            pull[i] = own[i];
            slope[i] = end->f[i];
        }
    }
    if (t->any_growth)
        rfy_tangent_grow(t, end, slope, 1);
    if (t->shifted) {
        shifted(t->rows, t->m, begin->f, 1, shift, s, *out);
        s = *out;
    }
    bool fine = rfy_linear_step_quick(step, &end->a, end->b, h, ratio, pull, s);
    if (t->shifted) {
        shifted(t->rows, t->m, end->f, -1, shift, step->end, *out);
    } else {
        rfy_v4 *result = step->end;
        step->end = *out;
        *out = result;
    }
    if (t->any_growth) /* it belongs to this step, the rest to the instant */
        rfy_tangent_grow(t, end, slope, -1);
    return fine;
}

static bool over_quickly(rfy_tangent *t, rfy_linear_step *step, const rfy_tangent_place *from,
                         double to, double local, const double *y, rfy_tangent_point *end,
                         const rfy_v4 *s, rfy_v4 **out) {
    const double h = to - from->time;
    t->stride = h;
    return rfy_tangent_evaluate(t, to, local, y, true, end) &&
           take_quickly(t, step, h, from->y, y, from->point, end, s, out);
}

/* Several steps of the run make one quick step while no part of the gas in a place changes by more
 * than this part, and no more than that of a motion goes by. */
static const double coarse = 0.25, least_share = 0.01;

static bool may_wait(const rfy_tangent *t) {
    const rfy_sim *sim = t->sim;
    const int g = t->net->mixture.n;
    const double h = sim->time - t->now.time;
    if (t->net->gauges_lag)
        return false;
    for (int i = 0; i < t->net->n_valves + t->net->n_pumps; i++) {
        const rfy_motion *m =
            i < t->net->n_valves ? &sim->valve[i] : &sim->pump[i - t->net->n_valves];
        if (m->end > t->now.time && h > 0.3 * coarse * (m->end - m->start))
            return false;
    }
    for (int k = 0; k < t->net->n_free; k++) {
        double sum = 0;
        for (int i = k * g; i < (k + 1) * g; i++)
            sum += fmax(t->now.y[i], sim->y[i]);
        for (int i = k * g; i < (k + 1) * g; i++)
            if (fabs(sim->y[i] - t->now.y[i]) >
                coarse * fmax(fmax(t->now.y[i], sim->y[i]), least_share * sum))
                return false;
    }
    return true;
}

/* Whether s is asked for no more: all targets were met, nothing is left to act, and no gas keeps
 * what it has, so that the steady state does not hang on what was before. */
static bool may_rest(rfy_tangent *t) {
    const rfy_sim *sim = t->sim;
    const rfy_network *net = t->net;
    if (t->never_rests || sim->n_tracks > 1 || rfy_sim_waits_for(sim))
        return false;
    for (int i = 0; i < net->n_targets; i++)
        if (!t->target_known[i])
            return false;
    for (int i = 0; i < net->n_valves; i++)
        if (sim->valve[i].end > sim->time)
            return false;
    for (int i = 0; i < net->n_pumps; i++)
        if (sim->pump[i].end > sim->time)
            return false;
    for (int i = 0; i < net->n_bursts; i++)
        if (net->burst[i].from > sim->time || net->burst[i].to > sim->time)
            return false;
    const int n = net->n_free * net->mixture.n;
    bool *held = rfy_xcalloc((size_t)n, sizeof *held);
    rfy_steady_held(sim->ode, sim->y, held);
    for (int i = 0; i < n; i++)
        t->never_rests = t->never_rests || held[i];
    free(held);
    return !t->never_rests;
}

void rfy_tangent_catch_up(rfy_tangent *t) {
    const rfy_sim *sim = t->sim;
    const size_t states = (size_t)sim->ode->n;
    if (!t->behind || !t->sound)
        return;
    t->behind = false;
    rfy_v4 *start = t->s;
    t->s = t->s_start;
    t->s_start = start;
    memcpy(t->before.y, t->now.y, states * sizeof *sim->y);
    t->before.time = t->now.time;
    t->now.point = t->begin;
    t->sound =
        over_quickly(t, t->step, &t->now, sim->time, sim->local, sim->y, t->end, t->s_start, &t->s);
    rfy_tangent_swap_ends(t);
    t->before.point = t->end;
    rfy_tangent_settle_gauges(t);
    if (t->memory && t->sound)
        rfy_memory_step(t, &t->before, t->begin->a.value, t->slope[0], t->slope[1]);
}

void rfy_tangent_advance_quickly(rfy_tangent *t) {
    const rfy_sim *sim = t->sim;
    if (!(sim->time > sim->step_from) || t->resting)
        return;
    t->resting = may_rest(t);
    if (t->resting) {
        t->behind = false;
        return;
    }
    if (!t->behind) {
        t->now.time = sim->step_from;
        memcpy(t->now.y, sim->y_start, (size_t)sim->ode->n * sizeof *sim->y);
        t->stride = sim->time - sim->step_from;
        if (!t->begin_known)
            t->sound = rfy_tangent_evaluate(t, t->now.time, t->now.time - sim->base, t->now.y,
                                            false, t->begin);
        t->begin_known = true;
    }
    t->behind = true;
    if (!may_wait(t))
        rfy_tangent_catch_up(t);
}

/* Derivatives of the state at an instant of the last step, the rates there, and where that began.
 */
const rfy_v4 *rfy_tangent_inside_quickly(rfy_tangent *t, double time, const double *y,
                                         const double **f, const rfy_tangent_place **from) {
    if (!(time < t->sim->time))
        rfy_tangent_catch_up(t);
    t->now.point = t->begin;
    const rfy_tangent_place *start = t->behind ? &t->now : &t->before;
    const rfy_v4 *s = t->behind ? t->s : t->s_start;
    *from = NULL;
    *f = t->begin->f;
    if (!(time < t->sim->time))
        return t->s;
    *f = start->point->f;
    if (!(time > start->time))
        return s;
    t->sound = t->sound && over_quickly(t, t->aside, start, time, time - t->sim->base, y, t->spare,
                                        s, &t->s_inside);
    *f = t->spare->f;
    *from = start;
    return t->s_inside;
}
