#include "io/read_record.h"
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include "io/expand.h"

int rfy_variant_find(const rfy_variants *variants, const char *name) {
    for (size_t i = 0; i < variants->n; i++)
        if (strcmp(variants->item[i].name, name) == 0)
            return (int)i;
    return -1;
}

const char *const *rfy_variant_names(rfy_arena *arena, const rfy_variants *variants) {
    const char **name = RFY_NEW(arena, variants->n, const char *);
    for (size_t i = 0; i < variants->n; i++)
        name[i] = variants->item[i].name;
    return name;
}

/* A table being filled: a record, its struct, and where each field was found. */
typedef struct target {
    const rfy_record *record; /* NULL = nothing */
    const char *label;        /* what the user calls it: "turbomolecular", not "kinetic pump" */
    void *out;
    rfy_place *field;
    const cJSON **seen;
} target;

static target open_target(rfy_reader *r, const rfy_record *record, void *out) {
    target t = {.record = record, .out = out};
    if (!record)
        return t;
    t.label = record->name;
    t.field = RFY_NEW(r->arena, record->n, rfy_place);
    t.seen = RFY_NEW(r->arena, record->n, const cJSON *);
    for (size_t i = 0; i < record->n; i++)
        if (record->field[i].offset != SIZE_MAX)
            rfy_set_absent(&record->field[i], (char *)out + record->field[i].offset);
    return t;
}

static void unknown_key(rfy_reader *r, const cJSON *child, const char *path, const target *a,
                        const target *b) {
    size_t n = 0, na = a->record->n, nb = b->record ? b->record->n : 0;
    const char **key = RFY_NEW(r->arena, na + nb, const char *);
    for (size_t i = 0; i < na; i++)
        key[n++] = a->record->field[i].key;
    for (size_t i = 0; i < nb; i++)
        key[n++] = b->record->field[i].key;
    /* After many errors nobody reads the suggestions, and they cost time. */
    bool few = r->problems->errors < 200;
    const char *hint = few ? rfy_did_you_mean(r->arena, child->string, key, n) : NULL;
    const char *allowed = few && !hint ? rfy_alternatives(r->arena, key, n) : NULL;
    char shown[64];
    rfy_place at = rfy_json_key_place(&r->json, child, rfy_join(r->arena, path, child->string));
    rfy_problem_add(r->problems, RFY_ERROR, &at, allowed, hint, "\"%s\" is not a key of \"%s\"",
                    rfy_clip(shown, sizeof shown, child->string, 40),
                    b->record ? b->label : a->label);
}

static void read_field(rfy_reader *r, cJSON *node, const rfy_field *f, const char *path,
                       void *dest);

/* True when the key belongs to this table. */
static bool take(rfy_reader *r, cJSON *child, const char *path, target *t) {
    int i = rfy_field_find(t->record, child->string);
    if (i < 0)
        return false;
    const rfy_field *f = &t->record->field[i];
    const char *own = rfy_join(r->arena, path, child->string);
    if (t->seen[i]) {
        rfy_place at = rfy_json_key_place(&r->json, child, own);
        rfy_problem_add(r->problems, RFY_ERROR, &at, NULL, NULL,
                        "\"%s\" is given twice, first on line %d", child->string,
                        rfy_json_key_place(&r->json, t->seen[i], "").line);
        return true;
    }
    t->seen[i] = child;
    t->field[i] = rfy_json_value_place(&r->json, child, own);
    union { /* somewhere to put what is checked and not stored */
        rfy_by_gas map;
        rfy_texts texts;
        rfy_curve curve;
    } scratch;
    memset(&scratch, 0, sizeof scratch);
    void *dest = f->offset == SIZE_MAX ? (void *)&scratch : (char *)t->out + f->offset;
    r->fixed += f->offset == SIZE_MAX;
    read_field(r, child, f, own, dest);
    r->fixed -= f->offset == SIZE_MAX;
    return true;
}

static void check_required(rfy_reader *r, const cJSON *node, const char *path, const target *t) {
    for (size_t i = 0; t->record && i < t->record->n; i++) {
        const rfy_field *f = &t->record->field[i];
        if (!f->required || t->seen[i])
            continue;
        rfy_place at = rfy_json_value_place(&r->json, node, path);
        bool quantity = f->type == RFY_F_QUANTITY || f->type == RFY_F_QUANTITY_BY_GAS;
        rfy_problem_add(r->problems, RFY_ERROR, &at, quantity ? rfy_dim_example(f->dim) : NULL,
                        NULL, "\"%s\" is missing (%s)", f->key, f->help);
    }
}

