/* Whole descriptions: "like", settings, one namespace, and how problems are printed.
 *
 * All of this is the project's own format; expected places are counted by hand in the text below.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "flow/piece.h"
#include "io/read_description.h"
#include "support/support.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

static rfy_arena *arena;
static const rfy_catalog *catalog;
static rfy_problems *problems;

static int setup(void **state) {
    (void)state;
    arena = rfy_arena_new();
    catalog = rfy_catalog_new(arena);
    problems = rfy_problems_new("bench.json");
    return 0;
}

static int teardown(void **state) {
    (void)state;
    rfy_problems_free(problems);
    rfy_arena_free(arena);
    return 0;
}

static const char bench[] =
    /* 1 */ "{\"rarefy\": 1, \"title\": \"Two ports\", \"gases\": [\"N2\", \"H2\"],\n"
            /* 2 */ " \"chambers\": [\n"
            /* 3 */ "  {\"name\": \"port B\", \"like\": \"port A\", \"volume\": \"2 L\"},\n"
            /* 4 */ "  {\"name\": \"port A\", \"volume\": \"1 L\", \"bore\": \"40 mm\", \"walls\": "
            "[\n"
            /* 5 */ "    {\"material\": \"aluminium\", \"area\": \"100 cm2\"},\n"
            /* 6 */ "    {\"material\": \"stainless steel\", \"area\": \"50 cm2\"}]}],\n"
            /* 7 */ " \"junctions\": [\"tee\"],\n"
            /* 8 */ " \"lines\": [{\"name\": \"stub\", \"between\": [\"port A\", \"tee\"],\n"
            /* 9 */ "   \"pieces\": [\"tube 16 mm x 1 m\",\n"
            /* 10 */ "     {\"valve\": {\"name\": \"stub valve\", \"bore\": \"16 mm\", \"length\": "
            "\"50 mm\"}}]}],\n"
            /* 11 */ " \"pumps\": [{\"name\": \"vane\", \"kind\": \"rotary vane\", \"from\": "
            "\"tee\", \"to\": \"ambient\",\n"
            /* 12 */ "   \"speed\": {\"N2\": \"4 m3/h\"}}],\n"
            /* 13 */ " \"run\": {\"until\": \"1 h\"}}\n";

static rfy_description *read(const char *text, const rfy_setting *settings, size_t n) {
    rfy_description *d = NULL;
    bool good = rfy_read_description(arena, catalog, text, strlen(text), settings, n, problems, &d);
    assert_int_equal(good, d != NULL);
    assert_int_equal(good, rfy_problems_errors(problems) == 0);
    return d;
}

static rfy_description *sound(const char *text, const rfy_setting *settings, size_t n) {
    rfy_description *d = read(text, settings, n);
    if (!d || rfy_problems_total(problems)) {
        rfy_write_problems(stderr, problems);
        fail_msg("the description should be sound");
    }
    return d;
}

static void expect(size_t i, int line, int column, const char *path, const char *what) {
    const rfy_problem *p = rfy_problems_at(problems, i);
    if (!p || p->line != line || p->column != column || strcmp(p->path, path) != 0 ||
        !strstr(p->what, what)) {
        rfy_write_problems(stderr, problems);
        fail_msg("wanted problem %zu at %d:%d: %s: %s", i, line, column, path, what);
    }
}

/* The bench with one piece of text replaced. */
static const char *with(const char *old, const char *new) {
    const char *at = strstr(bench, old);
    assert_non_null(at);
    return rfy_arena_printf(arena, "%.*s%s%s", (int)(at - bench), bench, new, at + strlen(old));
}

static void test_sound(void **state) {
    (void)state;
    rfy_description *d = sound(bench, NULL, 0);
    assert_string_equal(d->title, "Two ports");
    assert_int_equal(d->chambers.n, 2);
    const rfy_chamber_desc *c = d->chambers.item;
    assert_string_equal(c[0].name, "port B");
    assert_close(c[0].volume, 2e-3, 1e-15, 0, "its own volume");
    assert_close(c[0].bore, 0.04, 1e-15, 0, "copied by like");
    assert_int_equal(c[0].walls.n, 2);
    const rfy_wall_desc *w = c[0].walls.item;
    assert_close(w[1].area, 50e-4, 1e-15, 0, "copied wall");
    rfy_place at =
        rfy_place_of(&w[1].origin, "area"); /* where it was written, under its new path */
    assert_int_equal(at.line, 6);
    assert_int_equal(at.column, 45);
    assert_string_equal(at.path, "port B/walls/1/area");
    at = rfy_place_of(&c[0].origin, "count");
    assert_int_equal(at.line, 3);
    assert_int_equal(at.column, 3);
    const rfy_line_desc *l = d->lines.item;
    const rfy_piece_desc *p = l->pieces.item;
    assert_string_equal(p[1].origin.at.path, "stub/1");
    const rfy_pump_desc *pump = d->pumps.item;
    assert_string_equal(pump->head.variant->name, "rotary vane");
    assert_string_equal(rfy_place_of(&pump->head.origin, "speed").path, "vane/speed");
}

