#include "study/goal.h"
#include <math.h>
#include <string.h>
#include "study/answers.h"
#include "study/strike.h"

/* Looked at for so many times what is wanted: enough to see on which side a solution lies. */
static const double far = 8;

static rfy_condition *parse(rfy_arena *arena, const rfy_network *net, const char *text,
                            rfy_problems *problems) {
    rfy_place at = {0, 0, "the condition"};
    return rfy_condition_parse(arena, net->catalog->units, &net->names, text, at, problems);
}

static bool is_one_pressure(const rfy_condition *c) {
    return c->kind == RFY_COND_PRESSURE && c->below;
}

bool rfy_goal_read(rfy_goal *goal, rfy_arena *arena, const rfy_network *net,
                   rfy_problems *problems) {
    static const char word[] = "ultimate ";
    size_t before = rfy_problems_errors(problems);
    if (goal->kind == RFY_GOAL_REACH && strncmp(goal->condition, word, sizeof word - 1) == 0) {
        goal->kind = RFY_GOAL_ULTIMATE;
        goal->condition += sizeof word - 1;
    }
    rfy_condition *c = parse(arena, net, goal->condition, problems);
    if (!c || rfy_problems_errors(problems) > before)
        return false;
    rfy_place at = {0, 0, "the condition"};
    bool one = is_one_pressure(c) && !net->node[c->index].fixed;
    if (goal->kind != RFY_GOAL_REACH && !one) {
        rfy_problem_add(problems, RFY_ERROR, &at, "one pressure, such as \"bulb < 1e-4 Pa\"", NULL,
                        "\"%s\" is more than that", goal->condition);
        return false;
    }
    if (one)
        goal->chamber = net->node[c->index].name;
    if (goal->kind == RFY_GOAL_ULTIMATE)
        goal->wanted = c->value;
    if (goal->kind == RFY_GOAL_KEEP) {
        rfy_program program = {0};
        rfy_compiler compiler = {.arena = arena,
                                 .net = net,
                                 .names = &net->names,
                                 .problems = problems,
                                 .program = &program};
        rfy_place fault = {0, 0, "the fault"};
        rfy_compile_fault_text(&compiler, goal->fault, fault);
    }
    return rfy_problems_errors(problems) == before;
}

/* ---- one run ---- */

typedef struct watcher {
    rfy_arena *arena;
    const rfy_network *net;
    volatile const int *stop; /* of the user */
    volatile int halt;
    int node; /* of the one pressure; -1 = none */
    bool explain;
    double time; /* when it happened, NaN before */
    rfy_snapshot *before_fault;
    rfy_goal_result *out;
} watcher;

static double pressure_of(const rfy_network *net, rfy_sim *sim, double time, const double *y,
                          int node, int *main_gas) {
    const int g = net->mixture.n;
    rfy_arena *own = rfy_arena_new();
    double *p = RFY_NEW(own, (size_t)(net->n_nodes * g), double), sum = 0;
    rfy_pressures(net, rfy_sim_temperatures(sim, time), y, p);
    *main_gas = 0;
    for (int i = 0; i < g; i++) {
        double now = p[node * g + i] > 0 ? p[node * g + i] : 0;
        sum += now;
        if (now > p[node * g + *main_gas])
            *main_gas = i;
    }
    rfy_arena_free(own);
    return sum;
}

static void explain(watcher *w, rfy_sim *sim, double time, const double *y) {
    int gas;
    if (w->node < 0)
        return;
    w->out->left = pressure_of(w->net, sim, time, y, w->node, &gas);
    if (w->explain)
        rfy_answer_bottleneck(w->arena, sim, w->net, time, y, w->node, gas, &w->out->bottleneck);
}

static void on_target(void *context, rfy_sim *sim, double time, const double *y, int i) {
    watcher *w = context;
    (void)i;
    w->time = time;
    explain(w, sim, time, y);
}

static void on_step(void *context, rfy_sim *sim, const rfy_program *program, int step) {
    watcher *w = context;
    (void)step;
    if (program->kind != RFY_FAULT || w->halt)
        return;
    w->time = rfy_sim_time(sim);
    w->before_fault = rfy_sim_save(sim);
    w->halt = 1;
}

static void on_advance(void *context, rfy_sim *sim, double from, double to, const double *y) {
    watcher *w = context;
    (void)sim, (void)from, (void)to, (void)y;
    if (w->stop && *w->stop)
        w->halt = 1;
}

/* The network with another set of targets and limits; everything else is shared. */
static rfy_network *with_only(rfy_arena *arena, const rfy_network *net, const rfy_target *target,
                              int n_targets, const rfy_limit *limit, int n_limits) {
    rfy_network *copy = RFY_NEW(arena, 1, rfy_network);
    *copy = *net;
    copy->target = RFY_NEW(arena, 1, rfy_target);
    copy->limit = RFY_NEW(arena, 1, rfy_limit);
    if (n_targets)
        copy->target[0] = *target;
    if (n_limits)
        copy->limit[0] = *limit;
    copy->n_targets = n_targets;
    copy->n_limits = n_limits;
    return copy;
}

