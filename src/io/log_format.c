#include "io/log_format.h"
#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

static const char separators[] = ";\t,| ";

void rfy_log_note(rfy_log_notes *notes, const char *format, ...) {
    if (notes->n == notes->room) {
        size_t more = notes->room ? 2 * notes->room : 8;
        notes->text =
            rfy_arena_grow(notes->arena, notes->text, notes->room, more, sizeof *notes->text);
        notes->room = more;
    }
    va_list args;
    va_start(args, format);
    notes->text[notes->n++] = rfy_arena_vprintf(notes->arena, format, args);
    va_end(args);
}

static bool fail(rfy_problems *problems, long line, const char *allowed, const char *hint,
                 const char *format, ...) __attribute__((format(printf, 5, 6)));
static bool fail(rfy_problems *problems, long line, const char *allowed, const char *hint,
                 const char *format, ...) {
    va_list args;
    va_start(args, format);
    const char *what = rfy_arena_vprintf(problems->arena, format, args);
    va_end(args);
    rfy_place at = {(int)line, line > 0 ? 1 : 0, ""};
    rfy_problem_add(problems, RFY_ERROR, &at, allowed, hint, "%s", what);
    return false;
}

bool rfy_log_is_comment(const char *text, char separator) {
    text += strspn(text, " \t");
    return !*text || *text == '#' || *text == '%' || *text == '!' || strncmp(text, "//", 2) == 0 ||
           (*text == ';' && separator != ';');
}

/* ---- cells of the sample ---- */

static bool is_good(const char *cell) {
    double value;
    const char *rest;
    rfy_log_date_order order = {0};
    if (rfy_log_time(cell, &order, &value) != RFY_TIME_NONE)
        return true;
    rfy_log_kind kind = rfy_log_number(cell, 0, &value, &rest);
    if (kind == RFY_CELL_NUMBER && *rest) /* a unit may follow, no second number */
        return !strpbrk(rest, "0123456789.,;");
    return kind != RFY_CELL_TEXT && kind != RFY_CELL_EMPTY;
}

static bool is_value(const char *cell) {
    double value;
    const char *rest;
    rfy_log_date_order order = {0};
    return rfy_log_time(cell, &order, &value) != RFY_TIME_NONE ||
           (rfy_log_number(cell, 0, &value, &rest) == RFY_CELL_NUMBER &&
            !strpbrk(rest, "0123456789"));
}

typedef struct view { /* a line of the sample, cut */
    char copy[RFY_LOG_LINE_ROOM];
    rfy_log_cells cells;
} view;

static void look(view *v, const char *text, char separator) {
    size_t n = strlen(text);
    n = n < sizeof v->copy - 1 ? n : sizeof v->copy - 1;
    memcpy(v->copy, text, n);
    v->copy[n] = '\0';
    rfy_log_cut(v->copy, separator, &v->cells);
}

static size_t count_good(const rfy_log_cells *cells) {
    size_t good = 0;
    for (size_t i = 0; i < cells->n; i++)
        good += is_good(cells->text[i]);
    return good;
}

/* A row: two cells or more hold something known, one of them a value. */
static bool is_row(const rfy_log_cells *cells) {
    size_t values = 0;
    for (size_t i = 0; i < cells->n; i++)
        values += is_value(cells->text[i]);
    return values >= 1 && count_good(cells) >= 2;
}

/* Cells of most rows under a separator, and how well it fits: rows of that many cells, each counted
 * by the share of its cells that hold something known. */
static double judge(view *v, const rfy_log_sample *sample, char separator, size_t *n_cells) {
    static const size_t most = RFY_LOG_MOST_CELLS + 1;
    double *score = rfy_xcalloc(most, sizeof *score);
    for (size_t i = 0; i < sample->n; i++) {
        if (rfy_log_is_comment(sample->text[i], separator))
            continue;
        look(v, sample->text[i], separator);
        if (is_row(&v->cells))
            score[v->cells.n] += (double)count_good(&v->cells) / (double)v->cells.n;
    }
    size_t best = 0;
    for (size_t i = 1; i < most; i++)
        if (score[i] > score[best])
            best = i;
    double most_score = score[best];
    free(score);
    *n_cells = best;
    return most_score;
}

/* ---- decimal mark ---- */

