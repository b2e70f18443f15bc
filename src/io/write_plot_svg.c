/* The curves as SVG. Names stand to the right of the curves, and what happens is numbered above and
 * told below, so that no label lies on another or on a curve. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "io/chart.h"

enum {
    LEFT = 64,        /* px: room for the numbers of the pressure scale */
    TOP = 58,         /* title, numbers of marks */
    BOTTOM = 58,      /* two rows of times, name of the scale */
    LINE = 16,        /* height of a line of text, font 12 px */
    NUMBER = 18,      /* width of a mark's number */
    MOST_LABEL = 34,  /* columns of a name beside the curves */
    MOST_GROUPS = 40, /* marks that are numbered */
    MOST_TOLD = 60    /* lines of the list below */
};
static const double column = 6.7; /* px, of 12 px sans serif, on the wide side */

/* ---- text ---- */

static size_t code_point(const char *text, unsigned *c) {
    const unsigned char *t = (const unsigned char *)text;
    size_t n = t[0] < 0x80 ? 1 : t[0] < 0xE0 ? 2 : t[0] < 0xF0 ? 3 : 4;
    *c = n == 1 ? t[0] : t[0] & (0xFFu >> (n + 1));
    for (size_t i = 1; i < n; i++)
        *c = (*c << 6) | (t[i] & 0x3Fu);
    return n;
}

/* What XML 1.0 cannot hold, and marks that turn the direction of the text around them. */
static bool is_unwanted(unsigned c) {
    return (c < 0x20 && c != '\t') || (c >= 0x7F && c < 0xA0) || (c >= 0x202A && c <= 0x202E) ||
           (c >= 0x2066 && c <= 0x2069) || c == 0x200E || c == 0x200F || c == 0x061C ||
           c == 0xFFFE || c == 0xFFFF;
}

void rfy_put_xml_clipped(FILE *out, const char *text, int columns) {
    size_t length = strlen(text);
    int used = 0, wanted = rfy_text_columns(text);
    for (size_t i = 0; i < length;) {
        unsigned c;
        size_t n = code_point(text + i, &c);
        n = i + n > length ? length - i : n;
        int wide = c >= 0x1100 ? 2 : 1;
        if (wanted > columns && used + wide > columns - 1) {
            fputs("…", out);
            return;
        }
        used += wide;
        const char *entity = c == '&'    ? "&amp;"
                             : c == '<'  ? "&lt;"
                             : c == '>'  ? "&gt;"
                             : c == '"'  ? "&quot;"
                             : c == '\'' ? "&#39;"
                                         : NULL;
        if (c == (unsigned char)RFY_GLUE[0])
            putc(' ', out);
        else if (entity)
            fputs(entity, out);
        else if (is_unwanted(c))
            fputs("\xEF\xBF\xBD", out);
        else
            fwrite(text + i, 1, n, out);
        i += n;
    }
}

void rfy_put_xml(FILE *out, const char *text) {
    rfy_put_xml_clipped(out, text, 1 << 30);
}

/* ---- what is where ---- */

typedef struct group { /* marks that stand together */
    size_t first, n;
    double at, place; /* px: the time, the number */
} group;

typedef struct label { /* beside the curves */
    double at, place;  /* px */
    const char *name;
    char lead[112];
    const char *class;
} label;

typedef struct drawing {
    FILE *out;
    const rfy_chart *chart;
    const rfy_svg_options *options;
    double left, right, top, bottom; /* of the plot, px */
    double width, height;
    group group[MOST_GROUPS];
    size_t n_groups, marks_left_out, told;
    int least; /* marks that weigh less are left out */
    label *label;
    size_t n_labels, labels_left_out;
    char class[32];
} drawing;

static double x_of(const drawing *d, double time) {
    double at = rfy_scale_place(&d->chart->x, time);
    return d->left + (at < 0 ? 0 : at > 1 ? 1 : at) * (d->right - d->left);
}

static double y_of(const drawing *d, double pressure) {
    return d->bottom - rfy_scale_place(&d->chart->y, pressure) * (d->bottom - d->top);
}

