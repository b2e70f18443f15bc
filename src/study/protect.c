/* Every fault at every phase of the procedure. The procedure is run once; each case goes on from
 * the state laid aside late in its phase. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "study/answers.h"
#include "study/jobs.h"
#include "study/strike.h"

enum { MOST_PHASES = 60, HALVINGS = 5, MOST_ATTEMPTS = 4 };

/* How far into a phase its faults strike: late, when the vacuum is good and there is most to lose,
 * and yet before the next step. */
static const double late = 0.9;
static const double heat_lasts = 30, sound = 343;

typedef struct danger { /* one fault; of a valve that moves at the wrong moment both ways */
    const char *name;
    const rfy_program *program, *other; /* other: when the valve is shut */
    int valve;
    const rfy_network *warm, *warm_other;
} danger;

typedef struct study {
    rfy_arena *arena;
    const rfy_network *net;
    const rfy_protect_options *options;
    danger *danger;
    size_t n_dangers, cap_dangers;
    rfy_phase *phase;
    int *phase_step; /* step that began it, -1 = the start */
    size_t n_phases;
    rfy_snapshot **from;
    rfy_protect_case *cases;
    rfy_arena **case_arena;
    double horizon;
    const char **broken_alone;
    size_t n_broken_alone;
} study;

/* ---- which faults ---- */

static rfy_program *compiled(study *s, const char *text) {
    const rfy_network *net = s->net;
    rfy_problems *problems = rfy_problems_new("");
    rfy_program *p = RFY_NEW(s->arena, 1, rfy_program);
    rfy_compiler c = {
        .arena = s->arena, .net = net, .names = &net->names, .problems = problems, .program = p};
    const char *item[1] = {text};
    rfy_place at[1] = {{0, 0, ""}};
    rfy_texts list = {1, item, at};
    rfy_compile_fault(&c, text, &list, NAN, NULL, at[0]);
    bool sound_one = rfy_problems_errors(problems) == 0;
    rfy_problems_free(problems);
    return sound_one ? p : NULL;
}

static danger *add_danger(study *s, const char *name, const rfy_program *program) {
    if (!program)
        return NULL;
    if (s->n_dangers == s->cap_dangers) {
        size_t more = s->cap_dangers ? 2 * s->cap_dangers : 32;
        s->danger = rfy_arena_grow(s->arena, s->danger, s->cap_dangers, more, sizeof *s->danger);
        s->cap_dangers = more;
    }
    danger *d = &s->danger[s->n_dangers++];
    *d = (danger){.name = name, .program = program, .valve = -1};
    d->warm = rfy_network_adiabatic(s->arena, s->net, program);
    return d;
}

static void add_text(study *s, const char *text) {
    for (size_t i = 0; i < s->n_dangers; i++)
        if (s->danger[i].program->text && strcmp(s->danger[i].program->text, text) == 0)
            return; /* the description has it under a name of its own */
    add_danger(s, text, compiled(s, text));
}

/* A fault of the description strikes at once here, whenever it would strike by itself. */
static void add_described(study *s, const rfy_program *fault) {
    rfy_program *p = RFY_NEW(s->arena, 1, rfy_program);
    *p = *fault;
    p->op = rfy_arena_grow(s->arena, p->op, (size_t)p->n_ops, (size_t)p->n_ops, sizeof *p->op);
    p->op[0].when = NULL;
    add_danger(s, fault->name, p);
}

static bool is_glass(const rfy_network *net, int node) {
    for (int i = 0; i < net->n_emitters + net->n_stores; i++) {
        const rfy_store *s = i < net->n_emitters ? NULL : &net->store[i - net->n_emitters];
        const char *material = s ? s->material : net->emitter[i].material;
        if ((s ? s->node : net->emitter[i].node) == node &&
            (strstr(material, "glass") || strstr(material, "silica")))
            return true;
    }
    return false;
}

static bool has_seal(const rfy_network *net, int node) {
    for (int i = 0; i < net->n_edges; i++)
        if (net->edge[i].role == RFY_EDGE_SEAL && net->edge[i].to == node)
            return true;
    return false;
}

