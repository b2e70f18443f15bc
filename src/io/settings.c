#include "io/settings.h"
#include <stdlib.h>
#include <string.h>
#include "io/expand.h"

typedef enum spot_kind {
    SPOT_RECORD, /* an object with a table (and a variant's table) */
    SPOT_LIST,   /* a list of such objects */
    SPOT_PIECES, /* the pieces of a line */
    SPOT_BY_GAS, /* a map gas -> value */
    SPOT_PLAIN   /* any other value; lists can be entered by place */
} spot_kind;

typedef struct spot {
    spot_kind kind;
    cJSON *node;
    const rfy_record *record, *extra;
    const rfy_field *field;
    const char *label; /* what the user calls the record */
} spot;

typedef struct setter {
    rfy_reader *r;
    const rfy_record *root;
    int number;
    const char *path;
    cJSON *value; /* NULL once it is in the tree */
    bool mark;    /* only to be found */
} setter;

static bool fail(setter *s, const char *allowed, const char *hint, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 4, 5)))
#endif
    ;

static bool fail(setter *s, const char *allowed, const char *hint, const char *format, ...) {
    va_list args;
    va_start(args, format);
    const char *what = rfy_arena_vprintf(s->r->arena, format, args);
    va_end(args);
    char shown[224];
    rfy_place at = {0, s->number, rfy_clip(shown, sizeof shown, s->path, 200)};
    rfy_problem_add(s->r->problems, RFY_ERROR, &at, allowed, hint, "%s", what);
    return false;
}

/* "12" -> 12; -1 if the text is not a whole number. */
static long as_index(const char *text) {
    long value = 0;
    size_t n = strlen(text);
    if (n == 0 || n > 6)
        return -1;
    for (; *text; text++) {
        if (*text < '0' || *text > '9')
            return -1;
        value = 10 * value + (*text - '0');
    }
    return value;
}

static cJSON *element_at(const cJSON *list, long index) {
    cJSON *child = list->child;
    while (child && index-- > 0)
        child = child->next;
    return child;
}

/* The object that holds the name of an element: itself, or the value of a piece's kind. */
static cJSON *named_part(cJSON *element, bool piece) {
    if (!piece)
        return element;
    cJSON *child = cJSON_IsObject(element) ? element->child : NULL;
    while (child && rfy_json_is_comment(child))
        child = child->next;
    return child;
}

static cJSON *element_named(const cJSON *list, const char *name, bool pieces) {
    cJSON *child;
    cJSON_ArrayForEach(child, list) {
        const cJSON *own = rfy_json_get(named_part(child, pieces), "name");
        if (cJSON_IsString(own) && strcmp(own->valuestring, name) == 0)
            return child;
    }
    return NULL;
}

static bool index_fault(setter *s, const cJSON *list, const char *step, bool by_name) {
    int n = cJSON_GetArraySize(list);
    const char *allowed =
        n == 0   ? "nothing: the list is empty"
        : n == 1 ? "0"
                 : rfy_arena_printf(s->r->arena, "0 to %d%s", n - 1, by_name ? ", or a name" : "");
    return fail(s, allowed, NULL, "\"%s\" is not a place in the list", step);
}

static bool is_list_of_objects(const rfy_field *f) {
    return f->type == RFY_F_RECORDS || f->type == RFY_F_VARIANTS;
}

static const rfy_field *pieces_field(const rfy_record *record) {
    for (size_t i = 0; i < record->n; i++)
        if (record->field[i].type == RFY_F_PIECES)
            return &record->field[i];
    return NULL;
}

/* The spot of one element of a list of objects. */
static spot element_spot(const rfy_field *f, cJSON *element) {
    spot at = {SPOT_RECORD, element, f->record, NULL, f, f->record->name};
    if (f->type == RFY_F_VARIANTS) {
        const cJSON *kind = rfy_json_get(element, f->selector);
        int k = cJSON_IsString(kind) ? rfy_variant_find(f->variants, kind->valuestring) : -1;
        if (k >= 0) {
            at.extra = f->variants->item[k].record;
            at.label = f->variants->item[k].name;
        }
    }
    return at;
}

