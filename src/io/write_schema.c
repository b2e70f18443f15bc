/* The JSON Schema (draft 2020-12) of the description, from the tables that drive the reading.
 *
 * It takes every description that reading takes, and refuses what a schema can know of: wrong
 * types, unknown and missing keys, unknown words and units, numbers out of range, names that cannot
 * be. What hangs together across the file (names that are not there, two of one name, the largest
 * value of a quantity with a unit) is for `rarefy check`. */
#include <stdlib.h>
#include <string.h>
#include <cjson/cJSON.h>
#include "core/unit_pattern.h"
#include "flow/piece.h"
#include "gas/catalog.h"
#include "network/description.h"
#include "rarefy/rarefy.h"

enum { MOST_RECORDS = 80 };

typedef struct schema {
    rfy_arena *arena;
    const rfy_catalog *catalog;
    cJSON *defs;
    struct known {
        const rfy_record *record;
        bool element; /* of a list: may say "like" */
        const char *name;
    } known[MOST_RECORDS];
    size_t n_known;
    bool has_quantity[RFY_DIM_COUNT + 1];
} schema;

/* ---- small things ---- */

static cJSON *text_node(const char *text) {
    return cJSON_CreateString(text);
}

static cJSON *object_with(const char *key, cJSON *value) {
    cJSON *object = cJSON_CreateObject();
    cJSON_AddItemToObject(object, key, value);
    return object;
}

static cJSON *typed(const char *type) {
    return object_with("type", text_node(type));
}

static cJSON *ref(schema *s, const char *name) {
    return object_with("$ref", text_node(rfy_arena_printf(s->arena, "#/$defs/%s", name)));
}

static cJSON *words(const char *const *word) {
    cJSON *list = cJSON_CreateArray();
    for (; word && *word; word++)
        cJSON_AddItemToArray(list, text_node(*word));
    return list;
}

/* One of the built-in gases. */
static cJSON *gas_name(schema *s) {
    if (!cJSON_GetObjectItemCaseSensitive(s->defs, "gas")) {
        cJSON *def = cJSON_CreateObject(), *list = cJSON_AddArrayToObject(def, "enum");
        for (size_t i = 0; i < s->catalog->n_species; i++)
            cJSON_AddItemToArray(list, text_node(s->catalog->species[i].name));
        cJSON_AddItemToObject(s->defs, "gas", def);
    }
    return ref(s, "gas");
}

/* Keys that begin with // are comments in every object; nothing else beyond `properties`. */
static void close_object(cJSON *object) {
    cJSON *pattern = cJSON_AddObjectToObject(object, "patternProperties");
    cJSON_AddTrueToObject(pattern, "^//");
    cJSON_AddFalseToObject(object, "additionalProperties");
}

/* ---- values ---- */

/* "quantity-length" and, for texts of a bare number, "ratio". */
static const char *quantity_def(schema *s, rfy_dim dim) {
    char *name = rfy_arena_printf(s->arena, "quantity %s", rfy_dim_name(dim));
    for (char *c = name; *c; c++)
        *c = (char)(*c == ' ' ? '-' : *c);
    if (s->has_quantity[dim])
        return name;
    s->has_quantity[dim] = true;
    cJSON *def = typed("string");
    const char *core = rfy_quantity_pattern(s->arena, s->catalog->units, dim, false);
    cJSON_AddStringToObject(
        def, "pattern",
        rfy_arena_printf(s->arena, "^" RFY_PATTERN_BLANKS "(?:%s)" RFY_PATTERN_BLANKS "$", core));
    cJSON_AddStringToObject(def, "description", rfy_dim_example(dim));
    /* no keyword of the draft, but some editors show it in place of the pattern */
    cJSON_AddStringToObject(def, "patternErrorMessage",
                            rfy_arena_printf(s->arena, "allowed: %s", rfy_dim_example(dim)));
    const char *quote = strchr(rfy_dim_example(dim), '"');
    if (quote)
        cJSON_AddItemToArray(
            cJSON_AddArrayToObject(def, "examples"),
            text_node(rfy_arena_strndup(s->arena, quote + 1, strcspn(quote + 1, "\""))));
    cJSON_AddItemToObject(s->defs, name, def);
    return name;
}