/* A valve that nothing moves may stick as it likes. */
static bool moves_in(const rfy_program *p, int valve) {
    for (int i = 0; i < p->n_ops; i++) {
        const rfy_action *a = &p->op[i].action;
        if (p->op[i].kind == RFY_OP_ACT && a->index == valve &&
            (a->verb == RFY_VERB_OPEN || a->verb == RFY_VERB_CLOSE))
            return true;
    }
    return false;
}

static bool is_told_to_move(const rfy_network *net, int valve) {
    bool any = moves_in(&net->procedure, valve);
    for (int i = 0; i < net->n_rules; i++)
        any = any || moves_in(&net->rule[i], valve);
    return any;
}

static void choose_dangers(study *s) {
    const rfy_network *net = s->net;
    rfy_arena *a = s->arena;
    for (int i = 0; i < net->n_faults; i++)
        add_described(s, &net->fault[i]);
    add_text(s, "mains fail");
    for (int i = 0; i < net->n_pumps; i++) {
        const rfy_pump *p = &net->pump[i];
        add_text(s, rfy_arena_printf(a, "stop %s", p->name));
        if (p->kind->foreline_limit && p->coast_down > 0)
            add_text(s, rfy_arena_printf(a, "seize %s", p->name));
        if (p->kind->foreline_limit && !net->node[p->to].fixed && !net->node[p->to].internal)
            add_text(s, rfy_arena_printf(a, "crack %s 1 cm2", net->node[p->to].name));
    }
    for (int k = 0; k < net->n_free; k++) {
        if (net->node[k].internal)
            continue;
        if (is_glass(net, k))
            add_text(s, rfy_arena_printf(a, "crack %s 1 cm2", net->node[k].name));
        if (has_seal(net, k))
            add_text(s, rfy_arena_printf(a, "leak %s 1 mbar L/s", net->node[k].name));
    }
    for (int v = 0; v < net->n_user_valves; v++) {
        const char *name = net->valve[v].name;
        danger *d = add_danger(s, rfy_arena_printf(a, "%s moves at the wrong moment", name),
                               compiled(s, rfy_arena_printf(a, "close %s", name)));
        if (d) {
            d->other = compiled(s, rfy_arena_printf(a, "open %s", name));
            d->warm_other = rfy_network_adiabatic(a, net, d->other);
            d->valve = v;
        }
    }
    for (int v = 0; v < net->n_user_valves; v++)
        if (is_told_to_move(net, v))
            add_text(s, rfy_arena_printf(a, "stick %s", net->valve[v].name));
}

/* ---- phases ---- */

static void on_step(void *context, rfy_sim *sim, const rfy_program *program, int step) {
    study *s = context;
    if (program->kind != RFY_PROCEDURE || step < 0)
        return;
    const rfy_step *done = &program->step[step];
    double time = rfy_sim_time(sim), least = 1e-9 * s->net->until;
    for (size_t i = 0; i < s->n_phases; i++)
        if (s->phase_step[i] == step)
            return; /* a repeated step: its first phase stands for all */
    rfy_phase *last = &s->phase[s->n_phases - 1];
    const char *what = *done->actions ? done->actions : "begin of a group";
    if (time - last->begin <= least) { /* several steps at once are one phase */
        last->name = rfy_arena_printf(s->arena, "%s; step %s: %s", last->name, done->label, what);
        s->phase_step[s->n_phases - 1] = step;
        return;
    }
    if (s->n_phases == MOST_PHASES)
        return;
    last->end = time;
    s->phase_step[s->n_phases] = step;
    s->phase[s->n_phases++] = (rfy_phase){
        .name = rfy_arena_printf(s->arena, "after step %s: %s", done->label, what), .begin = time};
}

static void on_limit(void *context, rfy_sim *sim, double time, const double *y, int limit) {
    study *s = context;
    (void)sim, (void)time, (void)y;
    s->broken_alone[s->n_broken_alone++] = rfy_arena_strdup(s->arena, s->net->limit[limit].name);
}

