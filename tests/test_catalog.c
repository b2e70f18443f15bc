/* The built-in tables, how broken ones are refused, and the lists made of them. */
#include <cjson/cJSON.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "core/dims.h"
#include "flow/piece.h"
#include "gas/catalog_read.h"
#include "pump/pump.h"
#include "support/support.h"
#include "support/catalog.h"

static void gases_are_complete(void **state) {
    (void)state;
    static const char *const wanted[] = {"N2", "O2", "Ar", "H2O", "H2",  "He", "Ne",
                                         "Kr", "Xe", "CO", "CO2", "CH4", "air"};
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++)
        assert_true(rfy_species_find(catalog, wanted[i]) >= 0);
    assert_int_equal(rfy_species_find(catalog, "Co"), -1);
    assert_int_equal(rfy_species_find(catalog, "n2"), -1);
    assert_int_equal(rfy_species_find(catalog, ""), -1);
    double air = 0;
    for (size_t i = 0; i < catalog->n_species; i++)
        air += catalog->species[i].air_fraction;
    assert_close(air, 1, 1e-14, 0, "air fractions");
    assert_true(catalog->species[rfy_species_find(catalog, "air")].air_fraction == 0);
    /* Partial pressures in dry air at 101325 Pa, IUPAC Gold Book C01214 (R). */
    static const struct {
        const char *gas;
        double pascal;
    } part[] = {{"N2", 79120}, {"O2", 21220}, {"Ar", 946.4}, {"He", 0.5309}};
    for (size_t i = 0; i < sizeof part / sizeof *part; i++) {
        const rfy_species *s = &catalog->species[rfy_species_find(catalog, part[i].gas)];
        assert_close(101325 * s->air_fraction, part[i].pascal, 3e-4, 0, "%s in air", part[i].gas);
    }
    /* Ionisation gauge (R: CRC Handbook, Redhead, +-15 %) and molar mass (R: CIAAW 2021). */
    assert_close(catalog->species[rfy_species_find(catalog, "He")].ion_sensitivity, 0.18, 0.15, 0,
                 "He");
    assert_close(catalog->species[rfy_species_find(catalog, "Ar")].ion_sensitivity, 1.4, 0.15, 0,
                 "Ar");
    assert_true(catalog->species[rfy_species_find(catalog, "N2")].ion_sensitivity == 1);
    assert_true(catalog->species[rfy_species_find(catalog, "N2")].thermal_sensitivity == 1);
    assert_close(catalog->species[rfy_species_find(catalog, "Ar")].molar_mass, 0.03995, 1e-9, 0,
                 "Ar");
}

static void material_names_resolve(void **state) {
    (void)state;
    static const char *const wanted[] = {"borosilicate glass",
                                         "stainless steel",
                                         "aluminium",
                                         "FKM",
                                         "soda-lime glass",
                                         "copper",
                                         "brass",
                                         "fused silica",
                                         "nitrile",
                                         "PTFE",
                                         "silicone rubber",
                                         "mild steel"};
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++) {
        const rfy_material *row = rfy_material_find(catalog, wanted[i], NULL);
        assert_non_null(row);
        assert_true(row->is_default);
        assert_string_equal(row->material, wanted[i]);
    }
    assert_string_equal(rfy_material_find(catalog, "304", NULL)->material, "stainless steel");
    assert_string_equal(rfy_material_find(catalog, "aluminum", "anodised")->condition, "anodised");
    assert_string_equal(rfy_material_find(catalog, "NBR", NULL)->material, "nitrile");
    assert_string_equal(rfy_material_find(catalog, "Pyrex", NULL)->material, "borosilicate glass");
    assert_string_equal(rfy_material_find(catalog, "Stainless Steel", "As Received")->condition,
                        "as received");
    assert_string_equal(rfy_material_name(catalog, "VITON"), "FKM");
    assert_string_equal(rfy_material_name(catalog, "cheese"), "cheese");
    assert_null(rfy_material_find(catalog, "stainless steel", "gold plated"));
    assert_null(rfy_material_find(catalog, "cheese", NULL));
    assert_null(rfy_material_find(catalog, "", NULL));
    assert_null(rfy_material_find(catalog, "304|304L", NULL));
    assert_close(rfy_material_find(catalog, "FKM", NULL)->max_temperature, 423.15, 1e-12, 0,
                 "150 degC");
    assert_close(rfy_material_find(catalog, "copper", NULL)->max_temperature, 523.15, 1e-12, 0,
                 "bake limit");
}

