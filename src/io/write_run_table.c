/* The table of a run: when, pressures of the chambers that tell most, what you do or what happens.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/arena.h"
#include "io/write_common.h"

enum {
    WHEN = 12,        /* columns: "23 h 59 min" and one more */
    MOST_COLUMNS = 5, /* chambers */
    COLUMN_MIN = 8,   /* "1.23e-10" */
    COLUMN_MAX = 14,
    MANY_EVENTS = 40, /* above this, changes of regime are left out */
    FEW_TIMES = 24    /* up to this the whole series is shown */
};

typedef struct row {
    double time;
    const rfy_event *event; /* NULL: only pressures */
    double *pressure;       /* allocated when event is NULL */
} row;

typedef struct table {
    const rfy_result *result;
    size_t column[MOST_COLUMNS], n_columns, left_out;
    int width[MOST_COLUMNS];
    int what; /* column where the words begin */
    row *row;
    size_t n_rows;
    size_t regimes_left_out;
} table;

/* ---- which chambers ------------------------------------------------------------------------- */

static int longest_word(const char *name) {
    int longest = 0;
    for (const char *c = name; *c;) {
        size_t n = strcspn(c, " ");
        char word[256];
        snprintf(word, sizeof word, "%.*s", (int)n, c);
        int wide = rfy_text_columns(word);
        if (wide > longest)
            longest = wide;
        c += n;
        c += strspn(c, " ");
    }
    return longest;
}

static bool same(const char *a, const char *b) {
    return a && b && strcmp(a, b) == 0;
}

/* Chambers with a target come first, then those a limit watches, then those whose pressure changes
 * at all. */
static int interest(const rfy_result *r, size_t c) {
    int score = 0;
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
        if (fabs(b - a) > 1e-3 * fabs(a)) {
            score |= 1;
            break;
        }
    }
    return score;
}

static void choose_columns(table *t, int page_width) {
    const rfy_result *r = t->result;
    bool *taken = rfy_xcalloc(r->n_chambers + 1, sizeof *taken);
    int room = page_width - WHEN - 3 - (page_width * 3 / 10 > 26 ? page_width * 3 / 10 : 26);
    int *score = rfy_xcalloc(r->n_chambers + 1, sizeof *score);
    size_t named = 0, chosen = 0;
    for (size_t c = 0; c < r->n_chambers; c++) {
        named += !rfy_is_inside(r, c);
        score[c] = rfy_is_inside(r, c) ? -1 : interest(r, c);
    }
    while (chosen < MOST_COLUMNS && chosen < named) {
        size_t best = r->n_chambers;
        for (size_t c = 0; c < r->n_chambers; c++)
            if (!taken[c] && score[c] >= 0 && (best == r->n_chambers || score[c] > score[best]))
                best = c;
        int wide = longest_word(r->chamber[best]);
        wide = wide < COLUMN_MIN ? COLUMN_MIN : wide > COLUMN_MAX ? COLUMN_MAX : wide;
        room -= wide + 2;
        if (room < 0 && chosen > 0)
            break;
        taken[best] = true;
        chosen++;
    }
    t->what = WHEN + 3;
    for (size_t c = 0; c < r->n_chambers; c++) /* in the order of the description */
        if (taken[c]) {
            int wide = longest_word(r->chamber[c]);
            wide = wide < COLUMN_MIN ? COLUMN_MIN : wide > COLUMN_MAX ? COLUMN_MAX : wide;
            t->width[t->n_columns] = wide;
            t->column[t->n_columns++] = c;
            t->what += wide + 2;
        }
    t->left_out = named - t->n_columns;
    free(taken);
    free(score);
}

/* ---- which rows ----------------------------------------------------------------------------- */

static double *series_point(const rfy_result *r, size_t i) {
    double *p = rfy_xcalloc(r->n_chambers + 1, sizeof *p);
    memcpy(p, r->pressure + i * r->n_chambers, r->n_chambers * sizeof *p);
    return p;
}

/* Pressures between two points of the series, straight in log p against time; NULL when an event
 * lies between them, since the curve has a corner there. */
static double *between_points(const rfy_result *r, double time) {
    size_t i = 0;
    while (i + 1 < r->n_times && r->time[i + 1] < time)
        i++;
    if (i + 1 >= r->n_times || r->time[i] > time || i == 0)
        return NULL;
    for (size_t k = 0; k < r->n_events; k++)
        if (r->event[k].time > r->time[i] && r->event[k].time < r->time[i + 1])
            return NULL;
    double *p = rfy_xcalloc(r->n_chambers + 1, sizeof *p);
    double f = (time - r->time[i]) / (r->time[i + 1] - r->time[i]);
    for (size_t c = 0; c < r->n_chambers; c++) {
        double a = r->pressure[i * r->n_chambers + c], b = r->pressure[(i + 1) * r->n_chambers + c];
        p[c] = a > 0 && b > 0 ? a * pow(b / a, f) : a + f * (b - a);
    }
    return p;
}

static int by_time(const void *a, const void *b) {
    const row *x = a, *y = b;
    if (x->time != y->time)
        return x->time < y->time ? -1 : 1;
    if (x->event && y->event)
        return x->event < y->event ? -1 : x->event > y->event;
    return (x->event == NULL) - (y->event == NULL);
}

static bool near_a_row(const table *t, double time, double factor) {
    for (size_t i = 0; i < t->n_rows; i++)
        if (t->row[i].time < time * factor && t->row[i].time * factor > time)
            return true;
    return false;
}

static void add_row(table *t, double time, const rfy_event *event, double *pressure) {
    t->row[t->n_rows++] = (row){time, event, pressure};
}

