/* Pockets of gas; getters; wet, frozen and cold surfaces. */
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "network/assemble.h"
#include "surface/condensate.h"
#include "surface/getter.h"

/* ---- pockets ---- */

static void build_trapped(rfy_build *b, const rfy_chamber_desc *c, int chamber) {
    const rfy_trapped_desc *list = c->trapped.item;
    for (size_t i = 0; i < c->trapped.n; i++) {
        const rfy_trapped_desc *d = &list[i];
        bool gap = !isnan(d->bore) || !isnan(d->length);
        if (gap == !isnan(d->conductance) || isnan(d->bore) != isnan(d->length)) {
            rfy_problem_add(b->problems, RFY_ERROR, &d->origin.at,
                            "\"conductance\", or \"bore\" and \"length\"", NULL,
                            gap ? "the passage of this pocket is described in two ways or by half"
                                : "the passage of this pocket is not described");
            continue;
        }
        const char *name = d->name ? d->name
                           : c->trapped.n == 1
                               ? rfy_build_name(b, "%s trapped volume", c->name)
                               : rfy_build_name(b, "%s trapped volume %zu", c->name, i + 1);
        int node = rfy_build_node(b, name), copies = b->net->node[chamber].count;
        rfy_node *pocket = &b->net->node[node], *room = &b->net->node[chamber];
        pocket->internal = true;
        pocket->count = copies;
        pocket->volume = d->volume * copies;
        pocket->temperature = room->temperature;
        memcpy(pocket->start, room->start, sizeof pocket->start);
        rfy_edge *edge = rfy_build_edge(b, rfy_build_name(b, "%s, passage", name), RFY_EDGE_TUBING,
                                        node, chamber);
        edge->copies = copies;
        edge->mixture = rfy_build_mixture(b, room->temperature);
        if (gap) {
            rfy_stretch_geometry g = rfy_tube_geometry(d->bore, d->length, d->length);
            for (int s = 0; s < 2; s++)
                g.temperature[s] = room->temperature;
            g.inverse_area[1] = room->inverse_area;
            edge->flow = rfy_edge_stretch;
            edge->stretch = rfy_build_stretch(b, &g);
        } else {
            edge->flow = rfy_edge_given;
            edge->data =
                rfy_given_molecular(b->arena, &b->net->mixture, d->conductance, room->temperature);
            rfy_build_assume(
                b, "%s: the conductance of its passage is not raised at higher pressure", name);
        }
    }
}

/* ---- getters ---- */

static void build_getters(rfy_build *b, const rfy_chamber_desc *c, int node) {
    const rfy_getter_desc *list = c->getters.item;
    const rfy_catalog *catalog = b->net->catalog;
    for (size_t i = 0; i < c->getters.n; i++) {
        const rfy_getter_desc *d = &list[i];
        bool known = false, by_mass = false;
        const char **names = RFY_NEW(b->arena, catalog->n_getters, const char *);
        for (size_t k = 0; k < catalog->n_getters; k++) {
            const rfy_getter_row *row = &catalog->getter[k];
            names[k] = row->getter;
            if (strcmp(row->getter, d->getter) == 0) {
                known = true;
                by_mass = by_mass || !isnan(row->capacity_by_mass);
            }
        }
        if (!known) {
            rfy_build_unknown(b, "getter", d->getter, names, catalog->n_getters,
                              rfy_place_of(&d->origin, "getter"));
            continue;
        }
        if (by_mass == isnan(d->mass)) {
            rfy_place at = rfy_place_of(&d->origin, by_mass ? "getter" : "mass");
            rfy_problem_add(b->problems, RFY_ERROR, &at,
                            by_mass ? "\"mass\" of the film" : "the area alone", NULL,
                            by_mass ? "the capacity of a %s goes with its mass"
                                    : "the capacity of a %s goes with its area",
                            d->getter);
            continue;
        }
        const char *name = d->name             ? d->name
                           : c->getters.n == 1 ? rfy_build_name(b, "%s getter", c->name)
                                               : rfy_build_name(b, "%s getter %zu", c->name, i + 1);
        double copies = b->net->node[node].count;
        const char *takes = "";
        const rfy_getter_row *from = NULL;
        for (int g = 0; g < b->net->mixture.n; g++) {
            const rfy_getter_row *row =
                rfy_getter_find(catalog, d->getter, b->net->mixture.name[g]);
            if (!row || !(row->speed > 0))
                continue;
            double capacity =
                by_mass ? row->capacity_by_mass * d->mass : row->capacity_by_area * d->area;
            rfy_store *s =
                rfy_build_store(b, rfy_build_name(b, "%s, %s", name, b->net->mixture.name[g]),
                                d->getter, node, g, row->spread);
            rfy_getter_new(b->arena, row->speed * d->area * copies,
                           capacity * copies / (RFY_R * RFY_T_REF), s);
            if (!isnan(d->active_from))
                s->active_from = d->active_from;
            char speed[32], room[32];
            takes = rfy_arena_printf(b->arena, "%s%s%s %s L/s and %s Pa m3", takes,
                                     takes[0] ? ", " : "", b->net->mixture.name[g],
                                     rfy_format_number(speed, row->speed * d->area * 1e3, 2),
                                     rfy_format_number(room, capacity, 2));
            from = row;
        }
        if (from)
            rfy_build_assume(
                b, "%s: takes up, when fresh and in all, %s; good to a factor %.0f [%s, %s]", name,
                takes, from->spread, from->source, from->status);
        rfy_build_assume(b, "%s: takes up neither noble gases nor methane", name);
    }
}