/* The spot of a field's value. */
static spot value_spot(const rfy_field *f, cJSON *node) {
    spot at = {SPOT_PLAIN, node, NULL, NULL, f, f->key};
    if (f->type == RFY_F_RECORD) {
        at.kind = SPOT_RECORD;
        at.record = f->record;
    } else if (is_list_of_objects(f)) {
        at.kind = SPOT_LIST;
    } else if (f->type == RFY_F_PIECES) {
        at.kind = SPOT_PIECES;
    } else if (f->type == RFY_F_QUANTITY_BY_GAS || f->type == RFY_F_NUMBER_BY_GAS) {
        at.kind = SPOT_BY_GAS;
    }
    return at;
}

/* ---- writing the value ---- */

static bool mark(setter *s, cJSON *node, const char *step) {
    if (!node)
        return fail(s, NULL,
                    "give it there, or take \"scale\" in its place: times what the other keys say",
                    "\"%s\" is not given in the file", step);
    rfy_json_mark(&s->r->json, node, s->number);
    return true;
}

static bool put_key(setter *s, cJSON *object, const char *key) {
    if (s->mark)
        return mark(s, rfy_json_get(object, key), key);
    if (rfy_json_get(object, key))
        cJSON_ReplaceItemInObjectCaseSensitive(object, key, s->value);
    else
        cJSON_AddItemToObject(object, key, s->value);
    s->value = NULL;
    return true;
}

static bool put_element(setter *s, cJSON *list, cJSON *element) {
    if (s->mark)
        return mark(s, element, "value");
    cJSON_ReplaceItemViaPointer(list, element, s->value);
    s->value = NULL;
    return true;
}

/* ---- one step of the path ---- */

static bool no_key(setter *s, const spot *at, const char *step) {
    rfy_arena *arena = s->r->arena;
    size_t n = 0, na = at->record->n, nb = at->extra ? at->extra->n : 0;
    const char **key = RFY_NEW(arena, na + nb, const char *);
    for (size_t i = 0; i < na; i++)
        key[n++] = at->record->field[i].key;
    for (size_t i = 0; i < nb; i++)
        key[n++] = at->extra->field[i].key;
    const char *hint = rfy_did_you_mean(arena, step, key, n);
    char shown[64];
    return fail(s, hint ? NULL : rfy_alternatives(arena, key, n), hint,
                "\"%s\" is not a key of \"%s\"", rfy_clip(shown, sizeof shown, step, 40),
                at->label);
}

static bool in_record(setter *s, spot *at, const char *step, bool last) {
    if (!cJSON_IsObject(at->node))
        return fail(s, NULL, NULL, "there is no object to look for \"%s\" in", step);
    const rfy_field *f = NULL;
    int i = rfy_field_find(at->record, step), k = rfy_field_find(at->extra, step);
    if (i >= 0)
        f = &at->record->field[i];
    else if (k >= 0)
        f = &at->extra->field[k];
    cJSON *child = rfy_json_get(at->node, step);
    if (!f)
        return no_key(s, at, step);
    if (last)
        return put_key(s, at->node, step);
    if (!child && (f->type == RFY_F_RECORD || value_spot(f, NULL).kind == SPOT_BY_GAS)) {
        child = cJSON_AddObjectToObject(at->node, step);
        if (child && s->value)
            child->valueint = s->value->valueint;
    }
    if (!child)
        return fail(s, NULL, NULL, "\"%s\" is not given in the file, so nothing in it can be set",
                    step);
    *at = value_spot(f, child);
    return true;
}

