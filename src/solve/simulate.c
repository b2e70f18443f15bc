#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "network/stores.h"
#include "solve/simulate_parts.h"
#include "solve/tangent_parts.h"

#define MAX_STEPS 4000000
/* While the time since the last switching doubles; some 50 are usual at a tolerance of 1e-4, and
 * more by its fourth root. */
#define MAX_STEPS_A_DOUBLING 3000
#define MAX_EVENTS_AT_ONCE   1000

/* ---- controls ---- */

double rfy_motion_at(const rfy_motion *m, double time) {
    if (time >= m->end)
        return m->to;
    return m->from + (m->to - m->from) * (time - m->start) / (m->end - m->start);
}

static double slope_at(const rfy_motion *m, double time) {
    return time >= m->start && time < m->end ? (m->to - m->from) / (m->end - m->start) : 0;
}

double rfy_sim_wall_age(const rfy_sim *sim, int emitter, double time) {
    const rfy_emitter *e = &sim->net->emitter[emitter];
    return time - sim->wall_since[e->node] + (sim->wall_turns[e->node] == 0 ? e->age : 0);
}

typedef struct wall_clock { /* of the wall before: most of a bench have one age */
    double age, log_age;
} wall_clock;

/* Rate and its slope per area, and area in mol/s for each; NaN in air. */
static double wall_rate(const rfy_sim *sim, int i, double time, double temperature,
                        wall_clock *last, double *area, double *slope) {
    const rfy_emitter *e = &sim->net->emitter[i];
    if (isnan(sim->wall_since[e->node]))
        return NAN;
    const double age = rfy_sim_wall_age(sim, i, time);
    if (age != last->age)
        *last = (wall_clock){age, rfy_power_law_log_age(age)};
    double rate = rfy_power_law_rate_at(&e->law, age, last->log_age, slope);
    *area = e->area * sim->wall_factor[i] / (RFY_R * RFY_T_REF);
    if (e->activation > 0)
        *area *= exp(-e->activation / RFY_R * (1 / temperature - 1 / RFY_T_REF));
    return rate;
}

double rfy_sim_emission(const rfy_sim *sim, int emitter, double time, double temperature) {
    wall_clock clock = {NAN, 0};
    double area = 0, slope,
           rate = wall_rate(sim, emitter, time, temperature, &clock, &area, &slope);
    return isnan(rate) ? 0 : area * rate;
}

bool rfy_sim_bursts(const rfy_sim *sim, int burst) {
    return sim->burst_on[burst];
}

void rfy_sim_controls(rfy_sim *sim, double time, rfy_controls *c) {
    const rfy_network *net = sim->net;
    const int g = net->mixture.n;
    for (int i = 0; i < net->n_valves; i++) {
        c->opening[i] = rfy_motion_at(&sim->valve[i], time);
        c->opening_slope[i] = slope_at(&sim->valve[i], time);
    }
    for (int i = 0; i < net->n_pumps; i++) {
        c->turn[i] = rfy_motion_at(&sim->pump[i], time);
        c->turn_slope[i] = slope_at(&sim->pump[i], time);
    }
    if (sim->any_heat) {
        c->heating = rfy_sim_warmth(sim, time, c->temperature);
        c->warm = true;
    }
    rfy_stores_update(net, c, sim->base, sim->store_scale); /* getters wake at a switching */
    memset(c->emission, 0, (size_t)(net->n_free * g) * sizeof *c->emission);
    memset(c->emission_slope, 0, (size_t)(net->n_free * g) * sizeof *c->emission);
    memset(c->from_walls, 0, (size_t)g * sizeof *c->from_walls);
    memset(c->from_walls_slope, 0, (size_t)g * sizeof *c->from_walls);
    memset(c->from_bursts, 0, (size_t)g * sizeof *c->from_bursts);
    wall_clock clock = {NAN, 0};
    for (int i = 0; i < net->n_emitters; i++) {
        const rfy_emitter *e = &net->emitter[i];
        double slope = 0, area = 0,
               rate = wall_rate(sim, i, time, c->temperature[e->node], &clock, &area, &slope);
        if (isnan(rate))
            continue; /* at atmosphere: in balance with the air */
        c->emission[e->node * g + e->gas] += area * rate;
        c->emission_slope[e->node * g + e->gas] += area * slope;
        c->from_walls[e->gas] += area * rate;
        c->from_walls_slope[e->gas] += area * slope;
    }
    for (int i = 0; i < net->n_bursts; i++) {
        const rfy_burst *b = &net->burst[i];
        if (!sim->burst_on[i])
            continue;
        c->emission[b->node * g + b->gas] += b->flow;
        c->from_bursts[b->gas] += b->flow;
    }
}

