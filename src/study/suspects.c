/* The usual suspects of a bench. */
#include "study/suspects.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/problem.h"
#include "core/text.h"

/* ---- who is suspected ---- */

rfy_suspected *rfy_suspect_add(rfy_diagnosing *d, rfy_suspect_kind kind, const char *what) {
    if (d->n == RFY_MOST_SUSPECTS)
        return NULL;
    rfy_suspected *s = &d->item[d->n++];
    *s = (rfy_suspected){.kind = kind, .what = what, .loss = INFINITY};
    return s;
}

/* A number that starts at `centre`, is known beforehand within exp(sd), and looked for from low to
 * high. */
static size_t number(rfy_suspected *s, const char *path, rfy_dim dim, double centre, double sd,
                     double low, double high) {
    size_t i = s->n_numbers++;
    s->number[i] = (rfy_unknown){
        .path = path, .start = centre, .centre = centre, .prior = sd, .least = low, .most = high};
    s->dim[i] = dim;
    s->grid_low[i] = low;
    s->grid_high[i] = high;
    return i;
}

void rfy_suspect_follow(rfy_suspected *s, size_t of, const char *path, double base) {
    if (s->n_paths == RFY_SUSPECT_PATHS)
        return;
    s->path[s->n_paths] = path;
    s->of[s->n_paths] = of;
    s->base[s->n_paths++] = base;
}

/* The clock of a log does not say when the run began: that goes along with every suspect. */
void rfy_suspect_start(const rfy_diagnosing *d, rfy_suspected *s) {
    if (!d->by_clock || s->n_numbers == RFY_SUSPECT_NUMBERS)
        return;
    double span = d->points.t[d->points.n - 1];
    size_t i = s->n_numbers++;
    s->number[i] =
        (rfy_unknown){.prior = fmax(5, 0.01 * span), .least = -0.3 * span, .most = 0.3 * span};
}

/* Leaks: on a log scale from what never matters to what no pump would master. Beforehand a factor
 * of 20 either way about 1e-5 Pa m3/s counts as usual (common practice, no source). */
static void suspect_leaks(rfy_diagnosing *d) {
    const rfy_chamber_desc *c = d->system->description->chambers.item;
    for (size_t i = 0; i < d->system->description->chambers.n; i++, c++) {
        if (c->reservoir.given)
            continue;
        rfy_suspected *s =
            rfy_suspect_add(d, RFY_SUSPECT_LEAK, rfy_arena_printf(d->arena, "leak at %s", c->name));
        if (!s)
            return;
        if (c->leaks.n == 0) {
            s->setting_path[0] = rfy_arena_printf(d->arena, "%s/leaks", c->name);
            s->setting_value[0] = "[{\"rate\": \"1e-12 Pa m3/s\"}]";
            s->n_settings = 1;
        }
        const char *path = rfy_arena_printf(d->arena, "%s/leaks/0/rate", c->name);
        rfy_suspect_follow(s, number(s, path, RFY_DIM_THROUGHPUT, 1e-5, 3, 1e-9, 1), path, 1e-5);
    }
}

/* All walls together: one gauge does not tell whose they are. */
static void suspect_walls(rfy_diagnosing *d) {
    rfy_suspected *s = rfy_suspect_add(d, RFY_SUSPECT_WALLS, "walls give off");
    const rfy_chamber_desc *c = d->system->description->chambers.item;
    size_t one = 0;
    for (size_t i = 0; s && i < d->system->description->chambers.n; i++, c++) {
        const rfy_wall_desc *wall = c->walls.item;
        for (size_t k = 0; k < c->walls.n; k++) {
            const char *path = rfy_arena_printf(d->arena, "%s/walls/%zu/scale", c->name, k);
            if (s->n_numbers == 0)
                one = number(s, path, RFY_DIM_NONE, 1, 1.2, 0.02, 500);
            rfy_suspect_follow(s, one, path, isnan(wall[k].scale) ? 1 : wall[k].scale);
        }
    }
    if (s && s->n_numbers == 0)
        d->n--;
}