static void choose_rows(table *t) {
    /* Round times that fill long gaps between events. */
    static const double round_time[] = {1e-3,  1e-2,        0.1,          1,           10,
                                        60,    600,         3600,         4 * 3600.0,  12 * 3600.0,
                                        86400, 3 * 86400.0, 10 * 86400.0, 30 * 86400.0};
    const size_t n_round = sizeof round_time / sizeof round_time[0];
    const rfy_result *r = t->result;
    t->row = rfy_xcalloc(r->n_events + FEW_TIMES + n_round, sizeof *t->row);
    for (size_t i = 0; i < r->n_events; i++) {
        if (r->n_events > MANY_EVENTS && r->event[i].kind == RFY_EVENT_REGIME)
            t->regimes_left_out++;
        else
            add_row(t, r->event[i].time, &r->event[i], NULL);
    }
    if (r->n_times <= FEW_TIMES) {
        for (size_t i = 0; i < r->n_times; i++)
            if (!near_a_row(t, r->time[i], 1 + 1e-9) && r->time[i] >= 0)
                add_row(t, r->time[i], NULL, series_point(r, i));
    } else {
        for (size_t i = 0; i < n_round; i++) {
            double *p = near_a_row(t, round_time[i], 2) ? NULL : between_points(r, round_time[i]);
            if (p)
                add_row(t, round_time[i], NULL, p);
        }
    }
    qsort(t->row, t->n_rows, sizeof *t->row, by_time);
}

/* ---- printing ------------------------------------------------------------------------------- */

/* The words of `name` that fit in `width`, from *at on; moves *at. */
static void next_header_line(const char *name, size_t *at, int width, char *line, size_t size) {
    line[0] = '\0';
    for (;;) {
        size_t space = strspn(name + *at, " "), n = strcspn(name + *at + space, " ");
        if (n == 0)
            return;
        char longer[256];
        snprintf(longer, sizeof longer, "%s%s%.*s", line, line[0] ? " " : "", (int)n,
                 name + *at + space);
        if (line[0] && rfy_text_columns(longer) > width)
            return;
        snprintf(line, size, "%s", longer);
        *at += space + n;
    }
}

static void write_header(rfy_page *page, const table *t) {
    size_t at[MOST_COLUMNS] = {0};
    bool first = true;
    for (bool more = true; more; first = false) {
        more = false;
        rfy_page_cell(page, first ? "  when" : "", WHEN, false);
        for (size_t k = 0; k < t->n_columns; k++) {
            const char *name = t->result->chamber[t->column[k]];
            char line[256];
            next_header_line(name, &at[k], t->width[k], line, sizeof line);
            fputs("  ", page->out);
            rfy_page_cell(page, line, t->width[k], true);
            more = more || name[at[k] + strspn(name + at[k], " ")] != '\0';
        }
        fprintf(page->out, "%s\n", first ? "   what you do (do: ...), what happens" : "");
    }
}

static bool tells_nothing_new(const table *t, const double *p, const double *before) {
    for (size_t k = 0; before && k < t->n_columns; k++) {
        double a = before[t->column[k]], b = p[t->column[k]];
        if (fabs(b - a) > 0.05 * fabs(a))
            return false;
    }
    return before != NULL;
}

void rfy_page_events(rfy_page *page, const rfy_result *result) {
    if (result->n_events == 0 && result->n_times == 0)
        return;
    table t = {.result = result};
    choose_columns(&t, page->width);
    choose_rows(&t);
    rfy_page_heading(page, "WHEN AND WHAT (pressures in %s)", page->unit);
    write_header(page, &t);
    const double *before = NULL;
    double last = -INFINITY;
    for (size_t i = 0; i < t.n_rows; i++) {
        const row *w = &t.row[i];
        const double *p = w->event ? w->event->pressure : w->pressure;
        bool again = w->time == last; /* several things at once: time and pressures stand once */
        if (!w->event &&
            (again || (result->n_times > FEW_TIMES && tells_nothing_new(&t, p, before))))
            continue;
        char when[96];
        snprintf(when, sizeof when, "  %s", again ? "" : rfy_show_time(w->time).text);
        rfy_page_cell(page, when, WHEN, false);
        for (size_t k = 0; k < t.n_columns; k++) {
            fputs("  ", page->out);
            rfy_page_cell(
                page,
                again || !p ? "" : rfy_show_number(p[t.column[k]] / page->unit_Pa, 3, false).text,
                t.width[k], true);
        }
        if (w->event) {
            char what[1024];
            const char *lead = w->event->kind == RFY_EVENT_ACTION  ? "do: "
                               : w->event->kind == RFY_EVENT_LIMIT ? "BROKEN: "
                                                                   : "";
            snprintf(what, sizeof what, "%s%s", lead, w->event->what ? w->event->what : "");
            bool loud = w->event->kind == RFY_EVENT_LIMIT || w->event->kind == RFY_EVENT_TARGET;
            fputs("   ", page->out);
            if (loud)
                rfy_page_bold(page, true);
            rfy_page_rest(page, t.what, t.what, what);
            if (loud)
                rfy_page_bold(page, false);
        } else {
            putc('\n', page->out);
        }
        last = w->time;
        if (p)
            before = p;
    }
    if (t.left_out)
        rfy_page_say(page, 2, 2, "(%zu more chamber%s in --csv and --json.)", t.left_out,
                     t.left_out == 1 ? "" : "s");
    if (t.regimes_left_out)
        rfy_page_say(page, 2, 2, "(%zu changes of flow regime are left out here; --json has them.)",
                     t.regimes_left_out);
    for (size_t i = 0; i < t.n_rows; i++)
        free(t.row[i].pressure);
    free(t.row);
}