void rfy_sim_start_clocks(rfy_sim *sim, double after) {
    for (int i = 0; i < sim->net->n_bursts; i++)
        sim->burst_on[i] = after >= sim->net->burst[i].from && after < sim->net->burst[i].to &&
                           after < sim->net->until;
    for (int k = 0; k < sim->net->n_free; k++)
        if (isnan(sim->wall_since[k])) {
            sim->wall_since[k] = 0;
            if (sim->tangent)
                rfy_tangent_forget_wall(sim->tangent, k);
        }
}

static void set_controls(void *context, double t, rfy_controls *c, bool *moving) {
    rfy_sim *sim = context;
    double time = sim->base + t;
    rfy_sim_controls(sim, time, c);
    *moving = sim->moving;
}

double rfy_sim_next_break(const rfy_sim *sim, bool *only_walls) {
    const rfy_network *net = sim->net;
    double next = sim->until, kink = INFINITY;
    for (int i = 0; i < sim->n_tracks; i++) {
        double alarm = rfy_sim_alarm(sim, &sim->track[i]);
        if (alarm > sim->time && alarm < next)
            next = alarm;
    }
    const int n_kinking = net->n_emitters <= RFY_WALLS_WATCHED ? net->n_emitters : 0;
    for (int i = 0; i < net->n_valves; i++)
        if (sim->valve[i].end > sim->time && sim->valve[i].end < next)
            next = sim->valve[i].end;
    for (int i = 0; i < net->n_pumps; i++)
        if (sim->pump[i].end > sim->time && sim->pump[i].end < next)
            next = sim->pump[i].end;
    for (int i = 0; i < net->n_bursts; i++) {
        double edge[2] = {net->burst[i].from, net->burst[i].to};
        for (int k = 0; k < 2; k++)
            if (edge[k] > sim->time && edge[k] < next)
                next = edge[k];
    }
    double bend = rfy_sim_heat_break(sim);
    next = bend < next ? bend : next;
    /* the straight pieces of the outgassing laws meet at these ages */
    static const double ages[3] = {RFY_POWER_LAW_CAP, 3600, 36000};
    for (int i = 0; i < n_kinking; i++) {
        /* not by way of the present time, whose rounding would put a bend just met a hair ahead */
        const rfy_emitter *e = &net->emitter[i];
        double since = sim->wall_since[e->node] - (sim->wall_turns[e->node] == 0 ? e->age : 0);
        for (int k = 0; k < 3; k++)
            if (since + ages[k] > sim->time && since + ages[k] < kink)
                kink = since + ages[k];
    }
    *only_walls = kink < next;
    return kink < next ? kink : next;
}

