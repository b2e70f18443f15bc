/* What faults and sealing off need in a network: a way to shut every line at its ends, and a hole
 * to the air in every place with a name. All of it is shut or open from the beginning and changes
 * nothing until something acts on it. */
#include <math.h>
#include "flow/piece.h"
#include "network/assemble.h"

/* The valve of an edge of the line at that end, made where the edge has none. */
static int shut_off(rfy_build *b, const rfy_line *line, int edge) {
    rfy_edge *e = &b->net->edge[edge];
    if (e->valve < 0)
        e->valve = rfy_build_valve(b, line->name, true);
    return e->valve;
}

static void shut_lines(rfy_build *b) {
    rfy_network *net = b->net;
    for (int i = 0; i < net->n_lines; i++) {
        rfy_line *line = &net->line[i];
        int first = -1, last = -1;
        for (int e = 0; e < net->n_edges; e++)
            if (net->edge[e].role == RFY_EDGE_TUBING && net->edge[e].part == line->name) {
                first = first < 0 ? e : first;
                last = e;
            }
        if (first < 0)
            continue;
        line->shut_off[0] = shut_off(b, line, first);
        line->shut_off[1] = shut_off(b, line, last);
    }
}

void rfy_build_holes(rfy_build *b) {
    rfy_network *net = b->net;
    net->n_user_valves = net->n_valves;
    if (rfy_problems_errors(b->problems) > b->errors_before)
        return;
    shut_lines(b);
    /* a thin sharp edge between open spaces; a smaller hole is the valve in it, partly open */
    rfy_stretch_geometry edge = rfy_tube_geometry(sqrt(4 * RFY_HOLE_AREA / RFY_BUILD_PI), 0, 0);
    edge.thin = true;
    const rfy_stretch *shared = NULL; /* holes between equal temperatures are all alike */
    double shared_at = 0;
    for (int k = 0; k < b->n_named; k++) {
        if (net->node[k].fixed)
            continue;
        const char *name = rfy_build_name(b, "hole in %s", net->node[k].name);
        int hole = rfy_build_valve(b, name, false);
        net->valve[hole].hole_in = k;
        edge.temperature[0] = net->ambient_temperature;
        edge.temperature[1] = net->node[k].temperature;
        rfy_edge *e = rfy_build_edge(b, name, RFY_EDGE_HOLE, net->outside_node, k);
        e->valve = hole;
        e->flow = rfy_edge_stretch;
        if (!shared || shared_at < edge.temperature[1] || shared_at > edge.temperature[1]) {
            shared = rfy_build_stretch(b, &edge);
            shared_at = edge.temperature[1];
        }
        e->stretch = shared;
        e->mixture = rfy_build_mixture(b, 0.5 * (edge.temperature[0] + edge.temperature[1]));
    }
}
