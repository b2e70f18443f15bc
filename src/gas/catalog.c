#include "gas/catalog.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include "core/csv.h"
#include "core/text.h"
#include "gas/catalog_read.h"

enum { MOST_COLUMNS = 32 };

/* Most names differ in their first letter. */
static bool same(const char *a, const char *b) {
    return *a == *b && strcmp(a, b) == 0;
}

typedef struct reader {
    rfy_arena *arena;
    const rfy_embedded *tables;
    rfy_catalog *catalog;
    char *message;
    const char *table;
    rfy_csv csv;
    size_t row;
    /* columns in the order in which a row asks for them, and where they were found */
    const char *asked[MOST_COLUMNS];
    int found[MOST_COLUMNS];
    size_t n_asked, turn, turn_row;
    bool good; /* false after the first complaint; then every getter returns something harmless */
} reader;

static void complain(reader *r, int line, const char *column, const char *what) {
    if (r->good)
        snprintf(r->message, RFY_CATALOG_MESSAGE, "table %s, line %d, column %s: %s", r->table,
                 line, column, what);
    r->good = false;
}

static void complain_row(reader *r, const char *column, const char *what) {
    complain(r, r->csv.line[r->row], column, what);
}

static void open_table(reader *r, const char *name, rfy_table *out) {
    if (!r->good)
        return;
    r->table = name;
    r->csv = (rfy_csv){0};
    r->n_asked = r->turn = r->turn_row = 0;
    const rfy_embedded *table = r->tables;
    while (table->name && strcmp(table->name, name) != 0)
        table++;
    if (!table->name) {
        complain(r, 0, "-", "the table is missing");
        return;
    }
    rfy_csv_error error;
    if (!rfy_csv_read(r->arena, table->text, table->length, &r->csv, &error)) {
        char column[24];
        snprintf(column, sizeof column, "%d", error.column);
        complain(r, error.line, column, error.what);
        return;
    }
    if (r->csv.n_rows == 0)
        complain(r, 0, "-", "the table has no rows");
    *out = (rfy_table){.name = name,
                       .n_columns = r->csv.n_columns,
                       .n_rows = r->csv.n_rows,
                       .column = r->csv.column,
                       .cell = r->csv.cell};
}

/* Every row asks for the same columns in the same order, mostly. */
static int column_of(reader *r, const char *column) {
    if (r->turn_row != r->row)
        r->turn = 0;
    r->turn_row = r->row;
    const size_t turn = r->turn++;
    if (turn < r->n_asked && r->asked[turn] == column)
        return r->found[turn];
    const int c = rfy_csv_column(&r->csv, column);
    if (turn == r->n_asked && turn < MOST_COLUMNS) {
        r->asked[turn] = column;
        r->found[turn] = c;
        r->n_asked++;
    }
    return c;
}

/* The cell as text, "" where it is empty. */
static const char *text(reader *r, const char *column) {
    const int c = column_of(r, column);
    if (c < 0) {
        complain(r, 1, column, "there is no such column");
        return "";
    }
    return r->csv.cell[r->row * r->csv.n_columns + (size_t)c];
}

static const char *required_text(reader *r, const char *column) {
    const char *cell = text(r, column);
    if (cell[0] == '\0')
        complain_row(r, column, "the cell is empty");
    return cell;
}

/* NaN where the cell is empty; else a number of at least `least`. */
static double optional_number(reader *r, const char *column, double least) {
    const char *cell = text(r, column);
    if (cell[0] == '\0')
        return NAN;
    double value = NAN;
    size_t used = rfy_read_number(cell, &value);
    if (used == 0 || cell[used] != '\0' || !isfinite(value)) {
        complain_row(r, column, "not a number");
        return 1.0;
    }
    if (value < least) {
        complain_row(r, column, "the number is too small");
        return 1.0;
    }
    return value;
}

static double number(reader *r, const char *column, double least) {
    double value = optional_number(r, column, least);
    if (isnan(value)) {
        complain_row(r, column, "the cell is empty");
        return 1.0;
    }
    return value;
}

static bool is_yes(reader *r, const char *column) {
    const char *cell = text(r, column);
    if (strcmp(cell, "yes") != 0 && strcmp(cell, "no") != 0)
        complain_row(r, column, "neither yes nor no");
    return strcmp(cell, "yes") == 0;
}