static int weight(rfy_event_kind kind) {
    return kind == RFY_EVENT_LIMIT || kind == RFY_EVENT_FAULT     ? 3
           : kind == RFY_EVENT_TARGET || kind == RFY_EVENT_RULE   ? 2
           : kind == RFY_EVENT_ACTION || kind == RFY_EVENT_SOURCE ? 1
                                                                  : 0;
}

/* Marks within a few px are one group; when there is no room for all numbers, what weighs least
 * goes first. */
static void group_marks(drawing *d) {
    const rfy_chart *c = d->chart;
    size_t room = (size_t)((d->right - d->left) / NUMBER);
    if (room > MOST_GROUPS)
        room = MOST_GROUPS;
    for (int least = 0; least <= 4; least++) {
        size_t groups = 0, lines = 0;
        d->n_groups = d->marks_left_out = 0;
        for (size_t i = 0; i < c->n_marks; i++) {
            if (weight(c->mark[i].kind) < least) {
                d->marks_left_out++;
                continue;
            }
            double at = x_of(d, c->mark[i].time);
            lines++;
            group *last = groups && groups <= room ? &d->group[groups - 1] : NULL;
            if (last && at - last->at < 2.5) {
                last->n = i + 1 - last->first;
            } else if (groups++ < room) {
                d->group[groups - 1] = (group){i, 1, at, at};
            }
        }
        d->told = lines;
        d->least = least;
        if (groups <= room && lines <= MOST_TOLD) {
            d->n_groups = groups;
            break;
        }
    }
    double place[MOST_GROUPS];
    for (size_t i = 0; i < d->n_groups; i++)
        place[i] = d->group[i].at;
    rfy_spread_out(place, d->n_groups, NUMBER, d->left, d->right);
    for (size_t i = 0; i < d->n_groups; i++)
        d->group[i].place = place[i];
}

static int by_place(const void *a, const void *b) {
    const label *x = a, *y = b;
    return (x->at > y->at) - (x->at < y->at);
}

static void collect_labels(drawing *d, rfy_arena *arena) {
    const rfy_chart *c = d->chart;
    d->label = RFY_NEW(arena, c->n_curves + c->n_levels, label);
    size_t room = (size_t)((d->bottom - d->top) / LINE);
    for (size_t k = 0; k < c->n_curves + c->n_levels; k++) {
        if (d->n_labels == room) {
            d->labels_left_out++;
            continue;
        }
        label *l = &d->label[d->n_labels++];
        if (k < c->n_curves) {
            const rfy_chart_curve *curve = &c->curve[k];
            double y = c->y.low;
            for (size_t i = 0; i < curve->n; i++) /* where it leaves the picture */
                if (curve->y[i] >= c->y.low && curve->y[i] <= c->y.high && curve->x[i] <= c->x.high)
                    y = curve->y[i];
            *l = (label){.at = y_of(d, y), .name = curve->name, .class = "c"};
            snprintf(l->lead, sizeof l->lead, "%d", curve->color);
        } else {
            const rfy_chart_level *level = &c->level[k - c->n_curves];
            *l = (label){.at = y_of(d, level->value),
                         .name = level->name,
                         .class = level->kind == RFY_LEVEL_TARGET   ? "target"
                                  : level->kind == RFY_LEVEL_BROKEN ? "broken"
                                                                    : "limit"};
            snprintf(l->lead, sizeof l->lead,
                     "%s%s %s: ", level->kind == RFY_LEVEL_BROKEN ? "BROKEN, " : "",
                     level->kind == RFY_LEVEL_TARGET ? "wanted"
                     : level->least                  ? "at least"
                                                     : "at most",
                     rfy_show_number(level->value, 3, true).text);
        }
    }
    qsort(d->label, d->n_labels, sizeof *d->label, by_place);
    double *place = RFY_NEW(arena, d->n_labels, double);
    for (size_t i = 0; i < d->n_labels; i++)
        place[i] = d->label[i].at;
    rfy_spread_out(place, d->n_labels, LINE, d->top + 4, d->bottom - 4);
    for (size_t i = 0; i < d->n_labels; i++)
        d->label[i].place = place[i];
}

