/* From a description to a network: nodes, pumps, gauges, references. Lines are in assemble_lines.c,
 * gases and surroundings in assemble_gases.c. */
#include <math.h>
#include <stdarg.h>
#include <string.h>
#include "core/text.h"
#include "network/assemble.h"

/* ---- what the parts of the assembly share ------------------------------------------------------
 */

void rfy_build_assume(rfy_build *b, const char *format, ...) {
    if (b->like) /* told of the network it is like */
        return;
    va_list args;
    va_start(args, format);
    const char *text = rfy_arena_vprintf(b->arena, format, args);
    va_end(args);
    rfy_network *net = b->net;
    for (size_t i = 0; i < net->n_assumed; i++)
        if (strcmp(net->assumed[i], text) == 0)
            return;
    if (net->n_assumed == b->cap_assumed) {
        size_t more = b->cap_assumed ? 2 * b->cap_assumed : 32;
        net->assumed =
            rfy_arena_grow(b->arena, net->assumed, b->cap_assumed, more, sizeof *net->assumed);
        b->cap_assumed = more;
    }
    net->assumed[net->n_assumed++] = text;
}

const char *rfy_build_name(rfy_build *b, const char *format, ...) {
    if (b->like)
        return "";
    va_list args;
    va_start(args, format);
    const char *text = rfy_arena_vprintf(b->arena, format, args);
    va_end(args);
    return text;
}

static void assume_from_pump(void *context, const char *text) {
    rfy_build_assume(context, "%s", text);
}

/* Room for one more in a list of the network; at first for as many as one it is like has. */
#define GROW(list, count, cap)                                                                     \
    do {                                                                                           \
        if (net->count == (cap)) {                                                                 \
            const int usual = b->like && b->like->count > 0 ? b->like->count : 16;                 \
            const int more = (cap) ? 2 * (cap) : usual;                                            \
            net->list = rfy_arena_grow(b->arena, net->list, (size_t)(cap), (size_t)more,           \
                                       sizeof *net->list);                                         \
            (cap) = more;                                                                          \
        }                                                                                          \
    } while (0)

int rfy_build_node(rfy_build *b, const char *name) {
    rfy_network *net = b->net;
    GROW(node, n_nodes, b->cap_nodes);
    rfy_node *node = &net->node[net->n_nodes];
    *node = (rfy_node){.name = name, .temperature = net->ambient_temperature, .count = 1};
    memcpy(node->start, net->ambient, sizeof node->start);
    return net->n_nodes++;
}

rfy_edge *rfy_build_edge(rfy_build *b, const char *name, rfy_edge_role role, int from, int to) {
    rfy_network *net = b->net;
    GROW(edge, n_edges, b->cap_edges);
    rfy_edge *edge = &net->edge[net->n_edges++];
    *edge = (rfy_edge){.name = name,
                       .part = name,
                       .role = role,
                       .from = from,
                       .to = to,
                       .copies = 1,
                       .valve = -1,
                       .pump = -1,
                       .mixture = &net->mixture};
    return edge;
}

const rfy_stretch *rfy_build_stretch(rfy_build *b, const rfy_stretch_geometry *geometry) {
    const rfy_network *from = b->laws;
    const int i = b->net->n_edges - 1;
    const rfy_stretch *was = from && i >= 0 && i < from->n_edges ? from->edge[i].stretch : NULL;
    return was && rfy_stretch_is_of(was, geometry) ? was : rfy_stretch_new(b->arena, geometry);
}

void rfy_build_emitter(rfy_build *b, const char *name, const char *material, int node, int gas,
                       double area, double spread, const rfy_power_law *law) {
    rfy_network *net = b->net;
    if (!(area > 0))
        return;
    GROW(emitter, n_emitters, b->cap_emitters);
    net->emitter[net->n_emitters++] =
        (rfy_emitter){.name = name,
                      .material = rfy_material_name(net->catalog, material),
                      .node = node,
                      .gas = gas,
                      .area = area,
                      .spread = spread,
                      .law = *law};
}

