#include "io/json_places.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "core/text.h"
#include "io/json_scan.h"

/* ---- the tree takes over the places ---- */

static bool is_container(const cJSON *node) {
    return cJSON_IsObject(node) || cJSON_IsArray(node);
}

/* Gives the nodes of a tree the places *next, *next + 1, … in document order. */
static void number_nodes(cJSON *node, size_t *next) {
    node->valueint = (int)(*next)++;
    if (is_container(node))
        for (cJSON *child = node->child; child; child = child->next)
            number_nodes(child, next);
}

static void tag_nodes(cJSON *node, int place) {
    node->valueint = place;
    if (is_container(node))
        for (cJSON *child = node->child; child; child = child->next)
            tag_nodes(child, place);
}

static void start(rfy_json *json) {
    *json = (rfy_json){.n = 1, .capacity = 64};
    json->place = rfy_xcalloc(json->capacity, sizeof *json->place);
}

void rfy_json_free(rfy_json *json) {
    cJSON_Delete(json->root);
    free(json->place);
    *json = (rfy_json){0};
}

/* Line and column of a byte offset, for texts that were never scanned. */
static rfy_place place_of_byte(const char *text, size_t offset) {
    rfy_place at = {.line = 1, .column = 1, .path = ""};
    size_t line = 0;
    for (size_t i = 0; i < offset; i++)
        if (text[i] == '\n')
            at.line++, line = i + 1;
    at.column += (int)rfy_utf8_count(text + line, offset - line);
    return at;
}

static bool check_bytes(const char *text, size_t length, rfy_problems *problems) {
    static const rfy_place whole = {0, 0, ""};
    if (length > RFY_JSON_MAX_BYTES) {
        rfy_problem_add(problems, RFY_ERROR, &whole, "16 MiB at most", NULL,
                        "the description has %.1f MiB", (double)length / (1 << 20));
        return false;
    }
    size_t bad = 0;
    const unsigned char *t = (const unsigned char *)text;
    if (length >= 2 && ((t[0] == 0xFF && t[1] == 0xFE) || (t[0] == 0xFE && t[1] == 0xFF))) {
        rfy_problem_add(problems, RFY_ERROR, &whole, NULL, "save the file as UTF-8",
                        "the text is in UTF-16");
        return false;
    }
    if (!rfy_utf8_valid(text, length, &bad)) {
        rfy_place at = place_of_byte(text, bad);
        rfy_problem_add(problems, RFY_ERROR, &at, NULL, "save the file as UTF-8",
                        "the byte 0x%02X is not UTF-8", t[bad]);
        return false;
    }
    const char *nul = length ? memchr(text, 0, length) : NULL;
    if (nul) {
        rfy_place at = place_of_byte(text, (size_t)(nul - text));
        rfy_problem_add(problems, RFY_ERROR, &at, NULL, NULL, "a NUL byte stands in the text");
        return false;
    }
    return true;
}

bool rfy_json_read(rfy_json *json, const char *text, size_t length, rfy_problems *problems) {
    start(json);
    if (!check_bytes(text, length, problems)) {
        rfy_json_free(json);
        return false;
    }
    if (length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0)
        text += 3, length -= 3;
    rfy_scan_error error = {0};
    if (!rfy_json_scan(json, text, length, &error)) {
        rfy_place at = {error.line, error.column, ""};
        rfy_problem_add(problems, RFY_ERROR, &at, NULL, error.hint[0] ? error.hint : NULL, "%s",
                        error.what);
        rfy_json_free(json);
        return false;
    }
    json->root = cJSON_ParseWithLength(text, length);
    if (!json->root) {
        rfy_place at = {1, 1, ""};
        rfy_problem_add(problems, RFY_ERROR, &at, NULL, NULL,
                        "the JSON library cannot read the text");
        rfy_json_free(json);
        return false;
    }
    size_t next = 1;
    number_nodes(json->root, &next);
    json->n_values = next;
    return true;
}

cJSON *rfy_json_setting(rfy_json *json, const char *text, int number) {
    size_t length = strlen(text), bad;
    if (length > RFY_JSON_MAX_BYTES || !rfy_utf8_valid(text, length, &bad))
        return NULL;
    rfy_json own;
    rfy_scan_error error;
    start(&own);
    cJSON *node = NULL;
    if (rfy_json_scan(&own, text, length, &error))
        node = cJSON_ParseWithLength(text, length);
    rfy_json_free(&own);
    if (!node)
        node = cJSON_CreateString(text);
    if (!node)
        return NULL;
    rfy_json_mark(json, node, number);
    return node;
}

void rfy_json_mark(rfy_json *json, cJSON *node, int number) {
    json->place = rfy_xrealloc(json->place, json->n + 1, sizeof *json->place);
    json->capacity = json->n + 1;
    json->place[json->n] = (rfy_json_place){.column = number, .key_column = number};
    tag_nodes(node, (int)json->n++);
}

static const rfy_json_place *find(const rfy_json *json, const cJSON *node) {
    bool known = node && node->valueint > 0 && (size_t)node->valueint < json->n;
    return &json->place[known ? node->valueint : 0];
}

rfy_place rfy_json_value_place(const rfy_json *json, const cJSON *node, const char *path) {
    const rfy_json_place *p = find(json, node);
    return (rfy_place){p->line, p->column, path};
}

rfy_place rfy_json_key_place(const rfy_json *json, const cJSON *node, const char *path) {
    const rfy_json_place *p = find(json, node);
    return (rfy_place){p->key_line, p->key_column, path};
}

int rfy_json_setting_of(const rfy_json *json, const cJSON *node) {
    const rfy_json_place *p = find(json, node);
    return p != &json->place[0] && p->line == 0 ? p->column : 0;
}

/* ---- looking at nodes ---- */

cJSON *rfy_json_get(const cJSON *object, const char *key) {
    return cJSON_IsObject(object) ? cJSON_GetObjectItemCaseSensitive(object, key) : NULL;
}

bool rfy_json_is_comment(const cJSON *node) {
    return node->string && node->string[0] == '/' && node->string[1] == '/';
}

char *rfy_clip(char *buffer, size_t size, const char *text, size_t most) {
    size_t length = strlen(text), n = length;
    if (n > most || n + 4 > size) {
        n = most + 4 > size ? size - 4 : most;
        while (n > 0 && ((unsigned char)text[n] & 0xC0) == 0x80)
            n--;
    }
    snprintf(buffer, size, "%.*s%s", (int)n, text, n < length ? "…" : "");
    return buffer;
}

char *rfy_json_found(char *buffer, size_t size, const cJSON *node) {
    char text[64];
    if (cJSON_IsString(node))
        snprintf(buffer, size, "the text \"%s\"",
                 rfy_clip(text, sizeof text, node->valuestring, 40));
    else if (cJSON_IsNumber(node))
        snprintf(buffer, size, "the number %s", rfy_write_number(text, node->valuedouble));
    else
        snprintf(buffer, size, "%s",
                 cJSON_IsArray(node)    ? "a list"
                 : cJSON_IsObject(node) ? "an object"
                 : cJSON_IsTrue(node)   ? "true"
                 : cJSON_IsFalse(node)  ? "false"
                                        : "null");
    return buffer;
}
