/* What is heated when: bakes, and actions of steps, rules and faults. */
#include <math.h>
#include <string.h>
#include "network/assemble.h"

/* ---- bakes ---- */

/* Adds one cycle to a place's schedule; false when it overlaps an earlier one. */
static bool add_cycle(rfy_build *b, rfy_bake *bake, const rfy_bake_desc *d) {
    double home = b->net->node[bake->node].temperature, change = fabs(d->temperature - home);
    double cool = isnan(d->cool) ? d->ramp : d->cool;
    double hot = d->from + change / d->ramp, end = hot + d->soak;
    double time[4] = {d->from, hot, end, end + change / cool};
    int at = 0; /* cycles in the order of time */
    while (at < bake->n && bake->time[at] < time[0])
        at += 4;
    if ((at > 0 && bake->time[at - 1] > time[0]) || (at < bake->n && time[3] > bake->time[at]))
        return false;
    double *times = RFY_NEW(b->arena, (size_t)bake->n + 4, double);
    double *temperatures = RFY_NEW(b->arena, (size_t)bake->n + 4, double);
    for (int i = 0, from = 0; i < bake->n + 4; i++) {
        bool own = i >= at && i < at + 4;
        times[i] = own ? time[i - at] : bake->time[from];
        temperatures[i] =
            own ? (i == at || i == at + 3 ? home : d->temperature) : bake->temperature[from];
        from += own ? 0 : 1;
    }
    bake->time = times;
    bake->temperature = temperatures;
    bake->n += 4;
    return true;
}

void rfy_build_bakes(rfy_build *b) {
    rfy_network *net = b->net;
    const rfy_bake_desc *bakes = b->description->bakes.item;
    size_t most = 0;
    for (size_t i = 0; i < b->description->bakes.n; i++)
        most += bakes[i].chambers.n;
    net->bake = RFY_NEW(b->arena, most, rfy_bake);
    for (size_t i = 0; i < b->description->bakes.n; i++) {
        const rfy_bake_desc *d = &bakes[i];
        for (size_t k = 0; k < d->chambers.n; k++) {
            rfy_place at = d->chambers.at[k];
            int node = rfy_build_find_node(b, d->chambers.item[k], at, "the baked chamber");
            if (node < 0)
                continue;
            if (net->node[node].fixed) {
                rfy_problem_add(b->problems, RFY_ERROR, &at, "a chamber with a volume", NULL,
                                "the state of \"%s\" never changes", net->node[node].name);
                continue;
            }
            rfy_bake *bake = NULL;
            for (int j = 0; j < net->n_bakes; j++)
                if (net->bake[j].node == node)
                    bake = &net->bake[j];
            if (!bake) {
                bake = &net->bake[net->n_bakes++];
                bake->node = node;
            }
            if (!add_cycle(b, bake, d))
                rfy_problem_add(
                    b->problems, RFY_ERROR, &at, "a beginning after the end of the bake before",
                    NULL, "\"%s\" is still in another bake at that time", net->node[node].name);
        }
        if (isnan(d->cool))
            rfy_build_assume(b, "bake of %s: cooled as fast as it was heated", d->chambers.item[0]);
    }
}

/* ---- actions that heat ---- */

struct rfy_heat_order {
    int node;
    double temperature;
    rfy_place at;
};

/* Counts, or keeps when there is room, the orders of a list that heat. What is wrong with others is
 * told when they are compiled. */
static void find_orders(rfy_build *b, const rfy_texts *list, rfy_problems *unheard) {
    for (size_t i = 0; i < list->n; i++) {
        rfy_order o;
        if (!list->item[i] ||
            !rfy_order_parse(b->arena, b->net->catalog->units, &b->names, list->item[i],
                             list->at[i], unheard, &o) ||
            o.kind != RFY_ORDER_HEAT || b->net->node[o.part].fixed)
            continue;
        if (b->heat)
            b->heat[b->n_heats] = (struct rfy_heat_order){o.part, o.value[0], list->at[i]};
        b->n_heats++;
    }
}

