/* A description with some values changed, otherwise the text as it was: only the places of those
 * values are written anew. */
#include <stdlib.h>
#include <string.h>
#include "io/expand.h"
#include "io/settings.h"
#include "network/description.h"
#include "study/system.h"

typedef struct edit {
    size_t at, length; /* bytes of the text that go */
    char *text;        /* what comes */
} edit;

typedef struct editor {
    const rfy_json *json;
    const char *text;
    size_t length, n, room;
    edit *item;
} editor;

/* ---- places in the text ---- */

static size_t offset_of(const editor *e, const cJSON *node) {
    rfy_place place = rfy_json_value_place(e->json, node, "");
    if (place.line <= 0)
        return e->length;
    size_t at = e->length >= 3 && memcmp(e->text, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
    for (int line = 1; line < place.line && at < e->length; line++) {
        const char *end = memchr(e->text + at, '\n', e->length - at);
        at = end ? (size_t)(end - e->text) + 1 : e->length;
    }
    for (int column = 1; column < place.column && at < e->length; column++) {
        at++;
        while (at < e->length && ((unsigned char)e->text[at] & 0xC0) == 0x80)
            at++;
    }
    return at;
}

static size_t end_of_string(const editor *e, size_t at) {
    for (at++; at < e->length && e->text[at] != '"'; at++)
        if (e->text[at] == '\\')
            at++;
    return at < e->length ? at + 1 : e->length;
}

/* One past the value that begins there; the text has been read, so it is well formed. */
static size_t end_of_value(const editor *e, size_t at) {
    if (at >= e->length)
        return at;
    if (e->text[at] == '"')
        return end_of_string(e, at);
    if (e->text[at] != '{' && e->text[at] != '[') {
        size_t n = strcspn(e->text + at, ",]} \t\r\n");
        return at + n < e->length ? at + n : e->length;
    }
    int depth = 0;
    while (at < e->length) {
        char c = e->text[at];
        if (c == '"') {
            at = end_of_string(e, at);
            continue;
        }
        depth += (c == '{' || c == '[') - (c == '}' || c == ']');
        at++;
        if (depth == 0)
            break;
    }
    return at;
}

/* ---- edits ---- */

static void add(editor *e, size_t at, size_t length, char *text) {
    if (e->n == e->room) {
        e->room = e->room ? 2 * e->room : 16;
        e->item = rfy_xrealloc(e->item, e->room, sizeof *e->item);
    }
    e->item[e->n++] = (edit){at, length, text};
}

static char *printed(const cJSON *node) {
    char *text = cJSON_PrintUnformatted(node);
    const char *shown = text ? text : "null";
    size_t size = strlen(shown) + 1;
    char *copy = rfy_xcalloc(size, 1);
    memcpy(copy, shown, size);
    cJSON_free(text);
    return copy;
}

/* A key that the object does not have yet, behind its opening brace. */
static void insert(editor *e, size_t object, const cJSON *child) {
    char *value = printed(child), *key = NULL;
    cJSON *name = cJSON_CreateString(child->string);
    key = printed(name);
    cJSON_Delete(name);
    size_t next = object + 1 + strspn(e->text + object + 1, " \t\r\n");
    bool empty = next >= e->length || e->text[next] == '}';
    size_t size = strlen(key) + strlen(value) + 8;
    char *text = rfy_xcalloc(size, 1);
    snprintf(text, size, "%s: %s%s", key, value, empty ? "" : ", ");
    free(key);
    free(value);
    add(e, object + 1, 0, text);
}

static void compare(editor *e, const cJSON *old, const cJSON *new);

/* Children of the old object come first in the new one, in their order. */
static void compare_objects(editor *e, const cJSON *old, const cJSON *new) {
    size_t from = offset_of(e, old), to = end_of_value(e, from);
    const cJSON *a = old->child;
    for (const cJSON *b = new->child; b; b = b->next) {
        bool same = a && a->string && b->string && strcmp(a->string, b->string) == 0;
        if (same) {
            size_t at = offset_of(e, a);
            /* a key that came through "like" stands in another part: it gets its own one here */
            if (at > from && at < to)
                compare(e, a, b);
            else if (!cJSON_Compare(a, b, 1))
                insert(e, from, b);
            a = a->next;
        } else {
            insert(e, from, b);
        }
    }
}

static void compare(editor *e, const cJSON *old, const cJSON *new) {
    if (cJSON_IsObject(old) && cJSON_IsObject(new)) {
        compare_objects(e, old, new);
        return;
    }
    if (cJSON_IsArray(old) && cJSON_IsArray(new) &&
        cJSON_GetArraySize(old) == cJSON_GetArraySize(new)) {
        const cJSON *b = new->child;
        for (const cJSON *a = old->child; a && b; a = a->next, b = b->next)
            compare(e, a, b);
        return;
    }
    if (cJSON_Compare(old, new, 1))
        return;
    size_t at = offset_of(e, old), end = end_of_value(e, at);
    if (at < e->length)
        add(e, at, end - at, printed(new));
}

static int by_place(const void *a, const void *b) {
    const edit *x = a, *y = b;
    return (x->at > y->at) - (x->at < y->at);
}

static void write_edited(FILE *out, editor *e) {
    size_t at = 0;
    if (e->n > 0)
        qsort(e->item, e->n, sizeof *e->item, by_place);
    for (size_t i = 0; i < e->n; i++) {
        if (e->item[i].at < at) /* inside what was written anew already */
            continue;
        fwrite(e->text + at, 1, e->item[i].at - at, out);
        fputs(e->item[i].text, out);
        at = e->item[i].at + e->item[i].length;
    }
    fwrite(e->text + at, 1, e->length - at, out);
}

rfy_status rfy_write_fitted(FILE *out, const rfy_system *system, const rfy_fit_result *result) {
    rfy_arena *arena = rfy_arena_new();
    rfy_problems *problems = rfy_problems_new(system->file);
    rfy_reader reader = {.arena = arena, .catalog = system->catalog, .problems = problems};
    rfy_status status = RFY_BAD_INPUT;
    size_t n = 0;
    rfy_setting *setting = RFY_NEW(arena, system->n_settings + result->n_unknowns, rfy_setting);
    for (size_t i = 0; i < system->n_settings; i++)
        setting[n++] = system->setting[i];
    for (size_t i = 0; i < result->n_unknowns; i++)
        if (strcmp(result->unknown[i].path, "start") != 0)
            setting[n++] = (rfy_setting){result->unknown[i].path, result->unknown[i].after};
    if (rfy_json_read(&reader.json, system->text, system->length, problems)) {
        rfy_expand_likes(&reader);
        cJSON *old = cJSON_Duplicate(reader.json.root, 1);
        rfy_apply_settings(&reader, &rfy_description_record, setting, n);
        if (old && rfy_problems_errors(problems) == 0) {
            editor e = {.json = &reader.json, .text = system->text, .length = system->length};
            compare(&e, old, reader.json.root);
            write_edited(out, &e);
            for (size_t i = 0; i < e.n; i++)
                free(e.item[i].text);
            free(e.item);
            status = fflush(out) || ferror(out) ? RFY_IO_FAILED : RFY_OK;
        }
        cJSON_Delete(old);
        rfy_json_free(&reader.json);
    }
    rfy_problems_free(problems);
    rfy_arena_free(arena);
    return status;
}
