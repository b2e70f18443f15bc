#include "core/csv.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "core/text.h"

typedef struct reader {
    rfy_arena *arena;
    const char *text;
    char *kept; /* a copy of the text, in which cells get their ends */
    size_t length, at;
    int line;
    const char **cell; /* all cells read so far, malloc'ed */
    size_t n, capacity;
    rfy_csv_error *error;
} reader;

static bool fail(reader *r, int line, size_t column, const char *what) {
    r->error->line = line;
    r->error->column = (int)column;
    snprintf(r->error->what, sizeof r->error->what, "%s", what);
    return false;
}

static bool at_line_end(const reader *r) {
    return r->at == r->length || r->text[r->at] == '\n' || r->text[r->at] == '\r';
}

/* Steps over one line end, if there is one. */
static void skip_line_end(reader *r) {
    if (r->at < r->length && r->text[r->at] == '\r')
        r->at++, r->line += (r->at == r->length || r->text[r->at] != '\n');
    if (r->at < r->length && r->text[r->at] == '\n')
        r->at++, r->line++;
}

static void skip_blanks(reader *r) {
    while (r->at < r->length && (r->text[r->at] == ' ' || r->text[r->at] == '\t'))
        r->at++;
}

static void push(reader *r, const char *cell) {
    if (r->n == r->capacity) {
        r->capacity = r->capacity ? 2 * r->capacity : 256;
        r->cell = rfy_xrealloc(r->cell, r->capacity, sizeof *r->cell);
    }
    r->cell[r->n++] = cell;
}

static bool quoted_cell(reader *r, size_t column) {
    int begun = r->line;
    size_t from = ++r->at, quotes = 0;
    for (;; r->at++) {
        if (r->at == r->length)
            return fail(r, begun, column, "a quote is opened and never closed");
        char c = r->text[r->at];
        if (c == '\n' || (c == '\r' && (r->at + 1 == r->length || r->text[r->at + 1] != '\n')))
            r->line++;
        if (c != '"')
            continue;
        if (r->at + 1 == r->length || r->text[r->at + 1] != '"')
            break;
        r->at++;
        quotes++;
    }
    char *cell = r->kept + from, *to = cell;
    for (size_t i = from; quotes > 0 && i < r->at; i++) {
        *to++ = r->text[i];
        if (r->text[i] == '"')
            i++;
    }
    *(quotes > 0 ? to : r->kept + r->at) = '\0';
    push(r, cell);
    r->at++;
    skip_blanks(r);
    if (!at_line_end(r) && r->text[r->at] != ',')
        return fail(r, r->line, column, "text follows a closing quote");
    return true;
}

static bool plain_cell(reader *r, size_t column) {
    static const bool stops[256] = {[','] = true, ['\n'] = true, ['\r'] = true, ['"'] = true};
    const size_t from = r->at;
    size_t at = from;
    while (at < r->length && !stops[(unsigned char)r->text[at]])
        at++;
    r->at = at;
    if (at < r->length && r->text[at] == '"')
        return fail(r, r->line, column,
                    "a quote stands inside a cell that does not begin with one");
    while (at > from && (r->text[at - 1] == ' ' || r->text[at - 1] == '\t'))
        at--;
    r->kept[at] = '\0';
    push(r, r->kept + from);
    return true;
}

/* Reads the cells of one line; *n says how many. */
static bool row(reader *r, size_t *n) {
    for (*n = 1;; ++*n) {
        skip_blanks(r);
        bool quoted = r->at < r->length && r->text[r->at] == '"';
        if (!(quoted ? quoted_cell(r, *n) : plain_cell(r, *n)))
            return false;
        if (at_line_end(r)) {
            skip_line_end(r);
            return true;
        }
        r->at++; /* the comma */
    }
}

static bool skip_to_row(reader *r) {
    while (r->at < r->length) {
        if (r->text[r->at] == '#') {
            while (!at_line_end(r))
                r->at++;
        } else {
            size_t from = r->at;
            skip_blanks(r);
            if (!at_line_end(r)) {
                r->at = from;
                return true;
            }
        }
        skip_line_end(r);
    }
    return false;
}

static bool read_all(reader *r, rfy_csv *out) {
    size_t bad;
    r->kept = rfy_arena_strndup(r->arena, r->text, r->length);
    if (!rfy_utf8_valid(r->text, r->length, &bad) || (memchr(r->text, 0, r->length) != NULL)) {
        return fail(r, 0, 0, "the text is not UTF-8, or holds a NUL byte");
    }
    if (r->length >= 3 && memcmp(r->text, "\xEF\xBB\xBF", 3) == 0)
        r->at = 3;
    if (!skip_to_row(r))
        return fail(r, 0, 0, "there is no line that names the columns");
    if (!row(r, &out->n_columns))
        return false;

    int *line = NULL;
    size_t capacity = 0;
    bool good = true;
    while (good && skip_to_row(r)) {
        if (out->n_rows == capacity) {
            capacity = capacity ? 2 * capacity : 64;
            line = rfy_xrealloc(line, capacity, sizeof *line);
        }
        line[out->n_rows] = r->line;
        size_t n = 0;
        good = row(r, &n);
        if (good && n != out->n_columns) {
            char what[120];
            snprintf(what, sizeof what, "the row has %zu cells, the first line names %zu columns",
                     n, out->n_columns);
            good = fail(r, line[out->n_rows], n, what);
        }
        out->n_rows++;
    }
    out->line = rfy_arena_grow(r->arena, line, out->n_rows, out->n_rows, sizeof *line);
    free(line);
    return good;
}

bool rfy_csv_read(rfy_arena *arena, const char *text, size_t length, rfy_csv *out,
                  rfy_csv_error *error) {
    reader r = {.arena = arena, .text = text, .length = length, .line = 1, .error = error};
    *out = (rfy_csv){0};
    *error = (rfy_csv_error){0};
    bool good = read_all(&r, out);
    if (good) {
        const char **cell = rfy_arena_grow(arena, r.cell, r.n, r.n, sizeof *cell);
        out->column = cell;
        out->cell = cell + out->n_columns;
    } else {
        *out = (rfy_csv){0};
    }
    free(r.cell);
    return good;
}

int rfy_csv_column(const rfy_csv *csv, const char *name) {
    for (size_t i = 0; i < csv->n_columns; i++)
        if (strcmp(csv->column[i], name) == 0)
            return (int)i;
    return -1;
}
