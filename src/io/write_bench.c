#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "io/bench.h"
#include "io/chart.h"

/* Our own scale: lightness falls evenly with the logarithm of the pressure, hue goes from sand over
 * rose to deep blue, so that it can be read without seeing colours. */
static const struct {
    double decade;
    int red, green, blue;
} stops[] = {{5, 0xF3, 0xE4, 0xC0},  {3, 0xEF, 0xBF, 0x7F},  {1, 0xE0, 0x90, 0x6A},
             {-1, 0xC2, 0x63, 0x74}, {-3, 0x93, 0x47, 0x89}, {-5, 0x5F, 0x38, 0x92},
             {-7, 0x37, 0x2E, 0x80}, {-9, 0x1B, 0x22, 0x55}};
enum { STOPS = sizeof stops / sizeof *stops };

void rfy_bench_color(double pascal, char *text) {
    double decade = pascal > 0 ? log10(pascal) : -9;
    size_t i = 0;
    decade = decade > 5 ? 5 : decade < -9 ? -9 : decade;
    while (i + 2 < STOPS && decade < stops[i + 1].decade)
        i++;
    double f = (stops[i].decade - decade) / (stops[i].decade - stops[i + 1].decade);
    int rgb[3] = {(int)lround(stops[i].red + f * (stops[i + 1].red - stops[i].red)),
                  (int)lround(stops[i].green + f * (stops[i + 1].green - stops[i].green)),
                  (int)lround(stops[i].blue + f * (stops[i + 1].blue - stops[i].blue))};
    snprintf(text, 8, "#%02x%02x%02x", (unsigned)rgb[0] & 0xFFu, (unsigned)rgb[1] & 0xFFu,
             (unsigned)rgb[2] & 0xFFu);
}

/* The script colours what carries data-p: one chamber, or the mean of the logarithms of two. */
static void put_pressure_of(FILE *out, const rfy_bench *b, int a, int c) {
    long one = b->node[a].chamber, two = c < 0 ? -1 : b->node[c].chamber;
    if (one >= 0)
        fprintf(out, " data-p=\"%ld\"", one);
    if (two >= 0)
        fprintf(out, " data-q=\"%ld\"", two);
}

static void put_text(FILE *out, const char *class, double x, double y, const char *text,
                     int columns) {
    if (!*text)
        return;
    fprintf(out, "<text class=\"%s\" x=\"%.1f\" y=\"%.1f\">", class, x, y);
    rfy_put_xml_clipped(out, text, columns);
    fputs("</text>", out);
}

static void put_symbol(FILE *out, const rfy_bench *b, const rfy_bench_edge *e,
                       const rfy_bench_symbol *s, double x, double y) {
    fprintf(out, "<g class=\"part%s%s\"",
            s->is_valve  ? " valve"
            : s->is_pump ? " pump"
                         : "",
            s->is_valve || s->is_pump ? (s->on ? " on" : " off") : "");
    if (s->name && (s->is_valve || s->is_pump)) {
        fputs(" data-name=\"", out);
        rfy_put_xml(out, s->name);
        putc('"', out);
    }
    fputs("><title>", out);
    if (e->name) {
        rfy_put_xml(out, e->name);
        fputs(": ", out);
    }
    rfy_put_xml(out, s->about);
    fprintf(out, "</title><g class=\"symbol\" transform=\"translate(%.1f %.1f)%s\">", x, y,
            e->pump && e->turned ? " scale(-1 1)" : "");
    rfy_bench_symbol_draw(out, s->kind);
    fputs("</g>", out);
    put_text(out, "small", x, y + 30, s->label[0], 16);
    put_text(out, "small", x, y + 42, s->label[1], 16);
    fputs("</g>\n", out);
    (void)b;
}

