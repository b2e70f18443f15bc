/* A whole run: simulate, record, answer. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/text.h"
#include "study/answers.h"
#include "study/rerun.h"

typedef struct recorder {
    rfy_arena *arena;
    const rfy_network *net;
    int g, n_chambers;
    size_t n_times, cap_times, n_events, cap_events;
    double *time, *pressure, *partial, *reading;
    rfy_event *event;
    rfy_target_result *target;
    rfy_bottleneck *bottleneck;
    size_t n_bottlenecks;
    double *scratch;
    rfy_creeper *creeper;
    rfy_split *split; /* NULL = not asked for */
    size_t n_splits;
    rfy_influence *influence; /* NULL = not asked for */
    rfy_snapshot *before;     /* the instant before the fault */
    const char **path;        /* [limit] the way the gas came when it broke */
    bool *gauge_hot;          /* a hot cathode was on above its range: told once */
    const char **care;
    size_t n_care, cap_care;
} recorder;

static void add_care(recorder *r, const char *text) {
    for (size_t i = 0; i < r->n_care; i++)
        if (strcmp(r->care[i], text) == 0)
            return;
    if (r->n_care == r->cap_care) {
        size_t more = r->cap_care ? 2 * r->cap_care : 8;
        r->care = rfy_arena_grow(r->arena, r->care, r->cap_care, more, sizeof *r->care);
        r->cap_care = more;
    }
    r->care[r->n_care++] = text;
}

/* Partial and total pressures of the free nodes, never below zero. */
static void pressures(recorder *r, rfy_sim *sim, double time, const double *y, double *total,
                      double *partial) {
    rfy_pressures(r->net, rfy_sim_temperatures(sim, time), y, r->scratch);
    for (int k = 0; k < r->n_chambers; k++) {
        total[k] = 0;
        for (int i = 0; i < r->g; i++) {
            double p = r->scratch[k * r->g + i];
            p = p > 0 ? p : 0;
            total[k] += p;
            if (partial)
                partial[k * r->g + i] = p;
        }
    }
}

static void watch_gauges(recorder *r, rfy_sim *sim, double time) {
    const rfy_network *net = r->net;
    for (int i = 0; i < net->n_gauges; i++) {
        const rfy_gauge *g = &net->gauge[i];
        double reading = rfy_sim_reading(sim, i, time, r->scratch);
        double most = isnan(g->high) ? 0.1 : g->high;
        if (g->kind != RFY_GAUGE_HOT_CATHODE || r->gauge_hot[i] || !(reading > most))
            continue;
        r->gauge_hot[i] = true;
        char now[32], when[32], limit[32];
        add_care(r, rfy_arena_printf(
                        r->arena,
                        "%s is on at %s Pa (after %s s), above the %s Pa it is made for: "
                        "its filament may burn out",
                        g->name, rfy_format_number(now, reading, 2),
                        rfy_format_number(when, time, 3), rfy_format_number(limit, most, 2)));
    }
}

static void on_output(void *context, rfy_sim *sim, double time, const double *y) {
    recorder *r = context;
    const size_t c = (size_t)r->n_chambers, g = (size_t)r->g, gauges = (size_t)r->net->n_gauges;
    if (r->n_times > 0 && r->time[r->n_times - 1] >= time)
        return;
    if (r->n_times == r->cap_times) {
        size_t more = r->cap_times ? 2 * r->cap_times : 128, old = r->cap_times;
        r->time = rfy_xrealloc(r->time, more, sizeof(double));
        r->pressure = rfy_xrealloc(r->pressure, more * c, sizeof(double));
        r->partial = rfy_xrealloc(r->partial, more * c * g, sizeof(double));
        r->reading = rfy_xrealloc(r->reading, more * gauges + 1, sizeof(double));
        (void)old;
        r->cap_times = more;
    }
    size_t k = r->n_times++;
    r->time[k] = time;
    pressures(r, sim, time, y, r->pressure + k * c, r->partial + k * c * g);
    for (int i = 0; i < r->net->n_gauges; i++) {
        const rfy_gauge *gauge = &r->net->gauge[i];
        double reading = rfy_sim_reading(sim, i, time, r->scratch);
        if (reading < gauge->low || reading > gauge->high)
            reading = NAN;
        r->reading[k * gauges + (size_t)i] = reading;
    }
    watch_gauges(r, sim, time);
}

