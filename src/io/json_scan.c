#include "io/json_scan.h"
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include "core/text.h"

/* cJSON copies a number into 64 bytes before it reads it. */
#define MAX_NUMBER 60

typedef struct scan {
    rfy_json *json;
    const char *text;
    size_t at, length;
    int line, column;
    rfy_scan_error *error;
} scan;

static bool fail_at(scan *s, int line, int column, const char *hint, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 5, 6)))
#endif
    ;

static bool fail_at(scan *s, int line, int column, const char *hint, const char *format, ...) {
    va_list args;
    va_start(args, format);
    vsnprintf(s->error->what, sizeof s->error->what, format, args);
    va_end(args);
    s->error->line = line;
    s->error->column = column;
    snprintf(s->error->hint, sizeof s->error->hint, "%s", hint ? hint : "");
    return false;
}

/* The byte at hand, or 0 at the end (a NUL byte in the text has been refused before). */
static char here(const scan *s) {
    return s->at < s->length ? s->text[s->at] : '\0';
}

static void advance(scan *s) {
    char c = s->text[s->at++];
    if (c == '\n') {
        s->line++;
        s->column = 1;
    } else if (((unsigned char)c & 0xC0) != 0x80) {
        s->column++;
    }
}

static void skip_blanks(scan *s) {
    while (here(s) == ' ' || here(s) == '\t' || here(s) == '\n' || here(s) == '\r')
        advance(s);
}

static bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

static bool is_word(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_' || (unsigned char)c >= 0x80;
}

/* The word at hand, for messages. */
static const char *word(const scan *s, char *buffer, size_t size) {
    size_t n = 0;
    while (n + 1 < size && s->at + n < s->length &&
           (is_word(s->text[s->at + n]) || is_digit(s->text[s->at + n])))
        n++;
    while (n > 0 && s->at + n < s->length && ((unsigned char)s->text[s->at + n] & 0xC0) == 0x80)
        n--;
    memcpy(buffer, s->text + s->at, n);
    buffer[n] = '\0';
    return buffer;
}

static const char comment_hint[] = "a comment is a key that begins with //: {\"//\": \"…\"}";

/* Something else stands where `wanted` should. */
static bool unexpected(scan *s, const char *wanted) {
    char c = here(s), text[40];
    const char *hint = NULL;
    if (s->at == s->length)
        return fail_at(s, s->line, s->column, NULL, "the text ends where %s is expected", wanted);
    if (c == '/' || c == '#')
        hint = comment_hint;
    else if (c == '\'')
        hint = "texts stand in double quotes";
    if (is_word(c))
        return fail_at(s, s->line, s->column, "texts and keys stand in double quotes",
                       "the word %s stands where %s is expected", word(s, text, sizeof text),
                       wanted);
    if ((unsigned char)c < 0x20 || c == 0x7F)
        return fail_at(s, s->line, s->column, NULL,
                       "a control character (code %d) stands where %s is expected", c, wanted);
    return fail_at(s, s->line, s->column, hint, "\"%c\" stands where %s is expected", c, wanted);
}

/* Four hexadecimal digits after \u, or -1. */
static int hex4(const scan *s, size_t at) {
    int value = 0;
    for (size_t i = at; i < at + 4; i++) {
        char c = i < s->length ? s->text[i] : '\0';
        int digit = is_digit(c)            ? c - '0'
                    : c >= 'a' && c <= 'f' ? c - 'a' + 10
                    : c >= 'A' && c <= 'F' ? c - 'A' + 10
                                           : -1;
        if (digit < 0)
            return -1;
        value = 16 * value + digit;
    }
    return value;
}