rfy_store *rfy_build_store(rfy_build *b, const char *name, const char *material, int node, int gas,
                           double spread) {
    rfy_network *net = b->net;
    GROW(store, n_stores, b->cap_stores);
    rfy_store *store = &net->store[net->n_stores++];
    *store = (rfy_store){.name = name,
                         .material = rfy_material_name(net->catalog, material),
                         .node = node,
                         .gas = gas,
                         .spread = spread,
                         .temperature = NAN,
                         .active_from = -INFINITY};
    return store;
}

void rfy_build_unknown(rfy_build *b, const char *what, const char *word, const char *const *names,
                       size_t n, rfy_place at) {
    const char *list = "";
    for (size_t i = 0; i < n; i++)
        if (i == 0 || strcmp(names[i], names[i - 1]) != 0)
            list = rfy_arena_printf(b->arena, "%s%s\"%s\"", list, i ? ", " : "", names[i]);
    int near = rfy_nearest(word, names, n);
    rfy_problem_add(b->problems, RFY_ERROR, &at, list,
                    near >= 0 ? rfy_arena_printf(b->arena, "did you mean \"%s\"?", names[near])
                              : NULL,
                    "%s \"%s\" is not known", what, word);
}

int rfy_build_valve(rfy_build *b, const char *name, bool open) {
    rfy_network *net = b->net;
    GROW(valve, n_valves, b->cap_valves);
    net->valve[net->n_valves] = (rfy_valve){.name = name, .open = open, .line = -1, .hole_in = -1};
    return net->n_valves++;
}

int rfy_build_find_node(rfy_build *b, const char *name, rfy_place at, const char *what) {
    for (int i = 0; i < b->n_named; i++)
        if (strcmp(b->net->node[i].name, name) == 0)
            return i;
    const char **names = RFY_NEW(b->arena, (size_t)b->n_named, const char *);
    for (int i = 0; i < b->n_named; i++)
        names[i] = b->net->node[i].name;
    int near = rfy_nearest(name, names, (size_t)b->n_named);
    rfy_problem_add(
        b->problems, RFY_ERROR, &at, "the name of a chamber or junction, or \"ambient\"",
        near >= 0 ? rfy_arena_printf(b->arena, "did you mean \"%s\"?", names[near]) : NULL,
        "%s \"%s\" does not exist", what, name);
    return -1;
}

bool rfy_build_material(rfy_build *b, const char *material, const char *condition, rfy_place at,
                        rfy_power_law *law, int *gas, double *spread) {
    const rfy_catalog *catalog = b->net->catalog;
    const rfy_material *row = rfy_material_find(catalog, material, condition);
    if (!row) {
        const char **names = RFY_NEW(b->arena, catalog->n_materials, const char *);
        size_t n = 0;
        const char *list = NULL, *proper = rfy_material_name(catalog, material);
        for (size_t i = 0; i < catalog->n_materials; i++) {
            const rfy_material *m = &catalog->material[i];
            names[n++] = m->material;
            if (condition && strcmp(m->material, proper) == 0)
                list = list ? rfy_arena_printf(b->arena, "%s, \"%s\"", list, m->condition)
                            : rfy_arena_printf(b->arena, "\"%s\"", m->condition);
        }
        int near = rfy_nearest(material, names, n);
        if (list)
            rfy_problem_add(b->problems, RFY_ERROR, &at, list, NULL, "%s has no condition \"%s\"",
                            material, condition);
        else
            rfy_problem_add(
                b->problems, RFY_ERROR, &at,
                "a material of `rarefy list materials`, or a rate outright",
                near >= 0 ? rfy_arena_printf(b->arena, "did you mean \"%s\"?", names[near]) : NULL,
                "material \"%s\" is not known", material);
        return false;
    }
    if (!rfy_power_law_from_material(row, law))
        rfy_power_law_constant(0, law);
    *spread = row->spread;
    *gas = rfy_build_wall_gas(b, row->gas, row->material);
    if (!b->seen_material[row - catalog->material]) {
        b->seen_material[row - catalog->material] = true;
        char rate[32];
        rfy_build_assume(b,
                         "%s (%s): gives off %s Pa m3/s/m2 of %s after 1 h, good to a factor %.0f "
                         "[%s, %s]",
                         row->material, row->condition,
                         rfy_format_number(rate, rfy_power_law_rate(law, 3600, NULL), 2),
                         b->net->mixture.name[*gas], row->spread, row->source, row->status);
    }
    return true;
}