/* A lowest value of zero is as far as a pattern sees the size of a quantity. */
static void bound_text(cJSON *node, const rfy_field *f) {
    bool limited = f->min < 0 || f->min > 0 || f->max > 0 || f->max < 0;
    if (!limited || f->min < 0 || f->dim == RFY_DIM_TEMPERATURE)
        return;
    if (f->min > 0 || f->above_min)
        cJSON_AddStringToObject(node, "pattern", "^" RFY_PATTERN_BLANKS "\\+?(?=[0.]*[1-9])");
    else
        cJSON_AddStringToObject(node, "pattern", "^" RFY_PATTERN_BLANKS "(?!-[0.]*[1-9])");
}

static cJSON *quantity(schema *s, const rfy_field *f) {
    cJSON *node = ref(s, quantity_def(s, f->dim));
    bound_text(node, f);
    return node;
}

/* A plain value, or the same with its uncertainty: {"value": …, "factor": 3}. */
static cJSON *or_with_factor(cJSON *plain) {
    cJSON *node = cJSON_CreateObject(), *any = cJSON_AddArrayToObject(node, "anyOf");
    cJSON *object = typed("object"), *of = cJSON_AddObjectToObject(object, "properties");
    cJSON *factor = typed("number"), *both = cJSON_CreateArray();
    cJSON_AddNumberToObject(factor, "minimum", 1);
    cJSON_AddNumberToObject(factor, "maximum", 1000);
    cJSON_AddItemToObject(of, "value", cJSON_Duplicate(plain, true));
    cJSON_AddItemToObject(of, "factor", factor);
    cJSON_AddItemToArray(both, text_node("value"));
    cJSON_AddItemToArray(both, text_node("factor"));
    cJSON_AddItemToObject(object, "required", both);
    close_object(object);
    cJSON_AddItemToArray(any, plain);
    cJSON_AddItemToArray(any, object);
    return node;
}

static void bound_number(cJSON *node, const rfy_field *f) {
    bool limited = f->min < 0 || f->min > 0 || f->max > 0 || f->max < 0;
    if (!limited)
        return;
    cJSON_AddNumberToObject(node, f->above_min ? "exclusiveMinimum" : "minimum", f->min);
    cJSON_AddNumberToObject(node, "maximum", f->max);
}

static cJSON *number(schema *s, const rfy_field *f) {
    cJSON *node = cJSON_CreateObject(), *any = cJSON_AddArrayToObject(node, "anyOf");
    cJSON *bare = typed("number"), *ratio = ref(s, quantity_def(s, RFY_DIM_NONE));
    bound_number(bare, f);
    bound_text(ratio, f);
    cJSON_AddItemToArray(any, bare);
    cJSON_AddItemToArray(any, ratio);
    return node;
}

static cJSON *name_value(schema *s) {
    if (!s->has_quantity[RFY_DIM_COUNT]) {
        static const char *const kept[] = {"ambient", "time", "elapsed", NULL};
        s->has_quantity[RFY_DIM_COUNT] = true;
        cJSON *def = typed("string");
        cJSON_AddNumberToObject(def, "maxLength", 200);
        cJSON_AddStringToObject(def, "pattern",
                                "^[^ /\\u0000-\\u001f\\u007f](?:[^/\\u0000-\\u001f\\u007f]*[^ "
                                "/\\u0000-\\u001f\\u007f])?$");
        cJSON_AddItemToObject(def, "not", object_with("enum", words(kept)));
        cJSON_AddStringToObject(def, "description", "a name; paths are made of names and /");
        cJSON_AddItemToObject(s->defs, "name", def);
    }
    return ref(s, "name");
}

static cJSON *by_gas(schema *s, const rfy_field *f) {
    bool bare = f->type == RFY_F_NUMBER_BY_GAS;
    cJSON *node = cJSON_CreateObject(), *any = cJSON_AddArrayToObject(node, "anyOf");
    cJSON_AddItemToArray(any, or_with_factor(bare ? number(s, f) : quantity(s, f)));
    /* the names of gases are keys, listed for editors to offer; their values are all of one kind */
    const char *each =
        rfy_arena_printf(s->arena, "each-%s%s%g", bare ? "number" : quantity_def(s, f->dim),
                         f->above_min ? "-above-" : "-from-", f->min);
    if (!cJSON_GetObjectItemCaseSensitive(s->defs, each))
        cJSON_AddItemToObject(s->defs, each, or_with_factor(bare ? number(s, f) : quantity(s, f)));
    cJSON *map = typed("object"), *of = cJSON_AddObjectToObject(map, "properties");
    for (size_t i = 0; i < s->catalog->n_species; i++)
        cJSON_AddItemToObject(of, s->catalog->species[i].name, ref(s, each));
    close_object(map);
    cJSON_AddItemToArray(any, map);
    return node;
}