static int main_gas(const double *partial, int g) {
    int best = 0;
    for (int i = 1; i < g; i++)
        if (partial[i] > partial[best])
            best = i;
    return best;
}

/* The chamber whose target comes next; the last one's when all are reached, -1 without targets. */
static int next_chamber(const recorder *r) {
    const rfy_network *net = r->net;
    for (int i = 0; i < net->n_targets; i++)
        if (!r->target[i].reached)
            return net->target[i].node;
    return net->n_targets > 0 ? net->target[net->n_targets - 1].node : -1;
}

enum { MOST_SPLITS = 24, MOST_SOURCES = 8 };

/* One for all that happens at an instant, as it is when the last of it is done. */
static void note_split(recorder *r, rfy_sim *sim, double time, const double *y, rfy_event_kind kind,
                       const char *what) {
    const bool milestone = kind == RFY_EVENT_ACTION || kind == RFY_EVENT_TARGET ||
                           kind == RFY_EVENT_RULE || kind == RFY_EVENT_FAULT ||
                           kind == RFY_EVENT_END;
    const int chamber = next_chamber(r);
    if (!milestone || chamber < 0)
        return;
    bool again = r->n_splits > 0 && r->split[r->n_splits - 1].at.time >= time;
    if (r->n_splits == MOST_SPLITS && !again)
        return;
    rfy_split *s = &r->split[again ? r->n_splits - 1 : r->n_splits++];
    *s = (rfy_split){.what = again ? rfy_arena_printf(r->arena, "%s, %s", s->what, what)
                                   : rfy_arena_strdup(r->arena, what)};
    double *p = RFY_NEW(r->arena, (size_t)r->n_chambers * (size_t)r->g, double),
           *total = RFY_NEW(r->arena, (size_t)r->n_chambers, double);
    pressures(r, sim, time, y, total, p);
    int gas = main_gas(p + chamber * r->g, r->g);
    rfy_answer_bottleneck(r->arena, sim, r->net, time, y, chamber, gas, &s->at);
    rfy_answer_sources(r->arena, sim, r->net, time, y, MOST_SOURCES, &s->source, &s->n_sources);
    s->gas_load = rfy_answer_gas_load(sim, r->net, time, y);
}

static void on_event(void *context, rfy_sim *sim, double time, const double *y, rfy_event_kind kind,
                     const char *what) {
    recorder *r = context;
    if (r->n_events == r->cap_events) {
        size_t more = r->cap_events ? 2 * r->cap_events : 32;
        r->event = rfy_arena_grow(r->arena, r->event, r->cap_events, more, sizeof *r->event);
        r->cap_events = more;
    }
    double *p = RFY_NEW(r->arena, (size_t)r->n_chambers, double);
    pressures(r, sim, time, y, p, NULL);
    watch_gauges(r, sim, time);
    if (r->split)
        note_split(r, sim, time, y, kind, what);
    r->event[r->n_events++] = (rfy_event){time, kind, rfy_arena_strdup(r->arena, what), p};
}

/* What is known about a target when it is reached, or at the end when it is not. */
static void fill_target(recorder *r, rfy_sim *sim, int i, double time, const double *y,
                        bool reached) {
    const rfy_network *net = r->net;
    rfy_target_result *t = &r->target[i];
    const rfy_target *target = &net->target[i];
    const size_t g = (size_t)r->g;
    double *total = RFY_NEW(r->arena, (size_t)r->n_chambers, double);
    double *all = RFY_NEW(r->arena, (size_t)r->n_chambers * g, double);
    pressures(r, sim, time, y, total, all);
    double *partial = all + (size_t)target->node * g;
    int gas = main_gas(partial, r->g);
    t->reached = reached;
    t->time = reached ? time : (double)NAN;
    t->partial = partial;
    t->gas_load = rfy_answer_gas_load(sim, net, time, y);
    rfy_bottleneck *b = &r->bottleneck[r->n_bottlenecks];
    rfy_answer_bottleneck(r->arena, sim, net, time, y, target->node, gas, b);
    b->target = target->name;
    t->speed = b->speed;
    t->speed_gas = b->gas;
    r->n_bottlenecks++;
    /* the nearest gauge that shows something now; if none does, the nearest one without a reading
     */
    bool *shows = RFY_NEW(r->arena, (size_t)net->n_gauges, bool), any = false;
    double *reading = RFY_NEW(r->arena, (size_t)net->n_gauges, double);
    for (int k = 0; k < net->n_gauges; k++) {
        const rfy_gauge *one = &net->gauge[k];
        reading[k] = rfy_sim_reading(sim, k, time, r->scratch);
        shows[k] = reading[k] > 0 && !(reading[k] < one->low) && !(reading[k] > one->high);
        any = any || shows[k];
    }
    t->gauge_reading = NAN;
    for (int k = 0; k < net->n_gauges && !any; k++)
        shows[k] = true;
    int gauge = rfy_answer_nearest_gauge(r->arena, sim, net, time, target->node, shows);
    if (gauge >= 0) {
        t->gauge = net->gauge[gauge].name;
        t->gauge_reading = any ? reading[gauge] : (double)NAN;
    }
}

