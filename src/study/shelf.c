/* Life after the seal-off: the run up to it, then the envelope alone for years.
 *
 * The envelope becomes a network of its own, made from its part of the description, and takes over
 * the gas and what its walls, seals and getters hold at the seal-off. */
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "network/stores.h"
#include "study/answers.h"

#define DAY  86400.0
#define YEAR 31557600.0

enum { INSTANTS = 6 };
static const struct {
    const char *when;
    double time;
} instants[INSTANTS] = {{"just after", 0}, {"1 d", DAY},          {"1 month", YEAR / 12},
                        {"1 year", YEAR},  {"3 years", 3 * YEAR}, {"10 years", 10 * YEAR}};

typedef struct box {
    rfy_shelf shelf; /* first: a pointer to it is a pointer to the box */
    rfy_arena *arena;
} box;

typedef struct shelf_run {
    rfy_arena *arena;
    const rfy_network *net;
    int node;
    double *time, (*total)[INSTANTS + 1];
    rfy_shelf_row *row;
    int n;
} shelf_run;

/* ---- the two networks ---- */

static rfy_description *copy_until(rfy_arena *arena, const rfy_description *d, double until) {
    rfy_description *copy = RFY_NEW(arena, 1, rfy_description);
    rfy_run_desc *run = RFY_NEW(arena, 1, rfy_run_desc);
    *copy = *d;
    *run = *d->run;
    run->until = until;
    copy->run = run;
    return copy;
}

static void add_care(rfy_arena *arena, rfy_shelf *shelf, const char *text) {
    const char **list = RFY_NEW(arena, shelf->n_care + 1, const char *);
    for (size_t i = 0; i < shelf->n_care; i++)
        list[i] = shelf->care[i];
    list[shelf->n_care++] = text;
    shelf->care = list;
}

/* What is left of the bursts in the envelope, such as a getter's flash, by the time counted from
 * the seal-off. */
static rfy_list sources_after(rfy_arena *arena, const rfy_description *d, const char *chamber,
                              double sealed_at) {
    const rfy_source_desc *all = d->sources.item;
    rfy_source_desc *left = RFY_NEW(arena, d->sources.n, rfy_source_desc);
    size_t n = 0;
    for (size_t i = 0; i < d->sources.n; i++) {
        if (strcmp(all[i].at, chamber) != 0 || all[i].during.to <= sealed_at)
            continue;
        rfy_source_desc *s = &left[n++];
        double from = fmax(all[i].during.from, sealed_at);
        *s = all[i];
        s->amount *= (all[i].during.to - from) / (all[i].during.to - all[i].during.from);
        s->during = (rfy_range){from - sealed_at, all[i].during.to - sealed_at};
    }
    return (rfy_list){n, left};
}