/* A list of exactly these. */
static cJSON *tuple(cJSON *first, cJSON *second) {
    cJSON *node = typed("array"), *items = cJSON_AddArrayToObject(node, "prefixItems");
    cJSON_AddItemToArray(items, first);
    cJSON_AddItemToArray(items, second);
    cJSON_AddNumberToObject(node, "minItems", 2);
    cJSON_AddFalseToObject(node, "items");
    return node;
}

static cJSON *curve(schema *s, const rfy_field *f) {
    const rfy_field second = {.key = f->key, .dim = f->dim2};
    cJSON *node = typed("array");
    cJSON_AddItemToObject(node, "items", tuple(quantity(s, f), quantity(s, &second)));
    cJSON_AddNumberToObject(node, "minItems", 2);
    return node;
}

/* Which built-in names a text of that key is made of; for editors to offer. */
static void offer(schema *s, cJSON *node, const char *key) {
    const rfy_catalog *c = s->catalog;
    const char *before = "";
    cJSON *list = cJSON_CreateArray();
    if (strcmp(key, "material") == 0)
        for (size_t i = 0; i < c->n_materials; i++) {
            if (strcmp(before, c->material[i].material) != 0)
                cJSON_AddItemToArray(list, text_node(c->material[i].material));
            before = c->material[i].material;
        }
    else if (strcmp(key, "getter") == 0)
        for (size_t i = 0; i < c->n_getters; i++) {
            if (strcmp(before, c->getter[i].getter) != 0)
                cJSON_AddItemToArray(list, text_node(c->getter[i].getter));
            before = c->getter[i].getter;
        }
    else if (strcmp(key, "substance") == 0)
        for (size_t i = 0; i < c->n_vapours; i++)
            cJSON_AddItemToArray(list, text_node(c->vapour[i].substance));
    else if (strcmp(key, "sites") == 0)
        for (size_t i = 0; i < c->n_sites; i++)
            cJSON_AddItemToArray(list, text_node(c->site[i].sites));
    if (cJSON_GetArraySize(list) > 0)
        cJSON_AddItemToObject(node, "examples", list);
    else
        cJSON_Delete(list);
}

static cJSON *text_value(schema *s, const rfy_field *f) {
    if (strcmp(f->key, "gas") == 0)
        return gas_name(s);
    cJSON *node = typed("string");
    offer(s, node, f->key);
    return node;
}

static cJSON *texts_value(schema *s, const rfy_field *f) {
    bool gases = strcmp(f->key, "gases") == 0, junctions = strcmp(f->key, "junctions") == 0;
    cJSON *node = typed("array");
    cJSON_AddItemToObject(node, "items",
                          gases       ? gas_name(s)
                          : junctions ? name_value(s)
                                      : typed("string"));
    if (junctions || f->max > 0)
        cJSON_AddTrueToObject(node, "uniqueItems");
    if (f->max > 0) { /* how many: the two ends of a line */
        cJSON_AddNumberToObject(node, "minItems", f->min);
        cJSON_AddNumberToObject(node, "maxItems", f->max);
    } else if (f->required) {
        cJSON_AddNumberToObject(node, "minItems", 1);
    }
    return node;
}

/* ---- records ---- */

static cJSON *value(schema *s, const rfy_field *f);
static const char *record_def(schema *s, const rfy_record *record, bool element);

static cJSON *described(schema *s, const rfy_field *f) {
    cJSON *node = value(s, f);
    const char *text = f->assumed
                           ? rfy_arena_printf(s->arena, "%s. Without it: %s.", f->help, f->assumed)
                           : rfy_arena_printf(s->arena, "%s.", f->help);
    cJSON_DeleteItemFromObject(node, "description");
    cJSON_AddStringToObject(node, "description", text);
    return node;
}

