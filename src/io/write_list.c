#include "io/write_list.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/text.h"
#include "flow/piece.h"
#include "gas/catalog.h"
#include "network/description.h"
#include "pump/pump.h"

typedef struct shown { /* a column of a data file in the text for people */
    const char *column, *head;
} shown;

typedef struct layout {
    const char *heading;
    const char *group;      /* column whose value stands above its rows, or NULL */
    const char *group_also; /* column said behind the group's name when filled in any of its rows,
                               or NULL */
    shown column[13];       /* ends with a NULL; numbers are right-aligned */
    bool notes;             /* a column "note" closes the line */
} layout;

static const layout gases = {.heading = "GASES",
                             .column = {{"name", "gas"},
                                        {"long_name", "name"},
                                        {"molar_mass_g_per_mol", "g/mol"},
                                        {"viscosity_300K_uPa_s", "uPa s, 300 K"},
                                        {"sutherland_K", "S, K"},
                                        {"gamma", "cp/cv"},
                                        {"diffusion_volume_cm3_per_mol", "v, cm3/mol"},
                                        {"air_fraction", "in dry air"},
                                        {"ion_sensitivity", "ion"},
                                        {"thermal_sensitivity", "thermal"},
                                        {"status", "status"}}};
static const layout materials = {
    .heading = "WALL MATERIALS: outgassing in Pa m3/s/m2, 1 h and 10 h after the start of pumping",
    .group = "material",
    .group_also = "alias",
    .column = {{"condition", "condition"},
               {"rate_1h_Pa_m3_per_s_m2", "1 h"},
               {"slope_1h", "slope"},
               {"rate_10h_Pa_m3_per_s_m2", "10 h"},
               {"slope_10h", "slope"},
               {"spread", "spread"},
               {"gas", "gas"},
               {"default", "default"},
               {"max_temperature_degC", "bake, degC"},
               {"status", "status"}},
    .notes = true};
static const layout permeation = {
    .heading = "PERMEATION: k in m2/s, throughput = k area / thickness x pressure difference",
    .group = "material",
    .column = {{"gas", "gas"},
               {"k_m2_per_s", "k"},
               {"k_low_m2_per_s", "low"},
               {"k_high_m2_per_s", "high"},
               {"status", "status"}},
    .notes = true};
static const layout sites = {
    .heading = "ADSORBED WATER: sites spread over desorption energies; layers of 1e19 molecules/m2",
    .column = {{"sites", "sites"},
               {"layers", "layers"},
               {"energy_low_kJ_per_mol", "from, kJ/mol"},
               {"energy_high_kJ_per_mol", "to, kJ/mol"},
               {"rise", "rise"},
               {"frequency_per_s", "1/s"},
               {"sticking", "sticking"},
               {"spread", "spread"},
               {"status", "status"}},
    .notes = true};
static const layout diffusion = {
    .heading =
        "DIFFUSION: D = d0 exp(-E/RT) or D at 20 degC, m2/s; content in Pa m3 per m3 of wall",
    .group = "material",
    .column = {{"gas", "gas"},
               {"d_20degC_m2_per_s", "D, 20 degC"},
               {"d0_m2_per_s", "d0"},
               {"activation_kJ_per_mol", "E, kJ/mol"},
               {"content_Pa", "content"},
               {"outside", "from outside"},
               {"spread", "spread"},
               {"status", "status"}},
    .notes = true};
static const layout getters = {
    .heading = "GETTERS: speed per area when fresh, capacity per mass of film or per area of strip",
    .group = "getter",
    .column = {{"gas", "gas"},
               {"speed_m3_per_s_m2", "m3/s/m2"},
               {"capacity_Pa_m3_per_kg", "Pa m3/kg"},
               {"capacity_Pa_m3_per_m2", "Pa m3/m2"},
               {"spread", "spread"},
               {"status", "status"}},
    .notes = true};