static bool in_list(setter *s, spot *at, const char *step, bool last) {
    bool pieces = at->kind == SPOT_PIECES;
    if (!cJSON_IsArray(at->node))
        return fail(s, NULL, NULL, "there is no list to look for \"%s\" in", step);
    long index = as_index(step);
    cJSON *child = index >= 0 ? element_at(at->node, index) : element_named(at->node, step, pieces);
    if (!child)
        return index_fault(s, at->node, step, true);
    if (last)
        return put_element(s, at->node, child);
    if (!pieces) {
        *at = element_spot(at->field, child);
        return true;
    }
    child = rfy_expand_piece(s->r, at->node, child, at->field->variants, s->path);
    cJSON *inner = child ? named_part(child, true) : NULL;
    int k = inner ? rfy_variant_find(at->field->variants, inner->string) : -1;
    if (k < 0)
        return fail(s, NULL, NULL, "piece \"%s\" cannot be understood, so nothing in it can be set",
                    step);
    const rfy_variant *v = &at->field->variants->item[k];
    *at = (spot){SPOT_RECORD, inner, v->record, NULL, at->field, v->name};
    return true;
}

static bool in_map(setter *s, spot *at, const char *step, bool last) {
    if (!cJSON_IsObject(at->node))
        return fail(s, NULL, "set it as a whole: one value, or {\"N2\": …}",
                    "one value stands for all gases here, not one for \"%s\"", step);
    if (!last)
        return fail(s, NULL, NULL, "there is nothing below \"%s\"", step);
    if (rfy_species_find(s->r->catalog, step) < 0) {
        const char *name[RFY_MAX_SPECIES];
        size_t n = 0;
        for (; n < s->r->catalog->n_species && n < RFY_MAX_SPECIES; n++)
            name[n] = s->r->catalog->species[n].name;
        return fail(s, rfy_alternatives(s->r->arena, name, n),
                    rfy_did_you_mean(s->r->arena, step, name, n), "gas \"%s\" is not known", step);
    }
    return put_key(s, at->node, step);
}

static bool in_plain(setter *s, spot *at, const char *step, bool last) {
    if (!cJSON_IsArray(at->node))
        return fail(s, NULL, NULL, "there is nothing to set below \"%s\": it is a single value",
                    at->field ? at->field->key : step);
    cJSON *child = element_at(at->node, as_index(step) < 0 ? 1000000 : as_index(step));
    if (!child)
        return index_fault(s, at->node, step, false);
    if (last)
        return put_element(s, at->node, child);
    at->node = child;
    return true;
}

/* Moves *at along one step of the path, or puts the value there when it is the last. */
static bool go(setter *s, spot *at, const char *step, bool last) {
    switch (at->kind) {
    case SPOT_RECORD: {
        const rfy_field *pieces = pieces_field(at->record);
        if (pieces && rfy_field_find(at->record, step) < 0) {
            cJSON *list = rfy_json_get(at->node, pieces->key);
            if (list && (as_index(step) >= 0 || element_named(list, step, true))) {
                *at = value_spot(pieces, list);
                return in_list(s, at, step, last);
            }
        }
        return in_record(s, at, step, last);
    }
    case SPOT_LIST:
    case SPOT_PIECES:
        return in_list(s, at, step, last);
    case SPOT_BY_GAS:
        return in_map(s, at, step, last);
    case SPOT_PLAIN:
        break;
    }
    return in_plain(s, at, step, last);
}

/* ---- the first step: a part, or a key of the description ---- */

/* Looks for a part in the lists of the description, and for a piece with that name in the lines.
 * With `names`, collects all names instead and returns false. */