static void add_properties(schema *s, cJSON *to, const rfy_record *record) {
    for (size_t i = 0; record && i < record->n; i++)
        cJSON_AddItemToObject(to, record->field[i].key, described(s, &record->field[i]));
}

/* Keys that must be there, unless "like" brings them. */
static void add_required(cJSON *object, const rfy_record *a, const rfy_record *b, bool element) {
    cJSON *list = cJSON_CreateArray();
    for (int k = 0; k < 2; k++) {
        const rfy_record *r = k ? b : a;
        for (size_t i = 0; r && i < r->n; i++)
            if (r->field[i].required)
                cJSON_AddItemToArray(list, text_node(r->field[i].key));
    }
    if (cJSON_GetArraySize(list) == 0) {
        cJSON_Delete(list);
    } else if (element) {
        static const char *const like[] = {"like", NULL};
        cJSON *any = cJSON_AddArrayToObject(object, "anyOf");
        cJSON_AddItemToArray(any, object_with("required", list));
        cJSON_AddItemToArray(any, object_with("required", words(like)));
    } else {
        cJSON_AddItemToObject(object, "required", list);
    }
}

static void add_like(cJSON *properties) {
    cJSON *like = typed("string");
    cJSON_AddStringToObject(like, "description",
                            "name of another element of this list: its keys hold here too, unless "
                            "they are given.");
    cJSON_AddItemToObject(properties, "like", like);
}

/* What the code behind the tables asks for besides, where a schema can say it. */
static const struct {
    const char *record, *rule;
} together[] = {
    {"chamber", "{\"oneOf\": [{\"required\": [\"volume\"]}, {\"required\": [\"reservoir\"]}, "
                "{\"required\": [\"like\"], \"properties\": {\"volume\": false, "
                "\"reservoir\": false}}]}"},
    {"line", "{\"not\": {\"required\": [\"cells\", \"cell_error\"]}}"},
    {"step", "{\"anyOf\": [{\"required\": [\"do\"]}, {\"required\": [\"steps\"]}, {\"required\": "
             "[\"like\"]}]}"},
};

static void add_together(cJSON *object, const rfy_record *record) {
    for (size_t i = 0; i < sizeof together / sizeof *together; i++)
        if (strcmp(together[i].record, record->name) == 0)
            cJSON_AddItemToArray(cJSON_AddArrayToObject(object, "allOf"),
                                 cJSON_Parse(together[i].rule));
}

static const char *record_def(schema *s, const rfy_record *record, bool element) {
    for (size_t i = 0; i < s->n_known; i++)
        if (s->known[i].record == record && s->known[i].element == element)
            return s->known[i].name;
    char *name = rfy_arena_strdup(s->arena, record->name);
    for (char *c = name; *c; c++)
        *c = (char)(*c == ' ' ? '-' : *c);
    while (cJSON_GetObjectItemCaseSensitive(s->defs, name))
        name = rfy_arena_printf(s->arena, "%s-", name);
    if (s->n_known == MOST_RECORDS)
        abort(); /* a build that has so many kinds raises MOST_RECORDS */
    s->known[s->n_known++] = (struct known){record, element, name};
    cJSON *def = typed("object");
    cJSON_AddItemToObject(s->defs, name, def); /* now, so that a step may hold steps */
    cJSON *properties = cJSON_AddObjectToObject(def, "properties");
    add_properties(s, properties, record);
    if (element)
        add_like(properties);
    close_object(def);
    add_required(def, record, NULL, element);
    add_together(def, record);
    return name;
}

/* ---- kinds ---- */

static cJSON *key_names(const rfy_record *a, const rfy_record *b) {
    cJSON *any = cJSON_CreateArray(), *list = cJSON_CreateArray();
    for (size_t i = 0; i < a->n; i++)
        cJSON_AddItemToArray(list, text_node(a->field[i].key));
    for (size_t i = 0; b && i < b->n; i++)
        cJSON_AddItemToArray(list, text_node(b->field[i].key));
    cJSON_AddItemToArray(list, text_node("like"));
    cJSON_AddItemToArray(any, object_with("enum", list));
    cJSON_AddItemToArray(any, object_with("pattern", text_node("^//")));
    return object_with("anyOf", any);
}

