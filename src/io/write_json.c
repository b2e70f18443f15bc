/* A streaming JSON writer: no tree is built, so a long series costs no memory. */
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "io/write_common.h"

static void put_text(FILE *out, const char *text) {
    size_t left = strlen(text);
    putc('"', out);
    while (left > 0) {
        size_t bad = left;
        if (rfy_utf8_valid(text, left, &bad))
            bad = left;
        for (size_t i = 0; i < bad; i++) {
            unsigned char c = (unsigned char)text[i];
            if (c == '"' || c == '\\')
                fprintf(out, "\\%c", c);
            else if (c == '\n')
                fputs("\\n", out);
            else if (c == '\t')
                fputs("\\t", out);
            else if (c < 0x20 || c == 0x7f)
                fprintf(out, "\\u%04x", (unsigned)c);
            else
                putc(c, out);
        }
        text += bad;
        left -= bad;
        if (left > 0) {
            fputs("\\ufffd", out);
            text++;
            left--;
        }
    }
    putc('"', out);
}

static void put_number(FILE *out, double value) {
    char buffer[32];
    fputs(isfinite(value) ? rfy_write_number(buffer, value) : "null", out);
}

/* Comma, line break, indentation and key before the next item. */
static void item(rfy_json *json, const char *key) {
    if (json->one_line)
        fputs(json->filled[json->depth] ? ", " : "", json->out);
    else
        fprintf(json->out, "%s\n%*s", json->filled[json->depth] ? "," : "", 2 * json->depth, "");
    json->filled[json->depth] = true;
    if (key) {
        put_text(json->out, key);
        fputs(": ", json->out);
    }
}

static void push(rfy_json *json, char bracket) {
    putc(bracket, json->out);
    if (json->depth + 1 < (int)sizeof json->bracket)
        json->depth++;
    json->bracket[json->depth] = bracket;
    json->filled[json->depth] = false;
}

void rfy_json_begin(rfy_json *json, FILE *out) {
    *json = (rfy_json){.out = out};
    push(json, '{');
}

void rfy_json_begin_line(rfy_json *json, FILE *out) {
    *json = (rfy_json){.out = out, .one_line = true};
    push(json, '{');
}

void rfy_json_close(rfy_json *json) {
    char bracket = json->bracket[json->depth] == '{' ? '}' : ']';
    bool filled = json->filled[json->depth--];
    if (filled && !json->one_line)
        fprintf(json->out, "\n%*s", 2 * json->depth, "");
    putc(bracket, json->out);
}

rfy_status rfy_json_end(rfy_json *json) {
    while (json->depth > 0)
        rfy_json_close(json);
    putc('\n', json->out);
    return fflush(json->out) || ferror(json->out) ? RFY_IO_FAILED : RFY_OK;
}

void rfy_json_object(rfy_json *json, const char *key) {
    item(json, key);
    push(json, '{');
}

void rfy_json_array(rfy_json *json, const char *key) {
    item(json, key);
    push(json, '[');
}

void rfy_json_null(rfy_json *json, const char *key) {
    item(json, key);
    fputs("null", json->out);
}

void rfy_json_text(rfy_json *json, const char *key, const char *text) {
    item(json, key);
    if (text)
        put_text(json->out, text);
    else
        fputs("null", json->out);
}

void rfy_json_number(rfy_json *json, const char *key, double value) {
    item(json, key);
    put_number(json->out, value);
}

void rfy_json_count(rfy_json *json, const char *key, size_t value) {
    item(json, key);
    fprintf(json->out, "%zu", value);
}

void rfy_json_flag(rfy_json *json, const char *key, bool value) {
    item(json, key);
    fputs(value ? "true" : "false", json->out);
}

void rfy_json_numbers(rfy_json *json, const char *key, const double *value, size_t n,
                      size_t stride) {
    item(json, key);
    putc('[', json->out);
    for (size_t i = 0; i < n; i++) {
        if (i > 0)
            fputs(", ", json->out);
        put_number(json->out, value[i * stride]);
    }
    putc(']', json->out);
}

void rfy_json_texts(rfy_json *json, const char *key, const char *const *text, size_t n) {
    rfy_json_array(json, key);
    for (size_t i = 0; i < n; i++)
        rfy_json_text(json, NULL, text[i]);
    rfy_json_close(json);
}

void rfy_json_by_name(rfy_json *json, const char *key, const char *const *name, const double *value,
                      size_t n) {
    rfy_json_object(json, key);
    for (size_t i = 0; i < n && value; i++)
        rfy_json_number(json, name[i], value[i]);
    rfy_json_close(json);
}

static const char *status_word(rfy_status status) {
    switch (status) {
    case RFY_OK:
        return "done";
    case RFY_RUN_FAILED:
        return "not finished";
    case RFY_USAGE:
        return "wrong use";
    case RFY_BAD_INPUT:
        return "description wrong";
    case RFY_IO_FAILED:
        return "reading or writing failed";
    case RFY_LIMIT_BROKEN:
        return "limit broken";
    case RFY_INTERRUPTED:
        return "interrupted";
    }
    return "unknown";
}

void rfy_json_opening(rfy_json *json, const rfy_result *result) {
    rfy_json_text(json, "title", result->title);
    rfy_json_text(json, "status", status_word(result->status));
    rfy_json_text(json, "trouble", result->trouble);
}

void rfy_json_closing(rfy_json *json, const rfy_result *result) {
    const rfy_solver_stats *s = &result->solver;
    rfy_json_texts(json, "assumed", result->assumed, result->n_assumed);
    rfy_json_texts(json, "care", result->care, result->n_care);
    rfy_json_texts(json, "cautions", result->cautions, result->n_cautions);
    rfy_json_object(json, "solver");
    rfy_json_text(json, "method", s->method);
    rfy_json_number(json, "tolerance", s->tolerance);
    const struct {
        const char *key;
        size_t count;
    } work[] = {{"nodes", s->nodes},         {"gases", s->gases},       {"states", s->states},
                {"steps", s->steps},         {"rejected", s->rejected}, {"rhs", s->rhs},
                {"jacobians", s->jacobians}, {"restarts", s->restarts}};
    for (size_t i = 0; i < sizeof work / sizeof work[0]; i++)
        rfy_json_count(json, work[i].key, work[i].count);
    rfy_json_close(json);
}