static bool find_mark(view *v, const rfy_log_sample *sample, rfy_log_format *format, size_t n_cells,
                      bool columns_given, size_t n_header, rfy_problems *problems) {
    size_t points = 0, commas = 0;
    for (size_t i = 0; i < sample->n; i++) {
        if (rfy_log_is_comment(sample->text[i], format->separator))
            continue;
        look(v, sample->text[i], format->separator);
        if (!is_row(&v->cells))
            continue;
        for (size_t k = 0; k < v->cells.n; k++) {
            double value;
            const char *rest, *cell = v->cells.text[k];
            if (rfy_log_number(cell, 0, &value, &rest) != RFY_CELL_NUMBER)
                continue;
            size_t number = (size_t)(rest - cell);
            points += memchr(cell, '.', number) != NULL;
            commas += memchr(cell, ',', number) != NULL;
        }
    }
    format->mark = commas > points ? ',' : '.';
    /* "0,5,1013,2": every second comma may be a decimal one */
    bool doubled = format->separator == ',' && points == 0 && commas == 0 && n_cells >= 4 &&
                   n_cells % 2 == 0 && (n_header == 0 || 2 * n_header == n_cells);
    if (doubled && !columns_given)
        return fail(problems, format->first_data,
                    "a log whose cells are cut by semicolons or tabs, or decimal points",
                    "if the commas only separate, say so with --columns, such as --columns 1,2",
                    "commas may separate cells here or be decimal commas; that cannot be told");
    return true;
}

/* ---- columns ---- */

typedef struct header {
    size_t n;
    const char *name[RFY_LOG_MOST_CELLS];
} header;

static const char *strip_comment(const char *text) {
    text += strspn(text, " \t");
    while (*text == '#' || *text == '%' || *text == '!' || *text == '/')
        text++;
    return text + strspn(text, " \t");
}

/* Whether every cell is a unit or empty: a line of units below the names. */
static bool all_units(const rfy_units *units, const rfy_log_cells *cells) {
    size_t found = 0;
    for (size_t i = 0; i < cells->n; i++) {
        double factor, offset;
        const char *c = cells->text[i];
        size_t n = strlen(c);
        if (n > 2 && strchr("([{", c[0])) {
            c++;
            n -= 2;
        }
        bool is = rfy_log_unit(units, c, n, RFY_DIM_PRESSURE, &factor, &offset) ||
                  rfy_log_unit(units, c, n, RFY_DIM_TIME, &factor, &offset) ||
                  rfy_log_unit(units, c, n, RFY_DIM_TEMPERATURE, &factor, &offset);
        found += is;
        if (!is && c[0] && c[0] != '-' && strchr(c, ':') == NULL)
            return false;
    }
    return found > 0;
}

/* The names above the first row; n is 0 when there are none. */
static void find_header(rfy_arena *arena, const rfy_units *units, view *v,
                        const rfy_log_sample *sample, const rfy_log_format *format, size_t n_cells,
                        header *out) {
    out->n = 0;
    char **unit = NULL;
    for (int comments = 0; comments < 2 && out->n == 0; comments++) {
        unit = NULL;
        for (size_t i = sample->n; i-- > 0;) {
            const char *text = sample->text[i];
            if (sample->line[i] >= format->first_data || !text[strspn(text, " \t")] ||
                rfy_log_is_comment(text, format->separator) != comments)
                continue;
            look(v, comments ? strip_comment(text) : text, format->separator);
            rfy_log_cells *cells = &v->cells;
            bool fits = cells->n == n_cells || (cells->n + 1 == n_cells && cells->n >= 2) ||
                        (cells->n == n_cells + 1 && !cells->text[n_cells][0]);
            if (!fits || count_good(cells) > 0)
                break;
            char **own = RFY_NEW(arena, cells->n, char *);
            for (size_t k = 0; k < cells->n; k++)
                own[k] = rfy_arena_strdup(arena, cells->text[k]);
            if (!unit && all_units(units, cells)) {
                unit = own;
                out->n = cells->n;
                for (size_t k = 0; k < out->n; k++)
                    out->name[k] = own[k];
                continue; /* names may stand above it */
            }
            for (size_t k = 0; k < cells->n; k++)
                out->name[k] =
                    unit && k < out->n && unit[k][0]
                        ? rfy_arena_printf(arena, "%s (%.*s)", own[k],
                                           (int)strcspn(unit[k] + (unit[k][0] == '('), ")"),
                                           unit[k] + (unit[k][0] == '('))
                        : own[k];
            out->n = cells->n;
            break;
        }
    }
}