/* True when an earlier kind has the same table. */
static bool seen_before(const rfy_variants *kinds, size_t i) {
    for (size_t k = 0; k < i; k++)
        if (kinds->item[k].record == kinds->item[i].record)
            return true;
    return false;
}

static cJSON *kinds_of(const rfy_variants *kinds, const rfy_record *record) {
    cJSON *list = cJSON_CreateArray();
    for (size_t i = 0; i < kinds->n; i++)
        if (!record || kinds->item[i].record == record)
            cJSON_AddItemToArray(list, text_node(kinds->item[i].name));
    return list;
}

static cJSON *variants(schema *s, const rfy_field *f) {
    cJSON *node = typed("array"), *item = typed("object");
    cJSON *properties = cJSON_AddObjectToObject(item, "properties");
    add_properties(s, properties, f->record);
    cJSON *selector = cJSON_CreateObject();
    cJSON_AddItemToObject(selector, "enum", kinds_of(f->variants, NULL));
    cJSON_ReplaceItemInObjectCaseSensitive(properties, f->selector, selector);
    add_like(properties);
    add_required(item, f->record, NULL, true);
    cJSON *all = cJSON_AddArrayToObject(item, "allOf");
    for (size_t i = 0; i < f->variants->n; i++) {
        const rfy_record *own = f->variants->item[i].record;
        const char *const needs[] = {f->selector, NULL};
        if (seen_before(f->variants, i))
            continue;
        cJSON *condition =
            object_with("properties",
                        object_with(f->selector, object_with("enum", kinds_of(f->variants, own))));
        cJSON_AddItemToObject(condition, "required", words(needs));
        cJSON *then = cJSON_CreateObject();
        add_properties(s, cJSON_AddObjectToObject(then, "properties"), own);
        cJSON_AddItemToObject(then, "propertyNames", key_names(f->record, own));
        add_required(then, own, NULL, true);
        cJSON *rule = object_with("if", condition);
        cJSON_AddItemToObject(rule, "then", then);
        cJSON_AddItemToArray(all, rule);
    }
    if (f->required)
        cJSON_AddNumberToObject(node, "minItems", 1);
    cJSON_AddItemToObject(node, "items", item);
    return node;
}

/* "tube <bore> x <length>" as a pattern; NULL for a kind without a short form. */
static const char *short_form(schema *s, const rfy_variant *kind) {
    const char *text = rfy_arena_printf(s->arena, "^[ \\t]*%s(?:[ \\t]+|$)", kind->name);
    const char *tail = "[ \\t]*$";
    for (size_t i = 0; kind->short_keys && kind->short_keys[i]; i++) {
        const rfy_field *f = kind->record->field;
        while (strcmp(f->key, kind->short_keys[i]) != 0)
            f++;
        bool measured = f->type == RFY_F_QUANTITY || f->type == RFY_F_NUMBER;
        const char *one =
            measured ? rfy_quantity_pattern_short(s->arena, s->catalog->units,
                                                  f->type == RFY_F_NUMBER ? RFY_DIM_NONE : f->dim)
                     : "[^ \\t,]+";
        text = rfy_arena_printf(s->arena, "%s%s%s(?:%s)", text, f->required ? "" : "(?:",
                                i ? "[ \\t]*(?:[xX,\xC3\x97][ \\t]*)?" : "", one);
        if (!f->required)
            tail = rfy_arena_printf(s->arena, ")?%s", tail);
    }
    return rfy_arena_printf(s->arena, "%s%s", text, tail);
}