/* Columns that the names beside the curves take, and so where the plot ends. */
static int label_columns(const rfy_chart *c) {
    int most = 8;
    for (size_t i = 0; i < c->n_curves; i++) {
        int n = rfy_text_columns(c->curve[i].name);
        most = n > most ? n : most;
    }
    for (size_t i = 0; i < c->n_levels; i++) {
        int n =
            rfy_text_columns(c->level[i].name) + (c->level[i].kind == RFY_LEVEL_BROKEN ? 26 : 17);
        most = n > most ? n : most;
    }
    return most < MOST_LABEL ? most : MOST_LABEL;
}

/* ---- drawing ---- */

static void put_scales(const drawing *d) {
    FILE *out = d->out;
    rfy_tick tick[RFY_MOST_TICKS];
    size_t n = rfy_scale_decades(&d->chart->y, (d->bottom - d->top) / (LINE + 2), false, tick);
    fputs("<g class=\"scale\">\n", out);
    for (size_t i = 0; i < n; i++) {
        double y = y_of(d, tick[i].value);
        fprintf(out, "<line class=\"%s\" x1=\"%.1f\" y1=\"%.1f\" x2=\"%.1f\" y2=\"%.1f\"/>\n",
                tick[i].major ? "grid" : "fine", d->left, y, d->right, y);
        if (tick[i].label[0])
            fprintf(out, "<text class=\"y\" x=\"%.1f\" y=\"%.1f\">%s</text>\n", d->left - 7, y + 4,
                    tick[i].label);
    }
    double span = d->right - d->left;
    bool log = d->chart->x.log;
    n = log ? rfy_scale_decades(&d->chart->x, span / 44, false, tick)
            : rfy_scale_times(&d->chart->x, span / 90, tick);
    for (size_t i = 0; i < n; i++) {
        double x = x_of(d, tick[i].value);
        fprintf(out, "<line class=\"%s\" x1=\"%.1f\" y1=\"%.1f\" x2=\"%.1f\" y2=\"%.1f\"/>\n",
                tick[i].major ? "grid" : "fine", x, d->top, x, d->bottom);
        if (tick[i].label[0])
            fprintf(out, "<text class=\"x\" x=\"%.1f\" y=\"%.1f\">%s%s</text>\n", x, d->bottom + 16,
                    tick[i].label, log ? " s" : "");
    }
    n = log ? rfy_scale_times(&d->chart->x, span / 52, tick) : 0;
    for (size_t i = 0; i < n; i++)
        if (tick[i].value > 59)
            fprintf(out, "<text class=\"x faint\" x=\"%.1f\" y=\"%.1f\">%s</text>\n",
                    x_of(d, tick[i].value), d->bottom + 31, tick[i].label);
    fprintf(out,
            "<rect class=\"frame\" x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\"/>\n"
            "<text class=\"x\" x=\"%.1f\" y=\"%.1f\">time from the start</text>\n"
            "<text class=\"x\" transform=\"translate(14 %.1f) rotate(-90)\">pressure, ",
            d->left, d->top, span, d->bottom - d->top, (d->left + d->right) / 2, d->bottom + 47,
            (d->top + d->bottom) / 2);
    rfy_put_xml(out, d->chart->page.unit);
    fputs("</text>\n</g>\n", out);
}

static void put_levels(const drawing *d) {
    for (size_t i = 0; i < d->chart->n_levels; i++) {
        const rfy_chart_level *l = &d->chart->level[i];
        double y = y_of(d, l->value);
        const char *class = l->kind == RFY_LEVEL_TARGET   ? "target"
                            : l->kind == RFY_LEVEL_BROKEN ? "broken"
                                                          : "limit";
        fprintf(d->out, "<line class=\"%s\" x1=\"%.1f\" y1=\"%.1f\" x2=\"%.1f\" y2=\"%.1f\"/>\n",
                class, d->left, y, d->right, y);
        if (isfinite(l->time) && l->time <= d->chart->x.high)
            fprintf(d->out, "<circle class=\"%s\" cx=\"%.1f\" cy=\"%.1f\" r=\"4.5\"/>\n", class,
                    x_of(d, l->time), y);
    }
}

