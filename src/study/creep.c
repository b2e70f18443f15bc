/* Oil and water that creep back from an oil-sealed pump: for how long a way to a clean chamber is
 * open and nowhere on it gas flows thickly enough to sweep vapour along. */
#include <math.h>
#include <string.h>
#include "study/answers.h"

/* Viscous flow sweeps vapour along: p d above about 0.6 Pa m (Knudsen number 0.01 for air; the "p d
 * > 0.6 mbar cm" of textbooks, from memory). */
static const double swept = 0.6;
/* Vapour of a pump oil in use, warm: order of magnitude, common practice, no source. It can be no
 * more at the far end than here. */
static const double oil_vapour = 1e-2;
/* A rotor that turns slower than this lets gas through both ways. */
static const double hardly = 0.05;

struct rfy_creeper {
    const rfy_network *net;
    rfy_controls *controls;
    int water;                  /* gas, -1 = not followed */
    double *partial, *pressure; /* of all nodes, at the present instant */
    int *reach;                 /* [node] 0, 1 = through traps, 2 = by a way without one */
    double *time, *open, *wet;  /* [pump * n_nodes + node] */
    int *reached;               /* the same at the last instant, */
    double *was_wet;            /* and the pressure of water there where it could be reached, Pa */
};

static bool is_oily(const rfy_network *net, int pump) {
    return strcmp(net->pump[pump].kind->name, "rotary vane") == 0 &&
           net->pump[pump].to == net->ambient_node;
}

rfy_creeper *rfy_creeper_new(rfy_arena *arena, const rfy_network *net) {
    rfy_creeper *c = RFY_NEW(arena, 1, rfy_creeper);
    const size_t n = (size_t)net->n_nodes, all = n * (size_t)net->n_pumps;
    c->net = net;
    c->water = -1;
    for (int i = 0; i < net->mixture.n; i++)
        if (strcmp(net->mixture.name[i], "H2O") == 0)
            c->water = i;
    bool any = false;
    for (int i = 0; i < net->n_pumps; i++)
        any = any || is_oily(net, i);
    if (!any)
        return NULL;
    c->controls = rfy_controls_new(arena, net);
    c->partial = RFY_NEW(arena, n * (size_t)net->mixture.n, double);
    c->pressure = RFY_NEW(arena, n, double);
    c->reach = RFY_NEW(arena, n, int);
    c->time = RFY_NEW(arena, all, double);
    c->open = RFY_NEW(arena, all, double);
    c->wet = RFY_NEW(arena, all, double);
    c->reached = RFY_NEW(arena, all, int);
    c->was_wet = RFY_NEW(arena, all, double);
    return c;
}

static bool is_open(const rfy_creeper *c, int line) {
    const rfy_network *net = c->net;
    for (int v = 0; v < net->n_valves; v++)
        if (net->valve[v].line == line && !(c->controls->opening[v] > 0))
            return false;
    for (int end = 0; end < 2; end++) {
        int v = net->line[line].shut_off[end];
        if (v >= 0 && !(c->controls->opening[v] > 0))
            return false;
    }
    return true;
}

static bool is_swept(const rfy_creeper *c, int a, int b, double bore) {
    return 0.5 * (c->pressure[a] + c->pressure[b]) * bore > swept;
}

/* Raises what can be reached over a way from a to b or back; true when something changed. */
static bool pass(rfy_creeper *c, int a, int b, bool trap) {
    bool changed = false;
    for (int side = 0; side < 2; side++) {
        int from = side ? b : a, to = side ? a : b;
        int reached = trap && c->reach[from] > 1 ? 1 : c->reach[from];
        if (!c->net->node[to].fixed && reached > c->reach[to]) {
            c->reach[to] = reached;
            changed = true;
        }
    }
    return changed;
}

static void find_reach(rfy_creeper *c, int pump) {
    const rfy_network *net = c->net;
    memset(c->reach, 0, (size_t)net->n_nodes * sizeof *c->reach);
    c->reach[net->pump[pump].from] = 2;
    for (bool again = true; again;) {
        again = false;
        for (int i = 0; i < net->n_lines; i++) {
            const rfy_line *l = &net->line[i];
            double area = l->end_area[0] < l->end_area[1] ? l->end_area[0] : l->end_area[1];
            double bore = sqrt(4 * area / 3.14159265358979);
            if (is_open(c, i) && !is_swept(c, l->from, l->to, bore))
                again = pass(c, l->from, l->to, l->trap) || again;
        }
        for (int i = 0; i < net->n_pumps; i++) {
            const rfy_pump *p = &net->pump[i];
            if (i != pump && p->kind->foreline_limit && c->controls->turn[i] < hardly &&
                !is_swept(c, p->from, p->to, 0.05))
                again = pass(c, p->from, p->to, false) || again;
        }
    }
}

void rfy_creeper_note(rfy_creeper *c, rfy_sim *sim, double from, double to, const double *y) {
    const rfy_network *net = c->net;
    const int g = net->mixture.n;
    rfy_sim_controls(sim, to, c->controls);
    rfy_pressures(net, c->controls->temperature, y, c->partial);
    for (int k = 0; k < net->n_nodes; k++) {
        c->pressure[k] = 0;
        for (int i = 0; i < g; i++)
            c->pressure[k] += c->partial[k * g + i];
    }
    for (int p = 0; p < net->n_pumps; p++) {
        if (!is_oily(net, p))
            continue;
        find_reach(c, p);
        for (int k = 0; k < net->n_free; k++) {
            size_t at = (size_t)(p * net->n_nodes + k);
            /* half of the step belongs to either end of it */
            const int before = c->reached[at], now = c->reach[k];
            const double half = 0.5 * (to - from);
            c->time[at] += half * ((before > 0) + (now > 0));
            c->open[at] += half * ((before > 1) + (now > 1));
            double wet = now > 0 && c->water >= 0 ? c->partial[k * g + c->water] : 0;
            c->wet[at] += half * (c->was_wet[at] + wet);
            c->was_wet[at] = wet;
            c->reached[at] = now;
        }
    }
}

/* The pump's own side: its inlet and the forelines of other pumps. */
static bool is_clean(const rfy_network *net, int pump, int node) {
    bool clean = !net->node[node].internal && node != net->pump[pump].from;
    for (int i = 0; i < net->n_pumps; i++)
        clean = clean && !(net->pump[i].kind->foreline_limit && net->pump[i].to == node);
    return clean;
}

void rfy_creeper_tell(const rfy_creeper *c, rfy_arena *arena, const rfy_creep **out, size_t *n) {
    const rfy_network *net = c->net;
    rfy_creep *list = RFY_NEW(arena, (size_t)(net->n_pumps * net->n_nodes), rfy_creep);
    *n = 0;
    for (int p = 0; p < net->n_pumps; p++)
        for (int k = 0; k < net->n_free; k++) {
            size_t at = (size_t)(p * net->n_nodes + k);
            if (is_clean(net, p, k) && c->time[at] > 0)
                list[(*n)++] = (rfy_creep){.pump = rfy_arena_strdup(arena, net->pump[p].name),
                                           .chamber = rfy_arena_strdup(arena, net->node[k].name),
                                           .time = c->time[at],
                                           .untrapped = c->open[at],
                                           .oil = oil_vapour * c->time[at],
                                           .oil_untrapped = oil_vapour * c->open[at],
                                           .water = c->water >= 0 ? c->wet[at] : (double)NAN};
        }
    *out = list;
}
