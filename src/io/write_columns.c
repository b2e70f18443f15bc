/* Tables with one column for each of a few chambers. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/arena.h"
#include "io/write_common.h"

enum {
    COLUMN_MIN = 8, /* "1.23e-10" */
    COLUMN_MAX = 14
};

/* Columns of the first n bytes of a name. */
static int columns_of(const char *name, size_t n) {
    char part[256];
    if (n >= sizeof part)
        n = sizeof part - 1;
    memcpy(part, name, n);
    part[n] = '\0';
    return rfy_text_columns(part);
}

static int width_for(const char *name) {
    int widest = COLUMN_MIN;
    for (const char *c = name; *c;) {
        size_t n = strcspn(c, " ");
        int wide = columns_of(c, n);
        widest = wide > widest ? wide : widest;
        c += n;
        c += strspn(c, " ");
    }
    return widest < COLUMN_MAX ? widest : COLUMN_MAX;
}

static bool same(const char *a, const char *b) {
    return a && b && strcmp(a, b) == 0;
}

/* Chambers with a target come first, then those a limit watches, then those whose pressure changes.
 */
static int interest(const rfy_result *r, size_t c) {
    int score = 0;
    if (rfy_is_inside(r, c))
        return -1;
    for (size_t i = 0; i < r->n_targets; i++)
        if (same(r->target[i].chamber, r->chamber[c]))
            score |= 8;
    for (size_t i = 0; i < r->n_limits; i++)
        if (same(r->limit[i].watch, r->chamber[c]))
            score |= 4;
    for (size_t i = 0; i < r->n_bottlenecks; i++)
        if (same(r->bottleneck[i].chamber, r->chamber[c]))
            score |= 2;
    for (size_t i = 1; i < r->n_times; i++) {
        double a = r->pressure[c], b = r->pressure[i * r->n_chambers + c];
        if (fabs(b - a) > 1e-3 * fabs(a))
            return score | 1;
    }
    return score;
}

rfy_columns rfy_columns_choose(const rfy_page *page, const rfy_result *r, int begin) {
    rfy_columns t = {.begin = begin, .words = begin + 3};
    int for_words = page->width * 3 / 10 > 26 ? page->width * 3 / 10 : 26;
    int room = page->width - begin - 3 - for_words;
    int *score = rfy_xcalloc(r->n_chambers + 1, sizeof *score);
    bool *taken = rfy_xcalloc(r->n_chambers + 1, sizeof *taken);
    size_t named = 0, chosen = 0;
    for (size_t c = 0; c < r->n_chambers; c++) {
        score[c] = interest(r, c);
        named += score[c] >= 0;
    }
    while (chosen < RFY_MOST_COLUMNS && chosen < named) {
        size_t best = r->n_chambers;
        for (size_t c = 0; c < r->n_chambers; c++)
            if (!taken[c] && score[c] >= 0 && (best == r->n_chambers || score[c] > score[best]))
                best = c;
        room -= width_for(r->chamber[best]) + 2;
        if (room < 0 && chosen > 0)
            break;
        taken[best] = true;
        chosen++;
    }
    for (size_t c = 0; c < r->n_chambers; c++) /* in the order of the description */
        if (taken[c]) {
            t.width[t.n] = width_for(r->chamber[c]);
            t.words += t.width[t.n] + 2;
            t.chamber[t.n++] = c;
        }
    t.left_out = named - t.n;
    free(taken);
    free(score);
    return t;
}

/* The bytes of `name` for one line of `width` columns: whole words, or a piece of one too long. */
static size_t line_length(const char *name, int width) {
    size_t n = 0;
    for (;;) {
        size_t next = n + strspn(name + n, " ");
        next += strcspn(name + next, " ");
        if (next == n || columns_of(name, next) > width)
            break;
        n = next;
        if (!name[n])
            break;
    }
    if (n > 0)
        return n;
    size_t end = strcspn(name, " ");
    while (n < end && columns_of(name, n + 1) <= width)
        n++;
    while (n < end && ((unsigned char)name[n] & 0xc0) == 0x80)
        n++;
    return n > 0 ? n : end;
}

void rfy_columns_header(rfy_page *page, const rfy_columns *t, const rfy_result *r, const char *lead,
                        const char *words) {
    const char *left[RFY_MOST_COLUMNS];
    for (size_t k = 0; k < t->n; k++)
        left[k] = r->chamber[t->chamber[k]];
    bool more = true;
    for (int line = 0; more && line < 20; line++) {
        more = false;
        int blank = t->begin; /* held back, so that no line ends in blanks */
        if (line == 0) {
            rfy_page_cell(page, lead, t->begin, false);
            blank = 0;
        }
        for (size_t k = 0; k < t->n; k++) {
            char text[256] = "";
            size_t n = line_length(left[k], t->width[k]);
            memcpy(text, left[k], n < sizeof text - 1 ? n : sizeof text - 1);
            left[k] += n;
            left[k] += strspn(left[k], " ");
            more = more || *left[k];
            blank += 2 + t->width[k];
            if (text[0]) {
                rfy_page_cell(page, text, blank, true);
                blank = 0;
            }
        }
        if (line == 0) {
            fputs("   ", page->out);
            rfy_page_rest(page, t->words, t->words, words);
        } else {
            putc('\n', page->out);
        }
    }
}

void rfy_columns_footer(rfy_page *page, const rfy_columns *t, const char *where) {
    if (t->left_out)
        rfy_page_say(page, 2, 2, "(%zu more chamber%s in %s.)", t->left_out,
                     t->left_out == 1 ? "" : "s", where);
}