/* The envelope's own part: chamber, its bakes with the time counted from the seal-off, a limit. */
static rfy_description *envelope_alone(rfy_arena *arena, const rfy_description *d,
                                       const rfy_network *before, const rfy_chamber_desc *chamber,
                                       double sealed_at, rfy_shelf *shelf) {
    rfy_description *out = copy_until(arena, d, instants[INSTANTS - 1].time);
    const rfy_seal_off_desc *seal_off = d->seal_off;
    out->lines = out->pumps = out->gauges = out->procedure = out->rules = out->faults =
        out->limits = out->targets = (rfy_list){0};
    out->sources = sources_after(arena, d, chamber->name, sealed_at);
    out->junctions = (rfy_texts){0};
    out->gases.n = (size_t)before->mixture.n;
    out->gases.item = RFY_NEW(arena, out->gases.n, const char *);
    out->gases.at = RFY_NEW(arena, out->gases.n, rfy_place);
    memcpy(out->gases.item, before->mixture.name, out->gases.n * sizeof *out->gases.item);

    rfy_chamber_desc *own = RFY_NEW(arena, 1, rfy_chamber_desc);
    *own = *chamber;
    rfy_seal_desc *seals = RFY_NEW(arena, chamber->seals.n, rfy_seal_desc);
    for (size_t i = 0; i < chamber->seals.n; i++) {
        seals[i] = ((const rfy_seal_desc *)chamber->seals.item)[i];
        if (seals[i].outer)
            add_care(arena, shelf,
                     rfy_arena_printf(arena,
                                      "the gap outside a seal, %s, counts as filled with air "
                                      "after the seal-off",
                                      seals[i].outer));
        seals[i].outer = NULL;
    }
    own->seals.item = seals;
    rfy_getter_desc *getters = RFY_NEW(arena, chamber->getters.n, rfy_getter_desc);
    for (size_t i = 0; i < chamber->getters.n; i++) {
        getters[i] = ((const rfy_getter_desc *)chamber->getters.item)[i];
        getters[i].active_from -= sealed_at; /* NaN stays */
    }
    own->getters.item = getters;
    out->chambers = (rfy_list){1, own};

    const rfy_bake_desc *bakes = d->bakes.item;
    rfy_bake_desc *later = RFY_NEW(arena, d->bakes.n, rfy_bake_desc);
    size_t n = 0;
    for (size_t i = 0; i < d->bakes.n; i++)
        for (size_t k = 0; k < bakes[i].chambers.n; k++)
            if (strcmp(bakes[i].chambers.item[k], chamber->name) == 0) {
                later[n] = bakes[i];
                later[n].from -= sealed_at;
                later[n].chambers =
                    (rfy_texts){1, &bakes[i].chambers.item[k], bakes[i].chambers.at};
                n++;
            }
    out->bakes = (rfy_list){n, later};

    if (!isnan(seal_off->limit)) {
        rfy_limit_desc *limit = RFY_NEW(arena, 1, rfy_limit_desc);
        *limit = (rfy_limit_desc){.origin = seal_off->origin,
                                  .name = "limit",
                                  .watch = chamber->name,
                                  .while_ = "time > 1 d", /* bursts and their getter come first */
                                  .max = seal_off->limit,
                                  .min = NAN,
                                  .max_rate = NAN,
                                  .duration = NAN,
                                  .applies = -1};
        out->limits = (rfy_list){1, limit};
    }
    return out;
}

static int node_named(const rfy_network *net, const char *name) {
    for (int k = 0; k < net->n_free; k++)
        if (strcmp(net->node[k].name, name) == 0)
            return k;
    return -1;
}

/* Gas, what walls hold and how long they were pumped go over. */
static void take_over(rfy_sim *sim, const rfy_network *from, const rfy_network *to, double time) {
    const double *y = rfy_sim_state(sim), *temperature = rfy_sim_temperatures(sim, time);
    const int g = from->mixture.n;
    rfy_arena *arena = rfy_arena_new();
    double *p = RFY_NEW(arena, (size_t)(from->n_nodes * g), double);
    rfy_pressures(from, temperature, y, p);
    for (int k = 0; k < to->n_free; k++) {
        int old = node_named(from, to->node[k].name);
        /* the state is made from these at the network's own temperature */
        double t = temperature ? temperature[old] : from->node[old].temperature;
        for (int i = 0; i < g; i++) {
            double now = p[old * g + i] > 0 ? p[old * g + i] : 0;
            to->node[k].start[i] = now * to->node[k].temperature / t;
        }
    }
    for (int i = 0; i < to->n_stores; i++)
        for (int j = 0; j < from->n_stores; j++) {
            const rfy_store *a = &to->store[i], *b = &from->store[j];
            if (strcmp(a->name, b->name) != 0 || a->gas != b->gas || a->n != b->n)
                continue;
            for (int k = 0; k < a->n; k++)
                a->start[k] = y[b->first + k];
        }
    for (int i = 0; i < to->n_emitters; i++)
        for (int j = 0; j < from->n_emitters; j++)
            if (strcmp(to->emitter[i].name, from->emitter[j].name) == 0) {
                double age = rfy_sim_wall_age(sim, j, time);
                to->emitter[i].age = age > 0 ? age : 0;
            }
    rfy_arena_free(arena);
}

