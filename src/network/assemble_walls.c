/* Walls and seals: which model each follows, and with which numbers. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include "core/text.h"
#include "network/assemble.h"
#include "surface/seal.h"
#include "surface/sites.h"
#include "surface/slab.h"

static const double usual_thickness = 2e-3; /* m, common practice for small chambers */

/* Activation energies of permeation in elastomers, kJ/mol: assumed inside the published range of 18
 * to 51 (J. IEST 38(2), 43, abstract). */
static double usual_activation(const char *gas) {
    static const struct {
        const char *gas;
        double energy;
    } usual[] = {{"He", 25e3}, {"N2", 45e3}, {"O2", 40e3}, {"H2O", 20e3}};
    for (size_t i = 0; i < sizeof usual / sizeof *usual; i++)
        if (strcmp(gas, usual[i].gas) == 0)
            return usual[i].energy;
    return 40e3;
}

/* What the parts of one wall are made from. */
typedef struct wall {
    rfy_build *b;
    const rfy_wall_desc *d;
    const rfy_material *row; /* NULL: no material, or a rate outright */
    const char *name, *what;
    int node, gas;
    double area; /* of all copies */
    rfy_power_law law;
    double spread;
    double pumped_for; /* before the run, s */
} wall;

static void stray(rfy_build *b, const rfy_origin *origin, const char *key, const char *model) {
    rfy_place at = rfy_place_of(origin, key);
    if (at.line != origin->at.line || at.column != origin->at.column)
        rfy_problem_add(b->problems, RFY_ERROR, &at,
                        rfy_arena_printf(b->arena, "this key with \"model\": \"%s\" only", model),
                        NULL, "\"%s\" does not belong to this wall's model", key);
}

/* Keys of other models than the wall's. */
static void check_keys(wall *w, int model) {
    static const char *const of_sites[] = {"sites", "layers", "energies", "sticking"};
    static const char *const of_slab[] = {"thickness", "content", "filled"};
    for (size_t i = 0; i < sizeof of_sites / sizeof *of_sites && model != RFY_WALL_SITES; i++)
        stray(w->b, &w->d->origin, of_sites[i], "adsorbed water");
    for (size_t i = 0; i < sizeof of_slab / sizeof *of_slab && model != RFY_WALL_DIFFUSION; i++)
        stray(w->b, &w->d->origin, of_slab[i], "diffusion");
}

/* ---- models ---- */

static void build_sites(wall *w) {
    rfy_build *b = w->b;
    const rfy_wall_desc *d = w->d;
    const rfy_site_row *row = rfy_sites_find(b->net->catalog, d->sites);
    if (!row) {
        const rfy_catalog *catalog = b->net->catalog;
        const char **names = RFY_NEW(b->arena, catalog->n_sites, const char *);
        for (size_t i = 0; i < catalog->n_sites; i++)
            names[i] = catalog->site[i].sites;
        rfy_build_unknown(b, "kind of sites", d->sites, names, catalog->n_sites,
                          rfy_place_of(&d->origin, "sites"));
        return;
    }
    rfy_sites_spec spec = {.layers = isnan(d->layers) ? row->layers : d->layers,
                           .energy_low = row->energy_low,
                           .energy_high = row->energy_high,
                           .rise = row->rise,
                           .frequency = row->frequency,
                           .sticking = isnan(d->sticking) ? row->sticking : d->sticking};
    if (!isnan(d->energies.from)) {
        spec.energy_low = d->energies.from;
        spec.energy_high = d->energies.to;
        if (!(spec.energy_high > spec.energy_low)) {
            rfy_place at = rfy_place_of(&d->origin, "energies");
            rfy_problem_add(b->problems, RFY_ERROR, &at, "the lower energy, then the higher", NULL,
                            "the energies do not rise");
            return;
        }
    }
    double spread = isnan(d->layers) ? row->spread : 1;
    if (isnan(d->layers) && !w->law.steady && w->row) {
        /* as many sites as give the row's rate, nothing coming back */
        double hours = w->row->rate_10h > 0 ? 10 : 1;
        double rate = hours > 1 ? w->row->rate_10h : w->row->rate_1h;
        double molecules = rate / (1.380649e-23 * RFY_T_REF);
        spec.layers *= molecules / rfy_sites_release(&spec, RFY_T_REF, hours * 3600);
        spread = w->spread;
    } else if (isnan(d->layers) && w->law.steady) {
        rfy_place at = rfy_place_of(&d->origin, "model");
        rfy_problem_add(b->problems, RFY_ERROR, &at,
                        "\"layers\", or a condition that is not steady", NULL,
                        "%s has a steady rate, which says nothing of adsorbed water", w->what);
        return;
    }
    const rfy_node *node = &b->net->node[w->node];
    double pumped_for = isnan(d->pumped_for) ? 0 : d->pumped_for;
    rfy_store *s = rfy_build_store(b, w->name, w->what, w->node, w->gas, spread);
    rfy_sites_new(b->arena, &spec, w->area, b->net->mixture.mass.d[w->gas], b->net->ambient[w->gas],
                  node->temperature, pumped_for, s);
    if (pumped_for == 0 && !(b->net->ambient[w->gas] > 0))
        rfy_build_assume(b, "%s: no %s in the air outside, so nothing is adsorbed at the beginning",
                         w->name, b->net->mixture.name[w->gas]);
    char layers[32], low[32], high[32], sticking[32];
    rfy_build_assume(
        b,
        "%s: adsorbed %s, %s layers on sites from %s to %s kJ/mol, sticking %s, filled "
        "as in the air outside, good to a factor %.0f [%s]",
        w->name, b->net->mixture.name[w->gas], rfy_format_number(layers, spec.layers, 3),
        rfy_format_number(low, spec.energy_low / 1e3, 4),
        rfy_format_number(high, spec.energy_high / 1e3, 4),
        rfy_format_number(sticking, spec.sticking, 3), spread, row->status);
}