/* ---- chambers ---- */

static void build_leaks(rfy_build *b, const rfy_chamber_desc *c, int node) {
    const rfy_leak_desc *leaks = c->leaks.item;
    for (size_t i = 0; i < c->leaks.n; i++) {
        const rfy_leak_desc *l = &leaks[i];
        double outside[RFY_MAX_GASES] = {0};
        if (l->gas) {
            int gas = rfy_build_gas(b, l->gas, rfy_place_of(&l->origin, "gas"));
            if (gas < 0)
                continue;
            outside[gas] = b->net->ambient_pressure;
        } else {
            memcpy(outside, b->net->ambient, sizeof outside);
        }
        if (!(l->rate > 0))
            continue;
        const char *name = l->name           ? l->name
                           : c->leaks.n == 1 ? rfy_build_name(b, "%s leak", c->name)
                                             : rfy_build_name(b, "%s leak %zu", c->name, i + 1);
        rfy_edge *edge = rfy_build_edge(b, name, RFY_EDGE_LEAK, b->net->outside_node, node);
        edge->flow = rfy_edge_leak;
        edge->data = rfy_leak_new(b->arena, &b->net->mixture, l->rate, outside, l->gas != NULL);
        edge->copies = b->net->node[node].count;
    }
}

static void fill_partials(rfy_build *b, const rfy_by_gas *table, double *p, rfy_place at) {
    const rfy_mixture *mix = &b->net->mixture;
    memset(p, 0, RFY_MAX_GASES * sizeof *p);
    if (!isnan(table->all)) {
        for (int i = 0; i < mix->n; i++) /* one pressure: of air as outside */
            p[i] = table->all * b->net->ambient[i] / b->net->ambient_pressure;
        return;
    }
    for (int s = 0; s < RFY_MAX_SPECIES; s++) {
        if (isnan(table->of[s]))
            continue;
        int gas = -1;
        for (int i = 0; i < mix->n; i++)
            if (mix->species[i] == s)
                gas = i;
        if (gas >= 0)
            p[gas] = table->of[s];
        else
            rfy_problem_add(b->problems, RFY_ERROR, &at, "gases listed under \"gases\"", NULL,
                            "%s is not among the gases of this run",
                            b->net->catalog->species[s].name);
    }
}

static void build_chambers(rfy_build *b) {
    const rfy_description *d = b->description;
    const rfy_chamber_desc *chambers = d->chambers.item;
    rfy_network *net = b->net;
    /* free chambers first, then junctions, then (internal nodes come later); fixed ones are moved
     * to the end by the caller */
    for (size_t i = 0; i < d->chambers.n; i++) {
        const rfy_chamber_desc *c = &chambers[i];
        int k = rfy_build_node(b, c->name);
        rfy_node *node = &net->node[k];
        bool held = c->reservoir.given;
        if (held == !isnan(c->volume)) {
            rfy_problem_add(b->problems, RFY_ERROR, &c->origin.at,
                            "one of \"volume\" and \"reservoir\"", NULL,
                            held ? "both a volume and a reservoir are given"
                                 : "neither a volume nor a reservoir is given");
            continue;
        }
        node->count = c->count > 0 ? c->count : 1;
        if (!isnan(c->temperature))
            node->temperature = c->temperature;
        if (!isnan(c->bore))
            node->inverse_area = 4 / (RFY_BUILD_PI * c->bore * c->bore);
        if (held) {
            node->fixed = true;
            fill_partials(b, &c->reservoir, node->start, rfy_place_of(&c->origin, "reservoir"));
            if (c->start.given || c->walls.n || c->seals.n || c->leaks.n)
                rfy_problem_add(b->problems, RFY_ERROR, &c->origin.at,
                                "a name and partial pressures only", NULL,
                                "a reservoir has no start, walls, seals or leaks");
            continue;
        }
        node->volume = c->volume * node->count;
        if (c->start.given) {
            fill_partials(b, &c->start, node->start, rfy_place_of(&c->origin, "start"));
        }
    }
    for (size_t i = 0; i < d->junctions.n; i++)
        rfy_build_node(b, d->junctions.item[i]);
    b->n_chambers = (int)d->chambers.n;
    int k = rfy_build_node(b, "ambient");
    net->node[k].fixed = true;
    net->ambient_node = k;
    b->n_named = net->n_nodes;
    k = rfy_build_node(b, "outside");
    net->node[k].fixed = net->node[k].internal = true;
    net->outside_node = k;
}