static void on_target(void *context, rfy_sim *sim, double time, const double *y, int i) {
    recorder *r = context;
    fill_target(r, sim, i, time, y, true);
    if (r->influence)
        rfy_influence_target(r->influence, i);
}

static void on_limit(void *context, rfy_sim *sim, double time, const double *y, int i) {
    recorder *r = context;
    r->path[i] = rfy_answer_way(r->arena, sim, r->net, time, y, i, NULL);
}

static void on_advance(void *context, rfy_sim *sim, double from, double to, const double *y) {
    recorder *r = context;
    if (r->creeper)
        rfy_creeper_note(r->creeper, sim, from, to, y);
    if (r->influence)
        rfy_influence_step(r->influence);
}

static void on_step(void *context, rfy_sim *sim, const rfy_program *program, int step) {
    recorder *r = context;
    (void)step;
    if (program->kind == RFY_FAULT && !r->before)
        r->before = rfy_sim_save(sim);
}

static const rfy_strike *find_strike(recorder *r, const rfy_run_options *options) {
    if (!options->fault)
        return NULL;
    if (r->before)
        return rfy_answer_strike(r->arena, r->net, r->before, &options->fault->program,
                                 options->stop);
    rfy_strike *none = RFY_NEW(r->arena, 1, rfy_strike);
    *none = (rfy_strike){.what = rfy_arena_strdup(r->arena, options->fault->program.text),
                         .time = NAN,
                         .available = INFINITY,
                         .bound = NAN,
                         .largest_hole = NAN,
                         .largest_hole_adiabatic = NAN};
    return none;
}

/* ---- band ---- */

/* The times again with all walls giving off less (scale -1) or more (+1) by their spread, at a
 * loose tolerance. */
static void run_band(recorder *r, const rfy_sim_options *options, int scale) {
    const rfy_network *net = r->net;
    double *time = RFY_NEW(r->arena, (size_t)net->n_targets, double);
    rfy_sim_options o = *options;
    o.wall_scale = scale;
    o.tolerance = rfy_rerun_tolerance(options->tolerance);
    bool *known = RFY_NEW(r->arena, (size_t)net->n_targets, bool),
         *wanted = RFY_NEW(r->arena, (size_t)net->n_targets, bool), any = false;
    double *rest = RFY_NEW(r->arena, (size_t)net->n_targets, double);
    if (r->influence)
        rfy_influence_band(r->influence, &o, r->target, time, known);
    for (int i = 0; i < net->n_targets; i++)
        any = (wanted[i] = !known[i]) || any;
    const rfy_snapshot *from =
        r->influence ? rfy_influence_walls_begin(r->influence, wanted) : NULL;
    const bool fine = !any || rfy_rerun(net, &o, from, wanted, rest);
    for (int i = 0; i < net->n_targets; i++)
        time[i] = known[i] ? time[i] : rest[i];
    for (int i = 0; i < net->n_targets; i++) {
        rfy_target_result *t = &r->target[i];
        double *at = scale < 0 ? &t->time_early : &t->time_late;
        *at = fine || known[i] ? time[i] : (double)NAN;
        if (scale < 0 && *at > t->time) /* the loose tolerance must not contradict the run itself */
            *at = t->time;
        if (scale > 0 && *at < t->time)
            *at = t->time;
    }
}

