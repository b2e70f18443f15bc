/* The curves on a terminal: eight dots to a character (Unicode's Braille patterns), or one letter
 * to a curve in plain ASCII. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "io/chart.h"

enum { MARGIN = 8 }; /* columns of the pressure scale */

typedef struct cell {
    unsigned char dots; /* bit k = dot k + 1 of U+2800 */
    signed char curve;  /* the last that passed, -1 = none */
    char letter;        /* 0 = none */
} cell;

typedef struct canvas {
    const rfy_chart *chart;
    bool color, ascii;
    int columns, rows; /* of the plot alone */
    cell *cell;
} canvas;

static char letter_of(size_t curve) {
    return (char)(curve < 26 ? 'A' + (int)curve : 'a' + (int)(curve % 26));
}

static cell *cell_at(const canvas *v, int column, int row) {
    return column < 0 || column >= v->columns || row < 0 || row >= v->rows
               ? NULL
               : &v->cell[row * v->columns + column];
}

/* A dot at that place of a grid of 2 x 4 to a character. */
static void dot(const canvas *v, int x, int y, size_t curve) {
    static const unsigned char bit[4][2] = {{0, 3}, {1, 4}, {2, 5}, {6, 7}};
    cell *c = cell_at(v, x / 2, y / 4);
    if (!c || x < 0 || y < 0)
        return;
    c->dots |= (unsigned char)(1u << bit[y % 4][x % 2]);
    c->curve = (signed char)(curve % 100);
}

static void draw_line(const canvas *v, double x0, double y0, double x1, double y1, size_t curve) {
    double longer = fmax(fabs(x1 - x0), fabs(y1 - y0));
    int n = (int)ceil(longer) + 1;
    for (int i = 0; i <= n; i++)
        dot(v, (int)lround(x0 + (x1 - x0) * i / n), (int)lround(y0 + (y1 - y0) * i / n), curve);
}

static void draw_curve(const canvas *v, size_t k) {
    const rfy_chart *c = v->chart;
    const rfy_chart_curve *curve = &c->curve[k];
    double wide = 2 * v->columns - 1, high = 4 * v->rows - 1, x_before = 0, y_before = 0;
    bool down = false;
    for (size_t i = 0; i < curve->n; i++) {
        bool on = curve->x[i] >= c->x.low && curve->x[i] <= c->x.high && curve->y[i] >= c->y.low &&
                  curve->y[i] <= c->y.high;
        if (on) {
            double x = rfy_scale_place(&c->x, curve->x[i]) * wide;
            double y = (1 - rfy_scale_place(&c->y, curve->y[i])) * high;
            if (down && !curve->measured)
                draw_line(v, x_before, y_before, x, y, k);
            else
                dot(v, (int)lround(x), (int)lround(y), k);
            x_before = x, y_before = y;
        }
        down = on;
    }
}

/* Letters along a curve: in ASCII every cell it passes, else a few places where it is alone. */
static void put_letters(const canvas *v, size_t k) {
    int last = -100;
    for (int column = 0; column < v->columns; column++)
        for (int row = 0; row < v->rows; row++) {
            cell *c = cell_at(v, column, row);
            if (c->curve != (signed char)(k % 100) || c->letter)
                continue;
            int apart = v->columns / 3, start = (int)(k * 5) % (apart > 0 ? apart : 1);
            if (!v->ascii && (column - last < apart || column < start))
                continue;
            c->letter = letter_of(k);
            last = column;
        }
}

static const char *paint(const canvas *v, int curve) {
    static const char *const code[] = {"\033[34m", "\033[31m", "\033[32m", "\033[35m",
                                       "\033[36m", "\033[33m", "\033[37m"};
    return v->color && curve >= 0 ? code[v->chart->curve[curve].color % 7] : "";
}

static const char *plain(const canvas *v) {
    return v->color ? "\033[0m" : "";
}

/* The label of the scale at that row, "" = none. */
static void row_label(const canvas *v, const rfy_tick *tick, size_t n, int row, char *label,
                      size_t size) {
    label[0] = '\0';
    for (size_t i = 0; i < n; i++) {
        double at = (1 - rfy_scale_place(&v->chart->y, tick[i].value)) * (4 * v->rows - 1) / 4;
        if (tick[i].label[0] && (int)at == row)
            snprintf(label, size, "%s", tick[i].label);
    }
}

static void put_row(FILE *out, const canvas *v, int row, const char *label) {
    int blanks = MARGIN - 2 - rfy_text_columns(label);
    fprintf(out, "%*s%s %s", blanks > 0 ? blanks : 0, "", label,
            v->ascii   ? (label[0] ? "+" : "|")
            : label[0] ? "┤"
                       : "│");
    int color = -1, end = v->columns;
    while (end > 0 && !cell_at(v, end - 1, row)->dots)
        end--;
    for (int column = 0; column < end; column++) {
        const cell *c = cell_at(v, column, row);
        int wanted = c->dots ? c->curve : -1;
        if (wanted != color)
            fprintf(out, "%s%s", color >= 0 ? plain(v) : "", paint(v, wanted));
        color = wanted;
        if (c->letter)
            putc(c->letter, out);
        else if (!c->dots)
            putc(' ', out);
        else
            fprintf(out, "\xE2%c%c", 0xA0 + (c->dots >> 6), 0x80 + (c->dots & 0x3F));
    }
    fprintf(out, "%s\n", color >= 0 ? plain(v) : "");
}

