/* Reading by field tables, on tables of this file's own.
 *
 * The rules (one unit per quantity, no unknown or repeated keys, names, short pieces) are this
 * project's own format, so expected lines and columns are counted by hand in the texts below. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "io/read_description.h"
#include "io/read_record.h"
#include "support/support.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

static rfy_arena *arena;
static const rfy_catalog *catalog;
static rfy_problems *problems;

static int setup(void **state) {
    (void)state;
    arena = rfy_arena_new();
    catalog = rfy_catalog_new(arena);
    problems = rfy_problems_new("t.json");
    return 0;
}

static int teardown(void **state) {
    (void)state;
    rfy_problems_free(problems);
    rfy_arena_free(arena);
    return 0;
}

/* ---- a small world of tables ---- */

typedef struct inner {
    rfy_origin origin;
    const char *name;
    double depth;
} inner;

typedef struct kit {
    rfy_origin origin;
    double bore, share, angle;
    int many, yes, side;
    const char *text, *name;
    rfy_texts texts;
    rfy_value_or_word off;
    rfy_by_gas speed, ratio;
    rfy_range range;
    rfy_curve curve;
    inner *one;
    rfy_list list, things, parts;
} kit;

typedef struct thing {
    rfy_variant_head head;
    const char *name;
} thing;

typedef struct big {
    rfy_origin origin;
    double weight;
} big;

typedef struct pipe_values {
    rfy_origin origin;
    const char *name;
    double bore, length, ratio;
    int way;
} pipe_values;

static const char *const sides[] = {"left", "right", NULL};

static const rfy_field inner_fields[] = {
    {.key = "name", .type = RFY_F_NAME, .offset = offsetof(inner, name), .help = "name"},
    {.key = "depth",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .offset = offsetof(inner, depth),
     .min = -1,
     .max = 0.1,
     .required = true,
     .help = "how deep"},
};
static const rfy_record inner_record = {"inner", sizeof(inner), inner_fields, COUNT(inner_fields)};

static const rfy_field big_fields[] = {
    {.key = "weight",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_MASS,
     .offset = offsetof(big, weight),
     .required = true,
     .help = "how heavy"},
};
static const rfy_record big_record = {"big record", sizeof(big), big_fields, COUNT(big_fields)};
static const rfy_variant thing_kinds[] = {{.name = "big one", .help = "", .record = &big_record},
                                          {.name = "small", .help = "", .record = &big_record}};
static const rfy_variants thing_variants = {thing_kinds, COUNT(thing_kinds)};
static const rfy_field thing_fields[] = {
    {.key = "name",
     .type = RFY_F_NAME,
     .offset = offsetof(thing, name),
     .required = true,
     .help = "name"},
    {.key = "kind", .type = RFY_F_TEXT, .offset = SIZE_MAX, .required = true, .help = "kind"},
};
static const rfy_record thing_record = {"thing", sizeof(thing), thing_fields, COUNT(thing_fields)};

static const rfy_field pipe_fields[] = {
    {.key = "name", .type = RFY_F_NAME, .offset = offsetof(pipe_values, name), .help = "name"},
    {.key = "bore",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .offset = offsetof(pipe_values, bore),
     .min = 0,
     .max = 10,
     .above_min = true,
     .required = true,
     .help = "bore"},
    {.key = "length",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .offset = offsetof(pipe_values, length),
     .required = true,
     .help = "length"},
    {.key = "ratio", .type = RFY_F_NUMBER, .offset = offsetof(pipe_values, ratio), .help = "ratio"},
    {.key = "way",
     .type = RFY_F_CHOICE,
     .choices = sides,
     .offset = offsetof(pipe_values, way),
     .help = "way"},
};
static const rfy_record pipe_record = {"pipe", sizeof(pipe_values), pipe_fields,
                                       COUNT(pipe_fields)};
static const char *const pipe_short[] = {"bore", "length", "ratio", "way", NULL};
static const rfy_variant pipe_kinds[] = {
    {.name = "pipe", .help = "", .record = &pipe_record, .short_keys = pipe_short},
    {.name = "pipe bend", .help = "", .record = &pipe_record, .short_keys = pipe_short}};
static const rfy_variants pipe_variants = {pipe_kinds, COUNT(pipe_kinds)};