/* ---- pumps ------------------------------------------------------------------------------------
 */

static void build_pumps(rfy_build *b) {
    rfy_network *net = b->net;
    const rfy_pump_desc *pumps = b->description->pumps.item;
    size_t n = b->description->pumps.n;
    net->pump = RFY_NEW(b->arena, n, rfy_pump);
    for (size_t i = 0; i < n; i++) {
        const rfy_pump_desc *d = &pumps[i];
        rfy_place at_from = rfy_place_of(&d->head.origin, "from");
        int from = rfy_build_find_node(b, d->from, at_from, "the inlet");
        int to = rfy_build_find_node(b, d->to, rfy_place_of(&d->head.origin, "to"), "the outlet");
        if (from < 0 || to < 0)
            continue;
        if (from == to || net->node[from].fixed) {
            rfy_problem_add(
                b->problems, RFY_ERROR, &at_from,
                "an inlet at a chamber with a volume or a junction, other than the outlet", NULL,
                from == to ? "the pump's inlet and outlet are the same place"
                           : "the pump's inlet is at a place of fixed pressure");
            continue;
        }
        rfy_pump *pump = &net->pump[net->n_pumps];
        const rfy_pump_kind *kind = d->head.variant->kind;
        rfy_pump_site site = {.mixture = rfy_build_mixture(b, net->node[from].temperature),
                              .temperature = net->node[from].temperature,
                              .inverse_area = net->node[from].inverse_area,
                              .to_ambient = to == net->ambient_node,
                              .ambient = net->ambient,
                              .arena = b->arena,
                              .catalog = net->catalog,
                              .problems = b->problems,
                              .name = d->name,
                              .assume = b->like ? NULL : assume_from_pump,
                              .context = b};
        *pump = (rfy_pump){
            .name = d->name, .kind = kind, .from = from, .to = to, .on = d->state != RFY_OFF};
        pump->data = kind->build(d->head.values, &d->head.origin, &site);
        if (!pump->data)
            continue;
        kind->inertia(pump->data, &pump->run_up, &pump->coast_down);
        rfy_edge *edge = rfy_build_edge(b, d->name, RFY_EDGE_PUMP, from, to);
        edge->flow = rfy_edge_pump;
        edge->data = pump;
        edge->pump = net->n_pumps;
        pump->edge = net->n_edges - 1;
        /* a pump in a manifold of equal ports comes once for each copy */
        int at_inlet = net->node[from].count, at_outlet = net->node[to].count;
        if (at_inlet != at_outlet && at_inlet > 1 && at_outlet > 1)
            rfy_problem_add(b->problems, RFY_ERROR, &at_from,
                            "the same count at both ends, or one of 1", NULL,
                            "the pump joins %d copies to %d copies", at_inlet, at_outlet);
        if (at_inlet > 1 || at_outlet > 1)
            rfy_build_assume(b, "%s: one for each of the %d copies", d->name,
                             at_inlet > at_outlet ? at_inlet : at_outlet);
        edge->copies =
            (at_inlet > at_outlet ? at_inlet : at_outlet) * (isnan(d->scale) ? 1 : d->scale);
        net->n_pumps++;
    }
}