static void build_slab(wall *w) {
    rfy_build *b = w->b;
    const rfy_wall_desc *d = w->d;
    const rfy_catalog *catalog = b->net->catalog;
    const char *gas = b->net->mixture.name[w->gas];
    const rfy_diffusivity *row = rfy_diffusivity_find(catalog, w->what, gas);
    if (!row) {
        const char *list = NULL;
        for (size_t i = 0; i < catalog->n_diffusivities; i++)
            if (rfy_diffusivity_find(catalog, w->what, catalog->diffusivity[i].gas) ==
                &catalog->diffusivity[i])
                list = list
                           ? rfy_arena_printf(b->arena, "%s, %s", list, catalog->diffusivity[i].gas)
                           : catalog->diffusivity[i].gas;
        rfy_place at = rfy_place_of(&d->origin, d->gas ? "gas" : "model");
        rfy_problem_add(b->problems, RFY_ERROR, &at,
                        list ? rfy_arena_printf(b->arena, "\"gas\": one of %s", list)
                             : "a material of the diffusion table of `rarefy list materials`",
                        NULL, "the diffusion of %s in %s is not known", gas, w->what);
        return;
    }
    const rfy_permeability *k = row->outside ? rfy_permeability_find(catalog, w->what, gas) : NULL;
    rfy_slab_spec spec = {.thickness = isnan(d->thickness) ? usual_thickness : d->thickness,
                          .area = w->area,
                          .d0 = row->d0,
                          .activation = row->activation,
                          .k = k ? k->k : 0,
                          .k_activation =
                              k && !isnan(k->activation) ? k->activation : usual_activation(gas),
                          .open = row->outside,
                          .outside = row->outside ? b->net->ambient[w->gas] : 0};
    char from[96];
    double spread = row->spread;
    snprintf(from, sizeof from, "%s", "as given");
    if (!isnan(d->content)) {
        spec.content = d->content / (RFY_R * RFY_T_REF);
        spread = 1;
    } else if (row->outside) {
        if (d->filled != RFY_FILLED_EMPTY)
            spec.content = rfy_slab_permeability(&spec, RFY_T_REF) /
                           rfy_slab_diffusivity(&spec, RFY_T_REF) * spec.outside /
                           (RFY_R * RFY_T_REF);
        snprintf(from, sizeof from, "%s", d->filled == RFY_FILLED_EMPTY ? "none" : "as in air");
    } else if (w->row && w->law.steady && strcmp(w->row->gas, gas) == 0) {
        /* what makes the measured steady rate, in the slowest mode */
        spec.content = w->law.rate_1h / (RFY_R * RFY_T_REF) /
                       (rfy_slab_slowest(&spec, RFY_T_REF) * spec.thickness);
        spec.settled = true;
        spread = w->spread;
        snprintf(from, sizeof from, "%s", "what gives the steady rate");
    } else {
        spec.content = row->content / (RFY_R * RFY_T_REF);
        snprintf(from, sizeof from, "%s", "the table's");
    }
    rfy_store *s = rfy_build_store(b, w->name, w->what, w->node, w->gas, spread);
    rfy_slab_new(b->arena, &spec, s);
    if (w->pumped_for > 0 && !spec.open && !spec.settled) {
        rfy_store_law law = rfy_store_law_new(b->arena, s->n);
        rfy_store_state cold = {RFY_T_REF, RFY_T_REF, 1, true};
        s->kind->law(s, &cold, &law);
        for (int j = 0; j < s->n; j++)
            s->start[j] *= exp(-law.k[j] * w->pumped_for);
    }
    char thick[48], content[32];
    rfy_format_quantity(thick, sizeof thick, RFY_DIM_LENGTH, spec.thickness);
    rfy_build_assume(b,
                     "%s: diffusion of %s through %s%s, content %s Pa m3/m3 (%s), good to a factor "
                     "%.0f [%s, %s]",
                     w->name, gas, thick, spec.open ? " from the air outside" : "",
                     rfy_format_number(content, spec.content * RFY_R * RFY_T_REF, 3), from, spread,
                     row->source, row->status);
}