/* Reads an object into a record and, for a variant, the variant's own record. `lenient`: keys that
 * the record does not know may belong to a variant that could not be told. */
static void read_both(rfy_reader *r, cJSON *node, const char *path, target *a, target *b,
                      bool lenient) {
    for (cJSON *child = node->child; child; child = child->next) {
        if (rfy_json_is_comment(child) || take(r, child, path, a) || take(r, child, path, b))
            continue;
        if (!lenient)
            unknown_key(r, child, path, a, b);
    }
    if (!rfy_like_failed(r, node)) {
        check_required(r, node, path, a);
        check_required(r, node, path, b);
    }
}

void rfy_read_object(rfy_reader *reader, cJSON *node, const rfy_record *record, const char *path,
                     void *out) {
    target a = open_target(reader, record, out), none = {0};
    *(rfy_origin *)out = (rfy_origin){
        .at = rfy_json_value_place(&reader->json, node, path), .record = record, .field = a.field};
    read_both(reader, node, path, &a, &none, false);
}

/* ---- one that is completed by a variant ---- */

static void read_variant(rfy_reader *r, cJSON *node, const rfy_field *f, const char *path,
                         void *out) {
    const cJSON *selector = rfy_json_get(node, f->selector);
    const char *const *names = rfy_variant_names(r->arena, f->variants);
    const rfy_variant *variant = NULL;
    if (cJSON_IsString(selector)) {
        int k = rfy_variant_find(f->variants, selector->valuestring);
        if (k >= 0) {
            variant = &f->variants->item[k];
        } else {
            char shown[64];
            rfy_place at =
                rfy_json_value_place(&r->json, selector, rfy_join(r->arena, path, f->selector));
            rfy_problem_add(
                r->problems, RFY_ERROR, &at, rfy_alternatives(r->arena, names, f->variants->n),
                rfy_did_you_mean(r->arena, selector->valuestring, names, f->variants->n),
                "%s \"%s\" is not known", f->selector,
                rfy_clip(shown, sizeof shown, selector->valuestring, 40));
        }
    }
    rfy_variant_head *head = out;
    target a = open_target(r, f->record, out);
    target b = {0};
    head->variant = variant;
    if (variant) {
        head->values = rfy_arena_alloc(r->arena, 1, variant->record->size);
        b = open_target(r, variant->record, head->values);
        b.label = variant->name;
    }
    rfy_place at = rfy_json_value_place(&r->json, node, path);
    head->origin = (rfy_origin){at, f->record, a.field, b.record, b.field};
    if (variant)
        *(rfy_origin *)head->values = (rfy_origin){.at = at, .record = b.record, .field = b.field};
    read_both(r, node, path, &a, &b, !variant);
}

/* ---- pieces ---- */

static void read_piece(rfy_reader *r, cJSON *list, cJSON *node, const rfy_field *f,
                       const char *path, rfy_piece_desc *out) {
    node = rfy_expand_piece(r, list, node, f->variants, path);
    if (!node)
        return;
    if (!cJSON_IsObject(node)) {
        rfy_wrong_type(r, node, path, "a piece such as \"tube 16 mm x 1 m\" or {\"tube\": {…}}");
        return;
    }
    cJSON *kind = NULL, *second = NULL;
    for (cJSON *child = node->child; child; child = child->next) {
        if (rfy_json_is_comment(child))
            continue;
        if (kind && !second)
            second = child;
        if (!kind)
            kind = child;
    }
    int k = kind ? rfy_variant_find(f->variants, kind->string) : -1;
    char shown[64];
    if (k < 0) {
        const char *const *names = rfy_variant_names(r->arena, f->variants);
        const char *allowed = rfy_alternatives(r->arena, names, f->variants->n);
        rfy_place at = kind ? rfy_json_key_place(&r->json, kind, path)
                            : rfy_json_value_place(&r->json, node, path);
        if (kind)
            rfy_problem_add(r->problems, RFY_ERROR, &at, allowed,
                            rfy_did_you_mean(r->arena, kind->string, names, f->variants->n),
                            "kind of piece \"%s\" is not known",
                            rfy_clip(shown, sizeof shown, kind->string, 40));
        else
            rfy_problem_add(r->problems, RFY_ERROR, &at, allowed, NULL, "the piece names no kind");
        return;
    }
    if (second) {
        rfy_place at = rfy_json_key_place(&r->json, second, path);
        rfy_problem_add(r->problems, RFY_ERROR, &at,
                        "one kind to an object; put the next piece in its own { }", NULL,
                        "the piece has a second key \"%s\"",
                        rfy_clip(shown, sizeof shown, second->string, 40));
    }
    if (!cJSON_IsObject(kind)) {
        rfy_wrong_type(r, kind, path, "an object with the values of the piece");
        return;
    }
    const rfy_variant *variant = &f->variants->item[k];
    out->variant = variant;
    out->values = rfy_arena_alloc(r->arena, 1, variant->record->size);
    rfy_read_object(r, kind, variant->record, path, out->values);
    out->origin = *(const rfy_origin *)out->values;
}