static cJSON *pieces(schema *s, const rfy_field *f) {
    if (!cJSON_GetObjectItemCaseSensitive(s->defs, "piece")) {
        cJSON *def = cJSON_CreateObject();
        cJSON_AddItemToObject(s->defs, "piece", def);
        cJSON *any = cJSON_AddArrayToObject(def, "anyOf");
        cJSON *text = typed("string"), *forms = cJSON_AddArrayToObject(text, "anyOf");
        cJSON *example = cJSON_AddArrayToObject(text, "examples");
        cJSON_AddItemToArray(example, text_node("tube 16 mm x 1 m"));
        cJSON *object = typed("object"), *of = cJSON_AddObjectToObject(object, "properties");
        cJSON *one = cJSON_CreateArray();
        for (size_t i = 0; i < f->variants->n; i++) {
            const rfy_variant *kind = &f->variants->item[i];
            const char *const needs[] = {kind->name, NULL};
            cJSON_AddItemToArray(forms, object_with("pattern", text_node(short_form(s, kind))));
            cJSON *own = ref(s, record_def(s, kind->record, false));
            cJSON_AddStringToObject(own, "description", kind->help);
            cJSON_AddItemToObject(of, kind->name, own);
            cJSON_AddItemToArray(one, object_with("required", words(needs)));
        }
        close_object(object);
        cJSON_AddItemToObject(object, "oneOf", one);
        cJSON_AddItemToArray(any, object);
        cJSON_AddItemToArray(any, text);
    }
    cJSON *node = typed("array");
    cJSON_AddItemToObject(node, "items", ref(s, "piece"));
    if (f->required)
        cJSON_AddNumberToObject(node, "minItems", 1);
    return node;
}

static cJSON *records(schema *s, const rfy_field *f) {
    cJSON *node = typed("array");
    cJSON_AddItemToObject(node, "items", ref(s, record_def(s, f->record, true)));
    if (f->required)
        cJSON_AddNumberToObject(node, "minItems", 1);
    return node;
}

static cJSON *value(schema *s, const rfy_field *f) {
    cJSON *node = NULL, *any;
    switch (f->type) {
    case RFY_F_QUANTITY:
        return or_with_factor(quantity(s, f));
    case RFY_F_NUMBER:
        return or_with_factor(number(s, f));
    case RFY_F_INTEGER:
        node = typed("integer");
        bound_number(node, f);
        return node;
    case RFY_F_BOOL:
        return typed("boolean");
    case RFY_F_TEXT:
        return text_value(s, f);
    case RFY_F_NAME:
        return name_value(s);
    case RFY_F_TEXTS:
        return texts_value(s, f);
    case RFY_F_CHOICE:
        return object_with("enum", words(f->choices));
    case RFY_F_VALUE_OR_WORD:
        node = cJSON_CreateObject();
        any = cJSON_AddArrayToObject(node, "anyOf");
        cJSON_AddItemToArray(any, object_with("enum", words(f->choices)));
        cJSON_AddItemToArray(any, or_with_factor(quantity(s, f)));
        return node;
    case RFY_F_QUANTITY_BY_GAS:
    case RFY_F_NUMBER_BY_GAS:
        return by_gas(s, f);
    case RFY_F_RANGE:
        return tuple(quantity(s, f), quantity(s, f));
    case RFY_F_CURVE:
        return curve(s, f);
    case RFY_F_RECORD:
        return ref(s, record_def(s, f->record, false));
    case RFY_F_RECORDS:
        return records(s, f);
    case RFY_F_VARIANTS:
        return variants(s, f);
    case RFY_F_PIECES:
        return pieces(s, f);
    }
    return cJSON_CreateObject();
}

rfy_status rfy_write_schema(FILE *out) {
    schema s = {.arena = rfy_arena_new()};
    s.catalog = rfy_catalog_new(s.arena);
    cJSON *root = cJSON_CreateObject();
    cJSON_AddStringToObject(root, "$schema", "https://json-schema.org/draft/2020-12/schema");
    cJSON_AddStringToObject(root, "title", "Rarefy: a vacuum system");
    cJSON_AddStringToObject(root, "description",
                            "A description for rarefy " RAREFY_VERSION
                            ". Quantities carry their unit: \"25 mm\". Keys that begin with // are "
                            "comments. What a schema cannot see, \"rarefy check\" tells.");
    cJSON_AddStringToObject(root, "type", "object");
    s.defs = cJSON_CreateObject();
    add_properties(&s, cJSON_AddObjectToObject(root, "properties"), &rfy_description_record);
    close_object(root);
    add_required(root, &rfy_description_record, NULL, false);
    cJSON_AddItemToObject(root, "$defs", s.defs);
    char *text = cJSON_Print(root);
    cJSON_Delete(root);
    rfy_arena_free(s.arena);
    if (!text)
        return RFY_RUN_FAILED;
    fputs(text, out);
    putc('\n', out);
    cJSON_free(text);
    return ferror(out) || fflush(out) != 0 ? RFY_IO_FAILED : RFY_OK;
}