void rfy_sim_restart(rfy_sim *sim) {
    const rfy_network *net = sim->net;
    const int g = net->mixture.n;
    sim->moving = false;
    for (int i = 0; i < net->n_valves; i++)
        sim->moving = sim->moving || sim->valve[i].end > sim->time;
    for (int i = 0; i < net->n_pumps; i++)
        sim->moving = sim->moving || sim->pump[i].end > sim->time;
    sim->moving =
        (sim->any_heat && rfy_sim_warmth(sim, sim->time, sim->temperature)) || sim->moving;
    for (int i = 0; i < net->n_bursts; i++)
        sim->burst_on[i] = sim->time >= net->burst[i].from && sim->time < net->burst[i].to;
    sim->base = sim->time;
    sim->local = sim->doubled = 0;
    sim->since_doubled = 0;
    rfy_ode_stale(sim->ode);
    gsl_odeiv2_step_reset(sim->step);
    gsl_odeiv2_evolve_reset(sim->evolve);
    sim->restarts++;
    /* first step: a small part of the fastest relative change */
    double fastest = 0;
    if (rfy_ode_rates(sim->ode, 0, sim->y, sim->work) == GSL_SUCCESS)
        for (int i = 0; i < net->n_free * g; i++) {
            double speed = fabs(sim->work[i]) / (rfy_ode_size(sim->ode, i, sim->y) +
                                                 sim->ode->floor[i] / sim->ode->rtol * 1e3);
            if (speed > fastest)
                fastest = speed;
        }
    double part = sim->ode->trace > 0 ? 0.5 * pow(sim->ode->rtol, 0.2) /* totals forgive more */
                                      : 0.3 * pow(sim->ode->rtol, 0.25);
    double h = fastest > 0 ? part / fastest : 1;
    /* and what a valve that begins to open brings into a place with next to nothing in it */
    double sharpest = 0;
    if (sim->moving && rfy_ode_jacobian(sim->ode, 0, sim->y) == GSL_SUCCESS)
        for (int i = 0; i < net->n_free * g; i++) {
            double bend = fabs(sim->ode->dfdt[i]) / (rfy_ode_size(sim->ode, i, sim->y) +
                                                     sim->ode->floor[i] / sim->ode->rtol * 10);
            if (bend > sharpest)
                sharpest = bend;
        }
    if (sharpest > 0 && h > sqrt(0.2 / sharpest))
        h = sqrt(0.2 / sharpest);
    sim->h = h < 1e-9 ? 1e-9 : h > 60 ? 60 : h;
    if (sim->options.method == RFY_METHOD_MSBDF)
        sim->h *= 0.01;
}

/* ---- outputs ---- */

/* Without a list: ten instants a decade, counted from the last switching, or the ends of the steps
 * where these are long against what drives them. */
static double output_after(const rfy_sim *sim, double time) {
    double since = time - sim->switched;
    double first = sim->until * 1e-7;
    first = first < 0.01 ? 0.01 : first;
    if (since < first * 0.999)
        return sim->switched + first;
    double k = floor(log10(since / first) * 10 + 1e-6) + 1;
    return sim->switched + first * pow(10, k / 10);
}

void rfy_sim_put_outputs(rfy_sim *sim, double from, double to) {
    const rfy_observer *o = sim->observer;
    if (!o || !o->output || (sim->options.targets_only && !sim->options.at))
        return;
    if (sim->options.at) {
        while (sim->next_at < sim->options.n_at && sim->options.at[sim->next_at] <= to) {
            double when = sim->options.at[sim->next_at++];
            if (when > from || (when == from && from == 0)) {
                rfy_sim_inside(sim, when, sim->work);
                o->output(o->context, sim, when, sim->work);
            }
        }
        return;
    }
    if (sim->doubtful) {
        /* a step of its own for every instant would double the work: the end of the step serves as
         * well, its state is the run's own */
        if (output_after(sim, from) <= to)
            o->output(o->context, sim, to, sim->y);
        return;
    }
    for (double when = output_after(sim, from); when < to; when = output_after(sim, when)) {
        rfy_sim_glance(sim, when, sim->work); /* for the eye */
        o->output(o->context, sim, when, sim->work);
    }
}

/* ---- inside a step ---- */

/* Whether the interpolant misses what the step itself has right: a polynomial of the fourth degree
 * follows exp(-L s) to some 1e-3 L^5 of its end. */
static bool is_rough(const rfy_sim *sim) {
    const double rtol = sim->options.tolerance, most = exp(2 * pow(rtol, 0.2));
    for (int i = 0; i < sim->net->n_free * sim->net->mixture.n; i++)
        if (sim->y_start[i] > most * sim->y_end[i] + sim->ode->floor[i] / rtol)
            return true;
    return false;
}

