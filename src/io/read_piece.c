#include "io/read_piece.h"
#include <stdlib.h>
#include <string.h>
#include "core/text.h"
#include "flow/piece.h"
#include "io/expand.h"
#include "io/read_record.h"

bool rfy_piece_key_is_idle(const rfy_field *field) {
    return field->type == RFY_F_NAME || strcmp(field->key, "material") == 0;
}

bool rfy_piece_key_at(size_t i, rfy_piece_key *out) {
    static const char *const takes[] = {
        [RFY_F_NUMBER] = "number",         [RFY_F_INTEGER] = "count",
        [RFY_F_BOOL] = "true|false",       [RFY_F_TEXT] = "text",
        [RFY_F_CHOICE] = "word",           [RFY_F_VALUE_OR_WORD] = "value",
        [RFY_F_QUANTITY_BY_GAS] = "value", [RFY_F_PIECES] = NULL};
    for (size_t k = 0; k < rfy_piece_kinds.n; k++) {
        const rfy_variant *kind = &rfy_piece_kinds.item[k];
        for (size_t f = 0; f < kind->record->n; f++) {
            const rfy_field *field = &kind->record->field[f];
            if (rfy_piece_key_is_idle(field) || i-- > 0)
                continue;
            const char *what =
                field->type == RFY_F_QUANTITY ? rfy_dim_name(field->dim) : takes[field->type];
            *out = (rfy_piece_key){kind->name, field->key, what ? what : "value", field->help,
                                   field->required};
            return true;
        }
    }
    return false;
}

/* The kind the text begins with, the longest that fits; NULL if none. */
static const rfy_variant *kind_of(const char *text, bool *bare) {
    const rfy_variant *best = NULL;
    size_t most = 0, lead = strspn(text, " \t");
    for (size_t i = 0; i < rfy_piece_kinds.n; i++) {
        const rfy_variant *kind = &rfy_piece_kinds.item[i];
        size_t n = strlen(kind->name);
        if (n <= most || strncmp(text + lead, kind->name, n) != 0)
            continue;
        const char *rest = text + lead + n;
        if (*rest && *rest != ' ' && *rest != '\t')
            continue;
        best = kind;
        most = n;
        *bare = rest[strspn(rest, " \t")] == '\0';
    }
    return best;
}

/* The keys of a kind that have a say, for messages. */
static const char *const *keys_of(rfy_arena *arena, const rfy_record *record, size_t *n) {
    const char **key = RFY_NEW(arena, record->n, const char *);
    *n = 0;
    for (size_t i = 0; i < record->n; i++)
        if (!rfy_piece_key_is_idle(&record->field[i]))
            key[(*n)++] = record->field[i].key;
    return key;
}

/* Adds the settings to the piece's object. */
static bool add_settings(rfy_reader *r, const rfy_variant *kind, cJSON *object,
                         const rfy_setting *settings, size_t n) {
    size_t errors = r->problems->errors, n_keys;
    const char *const *keys = keys_of(r->arena, kind->record, &n_keys);
    for (size_t i = 0; i < n; i++) {
        const char *key = settings[i].path;
        const rfy_place at = {0, 0, rfy_join(r->arena, kind->name, key)};
        int f = rfy_field_find(kind->record, key);
        if (f < 0) {
            rfy_problem_add(r->problems, RFY_ERROR, &at, rfy_alternatives(r->arena, keys, n_keys),
                            rfy_did_you_mean(r->arena, key, keys, n_keys), "%s does not have it",
                            kind->name);
        } else if (rfy_piece_key_is_idle(&kind->record->field[f])) {
            rfy_problem_add(r->problems, RFY_ERROR, &at, NULL, NULL,
                            "it has no say in the conductance");
        } else if (rfy_json_get(object, key)) {
            rfy_problem_add(r->problems, RFY_ERROR, &at, "once", NULL, "it is given twice");
        } else {
            cJSON *value = rfy_json_setting(&r->json, settings[i].value, 0);
            if (value)
                cJSON_AddItemToObject(object, key, value);
            else
                rfy_problem_add(r->problems, RFY_ERROR, &at, NULL, NULL,
                                "the value is not UTF-8 text");
        }
    }
    for (size_t i = 0; i < kind->record->n; i++) {
        const rfy_field *f = &kind->record->field[i];
        const rfy_place at = {0, 0, rfy_join(r->arena, kind->name, f->key)};
        bool quantity = f->type == RFY_F_QUANTITY || f->type == RFY_F_QUANTITY_BY_GAS;
        if (f->required && !rfy_json_get(object, f->key))
            rfy_problem_add(r->problems, RFY_ERROR, &at, quantity ? rfy_dim_example(f->dim) : NULL,
                            NULL, "it is missing (%s)", f->help);
    }
    return r->problems->errors == errors;
}

static void list_assumed(rfy_reader *r, const rfy_record *record, const cJSON *object,
                         rfy_piece_read *out) {
    out->assumed = RFY_NEW(r->arena, record->n, const char *);
    out->n_assumed = 0;
    for (size_t i = 0; i < record->n; i++) {
        const rfy_field *f = &record->field[i];
        bool of_time = f->dim == RFY_DIM_TIME || f->dim == RFY_DIM_THROUGHPUT; /* moving, leaking */
        if (f->assumed && !of_time && !rfy_piece_key_is_idle(f) && !rfy_json_get(object, f->key))
            out->assumed[out->n_assumed++] =
                rfy_arena_printf(r->arena, "%s: %s", f->key, f->assumed);
    }
}

rfy_status rfy_read_piece(rfy_arena *arena, const rfy_catalog *catalog, const char *text,
                          const rfy_setting *settings, size_t n_settings, rfy_problems *problems,
                          rfy_piece_read *out) {
    rfy_reader r = {.arena = arena, .catalog = catalog, .problems = problems};
    bool bare = false;
    size_t bad;
    const rfy_place whole = {0, 0, ""};
    if (!rfy_utf8_valid(text, strlen(text), &bad)) {
        rfy_problem_add(problems, RFY_ERROR, &whole, NULL, NULL, "the piece is not UTF-8 text");
        return RFY_USAGE;
    }
    const rfy_variant *kind = kind_of(text, &bare);
    if (!rfy_json_read(&r.json, "[]", 2, problems))
        return RFY_BAD_INPUT;
    cJSON *piece = bare ? cJSON_CreateObject() : cJSON_CreateString(text);
    if (bare)
        cJSON_AddItemToObject(piece, kind->name, cJSON_CreateObject());
    cJSON_AddItemToArray(r.json.root, piece);
    /* without a kind this says which there are */
    piece = rfy_expand_piece(&r, r.json.root, piece, &rfy_piece_kinds, "");
    rfy_status status = kind ? RFY_BAD_INPUT : RFY_USAGE;
    cJSON *object = piece ? rfy_json_get(piece, kind->name) : NULL;
    if (object && !add_settings(&r, kind, object, settings, n_settings)) {
        status = RFY_USAGE;
    } else if (object) {
        size_t errors = problems->errors;
        rfy_piece_desc *d = &out->piece;
        d->variant = kind;
        d->values = rfy_arena_alloc(arena, 1, kind->record->size);
        rfy_read_object(&r, object, kind->record, kind->name, d->values);
        d->origin = *(const rfy_origin *)d->values;
        list_assumed(&r, kind->record, object, out);
        if (problems->errors == errors)
            status = RFY_OK;
    }
    rfy_json_free(&r.json);
    return status;
}
