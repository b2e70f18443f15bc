#include "io/expand.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "core/text.h"

/* ---- "like" ---- */

/* No record has as many keys; an object with more is wrong anyway, and copying stops there. */
#define MAX_KEYS    100
#define LIKE_FAILED (-1)

typedef struct trail { /* the way down from the root, for paths */
    const struct trail *up;
    const cJSON *node;
    size_t index;
} trail;

typedef struct element {
    cJSON *node, *like;
    const char *name; /* NULL if it has none */
    long base;        /* -1 = stands alone */
    enum { NEW, ON_THE_WAY, DONE } state;
} element;

typedef struct named {
    const char *name;
    size_t index;
} named;

static const char *path_of(rfy_arena *arena, const trail *t) {
    if (!t || !t->up)
        return "";
    const cJSON *name = rfy_json_get(t->node, "name");
    if (t->up->up && !t->up->up->up && !t->node->string && cJSON_IsString(name))
        return rfy_join(arena, "", name->valuestring);
    const char *up = path_of(arena, t->up);
    return t->node->string ? rfy_join(arena, up, t->node->string)
                           : rfy_join_index(arena, up, t->index);
}

static int by_name(const void *a, const void *b) {
    const named *x = a, *y = b;
    int order = strcmp(x->name, y->name);
    return order ? order : (x->index > y->index) - (x->index < y->index);
}

static size_t count_nodes(const cJSON *node) {
    size_t n = 1;
    if (cJSON_IsObject(node) || cJSON_IsArray(node))
        for (const cJSON *c = node->child; c; c = c->next)
            n += count_nodes(c);
    return n;
}

static void settle(rfy_reader *r, element *e, bool failed) {
    int like = e->like ? e->like->valueint : 0;
    if (e->like)
        cJSON_Delete(cJSON_DetachItemViaPointer(e->node, e->like));
    e->like = NULL;
    e->state = DONE;
    if (e->node->valueint > 0)
        r->json.place[e->node->valueint].like = failed ? LIKE_FAILED : like;
}

bool rfy_like_failed(const rfy_reader *reader, const cJSON *object) {
    return object->valueint > 0 && reader->json.place[object->valueint].like == LIKE_FAILED;
}

bool rfy_is_copy(const rfy_reader *reader, const cJSON *object) {
    return object->valueint > 0 && reader->json.place[object->valueint].like != 0;
}

/* False when the copies grow beyond all bounds. */
static bool copy_keys(rfy_reader *r, element *e, const element *base) {
    int copied = 0;
    for (const cJSON *c = base->node->child; c && copied < MAX_KEYS; c = c->next) {
        if (rfy_json_is_comment(c) || strcmp(c->string, "name") == 0)
            continue;
        copied++;
        if (rfy_json_get(e->node, c->string))
            continue;
        r->json.n_values += count_nodes(c);
        if (r->json.n_values > RFY_JSON_MAX_VALUES) {
            rfy_place at = rfy_json_value_place(&r->json, e->like, "");
            if (r->json.n_values - count_nodes(c) <= RFY_JSON_MAX_VALUES)
                rfy_problem_add(r->problems, RFY_ERROR, &at, NULL, NULL,
                                "the copies asked for by \"like\" make more than %zu values",
                                RFY_JSON_MAX_VALUES);
            r->json.n_values = RFY_JSON_MAX_VALUES + 1;
            return false;
        }
        cJSON_AddItemToObject(e->node, c->string, cJSON_Duplicate(c, true));
    }
    return true;
}

static void find_base(rfy_reader *r, element *all, const named *names, size_t n_names, element *e,
                      const trail *list) {
    e->base = -1;
    const trail own = {list, e->node, (size_t)(e - all)};
    if (!cJSON_IsString(e->like)) {
        rfy_wrong_type(r, e->like, rfy_join(r->arena, path_of(r->arena, &own), "like"),
                       "the name of another element of this list");
        settle(r, e, true);
        return;
    }
    const char *wanted = e->like->valuestring;
    named key = {wanted, 0};
    size_t low = 0, high = n_names;
    while (low < high) { /* the first of that name */
        size_t mid = low + (high - low) / 2;
        if (by_name(&names[mid], &key) < 0)
            low = mid + 1;
        else
            high = mid;
    }
    if (low < n_names && strcmp(names[low].name, wanted) == 0) {
        e->base = (long)names[low].index;
        return;
    }
    const char **all_names = rfy_xcalloc(n_names, sizeof *all_names);
    size_t n = n_names < 1000 ? n_names : 1000;
    for (size_t i = 0; i < n; i++)
        all_names[i] = names[i].name;
    rfy_place at = rfy_json_value_place(&r->json, e->like,
                                        rfy_join(r->arena, path_of(r->arena, &own), "like"));
    char shown[64];
    rfy_problem_add(r->problems, RFY_ERROR, &at, "the name of another element of this list",
                    rfy_did_you_mean(r->arena, wanted, all_names, n),
                    "no element here is named \"%s\"", rfy_clip(shown, sizeof shown, wanted, 40));
    free(all_names);
    settle(r, e, true);
}