void rfy_sim_glance(rfy_sim *sim, double time, double *y) {
    const size_t n = (size_t)sim->ode->n;
    double s = (time - sim->step_from) / (sim->step_to - sim->step_from);
    if (s >= 1 || !(sim->step_to > sim->step_from)) {
        memcpy(y, sim->y_end, n * sizeof *y);
        return;
    }
    if (sim->options.method != RFY_METHOD_MSBDF) {
        rfy_rodas_dense(sim->step->state, s, y);
        return;
    }
    /* cubic Hermite through both ends, made when first asked for */
    double h = sim->step_to - sim->step_from;
    if (!sim->have_slopes) {
        rfy_ode_rates(sim->ode, sim->step_from - sim->base, sim->y_start, sim->slope[0]);
        rfy_ode_rates(sim->ode, sim->step_to - sim->base, sim->y_end, sim->slope[1]);
        sim->have_slopes = true;
    }
    for (size_t i = 0; i < n; i++) {
        double rise = sim->y_end[i] - sim->y_start[i], m0 = h * sim->slope[0][i],
               m1 = h * sim->slope[1][i];
        y[i] =
            sim->y_start[i] + s * (m0 + s * ((3 * rise - 2 * m0 - m1) + s * (m0 + m1 - 2 * rise)));
    }
}

void rfy_sim_inside(rfy_sim *sim, double time, double *y) {
    if (sim->options.method != RFY_METHOD_MSBDF && (sim->doubtful || is_rough(sim)))
        rfy_sim_restep(sim, time, y);
    else
        rfy_sim_glance(sim, time, y);
}

/* The state at a time inside the step as accurate as a step of its own; the interpolant when that
 * fails. */
void rfy_sim_restep(rfy_sim *sim, double time, double *y) {
    const size_t n = (size_t)sim->ode->n;
    if (time >= sim->step_to) {
        memcpy(y, sim->y_end, n * sizeof *y);
        return;
    }
    if (sim->options.method == RFY_METHOD_MSBDF) {
        rfy_sim_inside(sim, time, y);
        return;
    }
    gsl_odeiv2_system system;
    rfy_ode_system(sim->ode, &system);
    memcpy(y, sim->y_start, n * sizeof *y);
    double t = sim->step_from - sim->base, goal = time - sim->base, h = goal - t;
    /* in one step if that is as accurate as the run, as it mostly is; a part of a long step may
     * err more than the whole */
    for (int tries = 0; h > 0 && tries < 40; tries++) {
        memcpy(sim->restart, y, n * sizeof *y);
        if (gsl_odeiv2_step_apply(sim->restep, t, h, y, sim->yerr, NULL, NULL, &system) ==
                GSL_SUCCESS &&
            (rfy_ode_step_error(sim->ode, y, sim->yerr) <= 1 || h < 1e-3 * (goal - t))) {
            t += h;
            h = goal - t;
        } else {
            memcpy(y, sim->restart, n * sizeof *y);
            h *= 0.4;
        }
    }
    if (goal - t > 1e-3 * (time - sim->step_from))
        rfy_rodas_dense(sim->step->state, (time - sim->step_from) / (sim->step_to - sim->step_from),
                        y);
}

/* Whether the step just made is long against what drives it. */
static bool is_doubtful(const rfy_sim *sim) {
    const rfy_network *net = sim->net;
    if (sim->moving)
        return true;
    double h = sim->step_to - sim->step_from;
    for (int i = 0; i < net->n_emitters; i++) {
        double since = sim->step_from - rfy_sim_wall_age(sim, i, sim->step_from);
        if (h > 0.03 * (sim->step_from - since) && sim->step_to - since > RFY_POWER_LAW_CAP)
            return true;
    }
    return false;
}

/* ---- the loop ---- */

static rfy_status fail(rfy_sim *sim, const char *why) {
    char number[32];
    sim->trouble =
        rfy_arena_printf(sim->arena, "%s at %s s", why, rfy_format_number(number, sim->time, 6));
    return RFY_RUN_FAILED;
}