static void put_marks(const drawing *d) {
    fputs("<g class=\"marks\">\n", d->out);
    for (size_t i = 0; i < d->n_groups; i++) {
        const group *g = &d->group[i];
        fprintf(d->out,
                "<path d=\"M%.1f %.1fL%.1f %.1fL%.1f %.1fV%.1f\"/>"
                "<text class=\"x\" x=\"%.1f\" y=\"%.1f\">%zu</text>\n",
                g->place, d->top - 12, g->place, d->top - 8, g->at, d->top, d->bottom, g->place,
                d->top - 15, d->chart->mark[g->first].number);
    }
    fputs("</g>\n", d->out);
}

static bool is_on(const drawing *d, double x, double y) {
    const rfy_chart *c = d->chart;
    return x >= c->x.low * (c->x.low > 0 ? 1 - 1e-12 : 1) && x <= c->x.high && y >= c->y.low &&
           y <= c->y.high;
}

/* A point where a curve crosses the edge of the picture, so that it does not end short of it. */
static void put_curve(const drawing *d, const rfy_chart_curve *curve) {
    const rfy_chart *c = d->chart;
    double x_before = 0, y_before = 0;
    bool down = false;
    fprintf(d->out, "<path class=\"curve c%d d%d\" d=\"", curve->color, curve->dash);
    for (size_t i = 0; i < curve->n; i++) {
        double px = curve->x[i], py = curve->y[i];
        bool on = is_on(d, px, py);
        if (!on && i + 1 < curve->n && is_on(d, curve->x[i + 1], curve->y[i + 1]) && py > 0 &&
            px < c->x.low && curve->x[i + 1] > c->x.low) {
            double f = (c->x.low - px) / (curve->x[i + 1] - px);
            px = c->x.low, py *= pow(curve->y[i + 1] / py, f);
            on = is_on(d, px, py);
        }
        if (!on && down && py > 0 && py < c->y.low && px <= c->x.high) { /* leaves below */
            double f = log(c->y.low / curve->y[i - 1]) / log(py / curve->y[i - 1]);
            px = curve->x[i - 1] + f * (px - curve->x[i - 1]), py = c->y.low;
            fprintf(d->out, "L%.1f %.1f", x_of(d, px), y_of(d, py));
        }
        if (!on) {
            down = false;
            continue;
        }
        double x = x_of(d, px), y = y_of(d, py);
        bool last = i + 1 == curve->n || !is_on(d, curve->x[i + 1], curve->y[i + 1]);
        if (down && !last && fabs(x - x_before) < 0.4 && fabs(y - y_before) < 0.4)
            continue;
        fprintf(d->out, "%s%.1f %.1f", down ? "L" : "M", x, y);
        x_before = x, y_before = y;
        down = true;
    }
    fputs("\"><title>", d->out);
    rfy_put_xml(d->out, curve->name);
    fputs("</title></path>\n", d->out);
}

static void put_dots(const drawing *d, const rfy_chart_curve *curve) {
    double x_before = -9, y_before = -9;
    fprintf(d->out, "<g class=\"dots c%d\">\n", curve->color);
    for (size_t i = 0; i < curve->n; i++) {
        if (!is_on(d, curve->x[i], curve->y[i]))
            continue;
        double x = x_of(d, curve->x[i]), y = y_of(d, curve->y[i]);
        if (hypot(x - x_before, y - y_before) < 3)
            continue;
        fprintf(d->out, "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"1.8\"/>\n", x, y);
        x_before = x, y_before = y;
    }
    fputs("</g>\n", d->out);
}