/* Follows the chain of bases from one element, then completes it from its far end. */
static void complete(rfy_reader *r, element *all, const named *names, size_t n_names, size_t start,
                     size_t *stack, const trail *list) {
    size_t n = 0, at = start;
    while (all[at].state == NEW && all[at].like) {
        all[at].state = ON_THE_WAY;
        stack[n++] = at;
        find_base(r, all, names, n_names, &all[at], list);
        if (all[at].base < 0)
            break;
        at = (size_t)all[at].base;
    }
    bool circle = all[at].state == ON_THE_WAY && n > 0 && all[stack[n - 1]].base >= 0;
    if (circle) {
        element *last = &all[stack[n - 1]];
        const trail own = {list, last->node, stack[n - 1]};
        rfy_place place = rfy_json_value_place(&r->json, last->like,
                                               rfy_join(r->arena, path_of(r->arena, &own), "like"));
        rfy_problem_add(r->problems, RFY_ERROR, &place, NULL, NULL,
                        "\"like\" goes round in a circle: what it names is itself like this one");
    }
    while (n > 0) {
        element *e = &all[stack[--n]];
        if (e->state == DONE)
            continue;
        const element *base = &all[e->base];
        bool failed = circle || rfy_like_failed(r, base->node);
        if (!circle && !copy_keys(r, e, base))
            failed = true;
        settle(r, e, failed);
    }
}

static void expand_list(rfy_reader *r, cJSON *list, const trail *here) {
    bool any = false;
    size_t n = 0;
    cJSON *child;
    cJSON_ArrayForEach(child, list) {
        any = any || rfy_json_get(child, "like");
        n++;
    }
    if (!any)
        return;
    element *all = rfy_xcalloc(n, sizeof *all);
    named *names = rfy_xcalloc(n, sizeof *names);
    size_t *stack = rfy_xcalloc(n, sizeof *stack), n_names = 0, k = 0;
    cJSON_ArrayForEach(child, list) {
        const cJSON *name = rfy_json_get(child, "name");
        all[k] = (element){child, rfy_json_get(child, "like"), NULL, -1, NEW};
        if (cJSON_IsString(name)) {
            all[k].name = name->valuestring;
            names[n_names++] = (named){name->valuestring, k};
        }
        k++;
    }
    qsort(names, n_names, sizeof *names, by_name);
    for (k = 0; k < n; k++)
        complete(r, all, names, n_names, k, stack, here);
    free(stack);
    free(names);
    free(all);
}

/* From the inside out: what is copied has been completed before. */
static void expand_tree(rfy_reader *r, cJSON *node, const trail *here) {
    size_t k = 0;
    if (cJSON_IsObject(node) || cJSON_IsArray(node))
        for (cJSON *child = node->child; child; child = child->next) {
            const trail below = {here, child, k++};
            if (!child->string || !rfy_json_is_comment(child))
                expand_tree(r, child, &below);
        }
    if (cJSON_IsArray(node))
        expand_list(r, node, here);
}

void rfy_expand_likes(rfy_reader *reader) {
    const trail root = {NULL, reader->json.root, 0};
    expand_tree(reader, reader->json.root, &root);
}

/* ---- short pieces ---- */

static size_t blanks(const char *text) {
    return strspn(text, " \t");
}

/* The kind whose name the text begins with, the longest that fits; -1 if none. */
static int kind_at(const rfy_variants *variants, const char *text, size_t *used) {
    int best = -1;
    *used = 0;
    for (size_t i = 0; i < variants->n; i++) {
        size_t n = strlen(variants->item[i].name);
        if (n > *used && strncmp(text, variants->item[i].name, n) == 0 &&
            (text[n] == '\0' || text[n] == ' ' || text[n] == '\t')) {
            best = (int)i;
            *used = n;
        }
    }
    return best;
}

/* "tube <bore> x <length>": what the short form of a kind looks like. */
static const char *short_form(rfy_arena *arena, const rfy_variant *variant) {
    char *text = rfy_arena_printf(arena, "\"%s", variant->name);
    for (size_t i = 0; variant->short_keys && variant->short_keys[i]; i++)
        text =
            rfy_arena_printf(arena, "%s%s<%s>", text, i == 0 ? " " : " x ", variant->short_keys[i]);
    return rfy_arena_printf(arena, "%s\"", text);
}

