#include <math.h>
#include <stdio.h>
#include <string.h>
#include "core/text.h"
#include "io/read_record.h"

/* ---- messages ---- */

const char *rfy_join(rfy_arena *arena, const char *path, const char *key) {
    char shown[224];
    rfy_clip(shown, sizeof shown, key, 200);
    return *path ? rfy_arena_printf(arena, "%s/%s", path, shown) : rfy_arena_strdup(arena, shown);
}

const char *rfy_join_index(rfy_arena *arena, const char *path, size_t index) {
    return rfy_arena_printf(arena, "%s/%zu", path, index);
}

void rfy_wrong_type(rfy_reader *reader, const cJSON *node, const char *path, const char *allowed) {
    char found[96];
    rfy_place at = rfy_json_value_place(&reader->json, node, path);
    rfy_problem_add(reader->problems, RFY_ERROR, &at, allowed, NULL, "%s stands here",
                    rfy_json_found(found, sizeof found, node));
}

const char *rfy_alternatives(rfy_arena *arena, const char *const *names, size_t n) {
    size_t length = 1;
    for (size_t i = 0; i < n; i++)
        length += strlen(names[i]) + strlen("\"\" or ");
    char *text = rfy_arena_alloc(arena, length, 1), *to = text;
    for (size_t i = 0; i < n; i++)
        to += snprintf(to, length - (size_t)(to - text), "%s\"%s\"",
                       i == 0       ? ""
                       : i + 1 == n ? " or "
                                    : ", ",
                       names[i]);
    return text;
}

const char *rfy_did_you_mean(rfy_arena *arena, const char *text, const char *const *names,
                             size_t n) {
    int near = rfy_nearest(text, names, n);
    return near < 0 ? NULL : rfy_arena_printf(arena, "did you mean \"%s\"?", names[near]);
}

static void complain(rfy_reader *r, const cJSON *node, const char *path, const char *allowed,
                     const char *hint, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 6, 7)))
#endif
    ;

static void complain(rfy_reader *r, const cJSON *node, const char *path, const char *allowed,
                     const char *hint, const char *format, ...) {
    char what[320];
    va_list args;
    va_start(args, format);
    vsnprintf(what, sizeof what, format, args);
    va_end(args);
    rfy_place at = rfy_json_value_place(&r->json, node, path);
    rfy_problem_add(r->problems, RFY_ERROR, &at, allowed, hint && *hint ? hint : NULL, "%s", what);
}

static size_t count_choices(const rfy_field *field) {
    size_t n = 0;
    while (field->choices && field->choices[n])
        n++;
    return n;
}

/* ---- numbers and quantities ---- */

/* «more than 0 and at most 100 mm»: the limits of a field that has some. */
static const char *limits(rfy_arena *arena, const rfy_field *f) {
    char low[48], high[48];
    rfy_format_quantity(low, sizeof low, f->dim, f->min);
    rfy_format_quantity(high, sizeof high, f->dim, f->max);
    if (f->max <= f->min)
        return rfy_arena_strdup(arena, low);
    if (f->min >= 0 && f->min <= 0)
        return rfy_arena_printf(arena, "%s and at most %s",
                                f->above_min ? "more than 0" : "0 or more", high);
    return rfy_arena_printf(arena, "%s %s, at most %s", f->above_min ? "more than" : "at least",
                            low, high);
}

static bool in_limits(rfy_reader *r, const cJSON *node, const rfy_field *f, const char *path,
                      double value) {
    bool limited = f->min < 0 || f->min > 0 || f->max > 0 || f->max < 0;
    bool low = value < f->min || (f->above_min && value <= f->min);
    if (!limited || (!low && value <= f->max))
        return true;
    char text[64], number[32];
    if (cJSON_IsString(node))
        rfy_clip(text, sizeof text, node->valuestring, 40);
    else
        snprintf(text, sizeof text, "%s", rfy_write_number(number, node->valuedouble));
    const char *quote = cJSON_IsString(node) ? "\"" : "";
    complain(r, node, path, limits(r->arena, f), NULL, "%s%s%s is too %s", quote, text, quote,
             low ? "small" : "large");
    return false;
}

static bool parse(rfy_reader *r, const cJSON *node, const char *text, rfy_dim dim, const char *path,
                  double *value) {
    rfy_quantity_error error;
    if (rfy_parse_quantity(r->catalog->units, text, dim, value, &error))
        return true;
    char shown[64];
    rfy_clip(shown, sizeof shown, text, 40);
    if (strncmp(error.what, "unit ", 5) == 0)
        complain(r, node, path, error.allowed, error.hint, "\"%s\": %s", shown, error.what);
    else
        complain(r, node, path, error.allowed, error.hint, "%s", error.what);
    return false;
}