/* No alias is the name of another material or the alias of two. */
static void material_names_are_unique(void **state) {
    (void)state;
    for (size_t i = 0; i < catalog->n_materials; i++) {
        const rfy_material *row = &catalog->material[i];
        assert_ptr_equal(rfy_material_find(catalog, row->material, row->condition), row);
        char names[256];
        assert_true(strlen(row->alias) < sizeof names);
        strcpy(names, row->alias);
        for (char *name = strtok(names, "|"); name; name = strtok(NULL, "|")) {
            const rfy_material *found = rfy_material_find(catalog, name, NULL);
            assert_non_null(found);
            assert_string_equal(found->material, row->material);
            for (size_t k = 0; k < catalog->n_materials; k++)
                assert_string_not_equal(catalog->material[k].material, name);
        }
    }
}

static void materials_are_plausible(void **state) {
    (void)state;
    for (size_t i = 0; i < catalog->n_materials; i++) {
        const rfy_material *row = &catalog->material[i];
        assert_true(row->spread >= 3 && row->spread <= 10);
        assert_true(!(row->rate_10h > row->rate_1h));
        /* The default is the cautious row: nothing is worse at 10 h, but the pores of anodising. */
        const rfy_material *usual = rfy_material_find(catalog, row->material, NULL);
        if (strcmp(row->condition, "anodised") != 0)
            assert_true(row->rate_10h <= usual->rate_10h);
    }
    /* Fedchak et al. 2021, arXiv:2009.10560 (R): 4e-11 to 8e-11 Pa L/s/cm2 for baked steel. */
    double baked = rfy_material_find(catalog, "stainless steel", "baked 150 degC 72 h")->rate_10h;
    assert_true(baked >= 4e-10 && baked <= 8e-10);
    /* Avdiaj and Erjavec 2012 (R): 2.86e-13 mbar L/s/cm2. */
    assert_close(rfy_material_find(catalog, "stainless steel", "baked 250 degC 380 h")->rate_10h,
                 2.86e-10, 1e-12, 0, "304L after 250 degC");
    /* 13.5e-9, 6.3e-9 and 1140e-9 Torr L/s/cm2 at 1 h (R: a seal supplier's table). */
    assert_close(rfy_material_find(catalog, "stainless steel", "fresh and degreased")->rate_1h,
                 13.5e-9 * 1333.22, 0.005, 0, "steel");
    assert_close(rfy_material_find(catalog, "aluminium", NULL)->rate_1h, 6.3e-9 * 1333.22, 0.005, 0,
                 "aluminium");
    assert_close(rfy_material_find(catalog, "FKM", NULL)->rate_1h, 1.14e-6 * 1333.22, 0.005, 0,
                 "FKM");
}

static void permeabilities_resolve(void **state) {
    (void)state;
    const rfy_permeability *k = rfy_permeability_find(catalog, "FKM", "N2");
    assert_non_null(k);
    assert_ptr_equal(rfy_permeability_find(catalog, "fluoroelastomer", "N2"), k);
    assert_null(rfy_permeability_find(catalog, "FKM", "Xe"));
    assert_null(rfy_permeability_find(catalog, "copper", "He"));
    /* Silicone lets O2 through 2.15 times as fast as N2 (R: an elastomer table); range of compounds
     * 2 to 2.2. */
    double ratio = rfy_permeability_find(catalog, "silicone", "O2")->k /
                   rfy_permeability_find(catalog, "silicone rubber", "N2")->k;
    assert_close(ratio, 2.15, 0.15, 0, "O2 to N2 in silicone");
    /* Helium through borosilicate at 20 degC: 3e-15 to 1e-14 m2/s (solubility R, the rest M); fused
     * silica lets more through. */
    double glass = rfy_permeability_find(catalog, "borosilicate glass", "He")->k;
    assert_true(glass > 3e-15 && glass < 1e-14);
    assert_true(rfy_permeability_find(catalog, "fused silica", "He")->k > glass);
}

