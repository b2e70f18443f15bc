/* Gauges, bursts, and what is asked of a run: procedure, limits, targets. */
#include <math.h>
#include "network/assemble.h"

void rfy_build_gauges(rfy_build *b) {
    rfy_network *net = b->net;
    const rfy_gauge_desc *gauges = b->description->gauges.item;
    size_t n = b->description->gauges.n;
    net->gauge = RFY_NEW(b->arena, n, rfy_gauge);
    for (size_t i = 0; i < n; i++) {
        const rfy_gauge_desc *d = &gauges[i];
        int node = rfy_build_find_node(b, d->at, rfy_place_of(&d->origin, "at"), "the place");
        if (node < 0)
            continue;
        if (d->range.from >= d->range.to) {
            rfy_place at = rfy_place_of(&d->origin, "range");
            rfy_problem_add(b->problems, RFY_ERROR, &at, "the lowest reading, then the highest",
                            NULL, "the range of the gauge is upside down");
            continue;
        }
        rfy_gauge *g = &net->gauge[net->n_gauges++];
        *g = (rfy_gauge){.name = d->name,
                         .node = node,
                         .kind = d->kind,
                         .low = d->range.from,
                         .high = d->range.to,
                         .on = d->state != RFY_OFF};
        for (int k = 0; k < net->mixture.n; k++) {
            const rfy_species *s = &net->catalog->species[net->mixture.species[k]];
            double f = d->kind == RFY_GAUGE_CAPACITANCE ? 1
                       : d->kind == RFY_GAUGE_THERMAL   ? s->thermal_sensitivity
                                                        : s->ion_sensitivity;
            g->factor[k] = isnan(f) ? 1 : f;
        }
    }
}

void rfy_build_bursts(rfy_build *b) {
    rfy_network *net = b->net;
    const rfy_source_desc *sources = b->description->sources.item;
    size_t n = b->description->sources.n;
    net->burst = RFY_NEW(b->arena, n, rfy_burst);
    for (size_t i = 0; i < n; i++) {
        const rfy_source_desc *d = &sources[i];
        int node = rfy_build_find_node(b, d->at, rfy_place_of(&d->origin, "at"), "the place");
        int gas = rfy_build_gas(b, d->gas, rfy_place_of(&d->origin, "gas"));
        if (node < 0 || gas < 0)
            continue;
        if (net->node[node].fixed) {
            rfy_place at = rfy_place_of(&d->origin, "at");
            rfy_problem_add(b->problems, RFY_ERROR, &at, "a chamber with a volume, or a junction",
                            NULL, "the pressure of \"%s\" never changes", d->at);
            continue;
        }
        if (!(d->during.to > d->during.from)) {
            rfy_place at = rfy_place_of(&d->origin, "during");
            rfy_problem_add(b->problems, RFY_ERROR, &at, "the beginning, then a later end", NULL,
                            "the burst ends before it begins");
            continue;
        }
        const char *name =
            d->name ? d->name : rfy_arena_printf(b->arena, "burst of %s at %s", d->gas, d->at);
        double moles = d->amount / (RFY_R * RFY_T_REF) * net->node[node].count;
        net->burst[net->n_bursts++] = (rfy_burst){.name = name,
                                                  .node = node,
                                                  .gas = gas,
                                                  .from = d->during.from,
                                                  .to = d->during.to,
                                                  .flow = moles / (d->during.to - d->during.from)};
    }
}

void rfy_build_answers(rfy_build *b) {
    rfy_network *net = b->net;
    const rfy_description *d = b->description;
    /* Names for conditions and actions: all that the file has, also of parts that could not be
     * built, so that one fault does not make others of every step that mentions the part. In a
     * sound file these are the same. */
    rfy_names *names = &b->names;
    const rfy_pump_desc *pumps = d->pumps.item;
    const rfy_gauge_desc *gauges = d->gauges.item;
    const char **node = RFY_NEW(b->arena, (size_t)b->n_named, const char *);
    const char **pump = RFY_NEW(b->arena, d->pumps.n, const char *);
    const char **gauge = RFY_NEW(b->arena, d->gauges.n, const char *);
    for (int i = 0; i < b->n_named; i++)
        node[i] = net->node[i].name;
    for (size_t i = 0; i < d->pumps.n; i++)
        pump[i] = pumps[i].name;
    for (size_t i = 0; i < d->gauges.n; i++)
        gauge[i] = gauges[i].name;
    int n_valves;
    const char *const *valve = rfy_build_valve_names(b, &n_valves);
    *names = (rfy_names){b->n_named, (int)d->pumps.n, n_valves, (int)d->gauges.n, node,
                         pump,       valve,           gauge};

    const rfy_step_desc *steps = d->procedure.item;
    net->procedure.step = RFY_NEW(b->arena, d->procedure.n, rfy_step);
    for (size_t i = 0; i < d->procedure.n; i++) {
        rfy_step *s = &net->procedure.step[net->procedure.n_steps++];
        s->text = steps[i].when;
        s->when = rfy_condition_parse(b->arena, net->catalog->units, names, steps[i].when,
                                      rfy_place_of(&steps[i].origin, "when"), b->problems);
        s->action = RFY_NEW(b->arena, steps[i].actions.n, rfy_action);
        for (size_t k = 0; k < steps[i].actions.n; k++)
            if (rfy_action_parse(names, steps[i].actions.item[k], steps[i].actions.at[k],
                                 b->problems, b->arena, &s->action[s->n_actions]))
                s->n_actions++;
    }
    const rfy_limit_desc *limits = d->limits.item;
    net->limit = RFY_NEW(b->arena, d->limits.n, rfy_limit);
    for (size_t i = 0; i < d->limits.n; i++) {
        int k = rfy_build_find_node(b, limits[i].watch, rfy_place_of(&limits[i].origin, "watch"),
                                    "the watched place");
        rfy_condition *while_ = NULL;
        if (limits[i].while_)
            while_ = rfy_condition_parse(b->arena, net->catalog->units, names, limits[i].while_,
                                         rfy_place_of(&limits[i].origin, "while"), b->problems);
        if (k >= 0 && net->node[k].fixed) {
            rfy_place at = rfy_place_of(&limits[i].origin, "watch");
            rfy_problem_add(b->problems, RFY_ERROR, &at, "a chamber with a volume, or a junction",
                            NULL, "the pressure of \"%s\" never changes", limits[i].watch);
        } else if (k >= 0)
            net->limit[net->n_limits++] =
                (rfy_limit){.name = limits[i].name,
                            .node = k,
                            .while_ = while_,
                            .max = limits[i].max,
                            .duration = isnan(limits[i].duration) ? 0 : limits[i].duration};
    }
    const rfy_target_desc *targets = d->targets.item;
    net->target = RFY_NEW(b->arena, d->targets.n, rfy_target);
    for (size_t i = 0; i < d->targets.n; i++) {
        int k = rfy_build_find_node(b, targets[i].chamber,
                                    rfy_place_of(&targets[i].origin, "chamber"), "the chamber");
        if (k >= 0 && net->node[k].fixed) {
            rfy_place at = rfy_place_of(&targets[i].origin, "chamber");
            rfy_problem_add(b->problems, RFY_ERROR, &at, "a chamber with a volume, or a junction",
                            NULL, "the pressure of \"%s\" never changes", targets[i].chamber);
        } else if (k >= 0) {
            net->target[net->n_targets++] =
                (rfy_target){.name = targets[i].name, .node = k, .pressure = targets[i].pressure};
        }
    }
}