static const char *list_columns(rfy_arena *arena, const header *names, size_t n_cells) {
    if (names->n == 0)
        return rfy_arena_printf(arena, "places from 1 to %zu", n_cells);
    char *text = rfy_arena_strdup(arena, "");
    for (size_t i = 0; i < names->n && i < 12; i++)
        text = rfy_arena_printf(arena, "%s%s%zu \"%.40s\"", text, i ? ", " : "", i + 1,
                                names->name[i]);
    return names->n > 12 ? rfy_arena_printf(arena, "%s, …", text) : text;
}

static bool same_name(const rfy_units *units, const char *name, const char *wanted) {
    if (strcasecmp(name, wanted) == 0)
        return true;
    static const rfy_dim dims[] = {RFY_DIM_PRESSURE, RFY_DIM_TIME, RFY_DIM_TEMPERATURE};
    for (int i = 0; i < 3; i++) {
        double factor, offset;
        size_t n;
        if (!rfy_log_unit_in_name(units, name, dims[i], &factor, &offset, &n))
            continue;
        while (n > 0 && strchr(" \t/_.,:", name[n - 1]))
            n--;
        if (n == strlen(wanted) && strncasecmp(name, wanted, n) == 0)
            return true;
    }
    return false;
}

static int column_called(const rfy_units *units, const header *names, size_t n_cells,
                         const char *wanted) {
    for (size_t i = 0; i < names->n; i++)
        if (same_name(units, names->name[i], wanted))
            return (int)i;
    char *end;
    long place = strtol(wanted, &end, 10);
    return end != wanted && !*end && place >= 1 && place <= (long)n_cells ? (int)place - 1 : -1;
}

static bool take_column(rfy_arena *arena, const rfy_units *units, const header *names,
                        size_t n_cells, const char *wanted, const char *option,
                        rfy_log_column *column, rfy_problems *problems) {
    column->place = column_called(units, names, n_cells, wanted);
    if (column->place >= 0)
        return true;
    return fail(problems, 0, list_columns(arena, names, n_cells), NULL,
                "%s: there is no column \"%.60s\" in this log", option, wanted);
}

/* --columns "time,pressure" */
static bool columns_by_option(rfy_arena *arena, const rfy_units *units, const header *names,
                              size_t n_cells, const char *text, rfy_log_format *format,
                              rfy_problems *problems) {
    char *copy = rfy_arena_strdup(arena, text), *comma = strchr(copy, ',');
    if (!comma || comma == copy || !comma[1] || strchr(comma + 1, ','))
        return fail(problems, 0, "two names or places, such as \"time,pressure\" or \"1,3\"", NULL,
                    "--columns \"%.80s\" does not name two columns", text);
    *comma = '\0';
    if (!take_column(arena, units, names, n_cells, copy, "--columns", &format->time, problems) ||
        !take_column(arena, units, names, n_cells, comma + 1 + strspn(comma + 1, " "), "--columns",
                     &format->pressure, problems))
        return false;
    if (format->time.place == format->pressure.place)
        return fail(problems, 0, NULL, NULL, "--columns names the same column twice");
    return true;
}

static bool begins_with_any(const char *name, const char *const *words) {
    for (; *words; words++)
        if (strncasecmp(name, *words, strlen(*words)) == 0)
            return true;
    return false;
}

static const char *const time_words[] = {"time",    "elapsed", "timestamp", "clock", "zeit",
                                         "uhrzeit", "temps",   "tiempo",    "tempo", "second",
                                         "minute",  "hour",    NULL};
static const char *const date_words[] = {"date", "datum", "day", "fecha", "data", NULL};
static const char *const pressure_words[] = {"pressure", "druck",   "press", "vacuum",
                                             "pression", "presion", NULL};

/* The only column with a unit of this dimension or a name that says it; -1 none, -2 several. */
static int only_column(const rfy_units *units, const header *names, rfy_dim dim,
                       const char *const *words, char letter) {
    int by_unit = -1, by_name = -1, units_found = 0, names_found = 0;
    for (size_t i = 0; i < names->n; i++) {
        double factor, offset;
        size_t n;
        const char *name = names->name[i];
        if (rfy_log_unit_in_name(units, name, dim, &factor, &offset, &n)) {
            by_unit = (int)i;
            units_found++;
        }
        if (begins_with_any(name, words) ||
            (tolower((unsigned char)name[0]) == letter && !isalpha((unsigned char)name[1]))) {
            by_name = by_name < 0 ? (int)i : by_name;
            names_found++;
        }
    }
    if (units_found == 1)
        return by_unit;
    if (units_found > 1 && dim == RFY_DIM_TIME)
        return by_name >= 0 ? by_name : by_unit;
    if (units_found > 1)
        return -2;
    return names_found == 1 || dim == RFY_DIM_TIME ? by_name : names_found > 1 ? -2 : -1;
}