static void note_slot(rfy_reader *r, const cJSON *node, const rfy_field *f, double *dest) {
    int number = r->slot ? rfy_json_setting_of(&r->json, node) : 0;
    if (number <= 0 || (size_t)number > r->n_slots)
        return;
    rfy_slot *slot = &r->slot[number - 1];
    slot->n += r->fixed > 0 ? 2 : 1;
    slot->at = dest;
    slot->field = f;
}

static void note_spread(rfy_reader *r, const char *path, const rfy_field *f, double factor,
                        double *dest) {
    rfy_spreads *all = r->spreads;
    if (all->n == all->capacity) {
        size_t more = all->capacity ? 2 * all->capacity : 8;
        all->item = rfy_arena_grow(r->arena, all->item, all->n, more, sizeof *all->item);
        all->capacity = more;
    }
    all->item[all->n++] = (rfy_spread){rfy_arena_strdup(r->arena, path), dest, factor, f->dim};
}

/* {"value": "1e-8 mbar L/s", "factor": 3}: the quantity itself is handed back; NULL after a
 * problem. */
static const cJSON *with_factor(rfy_reader *r, const cJSON *node, const char *path,
                                double *factor) {
    const char *allowed = "{\"value\": a quantity, \"factor\": a number from 1 to 1000}";
    const cJSON *value = NULL, *spread = NULL, *child;
    if (r->fixed > 0 || !r->spreads) {
        complain(r, node, path, "a quantity alone", NULL,
                 "a value with a factor cannot stand here");
        return NULL;
    }
    cJSON_ArrayForEach(child, node) {
        const cJSON **to = strcmp(child->string, "value") == 0    ? &value
                           : strcmp(child->string, "factor") == 0 ? &spread
                                                                  : NULL;
        if (rfy_json_is_comment(child))
            continue;
        if (!to || *to) {
            char shown[64];
            complain(r, child, path, allowed, NULL,
                     to ? "\"%s\" is given twice" : "\"%s\" is not a key of a quantity",
                     rfy_clip(shown, sizeof shown, child->string, 40));
            return NULL;
        }
        *to = child;
    }
    if (!value || !spread || cJSON_IsObject(value)) {
        complain(r, node, path, allowed, NULL, "a quantity with its uncertainty needs both keys");
        return NULL;
    }
    *factor = cJSON_IsNumber(spread) ? spread->valuedouble : 0;
    if (!(*factor >= 1 && *factor <= 1000)) {
        complain(r, spread, path, "a number from 1 to 1000", NULL, "this is no factor");
        return NULL;
    }
    return value;
}

static bool has_factor(const cJSON *node) {
    return rfy_json_get(node, "factor") != NULL;
}

static bool read_quantity(rfy_reader *r, const cJSON *node, const rfy_field *f, const char *path,
                          double *out) {
    char number[32];
    double value = 0;
    if (has_factor(node)) {
        double factor;
        const cJSON *inner = with_factor(r, node, path, &factor);
        if (!inner || !read_quantity(r, inner, f, path, out))
            return false;
        note_spread(r, path, f, factor, out);
        return true;
    }
    if (cJSON_IsNumber(node))
        return parse(r, node, rfy_write_number(number, node->valuedouble), f->dim, path, &value);
    if (!cJSON_IsString(node)) {
        rfy_wrong_type(r, node, path, rfy_dim_example(f->dim));
        return false;
    }
    if (!parse(r, node, node->valuestring, f->dim, path, &value) ||
        !in_limits(r, node, f, path, value))
        return false;
    *out = value;
    note_slot(r, node, f, out);
    return true;
}

static bool read_number(rfy_reader *r, const cJSON *node, const rfy_field *f, const char *path,
                        double *out) {
    const char *allowed = rfy_dim_example(RFY_DIM_NONE);
    double value = 0;
    if (has_factor(node)) {
        double factor;
        const cJSON *inner = with_factor(r, node, path, &factor);
        if (!inner || !read_number(r, inner, f, path, out))
            return false;
        note_spread(r, path, f, factor, out);
        return true;
    }
    if (cJSON_IsString(node)) {
        const char *text = node->valuestring;
        size_t used = rfy_read_number(text, &value);
        if (used > 0 && text[used] == '\0') {
            char hint[64], shown[40];
            snprintf(hint, sizeof hint, "write %s without quotes",
                     rfy_clip(shown, sizeof shown, text, 30));
            complain(r, node, path, "a bare number", hint, "\"%s\" is a text", shown);
            return false;
        }
        if (!parse(r, node, text, RFY_DIM_NONE, path, &value))
            return false;
    } else if (cJSON_IsNumber(node)) {
        value = node->valuedouble;
    } else {
        rfy_wrong_type(r, node, path, allowed);
        return false;
    }
    if (!in_limits(r, node, f, path, value))
        return false;
    *out = value;
    note_slot(r, node, f, out);
    return true;
}