static const layout vapours = {
    .heading = "VAPOURS THAT CONDENSE: saturation pressure by a Magnus form, or from one point",
    .column = {{"substance", "substance"},
               {"gas", "gas"},
               {"magnus_factor_Pa", "factor, Pa"},
               {"magnus_slope", "slope"},
               {"magnus_shift_K", "shift, K"},
               {"p_ref_Pa", "p, Pa"},
               {"t_ref_degC", "at degC"},
               {"heat_kJ_per_mol", "kJ/mol"},
               {"least_degC", "from degC"},
               {"most_degC", "to degC"},
               {"spread", "spread"},
               {"status", "status"}},
    .notes = true};
static const layout bores = {
    .heading = "BORES",
    .group = "kind",
    .group_also = "standard",
    .column = {{"nominal", "nominal"}, {"bore_mm", "bore, mm"}, {"status", "status"}},
    .notes = true};
static const layout pump_classes = {.heading = "TYPICAL PUMPS: for orientation; a kind that is not "
                                               "among those above cannot be used in a description",
                                    .group = "kind",
                                    .column = {{"class", "class"},
                                               {"ultimate_Pa", "ultimate, Pa"},
                                               {"ballast_ultimate_Pa", "with ballast"},
                                               {"compression_N2", "K0 N2"},
                                               {"compression_He", "He"},
                                               {"compression_H2", "H2"},
                                               {"foreline_limit_Pa", "foreline, Pa"},
                                               {"run_up_s", "run-up, s"},
                                               {"status", "status"}},
                                    .notes = true};
static const layout units = {
    .heading = "UNITS: value in SI = value x factor + offset; they combine, as in \"mbar L/s\"",
    .group = "dimension",
    .column = {{"symbol", "unit"},
               {"in_SI", "in SI"},
               {"exactly", "exactly"},
               {"offset", "offset"},
               {"status", "status"}}};

/* The units as a table of their own: the data file holds factors as products of exact numbers. */
static rfy_table unit_table(rfy_arena *arena, const rfy_units *list) {
    static const char *const columns[] = {"symbol", "dimension", "in_SI", "exactly",
                                          "offset", "source",    "status"};
    enum { N = sizeof columns / sizeof *columns };
    size_t n = rfy_units_count(list);
    const char **cells = RFY_NEW(arena, n * N, const char *);
    for (size_t i = 0; i < n; i++) {
        const rfy_unit_row *unit = rfy_units_row(list, i);
        double factor = 0.0, offset = 0.0;
        rfy_quantity_error error;
        if (strcmp(unit->dimension, rfy_dim_name(RFY_DIM_TEMPERATURE)) == 0)
            rfy_parse_unit(list, unit->symbol, RFY_DIM_TEMPERATURE, &factor, &offset, &error);
        char si[32], from[32];
        const char *row[N] = {unit->symbol,
                              unit->dimension,
                              rfy_arena_strdup(arena, rfy_write_number(si, unit->si)),
                              unit->factor,
                              rfy_arena_strdup(arena, rfy_write_number(from, offset)),
                              unit->source,
                              unit->status};
        memcpy(cells + i * N, row, sizeof row);
    }
    return (rfy_table){
        .name = "units", .n_columns = N, .n_rows = n, .column = columns, .cell = cells};
}

static int column_of(const rfy_table *table, const char *name) {
    for (size_t c = 0; name && c < table->n_columns; c++)
        if (strcmp(table->column[c], name) == 0)
            return (int)c;
    return -1;
}

static const char *cell(const rfy_table *table, size_t row, int column) {
    return column < 0 ? "" : table->cell[row * table->n_columns + (size_t)column];
}

/* A column is of numbers when every cell that is not empty is one. */
static bool is_numeric(const rfy_table *table, int column) {
    bool any = false;
    for (size_t row = 0; row < table->n_rows; row++) {
        const char *text = cell(table, row, column);
        double value;
        if (text[0] == '\0')
            continue;
        if (text[rfy_read_number(text, &value)] != '\0')
            return false;
        any = true;
    }
    return any;
}

/* The row where this row's source was first named: equal sources share a number. */
static size_t first_with_source(const rfy_table *table, size_t row, int source) {
    size_t first = 0;
    while (strcmp(cell(table, first, source), cell(table, row, source)) != 0)
        first++;
    return first;
}