static bool columns_by_header(rfy_arena *arena, const rfy_units *units, const header *names,
                              size_t n_cells, rfy_log_format *format, rfy_problems *problems) {
    format->time.place = only_column(units, names, RFY_DIM_TIME, time_words, 't');
    format->pressure.place = only_column(units, names, RFY_DIM_PRESSURE, pressure_words, 'p');
    for (size_t i = 0; i < names->n && format->time.place < 0; i++)
        if (begins_with_any(names->name[i], date_words))
            format->time.place = (int)i;
    if (format->pressure.place == -1 && n_cells == 2 && names->n == 2)
        format->pressure.place = format->time.place == 1 ? 0 : 1;
    if (format->time.place < 0 && format->pressure.place >= 0 && n_cells == 2)
        format->time.place = 1 - format->pressure.place;
    const char *which = format->pressure.place == -2 ? "several columns may be the pressure"
                        : format->pressure.place < 0 ? "no column is plainly the pressure"
                        : format->time.place < 0     ? "no column is plainly the time"
                                                     : NULL;
    if (which)
        return fail(problems, 0, list_columns(arena, names, n_cells),
                    "name two with --columns, such as --columns 1,3", "%s", which);
    return true;
}

/* Without names: dates and clock times tell themselves; two columns are time and pressure. */
static bool columns_by_place(rfy_arena *arena, const header *names, size_t n_cells, view *v,
                             rfy_log_format *format, rfy_problems *problems) {
    double value;
    rfy_log_date_order order = {0};
    format->time.place = 0;
    format->pressure.place = 1;
    if (n_cells == 2)
        return true;
    if (n_cells == 3 && rfy_log_time(v->cells.text[0], &order, &value) == RFY_TIME_DATE &&
        rfy_log_time(v->cells.text[1], &order, &value) == RFY_TIME_CLOCK) {
        format->pressure.place = 2;
        return true;
    }
    return fail(problems, format->first_data, list_columns(arena, names, n_cells),
                "name two with --columns, such as --columns 1,3",
                "the log has %zu columns without names", n_cells);
}

/* ---- units ---- */

static bool find_unit(const rfy_units *units, rfy_log_column *column, rfy_dim dim,
                      const header *names, const char *option, const char *given,
                      const char *cell_unit, rfy_problems *problems) {
    double factor = 1, offset = 0;
    size_t n;
    const char *name = column->place < (int)names->n ? names->name[column->place] : NULL;
    bool in_name = name && rfy_log_unit_in_name(units, name, dim, &factor, &offset, &n);
    column->name = name;
    column->factor = factor;
    column->offset = offset;
    column->unit_of = in_name ? "header" : NULL;
    if (given) {
        if (!rfy_log_unit(units, given, strlen(given), dim, &factor, &offset))
            return fail(problems, 0, rfy_dim_example(dim), NULL, "%s \"%.40s\" is not a unit of %s",
                        option, given, rfy_dim_name(dim));
        if (in_name && fabs(factor / column->factor - 1) > 1e-9)
            return fail(problems, 0, NULL, NULL,
                        "%s \"%.40s\" contradicts the log, whose column is \"%.60s\"", option,
                        given, name);
        column->factor = factor;
        column->offset = offset;
        column->unit_of = "option";
    }
    if (!column->unit_of && cell_unit &&
        rfy_log_unit(units, cell_unit, strlen(cell_unit), dim, &factor, &offset)) {
        column->unit_of = "cells"; /* read with every cell; others are left out */
        column->factor = factor;
        column->offset = offset;
    }
    return true;
}

/* ---- rows ---- */