static void test_like(void **state) {
    (void)state;
    /* A chain, in any order, and a copy of a copy. */
    rfy_description *d =
        sound("{\"rarefy\": 1, \"run\": {\"until\": \"1 h\"}, \"chambers\": ["
              "{\"name\": \"c\", \"like\": \"b\"}, {\"name\": \"a\", \"volume\": \"1 L\"},"
              "{\"name\": \"b\", \"like\": \"a\", \"bore\": \"1 mm\"},"
              "{\"name\": \"d\", \"volume\": \"9 L\", \"like\": \"c\"}]}",
              NULL, 0);
    const rfy_chamber_desc *c = d->chambers.item;
    assert_close(c[0].volume, 1e-3, 1e-15, 0, "c");
    assert_close(c[3].volume, 9e-3, 1e-15, 0, "d");
    assert_close(c[3].bore, 1e-3, 1e-15, 0, "d");

    /* Walls of one list may be alike too; keys and list members of other lists are out of reach. */
    d = sound(with("{\"material\": \"stainless steel\"",
                   "{\"name\": \"w\", \"material\": \"stainless steel\""),
              NULL, 0);
    read(with("{\"material\": \"aluminium\"", "{\"like\": \"vane\""), NULL, 0);
    expect(0, 5, 14, "port A/walls/0/like", "no element here is named \"vane\"");
    assert_int_equal(rfy_problems_total(problems),
                     1); /* and nothing about the area or the copy in port B */
}

static void test_like_faults(void **state) {
    (void)state;
    read("{\"rarefy\": 1, \"run\": {\"until\": \"1 h\"}, \"chambers\": [\n"
         "{\"name\": \"a\", \"like\": \"b\"},\n"
         "{\"name\": \"b\", \"like\": \"a\"},\n"
         "{\"name\": \"me\", \"like\": \"me\"},\n"
         "{\"name\": \"far\", \"like\": \"fra\"},\n"
         "{\"name\": \"five\", \"like\": 5},\n"
         "{\"name\": \"on a\", \"like\": \"a\"}]}",
         NULL, 0);
    expect(0, 3, 23, "b/like", "goes round in a circle");
    expect(1, 4, 24, "me/like", "goes round in a circle");
    expect(2, 5, 25, "far/like", "no element here is named \"fra\"");
    assert_string_equal(rfy_problems_at(problems, 2)->hint, "did you mean \"far\"?");
    expect(3, 6, 26, "five/like", "the number 5 stands here");
    assert_int_equal(rfy_problems_total(problems), 4);
}

/* A fault in what is copied is reported once, where it stands. */
static void test_like_copies_faults_once(void **state) {
    (void)state;
    read(with("\"100 cm2\"", "\"100 cm\""), NULL, 0);
    assert_int_equal(rfy_problems_total(problems), 1);
    expect(0, 5, 39, "port A/walls/0/area", "\"100 cm\" is a length");
}

static void test_like_is_bounded(void **state) {
    (void)state;
    size_t size = 4000000;
    char *text = malloc(size), *to = text;
    to += sprintf(to, "{\"rarefy\": 1, \"run\": {\"until\": \"1 h\"}, \"chambers\": [{\"name\": "
                      "\"c0\", \"volume\": \"1 L\", \"walls\": [");
    for (int i = 0; i < 100; i++)
        to += sprintf(to, "%s{\"area\": \"1 cm2\", \"material\": \"aluminium\"}", i ? ", " : "");
    to += sprintf(to, "]}");
    for (int i = 1; i < 20000; i++)
        to += sprintf(to, ", {\"name\": \"c%d\", \"like\": \"c%d\"}", i, i - 1);
    sprintf(to, "]}");
    read(text, NULL, 0);
    free(text);
    assert_non_null(strstr(rfy_problems_at(problems, 0)->what, "make more than 500000 values"));
}

