/* Which way the gas came by which a limit was broken: upstream from the watched place, always along
 * the edge that brings most. */
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "study/answers.h"

typedef struct tracer {
    rfy_arena *arena;
    const rfy_network *net;
    const rfy_controls *controls;
    double *flow; /* [edge] mol/s of all gases from edge->from to edge->to */
    double *gain; /* [node] mol/s in all */
    rfy_way *way;
    bool *passed; /* [line] */
} tracer;

static double control_of(const rfy_edge *e, const rfy_controls *c) {
    return e->valve >= 0 ? c->opening[e->valve] : e->pump >= 0 ? c->turn[e->pump] : 1;
}

static void find_flows(tracer *t, const double *pressure) {
    const rfy_network *net = t->net;
    const int g = net->mixture.n;
    for (int k = 0; k < net->n_free; k++)
        for (int i = 0; i < g; i++)
            t->gain[k] += t->controls->emission[k * g + i];
    for (int e = 0; e < net->n_edges; e++) {
        const rfy_edge *edge = &net->edge[e];
        double flow[RFY_MAX_GASES], control = control_of(edge, t->controls);
        if (edge->valve >= 0 && control <= 0)
            continue;
        edge->flow(edge, edge->mixture, control, pressure + edge->from * g, pressure + edge->to * g,
                   flow, NULL, NULL);
        for (int i = 0; i < g; i++)
            t->flow[e] += edge->copies * flow[i];
        t->gain[edge->from] -= t->flow[e];
        t->gain[edge->to] += t->flow[e];
    }
}

/* "high-vacuum line (high-vacuum valve open)" */
static const char *name_edge(const tracer *t, const rfy_edge *e) {
    const rfy_network *net = t->net;
    if (e->valve < 0 || e->valve >= net->n_user_valves)
        return e->role == RFY_EDGE_TUBING && e->valve < 0 ? e->part : e->name;
    double open = t->controls->opening[e->valve];
    if (open >= 1)
        return rfy_arena_printf(t->arena, "%s (%s open)", e->part, net->valve[e->valve].name);
    return rfy_arena_printf(t->arena, "%s (%s %.0f %% open)", e->part, net->valve[e->valve].name,
                            100 * open);
}

/* The edge that brings most gas to a node; -1 when none brings any to speak of. */
static int main_inflow(const tracer *t, int node, double *most) {
    int best = -1;
    *most = 0;
    for (int e = 0; e < t->net->n_edges; e++) {
        const rfy_edge *edge = &t->net->edge[e];
        double in = edge->to == node ? t->flow[e] : edge->from == node ? -t->flow[e] : 0;
        if (in > *most) {
            *most = in;
            best = e;
        }
    }
    return best;
}

/* A shut valve that would be a way out: not one to the air or to a reservoir. */
static bool is_shut(const tracer *t, const rfy_edge *e) {
    const rfy_network *net = t->net;
    if (e->valve < 0 || e->valve >= net->n_user_valves || t->controls->opening[e->valve] > 0)
        return false;
    const rfy_line *l = &net->line[net->valve[e->valve].line];
    return !net->node[l->from].fixed && !net->node[l->to].fixed;
}

/* What keeps gas from leaving a place: shut valves and pumps that stand. */
static const char *way_out(const tracer *t, int node) {
    const rfy_network *net = t->net;
    const char *text = "";
    for (int e = 0; e < net->n_edges; e++) {
        const rfy_edge *edge = &net->edge[e];
        if (edge->from != node && edge->to != node)
            continue;
        if (is_shut(t, edge) && t->way->n_shut < t->way->most)
            t->way->shut[t->way->n_shut++] = edge->valve;
        if (is_shut(t, edge))
            text = rfy_arena_printf(t->arena, "%s%s%s is shut", text, *text ? ", " : "",
                                    net->valve[edge->valve].name);
        if (edge->pump >= 0 && edge->from == node && t->controls->turn[edge->pump] < 0.5)
            text = rfy_arena_printf(t->arena, "%s%s%s does not pump", text, *text ? ", " : "",
                                    net->pump[edge->pump].name);
    }
    return text;
}

/* The length of a line counts once, however many edges it has. */
static void note_edge(const tracer *t, const rfy_edge *e) {
    rfy_way *way = t->way;
    if (e->valve >= 0 && e->valve < t->net->n_user_valves && way->n_valves < way->most)
        way->valve[way->n_valves++] = e->valve;
    for (int i = 0; i < t->net->n_lines; i++)
        if (t->net->line[i].name == e->part && !t->passed[i]) {
            t->passed[i] = true;
            way->length += t->net->line[i].length;
        }
}

static const char *trace(const tracer *t, int node) {
    const rfy_network *net = t->net;
    bool *seen = RFY_NEW(t->arena, (size_t)net->n_nodes, bool);
    const char *text = net->node[node].name, *said = NULL;
    t->way->source = node;
    t->way->length += cbrt(net->node[node].volume); /* across it, as if it were a cube */
    for (int at = node; !seen[at];) {
        double most;
        seen[at] = true;
        int e = main_inflow(t, at, &most);
        /* a place that empties into its neighbour is itself where the gas comes from */
        if (e < 0 || (at != node && -t->gain[at] > most))
            break;
        const rfy_edge *edge = &net->edge[e];
        int next = edge->to == at ? edge->from : edge->to;
        if (seen[next])
            break;
        const char *way = name_edge(t, edge);
        note_edge(t, edge);
        if (net->node[next].fixed) {
            bool air = next == net->ambient_node || next == net->outside_node;
            return rfy_arena_printf(t->arena, "%s through %s -> %s",
                                    air ? "air" : net->node[next].name, way, text);
        }
        if (!said || strcmp(said, way) != 0)
            text = rfy_arena_printf(t->arena, "%s -> %s", way, text);
        said = way;
        t->way->length += net->node[next].internal ? 0 : cbrt(net->node[next].volume);
        if (!net->node[next].internal) {
            text = rfy_arena_printf(t->arena, "%s -> %s", net->node[next].name, text);
            t->way->source = next;
        }
        at = next;
    }
    return text;
}

const char *rfy_answer_way(rfy_arena *arena, rfy_sim *sim, const rfy_network *net, double time,
                           const double *y, int limit, rfy_way *way) {
    rfy_way none = {0};
    const rfy_limit *l = &net->limit[limit];
    rfy_controls *controls = rfy_controls_new(arena, net);
    rfy_sim_controls(sim, time, controls);
    tracer t = {.arena = arena,
                .net = net,
                .controls = controls,
                .flow = RFY_NEW(arena, (size_t)net->n_edges, double),
                .gain = RFY_NEW(arena, (size_t)net->n_nodes, double),
                .way = way ? way : &none,
                .passed = RFY_NEW(arena, (size_t)net->n_lines, bool)};
    double *p = RFY_NEW(arena, (size_t)(net->n_nodes * net->mixture.n), double);
    rfy_pressures(net, controls->temperature, y, p);
    find_flows(&t, p);
    if (l->kind == RFY_LIMIT_MIN) {
        const char *open = "";
        for (int i = 0; i < net->n_user_valves; i++)
            if (controls->opening[i] > 0)
                open =
                    rfy_arena_printf(arena, "%s%s%s", open, *open ? ", " : "", net->valve[i].name);
        return *open ? rfy_arena_printf(arena, "open: %s", open) : "no valve is open";
    }
    const char *trail = trace(&t, l->node), *out = way_out(&t, l->node);
    return *out ? rfy_arena_printf(arena, "%s; %s", trail, out) : trail;
}
