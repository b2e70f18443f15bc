#include "network/leaves.h"
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include "core/text.h"

/* ---- copying ---- */

static void *copied(rfy_arena *arena, const void *from, size_t n, size_t size) {
    return n ? rfy_arena_grow(arena, from, n, n, size) : rfy_arena_alloc(arena, 0, size);
}

static void copy_inside(rfy_arena *arena, char *block, const rfy_record *record);

static void copy_variant(rfy_arena *arena, rfy_variant_head *head) {
    if (!head->variant || !head->values)
        return;
    const rfy_record *record = head->variant->record;
    head->values = copied(arena, head->values, 1, record->size);
    copy_inside(arena, head->values, record);
}

/* Gives a block, itself copied already, its own copies of what it points to. */
static void copy_inside(rfy_arena *arena, char *block, const rfy_record *record) {
    for (size_t i = 0; i < record->n; i++) {
        const rfy_field *f = &record->field[i];
        if (f->offset == SIZE_MAX)
            continue;
        char *at = block + f->offset;
        if (f->type == RFY_F_RECORD) {
            void **inner = (void **)(void *)at;
            if (*inner) {
                *inner = copied(arena, *inner, 1, f->record->size);
                copy_inside(arena, *inner, f->record);
            }
        } else if (f->type == RFY_F_RECORDS || f->type == RFY_F_VARIANTS ||
                   f->type == RFY_F_PIECES) {
            rfy_list *list = (rfy_list *)(void *)at;
            const size_t size = f->type == RFY_F_PIECES ? sizeof(rfy_piece_desc) : f->record->size;
            list->item = copied(arena, list->item, list->n, size);
            for (size_t k = 0; k < list->n; k++) {
                char *item = (char *)list->item + k * size;
                if (f->type != RFY_F_PIECES)
                    copy_inside(arena, item, f->record);
                if (f->type != RFY_F_RECORDS)
                    copy_variant(arena, (rfy_variant_head *)(void *)item);
            }
        } else if (f->type == RFY_F_CURVE) {
            rfy_curve *curve = (rfy_curve *)(void *)at;
            curve->x = copied(arena, curve->x, curve->n, sizeof(double));
            curve->y = copied(arena, curve->y, curve->n, sizeof(double));
        }
    }
}

rfy_description *rfy_description_copy(rfy_arena *arena, const rfy_description *description) {
    rfy_description *copy = copied(arena, description, 1, sizeof *description);
    copy_inside(arena, (char *)copy, &rfy_description_record);
    return copy;
}

/* ---- following a path ---- */

typedef struct spot {
    char *block; /* an object: its base, */
    const rfy_record *record;
    char *values; /* and what its variant adds; NULL = nothing */
    const rfy_record *extra;
    const rfy_field *field; /* a value, when block is NULL */
    char *at;
} spot;

static const rfy_field *field_of(const spot *s, const char *key, char **at) {
    int i = s->record ? rfy_field_find(s->record, key) : -1;
    const rfy_field *f = i >= 0 ? &s->record->field[i] : NULL;
    char *base = s->block;
    if (!f && s->extra) {
        i = rfy_field_find(s->extra, key);
        f = i >= 0 ? &s->extra->field[i] : NULL;
        base = s->values;
    }
    if (!f || f->offset == SIZE_MAX)
        return NULL;
    *at = base + f->offset;
    return f;
}

static const char *name_of(const spot *s) {
    char *at;
    const rfy_field *f = field_of(s, "name", &at);
    return f ? *(const char **)(void *)at : NULL;
}

static spot element_of(const rfy_field *f, const rfy_list *list, size_t k) {
    const size_t size = f->type == RFY_F_PIECES ? sizeof(rfy_piece_desc) : f->record->size;
    char *item = (char *)list->item + k * size;
    spot s = {.block = item, .record = f->type == RFY_F_PIECES ? NULL : f->record};
    if (f->type != RFY_F_RECORDS) {
        rfy_variant_head *head = (rfy_variant_head *)(void *)item;
        s.values = head->values;
        s.extra = head->variant ? head->variant->record : NULL;
    }
    return s;
}

static bool is_list(const rfy_field *f) {
    return f->type == RFY_F_RECORDS || f->type == RFY_F_VARIANTS || f->type == RFY_F_PIECES;
}

static bool as_index(const char *text, size_t *index) {
    char *end;
    if (*text < '0' || *text > '9')
        return false;
    *index = (size_t)strtoul(text, &end, 10);
    return *end == '\0';
}