static bool find_part(setter *s, const char *name, spot *found, const char **names,
                      size_t *n_names) {
    cJSON *root = s->r->json.root;
    for (size_t i = 0; i < s->root->n; i++) {
        const rfy_field *f = &s->root->field[i];
        cJSON *list = rfy_json_get(root, f->key), *child;
        if (!is_list_of_objects(f) || !cJSON_IsArray(list))
            continue;
        const rfy_field *pieces = pieces_field(f->record);
        cJSON_ArrayForEach(child, list) {
            const cJSON *own = rfy_json_get(child, "name");
            if (cJSON_IsString(own) && names && *n_names < 1000)
                names[(*n_names)++] = own->valuestring;
            if (cJSON_IsString(own) && !names && strcmp(own->valuestring, name) == 0) {
                *found = element_spot(f, child);
                return true;
            }
            cJSON *parts = pieces ? rfy_json_get(child, pieces->key) : NULL;
            cJSON *piece = parts && !names ? element_named(parts, name, true) : NULL;
            cJSON *inner = piece ? named_part(piece, true) : NULL;
            int k = inner ? rfy_variant_find(pieces->variants, inner->string) : -1;
            if (k >= 0) {
                const rfy_variant *v = &pieces->variants->item[k];
                *found = (spot){SPOT_RECORD, inner, v->record, NULL, pieces, v->name};
                return true;
            }
        }
    }
    return false;
}

static bool start(setter *s, spot *at, const char *step, bool last) {
    rfy_arena *arena = s->r->arena;
    if (find_part(s, step, at, NULL, NULL)) {
        if (!last)
            return true;
        size_t n = at->record->n;
        const char **key = RFY_NEW(arena, n, const char *);
        for (size_t i = 0; i < n; i++)
            key[i] = at->record->field[i].key;
        return fail(s, rfy_alternatives(arena, key, n), NULL,
                    "\"%s\" is a part: say which of its values", step);
    }
    spot root = {SPOT_RECORD, s->r->json.root, s->root, NULL, NULL, s->root->name};
    if (rfy_field_find(s->root, step) >= 0) {
        *at = root;
        return go(s, at, step, last);
    }
    const cJSON *junctions = rfy_json_get(s->r->json.root, "junctions"), *name;
    cJSON_ArrayForEach(name, junctions) {
        if (cJSON_IsString(name) && strcmp(name->valuestring, step) == 0)
            return fail(s, NULL, NULL, "\"%s\" is a junction, which has no values", step);
    }
    const char **names = rfy_xcalloc(1000 + s->root->n, sizeof *names);
    size_t n = 0;
    find_part(s, NULL, NULL, names, &n);
    for (size_t i = 0; i < s->root->n; i++)
        names[n++] = s->root->field[i].key;
    const char *hint = rfy_did_you_mean(arena, step, names, n);
    free(names);
    char shown[64];
    return fail(s, "the name of a part, or a key of the description such as \"run\"", hint,
                "nothing is named \"%s\"", rfy_clip(shown, sizeof shown, step, 40));
}

static void apply(setter *s, const char *text) {
    size_t length = strlen(s->path);
    if (length == 0 || s->path[0] == '/' || s->path[length - 1] == '/' || strstr(s->path, "//")) {
        fail(s, "such as \"port/volume\" or \"foreline hose/0/bore\"", NULL,
             "the path has an empty part");
        return;
    }
    s->mark = !text;
    s->value = text ? rfy_json_setting(&s->r->json, text, s->number) : NULL;
    if (!s->value && text) {
        fail(s, NULL, NULL, "the value is not UTF-8");
        return;
    }
    char *path = rfy_arena_strdup(s->r->arena, s->path);
    spot at = {0};
    bool first = true;
    for (char *step = path, *next; step; step = next, first = false) {
        next = strchr(step, '/');
        if (next)
            *next++ = '\0';
        if (!(first ? start(s, &at, step, !next) : go(s, &at, step, !next)))
            break;
    }
    cJSON_Delete(s->value);
}

void rfy_apply_settings(rfy_reader *reader, const rfy_record *root_record,
                        const rfy_setting *settings, size_t n) {
    if (!cJSON_IsObject(reader->json.root))
        return;
    for (size_t i = 0; i < n; i++) {
        setter s = {
            .r = reader, .root = root_record, .number = (int)i + 1, .path = settings[i].path};
        apply(&s, settings[i].value);
    }
}