/* Letters of the tags R N M D P, joined by '+'. */
static const char *status(reader *r) {
    const char *cell = required_text(r, "status");
    for (size_t i = 0; cell[i] != '\0'; i++)
        if (i % 2 == 0 ? strchr("RNMDP", cell[i]) == NULL : cell[i] != '+')
            complain_row(r, "status", "not made of R, N, M, D, P joined by +");
    if (strlen(cell) % 2 == 0)
        complain_row(r, "status", "a letter is missing");
    return cell;
}

static const char *gas_name(reader *r) {
    const char *name = required_text(r, "gas");
    if (rfy_species_find(r->catalog, name) < 0)
        complain_row(r, "gas", "not a gas of the table of gases");
    return name;
}

static void read_gases(reader *r) {
    open_table(r, "gases", &r->catalog->gases);
    if (!r->good)
        return;
    if (r->csv.n_rows > RFY_MAX_SPECIES) {
        complain(r, 0, "name", "more gases than RFY_MAX_SPECIES");
        return;
    }
    rfy_species *species = RFY_NEW(r->arena, r->csv.n_rows, rfy_species);
    r->catalog->species = species;
    double air = 0.0;
    for (r->row = 0; r->good && r->row < r->csv.n_rows; r->row++) {
        rfy_species *s = &species[r->row];
        s->name = required_text(r, "name");
        if (rfy_species_find(r->catalog, s->name) >= 0)
            complain_row(r, "name", "the gas was there before");
        s->long_name = required_text(r, "long_name");
        s->molar_mass = 1e-3 * number(r, "molar_mass_g_per_mol", 1.0);
        s->viscosity_300 = 1e-6 * number(r, "viscosity_300K_uPa_s", 1.0);
        s->sutherland = number(r, "sutherland_K", 0.0);
        s->gamma = number(r, "gamma", 1.01);
        s->diffusion_volume = number(r, "diffusion_volume_cm3_per_mol", 1.0);
        s->air_fraction = number(r, "air_fraction", 0.0);
        s->ion_sensitivity = number(r, "ion_sensitivity", 0.01);
        s->thermal_sensitivity = number(r, "thermal_sensitivity", 0.01);
        s->source = required_text(r, "source");
        s->status = status(r);
        air += s->air_fraction;
        r->catalog->n_species++;
    }
    if (r->good && !(fabs(air - 1.0) < 1e-3))
        complain(r, 0, "air_fraction", "the column does not add up to 1 within 0.1 %");
    /* The published fractions of N2 and O2 are older than that of CO2, which has risen since; the
     * sum is 9e-5 too high. Scaled, so that air is all of air. */
    for (size_t i = 0; i < r->catalog->n_species; i++)
        species[i].air_fraction /= air;
}

static void read_materials(reader *r) {
    open_table(r, "materials", &r->catalog->materials);
    if (!r->good)
        return;
    rfy_material *material = RFY_NEW(r->arena, r->csv.n_rows, rfy_material);
    r->catalog->material = material;
    for (r->row = 0; r->good && r->row < r->csv.n_rows; r->row++) {
        rfy_material *m = &material[r->row];
        m->material = required_text(r, "material");
        m->condition = required_text(r, "condition");
        m->rate_1h = optional_number(r, "rate_1h_Pa_m3_per_s_m2", 0.0);
        m->slope_1h = optional_number(r, "slope_1h", 0.0);
        m->rate_10h = optional_number(r, "rate_10h_Pa_m3_per_s_m2", 0.0);
        m->slope_10h = optional_number(r, "slope_10h", 0.0);
        if (isnan(m->rate_1h) && isnan(m->rate_10h))
            complain_row(r, "rate_1h_Pa_m3_per_s_m2", "the row has no rate");
        m->spread = number(r, "spread", 1.0);
        m->gas = gas_name(r);
        m->is_default = is_yes(r, "default");
        m->max_temperature = 273.15 + optional_number(r, "max_temperature_degC", -270.0);
        m->alias = text(r, "alias");
        m->source = required_text(r, "source");
        m->status = status(r);
        m->note = text(r, "note");
        for (size_t i = 0; i < r->catalog->n_materials; i++) {
            if (!same(material[i].material, m->material))
                continue;
            if (same(material[i].condition, m->condition))
                complain_row(r, "condition", "the material has this condition already");
            if (material[i].is_default && m->is_default)
                complain_row(r, "default", "the material has a default row already");
        }
        r->catalog->n_materials++;
    }
    for (r->row = 0; r->good && r->row < r->csv.n_rows; r->row++)
        if (!rfy_material_find(r->catalog, material[r->row].material, NULL))
            complain_row(r, "default", "the material has no default row");
}