static void find_in_steps(rfy_build *b, const rfy_list *list, int depth, rfy_problems *unheard) {
    const rfy_step_desc *steps = list->item;
    for (size_t i = 0; i < list->n && depth < 10; i++) {
        find_orders(b, &steps[i].actions, unheard);
        find_orders(b, &steps[i].otherwise, unheard);
        find_in_steps(b, &steps[i].steps, depth + 1, unheard);
    }
}

static void find_all(rfy_build *b, rfy_problems *unheard) {
    const rfy_description *d = b->description;
    const rfy_rule_desc *rules = d->rules.item;
    const rfy_fault_desc *faults = d->faults.item;
    b->n_heats = 0;
    find_in_steps(b, &d->procedure, 0, unheard);
    for (size_t i = 0; i < d->rules.n; i++)
        find_orders(b, &rules[i].then, unheard);
    for (size_t i = 0; i < d->faults.n; i++)
        find_orders(b, &faults[i].actions, unheard);
}

/* Orders are words: they are the same in a description that differs in numbers alone. */
static bool is_cold(const rfy_network *like) {
    for (int k = 0; like && k < like->n_nodes; k++)
        if (like->node[k].heated)
            return false;
    return like != NULL;
}

void rfy_build_heats(rfy_build *b) {
    rfy_network *net = b->net;
    if (is_cold(b->like))
        return;
    rfy_problems *unheard = rfy_problems_new("");
    find_all(b, unheard);
    if (b->n_heats > 0) {
        b->heat = RFY_NEW(b->arena, b->n_heats, struct rfy_heat_order);
        find_all(b, unheard);
    }
    rfy_problems_free(unheard);
    for (int i = 0; i < net->n_bakes; i++)
        net->node[net->bake[i].node].heated = true;
    for (size_t i = 0; i < b->n_heats; i++)
        net->node[b->heat[i].node].heated = true;
    if (net->n_bakes > 0 || b->n_heats > 0)
        rfy_build_assume(b,
                         "%s: gas and walls of a chamber have one temperature; lines stay as "
                         "they are",
                         net->n_bakes > 0 ? "bakes" : "heating");
    if (b->n_heats > 0)
        rfy_build_assume(b, "heating: without mains a chamber keeps the temperature it has");
}

bool rfy_build_is_heated(const rfy_build *b, int node) {
    return b->net->node[node].heated;
}

/* ---- what materials stand ---- */

static void too_hot(rfy_build *b, int node, const rfy_material *row, double temperature,
                    rfy_place at) {
    if (!(temperature > row->max_temperature + 1e-6))
        return;
    bool glass = strstr(row->material, "glass") || strstr(row->material, "silica");
    rfy_problem_add(b->problems, RFY_WARNING, &at,
                    rfy_arena_printf(b->arena, "at most %.0f degC for %s",
                                     row->max_temperature - 273.15, row->material),
                    glass ? "evacuated glass sags and may implode as it nears its strain point"
                          : NULL,
                    "%.0f degC is too hot for the %s in %s", temperature - 273.15, row->material,
                    b->net->node[node].name);
}

void rfy_build_bake_limit(rfy_build *b, int node, const rfy_material *row) {
    if (!row || isnan(row->max_temperature))
        return;
    const rfy_bake_desc *bakes = b->description->bakes.item;
    for (size_t i = 0; i < b->description->bakes.n; i++) {
        bool inside = false;
        for (size_t k = 0; k < bakes[i].chambers.n; k++)
            inside = inside || strcmp(bakes[i].chambers.item[k], b->net->node[node].name) == 0;
        if (inside)
            too_hot(b, node, row, bakes[i].temperature,
                    rfy_place_of(&bakes[i].origin, "temperature"));
    }
    for (size_t i = 0; i < b->n_heats; i++)
        if (b->heat[i].node == node)
            too_hot(b, node, row, b->heat[i].temperature, b->heat[i].at);
}