/* ---- checks of the whole ------------------------------------------------------------------------
 */

static void check_connections(rfy_build *b) {
    rfy_network *net = b->net;
    int n = net->n_nodes;
    int *degree = RFY_NEW(b->arena, (size_t)n, int);
    bool *reached = RFY_NEW(b->arena, (size_t)n, bool);
    for (int e = 0; e < net->n_edges; e++) {
        if (net->edge[e].role != RFY_EDGE_TUBING && net->edge[e].role != RFY_EDGE_PUMP)
            continue;
        degree[net->edge[e].from]++;
        degree[net->edge[e].to]++;
    }
    for (int i = 0; i < n; i++)
        reached[i] = net->node[i].fixed;
    for (bool again = true; again;) {
        again = false;
        for (int e = 0; e < net->n_edges; e++) {
            if (net->edge[e].role != RFY_EDGE_TUBING && net->edge[e].role != RFY_EDGE_PUMP)
                continue;
            bool *f = &reached[net->edge[e].from], *t = &reached[net->edge[e].to];
            if (*f != *t)
                *f = *t = again = true;
        }
    }
    for (int i = 0; i < b->n_named; i++) {
        const rfy_node *node = &net->node[i];
        bool junction = i >= b->n_chambers && !node->fixed;
        rfy_place at = junction ? b->description->junctions.at[i - b->n_chambers] : (rfy_place){0};
        if (!junction && i < b->n_chambers)
            at = ((const rfy_chamber_desc *)b->description->chambers.item)[i].origin.at;
        if (node->fixed)
            continue;
        if (degree[i] == 0 && (junction || b->n_chambers > 1))
            rfy_problem_add(b->problems, junction ? RFY_ERROR : RFY_WARNING, &at, NULL,
                            junction ? NULL : "name it in a line's \"between\", or leave it out",
                            "%s \"%s\" is connected to nothing", junction ? "junction" : "chamber",
                            node->name);
        else if (junction && degree[i] == 1)
            rfy_problem_add(b->problems, RFY_WARNING, &at, NULL, NULL,
                            "junction \"%s\" is a dead end", node->name);
        else if (degree[i] > 0 && !reached[i])
            rfy_problem_add(b->problems, RFY_WARNING, &at, NULL, NULL,
                            "no pump and no opening can be reached from \"%s\"", node->name);
    }
}

/* Moves the fixed nodes behind the free ones and renumbers every reference. */
static void order_nodes(rfy_build *b) {
    rfy_network *net = b->net;
    int n = net->n_nodes, k = 0;
    int *now = RFY_NEW(b->arena, (size_t)n, int);
    rfy_node *sorted = RFY_NEW(b->arena, (size_t)n, rfy_node);
    for (int pass = 0; pass < 2; pass++) {
        for (int i = 0; i < n; i++)
            if (net->node[i].fixed == (pass == 1)) {
                now[i] = k;
                sorted[k++] = net->node[i];
            }
        if (pass == 0)
            net->n_free = k;
    }
    net->node = sorted;
    net->ambient_node = now[net->ambient_node];
    net->outside_node = now[net->outside_node];
    for (int i = 0; i < net->n_edges; i++) {
        net->edge[i].from = now[net->edge[i].from];
        net->edge[i].to = now[net->edge[i].to];
    }
    for (int i = 0; i < net->n_pumps; i++) {
        net->pump[i].from = now[net->pump[i].from];
        net->pump[i].to = now[net->pump[i].to];
    }
    for (int i = 0; i < net->n_lines; i++) {
        net->line[i].from = now[net->line[i].from];
        net->line[i].to = now[net->line[i].to];
    }
    for (int i = 0; i < net->n_emitters; i++)
        net->emitter[i].node = now[net->emitter[i].node];
    for (int i = 0; i < net->n_stores; i++) {
        net->store[i].node = now[net->store[i].node];
        net->store[i].first = rfy_network_inner(net) + net->n_inner;
        net->n_inner += net->store[i].n;
    }
    for (int i = 0; i < net->n_bakes; i++)
        net->bake[i].node = now[net->bake[i].node];
    for (int i = 0; i < net->n_bursts; i++)
        net->burst[i].node = now[net->burst[i].node];
    for (int i = 0; i < net->n_gauges; i++)
        net->gauge[i].node = now[net->gauge[i].node];
    for (int i = 0; i < net->n_valves; i++)
        if (net->valve[i].hole_in >= 0)
            net->valve[i].hole_in = now[net->valve[i].hole_in];
    rfy_answers_renumber(b, now);
}