/* Bytes of one value of a short form at `text`; 0 after a problem. */
static size_t short_value(rfy_reader *r, const char *text, const rfy_field *f, const rfy_place *at,
                          const char *allowed) {
    char shown[64];
    rfy_clip(shown, sizeof shown, text, 40);
    if (f->type == RFY_F_QUANTITY || f->type == RFY_F_NUMBER) {
        double ignored;
        size_t used = 0;
        rfy_quantity_error error;
        rfy_dim dim = f->type == RFY_F_NUMBER ? RFY_DIM_NONE : f->dim;
        if (rfy_parse_quantity_prefix(r->catalog->units, text, dim, &ignored, &used, &error))
            return used;
        rfy_problem_add(r->problems, RFY_ERROR, at, allowed, error.hint[0] ? error.hint : NULL,
                        "%s of the piece: %s", f->key, error.what);
        return 0;
    }
    size_t n = strcspn(text, " \t,");
    if (n == 0)
        rfy_problem_add(r->problems, RFY_ERROR, at, allowed, NULL,
                        "%s of the piece: \"%s\" is no value", f->key, shown);
    return n;
}

static void add_value(cJSON *object, const rfy_field *f, const char *text, size_t length,
                      int place) {
    char *copy = rfy_xcalloc(length + 1, 1);
    memcpy(copy, text, length);
    double number = 0;
    bool bare = f->type == RFY_F_NUMBER && rfy_read_number(copy, &number) == length;
    cJSON *value = bare ? cJSON_AddNumberToObject(object, f->key, number)
                        : cJSON_AddStringToObject(object, f->key, copy);
    if (value)
        value->valueint = place;
    free(copy);
}

static cJSON *long_form(rfy_reader *r, const cJSON *piece, const rfy_variants *variants,
                        const rfy_place *at) {
    const char *text = piece->valuestring + blanks(piece->valuestring);
    size_t used = 0;
    int kind = kind_at(variants, text, &used);
    char shown[64];
    rfy_clip(shown, sizeof shown, piece->valuestring, 40);
    if (kind < 0) {
        const char *const *names = rfy_variant_names(r->arena, variants);
        char word[64];
        size_t letters = strcspn(text, "0123456789");
        snprintf(word, sizeof word, "%.*s", letters < 60 ? (int)letters : 60, text);
        for (size_t n = strlen(word); n > 0 && word[n - 1] == ' '; n--)
            word[n - 1] = '\0';
        rfy_problem_add(r->problems, RFY_ERROR, at, rfy_alternatives(r->arena, names, variants->n),
                        rfy_did_you_mean(r->arena, word, names, variants->n),
                        "\"%s\" does not begin with a kind of piece", shown);
        return NULL;
    }
    const rfy_variant *variant = &variants->item[kind];
    const char *allowed = short_form(r->arena, variant);
    cJSON *outer = cJSON_CreateObject(), *inner = cJSON_AddObjectToObject(outer, variant->name);
    if (!inner)
        abort(); /* cJSON is out of memory; rfy_xcalloc ends the program in that case too */
    outer->valueint = inner->valueint = piece->valueint;
    text += used;
    for (size_t i = 0; variant->short_keys && variant->short_keys[i]; i++) {
        const char *key = variant->short_keys[i];
        int f = rfy_field_find(variant->record, key);
        text += blanks(text);
        if (*text && i > 0) {
            if (*text == 'x' || *text == 'X' || *text == ',')
                text++;
            else if (strncmp(text, "×", strlen("×")) == 0)
                text += strlen("×");
            text += blanks(text);
        }
        if (*text == '\0' || f < 0) {
            if (f >= 0 && !variant->record->field[f].required)
                break;
            rfy_problem_add(r->problems, RFY_ERROR, at, allowed, NULL, "\"%s\": %s is missing",
                            shown, key);
            cJSON_Delete(outer);
            return NULL;
        }
        size_t n = short_value(r, text, &variant->record->field[f], at, allowed);
        if (n == 0) {
            cJSON_Delete(outer);
            return NULL;
        }
        add_value(inner, &variant->record->field[f], text, n, piece->valueint);
        text += n;
    }
    text += blanks(text);
    if (*text) {
        char rest[48];
        const char *hint = rfy_arena_printf(
            r->arena, "more can be said in the long form: {\"%s\": {…}}", variant->name);
        rfy_problem_add(r->problems, RFY_ERROR, at, allowed, hint, "\"%s\": \"%s\" is left over",
                        shown, rfy_clip(rest, sizeof rest, text, 30));
        cJSON_Delete(outer);
        return NULL;
    }
    return outer;
}

cJSON *rfy_expand_piece(rfy_reader *reader, cJSON *list, cJSON *piece, const rfy_variants *variants,
                        const char *path) {
    if (!cJSON_IsString(piece))
        return piece;
    rfy_place at = rfy_json_value_place(&reader->json, piece, path);
    cJSON *expanded = long_form(reader, piece, variants, &at);
    if (expanded)
        cJSON_ReplaceItemViaPointer(list, piece, expanded);
    return expanded;
}