/* Rates that are steady follow the temperature of a bake as hydrogen's diffusion does; those that
 * fall with time have no memory of it. */
static void build_power_law(wall *w) {
    rfy_build *b = w->b;
    rfy_build_emitter(b, w->name, w->what, w->node, w->gas, w->area, w->spread, &w->law);
    if (!(w->area > 0))
        return;
    rfy_emitter *e = &b->net->emitter[b->net->n_emitters - 1];
    e->age = w->pumped_for;
    if (!rfy_build_is_heated(b, w->node))
        return;
    const rfy_diffusivity *steel = rfy_diffusivity_find(b->net->catalog, "stainless steel", "H2");
    if (w->law.steady && strcmp(b->net->mixture.name[w->gas], "H2") == 0 && steel) {
        e->activation = steel->activation;
        rfy_build_assume(b, "%s: its rate follows the bake with %.0f kJ/mol, and never runs dry",
                         w->name, e->activation / 1e3);
    } else {
        rfy_build_assume(b, "%s: its rate does not follow the bake (power law, constant)", w->name);
    }
}

/* ---- walls ---- */

/* Time under vacuum before the run; none when the chamber begins in air. */
static double pumped_before(const wall *w) {
    const rfy_build *b = w->b;
    double begins = 0;
    for (int g = 0; g < b->net->mixture.n; g++)
        begins += b->net->node[w->node].start[g];
    if (!(w->d->pumped_for > 0) || begins <= 0.1 * b->net->ambient_pressure)
        return isnan(w->d->pumped_for) ? 0 : w->d->pumped_for;
    rfy_place at = rfy_place_of(&w->d->origin, "pumped_for");
    rfy_problem_add(b->problems, RFY_WARNING, &at, "\"start\" with low pressures in its chamber",
                    NULL, "no use: the chamber begins in air, so the wall's clock starts anew");
    return 0;
}

static int choose_model(const wall *w) {
    const rfy_wall_desc *d = w->d;
    if (d->model >= 0)
        return d->model;
    if (!w->row || !rfy_build_is_heated(w->b, w->node))
        return RFY_WALL_POWER_LAW;
    const char *gas = w->b->net->mixture.name[w->gas];
    if (strcmp(gas, "H2O") == 0 && !w->law.steady && w->law.slope[1] > 0.6)
        return RFY_WALL_SITES; /* not polymers: their slopes are those of diffusion */
    if (rfy_diffusivity_find(w->b->net->catalog, w->what, gas))
        return RFY_WALL_DIFFUSION;
    return RFY_WALL_POWER_LAW;
}