static void suspect_pocket(rfy_diagnosing *d) {
    const rfy_chamber_desc *c = d->system->description->chambers.item;
    const char *at = d->system->network->node[d->points.node].name;
    for (size_t i = 0; i < d->system->description->chambers.n; i++, c++) {
        if (strcmp(c->name, at) != 0 || c->trapped.n > 0 || c->reservoir.given)
            continue;
        rfy_suspected *s = rfy_suspect_add(d, RFY_SUSPECT_TRAPPED,
                                           rfy_arena_printf(d->arena, "trapped volume at %s", at));
        if (!s)
            return;
        s->setting_path[0] = rfy_arena_printf(d->arena, "%s/trapped", c->name);
        s->setting_value[0] = "[{\"volume\": \"0.1 cm3\", \"conductance\": \"1e-6 L/s\"}]";
        s->n_settings = 1;
        const char *volume = rfy_arena_printf(d->arena, "%s/trapped/0/volume", c->name);
        const char *passage = rfy_arena_printf(d->arena, "%s/trapped/0/conductance", c->name);
        rfy_suspect_follow(s, number(s, volume, RFY_DIM_VOLUME, 1e-6, 2, 1e-9, 1e-4), volume, 1e-6);
        rfy_suspect_follow(s, number(s, passage, RFY_DIM_FLOW, 1e-8, 3, 1e-12, 1e-5), passage,
                           1e-8);
    }
}

static void suspect_pumps(rfy_diagnosing *d) {
    const rfy_network *net = d->system->network;
    const rfy_pump_desc *pumps = d->system->description->pumps.item;
    for (size_t i = 0; i < d->system->description->pumps.n; i++) {
        const char *name = pumps[i].name;
        double now = isnan(pumps[i].scale) ? 1 : pumps[i].scale;
        rfy_suspected *s =
            rfy_suspect_add(d, RFY_SUSPECT_PUMP, rfy_arena_printf(d->arena, "%s pumps", name));
        if (!s)
            return;
        const char *path = rfy_arena_printf(d->arena, "%s/scale", name);
        rfy_suspect_follow(s, number(s, path, RFY_DIM_NONE, now, 0.7, 0.02 * now, now), path, now);
        /* its ultimate pressure, where it has one */
        path = rfy_arena_printf(d->arena, "%s/ultimate", name);
        rfy_varied what;
        rfy_problems *ignored = rfy_problems_new("");
        bool has = rfy_predict_start(d->system, path, &what, ignored) && what.value > 0 &&
                   what.dim == RFY_DIM_PRESSURE;
        rfy_problems_free(ignored);
        s = has ? rfy_suspect_add(d, RFY_SUSPECT_PUMP,
                                  rfy_arena_printf(d->arena, "%s comes down to", name))
                : NULL;
        if (s)
            rfy_suspect_follow(
                s, number(s, path, RFY_DIM_PRESSURE, what.value, 1.5, what.value, 1e4 * what.value),
                path, what.value);
    }
    (void)net;
}

static void suspect_lines(rfy_diagnosing *d) {
    const rfy_line_desc *lines = d->system->description->lines.item;
    for (size_t i = 0; i < d->system->description->lines.n; i++) {
        double now = isnan(lines[i].scale) ? 1 : lines[i].scale;
        rfy_suspected *s = rfy_suspect_add(
            d, RFY_SUSPECT_BLOCKED, rfy_arena_printf(d->arena, "%s lets through", lines[i].name));
        if (!s)
            return;
        const char *path = rfy_arena_printf(d->arena, "%s/scale", lines[i].name);
        rfy_suspect_follow(s, number(s, path, RFY_DIM_NONE, now, 1.5, 1e-3 * now, now), path, now);
    }
}

