#include "study/strike.h"
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "study/answers.h"

/* ---- one case ---- */

typedef struct witness {
    double *triggered; /* when the rescue's condition came true, s after the fault; or NULL */
    rfy_arena *arena;
    const rfy_case *c;
    rfy_outcome *out;
    bool again; /* only whether a limit breaks is asked */
} witness;

static void on_limit(void *context, rfy_sim *sim, double time, const double *y, int i) {
    witness *w = context;
    rfy_outcome *out = w->out;
    out->after[i] = time - rfy_snapshot_time(w->c->from);
    if (out->first >= 0 && !(out->after[i] < out->after[out->first]))
        return;
    out->first = i;
    if (w->again)
        return;
    rfy_way way = {.most = 8, .valve = out->valve, .shut = out->shut};
    out->path = rfy_answer_way(w->arena, sim, w->c->net, time, y, i, &way);
    out->length = way.length;
    out->source = way.source;
    out->n_valves = way.n_valves;
    out->n_shut = way.n_shut;
}

static void on_step(void *context, rfy_sim *sim, const rfy_program *program, int step) {
    witness *w = context;
    (void)step;
    if (w->triggered && program != w->c->fault && program->kind == RFY_FAULT)
        *w->triggered = rfy_sim_time(sim) - rfy_snapshot_time(w->c->from);
}

static void on_event(void *context, rfy_sim *sim, double time, const double *y, rfy_event_kind kind,
                     const char *what) {
    witness *w = context;
    rfy_outcome *out = w->out;
    (void)sim, (void)y;
    if (kind != RFY_EVENT_RULE || out->n_rules == 16)
        return;
    out->rule[out->n_rules] = rfy_arena_strdup(w->arena, what);
    out->rule_after[out->n_rules++] = time - rfy_snapshot_time(w->c->from);
}

static double log_excess(const rfy_limit *l, const rfy_limit_state *s) {
    double ratio = log((s->peak > 1e-300 ? s->peak : 1e-300) / l->allowed);
    return l->kind == RFY_LIMIT_MIN ? -ratio : ratio;
}

static void judge(const rfy_case *c, rfy_sim *sim, rfy_outcome *out) {
    out->margin = -100;
    for (int i = 0; i < c->net->n_limits; i++) {
        const rfy_limit_state *s = rfy_sim_limit(sim, i);
        if (rfy_snapshot_broken(c->from, i) || isnan(s->peak))
            continue;
        double over = log_excess(&c->net->limit[i], s);
        if (s->broken && !(over > 1e-9))
            over = 1e-9;
        if (!s->broken && over > -1e-9) /* kept by its time only */
            over = -1e-9;
        out->margin = over > out->margin ? over : out->margin;
    }
}

static void run_case(rfy_arena *arena, const rfy_case *c, const rfy_program *rescue, bool all,
                     double *triggered, rfy_outcome *out) {
    const rfy_program *programs[2] = {c->fault, rescue};
    *out = (rfy_outcome){.first = -1, .margin = -100, .source = -1};
    out->after = RFY_NEW(arena, (size_t)c->net->n_limits, double);
    for (int i = 0; i < c->net->n_limits; i++)
        out->after[i] = NAN;
    out->rule = RFY_NEW(arena, 16, const char *);
    out->rule_after = RFY_NEW(arena, 16, double);
    witness w = {triggered, arena, c, out, rescue != NULL};
    rfy_observer observer = {
        .limit = on_limit, .event = rescue ? NULL : on_event, .step = on_step, .context = &w};
    rfy_sim_options o = {.tolerance = c->tolerance,
                         .until = rfy_snapshot_time(c->from) + c->horizon,
                         .stop_when_broken = !all,
                         .stop = c->stop,
                         .fault = programs,
                         .n_faults = rescue ? 2 : 1};
    rfy_sim *sim = rfy_sim_new(c->net, &o, &observer);
    if (!sim) {
        out->status = RFY_RUN_FAILED;
        out->trouble = "the solver could not be set up";
        return;
    }
    rfy_sim_load(sim, c->from);
    out->status = rfy_sim_run(sim);
    if (rfy_sim_trouble(sim))
        out->trouble = rfy_arena_strdup(arena, rfy_sim_trouble(sim));
    judge(c, sim, out);
    rfy_sim_free(sim);
}

void rfy_case_run(rfy_arena *arena, const rfy_case *c, const rfy_program *rescue, bool all,
                  rfy_outcome *out) {
    run_case(arena, c, rescue, all, NULL, out);
}

/* ---- heat ---- */

/* Gas that fills a closed space and keeps its heat is gamma times warmer than before, and so raises
 * the pressure gamma times faster (filling of an evacuated vessel from the air around: energy
 * balance of an open system, any textbook of thermodynamics). From there it goes on through an
 * orifice: sqrt(gamma) times less of it than cold gas of the same pressure, but warmed by gamma
 * once more in the next space. So space number d behind the first rises gamma^(1 + d/2) times
 * faster for the same pressure before it. Dividing the volumes by that is a bound: walls, and gas
 * that is there already, only make it slower. */