rfy_status rfy_sim_step(rfy_sim *sim, double target) {
    const size_t n = (size_t)sim->ode->n;
    gsl_odeiv2_system system;
    rfy_ode_system(sim->ode, &system);
    memcpy(sim->y_start, sim->y, n * sizeof *sim->y);
    memcpy(sim->ode->y_old, sim->y, n * sizeof *sim->y);
    sim->step_from = sim->time;
    sim->have_slopes = false;
    double local = sim->local, goal = target - sim->base;
    if (sim->h > goal - local)
        sim->h = goal - local;
    unsigned long rejected = sim->evolve->failed_steps;
    sim->ode->failures = 0;
    int status = gsl_odeiv2_evolve_apply(sim->evolve, sim->control, sim->step, &system, &local,
                                         goal, &sim->h, sim->y);
    sim->rejected += sim->evolve->failed_steps - rejected;
    if (status != GSL_SUCCESS) {
        memcpy(sim->y, sim->y_start, n * sizeof *sim->y);
        return fail(sim, "the step size became too small to go on");
    }
    if (++sim->steps > MAX_STEPS)
        return fail(sim, "too many steps");
    if (local > 2 * sim->doubled) {
        sim->doubled = local;
        sim->since_doubled = 0;
    } else if ((double)++sim->since_doubled >
               MAX_STEPS_A_DOUBLING * (1 + pow(1e-4 / sim->options.tolerance, 0.25))) {
        return fail(sim, "the steps stay too small to get on");
    }
    sim->local = local;
    sim->time = local >= goal ? target : sim->base + local;
    sim->step_to = sim->time;
    memcpy(sim->y_end, sim->y, n * sizeof *sim->y);
    sim->doubtful = is_doubtful(sim);
    if (sim->local == goal && sim->h <= 0)
        sim->h = goal;
    return RFY_OK;
}

rfy_status rfy_sim_run(rfy_sim *sim) {
    const rfy_network *net = sim->net;
    const rfy_observer *o = sim->observer;
    rfy_sim_guards_begin(sim);
    if (o && o->event && sim->time == 0)
        o->event(o->context, sim, 0, sim->y, RFY_EVENT_START, "start");
    if (sim->tangent)
        rfy_tangent_before(sim->tangent, false);
    rfy_status status = rfy_sim_fire(sim);
    if (status != RFY_OK)
        return status;
    rfy_sim_guards_begin(sim);
    if (o && o->output && !sim->options.at && !sim->options.targets_only)
        o->output(o->context, sim, sim->time, sim->y);
    if (sim->options.at && sim->options.n_at > 0 && sim->options.at[0] == 0) {
        if (o && o->output)
            o->output(o->context, sim, 0, sim->y);
        sim->next_at = 1;
    }
    rfy_sim_restart(sim);
    if (sim->tangent)
        rfy_tangent_after(sim->tangent);
    int at_once = 0;
    double last_event = -1;
    while (sim->time < sim->until) {
        if (sim->options.stop && *sim->options.stop) {
            fail(sim, "interrupted");
            return RFY_INTERRUPTED;
        }
        bool only_walls;
        double stop_at = rfy_sim_next_break(sim, &only_walls), before = sim->time,
               h_before = sim->h;
        status = rfy_sim_step(sim, stop_at);
        if (status != RFY_OK)
            return status;
        bool switched = rfy_sim_watch(sim); /* may move sim->time back to an event */
        if (o && o->advanced)
            o->advanced(o->context, sim, before, sim->time, sim->y);
        if (sim->time < sim->step_to)
            memcpy(sim->y_end, sim->y, (size_t)sim->ode->n * sizeof *sim->y);
        bool at_break = sim->time == stop_at && sim->time < sim->until;
        if (at_break && only_walls) { /* the rates are continuous, only their slope changes */
            rfy_ode_stale(sim->ode);
            if (sim->tangent)
                rfy_tangent_bend(sim->tangent);
            at_break = false;
        }
        if (at_break) {
            rfy_sim_machine_events(sim);
            rfy_sim_heat_events(sim);
        }
        if (switched || at_break) {
            if (sim->time == last_event) {
                if (++at_once > MAX_EVENTS_AT_ONCE)
                    return fail(sim, "the switchings chase each other without end");
            } else {
                at_once = 0;
            }
            last_event = sim->time;
            if (sim->tangent)
                rfy_tangent_before(sim->tangent, at_break);
            status = rfy_sim_fire(sim);
            if (status != RFY_OK)
                return status;
            sim->switched = sim->time;
            if (o && o->output && !sim->options.at && !sim->options.targets_only &&
                sim->time < sim->until)
                o->output(o->context, sim, sim->time, sim->y);
            rfy_sim_restart(sim);
            if (sim->tangent)
                rfy_tangent_after(sim->tangent);
            rfy_sim_guards_begin(sim);
        } else if (sim->h < h_before && sim->time == stop_at) {
            sim->h = h_before;
        }
        if ((sim->options.targets_only && rfy_sim_all_targets(sim)) ||
            (sim->options.stop_when_broken && sim->any_broken))
            return RFY_OK;
    }
    if (sim->until != net->until) /* the run goes on in another simulation */
        return RFY_OK;
    if (o && o->output && !sim->options.at && !sim->options.targets_only)
        o->output(o->context, sim, sim->time, sim->y);
    if (o && o->event)
        o->event(o->context, sim, sim->time, sim->y, RFY_EVENT_END, "end of the run");
    return RFY_OK;
}

