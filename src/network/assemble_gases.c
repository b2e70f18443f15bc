/* Which gases a run follows, and the air outside. */
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "network/assemble.h"

static int find(const rfy_mixture *mix, const char *name) {
    for (int i = 0; i < mix->n; i++)
        if (strcmp(mix->name[i], name) == 0)
            return i;
    return -1;
}

static void unknown_gas(rfy_build *b, const char *name, rfy_place at) {
    const rfy_catalog *catalog = b->net->catalog;
    const char *names[RFY_MAX_SPECIES];
    const char *list = "";
    for (size_t i = 0; i < catalog->n_species; i++) {
        names[i] = catalog->species[i].name;
        list = rfy_arena_printf(b->arena, "%s%s%s", list, i ? ", " : "", names[i]);
    }
    int near = rfy_nearest(name, names, catalog->n_species);
    if (near < 0) {
        const char *words[RFY_MAX_SPECIES];
        for (size_t i = 0; i < catalog->n_species; i++)
            words[i] = catalog->species[i].long_name;
        near = rfy_nearest(name, words, catalog->n_species);
    }
    rfy_problem_add(b->problems, RFY_ERROR, &at, list,
                    near >= 0 ? rfy_arena_printf(b->arena, "did you mean \"%s\"?", names[near])
                              : NULL,
                    "gas \"%s\" is not known", name);
}

int rfy_build_gas(rfy_build *b, const char *name, rfy_place at) {
    int i = find(&b->net->mixture, name);
    if (i >= 0)
        return i;
    if (rfy_species_find(b->net->catalog, name) < 0)
        unknown_gas(b, name, at);
    else
        rfy_problem_add(b->problems, RFY_ERROR, &at, "the gases listed under \"gases\"",
                        rfy_arena_printf(b->arena, "add \"%s\" to \"gases\"", name),
                        "%s is not among the gases of this run", name);
    return -1;
}

int rfy_build_wall_gas(rfy_build *b, const char *name, const char *material) {
    const rfy_mixture *mix = &b->net->mixture;
    int i = find(mix, name);
    if (i >= 0)
        return i;
    i = find(mix, "air");
    if (i < 0)
        i = find(mix, "N2");
    if (i < 0)
        i = 0;
    rfy_build_assume(b, "%s gives off %s, which is not among the gases: counted as %s", material,
                     name, mix->name[i]);
    return i;
}

/* Every gas that the description names anywhere. */
static void gather(rfy_build *b, bool *wanted) {
    const rfy_catalog *catalog = b->net->catalog;
    const rfy_description *d = b->description;
    const char *named[4] = {"N2", "O2", "Ar", "H2O"};
    for (int i = 0; i < 4; i++)
        if (rfy_species_find(catalog, named[i]) >= 0)
            wanted[rfy_species_find(catalog, named[i])] = true;
    const rfy_chamber_desc *chambers = d->chambers.item;
    for (size_t i = 0; i < d->chambers.n; i++) {
        const rfy_chamber_desc *c = &chambers[i];
        for (int s = 0; s < RFY_MAX_SPECIES; s++)
            if (!isnan(c->start.of[s]) || !isnan(c->reservoir.of[s]))
                wanted[s] = true;
        const rfy_wall_desc *walls = c->walls.item;
        for (size_t k = 0; k < c->walls.n; k++) {
            const char *gas = walls[k].gas;
            if (!gas && walls[k].material && isnan(walls[k].rate)) {
                const rfy_material *row =
                    rfy_material_find(catalog, walls[k].material, walls[k].condition);
                gas = row ? row->gas : NULL;
            }
            if (gas && rfy_species_find(catalog, gas) >= 0)
                wanted[rfy_species_find(catalog, gas)] = true;
        }
        const rfy_condensate_desc *wet = c->condensates.item;
        for (size_t k = 0; k < c->condensates.n; k++) {
            const rfy_vapour *row = rfy_vapour_find(catalog, wet[k].substance);
            if (row)
                wanted[rfy_species_find(catalog, row->gas)] = true;
        }
        const rfy_leak_desc *leaks = c->leaks.item;
        for (size_t k = 0; k < c->leaks.n; k++)
            if (leaks[k].gas && rfy_species_find(catalog, leaks[k].gas) >= 0)
                wanted[rfy_species_find(catalog, leaks[k].gas)] = true;
    }
    for (int s = 0; d->seal_off && s < RFY_MAX_SPECIES; s++)
        if (!isnan(d->seal_off->burst.of[s]))
            wanted[s] = true;
    const rfy_source_desc *sources = d->sources.item;
    for (size_t i = 0; i < d->sources.n; i++)
        if (rfy_species_find(catalog, sources[i].gas) >= 0)
            wanted[rfy_species_find(catalog, sources[i].gas)] = true;
}