static void test_settings(void **state) {
    (void)state;
    static const rfy_setting settings[] = {
        {"port A/volume", "3 L"},
        {"port B/walls/1/area", "\"7 cm2\""},
        {"stub/0/bore", "25 mm"},
        {"stub/stub valve/state", "closed"},
        {"stub valve/moves_in", "2 s"},
        {"vane/speed/H2", "1 m3/h"},
        {"run/until", "30 min"},
        {"title", "Another"},
        {"ambient/temperature", "25 °C"},
        {"port A/start/N2", "1 Pa"},
        {"gases/1", "He"},
        {"port A/count", "2"},
        {"chambers/0/leaks", "[{\"rate\": \"1e-9 Pa m3/s\"}]"},
        {"vane/ballast", "{\"open\": true, \"ultimate\": \"3 Pa\"}"},
        {"vane/ballast/ultimate", "4 Pa"},
        {"stub/between/0", "port B"},
    };
    rfy_description *d = sound(bench, settings, COUNT(settings));
    const rfy_chamber_desc *c = d->chambers.item;
    assert_close(c[1].volume, 3e-3, 1e-15, 0, "volume");
    assert_close(c[0].volume, 2e-3, 1e-15, 0, "the copy keeps its own");
    assert_close(((rfy_wall_desc *)c[0].walls.item)[1].area, 7e-4, 1e-15, 0, "wall of the copy");
    assert_close(((rfy_wall_desc *)c[1].walls.item)[1].area, 50e-4, 1e-15, 0, "wall of the other");
    assert_int_equal(c[0].leaks.n, 1);
    assert_int_equal(c[1].count, 2);
    assert_close(c[1].start.of[rfy_species_find(catalog, "N2")], 1, 0, 0, "start");
    const rfy_line_desc *l = d->lines.item;
    const rfy_piece_desc *p = l->pieces.item;
    rfy_piece_shape shape = {0};
    ((const rfy_piece_kind *)p[0].variant->kind)->shape(p[0].values, &shape);
    assert_close(shape.bore, 0.025, 1e-15, 0, "bore of a piece in short form");
    memset(&shape, 0, sizeof shape);
    ((const rfy_piece_kind *)p[1].variant->kind)->shape(p[1].values, &shape);
    assert_int_equal(shape.state, RFY_CLOSED);
    assert_close(shape.moves_in, 2, 0, 0, "a piece by its own name");
    assert_string_equal(l->between.item[0], "port B");
    assert_close(d->run->until, 1800, 0, 0, "until");
    assert_string_equal(d->title, "Another");
    assert_close(d->ambient->temperature, 298.15, 1e-15, 0, "an object made for the setting");
    assert_string_equal(d->gases.item[1], "He");
    /* A value from outside has no line; its column is the number of the setting. */
    rfy_place at = rfy_place_of(&d->run->origin, "until");
    assert_int_equal(at.line, 0);
    assert_int_equal(at.column, 7);
    assert_string_equal(at.path, "run/until");
}