static void page_group(rfy_page *page, const rfy_table *table, size_t row, int group, int also) {
    const char *more = "";
    for (size_t i = row; i < table->n_rows && more[0] == '\0'; i++)
        if (strcmp(cell(table, i, group), cell(table, row, group)) == 0)
            more = cell(table, i, also);
    char names[400]; /* "a|b" becomes "a, b" */
    size_t n = 0;
    for (const char *c = more; *c != '\0' && n + 3 < sizeof names; c++) {
        names[n++] = *c == '|' ? ',' : *c;
        if (*c == '|')
            names[n++] = ' ';
    }
    names[n] = '\0';
    rfy_page_say(page, 2, 6, "%s%s%s%s", cell(table, row, group), more[0] ? " (" : "", names,
                 more[0] ? ")" : "");
}

static void page_table(rfy_page *page, const rfy_table *table, const layout *how) {
    int column[13], width[13], n = 0;
    bool right[13];
    for (; how->column[n].column; n++) {
        column[n] = column_of(table, how->column[n].column);
        right[n] = is_numeric(table, column[n]);
        width[n] = rfy_text_columns(how->column[n].head);
        for (size_t row = 0; row < table->n_rows; row++) {
            int wide = rfy_text_columns(cell(table, row, column[n]));
            width[n] = wide > width[n] ? wide : width[n];
        }
    }
    int group = column_of(table, how->group), also = column_of(table, how->group_also);
    int source = column_of(table, "source"), note = how->notes ? column_of(table, "note") : -1;
    int indent = group < 0 ? 2 : 4;

    rfy_page_heading(page, "%s", how->heading);
    fprintf(page->out, "%*s", indent, "");
    for (int c = 0; c < n; c++) {
        rfy_page_cell(page, how->column[c].head, width[c], right[c]);
        fputs("  ", page->out);
    }
    fputs(note < 0 ? "source\n" : "source, note\n", page->out);

    size_t *number = rfy_xcalloc(table->n_rows + 1, sizeof *number), sources = 0;
    for (size_t row = 0; row < table->n_rows; row++) {
        if (group >= 0 &&
            (row == 0 || strcmp(cell(table, row, group), cell(table, row - 1, group)) != 0))
            page_group(page, table, row, group, also);
        size_t first = first_with_source(table, row, source);
        if (first == row)
            number[row] = ++sources;
        fprintf(page->out, "%*s", indent, "");
        int at = indent;
        for (int c = 0; c < n; c++) {
            const char *text = cell(table, row, column[c]);
            rfy_page_cell(page, text[0] ? text : "-", width[c], right[c]);
            fputs("  ", page->out);
            at += width[c] + 2;
        }
        const char *remark = cell(table, row, note);
        fprintf(page->out, "[%zu]", number[first]);
        if (remark[0] == '\0' || at + 6 + rfy_text_columns(remark) <= page->width) {
            fprintf(page->out, "%s%s\n", remark[0] ? " " : "", remark);
        } else {
            fputs("\n", page->out);
            rfy_page_say(page, indent + 4, indent + 4, "%s", remark);
        }
    }
    fputs("\n  Sources:\n", page->out);
    for (size_t row = 0; row < table->n_rows; row++)
        if (number[row])
            rfy_page_say(page, 2, 6, "[%zu] %s", number[row], cell(table, row, source));
    rfy_page_say(
        page, 2, 4,
        "Status: R read in a published text, N recomputed, M from memory, D derived, P common "
        "practice without a source.");
    free(number);
}

static void json_table(rfy_json *json, const char *key, const rfy_table *table) {
    bool *numeric = rfy_xcalloc(table->n_columns, sizeof *numeric);
    for (size_t c = 0; c < table->n_columns; c++)
        numeric[c] = is_numeric(table, (int)c);
    rfy_json_array(json, key);
    for (size_t row = 0; row < table->n_rows; row++) {
        rfy_json_object(json, NULL);
        for (size_t c = 0; c < table->n_columns; c++) {
            const char *text = cell(table, row, (int)c);
            double value = NAN;
            if (numeric[c]) {
                rfy_read_number(text, &value);
                rfy_json_number(json, table->column[c], value);
            } else {
                rfy_json_text(json, table->column[c], text[0] ? text : NULL);
            }
        }
        rfy_json_close(json);
    }
    rfy_json_close(json);
    free(numeric);
}