static bool read_integer(rfy_reader *r, const cJSON *node, const rfy_field *f, const char *path,
                         int *out) {
    if (!cJSON_IsNumber(node)) {
        rfy_wrong_type(r, node, path, "a whole number");
        return false;
    }
    double value = node->valuedouble;
    if (floor(value) < value || fabs(value) > 2147483647.0) {
        char number[32];
        complain(r, node, path, "a whole number", NULL, "%s is not a whole number",
                 rfy_write_number(number, value));
        return false;
    }
    if (!in_limits(r, node, f, path, value))
        return false;
    *out = (int)value;
    return true;
}

/* ---- texts ---- */

const char *rfy_name_fault(const char *name) {
    size_t n = strlen(name);
    if (n == 0)
        return "is empty";
    if (n > 200)
        return "is longer than 200 bytes";
    if (strchr(name, '/'))
        return "holds a \"/\", which separates the parts of a path";
    if (name[0] == ' ' || name[n - 1] == ' ')
        return "begins or ends with a space";
    for (size_t i = 0; i < n; i++)
        if ((unsigned char)name[i] < 0x20 || name[i] == 0x7F)
            return "holds a control character";
    return NULL;
}

static bool read_name(rfy_reader *r, const cJSON *node, const char *path, const char **out) {
    if (!cJSON_IsString(node)) {
        rfy_wrong_type(r, node, path, "a name in quotes");
        return false;
    }
    const char *fault = rfy_name_fault(node->valuestring);
    if (fault) {
        char shown[64];
        complain(r, node, path, NULL, NULL, "the name \"%s\" %s",
                 rfy_clip(shown, sizeof shown, node->valuestring, 40), fault);
        return false;
    }
    *out = rfy_arena_strdup(r->arena, node->valuestring);
    return true;
}

static bool read_text(rfy_reader *r, const cJSON *node, const char *path, const char **out) {
    if (!cJSON_IsString(node)) {
        rfy_wrong_type(r, node, path, "a text in quotes");
        return false;
    }
    *out = rfy_arena_strdup(r->arena, node->valuestring);
    return true;
}

static void read_texts(rfy_reader *r, const cJSON *node, const char *path, rfy_texts *out) {
    if (!cJSON_IsArray(node)) {
        rfy_wrong_type(r, node, path, "a list of texts: [\"…\", \"…\"]");
        return;
    }
    size_t n = (size_t)cJSON_GetArraySize(node), k = 0;
    out->item = RFY_NEW(r->arena, n, const char *);
    out->at = RFY_NEW(r->arena, n, rfy_place);
    const cJSON *child;
    cJSON_ArrayForEach(child, node) {
        const char *own = rfy_join_index(r->arena, path, k);
        out->at[k] = rfy_json_value_place(&r->json, child, own);
        read_text(r, child, own, &out->item[k]); /* stays NULL after a problem */
        k++;
    }
    out->n = n;
}

static bool read_choice(rfy_reader *r, const cJSON *node, const rfy_field *f, const char *path,
                        int *out) {
    size_t n = count_choices(f);
    if (!cJSON_IsString(node)) {
        rfy_wrong_type(r, node, path, rfy_alternatives(r->arena, f->choices, n));
        return false;
    }
    for (size_t i = 0; i < n; i++)
        if (strcmp(f->choices[i], node->valuestring) == 0) {
            *out = (int)i;
            return true;
        }
    char shown[64];
    complain(r, node, path, rfy_alternatives(r->arena, f->choices, n),
             rfy_did_you_mean(r->arena, node->valuestring, f->choices, n),
             "\"%s\" is not one of the choices",
             rfy_clip(shown, sizeof shown, node->valuestring, 40));
    return false;
}