static void test_setting_faults(void **state) {
    (void)state;
    static const struct {
        const char *path, *value, *problem_path, *what, *rest;
    } cases[] = {
        {"port A/volume", "0.4", "port A/volume", "\"0.4\" has no unit", "write \"0.4 L\""},
        {"port A/volume", "4 s", "port A/volume", "\"4 s\" is a time", "a volume"},
        {"port A/volume", "\xFF", "port A/volume", "not UTF-8", ""},
        {"port A/volume", "[1", "port A/volume", "\"[1\" does not begin with a number", "a volume"},
        {"port A/volum", "4 L", "port A/volum", "\"volum\" is not a key of \"chamber\"",
         "did you mean \"volume\"?"},
        {"port C/volume", "4 L", "port C/volume", "nothing is named \"port C\"",
         "did you mean \"port"},
        {"port A", "4 L", "port A", "\"port A\" is a part", "\"volume\""},
        {"port A/volume/x", "4 L", "port A/volume/x", "nothing to set below \"volume\"", ""},
        {"port A/walls/2/area", "4 L", "port A/walls/2/area", "\"2\" is not a place", "0 to 1"},
        {"port A/walls/x/area", "4 L", "port A/walls/x/area", "\"x\" is not a place", "0 to 1"},
        {"port A/seals/0/cord", "4 mm", "port A/seals/0/cord", "\"seals\" is not given in the file",
         ""},
        {"stub/0/borre", "4 mm", "stub/0/borre", "\"borre\" is not a key of \"tube\"",
         "did you mean \"bore\"?"},
        {"stub/5/bore", "4 mm", "stub/5/bore", "\"5\" is not a place", "0 to 1"},
        {"stub/0", "tub 3 mm", "stub/0", "does not begin with a kind", "did you mean \"tube\"?"},
        {"vane/speed/Hi", "4 L/s", "vane/speed/Hi", "gas \"Hi\" is not known", "did you mean"},
        {"vane/kind", "diafragm", "vane/kind", "kind \"diafragm\" is not known",
         "did you mean \"diaphragm\"?"},
        {"tee/volume", "4 L", "tee/volume", "\"tee\" is a junction", ""},
        {"run/untl", "4 s", "run/untl", "\"untl\" is not a key of \"run\"",
         "did you mean \"until\"?"},
        {"port A//volume", "4 L", "port A//volume", "empty part", "port/volume"},
        {"", "4 L", "", "empty part", "port/volume"},
        {"/run", "4 L", "/run", "empty part", ""},
        {"gases/7", "He", "gases/7", "\"7\" is not a place", "0 to 1"},
        {"run", "[]", "run", "a list stands here", "an object"},
        {"port A/name", "tee", "port A/name", "", ""},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        rfy_setting settings[] = {{"title", "x"}, {cases[i].path, cases[i].value}};
        read(bench, settings, 2);
        const rfy_problem *p = rfy_problems_at(problems, 0);
        bool last = i + 1 == COUNT(cases);
        if (last) { /* the name was changed after "like" was followed: now it is taken twice */
            expect(0, 7, 16, "junctions/0", "the name \"tee\" is taken already");
        } else if (!p || p->line != 0 || p->column != 2 ||
                   strcmp(p->path, cases[i].problem_path) != 0 || !strstr(p->what, cases[i].what) ||
                   !(strstr(p->allowed ? p->allowed : "", cases[i].rest) ||
                     strstr(p->hint ? p->hint : "", cases[i].rest))) {
            rfy_write_problems(stderr, problems);
            fail_msg("for \"%s\" = \"%s\"", cases[i].path, cases[i].value);
        }
        if (!last)
            assert_int_equal(rfy_problems_total(problems), 1);
        rfy_problems_free(problems);
        problems = rfy_problems_new("bench.json");
    }
}

static void test_names(void **state) {
    (void)state;
    read(with("\"name\": \"stub valve\"", "\"name\": \"vane\""), NULL, 0);
    expect(0, 11, 21, "vane/name", "the name \"vane\" is taken already, on line 10");
    assert_int_equal(rfy_problems_total(problems), 1);
    read(with("[\"tee\"]", "[\"tee\", \"stub\", \"ambient\", \"a/b\"]"), NULL, 0);
    expect(0, 7, 31, "junctions/2", "\"ambient\" is kept");
    expect(1, 7, 42, "junctions/3", "holds a \"/\"");
    expect(2, 8, 21, "stub/name", "the name \"stub\" is taken already, on line 7");
    assert_int_equal(rfy_problems_total(problems), 4);
}

static void test_copied_names(void **state) {
    (void)state;
    read(with("}}]}],", "}}]}, {\"name\": \"stub 2\", \"like\": \"stub\"}],"), NULL, 0);
    assert_int_equal(rfy_problems_total(problems), 1);
    const rfy_problem *p = rfy_problems_at(problems, 0);
    assert_non_null(strstr(p->what, "the name \"stub valve\" is copied by \"like\""));
    assert_string_equal(p->path, "stub 2/1/name");
}

/* ---- problems as printed ---- */

static char *printed(void) {
    static char text[20000];
    FILE *file = tmpfile();
    assert_non_null(file);
    rfy_write_problems(file, problems);
    rewind(file);
    text[fread(text, 1, sizeof text - 1, file)] = '\0';
    fclose(file);
    return text;
}