/* The procedure without any fault; its phases with the state late in each. */
static rfy_status run_procedure(study *s, const char **trouble) {
    const rfy_network *net = s->net;
    rfy_observer observer = {.step = on_step, .limit = on_limit, .context = s};
    rfy_sim_options o = {.tolerance = net->tolerance, .stop = s->options->stop};
    s->phase[s->n_phases++] = (rfy_phase){.name = "from the start"};
    s->phase_step[0] = -1;
    rfy_sim *sim = rfy_sim_new(net, &o, &observer);
    if (!sim)
        return RFY_RUN_FAILED;
    rfy_status status = rfy_sim_run(sim);
    double end = rfy_sim_time(sim);
    if (rfy_sim_trouble(sim))
        *trouble = rfy_arena_strdup(s->arena, rfy_sim_trouble(sim));
    rfy_sim_free(sim);
    if (status != RFY_OK)
        return status;
    s->phase[s->n_phases - 1].end = end;
    sim = rfy_sim_new(net, &o, NULL);
    if (!sim)
        return RFY_RUN_FAILED;
    for (size_t i = 0; i < s->n_phases && status == RFY_OK; i++) {
        rfy_phase *p = &s->phase[i];
        p->time = p->begin + late * (p->end - p->begin);
        rfy_sim_set_until(sim, p->time);
        status = rfy_sim_run(sim);
        s->from[i] = rfy_sim_save(sim);
    }
    rfy_sim_free(sim);
    return status;
}

/* ---- cases ---- */

static const char *rules_of(rfy_arena *arena, const rfy_outcome *out) {
    const char *text = NULL;
    for (int i = 0; i < out->n_rules; i++)
        if (strstr(out->rule[i], ": ") && (!text || !strstr(text, out->rule[i])))
            text = text ? rfy_arena_printf(arena, "%s; %s", text, out->rule[i]) : out->rule[i];
    return text;
}

static void work(void *context, size_t i) {
    study *s = context;
    rfy_protect_case *k = &s->cases[i];
    const danger *d = &s->danger[k->fault];
    rfy_arena *arena = s->case_arena[i] = rfy_arena_new();
    bool other = d->valve >= 0 && !(rfy_snapshot_opening(s->from[k->phase], d->valve) > 0);
    rfy_case c = {.net = s->net,
                  .from = s->from[k->phase],
                  .fault = other ? d->other : d->program,
                  .horizon = s->horizon,
                  .tolerance = 1e-3,
                  .stop = s->options->stop};
    rfy_outcome cold, hot = {.first = -1};
    rfy_case_run(arena, &c, NULL, false, &cold);
    rfy_case bound = c;
    bound.net = other ? d->warm_other : d->warm;
    bound.horizon = heat_lasts < s->horizon ? heat_lasts : s->horizon;
    if (bound.net)
        rfy_case_run(arena, &bound, NULL, false, &hot);
    for (int l = 0; l < s->net->n_limits; l++)
        k->broken_before = k->broken_before || rfy_snapshot_broken(s->from[k->phase], l);
    k->trouble = cold.status == RFY_RUN_FAILED ? cold.trouble : NULL;
    k->rule = rules_of(arena, &cold);
    k->available = k->isothermal = INFINITY;
    k->latest = k->delay = NAN;
    if (cold.first >= 0)
        k->available = k->isothermal = cold.after[cold.first];
    const bool by_heat = hot.first >= 0 && hot.after[hot.first] < k->available;
    const rfy_outcome *out = by_heat ? &hot : &cold;
    if (out->first < 0)
        return;
    k->available = out->after[out->first];
    k->limit = s->net->limit[out->first].name;
    k->path = out->path;
    k->transit = out->length / sound;
    rfy_attempt attempt[MOST_ATTEMPTS];
    const rfy_case *world = by_heat ? &bound : &c;
    int n = rfy_attempts(arena, world, out, attempt, MOST_ATTEMPTS);
    for (int a = 0; a < n && !k->rescue; a++) {
        double latest = rfy_latest(arena, world, &attempt[a], k->available, HALVINGS);
        if (!(latest > 0))
            continue;
        k->rescue = attempt[a].text;
        k->latest = latest;
        double delay;
        k->guard = rfy_rule_for(arena, world, out, &attempt[a], latest, &delay);
        k->delay = k->guard ? delay : (double)NAN;
    }
}

static void done(void *context, size_t n_done) {
    study *s = context;
    if (s->options->progress)
        s->options->progress(s->options->context, n_done, s->n_dangers * s->n_phases);
}

