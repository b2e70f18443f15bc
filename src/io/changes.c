/* Two JSON trees side by side, after abbreviations are written out and settings made. */
#include "study/changes.h"
#include <stdlib.h>
#include <string.h>
#include "io/expand.h"
#include "io/settings.h"

typedef struct finder {
    rfy_arena *arena;
    rfy_change *change;
    size_t n, most;
} finder;

static const char *text_of(rfy_arena *arena, const cJSON *node) {
    if (!node)
        return NULL;
    if (cJSON_IsString(node))
        return rfy_arena_strdup(arena, node->valuestring);
    char *printed = cJSON_PrintUnformatted(node), shown[96];
    const char *text =
        rfy_arena_strdup(arena, printed ? rfy_clip(shown, sizeof shown, printed, 80) : "?");
    cJSON_free(printed);
    return text;
}

static void note(finder *f, const char *path, const cJSON *a, const cJSON *b) {
    if (f->n++ < f->most)
        f->change[f->n - 1] = (rfy_change){rfy_arena_strdup(f->arena, path), text_of(f->arena, a),
                                           text_of(f->arena, b)};
}

static const char *name_of(const cJSON *node) {
    const cJSON *name = rfy_json_get(node, "name");
    return cJSON_IsString(name) ? name->valuestring : NULL;
}

static const cJSON *named(const cJSON *list, const char *name) {
    const cJSON *child;
    cJSON_ArrayForEach(child, list) {
        const char *own = name_of(child);
        if (own && strcmp(own, name) == 0)
            return child;
    }
    return NULL;
}

static void compare(finder *f, const char *path, const cJSON *a, const cJSON *b, int depth);

/* Lists: parts with a name by it, anything else by place. */
static void compare_lists(finder *f, const char *path, const cJSON *a, const cJSON *b, int depth) {
    const cJSON *child;
    size_t i = 0;
    cJSON_ArrayForEach(child, a) {
        const char *name = name_of(child);
        const cJSON *other = name ? named(b, name) : cJSON_GetArrayItem(b, (int)i);
        const char *own = name && depth == 1 ? name : rfy_join_index(f->arena, path, i);
        if (!name && other && name_of(other))
            other = NULL;
        compare(f, own, child, other, depth + 1);
        i++;
    }
    size_t k = 0;
    cJSON_ArrayForEach(child, b) {
        const char *name = name_of(child);
        if (name ? !named(a, name) : k >= i)
            note(f, name && depth == 1 ? name : rfy_join_index(f->arena, path, k), NULL, child);
        k++;
    }
}

/* depth 0 is the description itself, 1 its lists. */
static void compare(finder *f, const char *path, const cJSON *a, const cJSON *b, int depth) {
    if (!a || !b || (a->type & 0xFF) != (b->type & 0xFF)) {
        note(f, path, a, b);
        return;
    }
    if (cJSON_IsArray(a)) {
        compare_lists(f, path, a, b, depth);
        return;
    }
    if (!cJSON_IsObject(a)) {
        if (!cJSON_Compare(a, b, true))
            note(f, path, a, b);
        return;
    }
    /* a piece is {"tube": {…}}: the grammar of paths leaves its kind out, and the list's key */
    const bool piece = a->child && !a->child->next && cJSON_IsObject(a->child) && b->child &&
                       !b->child->next && strcmp(a->child->string, b->child->string) == 0 &&
                       depth >= 2;
    const cJSON *child;
    cJSON_ArrayForEach(child, a) {
        if (rfy_json_is_comment(child) || (depth == 0 && strcmp(child->string, "title") == 0))
            continue;
        const char *own = piece || strcmp(child->string, "pieces") == 0
                              ? path
                              : rfy_join(f->arena, path, child->string);
        compare(f, own, child, rfy_json_get(b, child->string), depth + 1);
    }
    cJSON_ArrayForEach(child, b) {
        if (!rfy_json_is_comment(child) && !rfy_json_get(a, child->string) &&
            !(depth == 0 && strcmp(child->string, "title") == 0))
            note(f, rfy_join(f->arena, path, child->string), NULL, child);
    }
}

/* The tree as it is just before it is read, pieces in their long form. */
static bool tree_of(rfy_reader *r, const rfy_system *s) {
    if (!rfy_json_read(&r->json, s->text, s->length, r->problems))
        return false;
    rfy_expand_likes(r);
    rfy_apply_settings(r, &rfy_description_record, s->setting, s->n_settings);
    const int lines = rfy_field_find(&rfy_description_record, "lines");
    const rfy_record *line = rfy_description_record.field[lines].record;
    const rfy_field *pieces = &line->field[rfy_field_find(line, "pieces")];
    cJSON *child, *list = rfy_json_get(r->json.root, "lines");
    cJSON_ArrayForEach(child, list) {
        cJSON *parts = rfy_json_get(child, "pieces");
        for (cJSON *piece = parts ? parts->child : NULL, *next; piece; piece = next) {
            next = piece->next;
            rfy_expand_piece(r, parts, piece, pieces->variants, "");
        }
    }
    return true;
}

const rfy_change *rfy_changes(rfy_arena *arena, const rfy_system *from, const rfy_system *to,
                              size_t most, size_t *n) {
    rfy_arena *scratch = rfy_arena_new();
    rfy_problems *problems = rfy_problems_new("");
    rfy_reader a = {.arena = scratch, .catalog = from->catalog, .problems = problems}, b = a;
    finder f = {.arena = arena, .change = RFY_NEW(arena, most, rfy_change), .most = most};
    bool one = tree_of(&a, from), both = one && tree_of(&b, to);
    if (both)
        compare(&f, "", a.json.root, b.json.root, 0);
    if (both)
        rfy_json_free(&b.json);
    if (one)
        rfy_json_free(&a.json);
    rfy_problems_free(problems);
    rfy_arena_free(scratch);
    *n = f.n;
    return f.change;
}