static void build_wall(wall *w) {
    rfy_build *b = w->b;
    const rfy_wall_desc *d = w->d;
    w->gas = -1;
    w->spread = 3;
    w->what = d->material ? rfy_material_name(b->net->catalog, d->material) : "given rate";
    bool held_only = d->model == RFY_WALL_SITES || d->model == RFY_WALL_DIFFUSION;
    if (!d->material && isnan(d->rate)) {
        rfy_problem_add(b->problems, RFY_ERROR, &d->origin.at,
                        "\"material\" (see `rarefy list materials`) or \"rate\"", NULL,
                        "the wall has neither a material nor a rate");
        return;
    }
    if (held_only && (!d->material || !isnan(d->rate))) {
        rfy_place at = rfy_place_of(&d->origin, isnan(d->rate) ? "model" : "rate");
        rfy_problem_add(b->problems, RFY_ERROR, &at, "\"material\" without \"rate\"", NULL,
                        "this model works out the rate by itself");
        return;
    }
    if (d->material && isnan(d->rate)) {
        rfy_place at = rfy_place_of(&d->origin, d->condition ? "condition" : "material");
        w->row = rfy_material_find(b->net->catalog, d->material, d->condition);
        /* its outgassing matters unless another gas diffuses through it */
        bool other =
            w->row && d->model == RFY_WALL_DIFFUSION && d->gas && strcmp(d->gas, w->row->gas) != 0;
        if (!other &&
            !rfy_build_material(b, d->material, d->condition, at, &w->law, &w->gas, &w->spread))
            return;
        rfy_build_bake_limit(b, w->node, w->row);
    }
    if (!isnan(d->rate)) {
        if (isnan(d->exponent) || d->exponent == 0)
            rfy_power_law_constant(d->rate, &w->law);
        else
            rfy_power_law_single(d->rate, 3600, d->exponent, &w->law);
        w->spread = 1;
    } else if (!isnan(d->exponent)) {
        rfy_place at = rfy_place_of(&d->origin, "exponent");
        rfy_problem_add(b->problems, RFY_ERROR, &at, "\"rate\" beside it", NULL,
                        "an exponent without a rate");
        return;
    }
    if (d->gas)
        w->gas = rfy_build_gas(b, d->gas, rfy_place_of(&d->origin, "gas"));
    else if (w->gas < 0)
        w->gas = rfy_build_wall_gas(b, "H2O", w->what);
    if (w->gas < 0)
        return;
    int model = choose_model(w);
    check_keys(w, model);
    w->pumped_for = pumped_before(w);
    if (!(w->area > 0))
        return;
    if (model == RFY_WALL_CONSTANT && !w->law.steady) {
        rfy_place at = rfy_place_of(&d->origin, "model");
        rfy_problem_add(b->problems, RFY_ERROR, &at,
                        "a rate without exponent, or a condition with a steady rate", NULL,
                        "the rate of this wall falls with time");
        return;
    }
    if (model == RFY_WALL_SITES)
        build_sites(w);
    else if (model == RFY_WALL_DIFFUSION)
        build_slab(w);
    else
        build_power_law(w);
}

void rfy_build_walls(rfy_build *b, const rfy_chamber_desc *c, int node) {
    const rfy_wall_desc *walls = c->walls.item;
    for (size_t i = 0; i < c->walls.n; i++) {
        const rfy_wall_desc *d = &walls[i];
        const char *what =
            d->material ? rfy_material_name(b->net->catalog, d->material) : "given rate";
        wall w = {.b = b, .d = d, .node = node};
        w.name = d->name           ? d->name
                 : c->walls.n == 1 ? rfy_build_name(b, "%s wall (%s)", c->name, what)
                                   : rfy_build_name(b, "%s wall %zu (%s)", c->name, i + 1, what);
        w.area = d->area * b->net->node[node].count * (isnan(d->scale) ? 1 : d->scale);
        build_wall(&w);
    }
}

/* ---- seals ---- */

/* One store for each gas whose diffusion in the seal is known; those gases leave the steady edge.
 */
