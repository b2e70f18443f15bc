/* The table of a run: when, pressures of the chambers that tell most, what you do or what happens.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/arena.h"
#include "io/write_common.h"

enum {
    WHEN = 13,         /* columns: two blanks and "23 h 59 min" */
    MANY_EVENTS = 40,  /* above this, changes of regime are left out; */
    FIRST_EVENTS = 40, /* and of more than the sum of these, those in between, */
    LAST_EVENTS = 20,  /* except what a reader must not miss */
    FEW_TIMES = 24     /* up to this the whole series is shown */
};

typedef struct row {
    double time;
    const rfy_event *event; /* NULL: only pressures */
    double *pressure;       /* allocated when event is NULL */
} row;

typedef struct table {
    const rfy_result *result;
    rfy_columns columns;
    row *row;
    size_t n_rows;
    size_t regimes_left_out, others_left_out;
} table;

/* ---- which rows ---- */

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

static bool must_show(const rfy_event *event) {
    return event->kind == RFY_EVENT_START || event->kind == RFY_EVENT_TARGET ||
           event->kind == RFY_EVENT_LIMIT || event->kind == RFY_EVENT_END ||
           event->kind == RFY_EVENT_FAULT;
}

static bool is_left_out(const rfy_result *r, const rfy_event *event) {
    return r->n_events > MANY_EVENTS && event->kind == RFY_EVENT_REGIME;
}

static void choose_events(table *t) {
    const rfy_result *r = t->result;
    size_t others = 0, seen = 0;
    for (size_t i = 0; i < r->n_events; i++)
        others += !must_show(&r->event[i]) && !is_left_out(r, &r->event[i]);
    for (size_t i = 0; i < r->n_events; i++) {
        const rfy_event *event = &r->event[i];
        if (is_left_out(r, event)) {
            t->regimes_left_out++;
            continue;
        }
        if (!must_show(event)) {
            bool between = seen >= FIRST_EVENTS && seen + LAST_EVENTS < others;
            seen++;
            if (between) {
                t->others_left_out++;
                continue;
            }
        }
        add_row(t, event->time, event, NULL);
    }
}

static void choose_rows(table *t) {
    /* Round times that fill long gaps between events. */
    static const double round_time[] = {1e-3,  1e-2,        0.1,          1,           10,
                                        60,    600,         3600,         4 * 3600.0,  12 * 3600.0,
                                        86400, 3 * 86400.0, 10 * 86400.0, 30 * 86400.0};
    const size_t n_round = sizeof round_time / sizeof round_time[0];
    const rfy_result *r = t->result;
    t->row = rfy_xcalloc(r->n_events + FEW_TIMES + n_round, sizeof *t->row);
    choose_events(t);
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

/* ---- printing ---- */

static bool tells_nothing_new(const table *t, const double *p, const double *before) {
    for (size_t k = 0; before && k < t->columns.n; k++) {
        double a = before[t->columns.chamber[k]], b = p[t->columns.chamber[k]];
        if (fabs(b - a) > 0.05 * fabs(a))
            return false;
    }
    return before != NULL;
}

void rfy_page_events(rfy_page *page, const rfy_result *result) {
    if (result->n_events == 0 && result->n_times == 0)
        return;
    table t = {.result = result};
    t.columns = rfy_columns_choose(page, result, WHEN);
    choose_rows(&t);
    rfy_page_heading(page, "WHEN AND WHAT (pressures in %s)", page->unit);
    rfy_columns_header(page, &t.columns, result, "  when", "what you do, what happens");
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
        for (size_t k = 0; k < t.columns.n; k++) {
            fputs("  ", page->out);
            rfy_page_cell(
                page,
                again || !p
                    ? ""
                    : rfy_show_pressure_number(page, p[t.columns.chamber[k]], 3, false).text,
                t.columns.width[k], true);
        }
        if (w->event) {
            char what[1024];
            const char *lead = w->event->kind == RFY_EVENT_ACTION  ? "do: "
                               : w->event->kind == RFY_EVENT_RULE  ? "rule: "
                               : w->event->kind == RFY_EVENT_FAULT ? "FAULT: "
                               : w->event->kind == RFY_EVENT_LIMIT ? "BROKEN: "
                                                                   : "";
            snprintf(what, sizeof what, "%s%s", lead, w->event->what ? w->event->what : "");
            bool loud = w->event->kind == RFY_EVENT_LIMIT || w->event->kind == RFY_EVENT_TARGET;
            fputs("   ", page->out);
            if (loud)
                rfy_page_bold(page, true);
            rfy_page_rest(page, t.columns.words, t.columns.words, what);
            if (loud)
                rfy_page_bold(page, false);
        } else {
            putc('\n', page->out);
        }
        last = w->time;
        if (p)
            before = p;
    }
    rfy_columns_footer(page, &t.columns, "--csv and --json");
    if (t.regimes_left_out)
        rfy_page_say(page, 2, 2, "(%zu change%s of flow regime %s left out here; --json has %s.)",
                     t.regimes_left_out, t.regimes_left_out == 1 ? "" : "s",
                     t.regimes_left_out == 1 ? "is" : "are",
                     t.regimes_left_out == 1 ? "it" : "them");
    if (t.others_left_out)
        rfy_page_say(page, 2, 2, "(%zu events in the middle are left out here; --json has them.)",
                     t.others_left_out);
    for (size_t i = 0; i < t.n_rows; i++)
        free(t.row[i].pressure);
    free(t.row);
}
