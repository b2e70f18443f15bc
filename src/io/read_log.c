/* A log, line by line, to points in bounded memory, with an account of what was left out. */
#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "io/log_format.h"
#include "io/log_lines.h"

enum { USUAL_MOST = 20000 };

typedef enum loss {
    LOSS_OVER,
    LOSS_UNDER,
    LOSS_INFINITE,
    LOSS_NAN,
    LOSS_OFF,
    LOSS_EMPTY,
    LOSS_MARK,
    LOSS_TEXT,
    LOSS_TIME,
    LOSS_BACK,
    LOSS_AHEAD,
    LOSS_TWICE,
    LOSS_NUL,
    LOSS_LONG,
    LOSS_TEMPERATURE,
    N_LOSSES
} loss;

static const char *const reasons[N_LOSSES] = {
    [LOSS_OVER] = "over-range mark",
    [LOSS_UNDER] = "under-range mark",
    [LOSS_INFINITE] = "infinite",
    [LOSS_NAN] = "not a number",
    [LOSS_OFF] = "gauge off or in error",
    [LOSS_EMPTY] = "cell missing or empty",
    [LOSS_MARK] = "written with another decimal mark than the rest",
    [LOSS_TEXT] = "text where a pressure should be",
    [LOSS_TIME] = "no readable time",
    [LOSS_BACK] = "time goes back",
    [LOSS_AHEAD] = "time leaps ahead and comes back",
    [LOSS_TWICE] = "time stands still",
    [LOSS_NUL] = "bytes that are no text",
    [LOSS_LONG] = "line too long",
    [LOSS_TEMPERATURE] = "no readable temperature",
};

typedef struct point {
    double time, pressure, temperature;
    long line;
    long weight;
} point;

typedef struct reading {
    rfy_arena *arena;
    const rfy_units *units;
    const rfy_log_options *options;
    rfy_log_format format;
    rfy_log_date_order order;
    rfy_log_loss loss[N_LOSSES];
    rfy_log_notes notes;
    size_t rows, used, n, most, room;
    point *point;
    bool have_pending, thinned;
    point pending;
    double days, last_clock, first; /* for clock times: whole days passed, s */
    bool have_clock;
    double ratio; /* neighbours closer than ratio (t + span of the first rows) are merged */
    long n_midnights;
} reading;

static void lose(reading *r, loss why, long line, const char *text) {
    rfy_log_loss *l = &r->loss[why];
    if (l->rows++ == 0) {
        char shown[48];
        size_t n = 0;
        for (; text[n] && n < sizeof shown - 4; n++)
            shown[n] = (unsigned char)text[n] < 0x20 || text[n] == 0x7f ? '?' : text[n];
        while (n > 0 && text[n] && ((unsigned char)text[n] & 0xC0) == 0x80)
            n--;
        memcpy(shown + n, text[n] ? "…" : "", text[n] ? 4 : 1);
        l->example = rfy_arena_strdup(r->arena, shown);
        l->first = line;
    }
    l->last = line;
}

/* ---- points ---- */

/* Neighbours are averaged where they stand closer than a share of the time since the beginning, the
 * share growing until half of the room is free again. */
static void thin(reading *r) {
    if (r->ratio <= 0)
        r->ratio = 1e-5;
    r->thinned = true;
    double start = r->point[0].time;
    double soon = r->n > 8 ? r->point[8].time - start : 1;
    while (r->n > r->most / 2) {
        size_t kept = 0;
        double began = r->point[0].time; /* of the point that is being gathered */
        for (size_t i = 1; i < r->n; i++) {
            point *last = &r->point[kept];
            const point *next = &r->point[i];
            if (next->time - began <= r->ratio * (next->time - start + soon)) {
                double w = (double)last->weight, v = (double)next->weight, all = w + v;
                last->time = (w * last->time + v * next->time) / all;
                last->pressure = (w * last->pressure + v * next->pressure) / all;
                last->temperature = (w * last->temperature + v * next->temperature) / all;
                last->weight += next->weight;
            } else {
                began = next->time;
                r->point[++kept] = *next;
            }
        }
        r->n = kept + 1;
        if (r->n > r->most / 2)
            r->ratio *= 1.3;
    }
}