const rfy_network *rfy_network_adiabatic(rfy_arena *arena, const rfy_network *net,
                                         const rfy_program *fault) {
    const double gamma = 1.4;
    const int far = 1 << 20;
    int *distance = RFY_NEW(arena, (size_t)net->n_nodes, int);
    bool any = false;
    for (int k = 0; k < net->n_nodes; k++)
        distance[k] = far;
    for (int i = 0; i < fault->n_ops; i++) {
        const rfy_action *a = &fault->op[i].action;
        if (fault->op[i].kind != RFY_OP_ACT)
            continue;
        int node = -1;
        if (a->verb == RFY_VERB_HOLE)
            node = net->valve[a->index].hole_in;
        if (a->verb == RFY_VERB_OPEN) {
            const rfy_line *l = &net->line[net->valve[a->index].line];
            node = net->node[l->from].fixed ? l->to : net->node[l->to].fixed ? l->from : -1;
        }
        if (node >= 0 && !net->node[node].fixed) {
            distance[node] = 0;
            any = true;
        }
    }
    if (!any)
        return NULL;
    for (bool again = true; again;) {
        again = false;
        for (int e = 0; e < net->n_edges; e++) {
            const rfy_edge *edge = &net->edge[e];
            if (edge->role != RFY_EDGE_TUBING && edge->role != RFY_EDGE_PUMP)
                continue;
            for (int side = 0; side < 2; side++) {
                int a = side ? edge->to : edge->from, b = side ? edge->from : edge->to;
                if (net->node[a].fixed || net->node[b].fixed)
                    continue;
                /* what the program put inside a line is no space of its own */
                int next = distance[a] + (net->node[b].internal ? 0 : 1);
                if (next < distance[b]) {
                    distance[b] = next;
                    again = true;
                }
            }
        }
    }
    rfy_network *warm = RFY_NEW(arena, 1, rfy_network);
    *warm = *net;
    warm->node = rfy_arena_grow(arena, net->node, (size_t)net->n_nodes, (size_t)net->n_nodes,
                                sizeof *net->node);
    for (int k = 0; k < net->n_free; k++)
        if (distance[k] < far)
            warm->node[k].volume /= pow(gamma, 1 + 0.5 * distance[k]);
    return warm;
}

/* ---- what may be done ---- */

rfy_program *rfy_rescue_program(rfy_arena *arena, const rfy_action *actions, int n, double delay) {
    rfy_program *p = RFY_NEW(arena, 1, rfy_program);
    *p = (rfy_program){.kind = RFY_FAULT, .name = "rescue", .on_battery = true};
    p->op = RFY_NEW(arena, (size_t)n + 4, rfy_op);
    if (delay > 0)
        p->op[p->n_ops++] =
            (rfy_op){.kind = RFY_OP_WAIT,
                     .step = -1,
                     .silent = true,
                     .within = INFINITY,
                     .when = rfy_condition_new(arena, RFY_COND_WAITED, 0, false, delay)};
    /* who steps in does not go on with the procedure */
    const rfy_action halt = {.verb = RFY_VERB_HALT, .silent = true};
    p->op[p->n_ops++] = (rfy_op){.kind = RFY_OP_ACT, .step = -1, .action = halt};
    for (int i = 0; i < n; i++)
        p->op[p->n_ops++] = (rfy_op){.kind = RFY_OP_ACT, .step = -1, .action = actions[i]};
    p->op[p->n_ops++] = (rfy_op){.kind = RFY_OP_END, .step = -1};
    return p;
}

static void add_action(rfy_arena *arena, const rfy_network *net, rfy_attempt *a, rfy_verb verb,
                       int index) {
    if (a->n == 8)
        return;
    const char *what =
        verb == RFY_VERB_SWITCH_OFF
            ? rfy_arena_printf(arena, "switch off %s", net->gauge[index].name)
            : rfy_arena_printf(arena, "%s %s", verb == RFY_VERB_OPEN ? "open" : "close",
                               net->valve[index].name);
    a->action[a->n++] =
        (rfy_action){.verb = verb, .index = index, .gas = -1, .silent = true, .text = what};
    a->text = a->text ? rfy_arena_printf(arena, "%s, %s", a->text, what) : what;
    if (verb != RFY_VERB_SWITCH_OFF && net->valve[index].moves_in > a->takes)
        a->takes = net->valve[index].moves_in;
}

/* Filaments glow in any case better out. */
static void add_gauges(rfy_arena *arena, const rfy_case *c, rfy_attempt *a) {
    for (int i = 0; i < c->net->n_gauges; i++)
        if (c->net->gauge[i].kind == RFY_GAUGE_HOT_CATHODE && rfy_snapshot_switched(c->from, i))
            add_action(arena, c->net, a, RFY_VERB_SWITCH_OFF, i);
}