/* ---- lists and fields ---- */

/* A part of the description itself goes by its name, anything else by its place in the list. */
static const char *element_path(rfy_reader *r, const cJSON *node, const char *list_path,
                                size_t index) {
    const cJSON *name = rfy_json_get(node, "name");
    if (!strchr(list_path, '/') && cJSON_IsString(name) && !rfy_name_fault(name->valuestring))
        return rfy_join(r->arena, "", name->valuestring);
    return rfy_join_index(r->arena, list_path, index);
}

/* The pieces of a line. The path grammar leaves out their key: "foreline hose/1/bore". */
static void read_pieces(rfy_reader *r, cJSON *list, const rfy_field *f, const char *path,
                        rfy_piece_desc *item) {
    const char *slash = strrchr(path, '/');
    const char *line = slash ? rfy_arena_strndup(r->arena, path, (size_t)(slash - path)) : path;
    size_t k = 0;
    for (cJSON *child = list->child, *next; child; child = next, k++) {
        next = child->next; /* a short piece is about to be replaced */
        read_piece(r, list, child, f, rfy_join_index(r->arena, line, k), &item[k]);
    }
}

static void read_list(rfy_reader *r, cJSON *node, const rfy_field *f, const char *path,
                      rfy_list *out) {
    bool pieces = f->type == RFY_F_PIECES;
    if (!cJSON_IsArray(node)) {
        rfy_wrong_type(r, node, path,
                       pieces ? "a list of pieces: [\"tube 16 mm x 1 m\", …]"
                              : "a list of objects: [{…}, …]");
        return;
    }
    size_t size = pieces ? sizeof(rfy_piece_desc) : f->record->size;
    out->n = (size_t)cJSON_GetArraySize(node);
    out->item = rfy_arena_alloc(r->arena, out->n, size);
    if (pieces) {
        read_pieces(r, node, f, path, out->item);
        return;
    }
    /* Copies made by "like" come last, so that a fault they share with their model, which is told
     * only once, goes by the model's name. */
    for (int copies = 0; copies < 2; copies++) {
        size_t k = 0;
        for (cJSON *child = node->child; child; child = child->next, k++) {
            if (rfy_is_copy(r, child) != copies)
                continue;
            void *item = (char *)out->item + k * size;
            const char *own = element_path(r, child, path, k);
            if (!cJSON_IsObject(child))
                rfy_wrong_type(r, child, own, "an object: {…}");
            else if (f->type == RFY_F_VARIANTS)
                read_variant(r, child, f, own, item);
            else
                rfy_read_object(r, child, f->record, own, item);
        }
    }
}

static void read_field(rfy_reader *r, cJSON *node, const rfy_field *f, const char *path,
                       void *dest) {
    bool list = f->type == RFY_F_TEXTS || f->type == RFY_F_RECORDS || f->type == RFY_F_VARIANTS ||
                f->type == RFY_F_PIECES;
    if (list && f->required && cJSON_IsArray(node) && !node->child) {
        rfy_place at = rfy_json_value_place(&r->json, node, path);
        rfy_problem_add(r->problems, RFY_ERROR, &at, "at least one element", NULL,
                        "the list is empty (%s)", f->help);
    }
    switch (f->type) {
    case RFY_F_RECORD:
        if (cJSON_IsObject(node)) {
            void *own = rfy_arena_alloc(r->arena, 1, f->record->size);
            rfy_read_object(r, node, f->record, path, own);
            *(void **)dest = own;
        } else {
            rfy_wrong_type(r, node, path, "an object: {…}");
        }
        break;
    case RFY_F_RECORDS:
    case RFY_F_VARIANTS:
    case RFY_F_PIECES:
        read_list(r, node, f, path, dest);
        break;
    default:
        rfy_read_value(r, node, f, path, dest);
    }
}
