/* Lines: pieces of equal bore merge into stretches; a node is put inside the line at each change of
 * bore, at each given conductance, and between two valves. Each end of a stretch gets half of its
 * volume and wall; a valve is where the halves part. */
#include <math.h>
#include <string.h>
#include "flow/piece.h"
#include "network/assemble.h"

typedef struct element {
    rfy_piece_role role;
    double bore[2]; /* of its ends; 0 for a given conductance */
    double molecular_length, viscous_length, loss, roughness; /* of merged bore pieces */
    rfy_stretch_geometry own;
    double conductance;
    const rfy_curve *curve; /* the same over mean pressure, or NULL */
    double volume[2];       /* to each end */
    int first, last;        /* pieces */
    int valve;              /* index in the network, -1 */
    double seat_leak;
    const char *label;
} element;

typedef struct line_plan {
    rfy_piece_shape *shape;
    const char **label;
    rfy_place *at;
    int n;
    element *element;
    int n_elements;
} line_plan;

static double area_of(double bore) {
    return RFY_BUILD_PI * bore * bore / 4;
}

static const char *valve_name(rfy_build *b, const rfy_line_desc *d, const rfy_piece_shape *s) {
    return s->name ? s->name : rfy_arena_printf(b->arena, "%s valve", d->name);
}

const char *const *rfy_build_valve_names(rfy_build *b, int *n) {
    const rfy_line_desc *lines = b->description->lines.item;
    size_t pieces = 0;
    for (size_t i = 0; i < b->description->lines.n; i++)
        pieces += lines[i].pieces.n;
    const char **names = RFY_NEW(b->arena, pieces, const char *);
    *n = 0;
    for (size_t i = 0; i < b->description->lines.n; i++)
        for (size_t k = 0; k < lines[i].pieces.n; k++) {
            const rfy_piece_desc *p = (const rfy_piece_desc *)lines[i].pieces.item + k;
            rfy_piece_shape shape = {0};
            ((const rfy_piece_kind *)p->variant->kind)->shape(p->values, &shape);
            if (shape.is_valve)
                names[(*n)++] = valve_name(b, &lines[i], &shape);
        }
    return names;
}

static const char *label_of(rfy_build *b, const rfy_piece_kind *kind, const void *values) {
    char text[160];
    if (b->like) /* as with rfy_build_name */
        return "";
    kind->label(values, text, sizeof text);
    return rfy_arena_strdup(b->arena, text);
}

/* False after a problem: a piece whose values do not go together. */
static bool read_shapes(rfy_build *b, const rfy_line_desc *d, int line, line_plan *plan,
                        int *valves) {
    bool sound = true;
    const rfy_piece_desc *pieces = d->pieces.item;
    plan->n = (int)d->pieces.n;
    plan->shape = RFY_NEW(b->arena, d->pieces.n, rfy_piece_shape);
    plan->label = RFY_NEW(b->arena, d->pieces.n, const char *);
    plan->at = RFY_NEW(b->arena, d->pieces.n, rfy_place);
    for (int i = 0; i < plan->n; i++) {
        const rfy_piece_kind *kind = pieces[i].variant->kind;
        rfy_piece_shape *s = &plan->shape[i];
        s->seat_leak = NAN;
        kind->shape(pieces[i].values, s);
        sound = rfy_piece_is_sound(s, pieces[i].values, b->problems) && sound;
        plan->label[i] = label_of(b, kind, pieces[i].values);
        plan->at[i] = pieces[i].origin.at;
        if (s->assumed)
            rfy_build_assume(b, "%s%s%s: %s", s->name ? "" : d->name, s->name ? "" : ", ",
                             s->name ? s->name : plan->label[i], s->assumed);
        valves[i] = -1;
        if (s->is_valve) {
            valves[i] = rfy_build_valve(b, valve_name(b, d, s), s->state == RFY_OPEN);
            rfy_valve *valve = &b->net->valve[valves[i]];
            valve->moves_in = s->moves_in;
            valve->line = line;
            valve->without_mains = s->without_mains;
        }
    }
    return sound;
}