/* The band by samples in place of that estimate. */
static void add_band(recorder *r, rfy_result_box *box, const rfy_system *system,
                     const rfy_run_options *options) {
    rfy_band *band = NULL;
    if (rfy_band_find(&band, system, options->band) == RFY_USAGE)
        add_care(r, "there is no band: nothing in this description has a spread, or more than 40 "
                    "values have");
    box->band = band;
    box->result.band = band;
}

/* ---- assembling the result ---- */

static rfy_result_box *box_new(const rfy_network *net) {
    rfy_arena *arena = rfy_arena_new();
    rfy_result_box *box = RFY_NEW(arena, 1, rfy_result_box);
    rfy_result *out = &box->result;
    box->arena = arena;
    const char *title = net->description->title;
    out->title = rfy_arena_strdup(arena, title ? title : "");
    out->n_chambers = (size_t)net->n_free;
    out->n_gases = (size_t)net->mixture.n;
    out->n_gauges = (size_t)net->n_gauges;
    const char **chamber = RFY_NEW(arena, out->n_chambers, const char *);
    bool *internal = RFY_NEW(arena, out->n_chambers, bool);
    for (size_t k = 0; k < out->n_chambers; k++) {
        chamber[k] = rfy_arena_strdup(arena, net->node[k].name);
        internal[k] = net->node[k].internal;
    }
    const char **gas = RFY_NEW(arena, out->n_gases, const char *);
    for (size_t i = 0; i < out->n_gases; i++)
        gas[i] = rfy_arena_strdup(arena, net->mixture.name[i]);
    const char **gauge = RFY_NEW(arena, out->n_gauges, const char *);
    for (size_t i = 0; i < out->n_gauges; i++)
        gauge[i] = rfy_arena_strdup(arena, net->gauge[i].name);
    const char **assumed = RFY_NEW(arena, net->n_assumed, const char *);
    for (size_t i = 0; i < net->n_assumed; i++)
        assumed[i] = rfy_arena_strdup(arena, net->assumed[i]);
    out->chamber = chamber;
    out->internal = internal;
    out->gas = gas;
    out->gauge = gauge;
    out->assumed = assumed;
    out->n_assumed = net->n_assumed;
    rfy_answer_cautions(arena, net, &out->cautions, &out->n_cautions);
    return box;
}

/* By time, keeping the order in which they came at one instant. Events arrive almost sorted. */
static void sort_events(rfy_event *event, size_t n) {
    for (size_t i = 1; i < n; i++) {
        rfy_event moved_one = event[i];
        size_t k = i;
        for (; k > 0 && event[k - 1].time > moved_one.time; k--)
            event[k] = event[k - 1];
        event[k] = moved_one;
    }
}

static double *moved(rfy_arena *arena, double *list, size_t n) {
    double *copy = RFY_NEW(arena, n ? n : 1, double);
    if (n)
        memcpy(copy, list, n * sizeof *copy);
    free(list);
    return copy;
}

static void keep_limits(recorder *r, rfy_sim *sim, rfy_result *out) {
    rfy_arena *arena = r->arena;
    const rfy_network *net = r->net;
    rfy_limit_result *limits = RFY_NEW(arena, (size_t)net->n_limits, rfy_limit_result);
    for (int i = 0; i < net->n_limits; i++) {
        const rfy_limit_state *s = rfy_sim_limit(sim, i);
        const rfy_limit *l = &net->limit[i];
        limits[i] = (rfy_limit_result){.name = l->name,
                                       .watch = net->node[l->node].name,
                                       .broken = s->broken,
                                       .time = s->broken_at,
                                       .peak = s->peak,
                                       .peak_time = s->peak_at,
                                       .max = l->allowed,
                                       .duration = l->duration,
                                       .kind = l->kind,
                                       .ready = l->ready,
                                       .path = r->path[i]};
        if (s->broken && out->status == RFY_OK)
            out->status = RFY_LIMIT_BROKEN;
    }
    out->limit = limits;
    out->n_limits = (size_t)net->n_limits;
}