static void put_times(FILE *out, const canvas *v) {
    rfy_tick tick[RFY_MOST_TICKS];
    size_t n = rfy_scale_times(&v->chart->x, v->columns / 10.0, tick);
    char *line = rfy_xcalloc((size_t)v->columns + 32, 1),
         *ruler = rfy_xcalloc((size_t)v->columns + 1, 1);
    memset(line, ' ', (size_t)v->columns + 30);
    memset(ruler, '-', (size_t)v->columns);
    for (size_t i = 0; i < n; i++) {
        if (!tick[i].label[0])
            continue;
        int at = (int)lround(rfy_scale_place(&v->chart->x, tick[i].value) * (v->columns - 1));
        int wide = (int)strlen(tick[i].label), begin = at - wide / 2;
        begin = begin < 0 ? 0 : begin > v->columns - wide ? v->columns - wide : begin;
        memcpy(line + begin, tick[i].label, (size_t)wide);
        ruler[at] = '+';
    }
    size_t length = (size_t)v->columns;
    while (length > 0 && line[length - 1] == ' ')
        length--;
    fprintf(out, "%*s%s", MARGIN - 1, "", v->ascii ? "+" : "└");
    for (int i = 0; i < v->columns; i++)
        fputs(v->ascii ? (ruler[i] == '+' ? "+" : "-") : (ruler[i] == '+' ? "┬" : "─"), out);
    fprintf(out, "\n%*s%.*s\n", MARGIN, "", (int)length, line);
    free(ruler);
    free(line);
}

/* "A bulb   B port", wrapped. */
static void put_legend(FILE *out, const canvas *v, int width) {
    int at = 0;
    for (size_t k = 0; k < v->chart->n_curves; k++) {
        const char *name = v->chart->curve[k].name;
        int wide = rfy_text_columns(name) + 5;
        if (at > 0 && at + wide > width - MARGIN) {
            putc('\n', out);
            at = 0;
        }
        fprintf(out, "%*s", at == 0 ? MARGIN : 3, "");
        fprintf(out, "%s%c%s %s", paint(v, (int)(k % 100)), letter_of(k), plain(v), name);
        at += wide;
    }
    putc('\n', out);
}

static void put_told(FILE *out, const canvas *v) {
    const rfy_chart *c = v->chart;
    for (size_t i = 0; i < c->n_levels; i++)
        if (c->level[i].kind != RFY_LEVEL_LIMIT) {
            const rfy_chart_level *l = &c->level[i];
            fprintf(out, "%*s%s %s %s", MARGIN, "", l->name,
                    l->kind == RFY_LEVEL_TARGET ? "at"
                    : l->least                  ? "BROKEN: less than"
                                                : "BROKEN: more than",
                    rfy_show_number(l->value, 3, true).text);
            fprintf(out, " %s: %s\n", c->page.unit,
                    isfinite(l->time) ? rfy_chart_time(l->time).text : "not reached");
        }
}

rfy_status rfy_write_plot_terminal(FILE *out, const rfy_result *result,
                                   const rfy_plot_options *options) {
    rfy_arena *arena = rfy_arena_new();
    rfy_chart chart;
    rfy_status status = rfy_chart_new(arena, result, options, &chart);
    int width = options->width > 0 ? options->width : 80;
    canvas v = {.chart = &chart, .color = options->color, .ascii = options->ascii};
    v.columns = (width < 40 ? 40 : width) - MARGIN - 1;
    v.rows = options->height > 0 ? (options->height < 8 ? 8 : options->height) : 20;
    if (status == RFY_OK) {
        v.cell = RFY_NEW(arena, (size_t)(v.columns * v.rows), cell);
        for (int i = 0; i < v.columns * v.rows; i++)
            v.cell[i].curve = -1;
        for (size_t k = 0; k < chart.n_curves; k++)
            draw_curve(&v, k);
        for (size_t k = 0; k < chart.n_curves; k++)
            put_letters(&v, k);
        rfy_tick tick[RFY_MOST_TICKS];
        size_t n = rfy_scale_decades(&chart.y, v.rows / 2.0, options->ascii, tick);
        if (chart.title && *chart.title)
            fprintf(out, "%s\n", chart.title);
        fprintf(out, "%s\n", chart.page.unit);
        for (int row = 0; row < v.rows; row++) {
            char label[24];
            row_label(&v, tick, n, row, label, sizeof label);
            put_row(out, &v, row, label);
        }
        put_times(out, &v);
        put_legend(out, &v, width);
        put_told(out, &v);
        status = ferror(out) || fflush(out) != 0 ? RFY_IO_FAILED : RFY_OK;
    }
    rfy_arena_free(arena);
    return status;
}