static void read_permeation(reader *r) {
    open_table(r, "permeation", &r->catalog->permeation);
    if (!r->good)
        return;
    rfy_permeability *list = RFY_NEW(r->arena, r->csv.n_rows, rfy_permeability);
    r->catalog->permeability = list;
    for (r->row = 0; r->good && r->row < r->csv.n_rows; r->row++) {
        rfy_permeability *p = &list[r->row];
        p->material = required_text(r, "material");
        p->gas = gas_name(r);
        if (rfy_permeability_find(r->catalog, p->material, p->gas))
            complain_row(r, "gas", "the material has a row for this gas already");
        p->k = number(r, "k_m2_per_s", 0.0);
        p->k_low = number(r, "k_low_m2_per_s", 0.0);
        p->k_high = number(r, "k_high_m2_per_s", 0.0);
        if (!(p->k_low <= p->k && p->k <= p->k_high))
            complain_row(r, "k_m2_per_s", "not between its own limits");
        p->activation = 1e3 * optional_number(r, "activation_kJ_per_mol", 0.0);
        p->source = required_text(r, "source");
        p->status = status(r);
        r->catalog->n_permeabilities++;
    }
}

static void read_sites(reader *r) {
    open_table(r, "sites", &r->catalog->sites);
    if (!r->good)
        return;
    rfy_site_row *list = RFY_NEW(r->arena, r->csv.n_rows, rfy_site_row);
    r->catalog->site = list;
    for (r->row = 0; r->good && r->row < r->csv.n_rows; r->row++) {
        rfy_site_row *s = &list[r->row];
        s->sites = required_text(r, "sites");
        if (rfy_sites_find(r->catalog, s->sites))
            complain_row(r, "sites", "the name was there before");
        s->layers = number(r, "layers", 1e-6);
        s->energy_low = 1e3 * number(r, "energy_low_kJ_per_mol", 1.0);
        s->energy_high = 1e3 * number(r, "energy_high_kJ_per_mol", 1.0);
        if (!(s->energy_low < s->energy_high))
            complain_row(r, "energy_high_kJ_per_mol", "not above the low end");
        s->rise = number(r, "rise", -50.0);
        s->frequency = number(r, "frequency_per_s", 1.0);
        s->sticking = number(r, "sticking", 0.0);
        s->spread = number(r, "spread", 1.0);
        s->is_default = is_yes(r, "default");
        s->source = required_text(r, "source");
        s->status = status(r);
        r->catalog->n_sites++;
    }
    if (r->good && !rfy_sites_find(r->catalog, NULL))
        complain(r, 0, "default", "no default row");
}

static void read_diffusion(reader *r) {
    open_table(r, "diffusion", &r->catalog->diffusion);
    if (!r->good)
        return;
    rfy_diffusivity *list = RFY_NEW(r->arena, r->csv.n_rows, rfy_diffusivity);
    r->catalog->diffusivity = list;
    for (r->row = 0; r->good && r->row < r->csv.n_rows; r->row++) {
        rfy_diffusivity *d = &list[r->row];
        d->material = required_text(r, "material");
        d->gas = gas_name(r);
        if (rfy_diffusivity_find(r->catalog, d->material, d->gas))
            complain_row(r, "gas", "the material has a row for this gas already");
        double cold = optional_number(r, "d_20degC_m2_per_s", 0.0);
        d->d0 = optional_number(r, "d0_m2_per_s", 0.0);
        d->activation = 1e3 * number(r, "activation_kJ_per_mol", 0.0);
        if (isnan(cold) == isnan(d->d0))
            complain_row(r, "d0_m2_per_s", "one of the two diffusivities is wanted");
        if (isnan(d->d0)) /* 20 degC */
            d->d0 = cold * exp(d->activation / (8.31446261815324 * 293.15));
        d->content = optional_number(r, "content_Pa", 0.0);
        d->outside = is_yes(r, "outside");
        if (d->outside && !rfy_permeability_find(r->catalog, d->material, d->gas))
            complain_row(r, "outside", "the permeation table has no such row");
        if (!d->outside && isnan(d->content))
            complain_row(r, "content_Pa", "the cell is empty");
        d->spread = number(r, "spread", 1.0);
        d->source = required_text(r, "source");
        d->status = status(r);
        r->catalog->n_diffusivities++;
    }
}