/* The symbols of a line in a row between two x, with the line between them. */
static void put_run(FILE *out, const rfy_bench *b, const rfy_bench_edge *e, double from, double to,
                    double y) {
    double begin = b->gap_x[e->column], room = b->gap_width[e->column];
    if (e->b == RFY_BENCH_AIR)
        room -= 34;
    double x = begin + (room - e->width) / 2, at = from;
    fputs("<g class=\"way\"", out);
    put_pressure_of(out, b, e->a, e->b);
    fputs("><path class=\"pipe\" d=\"", out);
    for (size_t k = 0; k < e->n; k++) {
        const rfy_bench_symbol *s = &e->symbol[e->turned ? e->n - 1 - k : k];
        double middle = x + s->width / 2, half = rfy_bench_symbol_half(s->kind);
        if (half > 0) {
            fprintf(out, "M%.1f %.1fH%.1f", at, y, middle - half);
            at = middle + half;
        }
        x += s->width;
    }
    fprintf(out, "M%.1f %.1fH%.1f\"/></g>\n", at, y, to);
    x = begin + (room - e->width) / 2;
    for (size_t k = 0; k < e->n; k++) {
        const rfy_bench_symbol *s = &e->symbol[e->turned ? e->n - 1 - k : k];
        put_symbol(out, b, e, s, x + s->width / 2, y);
        x += s->width;
    }
    if (e->name)
        put_text(out, "line-name", begin + room / 2, y - 19, e->name, 30);
    if (e->b == RFY_BENCH_AIR)
        fprintf(out,
                "<g class=\"air\"><title>open air</title><path d=\"M%.1f %.1fl-7-5M%.1f %.1fl-7 "
                "5M%.1f %.1fv20\"/></g>\n",
                to, y, to, y, to + 5, y - 10);
}

static double box_half(const rfy_bench *b, const rfy_bench_node *n) {
    return n->junction ? 7 : b->column_width[n->column] / 2 - 4;
}

static void put_edge(FILE *out, const rfy_bench *b, const rfy_bench_edge *e) {
    if (e->a < 0)
        return;
    const rfy_bench_node *first = &b->node[e->turned && e->b >= 0 ? e->b : e->a];
    const rfy_bench_node *second = e->b < 0 ? NULL : &b->node[e->turned ? e->a : e->b];
    double y = b->row_y[e->row];
    double air = b->gap_x[e->column] + b->gap_width[e->column] - 16;
    if (e->way == RFY_BENCH_ALONG) {
        put_run(out, b, e, first->x + box_half(b, first),
                second ? second->x - box_half(b, second) : air, y);
        return;
    }
    /* down from one end, along, and up to the other, or straight into a node of this row */
    double from, to;
    fputs("<g class=\"way\"", out);
    put_pressure_of(out, b, e->a, e->b);
    fputs("><path class=\"pipe\" d=\"", out);
    if (first->row == e->row) {
        from = first->x + box_half(b, first);
    } else {
        from = first->lane_right;
        fprintf(out, "M%.1f %.1fH%.1fV%.1f", first->x + box_half(b, first), first->y + 10, from, y);
    }
    if (!second) {
        to = air;
    } else if (second->row == e->row) {
        to = second->x - box_half(b, second);
    } else if (second->column == e->column) { /* both ends in one column: back beneath */
        to = b->gap_x[e->column] + b->gap_width[e->column] - 4;
        fprintf(out, "M%.1f %.1fV%.1fH%.1fV%.1fH%.1f", to, y, y + 50, second->lane_right,
                second->y + 10, second->x + box_half(b, second));
    } else {
        to = second->lane_left;
        fprintf(out, "M%.1f %.1fH%.1fV%.1f", second->x - box_half(b, second), second->y + 10, to,
                y);
    }
    fputs("\"/></g>\n", out);
    put_run(out, b, e, from, to, y);
}

static void put_gauge(FILE *out, const rfy_gauge_desc *g, double x, double y) {
    static const char *const letter[] = {"T", "H", "K", "C"}; /* thermal, hot, cold, capacitance */
    static const char *const kind[] = {"thermal", "hot cathode", "cold cathode", "capacitance"};
    int k = g->kind < 0 || g->kind > 3 ? 0 : g->kind;
    fputs("<g class=\"gauge\"><title>", out);
    rfy_put_xml(out, g->name);
    fprintf(out,
            ", %s gauge</title><circle class=\"body\" cx=\"%.1f\" cy=\"%.1f\" r=\"9\"/>"
            "<text class=\"letter\" x=\"%.1f\" y=\"%.1f\">%s</text>",
            kind[k], x, y, x, y + 4, letter[k]);
    put_text(out, "beside", x + 13, y + 4, g->name, 18);
    fputs("</g>\n", out);
}