static bool escape(scan *s) {
    int line = s->line, column = s->column;
    char c = s->at + 1 < s->length ? s->text[s->at + 1] : '\0';
    size_t used = 2;
    if (c == 'u') {
        int code = hex4(s, s->at + 2);
        used = 6;
        if (code < 0)
            return fail_at(s, line, column, NULL, "\\u is not followed by four hexadecimal digits");
        if (code == 0)
            return fail_at(s, line, column, NULL, "\\u0000 is not allowed in a text");
        if (code >= 0xD800 && code <= 0xDBFF) {
            bool next =
                s->at + 7 < s->length && s->text[s->at + 6] == '\\' && s->text[s->at + 7] == 'u';
            int low = next ? hex4(s, s->at + 8) : -1;
            if (low < 0xDC00 || low > 0xDFFF)
                return fail_at(s, line, column, NULL, "half of a surrogate pair stands alone");
            used = 12;
        } else if (code >= 0xDC00 && code <= 0xDFFF) {
            return fail_at(s, line, column, NULL, "half of a surrogate pair stands alone");
        }
    } else if (c == '\0' || !strchr("\"\\/bfnrt", c)) {
        return fail_at(s, line, column, "a backslash is written \\\\",
                       "a backslash is followed by something JSON does not know");
    }
    for (size_t i = 0; i < used; i++)
        advance(s);
    return true;
}

static bool string(scan *s) {
    int line = s->line, column = s->column;
    advance(s);
    for (;;) {
        char c = here(s);
        if (s->at == s->length || c == '\n')
            return fail_at(s, line, column, NULL, "the text begun here is not closed on its line");
        if (c == '"') {
            advance(s);
            return true;
        }
        if (c == '\\') {
            if (!escape(s))
                return false;
            continue;
        }
        if ((unsigned char)c < 0x20)
            return fail_at(s, s->line, s->column, c == '\t' ? "a tab is written \\t" : NULL,
                           "a control character (code %d) stands in a text", c);
        advance(s);
    }
}

static bool number(scan *s) {
    int line = s->line, column = s->column;
    size_t from = s->at;
    if (here(s) == '-')
        advance(s);
    if (!is_digit(here(s)))
        return unexpected(s, "a digit");
    bool zero = here(s) == '0';
    advance(s);
    if (zero && is_digit(here(s)))
        return fail_at(s, line, column, NULL, "a number begins with a needless zero");
    while (is_digit(here(s)))
        advance(s);
    if (here(s) == '.') {
        advance(s);
        if (!is_digit(here(s)))
            return unexpected(s, "a digit after the point");
        while (is_digit(here(s)))
            advance(s);
    }
    if (here(s) == 'e' || here(s) == 'E') {
        advance(s);
        if (here(s) == '+' || here(s) == '-')
            advance(s);
        if (!is_digit(here(s)))
            return unexpected(s, "a digit of the exponent");
        while (is_digit(here(s)))
            advance(s);
    }
    char copy[MAX_NUMBER + 1];
    size_t n = s->at - from;
    if (n > MAX_NUMBER)
        return fail_at(s, line, column, NULL, "a number has more than %d characters", MAX_NUMBER);
    memcpy(copy, s->text + from, n);
    copy[n] = '\0';
    double value = 0;
    rfy_read_number(copy, &value);
    if (!isfinite(value))
        return fail_at(s, line, column, NULL, "the number %s is too large", copy);
    return true;
}

static bool literal(scan *s) {
    static const char *const known[] = {"true", "false", "null"};
    char text[40];
    word(s, text, sizeof text);
    for (size_t i = 0; i < 3; i++)
        if (strcmp(text, known[i]) == 0) {
            for (size_t k = strlen(text); k > 0; k--)
                advance(s);
            return true;
        }
    int near = rfy_nearest(text, known, 3);
    char hint[64] = "texts stand in double quotes";
    if (near >= 0)
        snprintf(hint, sizeof hint, "did you mean %s?", known[near]);
    return fail_at(s, s->line, s->column, hint, "the word %s is not JSON", text);
}

static size_t push(scan *s) {
    rfy_json *json = s->json;
    if (json->n == json->capacity) {
        json->capacity = json->capacity ? 2 * json->capacity : 256;
        json->place = rfy_xrealloc(json->place, json->capacity, sizeof *json->place);
    }
    json->place[json->n] = (rfy_json_place){s->line, s->column, s->line, s->column, 0};
    return json->n++;
}

static bool value(scan *s, int depth, int key_line, int key_column);