/* ---- condensates ---- */

static void build_condensates(rfy_build *b, const rfy_chamber_desc *c, int node) {
    const rfy_condensate_desc *list = c->condensates.item;
    const rfy_catalog *catalog = b->net->catalog;
    for (size_t i = 0; i < c->condensates.n; i++) {
        const rfy_condensate_desc *d = &list[i];
        rfy_place at = rfy_place_of(&d->origin, "substance");
        const rfy_vapour *row = rfy_vapour_find(catalog, d->substance);
        if (!row) {
            const char **names = RFY_NEW(b->arena, catalog->n_vapours, const char *);
            for (size_t k = 0; k < catalog->n_vapours; k++)
                names[k] = catalog->vapour[k].substance;
            rfy_build_unknown(b, "substance", d->substance, names, catalog->n_vapours, at);
            continue;
        }
        int gas = rfy_build_gas(b, row->gas, at);
        if (gas < 0)
            continue;
        bool water = strcmp(row->gas, "H2O") == 0;
        rfy_condensate_spec spec = {
            .liquid = water ? rfy_vapour_find(catalog, "water") : row,
            .ice = water ? rfy_vapour_find(catalog, "ice") : NULL,
            .area = d->area * b->net->node[node].count,
            .sticking = isnan(d->sticking) ? 1 : d->sticking,
            .heat_transfer = isnan(d->heat_transfer) ? (double)INFINITY
                                                     : d->heat_transfer * b->net->node[node].count,
            .molar_mass = b->net->mixture.mass.d[gas]};
        spec.amount = isnan(d->amount) ? 0 : d->amount / spec.molar_mass * b->net->node[node].count;
        const char *name = d->name ? d->name
                           : c->condensates.n == 1
                               ? rfy_build_name(b, "%s, %s", c->name, d->substance)
                               : rfy_build_name(b, "%s, %s %zu", c->name, d->substance, i + 1);
        rfy_store *s = rfy_build_store(b, name, d->substance, node, gas, row->spread);
        rfy_condensate_new(b->arena, &spec, s);
        s->temperature = d->temperature;
        double cold = isnan(d->temperature) ? b->net->node[node].temperature : d->temperature;
        const rfy_vapour *used = spec.ice && cold < 273.15 ? spec.ice : spec.liquid;
        char p[32];
        rfy_build_assume(
            b, "%s: saturation pressure %s Pa at %.0f degC, good to a factor %.3g [%s, %s]", name,
            rfy_format_number(p, rfy_vapour_saturation(used, cold, NULL), 3), cold - 273.15,
            used->spread, used->source, used->status);
        if (isnan(d->heat_transfer))
            rfy_build_assume(b, "%s: the surface keeps its temperature whatever evaporates", name);
    }
}

/* ---- seal-off ---- */

void rfy_build_seal_off(rfy_build *b) {
    const rfy_seal_off_desc *d = b->description->seal_off;
    if (!d)
        return;
    rfy_place at = rfy_place_of(&d->origin, "chamber");
    int node = rfy_build_find_node(b, d->chamber, at, "the envelope");
    if (node >= 0 && (node >= b->n_chambers || b->net->node[node].fixed))
        rfy_problem_add(b->problems, RFY_ERROR, &at, "a chamber with a volume", NULL,
                        "\"%s\" cannot be sealed off", d->chamber);
    if (d->at > b->description->run->until) {
        at = rfy_place_of(&d->origin, "at");
        rfy_problem_add(b->problems, RFY_ERROR, &at, "a time within the run", NULL,
                        "the seal-off comes after the end of the run");
    }
    at = rfy_place_of(&d->origin, "burst");
    if (!isnan(d->burst.all))
        rfy_problem_add(b->problems, RFY_ERROR, &at,
                        "an amount for each gas, such as {\"H2O\": ...}", NULL,
                        "the burst does not say of which gas");
    for (int s = 0; s < RFY_MAX_SPECIES; s++)
        if (!isnan(d->burst.of[s]))
            rfy_build_gas(b, b->net->catalog->species[s].name, at);
}

void rfy_build_holders(rfy_build *b, const rfy_chamber_desc *c, int node) {
    build_trapped(b, c, node);
    build_getters(b, c, node);
    build_condensates(b, c, node);
}