/* Bore of what a piece stands in at one end: a mesh sits in a tube that is wider than its holes. */
static double outer_bore(const rfy_piece_shape *s, int end) {
    if (s->role != RFY_PIECE_OWN || s->bore > 0)
        return s->bore;
    return sqrt(4 * s->own.end_area[end] / RFY_BUILD_PI);
}

/* Groups pieces: same bore, at most one valve, orifices and given conductances alone. */
static void group(rfy_build *b, line_plan *plan, const int *valves, bool cut) {
    plan->element = RFY_NEW(b->arena, (size_t)plan->n, element);
    for (int i = 0; i < plan->n; i++) {
        const rfy_piece_shape *s = &plan->shape[i];
        element *e = plan->n_elements ? &plan->element[plan->n_elements - 1] : NULL;
        bool joins = e && e->role == RFY_PIECE_BORE && s->role == RFY_PIECE_BORE &&
                     fabs(e->bore[0] - s->bore) <= 1e-9 * s->bore &&
                     !(e->valve >= 0 && s->is_valve) && !(cut && (e->valve >= 0 || s->is_valve));
        if (!joins) {
            e = &plan->element[plan->n_elements++];
            *e = (element){.role = s->role, .first = i, .valve = -1, .seat_leak = NAN};
            e->conductance = s->conductance;
            e->curve = s->curve;
            e->bore[0] = e->bore[1] = s->bore;
            if (s->role == RFY_PIECE_OWN) {
                e->own = s->own;
                for (int k = 0; k < 2; k++)
                    e->bore[k] = outer_bore(s, k);
            }
        }
        e->last = i;
        e->molecular_length += s->molecular_length;
        e->viscous_length += s->viscous_length;
        e->loss += s->loss;
        if (s->roughness > e->roughness)
            e->roughness = s->roughness;
        if (s->is_valve) {
            e->valve = valves[i];
            e->seat_leak = s->seat_leak;
        }
    }
    /* volumes: before the valve to the first end, behind it to the second; halves without one */
    for (int k = 0; k < plan->n_elements; k++) {
        element *e = &plan->element[k];
        int valve = -1;
        for (int i = e->first; i <= e->last; i++)
            if (plan->shape[i].is_valve)
                valve = i;
        for (int i = e->first; i <= e->last; i++) {
            double to_first = valve < 0 || i == valve ? 0.5 : i < valve ? 1 : 0;
            e->volume[0] += to_first * plan->shape[i].volume;
            e->volume[1] += (1 - to_first) * plan->shape[i].volume;
        }
        e->label = e->first == e->last ? plan->label[e->first]
                                       : rfy_build_name(b, "%.4g mm bore, %.3g m", e->bore[0] * 1e3,
                                                        e->viscous_length);
    }
}

static void wall_of_pieces(rfy_build *b, const rfy_line_desc *d, const line_plan *plan,
                           const element *e, const int *ends, int cells, int copies) {
    int valve = -1;
    for (int i = e->first; i <= e->last; i++)
        if (plan->shape[i].is_valve)
            valve = i;
    for (int i = e->first; i <= e->last; i++) {
        const rfy_piece_shape *s = &plan->shape[i];
        if (!s->material)
            continue;
        rfy_power_law law;
        int gas;
        double spread;
        if (!rfy_build_material(b, s->material, NULL, plan->at[i], &law, &gas, &spread))
            continue;
        double to_first = valve < 0 ? 0.5 : i < valve ? 1 : 0;
        const char *name = rfy_build_name(b, "%s wall (%s)", d->name,
                                          rfy_material_name(b->net->catalog, s->material));
        for (int k = 0; k < 2; k++) {
            double share = k == 0 ? to_first : 1 - to_first;
            if (!b->net->node[ends[k]].fixed)
                rfy_build_emitter(b, name, s->material, ends[k], gas,
                                  share * s->wall_area / cells * copies, spread, &law);
        }
    }
}