/* ---- what is seen on the way ---- */

static void strongest(shelf_run *r, rfy_sim *sim, double time, const double *y, const double *p,
                      rfy_shelf_row *row) {
    const rfy_network *net = r->net;
    const int g = net->mixture.n;
    rfy_controls *c = rfy_controls_new(r->arena, net);
    rfy_sim_controls(sim, time, c);
    double best = 0, outer;
    for (int i = 0; i < net->n_stores; i++) {
        double now = rfy_stores_release(net, c, i, y, p, &outer);
        if (now > best) {
            best = now;
            row->source = rfy_arena_strdup(r->arena, net->store[i].name);
            row->source_gas = net->mixture.name[net->store[i].gas];
        }
    }
    for (int i = 0; i < net->n_emitters; i++) {
        const rfy_emitter *e = &net->emitter[i];
        double now = rfy_power_law_rate(&e->law, rfy_sim_wall_age(sim, i, time), NULL) * e->area /
                     (RFY_R * RFY_T_REF);
        if (now > best) {
            best = now;
            row->source = rfy_arena_strdup(r->arena, e->name);
            row->source_gas = net->mixture.name[e->gas];
        }
    }
    for (int i = 0; i < net->n_edges; i++) {
        const rfy_edge *e = &net->edge[i];
        double flow[RFY_MAX_GASES];
        if (e->from != net->outside_node || e->role == RFY_EDGE_HOLE)
            continue;
        e->flow(e, e->mixture, 1, p + e->from * g, p + e->to * g, flow, NULL, NULL);
        for (int k = 0; k < g; k++)
            if (flow[k] * e->copies > best) {
                best = flow[k] * e->copies;
                row->source = rfy_arena_strdup(r->arena, e->name);
                row->source_gas = net->mixture.name[k];
            }
    }
    /* what in ten years would not add a millionth is round-off of a balance */
    double there = 0;
    for (int i = 0; i < g; i++)
        there += fabs(y[r->node * g + i]);
    if (best * 3.2e8 < 1e-6 * there) {
        best = 0;
        row->source = row->source_gas = NULL;
    }
    row->source_flow = best * RFY_R * RFY_T_REF / net->node[r->node].count;
}

static void on_output(void *context, rfy_sim *sim, double time, const double *y) {
    shelf_run *r = context;
    const rfy_network *net = r->net;
    const int g = net->mixture.n;
    if (r->n >= INSTANTS + 1)
        return;
    double *p = RFY_NEW(r->arena, (size_t)(net->n_nodes * g), double), total = 0;
    rfy_pressures(net, rfy_sim_temperatures(sim, time), y, p);
    double *partial = RFY_NEW(r->arena, (size_t)g, double);
    for (int i = 0; i < g; i++) {
        double now = p[r->node * g + i];
        partial[i] = now > 0 ? now : 0;
        total += partial[i];
    }
    if (r->row) {
        rfy_shelf_row *row = &r->row[r->n];
        *row = (rfy_shelf_row){.time = time, .total = total, .partial = partial};
        strongest(r, sim, time, y, p, row);
    }
    r->time[r->n] = time;
    (*r->total)[r->n++] = total;
}

/* Follows the sealed envelope; the time at which the limit was crossed, infinity if it was not, NaN
 * when it could not be followed. */