/* After a member of an object or list: true when another one follows, *closed when it ends. */
static bool next_member(scan *s, char close, int open_line, bool *closed) {
    skip_blanks(s);
    *closed = false;
    char c = here(s);
    if (c == close) {
        advance(s);
        *closed = true;
        return true;
    }
    if (c == ',') {
        int line = s->line, column = s->column;
        advance(s);
        skip_blanks(s);
        if (here(s) == close)
            return fail_at(s, line, column, "drop the comma",
                           "a comma stands before the closing \"%c\"", close);
        return true;
    }
    if (s->at == s->length)
        return fail_at(s, s->line, s->column, NULL,
                       "the text ends before the \"%c\" of line %d is closed",
                       close == '}' ? '{' : '[', open_line);
    if (c == '"' || c == '{' || c == '[')
        return fail_at(s, s->line, s->column, NULL, "a comma is missing before this");
    char previous = s->text[s->at - 1];
    char before = s->at > 1 ? s->text[s->at - 2] : ' ';
    if (is_word(c) && (is_digit(previous) || (previous == ' ' && is_digit(before))))
        return fail_at(s, s->line, s->column, "a quantity stands in quotes: \"25 mm\"",
                       "a unit or a word follows a number");
    return unexpected(s, close == '}' ? "a comma or \"}\"" : "a comma or \"]\"");
}

static bool object(scan *s, int depth) {
    int line = s->line;
    advance(s);
    skip_blanks(s);
    if (here(s) == '}') {
        advance(s);
        return true;
    }
    for (bool closed = false; !closed;) {
        int key_line = s->line, key_column = s->column;
        if (is_digit(here(s)) && s->at > 1 && s->text[s->at - 1] == ',' &&
            is_digit(s->text[s->at - 2]))
            return fail_at(s, s->line, s->column, "decimals take a point: 0.5",
                           "a number stands where a key in double quotes is expected");
        if (here(s) != '"')
            return unexpected(s, "a key in double quotes");
        if (!string(s))
            return false;
        skip_blanks(s);
        if (here(s) != ':')
            return unexpected(s, "\":\" after a key");
        advance(s);
        skip_blanks(s);
        if (!value(s, depth + 1, key_line, key_column) || !next_member(s, '}', line, &closed))
            return false;
    }
    return true;
}

static bool list(scan *s, int depth) {
    int line = s->line;
    advance(s);
    skip_blanks(s);
    if (here(s) == ']') {
        advance(s);
        return true;
    }
    for (bool closed = false; !closed;)
        if (!value(s, depth + 1, s->line, s->column) || !next_member(s, ']', line, &closed))
            return false;
    return true;
}

static bool value(scan *s, int depth, int key_line, int key_column) {
    if (depth > RFY_JSON_MAX_DEPTH)
        return fail_at(s, s->line, s->column, NULL,
                       "lists and objects are nested deeper than %d levels", RFY_JSON_MAX_DEPTH);
    if (s->json->n > RFY_JSON_MAX_VALUES)
        return fail_at(s, s->line, s->column, NULL, "there are more than %zu values",
                       RFY_JSON_MAX_VALUES);
    size_t k = push(s);
    s->json->place[k].key_line = key_line;
    s->json->place[k].key_column = key_column;
    char c = here(s);
    if (c == '{')
        return object(s, depth);
    if (c == '[')
        return list(s, depth);
    if (c == '"')
        return string(s);
    if (c == '-' || is_digit(c))
        return number(s);
    if (c == '+' || c == '.')
        return fail_at(s, s->line, s->column, NULL, "a number begins with a digit or with \"-\"");
    if (is_word(c))
        return literal(s);
    return unexpected(s, "a value");
}

bool rfy_json_scan(rfy_json *json, const char *text, size_t length, rfy_scan_error *error) {
    scan s = {.json = json, .text = text, .length = length, .line = 1, .column = 1, .error = error};
    skip_blanks(&s);
    if (s.at == s.length)
        return fail_at(&s, 0, 0, NULL, "there is nothing in it");
    if (!value(&s, 1, s.line, s.column))
        return false;
    skip_blanks(&s);
    if (s.at == s.length)
        return true;
    if (here(&s) == '/' || here(&s) == '#')
        return fail_at(&s, s.line, s.column, comment_hint,
                       "text follows the end of the description");
    return fail_at(&s, s.line, s.column, NULL, "text follows the end of the description");
}