/* Only the first step left waits in truth; the others have not had their turn. */
static void keep_care_of_steps(recorder *r, rfy_sim *sim, const rfy_result *out) {
    const rfy_program *p = &r->net->procedure;
    const rfy_op *op = rfy_sim_waits_for(sim);
    int step = -1;
    const char *ended = rfy_sim_ended_by(sim, &step);
    if (ended && step >= 0)
        add_care(r, rfy_arena_printf(r->arena, "the procedure ended in step %s: %s",
                                     p->step[step].label, ended));
    if (!op || op->step < 0 || out->status == RFY_RUN_FAILED)
        return;
    const rfy_step *s = &p->step[op->step];
    const char *rest =
        op->step + 1 < p->n_steps ? "; the steps after it were not taken either" : "";
    if (op->begins)
        add_care(r, rfy_arena_printf(r->arena,
                                     "step %s of the procedure was not taken within the run: "
                                     "\"%s\" did not come true%s",
                                     s->label, op->text ? op->text : "", rest));
    else
        add_care(r, rfy_arena_printf(r->arena,
                                     "step %s of the procedure was not finished within the run: "
                                     "\"%s\"%s",
                                     s->label, op->text ? op->text : s->actions, rest));
}

static void keep_care(recorder *r, rfy_sim *sim, rfy_result *out) {
    const rfy_network *net = r->net;
    for (int i = 0; i < net->n_emitters; i++)
        if (out->end > 1e6) {
            add_care(r, "wall rates beyond about 10 days are extrapolated from figures for 10 h");
            break;
        }
    const double *last = r->n_times > 0 ? r->pressure + (r->n_times - 1) * out->n_chambers : NULL;
    for (size_t k = 0; last && k < out->n_chambers; k++)
        if (!out->internal[k] && last[k] < 1e-10) {
            add_care(r, rfy_arena_printf(
                            r->arena,
                            "%s ends below 1e-10 Pa: what the description leaves out (hydrogen of "
                            "metals, helium through glass, the gauge itself) decides there, not "
                            "these figures",
                            out->chamber[k]));
            break;
        }
    for (int i = 0; i < net->n_bursts; i++)
        if (net->burst[i].to > out->end)
            add_care(r, rfy_arena_printf(r->arena,
                                         net->burst[i].from >= out->end
                                             ? "%s begins after the end of the run"
                                             : "%s is cut off by the end of the run",
                                         net->burst[i].name));
    for (size_t i = 0; i < out->n_gases; i++)
        if (fabs(out->balance[i].residue) > 1e-6) {
            char number[32];
            add_care(
                r, rfy_arena_printf(r->arena, "the gas balance closes only to %s of the %s handled",
                                    rfy_format_number(number, fabs(out->balance[i].residue), 2),
                                    out->gas[i]));
        }
    keep_care_of_steps(r, sim, out);
}