static void finish(rfy_goal_result *out, rfy_sim *sim, rfy_arena *arena) {
    rfy_solver_stats stats;
    rfy_sim_stats(sim, &stats);
    out->steps += stats.steps;
    if (rfy_sim_trouble(sim))
        out->trouble = rfy_arena_strdup(arena, rfy_sim_trouble(sim));
}

/* What brings most of the gas there in the steady state. */
static void note_source(watcher *w, const rfy_ultimate *level) {
    if (!level->found || level->n_shares == 0)
        return;
    const rfy_share *most = &level->share[0];
    for (size_t i = 1; i < level->n_shares; i++)
        if (level->share[i].pressure[w->node] > most->pressure[w->node])
            most = &level->share[i];
    w->out->source = most;
    w->out->source_gas = w->net->mixture.name[most->gas];
    w->out->source_share = most->pressure[w->node] / level->total[w->node];
}

static bool no_solver(rfy_goal_result *out, const rfy_sim *sim) {
    if (sim)
        return false;
    out->status = RFY_RUN_FAILED;
    out->trouble = "the solver could not be set up";
    return true;
}

static void run_reach(rfy_arena *arena, const rfy_network *net, const rfy_goal *goal,
                      const rfy_condition *c, double tolerance, watcher *w, rfy_goal_result *out) {
    const bool one = w->node >= 0;
    rfy_target target = {.name = "", .node = c->index, .pressure = c->value};
    rfy_op ops[2] = {{.kind = RFY_OP_WAIT,
                      .step = -1,
                      .begins = true,
                      .when = (rfy_condition *)c,
                      .within = INFINITY},
                     {.kind = RFY_OP_END}};
    rfy_program watch = {.kind = RFY_FAULT, .text = "", .on_battery = true, .n_ops = 2, .op = ops};
    const rfy_program *programs[1] = {&watch};
    /* a target that never comes keeps a run of conditions going */
    target.pressure = one ? c->value : 0;
    const rfy_network *own = with_only(arena, net, &target, 1, NULL, 0);
    w->net = own;
    out->looked = far * goal->wanted > net->until ? far * goal->wanted : net->until;
    rfy_sim_options o = {.tolerance = tolerance,
                         .wall_scale = goal->wall_scale,
                         .targets_only = true,
                         .until = out->looked,
                         .stop = &w->halt,
                         .fault = programs,
                         .n_faults = one ? 0 : 1};
    rfy_observer observer = {.target = one ? on_target : NULL,
                             .step = one ? NULL : on_step,
                             .advanced = on_advance,
                             .context = w};
    rfy_sim *sim = rfy_sim_new(own, &o, &observer);
    if (no_solver(out, sim))
        return;
    out->status = rfy_sim_run(sim);
    if (out->status == RFY_INTERRUPTED && !isnan(w->time))
        out->status = RFY_OK;
    else
        finish(out, sim, arena);
    out->came = !isnan(w->time);
    out->value = w->time;
    if (out->came) {
        out->excess = log((w->time > 1e-9 ? w->time : 1e-9) / goal->wanted);
    } else if (out->status == RFY_OK) {
        explain(w, sim, rfy_sim_time(sim), rfy_sim_state(sim));
        out->excess = log(out->looked / goal->wanted) + (one ? log(out->left / c->value) : 1);
    }
    if (w->explain && one && out->status == RFY_OK) {
        rfy_ultimate level = {0};
        rfy_sim_start_clocks(sim, rfy_sim_time(sim));
        rfy_answer_ultimate(arena, sim, own, rfy_sim_time(sim), &level);
        note_source(w, &level);
    }
    rfy_sim_free(sim);
}

static void run_ultimate(rfy_arena *arena, const rfy_network *net, const rfy_goal *goal,
                         double tolerance, watcher *w, rfy_goal_result *out) {
    rfy_target never = {.name = "", .node = w->node, .pressure = 0};
    const rfy_network *own = with_only(arena, net, &never, 1, NULL, 0);
    w->net = own;
    out->looked = net->until;
    rfy_sim_options o = {.tolerance = tolerance,
                         .wall_scale = goal->wall_scale,
                         .targets_only = true,
                         .stop = &w->halt};
    rfy_observer observer = {.advanced = on_advance, .context = w};
    rfy_sim *sim = rfy_sim_new(own, &o, &observer);
    if (no_solver(out, sim))
        return;
    out->status = rfy_sim_run(sim);
    finish(out, sim, arena);
    if (out->status == RFY_OK) {
        rfy_ultimate level = {0};
        double end = rfy_sim_time(sim);
        explain(w, sim, end, rfy_sim_state(sim));
        rfy_sim_start_clocks(sim, end);
        rfy_answer_ultimate(arena, sim, own, end, &level);
        out->came = level.found;
        out->value = level.found ? level.total[w->node] : (double)NAN;
        out->left = out->value;
        out->excess = log(out->value / goal->wanted);
        if (!level.found || !(out->value > 0)) {
            out->status = RFY_RUN_FAILED;
            out->trouble = "the steady state could not be found";
        }
        note_source(w, &level);
    }
    rfy_sim_free(sim);
}