/* ---- life ---- */

rfy_sim *rfy_sim_new(const rfy_network *net, const rfy_sim_options *options,
                     const rfy_observer *observer) {
    rfy_arena *arena = rfy_arena_new();
    rfy_sim *sim = RFY_NEW(arena, 1, rfy_sim);
    sim->arena = arena;
    sim->net = net;
    sim->options = *options;
    sim->observer = observer;
    sim->ode = rfy_ode_new(arena, net, options->tolerance);
    sim->ode->set_controls = set_controls;
    sim->ode->context = sim;
    if (options->targets_only)
        rfy_ode_totals_only(sim->ode);
    sim->ode->uncounted = options->uncounted;
    const size_t n = (size_t)sim->ode->n;
    sim->y = RFY_NEW(arena, n, double);
    sim->y_start = RFY_NEW(arena, n, double);
    sim->y_end = RFY_NEW(arena, n, double);
    sim->work = RFY_NEW(arena, n, double);
    sim->found = RFY_NEW(arena, n, double);
    sim->found_at = NAN;
    for (int i = 0; i < 2; i++)
        sim->y_part[i] = RFY_NEW(arena, n, double);
    sim->yerr = RFY_NEW(arena, n, double);
    sim->restart = RFY_NEW(arena, n, double);
    for (int i = 0; i < 2; i++)
        sim->slope[i] = RFY_NEW(arena, n, double);
    sim->valve = RFY_NEW(arena, (size_t)net->n_valves, rfy_motion);
    sim->pump = RFY_NEW(arena, (size_t)net->n_pumps, rfy_motion);
    sim->gauge_on = RFY_NEW(arena, (size_t)net->n_gauges, bool);
    sim->burst_on = RFY_NEW(arena, (size_t)net->n_bursts, bool);
    sim->driven = RFY_NEW(arena, (size_t)net->n_pumps, bool);
    sim->pump_held = RFY_NEW(arena, (size_t)net->n_pumps, bool);
    sim->valve_held = RFY_NEW(arena, (size_t)net->n_valves, bool);
    sim->mains = true;
    sim->until = options->until > 0 ? options->until : net->until;
    sim->wall_since = RFY_NEW(arena, (size_t)net->n_nodes, double);
    sim->wall_turns = RFY_NEW(arena, (size_t)net->n_nodes, int);
    sim->wall_factor = RFY_NEW(arena, (size_t)net->n_emitters, double);
    for (int i = 0; i < net->n_valves; i++) {
        double open = net->valve[i].open ? 1 : 0;
        sim->valve[i] = (rfy_motion){open, open, 0, 0};
    }
    for (int i = 0; i < net->n_pumps; i++) {
        double on = net->pump[i].on ? 1 : 0;
        sim->pump[i] = (rfy_motion){on, on, 0, 0};
        sim->driven[i] = net->pump[i].on;
    }
    for (int i = 0; i < net->n_gauges; i++)
        sim->gauge_on[i] = net->gauge[i].on;
    for (int i = 0; i < net->n_nodes; i++)
        sim->wall_since[i] = NAN; /* decided from the pressure */
    for (int i = 0; i < net->n_emitters; i++)
        sim->wall_factor[i] =
            pow(net->emitter[i].spread,
                options->wall_scales ? options->wall_scales[i] : options->wall_scale);
    rfy_sim_heat_new(sim);
    rfy_start_state(net, sim->y);
    rfy_sim_tracks_new(sim);
    for (int i = 0; i < net->n_stores; i++)
        for (int j = 0; j < net->store[i].n; j++)
            sim->y[net->store[i].first + j] *= sim->store_scale[i];
    rfy_sim_guards_new(sim);

    const gsl_odeiv2_step_type *const types[] = {[RFY_METHOD_RODAS] = rfy_step_rodas,
                                                 [RFY_METHOD_RODASP] = rfy_step_rodasp,
                                                 [RFY_METHOD_RODAS4] = rfy_step_rodas4,
                                                 [RFY_METHOD_MSBDF] = gsl_odeiv2_step_msbdf};
    const gsl_odeiv2_step_type *type = types[options->method];
    if (options->method == RFY_METHOD_MSBDF) {
        /* GSL's multistep method asks its driver for error levels; the entries that only count get
         * a loose but finite one */
        sim->driver =
            gsl_odeiv2_driver_alloc_y_new((rfy_ode_system(sim->ode, &sim->system), &sim->system),
                                          type, 1e-6, 1e-12, options->tolerance);
        if (!sim->driver) {
            rfy_sim_free(sim);
            return NULL;
        }
        sim->step = sim->driver->s;
        sim->evolve = sim->driver->e;
        sim->control = rfy_control_new(sim->ode);
        gsl_odeiv2_control_free(sim->driver->c);
        sim->driver->c = sim->control;
        for (int i = 0; i < sim->ode->n; i++)
            if (isinf(sim->ode->floor[i]))
                sim->ode->floor[i] = 1;
    } else {
        sim->step = gsl_odeiv2_step_alloc(type, n);
        sim->restep = gsl_odeiv2_step_alloc(type, n);
        sim->evolve = gsl_odeiv2_evolve_alloc(n);
        sim->control = rfy_control_new(sim->ode);
    }
    if (!sim->step || !sim->evolve || !sim->control || !sim->root ||
        (!sim->restep && !sim->driver)) {
        rfy_sim_free(sim);
        return NULL;
    }
    return sim;
}