static double follow(shelf_run *r, const rfy_run_options *options, double scale, double extra,
                     rfy_shelf *shelf) {
    double at[INSTANTS + 1];
    size_t n = 0;
    for (int i = 0; i < INSTANTS; i++) {
        if (extra > (n ? at[n - 1] : -1) && extra < instants[i].time)
            at[n++] = extra;
        at[n++] = instants[i].time;
    }
    rfy_observer observer = {.output = on_output, .context = r};
    rfy_sim_options o = {.method = options->method,
                         .tolerance =
                             options->tolerance > 0 ? options->tolerance : r->net->tolerance,
                         .wall_scale = scale,
                         .at = at,
                         .n_at = n,
                         .stop = options->stop};
    r->n = 0;
    rfy_sim *sim = rfy_sim_new(r->net, &o, &observer);
    if (!sim)
        return NAN;
    rfy_status status = rfy_sim_run(sim);
    double crossed = INFINITY;
    if (r->net->n_limits > 0 && rfy_sim_limit(sim, 0)->broken)
        crossed = rfy_sim_limit(sim, 0)->broken_at;
    if (shelf) {
        shelf->status = status;
        if (rfy_sim_trouble(sim))
            shelf->trouble = rfy_arena_strdup(r->arena, rfy_sim_trouble(sim));
        rfy_sim_stats(sim, &shelf->solver);
    }
    rfy_sim_free(sim);
    return status == RFY_OK ? crossed : (double)NAN;
}

/* ---- the whole ---- */

static const char **copy_texts(rfy_arena *arena, const char *const *list, size_t n) {
    const char **out = RFY_NEW(arena, n, const char *);
    for (size_t i = 0; i < n; i++)
        out[i] = rfy_arena_strdup(arena, list[i]);
    return out;
}

static const rfy_chamber_desc *chamber_named(const rfy_description *d, const char *name) {
    const rfy_chamber_desc *list = d->chambers.item;
    for (size_t i = 0; i < d->chambers.n; i++)
        if (strcmp(list[i].name, name) == 0)
            return &list[i];
    return NULL;
}

static void warn(rfy_arena *arena, rfy_shelf *shelf, const rfy_network *net, bool has_stub) {
    if (has_stub)
        add_care(arena, shelf, "the stub of tube that stays on the envelope is not counted");
    for (int i = 0; i < net->n_emitters; i++)
        if (!net->emitter[i].law.steady) {
            add_care(arena, shelf,
                     "a wall that follows a power law goes on giving off gas for ever; in a sealed "
                     "envelope \"adsorbed water\" or \"diffusion\" is the truer model");
            break;
        }
    for (int i = 0; i < net->n_emitters; i++)
        if (net->emitter[i].law.steady && net->emitter[i].law.rate_1h > 0) {
            add_care(arena, shelf,
                     rfy_arena_printf(arena,
                                      "%s gives off gas at one rate for ten years: an upper "
                                      "bound",
                                      net->emitter[i].name));
            break;
        }
    if (net->n_stores == 0)
        add_care(arena, shelf,
                 "nothing in the envelope remembers or takes up gas: give walls a model, glass its "
                 "helium");
}

