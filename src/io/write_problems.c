#include <string.h>
#include "core/problem.h"
#include "core/text.h"

/* What a description says reaches a terminal here: control characters (an escape would be obeyed),
 * bytes that are not UTF-8 and direction marks become visible, each in one column. */

/* Bytes of the character at text, and what to show for it; *shown is at most 4 bytes. */
static size_t show(const char *text, size_t length, char shown[5]) {
    unsigned char c = (unsigned char)text[0];
    size_t n = 1;
    memset(shown, 0, 5);
    if (c == '\t') {
        shown[0] = ' ';
    } else if (c < 0x20 || c == 0x7F) { /* the control pictures, U+2400 … */
        unsigned char picture = c == 0x7F ? 0x21 : c;
        shown[0] = '\xE2';
        shown[1] = '\x90';
        shown[2] = (char)(0x80 + picture);
    } else if (c < 0x80) {
        shown[0] = text[0];
    } else {
        size_t want = c >= 0xF0 ? 4 : c >= 0xE0 ? 3 : 2;
        bool good = want <= length && rfy_utf8_valid(text, want, NULL);
        bool hidden =
            good && ((c == 0xC2 && (unsigned char)text[1] < 0xA0) /* U+0080 … U+009F */
                     || (c == 0xE2 && (unsigned char)text[1] == 0x80 &&
                         (unsigned char)text[2] >= 0xA8 && (unsigned char)text[2] <= 0xAE) ||
                     (c == 0xE2 && (unsigned char)text[1] == 0x81 &&
                      (unsigned char)text[2] >= 0xA6 && (unsigned char)text[2] <= 0xA9));
        memcpy(shown, good && !hidden ? text : "\xEF\xBF\xBD", good && !hidden ? want : 3);
        n = good ? want : 1;
    }
    return n;
}

static void put(FILE *out, const char *text) {
    size_t length = strlen(text);
    char shown[5];
    for (size_t i = 0; i < length; i += show(text + i, length - i, shown)) {
        show(text + i, length - i, shown);
        fputs(shown, out);
    }
}

/* The source line with a caret below the column; at most `most` columns of it. */
static void write_source(FILE *out, const char *text, size_t length, int line, int column) {
    enum { MOST = 100 };
    size_t at = 0;
    for (int l = 1; l < line && at < length; l++) {
        const char *end = memchr(text + at, '\n', length - at);
        at = end ? (size_t)(end - text) + 1 : length;
    }
    if (at == 0 && length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0)
        at = 3; /* a byte order mark has no column */
    const char *end = at < length ? memchr(text + at, '\n', length - at) : NULL;
    size_t stop = end ? (size_t)(end - text) : length;
    if (stop > at && text[stop - 1] == '\r')
        stop--;

    /* The window of columns to show: all of a short line, else about the column. */
    int last = column + MOST / 2, first = 1, n = 0;
    char shown[5];
    for (size_t i = at; i < stop && n <= last + MOST; n++)
        i += show(text + i, stop - i, shown);
    bool cut_end = false;
    if (n > MOST) {
        first = column > MOST / 2 ? column - MOST / 2 : 1;
        if (first > n - MOST + 1)
            first = n - MOST + 1;
        last = first + MOST - 1;
        cut_end = last < n;
    } else {
        last = n;
    }
    fputs("  ", out);
    if (first > 1)
        fputs("…", out);
    int c = 1;
    for (size_t i = at; i < stop && c <= last; c++) {
        i += show(text + i, stop - i, shown);
        if (c >= first)
            fputs(shown, out);
    }
    fputs(cut_end ? "…\n" : "\n", out);
    fprintf(out, "  %*s^\n", column - first + (first > 1), "");
}

void rfy_write_problems(FILE *out, const rfy_problems *list) {
    for (size_t i = 0; i < list->n; i++) {
        const rfy_problem *p = &list->item[i];
        bool setting = p->line == 0 && p->column > 0;
        if (setting) {
            put(out, list->option);
        } else {
            put(out, list->file);
            if (p->line > 0)
                fprintf(out, ":%d:%d", p->line, p->column);
        }
        fprintf(out, ": %s: ", p->severity == RFY_ERROR ? "error" : "warning");
        if (*p->path) {
            put(out, p->path);
            fputs(": ", out);
        }
        put(out, p->what);
        if (p->allowed) {
            fputs("; allowed: ", out);
            put(out, p->allowed);
        }
        if (p->hint) {
            fputs("; ", out);
            put(out, p->hint);
        }
        fputc('\n', out);
        if (p->line > 0 && list->text)
            write_source(out, list->text, list->text_length, p->line, p->column);
    }
    if (list->total > list->n)
        fprintf(out, "… and %zu more\n", list->total - list->n);
}