static void seal_with_lag(rfy_build *b, const rfy_seal_desc *s, const char *name, int node,
                          rfy_seal *seal) {
    const rfy_network *net = b->net;
    for (int g = 0; g < net->mixture.n; g++) {
        const char *gas = net->mixture.name[g];
        const rfy_diffusivity *row = rfy_diffusivity_find(net->catalog, s->material, gas);
        const rfy_permeability *k = rfy_permeability_find(net->catalog, s->material, gas);
        if (!row || !row->outside || !k)
            continue;
        rfy_slab_spec spec = {.thickness = s->cord,
                              .area = s->length * s->cord * RFY_SEAL_SHAPE * net->node[node].count,
                              .d0 = row->d0,
                              .activation = row->activation,
                              .k = k->k,
                              .k_activation =
                                  isnan(k->activation) ? usual_activation(gas) : k->activation,
                              .open = true,
                              .outside = net->ambient[g]};
        /* the water that a fresh seal holds is what its strip gives off */
        bool empty = s->filled == RFY_FILLED_EMPTY || strcmp(gas, "H2O") == 0;
        if (!empty)
            spec.content = spec.k / rfy_slab_diffusivity(&spec, RFY_T_REF) * spec.outside /
                           (RFY_R * RFY_T_REF);
        rfy_store *store = rfy_build_store(b, rfy_build_name(b, "%s, permeation of %s", name, gas),
                                           s->material, node, g, row->spread);
        rfy_slab_new(b->arena, &spec, store);
        seal->conductance[g] = 0;
        seal->known[g] = false;
    }
    seal->any_known = false;
    for (int g = 0; g < net->mixture.n; g++)
        seal->any_known = seal->any_known || seal->known[g];
    rfy_build_assume(b, "%s: gas diffuses through its cord with a time lag, %s", name,
                     s->filled == RFY_FILLED_EMPTY ? "empty at the beginning"
                                                   : "filled as in air at the beginning");
}

void rfy_build_seals(rfy_build *b, const rfy_chamber_desc *c, int node) {
    const rfy_seal_desc *seals = c->seals.item;
    for (size_t i = 0; i < c->seals.n; i++) {
        const rfy_seal_desc *s = &seals[i];
        rfy_power_law law;
        int gas, outer = b->net->outside_node;
        const char *material = rfy_material_name(b->net->catalog, s->material);
        double spread, exposed = isnan(s->exposed_width) ? 0.2 * s->cord : s->exposed_width;
        if (!rfy_build_material(b, s->material, NULL, rfy_place_of(&s->origin, "material"), &law,
                                &gas, &spread))
            continue;
        rfy_build_bake_limit(b, node, rfy_material_find(b->net->catalog, s->material, NULL));
        if (s->outer) {
            rfy_place at = rfy_place_of(&s->origin, "outer");
            outer = rfy_build_find_node(b, s->outer, at, "the chamber outside the seal");
            if (outer < 0)
                continue;
            if (outer == node || s->model == RFY_SEAL_DIFFUSION) {
                rfy_problem_add(
                    b->problems, RFY_ERROR, &at,
                    outer == node ? "another chamber" : "\"model\": \"steady\" beside it", NULL,
                    outer == node ? "the seal has its own chamber on both sides"
                                  : "the time lag is known towards the air only");
                continue;
            }
        }
        if (isnan(s->exposed_width))
            rfy_build_assume(b, "%s seal: a strip of a fifth of the cord faces the vacuum",
                             c->name);
        rfy_seal seal;
        rfy_seal_init(&seal, b->net->catalog, &b->net->mixture, s->material, s->length, s->cord,
                      exposed);
        const char *name = s->name ? s->name
                           : c->seals.n == 1
                               ? rfy_build_name(b, "%s seal (%s)", c->name, material)
                               : rfy_build_name(b, "%s seal %zu (%s)", c->name, i + 1, material);
        double copies = b->net->node[node].count;
        rfy_build_emitter(b, name, s->material, node, gas, seal.strip_area * copies, spread, &law);
        bool baked = rfy_build_is_heated(b, node);
        if (baked)
            rfy_build_assume(b, "%s: what its strip gives off does not follow the bake", name);
        bool lag = s->model == RFY_SEAL_DIFFUSION ||
                   (s->model < 0 && baked && outer == b->net->outside_node);
        if (lag)
            seal_with_lag(b, s, name, node, &seal);
        if (!seal.any_known)
            continue;
        rfy_given *given = RFY_NEW(b->arena, 1, rfy_given);
        for (int g = 0; g < b->net->mixture.n; g++)
            given->moles[g] = seal.conductance[g] / (RFY_R * RFY_T_REF);
        rfy_edge *edge = rfy_build_edge(b, rfy_build_name(b, "%s, permeation", name), RFY_EDGE_SEAL,
                                        outer, node);
        edge->flow = rfy_edge_given;
        edge->data = given;
        edge->copies = copies;
        if (s->outer)
            rfy_build_assume(b, "%s: steady permeation from %s", name, s->outer);
        else if (!lag)
            rfy_build_assume(
                b,
                "%s: steady permeation of air from the start; it sets in after hours to "
                "days in truth",
                name);
    }
}