static void add_seat_leak(rfy_build *b, const rfy_line_desc *d, const element *e, const int *ends,
                          double copies) {
    double outside[RFY_MAX_GASES];
    if (isnan(e->seat_leak) || !(e->seat_leak > 0))
        return;
    memcpy(outside, b->net->ambient, sizeof outside);
    rfy_edge *edge = rfy_build_edge(
        b, rfy_build_name(b, "%s, leak through the seat", b->net->valve[e->valve].name),
        RFY_EDGE_LEAK, ends[0], ends[1]);
    edge->part = d->name;
    edge->flow = rfy_edge_leak;
    edge->data = rfy_leak_new(b->arena, &b->net->mixture, e->seat_leak, outside, false);
    edge->copies = copies;
}

/* A stretch cut into equal cells: each obeys n times the law of the whole, and its inner nodes have
 * their own share of volume and wall, so that pressure along the tube and gas given off along it
 * are followed. */
static void build_cells(rfy_build *b, const rfy_line_desc *d, const line_plan *plan,
                        const element *e, const rfy_stretch_geometry *whole, const char *name,
                        const int *ends, int n, int copies, int line) {
    rfy_network *net = b->net;
    double volume = 0, t0 = net->node[ends[0]].temperature, t1 = net->node[ends[1]].temperature;
    for (int i = e->first; i <= e->last; i++)
        volume += plan->shape[i].volume;
    int before = ends[0];
    rfy_stretch_geometry of_last, *last = NULL; /* equal cells share one law */
    for (int k = 0; k < n; k++) {
        int next = ends[1];
        if (k + 1 < n) {
            next = rfy_build_node(b, rfy_build_name(b, "%s, cell border %d", name, k + 1));
            rfy_node *inside = &net->node[next];
            inside->internal = true;
            inside->count = copies;
            inside->inverse_area = 1 / whole->area;
            inside->temperature = t0 + (t1 - t0) * (k + 1) / n;
            memcpy(inside->start, net->node[ends[2 * (k + 1) <= n ? 0 : 1]].start,
                   sizeof inside->start);
        }
        int pair[2] = {before, next};
        rfy_stretch_geometry g = *whole;
        g.cells = n;
        /* the outlet cell carries the inertia: into a vacuum it then passes what the whole does */
        g.inertia = k == 0 || k == n - 1;
        g.one_way = k == 0 ? 2 : k == n - 1 ? 1 : 0;
        for (int s = 0; s < 2; s++) {
            rfy_node *node = &net->node[pair[s]];
            g.temperature[s] = node->temperature;
            if (!node->fixed)
                node->volume += 0.5 * volume / n * copies;
        }
        rfy_edge *edge = rfy_build_edge(b, name, RFY_EDGE_TUBING, before, next);
        edge->part = d->name;
        edge->copies = copies * (isnan(d->scale) ? 1 : d->scale);
        edge->flow = rfy_edge_stretch;
        bool same = last && last->inertia == g.inertia && last->one_way == g.one_way &&
                    last->temperature[0] == g.temperature[0] &&
                    last->temperature[1] == g.temperature[1];
        edge->stretch = same ? edge[-1].stretch : rfy_build_stretch(b, &g);
        edge->mixture = rfy_build_mixture(b, 0.5 * (g.temperature[0] + g.temperature[1]));
        of_last = g;
        last = &of_last;
        if (k == 0 && net->line[line].narrowest < 0)
            net->line[line].narrowest = net->n_edges - 1;
        wall_of_pieces(b, d, plan, e, pair, n, copies);
        before = next;
    }
}

/* Cells that keep the error of a line's own time constants below what is asked. In a line of n
 * cells the mode that fits k L radians into the line relaxes too slowly by (k L)^2/(12 n^2)
 * (central differences for the diffusion equation; exact to that order in molecular flow, where a
 * line is one). The slowest mode of a line of volume V between V_1 and V_2 has (k L)^2 of at most
 * V/V_1 + V/V_2 (Rayleigh's quotient with an even slope) and of at most pi^2. */