/* What acts and what is watched speak of parts by their numbers alone. */
static void act_like(rfy_network *net, const rfy_network *like) {
    if (net->n_nodes != like->n_nodes || net->n_free != like->n_free ||
        net->n_valves != like->n_valves || net->n_pumps != like->n_pumps ||
        net->n_gauges != like->n_gauges)
        return;
    net->procedure = like->procedure;
    net->rule = like->rule;
    net->n_rules = like->n_rules;
    net->fault = like->fault;
    net->n_faults = like->n_faults;
    net->limit = like->limit;
    net->n_limits = like->n_limits;
    net->watches_rates = like->watches_rates;
    net->watches_connections = like->watches_connections;
}

static const rfy_network *assemble(rfy_arena *arena, const rfy_catalog *catalog,
                                   const rfy_description *description, rfy_problems *problems,
                                   const rfy_network *like, const rfy_network *laws) {
    rfy_network *net = RFY_NEW(arena, 1, rfy_network);
    rfy_build build = {.arena = arena,
                       .net = net,
                       .description = description,
                       .problems = problems,
                       .like = like,
                       .laws = laws};
    rfy_build *b = &build;
    net->arena = arena;
    net->catalog = catalog;
    net->description = description;
    b->seen_material = RFY_NEW(arena, catalog->n_materials, bool);
    b->errors_before = rfy_problems_errors(problems);

    if (!rfy_build_gases(b))
        return NULL;
    build_chambers(b);
    rfy_build_lines(b);
    rfy_build_bakes(b);
    rfy_build_names(b);
    rfy_build_heats(b);
    const rfy_chamber_desc *chambers = description->chambers.item;
    for (size_t i = 0; i < description->chambers.n; i++) {
        if (net->node[i].fixed)
            continue;
        rfy_build_walls(b, &chambers[i], (int)i);
        rfy_build_seals(b, &chambers[i], (int)i);
        build_leaks(b, &chambers[i], (int)i);
        rfy_build_holders(b, &chambers[i], (int)i);
    }
    build_pumps(b);
    rfy_build_gauges(b);
    rfy_build_bursts(b);
    check_connections(b);
    rfy_build_holes(b);
    for (int e = 0; e < net->n_edges; e++)
        net->edge[e].in_fours =
            net->edge[e].flow == rfy_edge_stretch && !rfy_stretch_alone(net->edge[e].stretch);
    rfy_build_seal_off(b);
    net->until = description->run->until;
    net->tolerance = isnan(description->run->tolerance) ? 3e-4 : description->run->tolerance;
    rfy_build_answers(b);
    if (rfy_problems_errors(problems) > b->errors_before)
        return NULL;
    order_nodes(b);
    if (like)
        act_like(net, like);
    return net;
}

const rfy_network *rfy_network_new(rfy_arena *arena, const rfy_catalog *catalog,
                                   const rfy_description *description, rfy_problems *problems) {
    return assemble(arena, catalog, description, problems, NULL, NULL);
}

const rfy_network *rfy_network_with_laws(rfy_arena *arena, const rfy_catalog *catalog,
                                         const rfy_description *description, rfy_problems *problems,
                                         const rfy_network *laws) {
    return assemble(arena, catalog, description, problems, NULL, laws);
}

const rfy_network *rfy_network_like(rfy_arena *arena, const rfy_catalog *catalog,
                                    const rfy_description *description, rfy_problems *problems,
                                    const rfy_network *like) {
    return assemble(arena, catalog, description, problems, like, like);
}