static void run_keep(rfy_arena *arena, const rfy_network *net, const rfy_goal *goal,
                     const rfy_condition *c, double tolerance, watcher *w, rfy_goal_result *out) {
    rfy_problems *problems = rfy_problems_new("");
    rfy_program program = {0};
    rfy_compiler compiler = {.arena = arena,
                             .net = net,
                             .names = &net->names,
                             .problems = problems,
                             .program = &program};
    rfy_place at = {0, 0, "the fault"};
    rfy_compile_fault_text(&compiler, goal->fault, at);
    bool sound = rfy_problems_errors(problems) == 0;
    rfy_problems_free(problems);
    out->looked = far * goal->wanted;
    out->status = RFY_RUN_FAILED;
    out->trouble = "the fault cannot be in this system";
    if (!sound)
        return;
    const rfy_program *programs[1] = {&program};
    rfy_target never = {.name = "", .node = w->node, .pressure = 0};
    rfy_limit limit = {.name = "", .node = c->index, .kind = RFY_LIMIT_MAX, .allowed = c->value};
    const rfy_network *own = with_only(arena, net, &never, 1, &limit, 1);
    w->net = own;
    out->trouble = NULL;
    rfy_sim_options o = {.tolerance = tolerance,
                         .wall_scale = goal->wall_scale,
                         .targets_only = true,
                         .stop = &w->halt,
                         .fault = programs,
                         .n_faults = 1};
    rfy_observer observer = {.step = on_step, .advanced = on_advance, .context = w};
    rfy_sim *sim = rfy_sim_new(own, &o, &observer);
    if (no_solver(out, sim))
        return;
    out->status = rfy_sim_run(sim);
    if (w->before_fault) {
        int gas;
        double p = pressure_of(own, sim, w->time, rfy_sim_state(sim), w->node, &gas);
        rfy_sim_free(sim);
        rfy_case k = {.net = own,
                      .from = w->before_fault,
                      .fault = &program,
                      .horizon = out->looked,
                      .tolerance = tolerance,
                      .stop = w->stop};
        rfy_outcome outcome;
        rfy_case_run(arena, &k, NULL, false, &outcome);
        out->status = outcome.status;
        out->trouble = outcome.trouble;
        out->left = p;
        out->came = !isnan(outcome.after[0]);
        out->value = outcome.after[0];
        if (p >= c->value) { /* above it already when the fault strikes: nothing is kept */
            out->came = true;
            out->value = 0;
        }
        /* the time that is kept must be long, so the excess is what is missing */
        out->excess = out->came ? log(goal->wanted / (out->value > 1e-9 ? out->value : 1e-9))
                                : log(goal->wanted / out->looked) + outcome.margin;
        return;
    }
    finish(out, sim, arena);
    if (out->status == RFY_OK) {
        out->status = RFY_RUN_FAILED;
        out->trouble = "the fault does not strike within the run";
    }
    rfy_sim_free(sim);
}

void rfy_goal_run(rfy_arena *arena, const rfy_network *net, const rfy_goal *goal, double tolerance,
                  bool with_reasons, volatile const int *stop, rfy_goal_result *out) {
    *out = (rfy_goal_result){.status = RFY_RUN_FAILED,
                             .trouble = "the condition cannot be in this system",
                             .value = NAN,
                             .left = NAN,
                             .excess = NAN};
    rfy_problems *problems = rfy_problems_new("");
    rfy_condition *c = parse(arena, net, goal->condition, problems);
    bool sound = c && rfy_problems_errors(problems) == 0;
    rfy_problems_free(problems);
    if (!sound)
        return;
    out->trouble = NULL;
    watcher w = {.arena = arena,
                 .net = net,
                 .stop = stop,
                 .node = is_one_pressure(c) && !net->node[c->index].fixed ? c->index : -1,
                 .explain = with_reasons,
                 .time = NAN,
                 .out = out};
    if (goal->kind == RFY_GOAL_REACH)
        run_reach(arena, net, goal, c, tolerance, &w, out);
    else if (goal->kind == RFY_GOAL_ULTIMATE)
        run_ultimate(arena, net, goal, tolerance, &w, out);
    else
        run_keep(arena, net, goal, c, tolerance, &w, out);
    rfy_snapshot_free(w.before_fault);
}