static void surfaces_have_their_data(void **state) {
    (void)state;
    /* every list shows spread, source and status */
    const rfy_table *tables[] = {&catalog->sites, &catalog->diffusion, &catalog->getters,
                                 &catalog->vapours, &catalog->materials};
    static const char *const wanted[] = {"spread", "source", "status"};
    for (size_t t = 0; t < sizeof tables / sizeof *tables; t++)
        for (size_t k = 0; k < 3; k++) {
            bool there = false;
            for (size_t c = 0; c < tables[t]->n_columns; c++)
                there = there || strcmp(tables[t]->column[c], wanted[k]) == 0;
            assert_true(there);
        }
    /* no getter takes up noble gases or methane */
    for (size_t i = 0; i < catalog->n_getters; i++)
        for (size_t k = 0; k < 6; k++) {
            static const char *const never[] = {"He", "Ne", "Ar", "Kr", "Xe", "CH4"};
            assert_string_not_equal(catalog->getter[i].gas, never[k]);
        }
    /* Helium in glass: permeability over diffusivity is the solubility 5.29e-3 at 0 degC per volume
     * (Suckow et al. 1990, R), counted at 20 degC: times 293.15/273.15. */
    const rfy_diffusivity *he = rfy_diffusivity_find(catalog, "borosilicate", "He");
    const rfy_permeability *k = rfy_permeability_find(catalog, "borosilicate glass", "He");
    assert_close(k->k / (he->d0 * exp(-he->activation / (8.314462618 * 293.15))),
                 5.29e-3 * 293.15 / 273.15, 0.03, 0, "solubility of helium");
    /* Steel: other published diffusivities of hydrogen agree within a factor of 2 from 300 to 600
     * K: Grant et al. 1988 7.3e-7 exp(-6300 K/T) (R, abstract), Outlaw and Peterson 1983 7.01e-7
     * exp(-48.0 kJ/mol/RT) (R, abstract, 347 steel). */
    const rfy_diffusivity *h2 = rfy_diffusivity_find(catalog, "304L", "H2");
    for (double t = 400; t <= 650; t += 50) {
        double own = h2->d0 * exp(-h2->activation / (8.314462618 * t));
        double grant = 7.3e-7 * exp(-6300 / t);
        double outlaw = 7.01e-7 * exp(-48.0e3 / (8.314462618 * t));
        assert_true(own / grant > 1 / 2.5 && own / grant < 2.5);
        assert_true(own / outlaw > 1 / 5.0 && own / outlaw < 2.5);
    }
    assert_non_null(rfy_sites_find(catalog, NULL));
    assert_null(rfy_sites_find(catalog, "odd"));
    assert_null(rfy_vapour_find(catalog, "mercury"));
}

static double bore_of(const char *standard, const char *nominal) {
    const rfy_table *t = &catalog->bores;
    int bore = -1, name = -1, norm = -1;
    for (size_t c = 0; c < t->n_columns; c++) {
        bore = strcmp(t->column[c], "bore_mm") == 0 ? (int)c : bore;
        name = strcmp(t->column[c], "nominal") == 0 ? (int)c : name;
        norm = strcmp(t->column[c], "standard") == 0 ? (int)c : norm;
    }
    assert_true(bore >= 0 && name >= 0 && norm >= 0);
    for (size_t r = 0; r < t->n_rows; r++) {
        const char *const *row = t->cell + r * t->n_columns;
        if (strcmp(row[norm], standard) == 0 && strcmp(row[name], nominal) == 0)
            return atof(row[bore]);
    }
    fail_msg("no bore %s %s", standard, nominal);
    return NAN;
}

static void bores_are_those_of_the_standards(void **state) {
    (void)state;
    /* ISO 2861 centring rings and ISO 1609 practical bores (R). */
    assert_close(bore_of("ISO 2861", "DN 16"), 16, 0, 0, "KF");
    assert_close(bore_of("ISO 2861", "DN 40"), 40, 0, 0, "KF");
    assert_close(bore_of("ISO 1609", "DN 63"), 70, 0, 0, "ISO-K");
    assert_close(bore_of("ISO 1609", "DN 160"), 153, 0, 0, "ISO-K");
    /* Tubes by arithmetic: 1/4 in of 0.035 in wall is 0.18 in inside. */
    assert_close(bore_of("", "1/4 in x 0.035 in"), 0.18 * 25.4, 1e-12, 0, "inch tube");
    assert_close(bore_of("ISO 4803", "8 mm x 1 mm"), 6, 0, 0, "glass tube");
}

/* ---- broken tables ---- */