static const rfy_record *pump_base(void) {
    for (size_t i = 0; i < rfy_description_record.n; i++)
        if (strcmp(rfy_description_record.field[i].key, "pumps") == 0)
            return rfy_description_record.field[i].record;
    return NULL;
}

enum { GASES, MATERIALS, BORES, UNITS, PIECES, PUMPS, ACTIONS, TOPICS };
static const char *const topics[TOPICS + 1] = {"gases",  "materials", "bores",   "units",
                                               "pieces", "pumps",     "actions", NULL};

const char *const *rfy_list_topics(void) {
    return topics;
}

static void write_text(rfy_page *page, int topic, const rfy_catalog *catalog,
                       const rfy_table *unit_rows) {
    switch (topic) {
    case GASES:
        page_table(page, &catalog->gases, &gases);
        break;
    case MATERIALS:
        page_table(page, &catalog->materials, &materials);
        page_table(page, &catalog->permeation, &permeation);
        page_table(page, &catalog->diffusion, &diffusion);
        page_table(page, &catalog->sites, &sites);
        page_table(page, &catalog->getters, &getters);
        page_table(page, &catalog->vapours, &vapours);
        break;
    case BORES:
        page_table(page, &catalog->bores, &bores);
        break;
    case UNITS:
        page_table(page, unit_rows, &units);
        break;
    case PIECES:
        rfy_page_kinds(page, &rfy_piece_kinds, NULL);
        break;
    case PUMPS:
        rfy_page_kinds(page, &rfy_pump_kinds, pump_base());
        page_table(page, &catalog->pumps, &pump_classes);
        break;
    case ACTIONS:
        rfy_page_actions(page);
        break;
    }
}

static void write_json(rfy_json *json, int topic, const rfy_catalog *catalog,
                       const rfy_table *unit_rows) {
    switch (topic) {
    case GASES:
        json_table(json, "gases", &catalog->gases);
        break;
    case MATERIALS:
        json_table(json, "materials", &catalog->materials);
        json_table(json, "permeation", &catalog->permeation);
        json_table(json, "diffusion", &catalog->diffusion);
        json_table(json, "sites", &catalog->sites);
        json_table(json, "getters", &catalog->getters);
        json_table(json, "vapours", &catalog->vapours);
        break;
    case BORES:
        json_table(json, "bores", &catalog->bores);
        break;
    case UNITS:
        json_table(json, "units", unit_rows);
        break;
    case PIECES:
        rfy_json_kinds(json, &rfy_piece_kinds, NULL);
        break;
    case PUMPS:
        rfy_json_kinds(json, &rfy_pump_kinds, pump_base());
        json_table(json, "typical", &catalog->pumps);
        break;
    case ACTIONS:
        rfy_json_actions(json);
        break;
    }
}

rfy_status rfy_write_list(FILE *out, const char *topic, bool json) {
    int which = 0;
    while (which < TOPICS && strcmp(topics[which], topic) != 0)
        which++;
    if (which == TOPICS)
        return RFY_USAGE;
    rfy_arena *arena = rfy_arena_new();
    const rfy_catalog *catalog = rfy_catalog_new(arena);
    const rfy_table unit_rows = unit_table(arena, catalog->units);
    rfy_status status;
    if (json) {
        rfy_json document;
        rfy_json_begin(&document, out);
        rfy_json_text(&document, "topic", topic);
        write_json(&document, which, catalog, &unit_rows);
        status = rfy_json_end(&document);
    } else {
        /* Tables are wider than prose: a terminal may scroll, and notes are wrapped at this width.
         */
        rfy_write_options wide = {.width = 150};
        rfy_page page;
        status = rfy_page_open(&page, out, &wide);
        if (status == RFY_OK) {
            write_text(&page, which, catalog, &unit_rows);
            status = rfy_page_close(&page);
        }
    }
    rfy_arena_free(arena);
    return status;
}