static void suspect_gauge(rfy_diagnosing *d) {
    if (d->points.gauge < 0)
        return;
    const rfy_gauge_desc *gauges = d->system->description->gauges.item;
    const char *name = d->system->network->gauge[d->points.gauge].name;
    double now = 1;
    for (size_t i = 0; i < d->system->description->gauges.n; i++)
        if (strcmp(gauges[i].name, name) == 0 && !isnan(gauges[i].scale))
            now = gauges[i].scale;
    rfy_suspected *s =
        rfy_suspect_add(d, RFY_SUSPECT_GAUGE, rfy_arena_printf(d->arena, "%s shows", name));
    if (!s)
        return;
    const char *path = rfy_arena_printf(d->arena, "%s/scale", name);
    rfy_suspect_follow(s, number(s, path, RFY_DIM_NONE, now, 0.7, 0.03 * now, 30 * now), path, now);
}

void rfy_suspects_list(rfy_diagnosing *d) {
    suspect_leaks(d);
    suspect_walls(d);
    suspect_pocket(d);
    suspect_pumps(d);
    suspect_lines(d);
    suspect_gauge(d);
}

/* ---- words ---- */

static const char *value_text(rfy_diagnosing *d, const rfy_suspected *s, size_t j) {
    char text[64], plain[32];
    double value = exp(s->x[j]);
    rfy_format_number(plain, value, 2);
    if (s->dim[j] == RFY_DIM_NONE)
        return rfy_arena_strdup(d->arena, plain);
    return rfy_arena_strdup(d->arena,
                            rfy_format_quantity(text, sizeof text, s->dim[j], strtod(plain, NULL)));
}

static const char *name_single(rfy_diagnosing *d, const rfy_suspected *s, const char *what,
                               rfy_suspect_kind kind, size_t from) {
    const char *v = value_text(d, s, from);
    switch (kind) {
    case RFY_SUSPECT_LEAK:
        return rfy_arena_printf(d->arena, "%s of %s", what, v);
    case RFY_SUSPECT_TRAPPED:
        return rfy_arena_printf(d->arena, "%s of %s behind %s", what, v,
                                value_text(d, s, from + 1));
    case RFY_SUSPECT_WALLS:
        return rfy_arena_printf(d->arena, "%s %s times what is described", what, v);
    case RFY_SUSPECT_PUMP:
        return s->dim[from] == RFY_DIM_NONE
                   ? rfy_arena_printf(d->arena, "%s at %s of its speed (worn pump)", what, v)
                   : rfy_arena_printf(d->arena, "%s %s only (worn pump)", what, v);
    case RFY_SUSPECT_BLOCKED:
        return rfy_arena_printf(d->arena, "%s %s of what it should (blocked, or a valve not open)",
                                what, v);
    case RFY_SUSPECT_GAUGE:
        return rfy_arena_printf(d->arena, "%s %s times the pressure", what, v);
    case RFY_SUSPECT_NONE:
        break;
    }
    return "nothing: the description as it is";
}

/* The single suspect that a pair's numbers beginning at `from` belong to. */
static const rfy_suspected *single_of(const rfy_diagnosing *d, const rfy_suspected *s,
                                      size_t from) {
    for (size_t i = 0; i < d->n; i++)
        if (d->item[i].what && d->item[i].n_numbers > 0 && s->number[from].path &&
            strcmp(d->item[i].number[0].path, s->number[from].path) == 0)
            return &d->item[i];
    return NULL;
}

const char *rfy_suspect_name(rfy_diagnosing *d, const rfy_suspected *s) {
    if (s->kind == RFY_SUSPECT_NONE || s->what)
        return name_single(d, s, s->what, s->kind, 0);
    const rfy_suspected *a = single_of(d, s, 0);
    size_t own = 0;
    while (a && own < a->n_numbers && a->number[own].path)
        own++;
    const rfy_suspected *b = a ? single_of(d, s, own) : NULL;
    if (!a || !b)
        return "two of these together";
    return rfy_arena_printf(d->arena, "%s, and %s", name_single(d, s, a->what, s->kind, 0),
                            name_single(d, s, b->what, s->also, own));
}