#define FIELD(k, t, ...)                                                                           \
    { .key = #k, .type = t, .offset = offsetof(kit, k), .help = "help", __VA_ARGS__ }
static const rfy_field kit_fields[] = {
    FIELD(bore, RFY_F_QUANTITY, .dim = RFY_DIM_LENGTH, .min = 0, .max = 0.1, .above_min = true),
    FIELD(share, RFY_F_NUMBER, .min = 0, .max = 1),
    FIELD(angle, RFY_F_QUANTITY, .dim = RFY_DIM_ANGLE, ),
    FIELD(many, RFY_F_INTEGER, .min = 1, .max = 5),
    FIELD(yes, RFY_F_BOOL, ),
    FIELD(side, RFY_F_CHOICE, .choices = sides),
    FIELD(text, RFY_F_TEXT, ),
    FIELD(name, RFY_F_NAME, ),
    FIELD(texts, RFY_F_TEXTS, ),
    FIELD(off, RFY_F_VALUE_OR_WORD, .dim = RFY_DIM_FLOW, .choices = sides),
    FIELD(speed, RFY_F_QUANTITY_BY_GAS, .dim = RFY_DIM_FLOW, ),
    FIELD(ratio, RFY_F_NUMBER_BY_GAS, .min = 1, .max = 1e20),
    FIELD(range, RFY_F_RANGE, .dim = RFY_DIM_PRESSURE, .min = 0, .max = 1e7),
    FIELD(curve, RFY_F_CURVE, .dim = RFY_DIM_PRESSURE, .dim2 = RFY_DIM_FLOW),
    FIELD(one, RFY_F_RECORD, .record = &inner_record),
    FIELD(list, RFY_F_RECORDS, .record = &inner_record),
    FIELD(things, RFY_F_VARIANTS, .record = &thing_record, .variants = &thing_variants,
          .selector = "kind"),
    FIELD(parts, RFY_F_PIECES, .variants = &pipe_variants),
};
static const rfy_record kit_record = {"kit", sizeof(kit), kit_fields, COUNT(kit_fields)};

static kit *read_kit(const char *text) {
    rfy_reader reader = {.arena = arena, .catalog = catalog, .problems = problems};
    kit *out = RFY_NEW(arena, 1, kit);
    if (rfy_json_read(&reader.json, text, strlen(text), problems)) {
        rfy_read_object(&reader, reader.json.root, &kit_record, "", out);
        rfy_json_free(&reader.json);
    }
    return out;
}

static void no_problems(void) {
    if (rfy_problems_total(problems)) {
        rfy_write_problems(stderr, problems);
        fail_msg("there should be no problems");
    }
}

/* Exactly one problem, with these parts, at this place; then starts afresh. */
static void one_problem(const char *source, int line, int column, const char *path,
                        const char *what, const char *rest) {
    const rfy_problem *p = rfy_problems_at(problems, 0);
    if (rfy_problems_total(problems) != 1 || p->line != line || p->column != column ||
        strcmp(p->path, path) != 0 || !strstr(p->what, what) ||
        !(strstr(p->allowed ? p->allowed : "", rest) || strstr(p->hint ? p->hint : "", rest))) {
        rfy_write_problems(stderr, problems);
        fail_msg("wanted one problem for %.200s at %d:%d: %s: %s … %s", source, line, column, path,
                 what, rest);
    }
    rfy_problems_free(problems);
    problems = rfy_problems_new("t.json");
}

static void one_kit_problem(const char *source, int line, int column, const char *path,
                            const char *what, const char *rest) {
    read_kit(source);
    one_problem(source, line, column, path, what, rest);
}

/* ---- tests of the field types ---- */

static void test_absent(void **state) {
    (void)state;
    kit *k = read_kit("{}");
    no_problems();
    assert_true(isnan(k->bore) && isnan(k->share));
    assert_true(k->many == -1 && k->yes == -1 && k->side == -1);
    assert_null(k->text);
    assert_null(k->name);
    assert_int_equal(k->texts.n, 0);
    assert_true(isnan(k->off.value) && k->off.word == -1);
    assert_true(isnan(k->speed.all) && isnan(k->speed.of[0]) && !k->speed.given);
    assert_true(isnan(k->range.from) && isnan(k->range.to));
    assert_true(k->curve.n == 0 && k->list.n == 0 && k->things.n == 0 && k->parts.n == 0);
    assert_null(k->one);
    rfy_place at = rfy_place_of(&k->origin, "bore");
    assert_int_equal(at.line, 1);
    assert_int_equal(at.column, 1);
}

static void test_present(void **state) {
    (void)state;
    kit *k = read_kit(
        "{\"bore\": \"25 mm\", \"share\": \"50 %\", \"angle\": \"90 deg\", \"many\": 3,\n"
        " \"yes\": false, \"side\": \"right\", \"text\": \"a\\u00e9\", \"name\": \"é x\",\n"
        " \"texts\": [\"p\", \"q\"], \"off\": \"left\", \"speed\": {\"//\": 1, \"H2\": \"2 "
        "L/s\"},\n"
        " \"ratio\": 1e9, \"range\": [\"1 Pa\", \"2 Pa\"],\n"
        " \"curve\": [[\"1 Pa\", \"2 m3/s\"], [\"3 Pa\", \"4 m3/s\"]],\n"
        " \"one\": {\"depth\": \"1 mm\"}, \"list\": [{\"depth\": \"2 mm\"}, {\"depth\": \"3 "
        "mm\"}],\n"
        " \"things\": [{\"name\": \"t\", \"kind\": \"big one\", \"weight\": \"5 g\"}],\n"
        " \"parts\": [{\"pipe\": {\"bore\": \"1 mm\", \"length\": \"2 mm\"}}, \"pipe bend 3 mm x 4 "
        "m\"],\n"
        " \"// note\": {\"any\": [\"thing\"]}}");
    no_problems();
    assert_close(k->bore, 0.025, 1e-15, 0, "bore");
    assert_close(k->share, 0.5, 0, 0, "share");
    assert_close(k->angle, 1.5707963267948966, 1e-15, 0, "angle");
    assert_true(k->many == 3 && k->yes == 0 && k->side == 1 && k->off.word == 0);
    assert_string_equal(k->text, "a\xC3\xA9");
    assert_string_equal(k->name, "\xC3\xA9 x");
    assert_int_equal(k->texts.n, 2);
    assert_string_equal(k->texts.item[1], "q");
    assert_int_equal(k->texts.at[1].column, 17);
    assert_string_equal(k->texts.at[1].path, "texts/1");
    assert_close(k->speed.of[rfy_species_find(catalog, "H2")], 2e-3, 1e-15, 0, "speed");
    assert_true(isnan(k->speed.of[rfy_species_find(catalog, "N2")]) && k->speed.given);
    assert_close(k->ratio.all, 1e9, 0, 0, "ratio");
    assert_close(k->range.to, 2, 0, 0, "range");
    assert_int_equal(k->curve.n, 2);
    assert_close(k->curve.x[1] + k->curve.y[1], 7, 0, 0, "curve");
    assert_close(k->one->depth, 1e-3, 1e-15, 0, "record");
    assert_close(((inner *)k->list.item)[1].depth, 3e-3, 1e-15, 0, "records");
    thing *t = k->things.item;
    assert_ptr_equal(t->head.variant, &thing_kinds[0]);
    assert_close(((big *)t->head.values)->weight, 5e-3, 1e-15, 0, "variant");
    rfy_place at = rfy_place_of(&t->head.origin, "weight"); /* in the variant's table */
    assert_string_equal(at.path, "t/weight");
    assert_int_equal(at.line, 7);
    rfy_piece_desc *p = k->parts.item;
    assert_ptr_equal(p[1].variant, &pipe_kinds[1]); /* the longest name that fits */
    const pipe_values *v = p[1].values;
    assert_close(v->bore, 3e-3, 1e-15, 0, "short form");
    assert_close(v->length, 4, 1e-15, 0, "short form");
    assert_true(isnan(v->ratio) && v->way == -1);
    assert_string_equal(p[1].origin.at.path, "parts/1");
}

static void test_short_forms(void **state) {
    (void)state;
    static const char *const same[] = {"pipe 16 mm x 1.5 m x 2 x left", "pipe 16 mm 1.5 m 2 left",
                                       "pipe 16mm,1.5m,2,left", "pipe 16 mm × 1.5 m × 2 × left",
                                       "  pipe  16 mm  X  1.5 m ,2   left "};
    for (size_t i = 0; i < COUNT(same); i++) {
        char text[200];
        snprintf(text, sizeof text, "{\"parts\": [\"%s\"]}", same[i]);
        kit *k = read_kit(text);
        no_problems();
        const pipe_values *v = ((rfy_piece_desc *)k->parts.item)->values;
        assert_close(v->bore, 0.016, 1e-15, 0, "%s", same[i]);
        assert_close(v->length, 1.5, 1e-15, 0, "%s", same[i]);
        assert_close(v->ratio, 2, 0, 0, "%s", same[i]);
        assert_int_equal(v->way, 0);
    }
}

static void test_faulty_values(void **state) {
    (void)state;
    static const struct {
        const char *text;
        int column;
        const char *path, *what, *rest;
    } cases[] = {
        {"{\"bore\": 25}", 10, "bore", "\"25\" has no unit", "write \"25 mm\" or \"25 m\""},
        {"{\"bore\": \"25 mn\"}", 10, "bore", "\"25 mn\": unit \"mn\" is not known",
         "did you mean \"mm\"?"},
        {"{\"bore\": \"5 s\"}", 10, "bore", "\"5 s\" is a time", "a length such as"},
        {"{\"bore\": \"25 cm\"}", 10, "bore", "\"25 cm\" is too large",
         "more than 0 and at most 100 mm"},
        {"{\"bore\": \"0 cm\"}", 10, "bore", "\"0 cm\" is too small",
         "more than 0 and at most 100 mm"},
        {"{\"bore\": null}", 10, "bore", "null stands here", "a length such as"},
        {"{\"bore\": [\"1 mm\"]}", 10, "bore", "a list stands here", "a length such as"},
        {"{\"share\": 1.5}", 11, "share", "1.5 is too large", "0 or more and at most 1"},
        {"{\"share\": \"150 %\"}", 11, "share", "\"150 %\" is too large", "at most 1"},
        {"{\"share\": \"0.5\"}", 11, "share", "is a text", "write 0.5 without quotes"},
        {"{\"share\": \"3 mm\"}", 11, "share", "\"3 mm\" is a length", "a number such as"},
        {"{\"share\": true}", 11, "share", "true stands here", "a number such as"},
        {"{\"many\": 2.5}", 10, "many", "2.5 is not a whole number", "whole number"},
        {"{\"many\": 1e300}", 10, "many", "is not a whole number", "whole number"},
        {"{\"many\": 6}", 10, "many", "6 is too large", "at least 1, at most 5"},
        {"{\"many\": \"3\"}", 10, "many", "the text \"3\"", "a whole number"},
        {"{\"yes\": 1}", 9, "yes", "the number 1 stands here", "true or false"},
        {"{\"side\": \"lefd\"}", 10, "side", "\"lefd\" is not one of the choices",
         "did you mean \"left\"?"},
        {"{\"side\": \"up\"}", 10, "side", "\"up\"", "\"left\" or \"right\""},
        {"{\"side\": 3}", 10, "side", "the number 3", "\"left\" or \"right\""},
        {"{\"text\": 3}", 10, "text", "the number 3", "a text in quotes"},
        {"{\"name\": \"\"}", 10, "name", "is empty", ""},
        {"{\"name\": \"a/b\"}", 10, "name", "holds a \"/\"", ""},
        {"{\"name\": \" a\"}", 10, "name", "begins or ends with a space", ""},
        {"{\"name\": \"a\\u0007\"}", 10, "name", "control character", ""},
        {"{\"name\": {}}", 10, "name", "an object stands here", "a name in quotes"},
        {"{\"texts\": \"a\"}", 11, "texts", "the text \"a\"", "a list of texts"},
        {"{\"texts\": [\"a\", 3]}", 17, "texts/1", "the number 3", "a text"},
        {"{\"off\": \"lft\"}", 9, "off", "\"lft\" is neither", "did you mean \"left\"?"},
        {"{\"off\": \"5 Pa\"}", 9, "off", "\"5 Pa\" is a pressure", "a volume flow"},
        {"{\"off\": false}", 9, "off", "false stands here", "a volume flow"},
        {"{\"speed\": {\"H3\": \"1 L/s\"}}", 12, "speed/H3", "gas \"H3\" is not known",
         "did you mean \"H2\"?"},
        {"{\"speed\": {\"H2\": \"1 L\"}}", 18, "speed/H2", "\"1 L\" is a volume", "a volume flow"},
        {"{\"speed\": {\"H2\": \"1 L/s\", \"H2\": \"1 L/s\"}}", 27, "speed/H2",
         "given twice, first on line 1", ""},
        {"{\"speed\": []}", 11, "speed", "a list stands here", "one for each gas"},
        {"{\"ratio\": {\"He\": 0.5}}", 18, "ratio/He", "0.5 is too small", "at least 1"},
        {"{\"range\": [\"1 Pa\"]}", 11, "range", "the list has 1 value", "a list of two"},
        {"{\"range\": \"1 Pa\"}", 11, "range", "the text", "a list of two"},
        {"{\"range\": [\"2 Pa\", \"1 Pa\"]}", 11, "range", "the first value is above the second",
         "smaller"},
        {"{\"range\": [\"1 Pa\", \"1 s\"]}", 20, "range/1", "\"1 s\" is a time", "a pressure"},
        {"{\"curve\": [[\"1 Pa\", \"1 L/s\"]]}", 11, "curve", "the list has 1 point",
         "at least two points"},
        {"{\"curve\": [[\"1 Pa\", \"1 L/s\"], [\"1 Pa\"]]}", 31, "curve/1", "a list stands here",
         "a point"},
        {"{\"curve\": [[\"1 Pa\", \"1 L/s\"], [\"2 Pa\", \"1 L\"]]}", 40, "curve/1/1",
         "is a volume", "volume flow"},
        {"{\"one\": []}", 9, "one", "a list stands here", "an object"},
        {"{\"one\": {}}", 9, "one", "\"depth\" is missing (how deep)", "a length such as"},
        {"{\"one\": {\"depth\": \"-2 m\"}}", 19, "one/depth", "\"-2 m\" is too small",
         "at least -1 m, at most 100 mm"},
        {"{\"one\": {\"depth\": \"1 m\", \"deapth\": 3}}", 0, "", "", ""},
        {"{\"list\": {}}", 10, "list", "an object stands here", "a list of objects"},
        {"{\"list\": [3]}", 11, "list/0", "the number 3", "an object"},
        {"{\"list\": [{\"name\": \"n\", \"depth\": 3}]}", 34, "n/depth", "\"3\" has no unit",
         "3 mm"},
        {"{\"things\": [{\"name\": \"t\"}]}", 13, "t", "\"kind\" is missing", ""},
        {"{\"things\": [{\"name\": \"t\", \"kind\": \"bigone\", \"weight\": 3}]}", 35, "t/kind",
         "kind \"bigone\" is not known", "did you mean \"big one\"?"},
        {"{\"things\": [{\"name\": \"t\", \"kind\": 3}]}", 35, "t/kind", "the number 3", "a text"},
        {"{\"things\": [{\"name\": \"t\", \"kind\": \"small\"}]}", 13, "t", "\"weight\" is missing",
         "a mass"},
        {"{\"things\": [{\"name\": \"t\", \"kind\": \"small\", \"weight\": \"1 g\", \"wight\": "
         "1}]}",
         61, "t/wight", "\"wight\" is not a key of \"small\"", "did you mean \"weight\"?"},
        {"{\"parts\": \"pipe 3 mm x 3 mm\"}", 11, "parts", "the text", "a list of pieces"},
        {"{\"parts\": [\"pip 3 mm x 3 mm\"]}", 12, "parts/0", "does not begin with a kind",
         "did you mean \"pipe\"?"},
        {"{\"parts\": [\"pipe3 mm x 3 mm\"]}", 12, "parts/0", "does not begin with a kind", ""},
        {"{\"parts\": [\"pipe\"]}", 12, "parts/0", "bore is missing", "\"pipe <bore> x <length>"},
        {"{\"parts\": [\"pipe 3 mm\"]}", 12, "parts/0", "length is missing",
         "\"pipe <bore> x <length>"},
        {"{\"parts\": [\"pipe 3 x 4 mm\"]}", 12, "parts/0", "bore of the piece: \"3\" has no unit",
         "3 mm"},
        {"{\"parts\": [\"pipe 3 mm x 4 s\"]}", 12, "parts/0",
         "length of the piece: \"4 s\" is a time", "pipe <bore>"},
        {"{\"parts\": [\"pipe 3 mm x 4 mm 2 left 5\"]}", 12, "parts/0", "\"5\" is left over",
         "pipe <bore>"},
        {"{\"parts\": [\"pipe 3 mm x 4 mm 2 up\"]}", 12, "parts/0/way", "\"up\" is not one",
         "\"left\""},
        {"{\"parts\": [\"pipe 30 m x 4 mm\"]}", 12, "parts/0/bore", "\"30 m\" is too large",
         "at most 10 m"},
        {"{\"parts\": [{}]}", 12, "parts/0", "names no kind", "\"pipe\" or \"pipe bend\""},
        {"{\"parts\": [{\"pipe\": 3}]}", 21, "parts/0", "the number 3", "an object"},
        {"{\"parts\": [{\"pype\": {}}]}", 13, "parts/0", "kind of piece \"pype\"",
         "did you mean \"pipe\"?"},
        {"{\"parts\": [{\"pipe\": {\"bore\": \"1 mm\", \"length\": \"1 m\"}, \"b\": 1}]}", 56,
         "parts/0", "second key \"b\"", "one kind to an object"},
        {"{\"parts\": [7]}", 12, "parts/0", "the number 7", "a piece such as"},
        {"{\"Bore\": \"3 mm\"}", 2, "Bore", "\"Bore\" is not a key of \"kit\"",
         "did you mean \"bore\"?"},
        {"{\"zzz\": 1}", 2, "zzz", "\"zzz\" is not a key", "\"bore\", \"share\""},
        {"{\"many\": 1, \"many\": 2}", 13, "many", "\"many\" is given twice, first on line 1", ""},
    };
    for (size_t i = 0; i < COUNT(cases); i++)
        if (cases[i].column)
            one_kit_problem(cases[i].text, 1, cases[i].column, cases[i].path, cases[i].what,
                            cases[i].rest);
    /* Two faults in one object are two problems, in the order of the text. */
    read_kit("{\"one\": {\"deapth\": 3,\n \"depth\": \"1 m\"}}");
    assert_int_equal(rfy_problems_total(problems), 2);
    assert_int_equal(rfy_problems_at(problems, 0)->line, 1);
    assert_int_equal(rfy_problems_at(problems, 1)->line, 2);
}

/* Lines and columns count characters: é and the water drop are one each. */
static void test_places(void **state) {
    (void)state;
    one_kit_problem("{\r\n  \"// é\": \"💧\", \"bore\" :\n\t3}", 3, 2, "bore", "has no unit", "");
    one_kit_problem("{\"// é💧\": 1, \"bor\": 3}", 1, 14, "bor", "is not a key", "bore");
    one_kit_problem("\xEF\xBB\xBF{\"bore\": 3}", 1, 10, "bore", "has no unit", "");
    one_kit_problem("{\"text\": \"a\\\"b\\\\\", \"bore\": 3}", 1, 28, "bore", "has no unit", "");
}

/* All faults are counted, the first ones kept, and no time is lost. */
static void test_many_faults(void **state) {
    (void)state;
    char *many = malloc(100000 * 16), *to = many;
    to += sprintf(to, "{");
    for (int i = 0; i < 100000; i++)
        to += sprintf(to, "\"k%d\":1%s", i, i < 99999 ? ",\n" : "}");
    read_kit(many);
    assert_int_equal(rfy_problems_total(problems), 100000);
    assert_int_equal(rfy_problems_errors(problems), 100000);
    assert_int_equal(rfy_problems_kept(problems), RFY_MAX_PROBLEMS);
    for (size_t i = 0; i < RFY_MAX_PROBLEMS; i++)
        assert_int_equal(rfy_problems_at(problems, i)->line, (int)i + 1);
    free(many);
}

int main(void) {
#define TEST(t) cmocka_unit_test_setup_teardown(t, setup, teardown)
    const struct CMUnitTest tests[] = {
        TEST(test_absent),        TEST(test_present), TEST(test_short_forms),
        TEST(test_faulty_values), TEST(test_places),  TEST(test_many_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