static rfy_status run(rfy_result **out_box, const rfy_system *system,
                      const rfy_run_options *options, bool only_ultimate) {
    const rfy_network *net = system->network;
    rfy_result_box *box = box_new(net);
    rfy_result *out = &box->result;
    rfy_arena *arena = box->arena;
    *out_box = out;
    recorder r = {.arena = arena, .net = net, .g = net->mixture.n, .n_chambers = net->n_free};
    r.scratch = RFY_NEW(arena, (size_t)(net->n_nodes * r.g), double);
    r.target = RFY_NEW(arena, (size_t)net->n_targets, rfy_target_result);
    r.bottleneck = RFY_NEW(arena, (size_t)net->n_targets + 1, rfy_bottleneck);
    r.gauge_hot = RFY_NEW(arena, (size_t)net->n_gauges, bool);
    r.creeper = rfy_creeper_new(arena, net);
    if (options->sensitivities == RFY_WANTED)
        r.split = RFY_NEW(arena, MOST_SPLITS, rfy_split);
    r.path = RFY_NEW(arena, (size_t)net->n_limits, const char *);
    for (int i = 0; i < net->n_targets; i++)
        r.target[i] = (rfy_target_result){.name = rfy_arena_strdup(arena, net->target[i].name),
                                          .chamber = out->chamber[net->target[i].node],
                                          .pressure = net->target[i].pressure,
                                          .time = NAN,
                                          .time_early = NAN,
                                          .time_late = NAN,
                                          .speed = NAN,
                                          .gas_load = NAN,
                                          .gauge_reading = NAN};
    rfy_sim_options o = {.method = options->method,
                         .tolerance = options->tolerance > 0 ? options->tolerance : net->tolerance,
                         .at = options->at,
                         .n_at = options->n_at,
                         .stop = options->stop};
    const rfy_program *fault = options->fault ? &options->fault->program : NULL;
    if (fault) {
        o.fault = &fault;
        o.n_faults = 1;
    }
    rfy_observer observer = {.event = on_event,
                             .output = on_output,
                             .target = on_target,
                             .limit = on_limit,
                             .step = on_step,
                             .advanced = on_advance,
                             .context = &r};
    rfy_sim *sim = rfy_sim_new(net, &o, only_ultimate ? NULL : &observer);
    if (!sim) {
        out->status = RFY_RUN_FAILED;
        out->trouble = "the solver could not be set up";
        return out->status;
    }
    if (!only_ultimate)
        r.influence = rfy_influence_new(arena, system, options, sim);
    out->status = rfy_sim_run(sim);
    if (rfy_sim_trouble(sim))
        out->trouble = rfy_arena_strdup(arena, rfy_sim_trouble(sim));
    out->end = rfy_sim_time(sim);
    if (!only_ultimate && (r.n_times == 0 || r.time[r.n_times - 1] < out->end) && !options->at)
        on_output(&r, sim, out->end, rfy_sim_state(sim));
    rfy_sim_stats(sim, &out->solver);
    for (int i = 0; i < net->n_targets && !only_ultimate; i++)
        if (!r.target[i].reached)
            fill_target(&r, sim, i, out->end, rfy_sim_state(sim), false);
    double after = options->ultimate_after > 0 ? options->ultimate_after : out->end;
    rfy_sim_start_clocks(sim, after);
    if (after > out->end && net->n_stores > 0)
        add_care(&r,
                 "walls with a memory, getters and cold surfaces count as at the end of the run, "
                 "not later: run longer instead");
    rfy_answer_ultimate(arena, sim, net, after, &out->ultimate);
    rfy_answer_balance(arena, net, rfy_sim_state(sim), &out->balance);
    rfy_answer_held(arena, net, rfy_sim_state(sim), out);
    keep_limits(&r, sim, out);
    if (!only_ultimate && (out->status == RFY_OK || out->status == RFY_LIMIT_BROKEN) &&
        net->n_targets > 0) {
        if (options->band && !options->fault)
            add_band(&r, box, system, options);
        else if (net->n_emitters + net->n_stores > 0 && !options->without_scatter) {
            run_band(&r, &o, -1);
            run_band(&r, &o, 1);
        }
    }
    if (!only_ultimate) {
        keep_care(&r, sim, out);
        out->strike = find_strike(&r, options);
        if (r.creeper)
            rfy_creeper_tell(r.creeper, arena, &out->creep, &out->n_creeps);
    }
    rfy_snapshot_free(r.before);
    sort_events(r.event, r.n_events);
    const size_t c = out->n_chambers, g = out->n_gases;
    out->n_times = r.n_times;
    out->time = moved(arena, r.time, r.n_times);
    out->pressure = moved(arena, r.pressure, r.n_times * c);
    out->partial = moved(arena, r.partial, r.n_times * c * g);
    out->gauge_reading = moved(arena, r.reading, r.n_times * out->n_gauges);
    out->event = r.event;
    out->n_events = r.n_events;
    out->target = r.target;
    out->n_targets = only_ultimate ? 0 : (size_t)net->n_targets;
    out->bottleneck = r.bottleneck;
    out->n_bottlenecks = r.n_bottlenecks;
    out->split = r.split;
    out->n_splits = r.n_splits;
    out->list_sensitivities = options->sensitivities == RFY_WANTED;
    if (r.influence)
        rfy_influence_tell(r.influence, sim, after, &o, out);
    out->care = r.care;
    out->n_care = r.n_care;
    rfy_sim_free(sim);
    return out->status;
}

rfy_status rfy_run(rfy_result **out, const rfy_system *system, const rfy_run_options *options) {
    return run(out, system, options, false);
}

rfy_status rfy_find_ultimate(rfy_result **out, const rfy_system *system,
                             const rfy_run_options *options) {
    return run(out, system, options, true);
}

void rfy_result_free(rfy_result *result) {
    if (!result)
        return;
    rfy_result_box *box = (rfy_result_box *)(void *)result;
    rfy_band_free(box->band);
    rfy_arena_free(box->arena);
}