rfy_log_kind rfy_log_row_value(const rfy_log_format *format, const rfy_units *units,
                               const rfy_log_column *column, rfy_dim dim,
                               const rfy_log_cells *cells, double *value) {
    const char *rest;
    if (column->place >= (int)cells->n)
        return RFY_CELL_EMPTY;
    rfy_log_kind kind = rfy_log_number(cells->text[column->place], format->mark, value, &rest);
    if (kind != RFY_CELL_NUMBER)
        return kind;
    double factor = column->factor, offset = column->offset;
    if (*rest && !rfy_log_unit(units, rest, strlen(rest), dim, &factor, &offset))
        return RFY_CELL_TEXT;
    *value = *value * factor + offset;
    return isfinite(*value) ? RFY_CELL_NUMBER : RFY_CELL_INFINITE;
}

rfy_log_kind rfy_log_row_time(const rfy_log_format *format, const rfy_units *units,
                              const rfy_log_cells *cells, rfy_log_date_order *order,
                              rfy_log_time_kind *kind, double *seconds) {
    *kind = RFY_TIME_NONE;
    if (format->numeric)
        return rfy_log_row_value(format, units, &format->time, RFY_DIM_TIME, cells, seconds);
    if (format->time.place >= (int)cells->n || !cells->text[format->time.place][0])
        return RFY_CELL_EMPTY;
    *kind = rfy_log_time(cells->text[format->time.place], order, seconds);
    if (format->clock_place >= 0) {
        double clock;
        if (*kind != RFY_TIME_DATE || format->clock_place >= (int)cells->n ||
            rfy_log_time(cells->text[format->clock_place], order, &clock) != RFY_TIME_CLOCK)
            return RFY_CELL_TEXT;
        *seconds += clock;
        *kind = RFY_TIME_DATE_CLOCK;
    }
    return *kind == RFY_TIME_NONE ? RFY_CELL_TEXT : RFY_CELL_NUMBER;
}

/* Whether times are numbers, and whether a column of clock times goes with one of dates. */
static void find_time_kind(view *v, rfy_log_format *format) {
    double value;
    rfy_log_date_order order = {0};
    const rfy_log_cells *cells = &v->cells;
    const char *cell = format->time.place < (int)cells->n ? cells->text[format->time.place] : "";
    rfy_log_time_kind kind = rfy_log_time(cell, &order, &value);
    format->numeric = kind == RFY_TIME_NONE;
    format->clock_place = -1;
    for (int i = 0; i < (int)cells->n; i++) {
        if (i == format->time.place || i == format->pressure.place)
            continue;
        rfy_log_time_kind other = rfy_log_time(cells->text[i], &order, &value);
        if (kind == RFY_TIME_DATE && other == RFY_TIME_CLOCK && format->clock_place < 0) {
            format->clock_place = i;
        } else if (kind == RFY_TIME_CLOCK && other == RFY_TIME_DATE) {
            format->clock_place = format->time.place;
            format->time.place = i;
            return;
        }
    }
}

/* 11/26/2026 or 26/11/2026, by any date of the sample that can be read in one way only. */
static void find_date_order(view *v, const rfy_log_sample *sample, rfy_log_format *format,
                            rfy_log_notes *notes) {
    int first = 0, second = 0;
    bool slashes = false;
    for (size_t i = 0; i < sample->n; i++) {
        if (sample->line[i] < format->first_data)
            continue;
        look(v, sample->text[i], format->separator);
        if (format->time.place >= (int)v->cells.n)
            continue;
        const char *cell = v->cells.text[format->time.place];
        int place = rfy_log_month_place(cell);
        first += place > 0;
        second += place < 0;
        slashes = slashes || (strchr(cell, '/') && strchr(cell, '/') - cell <= 2);
    }
    format->order.month_first = first > second;
    if (slashes && first == 0 && second == 0)
        rfy_log_note(notes, "dates are taken as day/month/year; the first lines fit both orders");
}

static void tell_format(rfy_log_notes *notes, const rfy_log_format *format, const header *names) {
    const char *cut = format->separator == ' '    ? "blanks"
                      : format->separator == '\t' ? "tabs"
                      : format->separator == ';'  ? "semicolons"
                      : format->separator == '|'  ? "bars"
                                                  : "commas";
    const char *name = format->pressure.name;
    rfy_log_note(
        notes,
        "cells are cut at %s%s; time from column %d%s%.60s%s, pressure from column %d%s%.60s%s",
        cut, format->mark == ',' ? ", with decimal commas" : "", format->time.place + 1,
        format->time.name ? " (" : "", format->time.name ? format->time.name : "",
        format->time.name ? ")" : "", format->pressure.place + 1, name ? " (" : "",
        name ? name : "", name ? ")" : "");
    if (format->numeric && strcmp(format->time.unit_of, "assumed") == 0)
        rfy_log_note(notes, "times are taken as seconds: the log names no unit");
    (void)names;
}