static bool touches(const rfy_network *net, int valve, int node) {
    const rfy_line *l = &net->line[net->valve[valve].line];
    return l->from == node || l->to == node;
}

int rfy_attempts(rfy_arena *arena, const rfy_case *c, const rfy_outcome *out, rfy_attempt *attempt,
                 int most) {
    const rfy_network *net = c->net;
    int n = 0;
    if (out->first < 0)
        return 0;
    const rfy_limit *l = &net->limit[out->first];
    if (most > 0) /* where only the next steps do the harm */
        attempt[n++] = (rfy_attempt){.text = "halt the procedure"};
    if (l->kind == RFY_LIMIT_MIN) { /* a pump under vacuum: every open way to it */
        rfy_attempt a = {0};
        for (int v = 0; v < net->n_user_valves; v++)
            if (rfy_snapshot_opening(c->from, v) > 0 && touches(net, v, l->node))
                add_action(arena, net, &a, RFY_VERB_CLOSE, v);
        if (a.n > 0 && n < most) {
            add_gauges(arena, c, &a);
            attempt[n++] = a;
        }
        return n;
    }
    for (int i = 0; i < out->n_valves && n < most; i++) {
        rfy_attempt a = {0};
        add_action(arena, net, &a, RFY_VERB_CLOSE, out->valve[i]);
        add_gauges(arena, c, &a);
        attempt[n++] = a;
    }
    for (int i = 0; i < out->n_shut && n < most; i++) {
        rfy_attempt a = {0};
        add_action(arena, net, &a, RFY_VERB_OPEN, out->shut[i]);
        attempt[n++] = a;
    }
    rfy_attempt a = {0};
    add_gauges(arena, c, &a);
    if (a.n > 0 && n < most)
        attempt[n++] = a;
    return n;
}

static bool keeps(rfy_arena *arena, const rfy_case *c, const rfy_attempt *a, double delay) {
    rfy_outcome out;
    rfy_case_run(arena, c, rfy_rescue_program(arena, a->action, a->n, delay), false, &out);
    return out.status == RFY_OK && out.first < 0;
}

double rfy_latest(rfy_arena *arena, const rfy_case *c, const rfy_attempt *attempt, double most,
                  int halvings) {
    if (!keeps(arena, c, attempt, 0))
        return -1;
    double good = 0, bad = most;
    for (int i = 0; i < halvings; i++) {
        double middle = 0.5 * (good + bad);
        if (keeps(arena, c, attempt, middle))
            good = middle;
        else
            bad = middle;
    }
    return good;
}

/* One significant digit, upwards. */
static double rounded_up(double x) {
    double decade = pow(10, floor(log10(x)));
    return ceil(x / decade - 1e-9) * decade;
}

/* What a controller would see of the fault: a pump that is off, or the pressure where the gas comes
 * from, three times what it was and not below what a plain gauge shows. */
static rfy_condition *trigger(rfy_arena *arena, const rfy_case *c, const rfy_outcome *out,
                              const char **text) {
    const rfy_network *net = c->net;
    const rfy_limit *l = &net->limit[out->first];
    if (l->kind == RFY_LIMIT_MIN) {
        for (int i = 0; i < net->n_pumps; i++)
            if (net->pump[i].from == l->node) {
                *text = rfy_arena_printf(arena, "%s is off", net->pump[i].name);
                return rfy_condition_new(arena, RFY_COND_DRIVEN, i, true, 0);
            }
        return NULL;
    }
    int node = out->source;
    if (node < 0 || net->node[node].fixed)
        return NULL;
    double p = rfy_snapshot_pressure(c->from, node), level = 3 * p > 0.1 ? rounded_up(3 * p) : 0.1;
    char number[32];
    *text = rfy_arena_printf(arena, "%s > %s Pa", net->node[node].name,
                             rfy_format_number(number, level, 1));
    return rfy_condition_new(arena, RFY_COND_PRESSURE, node, false, level);
}

const char *rfy_rule_for(rfy_arena *arena, const rfy_case *c, const rfy_outcome *out,
                         const rfy_attempt *attempt, double latest, double *delay) {
    const char *text = NULL;
    rfy_condition *when = trigger(arena, c, out, &text);
    if (!when)
        return NULL;
    rfy_program *p = rfy_rescue_program(arena, attempt->action, attempt->n, 0);
    memmove(p->op + 1, p->op, (size_t)p->n_ops++ * sizeof *p->op);
    p->op[0] =
        (rfy_op){.kind = RFY_OP_WAIT, .step = -1, .begins = true, .within = INFINITY, .when = when};
    double triggered = NAN;
    rfy_outcome saved;
    run_case(arena, c, p, false, &triggered, &saved);
    *delay = latest - triggered;
    if (saved.status != RFY_OK || saved.first >= 0 || !(*delay > 0))
        return NULL;
    return rfy_arena_printf(arena, "whenever %s: %s", text, attempt->text);
}