static void read_getters(reader *r) {
    open_table(r, "getters", &r->catalog->getters);
    if (!r->good)
        return;
    rfy_getter_row *list = RFY_NEW(r->arena, r->csv.n_rows, rfy_getter_row);
    r->catalog->getter = list;
    for (r->row = 0; r->good && r->row < r->csv.n_rows; r->row++) {
        rfy_getter_row *g = &list[r->row];
        g->getter = required_text(r, "getter");
        g->gas = gas_name(r);
        if (rfy_getter_find(r->catalog, g->getter, g->gas))
            complain_row(r, "gas", "the getter has a row for this gas already");
        g->speed = number(r, "speed_m3_per_s_m2", 0.0);
        g->capacity_by_mass = optional_number(r, "capacity_Pa_m3_per_kg", 0.0);
        g->capacity_by_area = optional_number(r, "capacity_Pa_m3_per_m2", 0.0);
        if (isnan(g->capacity_by_mass) == isnan(g->capacity_by_area))
            complain_row(r, "capacity_Pa_m3_per_kg", "one of the two capacities is wanted");
        g->spread = number(r, "spread", 1.0);
        g->source = required_text(r, "source");
        g->status = status(r);
        r->catalog->n_getters++;
    }
}

static void read_vapours(reader *r) {
    open_table(r, "vapours", &r->catalog->vapours);
    if (!r->good)
        return;
    rfy_vapour *list = RFY_NEW(r->arena, r->csv.n_rows, rfy_vapour);
    r->catalog->vapour = list;
    for (r->row = 0; r->good && r->row < r->csv.n_rows; r->row++) {
        rfy_vapour *v = &list[r->row];
        v->substance = required_text(r, "substance");
        if (rfy_vapour_find(r->catalog, v->substance))
            complain_row(r, "substance", "the substance was there before");
        v->gas = gas_name(r);
        v->factor = optional_number(r, "magnus_factor_Pa", 0.0);
        v->slope = optional_number(r, "magnus_slope", 0.0);
        v->shift = optional_number(r, "magnus_shift_K", 0.0);
        v->reference = optional_number(r, "p_ref_Pa", 0.0);
        v->reference_temperature = 273.15 + optional_number(r, "t_ref_degC", -270.0);
        if (isnan(v->reference) == isnan(v->factor))
            complain_row(r, "p_ref_Pa", "one of the two forms is wanted");
        v->heat = 1e3 * number(r, "heat_kJ_per_mol", 1.0);
        v->least = 273.15 + number(r, "least_degC", -270.0);
        v->most = 273.15 + number(r, "most_degC", -270.0);
        v->spread = number(r, "spread", 1.0);
        v->source = required_text(r, "source");
        v->status = status(r);
        r->catalog->n_vapours++;
    }
}

static void read_bores(reader *r) {
    open_table(r, "bores", &r->catalog->bores);
    for (r->row = 0; r->good && r->row < r->csv.n_rows; r->row++) {
        required_text(r, "kind");
        required_text(r, "nominal");
        number(r, "bore_mm", 0.1);
        required_text(r, "source");
        status(r);
    }
}

static void read_pumps(reader *r) {
    open_table(r, "pumps", &r->catalog->pumps);
    for (r->row = 0; r->good && r->row < r->csv.n_rows; r->row++) {
        required_text(r, "class");
        required_text(r, "kind");
        required_text(r, "speed_shape");
        static const char *const positive[] = {
            "ultimate_Pa",    "ultimate_low_Pa", "ultimate_high_Pa", "ballast_ultimate_Pa",
            "compression_N2", "compression_He",  "compression_H2",   "foreline_limit_Pa",
            "run_up_s",       "coast_down_s"};
        for (size_t i = 0; i < sizeof positive / sizeof *positive; i++)
            optional_number(r, positive[i], 1e-12);
        required_text(r, "source");
        status(r);
    }
}

void rfy_catalog_tell(const rfy_catalog *catalog, rfy_problems *problems) {
    const rfy_place nowhere = {0};
    if (catalog->trouble)
        rfy_problem_add(problems, RFY_ERROR, &nowhere, NULL, NULL,
                        "the built-in data are broken: %s", catalog->trouble);
}