static void put_node(FILE *out, const rfy_bench *b, const rfy_bench_node *n, const rfy_result *r) {
    double half = box_half(b, n), last = NAN;
    double left = n->x - b->column_width[n->column] / 2;
    char color[8] = "#dddddd";
    if (n->reservoir)
        last = n->held;
    else if (n->chamber >= 0 && r->n_times > 0)
        last = r->pressure[(r->n_times - 1) * r->n_chambers + (size_t)n->chamber];
    if (isfinite(last))
        rfy_bench_color(last, color);
    bool dark = isfinite(last) && last < 0.1;
    for (size_t i = 0; i < n->n_gauges; i++)
        put_gauge(out, n->gauge[i], left + 14, n->y - 32 - 24.0 * (double)i);
    if (n->n_gauges)
        fprintf(out, "<path class=\"stem\" d=\"M%.1f %.1fV%.1f\"/>\n", left + 14, n->y - 23,
                n->y - 19);
    fputs("<g class=\"vessel", out);
    fputs(n->junction ? " junction\"" : n->reservoir ? " reservoir\"" : "\"", out);
    if (n->chamber >= 0 && !n->reservoir)
        fprintf(out, " data-p=\"%ld\"", n->chamber);
    fputs("><title>", out);
    rfy_put_xml(out, n->name);
    if (n->copies > 1)
        fprintf(out, ", %d of them", n->copies);
    fputs("</title>", out);
    if (n->junction)
        fprintf(out, "<circle class=\"fill\" cx=\"%.1f\" cy=\"%.1f\" r=\"7\" fill=\"%s\"/>", n->x,
                n->y, color);
    else
        fprintf(out,
                "<rect class=\"fill\" x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"38\" rx=\"11\" "
                "fill=\"%s\"/>",
                n->x - half, n->y - 19, 2 * half, color);
    const char *tone = dark && !n->junction ? " light" : "";
    char class[32];
    double top = n->junction ? n->y + 22 : n->y - 3;
    snprintf(class, sizeof class, "name%s", tone);
    put_text(out, class, n->x, top, n->name, 20);
    fprintf(out, "<text class=\"value%s\" x=\"%.1f\" y=\"%.1f\">", tone, n->x, top + 14);
    if (n->reservoir && isfinite(last))
        fprintf(out, "<tspan data-pa=\"%.6g\">%s Pa</tspan>", last,
                rfy_show_number(last, 3, false).text);
    else if (isfinite(last))
        fprintf(out, "%s Pa", rfy_show_number(last, 3, false).text);
    fputs("</text>", out);
    if (n->copies > 1)
        fprintf(out, "<text class=\"small\" x=\"%.1f\" y=\"%.1f\">× %d</text>", n->x, n->y + 32,
                n->copies);
    fputs("</g>\n", out);
}

/* The scale of colours, for the foot of the drawing. */
static void put_scale(FILE *out, double x, double y) {
    fprintf(out, "<g class=\"color-scale\"><title>colours: pressure</title>");
    for (int i = 0; i < 56; i++) {
        char color[8];
        double decade = 5 - i / 4.0;
        rfy_bench_color(pow(10, decade), color);
        fprintf(out, "<rect x=\"%.1f\" y=\"%.1f\" width=\"5.2\" height=\"9\" fill=\"%s\"/>",
                x + 5 * i, y, color);
    }
    for (int decade = 4; decade >= -8; decade -= 4)
        fprintf(out, "<text class=\"small\" x=\"%.1f\" y=\"%.1f\">1e%d Pa</text>",
                x + 20.0 * (5 - decade), y + 21, decade);
    fputs("</g>\n", out);
}

void rfy_bench_svg(FILE *out, const rfy_bench *b, const rfy_result *r) {
    double width = b->width < 320 ? 320 : b->width;
    fprintf(out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"bench\" viewBox=\"0 0 %.0f %.0f\" "
            "style=\"width:min(100%%,%.0fpx);min-width:%.0fpx\" role=\"img\" "
            "aria-labelledby=\"bench-title\">\n"
            "<title id=\"bench-title\">The bench: %zu chambers and junctions, %zu lines and "
            "pumps</title>\n",
            width, b->height + 34, width, 0.72 * width, b->n_nodes, b->n_edges);
    for (size_t e = 0; e < b->n_edges; e++)
        put_edge(out, b, &b->edge[e]);
    for (size_t i = 0; i < b->n_nodes; i++)
        put_node(out, b, &b->node[i], r);
    put_scale(out, 14, b->height);
    fputs("</svg>\n", out);
}