static void read_value_or_word(rfy_reader *r, const cJSON *node, const rfy_field *f,
                               const char *path, rfy_value_or_word *out) {
    size_t n = count_choices(f);
    if (cJSON_IsString(node)) {
        for (size_t i = 0; i < n; i++)
            if (strcmp(f->choices[i], node->valuestring) == 0) {
                out->word = (int)i;
                return;
            }
        double ignored;
        const char *text = node->valuestring;
        if (*text && rfy_read_number(text, &ignored) == 0) {
            char shown[64];
            complain(r, node, path,
                     rfy_arena_printf(r->arena, "%s, or %s",
                                      rfy_alternatives(r->arena, f->choices, n),
                                      rfy_dim_example(f->dim)),
                     rfy_did_you_mean(r->arena, text, f->choices, n), "\"%s\" is neither",
                     rfy_clip(shown, sizeof shown, text, 40));
            return;
        }
    }
    read_quantity(r, node, f, path, &out->value);
}

/* ---- maps, ranges, curves ---- */

static void read_by_gas(rfy_reader *r, const cJSON *node, const rfy_field *f, const char *path,
                        rfy_by_gas *out) {
    bool bare = f->type == RFY_F_NUMBER_BY_GAS;
    out->given = true;
    if (cJSON_IsString(node) || cJSON_IsNumber(node) || has_factor(node)) {
        if (bare)
            read_number(r, node, f, path, &out->all);
        else
            read_quantity(r, node, f, path, &out->all);
        return;
    }
    if (!cJSON_IsObject(node)) {
        rfy_wrong_type(r, node, path,
                       rfy_arena_printf(r->arena, "%s, or one for each gas: {\"N2\": …}",
                                        rfy_dim_example(f->dim)));
        return;
    }
    const cJSON *seen[RFY_MAX_SPECIES] = {NULL}, *child;
    cJSON_ArrayForEach(child, node) {
        if (rfy_json_is_comment(child))
            continue;
        const char *own = rfy_join(r->arena, path, child->string);
        int gas = rfy_species_find(r->catalog, child->string);
        rfy_place key = rfy_json_key_place(&r->json, child, own);
        if (gas < 0 || gas >= RFY_MAX_SPECIES) {
            const char *name[RFY_MAX_SPECIES];
            size_t n = 0;
            for (; n < r->catalog->n_species && n < RFY_MAX_SPECIES; n++)
                name[n] = r->catalog->species[n].name;
            char shown[64];
            rfy_problem_add(r->problems, RFY_ERROR, &key, rfy_alternatives(r->arena, name, n),
                            rfy_did_you_mean(r->arena, child->string, name, n),
                            "gas \"%s\" is not known",
                            rfy_clip(shown, sizeof shown, child->string, 40));
        } else if (seen[gas]) {
            rfy_problem_add(r->problems, RFY_ERROR, &key, NULL, NULL,
                            "\"%s\" is given twice, first on line %d", child->string,
                            rfy_json_key_place(&r->json, seen[gas], "").line);
        } else {
            seen[gas] = child;
            if (bare)
                read_number(r, child, f, own, &out->of[gas]);
            else
                read_quantity(r, child, f, own, &out->of[gas]);
        }
    }
}

static void read_range(rfy_reader *r, const cJSON *node, const rfy_field *f, const char *path,
                       rfy_range *out) {
    const cJSON *from = cJSON_IsArray(node) ? node->child : NULL, *to = from ? from->next : NULL;
    if (!to || to->next) {
        const char *allowed = rfy_arena_printf(r->arena, "a list of two: from and to, each %s",
                                               rfy_dim_example(f->dim));
        if (cJSON_IsArray(node))
            complain(r, node, path, allowed, NULL, "the list has %d value%s",
                     cJSON_GetArraySize(node), cJSON_GetArraySize(node) == 1 ? "" : "s");
        else
            rfy_wrong_type(r, node, path, allowed);
        return;
    }
    rfy_range range;
    bool good = read_quantity(r, from, f, rfy_join_index(r->arena, path, 0), &range.from);
    good = read_quantity(r, to, f, rfy_join_index(r->arena, path, 1), &range.to) && good;
    if (good && range.from > range.to)
        complain(r, node, path, "the smaller value first", NULL,
                 "the first value is above the second");
    else if (good)
        *out = range;
}