/* By place or by name. */
static bool find_element(const rfy_field *f, const rfy_list *list, const char *step, spot *out) {
    size_t index;
    if (as_index(step, &index)) {
        if (index >= list->n)
            return false;
        *out = element_of(f, list, index);
        return true;
    }
    for (size_t k = 0; k < list->n; k++) {
        spot s = element_of(f, list, k);
        const char *name = name_of(&s);
        if (name && strcmp(name, step) == 0) {
            *out = s;
            return true;
        }
    }
    return false;
}

static const rfy_field *pieces_of(const spot *s, rfy_list **list) {
    for (size_t i = 0; s->record && i < s->record->n; i++)
        if (s->record->field[i].type == RFY_F_PIECES) {
            *list = (rfy_list *)(void *)(s->block + s->record->field[i].offset);
            return &s->record->field[i];
        }
    return NULL;
}

/* A part of any list of the description, or a piece with that name. */
static bool find_part(rfy_description *d, const char *name, spot *out) {
    const rfy_record *root = &rfy_description_record;
    for (size_t i = 0; i < root->n; i++) {
        const rfy_field *f = &root->field[i];
        if (f->type != RFY_F_RECORDS && f->type != RFY_F_VARIANTS)
            continue;
        const rfy_list *list = (const rfy_list *)(const void *)((char *)d + f->offset);
        for (size_t k = 0; k < list->n; k++) {
            spot s = element_of(f, list, k);
            const char *own = name_of(&s);
            rfy_list *pieces;
            const rfy_field *p = pieces_of(&s, &pieces);
            if (own && strcmp(own, name) == 0) {
                *out = s;
                return true;
            }
            size_t index;
            if (p && !as_index(name, &index) && find_element(p, pieces, name, out))
                return true;
        }
    }
    return false;
}

static void add(rfy_leaves *out, double *number) {
    if (!isnan(*number) && out->n < RFY_MOST_LEAVES)
        out->number[out->n++] = number;
}

/* All numbers of a value. */
static void gather(const rfy_field *f, char *at, rfy_leaves *out) {
    if (f->type == RFY_F_QUANTITY || f->type == RFY_F_NUMBER) {
        add(out, (double *)(void *)at);
    } else if (f->type == RFY_F_VALUE_OR_WORD) {
        add(out, &((rfy_value_or_word *)(void *)at)->value);
    } else if (f->type == RFY_F_QUANTITY_BY_GAS || f->type == RFY_F_NUMBER_BY_GAS) {
        rfy_by_gas *map = (rfy_by_gas *)(void *)at;
        if (map->given)
            add(out, &map->all);
        for (int s = 0; map->given && isnan(map->all) && s < RFY_MAX_SPECIES; s++)
            add(out, &map->of[s]);
    } else if (f->type == RFY_F_CURVE) {
        rfy_curve *curve = (rfy_curve *)(void *)at;
        for (size_t k = 0; k < curve->n; k++)
            add(out, &curve->y[k]);
    }
}

/* The steps left below a value: a gas of a map, an end of a range, a point of a curve. */
static bool enter_value(const rfy_catalog *catalog, const rfy_field *f, char *at, char *step,
                        char *rest, rfy_leaves *out) {
    size_t index, inner;
    if (f->type == RFY_F_QUANTITY_BY_GAS || f->type == RFY_F_NUMBER_BY_GAS) {
        int s = rfy_species_find(catalog, step);
        rfy_by_gas *map = (rfy_by_gas *)(void *)at;
        if (s < 0 || rest || !map->given)
            return false;
        add(out, &map->of[s]);
    } else if (f->type == RFY_F_RANGE) {
        rfy_range *range = (rfy_range *)(void *)at;
        if (!as_index(step, &index) || index > 1 || rest)
            return false;
        add(out, index == 0 ? &range->from : &range->to);
    } else if (f->type == RFY_F_CURVE) {
        rfy_curve *curve = (rfy_curve *)(void *)at;
        if (!as_index(step, &index) || index >= curve->n || !rest || !as_index(rest, &inner) ||
            inner > 1)
            return false;
        add(out, inner == 0 ? &curve->x[index] : &curve->y[index]);
    }
    return out->n > 0;
}

/* Moves on by one step; false when there is nothing of that name. */
static bool enter(spot *s, const char *step) {
    char *at;
    if (s->field && is_list(s->field))
        return find_element(s->field, (rfy_list *)(void *)s->at, step, s);
    if (!s->block)
        return false;
    const rfy_field *f = field_of(s, step, &at);
    if (!f) {
        rfy_list *list;
        const rfy_field *pieces = pieces_of(s, &list);
        return pieces && find_element(pieces, list, step, s);
    }
    if (f->type == RFY_F_RECORD) {
        char *inner = *(char **)(void *)at;
        *s = (spot){.block = inner, .record = f->record};
        return inner != NULL;
    }
    *s = (spot){.field = f, .at = at};
    return true;
}