static void keep(reading *r, const point *p) {
    if (r->n == r->room) {
        if (r->room < 2 * r->most) {
            r->room = r->room ? 2 * r->room : 1024;
            r->room = r->room < 2 * r->most ? r->room : 2 * r->most;
            r->point = rfy_xrealloc(r->point, r->room, sizeof *r->point);
        } else {
            thin(r);
        }
    }
    r->point[r->n++] = *p;
    r->used++;
}

/* One row is held back: whether its time leaps ahead shows only with the next. */
static void take(reading *r, const point *p, const char *text) {
    if (!r->have_pending) {
        r->pending = *p;
        r->have_pending = true;
        return;
    }
    double before = r->n > 0 ? r->point[r->n - 1].time : (double)-INFINITY;
    if (p->time > r->pending.time) {
        keep(r, &r->pending);
        r->pending = *p;
    } else if (p->time == r->pending.time) {
        lose(r, LOSS_TWICE, p->line, text);
    } else if (r->n > 0 && r->pending.time - before > 5 * (p->time - before) && p->time > before) {
        lose(r, LOSS_AHEAD, r->pending.line, "");
        r->pending = *p;
    } else {
        lose(r, LOSS_BACK, p->line, text);
    }
}

/* ---- a row ---- */

static loss loss_of(rfy_log_kind kind) {
    static const loss by_kind[] = {
        [RFY_CELL_NUMBER] = LOSS_TEXT,       [RFY_CELL_EMPTY] = LOSS_EMPTY,
        [RFY_CELL_OVER] = LOSS_OVER,         [RFY_CELL_UNDER] = LOSS_UNDER,
        [RFY_CELL_INFINITE] = LOSS_INFINITE, [RFY_CELL_NAN] = LOSS_NAN,
        [RFY_CELL_OFF] = LOSS_OFF,           [RFY_CELL_MARK] = LOSS_MARK,
        [RFY_CELL_TEXT] = LOSS_TEXT};
    return by_kind[kind];
}

/* Clock times go past midnight when they fall by more than half a day. */
static double unroll(reading *r, rfy_log_time_kind kind, double seconds) {
    if (kind != RFY_TIME_CLOCK)
        return seconds;
    if (r->have_clock && seconds + r->days < r->last_clock - 43200) {
        r->days += 86400;
        r->n_midnights++;
    }
    seconds += r->days;
    r->last_clock = seconds;
    r->have_clock = true;
    return seconds;
}

static void read_row(reading *r, long line, char *text) {
    rfy_log_cells cells;
    char shown[64];
    snprintf(shown, sizeof shown, "%.60s", text);
    rfy_log_cut(text, r->format.separator, &cells);
    if (cells.n < 2 && cells.text[0][0] == '\0')
        return;
    r->rows++;
    point p = {.line = line, .weight = 1, .temperature = NAN};
    rfy_log_time_kind kind;
    if (rfy_log_row_time(&r->format, r->units, &cells, &r->order, &kind, &p.time) !=
        RFY_CELL_NUMBER) {
        lose(r, LOSS_TIME, line, shown);
        return;
    }
    p.time = unroll(r, kind, p.time);
    rfy_log_kind found = rfy_log_row_value(&r->format, r->units, &r->format.pressure,
                                           RFY_DIM_PRESSURE, &cells, &p.pressure);
    if (found != RFY_CELL_NUMBER) {
        lose(r, loss_of(found), line,
             r->format.pressure.place < (int)cells.n ? cells.text[r->format.pressure.place] : "");
        return;
    }
    if (r->format.temperature.place >= 0 &&
        (rfy_log_row_value(&r->format, r->units, &r->format.temperature, RFY_DIM_TEMPERATURE,
                           &cells, &p.temperature) != RFY_CELL_NUMBER ||
         !(p.temperature > 0))) {
        lose(r, LOSS_TEMPERATURE, line, shown);
        return;
    }
    take(r, &p, shown);
}

static void read_line(reading *r, const rfy_log_lines *lines, char *text) {
    if (lines->nul) {
        r->rows++;
        lose(r, LOSS_NUL, lines->line, "");
    } else if (lines->long_line) {
        r->rows++;
        lose(r, LOSS_LONG, lines->line, text);
    } else if (!rfy_log_is_comment(text, r->format.separator)) {
        read_row(r, lines->line, text);
    }
}