static void read_curve(rfy_reader *r, const cJSON *node, const rfy_field *f, const char *path,
                       rfy_curve *out) {
    const char *allowed = rfy_arena_printf(r->arena, "a list of at least two points, each [%s, %s]",
                                           rfy_dim_example(f->dim), rfy_dim_example(f->dim2));
    if (!cJSON_IsArray(node)) {
        rfy_wrong_type(r, node, path, allowed);
        return;
    }
    size_t n = (size_t)cJSON_GetArraySize(node), k = 0;
    if (n < 2) {
        complain(r, node, path, allowed, NULL, "the list has %zu point%s", n, n == 1 ? "" : "s");
        return;
    }
    rfy_field second = {.key = f->key, .dim = f->dim2};
    rfy_curve curve = {n, RFY_NEW(r->arena, n, double), RFY_NEW(r->arena, n, double)};
    bool good = true;
    const cJSON *point;
    cJSON_ArrayForEach(point, node) {
        const char *own = rfy_join_index(r->arena, path, k);
        if (!cJSON_IsArray(point) || cJSON_GetArraySize(point) != 2) {
            rfy_wrong_type(r, point, own,
                           rfy_arena_printf(r->arena, "a point: [%s, %s]", rfy_dim_example(f->dim),
                                            rfy_dim_example(f->dim2)));
            good = false;
        } else {
            good =
                read_quantity(r, point->child, f, rfy_join_index(r->arena, own, 0), &curve.x[k]) &&
                good;
            good = read_quantity(r, point->child->next, &second, rfy_join_index(r->arena, own, 1),
                                 &curve.y[k]) &&
                   good;
        }
        k++;
    }
    if (good)
        *out = curve;
}

/* ---- one value ---- */

static const double absent = (double)NAN;

void rfy_set_absent(const rfy_field *field, void *dest) {
    rfy_by_gas *map = dest;
    rfy_range *range = dest;
    switch (field->type) {
    case RFY_F_QUANTITY:
    case RFY_F_NUMBER:
        *(double *)dest = absent;
        break;
    case RFY_F_INTEGER:
    case RFY_F_BOOL:
    case RFY_F_CHOICE:
        *(int *)dest = -1;
        break;
    case RFY_F_VALUE_OR_WORD:
        *(rfy_value_or_word *)dest = (rfy_value_or_word){absent, -1};
        break;
    case RFY_F_QUANTITY_BY_GAS:
    case RFY_F_NUMBER_BY_GAS:
        map->all = absent;
        for (int i = 0; i < RFY_MAX_SPECIES; i++)
            map->of[i] = absent;
        map->given = false;
        break;
    case RFY_F_RANGE:
        range->from = range->to = absent;
        break;
    case RFY_F_TEXT:
    case RFY_F_NAME:
        *(const char **)dest = NULL;
        break;
    case RFY_F_TEXTS:
    case RFY_F_CURVE:
    case RFY_F_RECORD:
    case RFY_F_RECORDS:
    case RFY_F_VARIANTS:
    case RFY_F_PIECES: /* zeroed memory says it already */
        break;
    }
}

void rfy_read_value(rfy_reader *reader, const cJSON *node, const rfy_field *field, const char *path,
                    void *dest) {
    switch (field->type) {
    case RFY_F_QUANTITY:
        read_quantity(reader, node, field, path, dest);
        break;
    case RFY_F_NUMBER:
        read_number(reader, node, field, path, dest);
        break;
    case RFY_F_INTEGER:
        read_integer(reader, node, field, path, dest);
        break;
    case RFY_F_BOOL:
        if (cJSON_IsBool(node))
            *(int *)dest = cJSON_IsTrue(node);
        else
            rfy_wrong_type(reader, node, path, "true or false");
        break;
    case RFY_F_TEXT:
        read_text(reader, node, path, dest);
        break;
    case RFY_F_NAME:
        read_name(reader, node, path, dest);
        break;
    case RFY_F_TEXTS:
        read_texts(reader, node, path, dest);
        break;
    case RFY_F_CHOICE:
        read_choice(reader, node, field, path, dest);
        break;
    case RFY_F_VALUE_OR_WORD:
        read_value_or_word(reader, node, field, path, dest);
        break;
    case RFY_F_QUANTITY_BY_GAS:
    case RFY_F_NUMBER_BY_GAS:
        read_by_gas(reader, node, field, path, dest);
        break;
    case RFY_F_RANGE:
        reader->fixed++;
        read_range(reader, node, field, path, dest);
        reader->fixed--;
        break;
    case RFY_F_CURVE:
        reader->fixed++;
        read_curve(reader, node, field, path, dest);
        reader->fixed--;
        break;
    case RFY_F_RECORD:
    case RFY_F_RECORDS:
    case RFY_F_VARIANTS:
    case RFY_F_PIECES: /* read_record.c */
        break;
    }
}