static void put_labels(const drawing *d, int columns) {
    fputs("<g class=\"labels\">\n", d->out);
    for (size_t i = 0; i < d->n_labels; i++) {
        const label *l = &d->label[i];
        bool curve = l->class[0] == 'c' && l->class[1] == '\0';
        fprintf(d->out,
                "<path class=\"lead\" d=\"M%.1f %.1fL%.1f %.1f\"/><text class=\"%s%s\" x=\"%.1f\" "
                "y=\"%.1f\">",
                d->right + 1, l->at, d->right + 12, l->place, l->class, curve ? l->lead : "",
                d->right + 15, l->place + 4);
        if (!curve)
            rfy_put_xml(d->out, l->lead);
        rfy_put_xml_clipped(d->out, l->name, columns - (curve ? 0 : (int)strlen(l->lead)));
        fputs("<title>", d->out);
        rfy_put_xml(d->out, l->name);
        fputs("</title></text>\n", d->out);
    }
    fputs("</g>\n", d->out);
}

/* The list of what happens, in two columns. */
static void put_told(const drawing *d, double y) {
    const rfy_chart *c = d->chart;
    size_t rows = (d->told + 1) / 2, line = 0;
    double half = (d->width - 24) / 2;
    fputs("<g class=\"told\">\n", d->out);
    for (size_t i = 0; i < d->n_groups; i++) {
        const group *g = &d->group[i];
        for (size_t k = g->first; k < g->first + g->n; k++) {
            if (weight(c->mark[k].kind) < d->least)
                continue;
            double x = 16 + (line < rows ? 0 : half), at = y + LINE * (double)(line % rows);
            fprintf(d->out,
                    "<text class=\"y\" x=\"%.1f\" y=\"%.1f\">%zu</text>"
                    "<text x=\"%.1f\" y=\"%.1f\">%s</text><text%s x=\"%.1f\" y=\"%.1f\">",
                    x + 14, at, c->mark[k].number, x + 22, at, rfy_chart_time(c->mark[k].time).text,
                    c->mark[k].kind == RFY_EVENT_LIMIT ? " class=\"broken\"" : "", x + 104, at);
            rfy_put_xml_clipped(d->out, c->mark[k].what, (int)((half - 110) / column));
            fputs("</text>\n", d->out);
            line++;
        }
    }
    if (d->marks_left_out || d->labels_left_out)
        fprintf(d->out,
                "<text class=\"faint\" x=\"38\" y=\"%.1f\">not shown: %zu more events, %zu "
                "more names</text>\n",
                y + LINE * (double)rows, d->marks_left_out, d->labels_left_out);
    fputs("</g>\n", d->out);
}

/* Colours that stay apart for those who see few of them (Okabe and Ito 2008, darkened where they
 * were faint on white), told apart by dashes too. */
static const char style[] =
    "svg{background:#fff}text{font:12px sans-serif;fill:#222;unicode-bidi:isolate}"
    ".x{text-anchor:middle}.y{text-anchor:end}.head{font-size:15px;font-weight:bold}"
    ".faint{fill:#767676}.frame{fill:none;stroke:#444}.grid{stroke:#ccc}.fine{stroke:#ececec}"
    ".curve{fill:none;stroke-width:2;stroke-linejoin:round}.d1{stroke-dasharray:7 3}"
    ".d2{stroke-dasharray:2 3}.marks path{fill:none;stroke:#999;stroke-dasharray:1 3}"
    ".lead{fill:none;stroke:#999}line.target{stroke:#00664a;stroke-dasharray:8 4}"
    "line.limit{stroke:#8a4b00;stroke-dasharray:3 3}line.broken{stroke:#b00020;stroke-width:2}"
    "circle.target{fill:none;stroke:#00664a;stroke-width:2}circle.limit,circle.broken{fill:none;"
    "stroke:#b00020;stroke-width:2}text.target{fill:#00664a}text.limit{fill:#8a4b00}"
    "text.broken{fill:#b00020;font-weight:bold}"
    ".c0{stroke:#0072b2}.c1{stroke:#d55e00}.c2{stroke:#008a64}.c3{stroke:#aa4499}"
    ".c4{stroke:#3b9fdc}.c5{stroke:#b98300}.c6{stroke:#555}"
    "text.c0{fill:#0072b2}text.c1{fill:#b84f00}text.c2{fill:#00795a}text.c3{fill:#993d8a}"
    "text.c4{fill:#1f7fb5}text.c5{fill:#946900}text.c6{fill:#444}"
    ".labels text,text.c0{stroke:none}.dots circle{fill:none;stroke-width:1}";