rfy_status rfy_shelf_life(rfy_shelf **out, const rfy_system *system,
                          const rfy_run_options *options) {
    const rfy_description *d = system->description;
    *out = NULL;
    if (!d->seal_off)
        return RFY_USAGE;
    rfy_arena *arena = rfy_arena_new();
    box *whole = RFY_NEW(arena, 1, box);
    rfy_shelf *shelf = &whole->shelf;
    whole->arena = arena;
    const rfy_chamber_desc *chamber = chamber_named(d, d->seal_off->chamber);
    double sealed_at = isnan(d->seal_off->at) ? d->run->until : d->seal_off->at;
    const char *title = d->title ? d->title : "";
    *shelf = (rfy_shelf){.title = rfy_arena_strdup(arena, title),
                         .chamber = rfy_arena_strdup(arena, chamber->name),
                         .sealed_at = sealed_at,
                         .limit = d->seal_off->limit,
                         .crossed = NAN,
                         .crossed_early = NAN,
                         .crossed_late = NAN};
    *out = shelf;

    rfy_problems *problems = rfy_problems_new("the envelope");
    const rfy_network *before =
        rfy_network_new(arena, system->catalog, copy_until(arena, d, sealed_at), problems);
    rfy_sim_options o = {.method = options->method,
                         .tolerance = options->tolerance > 0 ? options->tolerance
                                                             : system->network->tolerance,
                         .stop = options->stop};
    rfy_sim *sim = before ? rfy_sim_new(before, &o, NULL) : NULL;
    shelf->status = sim ? rfy_sim_run(sim) : RFY_RUN_FAILED;
    if (shelf->status != RFY_OK) {
        shelf->trouble = sim ? rfy_arena_strdup(arena, rfy_sim_trouble(sim))
                             : "the run before the seal-off could not be set up";
        rfy_sim_free(sim);
        rfy_problems_free(problems);
        return shelf->status;
    }
    if (rfy_sim_waits_for(sim))
        add_care(arena, shelf, "it is sealed before all steps of the procedure were taken");
    rfy_description *alone = envelope_alone(arena, d, before, chamber, sealed_at, shelf);
    const rfy_network *net = rfy_network_new(arena, system->catalog, alone, problems);
    rfy_problems_free(problems);
    if (!net) {
        rfy_sim_free(sim);
        shelf->status = RFY_RUN_FAILED;
        shelf->trouble = "the envelope alone could not be set up";
        return shelf->status;
    }
    take_over(sim, before, net, sealed_at);
    rfy_sim_free(sim);

    const int g = net->mixture.n, node = node_named(net, chamber->name);
    rfy_node *envelope = &net->node[node];
    rfy_shelf_row *rows = RFY_NEW(arena, INSTANTS + 2, rfy_shelf_row);
    double *first = RFY_NEW(arena, (size_t)g, double), sum = 0;
    for (int i = 0; i < g; i++)
        sum += first[i] = envelope->start[i];
    rows[0] = (rfy_shelf_row){
        .when = "when sealed", .total = sum, .total_low = NAN, .total_high = NAN, .partial = first};
    shelf->volume = envelope->volume / envelope->count;
    for (int i = 0; i < g; i++) {
        double amount = d->seal_off->burst.of[net->mixture.species[i]];
        if (!isnan(amount))
            envelope->start[i] += amount / RFY_T_REF * envelope->temperature / shelf->volume;
    }

    double time[INSTANTS + 1], total[INSTANTS + 1], low[INSTANTS + 1], high[INSTANTS + 1];
    shelf_run r = {.arena = arena, .net = net, .node = node, .time = time, .total = &total};
    /* first to find when the limit is crossed, then with a row for it */
    shelf->crossed = follow(&r, options, 0, NAN, NULL);
    double extra = isfinite(shelf->crossed) && shelf->crossed > 0 ? shelf->crossed : (double)NAN;
    r.row = rows + 1;
    follow(&r, options, 0, extra, shelf);
    int n = r.n;
    r.row = NULL;
    r.total = &low;
    shelf->crossed_late = follow(&r, options, -1, extra, NULL);
    bool have_low = r.n == n;
    r.total = &high;
    shelf->crossed_early = follow(&r, options, 1, extra, NULL);
    bool have_high = r.n == n;
    for (int i = 0, k = 0; i < n; i++) {
        rfy_shelf_row *row = &rows[i + 1];
        row->when = row->time == extra ? "limit" : instants[k++].when;
        row->total_low = have_low ? low[i] : (double)NAN;
        row->total_high = have_high ? high[i] : (double)NAN;
    }
    if (isnan(d->seal_off->limit))
        shelf->crossed = shelf->crossed_early = shelf->crossed_late = NAN;
    shelf->row = rows;
    shelf->n_rows = (size_t)n + 1;
    shelf->n_gases = (size_t)g;
    shelf->gas = copy_texts(arena, net->mixture.name, (size_t)g);
    shelf->n_assumed = net->n_assumed;
    shelf->assumed = copy_texts(arena, net->assumed, net->n_assumed);
    warn(arena, shelf, net, d->lines.n > 0);
    rfy_answer_cautions(arena, net, &shelf->cautions, &shelf->n_cautions);
    return shelf->status;
}

void rfy_shelf_free(rfy_shelf *shelf) {
    if (shelf)
        rfy_arena_free(((box *)(void *)shelf)->arena);
}