/* ---- the account ---- */

static int by_value(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Gaps: pauses more than ten times the median interval nearby. */
static void tell_gaps(reading *r) {
    if (r->n < 8 || r->thinned)
        return;
    double *step = rfy_xcalloc(r->n - 1, sizeof *step);
    for (size_t i = 1; i < r->n; i++)
        step[i - 1] = r->point[i].time - r->point[i - 1].time;
    qsort(step, r->n - 1, sizeof *step, by_value);
    double usual = step[(r->n - 1) / 2], span = r->point[r->n - 1].time - r->point[0].time;
    free(step);
    size_t n = 0, where = 0;
    double longest = 0;
    for (size_t i = 1; i < r->n; i++) {
        double own = r->point[i].time - r->point[i - 1].time;
        /* intervals that grow with time are a way of logging, not gaps */
        double before = i > 1 ? r->point[i - 1].time - r->point[i - 2].time : usual;
        double after = i + 1 < r->n ? r->point[i + 1].time - r->point[i].time : before;
        if (own > 10 * usual && own > 5 * before && own > 5 * after && own > 0.01 * span) {
            n++;
            if (own > longest) {
                longest = own;
                where = i;
            }
        }
    }
    if (n > 0)
        rfy_log_note(&r->notes, "%zu gap%s; the longest is %.4g s, before line %ld", n,
                     n == 1 ? "" : "s", longest, r->point[where].line);
}

static rfy_log *finish(reading *r, const char *name, long lines) {
    rfy_log *log = RFY_NEW(r->arena, 1, rfy_log);
    double *time = RFY_NEW(r->arena, r->n, double), *pressure = RFY_NEW(r->arena, r->n, double);
    double *temperature = RFY_NEW(r->arena, r->n, double);
    long *line = RFY_NEW(r->arena, r->n, long);
    double first = r->point[0].time;
    bool clock = !r->format.numeric;
    /* seconds since 1970 and the like count from the first row too */
    bool shifted = clock || first < 0 || first > 1e7;
    tell_gaps(r);
    for (size_t i = 0; i < r->n; i++) {
        time[i] = r->point[i].time - (shifted ? first : 0);
        pressure[i] = r->point[i].pressure;
        temperature[i] = r->point[i].temperature;
        line[i] = r->point[i].line;
    }
    if (shifted && !clock)
        rfy_log_note(&r->notes, "times count from the first row, %.10g s in the log", first);
    if (r->n_midnights > 0)
        rfy_log_note(&r->notes, "the clock passes midnight %ld time%s", r->n_midnights,
                     r->n_midnights == 1 ? "" : "s");
    if (r->thinned)
        rfy_log_note(&r->notes,
                     "thinned from %zu to %zu points: rows closer than %.2g of the time since the "
                     "beginning are averaged",
                     r->used, r->n, r->ratio);
    size_t n_losses = 0;
    rfy_log_loss *losses = RFY_NEW(r->arena, N_LOSSES, rfy_log_loss);
    for (int i = 0; i < N_LOSSES; i++)
        if (r->loss[i].rows > 0) {
            losses[n_losses] = r->loss[i];
            losses[n_losses++].why = reasons[i];
        }
    *log = (rfy_log){.name = rfy_arena_strdup(r->arena, name),
                     .n = r->n,
                     .time = time,
                     .pressure = pressure,
                     .temperature = r->format.temperature.place >= 0 ? temperature : NULL,
                     .line = line,
                     .clock = clock,
                     .lines = lines,
                     .rows = r->rows,
                     .used = r->used,
                     .thinned = r->thinned,
                     .n_losses = n_losses,
                     .loss = losses,
                     .n_notes = r->notes.n,
                     .note = r->notes.text};
    return log;
}

typedef struct log_box {
    rfy_log log; /* first: a pointer to it is a pointer to the box */
    rfy_arena *arena;
} log_box;

static bool is_stopped(const rfy_log_options *options) {
    return options->stop && *options->stop;
}

static void nothing_usable(const reading *r, rfy_problems *problems) {
    size_t worst = N_LOSSES;
    for (size_t i = 0; i < N_LOSSES; i++)
        if (r->loss[i].rows > 0 && (worst == N_LOSSES || r->loss[i].rows > r->loss[worst].rows))
            worst = i;
    rfy_place at = {0, 0, ""};
    if (worst < N_LOSSES) {
        at.line = r->loss[worst].first > INT_MAX ? 0 : (int)r->loss[worst].first;
        at.column = at.line > 0;
        rfy_problem_add(problems, RFY_ERROR, &at, NULL, NULL,
                        "none of the %zu rows can be used; %zu of them: %s (here \"%s\")", r->rows,
                        r->loss[worst].rows, reasons[worst], r->loss[worst].example);
    } else {
        rfy_problem_add(problems, RFY_ERROR, &at, NULL, NULL, "the log has no rows");
    }
}

rfy_status rfy_log_read(rfy_log **out, FILE *in, const char *name, const rfy_log_options *options,
                        rfy_problems *problems) {
    static const rfy_log_options usual = RFY_LOG_OPTIONS_INIT;
    rfy_arena *arena = rfy_arena_new();
    rfy_log_lines *lines = rfy_xcalloc(1, sizeof *lines);
    reading *r = RFY_NEW(arena, 1, reading);
    rfy_log_sample *sample = RFY_NEW(arena, 1, rfy_log_sample);
    rfy_status status = RFY_BAD_INPUT;
    *out = NULL;
    r->arena = r->notes.arena = arena;
    r->units = rfy_units_new(arena);
    r->options = options = options ? options : &usual;
    r->most = options->most > 0 ? options->most : USUAL_MOST;
    r->most = r->most < 64 ? 64 : r->most;
    rfy_log_lines_begin(lines, in);
    if (lines->wide) {
        rfy_place whole = {1, 1, ""};
        rfy_problem_add(problems, RFY_ERROR, &whole, "UTF-8 or plain ASCII",
                        "save it again as UTF-8 (\"CSV UTF-8\" in spreadsheets)",
                        "the log is UTF-16 or UTF-32");
        goto done;
    }
    /* the first lines are kept until it is known how they are to be read */
    bool more = true;
    bool nul[RFY_LOG_SAMPLE], longer[RFY_LOG_SAMPLE];
    while (sample->n < RFY_LOG_SAMPLE && (more = rfy_log_lines_next(lines))) {
        nul[sample->n] = lines->nul;
        longer[sample->n] = lines->long_line;
        sample->line[sample->n] = lines->line;
        sample->text[sample->n++] = rfy_arena_strdup(arena, lines->nul ? "" : lines->text);
    }
    if (!rfy_log_find_format(arena, r->units, sample, options, &r->format, &r->notes, problems))
        goto done;
    r->order = r->format.order;
    long end = lines->line;
    for (size_t i = 0; i < sample->n; i++) {
        lines->line = sample->line[i];
        lines->nul = nul[i];
        lines->long_line = longer[i];
        if (lines->line >= r->format.first_data)
            read_line(r, lines, sample->text[i]);
    }
    lines->line = end;
    while (more && !is_stopped(options) && rfy_log_lines_next(lines))
        read_line(r, lines, lines->text);
    if (is_stopped(options)) {
        status = RFY_INTERRUPTED;
        goto done;
    }
    if (r->have_pending)
        keep(r, &r->pending);
    if (ferror(in)) {
        rfy_problem_add(problems, RFY_ERROR, NULL, NULL, NULL, "the log cannot be read to its end");
        status = RFY_IO_FAILED;
        goto done;
    }
    if (r->n == 0) {
        nothing_usable(r, problems);
        goto done;
    }
    if (r->n > r->most)
        thin(r);
    log_box *box = RFY_NEW(arena, 1, log_box);
    box->log = *finish(r, name, lines->line);
    box->arena = arena;
    *out = &box->log;
    status = RFY_OK;
done:
    free(r->point);
    free(lines);
    if (status != RFY_OK)
        rfy_arena_free(arena);
    return status;
}

void rfy_log_free(rfy_log *log) {
    if (log)
        rfy_arena_free(((log_box *)log)->arena);
}
