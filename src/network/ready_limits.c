/* Limits that come with a kind of part. Every figure is common practice, no source, unless it is
 * the part's own; the makers' figures take their place through "limits" in the description. */
#include <math.h>
#include <string.h>
#include "network/assemble.h"

/* Below this a rotor or jet counts as harmless. */
static const double turns = 0.2, hot = 0.5;

static rfy_condition *pump_above(rfy_build *b, int pump, double turn) {
    return rfy_condition_new(b->arena, RFY_COND_TURN, pump, false, turn);
}

static void add(rfy_build *b, const char *what, const char *part, rfy_limit limit) {
    limit.name = rfy_arena_printf(b->arena, "%s of %s", what, part);
    *rfy_build_limit(b, limit.name) = limit;
}

static void for_pump(rfy_build *b, int i) {
    const rfy_network *net = b->net;
    const rfy_pump *p = &net->pump[i];
    const char *kind = p->kind->name;
    const bool turbo = strcmp(kind, "turbomolecular") == 0, jets = strcmp(kind, "diffusion") == 0;
    if (turbo || jets) {
        add(b, turbo ? "inlet" : "oil", p->name,
            (rfy_limit){.node = p->from,
                        .while_ = pump_above(b, i, turbo ? turns : hot),
                        .allowed = turbo ? 100 : 50,
                        .ready = turbo ? "a spinning rotor does not stand dense gas"
                                       : "hot oil burns and is blown about in dense gas"});
        if (!net->node[p->to].fixed)
            add(b, "foreline", p->name,
                (rfy_limit){.node = p->to,
                            .while_ = pump_above(b, i, turbo ? turns : hot),
                            .allowed = p->kind->foreline_limit(p->data),
                            .ready = turbo ? "behind a spinning rotor"
                                           : "the jets break down and oil goes forward"});
    }
    if (strcmp(kind, "rotary vane") == 0 && p->to == net->ambient_node) {
        rfy_condition *off = rfy_condition_new(b->arena, RFY_COND_DRIVEN, i, true, 0),
                      *open = rfy_condition_new(b->arena, RFY_COND_CONNECTED, i, false, 0);
        add(b, "oil", p->name,
            (rfy_limit){.node = p->from,
                        .kind = RFY_LIMIT_MIN,
                        .while_ = rfy_condition_both(b->arena, off, open),
                        .allowed = 1e4,
                        .duration = 60, /* its own valve holds for a while */
                        .ready = "oil is drawn back where it stands under vacuum with an open way "
                                 "to the clean side"});
        b->net->watches_connections = true;
    }
}

void rfy_build_ready_limits(rfy_build *b) {
    const rfy_network *net = b->net;
    for (int i = 0; i < net->n_pumps; i++)
        for_pump(b, i);
    for (int i = 0; i < net->n_gauges; i++) {
        const rfy_gauge *g = &net->gauge[i];
        if (g->kind == RFY_GAUGE_HOT_CATHODE && !net->node[g->node].fixed)
            add(b, "filament", g->name,
                (rfy_limit){.node = g->node,
                            .while_ = rfy_condition_new(b->arena, RFY_COND_SWITCHED, i, false, 0),
                            .allowed = 1,
                            .ready = "a hot filament burns out in air or rough vacuum"});
    }
}