/* The built-in tables with the first `from` of table `name` replaced; the reader's message. */
static const char *message_with(const char *name, const char *from, const char *to, bool *good) {
    static char message[RFY_CATALOG_MESSAGE];
    static rfy_embedded tables[16];
    size_t n = 0;
    for (; rfy_embedded_tables[n].name; n++) {
        assert_true(n + 1 < sizeof tables / sizeof *tables);
        tables[n] = rfy_embedded_tables[n];
        if (strcmp(tables[n].name, name) != 0)
            continue;
        const char *at = from ? strstr(tables[n].text, from) : NULL;
        if (!from) {
            tables[n].text = to;
        } else {
            assert_non_null(at);
            tables[n].text = rfy_arena_printf(arena, "%.*s%s%s", (int)(at - tables[n].text),
                                              tables[n].text, to, at + strlen(from));
        }
        tables[n].length = strlen(tables[n].text);
    }
    tables[n] = (rfy_embedded){NULL, NULL, 0};
    rfy_catalog read;
    *good = rfy_catalog_read(arena, tables, &read, message);
    return message;
}

static void broken_tables_are_refused(void **state) {
    (void)state;
    static const struct {
        const char *table, *from, *to, *wanted;
    } cases[] = {
        {"gases", "N2,nitrogen,28.014", "N2,nitrogen,heavy",
         "column molar_mass_g_per_mol: not a number"},
        {"gases", "N2,nitrogen,28.014", "N2,nitrogen,",
         "column molar_mass_g_per_mol: the cell is empty"},
        {"gases", "N2,nitrogen,28.014", "N2,nitrogen,-28.014", "too small"},
        {"gases", "N2,nitrogen,28.014", "N2,nitrogen,1e999", "not a number"},
        {"gases", "N2,nitrogen,28.014", "N2,nitrogen,28.014 g", "not a number"},
        {"gases", "O2,oxygen", "N2,oxygen", "column name: the gas was there before"},
        {"gases", "sutherland_K", "sutherland", "column sutherland_K: there is no such column"},
        {"gases", "0.78084033", "0.68084033", "does not add up to 1"},
        {"gases", NULL, "name\n", "the table has no rows"},
        {"gases", NULL, "", "table gases"},
        {"gases", "R+M+D", "R+M+", "column status"},
        {"gases", "R+M+D", "Q", "column status"},
        {"materials", "H2O,yes", "H3O,yes", "column gas: not a gas"},
        {"materials", "H2O,yes", "H2O,perhaps", "column default: neither yes nor no"},
        {"materials", "H2O,yes", "H2O,no", "the material has no default row"},
        {"materials", "fresh and degreased", "as received", "has this condition already"},
        {"materials", "stainless steel,as received", "stainless steel,", "column condition"},
        {"materials", "stainless steel,as received,2.33e-05,1.1,2.8e-06", "stainless steel,x,,,",
         "no rate"},
        {"permeation", "FKM,He,1.29e-11", "FKM,He,1.29e-10", "not between its own limits"},
        {"permeation", "FKM,O2", "FKM,He", "for this gas already"},
        {"sites", "even,25,80,120", "even,25,120,80", "not above the low end"},
        {"sites", "10,yes,", "10,no,", "no default row"},
        {"sites", "steep,", "even,", "the name was there before"},
        {"diffusion", "FKM,He,1.2e-10", "FKM,He,", "one of the two diffusivities"},
        {"diffusion", "FKM,He,1.2e-10,,25,,yes", "FKM,He,1.2e-10,,25,,no", "column content_Pa"},
        {"diffusion", "FKM,He,1.2e-10", "copper,He,1.2e-10",
         "the permeation table has no such row"},
        {"getters", "barium film,O2,10,5000,", "barium film,O2,10,5000,1",
         "one of the two capacities"},
        {"getters", "barium film,CO,", "barium film,O2,", "for this gas already"},
        {"vapours", "ice,H2O,611.2", "ice,H2O,", "one of the two forms"},
        {"vapours", "ice,H2O", "water,H2O", "the substance was there before"},
        {"bores", "DN 16,16", "DN 16,-16", "column bore_mm"},
        {"pumps", "\nscroll,scroll", "\nscroll,", "column kind"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        bool good = true;
        const char *message = message_with(cases[i].table, cases[i].from, cases[i].to, &good);
        if (good || !strstr(message, cases[i].wanted) || !strstr(message, cases[i].table))
            fail_msg("case %zu (%s): %s", i, cases[i].wanted, good ? "accepted" : message);
    }
    bool good = true;
    rfy_catalog read;
    char message[RFY_CATALOG_MESSAGE];
    const rfy_embedded none[] = {{NULL, NULL, 0}};
    assert_false(rfy_catalog_read(arena, none, &read, message));
    assert_non_null(strstr(message, "the table is missing"));
    message_with("gases", "N2", "N2", &good);
    assert_true(good);
}

/* Units that cannot be read are told, not printed; and the program has none then. */
static void broken_units_are_told(void **state) {
    (void)state;
    static const char head[] =
        "symbol,name,dimension,numerator,denominator,offset,m,kg,s,K,mol,source,status\n";
    static const struct {
        const char *rows, *wanted;
    } cases[] = {{"m,metre,length,1,1,0,1,0,0,0,0,SI,R\n", NULL},
                 {"m,metre,length,one,1,0,1,0,0,0,0,SI,R\n", "line 2: a factor is not a product"},
                 {"m,metre,length,1,0.0254/0,0,1,0,0,0,0,SI,R\n", "line 2: a factor"},
                 {"m,metre,length,1*,1,0,1,0,0,0,0,SI,R\n", "line 2: a factor"},
                 {"m,metre\n", "line 2: the row has 2 cells"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const char *text = rfy_arena_printf(arena, "%s%s", head, cases[i].rows);
        const rfy_embedded tables[] = {{"units", text, strlen(text)}, {NULL, NULL, 0}};
        const rfy_units *units = rfy_units_read(arena, tables);
        const char *trouble = rfy_units_trouble(units);
        if (!cases[i].wanted)
            assert_null(trouble);
        else if (!trouble || !strstr(trouble, cases[i].wanted))
            fail_msg("case %zu: %s", i, trouble ? trouble : "accepted");
        assert_int_equal(rfy_units_count(units), cases[i].wanted ? 0 : 1);
    }
    const rfy_embedded none[] = {{NULL, NULL, 0}};
    assert_non_null(strstr(rfy_units_trouble(rfy_units_read(arena, none)), "missing"));
    assert_null(catalog->trouble);
    rfy_problems *problems = rfy_problems_new("");
    rfy_catalog_tell(catalog, problems);
    assert_int_equal(rfy_problems_errors(problems), 0);
    rfy_catalog_tell(&(rfy_catalog){.trouble = "table gases, line 3"}, problems);
    assert_int_equal(rfy_problems_errors(problems), 1);
    rfy_problems_free(problems);
}

/* The line in a message is that of the file. */
static void messages_name_the_line(void **state) {
    (void)state;
    bool good = true;
    const char *message =
        message_with("gases", NULL, "# remark\n\nname,long_name\nN2,nitrogen\n", &good);
    assert_false(good);
    assert_non_null(strstr(message, "table gases, line 1, column molar_mass_g_per_mol"));
    message =
        message_with("bores", NULL,
                     "# remark\nkind,nominal,bore_mm,source,status\na,b,1,s,P\na,b,?,s,P\n", &good);
    assert_false(good);
    assert_non_null(strstr(message, "table bores, line 4, column bore_mm"));
}

/* ---- lists ---- */

static char *list(const char *topic, bool json, rfy_status wanted) {
    FILE *file = tmpfile();
    assert_non_null(file);
    assert_int_equal(rfy_write_list(file, topic, json), wanted);
    long size = ftell(file);
    assert_true(size >= 0);
    rewind(file);
    char *text = calloc((size_t)size + 1, 1);
    assert_non_null(text);
    assert_int_equal(fread(text, 1, (size_t)size, file), (size_t)size);
    fclose(file);
    return text;
}

static void every_topic_is_written(void **state) {
    (void)state;
    size_t n = 0;
    for (const char *const *topic = rfy_list_topics(); *topic; topic++, n++) {
        char *text = list(*topic, false, RFY_OK);
        assert_true(strlen(text) > 200);
        assert_null(strstr(text, "(null)"));
        free(text);
        text = list(*topic, true, RFY_OK);
        cJSON *json = cJSON_Parse(text);
        assert_non_null(json);
        assert_string_equal(cJSON_GetStringValue(cJSON_GetObjectItem(json, "topic")), *topic);
        cJSON_Delete(json);
        free(text);
    }
    assert_int_equal(n, 7);
    free(list("cheese", false, RFY_USAGE));
    free(list("", true, RFY_USAGE));
}

static void tables_keep_their_cells(void **state) {
    (void)state;
    char *text = list("materials", true, RFY_OK);
    cJSON *json = cJSON_Parse(text);
    free(text);
    const cJSON *rows = cJSON_GetObjectItem(json, "materials");
    assert_int_equal(cJSON_GetArraySize(rows), (int)catalog->n_materials);
    for (size_t i = 0; i < catalog->n_materials; i++) {
        const rfy_material *m = &catalog->material[i];
        const cJSON *row = cJSON_GetArrayItem(rows, (int)i);
        assert_string_equal(cJSON_GetStringValue(cJSON_GetObjectItem(row, "material")),
                            m->material);
        const cJSON *rate = cJSON_GetObjectItem(row, "rate_1h_Pa_m3_per_s_m2");
        if (isnan(m->rate_1h))
            assert_true(cJSON_IsNull(rate));
        else
            assert_true(cJSON_GetNumberValue(rate) == m->rate_1h);
        assert_true(cJSON_IsString(cJSON_GetObjectItem(row, "status")));
    }
    cJSON_Delete(json);

    text = list("materials", false, RFY_OK);
    for (size_t i = 0; i < catalog->n_materials; i++) {
        assert_non_null(strstr(text, catalog->material[i].material));
        assert_non_null(strstr(text, catalog->material[i].condition));
    }
    free(text);
}

static void kinds_are_listed_with_their_keys(void **state) {
    (void)state;
    static const struct {
        const char *topic;
        const rfy_variants *kinds;
    } lists[] = {{"pieces", &rfy_piece_kinds}, {"pumps", &rfy_pump_kinds}};
    for (int i = 0; i < 2; i++) {
        char *text = list(lists[i].topic, false, RFY_OK),
             *source = list(lists[i].topic, true, RFY_OK);
        cJSON *json = cJSON_Parse(source);
        const cJSON *kinds = cJSON_GetObjectItem(json, "kinds");
        assert_int_equal(cJSON_GetArraySize(kinds), (int)lists[i].kinds->n);
        for (size_t k = 0; k < lists[i].kinds->n; k++) {
            const rfy_variant *kind = &lists[i].kinds->item[k];
            const cJSON *item = cJSON_GetArrayItem(kinds, (int)k);
            const cJSON *keys = cJSON_GetObjectItem(item, "keys");
            assert_string_equal(cJSON_GetStringValue(cJSON_GetObjectItem(item, "name")),
                                kind->name);
            assert_int_equal(cJSON_GetArraySize(keys), (int)kind->record->n);
            for (size_t f = 0; f < kind->record->n; f++) {
                const cJSON *key = cJSON_GetArrayItem(keys, (int)f);
                assert_string_equal(cJSON_GetStringValue(cJSON_GetObjectItem(key, "key")),
                                    kind->record->field[f].key);
                assert_true(strlen(cJSON_GetStringValue(cJSON_GetObjectItem(key, "takes"))) > 3);
                assert_non_null(strstr(text, kind->record->field[f].key));
            }
        }
        cJSON_Delete(json);
        free(source);
        free(text);
    }
}

static void a_full_disk_is_reported(void **state) {
    (void)state;
    FILE *full = fopen("/dev/full", "w");
    if (!full)
        skip();
    assert_int_equal(rfy_write_list(full, "gases", false), RFY_IO_FAILED);
    fclose(full);
    full = fopen("/dev/full", "w");
    assert_int_equal(rfy_write_list(full, "gases", true), RFY_IO_FAILED);
    fclose(full);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gases_are_complete),
        cmocka_unit_test(material_names_resolve),
        cmocka_unit_test(material_names_are_unique),
        cmocka_unit_test(materials_are_plausible),
        cmocka_unit_test(permeabilities_resolve),
        cmocka_unit_test(surfaces_have_their_data),
        cmocka_unit_test(bores_are_those_of_the_standards),
        cmocka_unit_test(broken_tables_are_refused),
        cmocka_unit_test(broken_units_are_told),
        cmocka_unit_test(messages_name_the_line),
        cmocka_unit_test(every_topic_is_written),
        cmocka_unit_test(tables_keep_their_cells),
        cmocka_unit_test(kinds_are_listed_with_their_keys),
        cmocka_unit_test(a_full_disk_is_reported),
    };
    return cmocka_run_group_tests(tests, test_catalog_setup, test_catalog_teardown);
}