static int by_time(const void *a, const void *b) {
    const rfy_protect_case *x = a, *y = b;
    double tx = x->available, ty = y->available; /* infinite when nothing breaks */
    if (tx != ty)
        return tx < ty ? -1 : 1;
    if (x->fault != y->fault)
        return x->fault < y->fault ? -1 : 1;
    return (x->phase > y->phase) - (x->phase < y->phase);
}

static const char *kept(rfy_arena *arena, const char *text) {
    return text ? rfy_arena_strdup(arena, text) : NULL;
}

static void run_cases(study *s) {
    const size_t n = s->n_dangers * s->n_phases;
    s->cases = RFY_NEW(s->arena, n, rfy_protect_case);
    s->case_arena = RFY_NEW(s->arena, n, rfy_arena *);
    for (size_t i = 0; i < n; i++)
        s->cases[i] = (rfy_protect_case){.fault = i / s->n_phases, .phase = i % s->n_phases};
    rfy_jobs_run(s->options->jobs, n, work, done, s);
    for (size_t i = 0; i < n; i++) { /* texts, in an order that no thread decides */
        rfy_protect_case *k = &s->cases[i];
        k->limit = kept(s->arena, k->limit);
        k->path = kept(s->arena, k->path);
        k->rescue = kept(s->arena, k->rescue);
        k->guard = kept(s->arena, k->guard);
        k->rule = kept(s->arena, k->rule);
        k->trouble = kept(s->arena, k->trouble);
        rfy_arena_free(s->case_arena[i]);
    }
    qsort(s->cases, n, sizeof *s->cases, by_time);
}

/* ---- the result ---- */

typedef struct protect_box {
    rfy_protect_result result; /* first */
    rfy_arena *arena;
} protect_box;

rfy_status rfy_protect(rfy_protect_result **out, const rfy_system *system,
                       const rfy_protect_options *options) {
    const rfy_network *net = system->network;
    rfy_arena *arena = rfy_arena_new();
    protect_box *box = RFY_NEW(arena, 1, protect_box);
    rfy_protect_result *r = &box->result;
    box->arena = arena;
    *out = r;
    study s = {.arena = arena,
               .net = net,
               .options = options,
               .horizon = options->horizon > 0 ? options->horizon : 1800};
    s.phase = RFY_NEW(arena, MOST_PHASES, rfy_phase);
    s.phase_step = RFY_NEW(arena, MOST_PHASES, int);
    s.from = RFY_NEW(arena, MOST_PHASES, rfy_snapshot *);
    s.broken_alone = RFY_NEW(arena, (size_t)net->n_limits, const char *);
    r->title = kept(arena, rfy_system_title(system));
    r->horizon = s.horizon;
    r->status = run_procedure(&s, &r->trouble);
    if (r->status == RFY_OK) {
        choose_dangers(&s);
        run_cases(&s);
        const char **names = RFY_NEW(arena, s.n_dangers, const char *);
        for (size_t i = 0; i < s.n_dangers; i++)
            names[i] = kept(arena, s.danger[i].name);
        r->fault = names;
        r->n_faults = s.n_dangers;
        r->cases = s.cases;
        r->n_cases = s.n_dangers * s.n_phases;
        if (options->stop && *options->stop)
            r->status = RFY_INTERRUPTED;
        else if (s.n_broken_alone > 0)
            r->status = RFY_LIMIT_BROKEN;
    }
    for (size_t i = 0; i < s.n_phases; i++)
        rfy_snapshot_free(s.from[i]);
    r->phase = s.phase;
    r->n_phases = s.n_phases;
    r->broken_alone = s.broken_alone;
    r->n_broken_alone = s.n_broken_alone;
    const char **assumed = RFY_NEW(arena, net->n_assumed, const char *);
    for (size_t i = 0; i < net->n_assumed; i++)
        assumed[i] = kept(arena, net->assumed[i]);
    r->assumed = assumed;
    r->n_assumed = net->n_assumed;
    rfy_answer_cautions(arena, net, &r->cautions, &r->n_cautions);
    return r->status;
}

void rfy_protect_free(rfy_protect_result *result) {
    if (result)
        rfy_arena_free(((protect_box *)(void *)result)->arena);
}