static int cells_for(rfy_build *b, const rfy_line_desc *d, const line_plan *plan, double from,
                     double to) {
    double volume = 0;
    for (int i = 0; i < plan->n; i++)
        volume += plan->shape[i].volume;
    double mode = volume / from + volume / to, most = RFY_BUILD_PI * RFY_BUILD_PI;
    double n = ceil(sqrt(fmin(mode, most) / (12 * d->cell_error)));
    int cells = n < 1 ? 1 : (int)n;
    rfy_build_assume(b, "%s: %s for an error of %.3g %% in how fast it follows", d->name,
                     cells == 1 ? "one piece is enough"
                                : rfy_arena_printf(b->arena, "cut into %d cells a stretch", cells),
                     100 * d->cell_error);
    return cells;
}

/* One line whose ends are known; of_ends: the ends' own volumes without any tubing, 0 for a
 * junction. */
static void build_line(rfy_build *b, const rfy_line_desc *d, int line, int from, int to,
                       const double *of_ends) {
    rfy_network *net = b->net;
    line_plan plan = {0};
    int *valves = RFY_NEW(b->arena, d->pieces.n, int);
    if (!read_shapes(b, d, line, &plan, valves))
        return;
    for (int i = 0; i < plan.n; i++) {
        const rfy_piece_desc *piece = (const rfy_piece_desc *)d->pieces.item + i;
        net->line[line].length += plan.shape[i].viscous_length;
        if (strcmp(piece->variant->name, "trap") == 0)
            net->line[line].trap = true;
    }
    int cells = isnan(d->cell_error) ? d->cells : cells_for(b, d, &plan, of_ends[0], of_ends[1]);
    group(b, &plan, valves, cells > 1);
    int n = plan.n_elements, copies = net->node[from].count;
    if (net->node[to].count > copies)
        copies = net->node[to].count;

    int *node = RFY_NEW(b->arena, (size_t)n + 1, int);
    node[0] = from;
    node[n] = to;
    for (int k = 1; k < n; k++) {
        const element *left = &plan.element[k - 1], *right = &plan.element[k];
        node[k] =
            rfy_build_node(b, rfy_build_name(b, "%s, behind %s", d->name, plan.label[left->last]));
        rfy_node *inside = &net->node[node[k]];
        inside->internal = true;
        inside->count = copies;
        /* the wider of the two bores; beside a given conductance the bore of the tube */
        double bore = left->bore[1] > right->bore[0] ? left->bore[1] : right->bore[0];
        inside->inverse_area = bore > 0 ? 1 / area_of(bore) : 0;
        inside->temperature = 0.5 * (net->node[from].temperature + net->node[to].temperature);
        /* it starts with the gas of the end it is open to; of the nearer one where both are or
         * neither is */
        bool to_first = true, to_last = true;
        for (int j = 0; j < n; j++) {
            int valve = plan.element[j].valve;
            bool shut = valve >= 0 && !net->valve[valve].open;
            to_first = to_first && !(shut && j < k);
            to_last = to_last && !(shut && j >= k);
        }
        bool first = to_first != to_last ? to_first : 2 * k <= n;
        memcpy(inside->start, net->node[first ? from : to].start, sizeof inside->start);
    }
    for (int k = 0; k < n; k++) {
        element *e = &plan.element[k];
        int ends[2] = {node[k], node[k + 1]};
        const char *name = n == 1 ? d->name : rfy_build_name(b, "%s: %s", d->name, e->label);
        if (cells > 1 && e->role == RFY_PIECE_BORE && e->valve < 0) {
            rfy_stretch_geometry g =
                rfy_tube_geometry(e->bore[0], e->molecular_length, e->viscous_length);
            g.loss = e->loss;
            g.roughness = e->roughness;
            for (int s = 0; s < 2; s++)
                g.inverse_area[s] = net->node[ends[s]].inverse_area;
            build_cells(b, d, &plan, e, &g, name, ends, cells, copies, line);
            continue;
        }
        for (int s = 0; s < 2; s++)
            if (!net->node[ends[s]].fixed)
                net->node[ends[s]].volume += e->volume[s] * copies;
        if (e->role == RFY_PIECE_OWN && e->own.thin)
            for (int s = 0; s < 2; s++)
                if (net->node[ends[s]].inverse_area * e->own.end_area[s] > 1 - 1e-9) {
                    rfy_problem_add(b->problems, RFY_ERROR, &plan.at[e->first],
                                    "an orifice narrower than what stands on both sides of it",
                                    NULL, "%s is as wide as what stands %s it",
                                    plan.label[e->first], s == 0 ? "before" : "behind");
                    return;
                }
        rfy_edge *edge = rfy_build_edge(b, name, RFY_EDGE_TUBING, ends[0], ends[1]);
        edge->part = d->name;
        edge->copies = copies * (isnan(d->scale) ? 1 : d->scale);
        edge->valve = e->valve;
        if (e->role == RFY_PIECE_GIVEN) {
            double temperature =
                0.5 * (net->node[ends[0]].temperature + net->node[ends[1]].temperature);
            if (e->curve) {
                edge->flow = rfy_edge_given_curve;
                edge->data = rfy_given_curve_new(b->arena, &net->mixture, e->curve, temperature);
                rfy_build_assume(b,
                                 "%s: each gas by its own pressure and the root of its mass; the "
                                 "conductance is constant beyond the ends of its curve",
                                 name);
            } else {
                edge->flow = rfy_edge_given;
                edge->data =
                    rfy_given_molecular(b->arena, &net->mixture, e->conductance, temperature);
                rfy_build_assume(b, "%s: its conductance is not raised at higher pressure", name);
            }
        } else {
            rfy_stretch_geometry g =
                e->role == RFY_PIECE_OWN
                    ? e->own
                    : rfy_tube_geometry(e->bore[0], e->molecular_length, e->viscous_length);
            g.loss += e->role == RFY_PIECE_BORE ? e->loss : 0;
            g.roughness = e->roughness;
            for (int s = 0; s < 2; s++) {
                g.inverse_area[s] = net->node[ends[s]].inverse_area;
                g.temperature[s] = net->node[ends[s]].temperature;
            }
            edge->flow = rfy_edge_stretch;
            edge->stretch = rfy_build_stretch(b, &g);
            edge->mixture = rfy_build_mixture(b, 0.5 * (g.temperature[0] + g.temperature[1]));
            rfy_line *l = &net->line[line];
            if (l->narrowest < 0 ||
                rfy_stretch_molecular_conductance(edge->stretch, 0.028) <
                    rfy_stretch_molecular_conductance(net->edge[l->narrowest].stretch, 0.028))
                l->narrowest = net->n_edges - 1;
        }
        add_seat_leak(b, d, e, ends, copies);
        wall_of_pieces(b, d, &plan, e, ends, 1, copies);
    }
}