void rfy_svg_chart(FILE *out, const rfy_chart *chart, const rfy_svg_options *options) {
    rfy_arena *arena = rfy_arena_new();
    drawing d = {.out = out, .chart = chart, .options = options};
    int columns = label_columns(chart);
    d.width = options->width > 0 ? options->width : 960;
    if (columns * column > 0.36 * d.width)
        columns = (int)(0.36 * d.width / column);
    d.left = LEFT;
    d.top = TOP;
    d.right = d.width - columns * column - 22;
    group_marks(&d);
    /* a page has its own table of them */
    double told = d.n_groups && !options->embedded
                      ? 22 + LINE * (double)((d.told + 1) / 2) + (d.marks_left_out > 0 ? LINE : 0)
                      : 0;
    d.height = options->height > 0 ? options->height : 520 + told;
    d.bottom = d.height - told - BOTTOM;
    if (d.bottom < d.top + 150) { /* too low a picture for the list */
        d.n_groups = d.told = 0;
        d.bottom = d.height - BOTTOM;
    }
    collect_labels(&d, arena);
    fprintf(out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %.0f %.0f\"%s role=\"img\" "
            "aria-labelledby=\"%s-title\" class=\"chart\"",
            d.width, d.height, "", options->id);
    if (options->embedded) /* for the script: where times stand */
        fprintf(out, " data-frame=\"%.1f %.1f %.1f %.1f %.9g %.9g %d\"", d.left, d.right, d.top,
                d.bottom, chart->x.low, chart->x.high, chart->x.log);
    else
        fprintf(out, " width=\"%.0f\" height=\"%.0f\"", d.width, d.height);
    fprintf(out, ">\n<title id=\"%s-title\">", options->id);
    rfy_put_xml(out, chart->title && *chart->title ? chart->title : "Pressure over time");
    fputs("</title>\n", out);
    if (!options->embedded)
        fprintf(out, "<style>%s</style>\n<rect width=\"100%%\" height=\"100%%\" fill=\"#fff\"/>\n",
                style);
    if (chart->title && *chart->title && !options->embedded) {
        fputs("<text class=\"head\" x=\"14\" y=\"22\">", out);
        rfy_put_xml_clipped(out, chart->title, (int)((d.width - 28) / 8.6));
        fputs("</text>\n", out);
    }
    put_scales(&d);
    put_levels(&d);
    put_marks(&d);
    for (size_t i = 0; i < chart->n_curves; i++) {
        if (chart->curve[i].measured)
            put_dots(&d, &chart->curve[i]);
        else
            put_curve(&d, &chart->curve[i]);
    }
    put_labels(&d, columns);
    if (told > 0 && d.n_groups)
        put_told(&d, d.bottom + BOTTOM + 14);
    fputs("</svg>\n", out);
    rfy_arena_free(arena);
}

rfy_status rfy_write_plot_svg(FILE *out, const rfy_result *result,
                              const rfy_plot_options *options) {
    rfy_arena *arena = rfy_arena_new();
    rfy_chart chart;
    rfy_status status = rfy_chart_new(arena, result, options, &chart);
    if (status == RFY_OK) {
        const rfy_svg_options svg = {options->width, options->height, false, "rarefy"};
        rfy_svg_chart(out, &chart, &svg);
        status = ferror(out) || fflush(out) != 0 ? RFY_IO_FAILED : RFY_OK;
    }
    rfy_arena_free(arena);
    return status;
}