void rfy_sim_free(rfy_sim *sim) {
    if (!sim)
        return;
    if (sim->driver) {
        gsl_odeiv2_driver_free(sim->driver);
    } else {
        if (sim->step)
            gsl_odeiv2_step_free(sim->step);
        if (sim->evolve)
            gsl_odeiv2_evolve_free(sim->evolve);
        if (sim->control)
            gsl_odeiv2_control_free(sim->control);
    }
    if (sim->restep)
        gsl_odeiv2_step_free(sim->restep);
    if (sim->root)
        gsl_root_fsolver_free(sim->root);
    rfy_arena_free(sim->arena);
}

void rfy_sim_set_until(rfy_sim *sim, double until) {
    sim->until = until;
}

double rfy_sim_time(const rfy_sim *sim) {
    return sim->time;
}

const double *rfy_sim_state(const rfy_sim *sim) {
    return sim->y;
}

const char *rfy_sim_trouble(const rfy_sim *sim) {
    return sim->trouble;
}

const rfy_limit_state *rfy_sim_limit(const rfy_sim *sim, int limit) {
    return &sim->limit[limit];
}

rfy_ode *rfy_sim_ode(rfy_sim *sim) {
    return sim->ode;
}

void rfy_sim_stats(const rfy_sim *sim, rfy_solver_stats *s) {
    const rfy_network *net = sim->net;
    *s = (rfy_solver_stats){.method = sim->step->type->name,
                            .tolerance = sim->options.tolerance,
                            .nodes = (size_t)net->n_free,
                            .gases = (size_t)net->mixture.n,
                            .states = (size_t)sim->ode->n,
                            .steps = sim->steps,
                            .rejected = sim->rejected,
                            .rhs = sim->ode->rhs,
                            .jacobians = sim->ode->jacobians,
                            .restarts = sim->restarts};
}