/* A junction is as wide as the widest tube that ends there, so that equal bores meet without an
 * aperture. */
static void widen_junction(rfy_build *b, int node, double bore) {
    rfy_node *j = &b->net->node[node];
    if (node < b->n_chambers || node >= b->n_named || j->fixed || !(bore > 0))
        return;
    double inverse = 1 / area_of(bore);
    if (j->inverse_area == 0 || inverse < j->inverse_area)
        j->inverse_area = inverse;
}

static double end_bore(const rfy_line_desc *d, bool last) {
    const rfy_piece_desc *pieces = d->pieces.item;
    rfy_piece_shape shape = {0};
    const rfy_piece_desc *p = &pieces[last ? d->pieces.n - 1 : 0];
    ((const rfy_piece_kind *)p->variant->kind)->shape(p->values, &shape);
    double bore = outer_bore(&shape, last ? 1 : 0);
    /* a hole in a plate says nothing about what is before the plate */
    bool bare = shape.own.thin && shape.own.end_area[last ? 1 : 0] >= area_of(bore) * (1 - 1e-9);
    return bare || shape.fault.key ? 0 : bore;
}

void rfy_build_lines(rfy_build *b) {
    rfy_network *net = b->net;
    const rfy_line_desc *lines = b->description->lines.item;
    size_t n = b->description->lines.n;
    net->line = RFY_NEW(b->arena, n, rfy_line);
    net->n_lines = (int)n;
    for (size_t i = 0; i < n; i++) {
        const rfy_line_desc *d = &lines[i];
        rfy_line *l = &net->line[i];
        *l = (rfy_line){
            .name = d->name, .from = -1, .to = -1, .narrowest = -1, .shut_off = {-1, -1}};
        rfy_place at = rfy_place_of(&d->origin, "between");
        if (d->between.n != 2) {
            rfy_problem_add(b->problems, RFY_ERROR, &at, "two names", NULL,
                            "a line joins two places, not %zu", d->between.n);
            continue;
        }
        int from = rfy_build_find_node(b, d->between.item[0], d->between.at[0], "the line's end");
        int to = rfy_build_find_node(b, d->between.item[1], d->between.at[1], "the line's end");
        if (from < 0 || to < 0)
            continue;
        if (from == to) {
            rfy_problem_add(b->problems, RFY_ERROR, &at, "two different places", NULL,
                            "the line runs from \"%s\" back to itself", net->node[from].name);
            continue;
        }
        if (d->pieces.n == 0) {
            at = rfy_place_of(&d->origin, "pieces");
            rfy_problem_add(b->problems, RFY_ERROR, &at, "at least one piece", NULL,
                            "the line has no pieces");
            continue;
        }
        if (net->node[from].count != net->node[to].count && net->node[from].count > 1 &&
            net->node[to].count > 1) {
            rfy_problem_add(b->problems, RFY_ERROR, &at, "the same count at both ends, or one of 1",
                            NULL, "the line joins %d copies to %d copies", net->node[from].count,
                            net->node[to].count);
            continue;
        }
        /* what vents and broken necks let in is booked apart from what pumps throw out */
        l->from = from == net->ambient_node ? net->outside_node : from;
        l->to = to == net->ambient_node ? net->outside_node : to;
        for (int end = 0; end < 2; end++) {
            double bore = end_bore(d, end == 1);
            l->end_area[end] = area_of(bore > 0 ? bore : 0.01);
        }
        widen_junction(b, from, end_bore(d, false));
        widen_junction(b, to, end_bore(d, true));
    }
    double *own = RFY_NEW(b->arena, (size_t)net->n_nodes, double);
    for (int k = 0; k < net->n_nodes; k++)
        own[k] = net->node[k].fixed ? (double)INFINITY : net->node[k].volume / net->node[k].count;
    for (size_t i = 0; i < n; i++) {
        if (net->line[i].from < 0)
            continue;
        if (!isnan(lines[i].cell_error) && lines[i].cells >= 0) {
            rfy_place at = rfy_place_of(&lines[i].origin, "cell_error");
            rfy_problem_add(b->problems, RFY_ERROR, &at, "cells or cell_error", NULL,
                            "the line has a number of cells and an error to choose it by");
            continue;
        }
        double of_ends[2] = {own[net->line[i].from], own[net->line[i].to]};
        build_line(b, &lines[i], (int)i, net->line[i].from, net->line[i].to, of_ends);
    }

    /* A place without volume would have no time of its own: give it at least a tenth of a bore of
     * tube. */
    for (int i = 0; i < net->n_nodes; i++) {
        rfy_node *node = &net->node[i];
        if (node->fixed || (i < b->n_chambers))
            continue;
        double area = node->inverse_area > 0 ? 1 / node->inverse_area : 1e-6;
        double least = area * sqrt(4 * area / RFY_BUILD_PI) / 10 * node->count;
        if (node->volume < least) {
            rfy_build_assume(b, "%s: given a volume of %.2g cm3, a tenth of a bore of tube",
                             node->name, least * 1e6);
            node->volume = least;
        }
    }
}