static bool choose(rfy_build *b, int *species, int *n) {
    const rfy_catalog *catalog = b->net->catalog;
    const rfy_texts *gases = &b->description->gases;
    *n = 0;
    rfy_place given = rfy_place_of(&b->description->origin, "gases");
    if (gases->n == 0 && given.line != b->description->origin.at.line) {
        rfy_problem_add(b->problems, RFY_ERROR, &given, "at least one gas, or no such key", NULL,
                        "the list of gases is empty");
        return false;
    }
    if (gases->n > 0) {
        size_t before = rfy_problems_errors(b->problems);
        for (size_t i = 0; i < gases->n; i++) {
            int s = rfy_species_find(catalog, gases->item[i]);
            if (s < 0) {
                unknown_gas(b, gases->item[i], gases->at[i]);
                continue;
            }
            bool twice = false;
            for (int k = 0; k < *n; k++)
                twice = twice || species[k] == s;
            if (twice)
                rfy_problem_add(b->problems, RFY_ERROR, &gases->at[i], NULL, NULL,
                                "gas \"%s\" is listed twice", gases->item[i]);
            else if (*n == RFY_MAX_GASES)
                rfy_problem_add(b->problems, RFY_ERROR, &gases->at[i], "at most 16 gases", NULL,
                                "too many gases");
            else
                species[(*n)++] = s;
        }
        int air = rfy_species_find(catalog, "air");
        bool has_air = false, has_part = false;
        for (int k = 0; k < *n; k++) {
            has_air = has_air || species[k] == air;
            has_part = has_part || (species[k] != air &&
                                    (strcmp(catalog->species[species[k]].name, "N2") == 0 ||
                                     strcmp(catalog->species[species[k]].name, "O2") == 0));
        }
        if (has_air && has_part)
            rfy_problem_add(b->problems, RFY_ERROR, &gases->at[0],
                            "\"air\", or its parts such as \"N2\" and \"O2\"", NULL,
                            "air and parts of air are listed together");
        return rfy_problems_errors(b->problems) == before;
    }
    bool wanted[RFY_MAX_SPECIES] = {false};
    gather(b, wanted);
    const char *list = "";
    for (size_t s = 0; s < catalog->n_species && *n < RFY_MAX_GASES; s++)
        if (wanted[s] && strcmp(catalog->species[s].name, "air") != 0) {
            list = rfy_arena_printf(b->arena, "%s%s%s", list, *n ? ", " : "",
                                    catalog->species[s].name);
            species[(*n)++] = (int)s;
        }
    rfy_build_assume(b, "gases followed: %s", list);
    return true;
}

bool rfy_build_gases(rfy_build *b) {
    rfy_network *net = b->net;
    const rfy_ambient_desc *a = b->description->ambient;
    double humidity = a && !isnan(a->relative_humidity) ? a->relative_humidity : 0.5;
    net->ambient_temperature = a && !isnan(a->temperature) ? a->temperature : RFY_T_REF;
    net->ambient_pressure = a && !isnan(a->pressure) ? a->pressure : RFY_ATM;
    int species[RFY_MAX_GASES], n;
    if (!choose(b, species, &n))
        return false;
    const rfy_mixture *was = b->like ? &b->like->mixture : NULL;
    if (was && was->n == n && memcmp(was->species, species, (size_t)n * sizeof *species) == 0 &&
        !(fabs(was->temperature - net->ambient_temperature) > 0))
        net->mixture = *was;
    else
        rfy_mixture_init(&net->mixture, net->catalog, species, n, net->ambient_temperature);
    const rfy_mixture *mix = &net->mixture;

    double water = humidity * rfy_water_saturation(net->ambient_temperature);
    int i_water = find(mix, "H2O"), rest_to = find(mix, "air");
    if (rest_to < 0)
        rest_to = find(mix, "N2");
    if (rest_to < 0)
        rest_to = find(mix, "O2");
    bool outside_matters = rest_to >= 0;
    if (rest_to < 0)
        rest_to =
            0; /* no part of air is followed: whatever comes from outside counts as the first gas */
    if (i_water >= 0 && water >= net->ambient_pressure) {
        rfy_place at = a ? a->origin.at : (rfy_place){0};
        rfy_problem_add(
            b->problems, RFY_ERROR, &at, "a lower humidity or temperature, or more pressure", NULL,
            "the water vapour of the air (%.0f Pa) exceeds its whole pressure (%.0f Pa)", water,
            net->ambient_pressure);
        return false;
    }
    double dry = net->ambient_pressure - (i_water >= 0 ? water : 0), sum = 0;
    for (int i = 0; i < n; i++) {
        double x = net->catalog->species[species[i]].air_fraction;
        net->ambient[i] = i == i_water ? water : x * dry;
        sum += net->ambient[i];
    }
    net->ambient[rest_to] += net->ambient_pressure - sum;

    if (!a || isnan(a->pressure) || isnan(a->temperature) || isnan(a->relative_humidity))
        rfy_build_assume(b, "surroundings: %.0f Pa, %.0f degC, %.0f %% relative humidity",
                         net->ambient_pressure, net->ambient_temperature - 273.15, humidity * 100);
    if (!outside_matters)
        rfy_build_assume(b, "no part of air is among the gases: air from outside counts as %s",
                         mix->name[rest_to]);
    return true;
}

const rfy_mixture *rfy_build_mixture(rfy_build *b, double temperature) {
    const rfy_mixture *own = &b->net->mixture;
    if (fabs(temperature - own->temperature) < 1e-6)
        return own;
    for (int i = 0; i < b->n_other; i++)
        if (fabs(temperature - b->other[i]->temperature) < 1e-6)
            return b->other[i];
    if (b->n_other == b->cap_other) {
        int more = b->cap_other ? 2 * b->cap_other : 8;
        b->other = rfy_arena_grow(b->arena, b->other, (size_t)b->cap_other, (size_t)more,
                                  sizeof *b->other);
        b->cap_other = more;
    }
    rfy_mixture *made = RFY_NEW(b->arena, 1, rfy_mixture);
    rfy_mixture_init(made, b->net->catalog, own->species, own->n, temperature);
    return b->other[b->n_other++] = made;
}