static void test_printed(void **state) {
    (void)state;
    const rfy_setting setting = {"run/until", "soon"};
    read(with("\"1 L\"", "\"1 l\", \"volum\\u001be\":\t3, \"bor\": 1"), &setting, 1);
    assert_string_equal(printed(),
                        "--set: error: run/until: \"soon\" does not begin with a number; allowed: "
                        "a time such as \"90 s\"\n"
                        "bench.json:4:39: error: port A/volum␛e: \"volum␛e\" is not a key of "
                        "\"chamber\"; did you mean \"volume\"?\n"
                        "    {\"name\": \"port A\", \"volume\": \"1 l\", \"volum\\u001be\": 3, "
                        "\"bor\": 1, \"bore\": \"40 mm\", \"walls\": [\n"
                        "                                        ^\n"
                        "bench.json:4:58: error: port A/bor: \"bor\" is not a key of \"chamber\"; "
                        "did you mean \"bore\"?\n"
                        "    {\"name\": \"port A\", \"volume\": \"1 l\", \"volum\\u001be\": 3, "
                        "\"bor\": 1, \"bore\": \"40 mm\", \"walls\": [\n"
                        "                                                           ^\n");
}

/* A long line is cut about the fault, and the caret still points at it. */
static void test_printed_long_line(void **state) {
    (void)state;
    char *text = rfy_arena_strdup(arena, "");
    for (int i = 0; i < 60; i++)
        text = rfy_arena_printf(arena, "%s\"//\": \"é%d\", ", text, i % 10);
    for (int before = 0; before < 2; before++) {
        read(rfy_arena_printf(arena, "{%s\"zz\": 3%s}", before ? text : "",
                              before ? "" : rfy_arena_printf(arena, ", %s\"y\": 4", text)),
             NULL, 0);
        char *lines = printed();
        char *source =
            strchr(lines, '\n') + 1; /* the first problem may be the missing keys: find "zz" */
        char *found = strstr(lines, "\"zz\" is not a key");
        assert_non_null(found);
        source = strchr(found, '\n') + 1;
        char *caret = strchr(source, '\n') + 1;
        size_t columns = 0, at = 0;
        char *c = source;
        for (; *c != '\n'; c++)
            if (((unsigned char)*c & 0xC0) != 0x80) {
                columns++;
                if (strncmp(c, "\"zz\"", 4) == 0)
                    at = columns;
            }
        assert_true(columns <= 104);
        assert_true(at > 0);
        assert_int_equal(strspn(caret, " ") + 1, at);
        rfy_problems_free(problems);
        problems = rfy_problems_new("bench.json");
    }
}

/* Errors are never crowded out by warnings, and what is kept is what comes first in the file. */
static void test_kept(void **state) {
    (void)state;
    for (int i = 100; i > 0; i--) {
        rfy_place at = {i, 1, "x"};
        rfy_problem_add(problems, i % 4 ? RFY_WARNING : RFY_ERROR, &at, NULL, NULL, "number %d", i);
    }
    assert_int_equal(rfy_problems_kept(problems), RFY_MAX_PROBLEMS);
    assert_int_equal(rfy_problems_total(problems), 100);
    assert_int_equal(rfy_problems_errors(problems), 25);
    for (size_t i = 0; i < RFY_MAX_PROBLEMS; i++) {
        const rfy_problem *p = rfy_problems_at(problems, i);
        assert_int_equal(p->severity, RFY_ERROR);
        assert_int_equal(p->line, 4 * ((int)i + 1));
    }
    assert_null(rfy_problems_at(problems, RFY_MAX_PROBLEMS));
    assert_non_null(strstr(printed(), "… and 80 more\n"));
    /* The same complaint about the same place counts once. */
    rfy_place at = {4, 1, "another path"};
    rfy_problem_add(problems, RFY_ERROR, &at, NULL, NULL, "number %d", 4);
    assert_int_equal(rfy_problems_total(problems), 100);
}

int main(void) {
#define TEST(t) cmocka_unit_test_setup_teardown(t, setup, teardown)
    const struct CMUnitTest tests[] = {
        TEST(test_sound),
        TEST(test_like),
        TEST(test_like_faults),
        TEST(test_like_copies_faults_once),
        TEST(test_like_is_bounded),
        TEST(test_settings),
        TEST(test_setting_faults),
        TEST(test_names),
        TEST(test_copied_names),
        TEST(test_printed),
        TEST(test_printed_long_line),
        TEST(test_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