const char *rfy_leaves_find(rfy_arena *arena, const rfy_catalog *catalog,
                            rfy_description *description, const char *path, rfy_leaves *out) {
    memset(out, 0, sizeof *out);
    char *copy = rfy_arena_strdup(arena, path);
    spot s = {0};
    bool first = true;
    for (char *step = copy, *next; step; step = next, first = false) {
        next = strchr(step, '/');
        if (next)
            *next++ = '\0';
        bool found;
        if (first) {
            out->part = step;
            found = find_part(description, step, &s);
            if (!found) {
                s = (spot){.block = (char *)description, .record = &rfy_description_record};
                found = enter(&s, step);
            }
        } else if (s.field && !is_list(s.field)) {
            found = enter_value(catalog, s.field, s.at, step, next, out);
            if (found) {
                out->dim = s.field->dim;
                return NULL;
            }
        } else {
            found = enter(&s, step);
        }
        if (!found)
            return rfy_arena_printf(arena, "there is no \"%s\" to vary", step);
        out->key = step;
    }
    if (s.field)
        gather(s.field, s.at, out);
    if (out->n == 0)
        return s.field && !is_list(s.field)
                   ? "is not given as a number, so it cannot be varied: give it a value in the file"
                   : "is not a number";
    out->dim = s.field->type == RFY_F_CURVE ? s.field->dim2 : s.field->dim;
    return NULL;
}

/* ---- walking ---- */

typedef struct walk {
    rfy_arena *arena;
    rfy_leaf_visit *visit;
    void *context;
} walk;

static void walk_object(const walk *w, const spot *s, const char *path, const char *label);

static void walk_record(const walk *w, char *block, const rfy_record *record, const char *path,
                        const char *label) {
    for (size_t i = 0; i < record->n; i++) {
        const rfy_field *f = &record->field[i];
        if (f->offset == SIZE_MAX)
            continue;
        char *at = block + f->offset;
        const char *inner = rfy_arena_printf(w->arena, "%s/%s", path, f->key);
        if (f->type == RFY_F_RECORD && *(char **)(void *)at) {
            walk_record(w, *(char **)(void *)at, f->record, inner, label);
        } else if (is_list(f)) {
            const rfy_list *list = (const rfy_list *)(const void *)at;
            const bool pieces = f->type == RFY_F_PIECES;
            for (size_t k = 0; k < list->n; k++) {
                spot s = element_of(f, list, k);
                const char *name = name_of(&s), *called;
                if (pieces && list->n == 1)
                    called = label;
                else if (name)
                    called = name;
                else if (pieces)
                    called =
                        rfy_arena_printf(w->arena, "%s, piece %zu (%s)", label, k + 1,
                                         ((const rfy_piece_desc *)list->item)[k].variant->name);
                else
                    called = list->n == 1 ? rfy_arena_printf(w->arena, "the %s of %s",
                                                             f->record->name, label)
                                          : rfy_arena_printf(w->arena, "%s %zu of %s",
                                                             f->record->name, k + 1, label);
                walk_object(w, &s,
                            pieces ? rfy_arena_printf(w->arena, "%s/%zu", path, k)
                                   : rfy_arena_printf(w->arena, "%s/%zu", inner, k),
                            called);
            }
        } else {
            rfy_leaves found = {0};
            gather(f, at, &found);
            if (found.n > 0)
                w->visit(w->context, inner, label, f, found.number[0]);
        }
    }
}

static void walk_object(const walk *w, const spot *s, const char *path, const char *label) {
    if (s->record)
        walk_record(w, s->block, s->record, path, label);
    if (s->extra)
        walk_record(w, s->values, s->extra, path, label);
}

void rfy_leaves_walk(rfy_arena *arena, const rfy_description *description, const char *list,
                     rfy_leaf_visit *visit, void *context) {
    const walk w = {arena, visit, context};
    int i = rfy_field_find(&rfy_description_record, list);
    if (i < 0)
        return;
    const rfy_field *f = &rfy_description_record.field[i];
    const rfy_list *items = (const rfy_list *)(const void *)((const char *)description + f->offset);
    for (size_t k = 0; k < items->n; k++) {
        spot s = element_of(f, items, k);
        const char *name = name_of(&s);
        walk_object(&w, &s, name ? name : rfy_arena_printf(arena, "%s/%zu", list, k),
                    name ? name : rfy_arena_printf(arena, "%s %zu", f->record->name, k + 1));
    }
}