bool rfy_catalog_read(rfy_arena *arena, const rfy_embedded *tables, rfy_catalog *catalog,
                      char *message) {
    *catalog = (rfy_catalog){0};
    message[0] = '\0';
    reader r = {
        .arena = arena, .tables = tables, .catalog = catalog, .message = message, .good = true};
    read_gases(&r);
    read_materials(&r);
    read_permeation(&r);
    read_sites(&r);
    read_diffusion(&r);
    read_getters(&r);
    read_vapours(&r);
    read_bores(&r);
    read_pumps(&r);
    return r.good;
}

const rfy_catalog *rfy_catalog_new(rfy_arena *arena) {
    char message[RFY_CATALOG_MESSAGE];
    rfy_catalog *catalog = RFY_NEW(arena, 1, rfy_catalog);
    const rfy_units *units = rfy_units_new(arena);
    const char *trouble = rfy_units_trouble(units);
    if (!rfy_catalog_read(arena, rfy_embedded_tables, catalog, message))
        trouble = rfy_arena_strdup(arena, message);
    if (trouble)
        *catalog = (rfy_catalog){.trouble = trouble};
    catalog->units = units;
    return catalog;
}

int rfy_species_find(const rfy_catalog *catalog, const char *name) {
    for (size_t i = 0; i < catalog->n_species; i++)
        if (same(catalog->species[i].name, name))
            return (int)i;
    return -1;
}

/* True when `name` is one of the names in "a|b|c", in capitals or not. */
static bool is_among(const char *names, const char *name) {
    size_t length = strlen(name);
    for (const char *at = names; *at != '\0';) {
        size_t n = strcspn(at, "|");
        if (n == length && strncasecmp(at, name, n) == 0)
            return true;
        at += n + (at[n] == '|');
    }
    return false;
}

const char *rfy_material_name(const rfy_catalog *catalog, const char *material) {
    for (size_t i = 0; i < catalog->n_materials; i++) /* as it mostly is */
        if (same(catalog->material[i].material, material))
            return catalog->material[i].material;
    for (size_t i = 0; i < catalog->n_materials; i++)
        if (is_among(catalog->material[i].alias, material) ||
            strcasecmp(catalog->material[i].material, material) == 0)
            return catalog->material[i].material;
    return material;
}

const rfy_material *rfy_material_find(const rfy_catalog *catalog, const char *material,
                                      const char *condition) {
    const char *name = rfy_material_name(catalog, material);
    for (size_t i = 0; i < catalog->n_materials; i++) {
        const rfy_material *row = &catalog->material[i];
        if (!same(row->material, name))
            continue;
        if (condition ? strcasecmp(row->condition, condition) == 0 : row->is_default)
            return row;
    }
    return NULL;
}

const rfy_permeability *rfy_permeability_find(const rfy_catalog *catalog, const char *material,
                                              const char *gas) {
    const char *name = rfy_material_name(catalog, material);
    for (size_t i = 0; i < catalog->n_permeabilities; i++) {
        const rfy_permeability *row = &catalog->permeability[i];
        if (same(row->material, name) && same(row->gas, gas))
            return row;
    }
    return NULL;
}

const rfy_site_row *rfy_sites_find(const rfy_catalog *catalog, const char *sites) {
    for (size_t i = 0; i < catalog->n_sites; i++) {
        const rfy_site_row *row = &catalog->site[i];
        if (sites ? same(row->sites, sites) : row->is_default)
            return row;
    }
    return NULL;
}

const rfy_diffusivity *rfy_diffusivity_find(const rfy_catalog *catalog, const char *material,
                                            const char *gas) {
    const char *name = rfy_material_name(catalog, material);
    for (size_t i = 0; i < catalog->n_diffusivities; i++) {
        const rfy_diffusivity *row = &catalog->diffusivity[i];
        if (same(row->material, name) && same(row->gas, gas))
            return row;
    }
    return NULL;
}

const rfy_getter_row *rfy_getter_find(const rfy_catalog *catalog, const char *getter,
                                      const char *gas) {
    for (size_t i = 0; i < catalog->n_getters; i++) {
        const rfy_getter_row *row = &catalog->getter[i];
        if (same(row->getter, getter) && same(row->gas, gas))
            return row;
    }
    return NULL;
}

const rfy_vapour *rfy_vapour_find(const rfy_catalog *catalog, const char *substance) {
    for (size_t i = 0; i < catalog->n_vapours; i++)
        if (same(catalog->vapour[i].substance, substance))
            return &catalog->vapour[i];
    return NULL;
}