bool rfy_log_find_format(rfy_arena *arena, const rfy_units *units, const rfy_log_sample *sample,
                         const rfy_log_options *options, rfy_log_format *format,
                         rfy_log_notes *notes, rfy_problems *problems) {
    view *v = RFY_NEW(arena, 1, view);
    header *names = RFY_NEW(arena, 1, header);
    double best = 0;
    size_t n_cells = 0;
    *format = (rfy_log_format){.time.place = -1, .pressure.place = -1, .temperature.place = -1};
    for (const char *s = separators; *s; s++) {
        size_t n;
        double score = judge(v, sample, *s, &n);
        if (score > 1.001 * best) {
            best = score;
            n_cells = n;
            format->separator = *s;
        }
    }
    if (best <= 0)
        return fail(problems, sample->n > 0 ? sample->line[0] : 0,
                    "lines of at least two numbers (or a date and a number), cut by commas, "
                    "semicolons, tabs or blanks",
                    NULL,
                    sample->n > 0 ? "no row with a time and a pressure stands in the first %zu "
                                    "lines"
                                  : "the log is empty",
                    sample->n);
    const char *first = NULL; /* the first row with two values; marks may stand above it */
    for (size_t i = 0, values = 0; i < sample->n && values < 2; i++) {
        if (rfy_log_is_comment(sample->text[i], format->separator))
            continue;
        look(v, sample->text[i], format->separator);
        if (v->cells.n != n_cells || !is_row(&v->cells))
            continue;
        if (format->first_data == 0)
            format->first_data = sample->line[i];
        values = 0;
        for (size_t k = 0; k < v->cells.n; k++)
            values += is_value(v->cells.text[k]);
        if (values >= 2 || !first)
            first = sample->text[i];
    }
    find_header(arena, units, v, sample, format, n_cells, names);
    if (!find_mark(v, sample, format, n_cells, options->columns != NULL, names->n, problems))
        return false;
    look(v, first, format->separator);
    bool good = options->columns ? columns_by_option(arena, units, names, n_cells, options->columns,
                                                     format, problems)
                : names->n > 0   ? columns_by_header(arena, units, names, n_cells, format, problems)
                                 : columns_by_place(arena, names, n_cells, v, format, problems);
    if (!good)
        return false;
    if (options->temperature && !take_column(arena, units, names, n_cells, options->temperature,
                                             "--temperature", &format->temperature, problems))
        return false;
    look(v, first, format->separator);
    find_time_kind(v, format);
    double value;
    const char *time_rest = "", *pressure_rest = "";
    if (format->numeric)
        rfy_log_number(v->cells.text[format->time.place], format->mark, &value, &time_rest);
    if (format->pressure.place < (int)v->cells.n)
        rfy_log_number(v->cells.text[format->pressure.place], format->mark, &value, &pressure_rest);
    time_rest = rfy_arena_strdup(arena, time_rest);
    pressure_rest = rfy_arena_strdup(arena, pressure_rest);
    find_date_order(v, sample, format, notes);
    good = find_unit(units, &format->time, RFY_DIM_TIME, names, "--log-time-unit",
                     options->time_unit, time_rest, problems) &&
           find_unit(units, &format->pressure, RFY_DIM_PRESSURE, names, "--log-unit",
                     options->pressure_unit, pressure_rest, problems) &&
           (format->temperature.place < 0 ||
            find_unit(units, &format->temperature, RFY_DIM_TEMPERATURE, names, "--temperature",
                      NULL, "", problems));
    if (!good)
        return false;
    if (!format->time.unit_of)
        format->time.unit_of = "assumed";
    if (format->temperature.place >= 0 && !format->temperature.unit_of)
        return fail(problems, 0, "a header such as \"T (degC)\"", NULL,
                    "the column of temperatures names no unit");
    if (!format->pressure.unit_of)
        return fail(problems, format->first_data, "a header such as \"pressure (mbar)\"",
                    "give it, for example --log-unit mbar",
                    "the log does not say in which unit its pressures are");
    /* "mm:ss" in the header: two-part times are minutes and seconds */
    if (format->time.name &&
        (strstr(format->time.name, "mm:ss") || strstr(format->time.name, "min:s")))
        format->order.minutes_only = true;
    tell_format(notes, format, names);
    return true;
}
