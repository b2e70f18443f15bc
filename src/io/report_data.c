/* The numbers of the page, for its script. Within a script element only "</script", "<!--" and
 * "<script" could end or change it, so no "<" is left in a text: it is written as \u003c, and so
 * are > and &. */
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "flow/piece.h"
#include "io/bench.h"
#include "io/report.h"

enum { SERIES_DIGITS = 6, GAS_DIGITS = 5, TIME_DIGITS = 9 };

static void put_text(FILE *out, const char *text) {
    putc('"', out);
    for (const unsigned char *c = (const unsigned char *)text; *c; c++) {
        if (*c == RFY_GLUE[0])
            putc(' ', out);
        else if (*c < 0x20 || strchr("\"\\<>&'\x7F", *c))
            fprintf(out, "\\u%04x", *c);
        else if (c[0] == 0xE2 && c[1] == 0x80 && (c[2] == 0xA8 || c[2] == 0xA9)) {
            fprintf(out, "\\u20%02x", c[2] - 0x80u); /* line ends of JavaScript, not of JSON */
            c += 2;
        } else
            putc(*c, out);
    }
    putc('"', out);
}

static void put_number(FILE *out, double value, int digits) {
    char number[32];
    if (!isfinite(value))
        fputs("null", out);
    else
        fputs(rfy_format_number(number, value, digits), out);
}

static void put_numbers(FILE *out, const double *value, size_t n, size_t stride, int digits) {
    putc('[', out);
    for (size_t i = 0; i < n; i++) {
        if (i)
            putc(',', out);
        put_number(out, value[i * stride], digits);
    }
    putc(']', out);
}

static void put_series(const rfy_report *report) {
    FILE *out = report->out;
    const rfy_result *r = report->result;
    fputs(",\n\"time\":", out);
    put_numbers(out, r->time, r->n_times, 1, TIME_DIGITS);
    fputs(",\n\"gases\":[", out);
    for (size_t g = 0; g < r->n_gases; g++) {
        fputs(g ? "," : "", out);
        put_text(out, r->gas[g]);
    }
    fputs("],\n\"chambers\":[", out);
    bool first = true;
    for (size_t c = 0; c < r->n_chambers; c++) {
        if (rfy_is_inside(r, c))
            continue;
        fprintf(out, "%s\n{\"index\":%zu,\"name\":", first ? "" : ",", c);
        first = false;
        put_text(out, r->chamber[c]);
        fputs(",\"p\":", out);
        put_numbers(out, r->pressure + c, r->n_times, r->n_chambers, SERIES_DIGITS);
        fputs(",\"gas\":[", out);
        for (size_t g = 0; g < r->n_gases; g++) {
            fputs(g ? "," : "", out);
            put_numbers(out, r->partial + c * r->n_gases + g, r->n_times,
                        r->n_chambers * r->n_gases, GAS_DIGITS);
        }
        fputs("]}", out);
    }
    fputs("],\n\"gauges\":[", out);
    for (size_t g = 0; g < r->n_gauges; g++) {
        fputs(g ? ",{\"name\":" : "{\"name\":", out);
        put_text(out, r->gauge[g]);
        fputs(",\"p\":", out);
        put_numbers(out, r->gauge_reading + g, r->n_times, r->n_gauges, 4);
        putc('}', out);
    }
    putc(']', out);
}

static void put_events(const rfy_report *report) {
    FILE *out = report->out;
    const rfy_result *r = report->result;
    fputs(",\n\"events\":[", out);
    for (size_t i = 0; i < r->n_events; i++) {
        fputs(i ? ",{\"t\":" : "{\"t\":", out);
        put_number(out, r->event[i].time, TIME_DIGITS);
        fprintf(out, ",\"n\":%zu}", report->number[i]);
    }
    fputs("],\n\"targets\":[", out);
    for (size_t i = 0; i < r->n_targets; i++) {
        fputs(i ? ",{\"chamber\":" : "{\"chamber\":", out);
        put_text(out, r->target[i].chamber);
        fputs(",\"p\":", out);
        put_number(out, r->target[i].pressure, 6);
        putc('}', out);
    }
    fputs("],\n\"limits\":[", out);
    for (size_t i = 0; i < r->n_limits; i++) {
        const rfy_limit_result *l = &r->limit[i];
        fputs(i ? ",{\"watch\":" : "{\"watch\":", out);
        put_text(out, l->watch ? l->watch : "");
        fputs(",\"max\":", out);
        put_number(out, l->kind == RFY_LIMIT_RATE ? (double)NAN : l->max, 6);
        fprintf(out, ",\"broken\":%s}", l->broken ? "true" : "false");
    }
    putc(']', out);
}

/* The measured curve, thinned to what a chart can show. */
static void put_measured(const rfy_report *report) {
    enum { MOST = 1500 };
    FILE *out = report->out;
    const rfy_log *log = report->options->measured;
    size_t step = log ? 1 + log->n / MOST : 1;
    fputs(",\n\"measured\":[", out);
    bool first = true;
    for (size_t i = 0; log && i < log->n; i += step) {
        if (!(log->pressure[i] > 0))
            continue;
        fputs(first ? "[" : ",[", out);
        first = false;
        put_number(out, log->time[i], 6);
        putc(',', out);
        put_number(out, log->pressure[i], 5);
        putc(']', out);
    }
    putc(']', out);
}

/* Whether an event says that of a part: "start turbo", "roughing valve is shut". */
static bool says(const char *what, const char *before, const char *name, const char *behind) {
    size_t a = strlen(before), n = strlen(name);
    return strncmp(what, before, a) == 0 && strncmp(what + a, name, n) == 0 &&
           strcmp(what + a + n, behind) == 0;
}

/* Open or shut, running or not, over time: from the description and the events. */
static void put_part(const rfy_report *report, const char *name, bool on, bool valve, bool *first) {
    FILE *out = report->out;
    const rfy_result *r = report->result;
    fputs(*first ? "\n{\"name\":" : ",\n{\"name\":", out);
    *first = false;
    put_text(out, name);
    fprintf(out, ",\"on\":[[0,%d]", on);
    for (size_t i = 0; i < r->n_events; i++) {
        const char *what = r->event[i].what;
        int is = says(what, "", name, " is fully open")     ? 1
                 : says(what, "", name, " is shut")         ? 0
                 : valve && says(what, "open ", name, "")   ? 1
                 : !valve && says(what, "start ", name, "") ? 1
                 : !valve && says(what, "stop ", name, "")  ? 0
                                                            : -1;
        if (is < 0)
            continue;
        fputs(",[", out);
        put_number(out, r->event[i].time, TIME_DIGITS);
        fprintf(out, ",%d]", is);
    }
    fputs("]}", out);
}

static void put_parts(const rfy_report *report) {
    const rfy_description *d = report->system->description;
    bool first = true;
    fputs(",\n\"parts\":[", report->out);
    const rfy_line_desc *line = d->lines.item;
    for (size_t i = 0; i < d->lines.n; i++) {
        const rfy_piece_desc *piece = line[i].pieces.item;
        for (size_t k = 0; k < line[i].pieces.n; k++) {
            rfy_piece_shape shape = {0};
            ((const rfy_piece_kind *)piece[k].variant->kind)->shape(piece[k].values, &shape);
            if (shape.is_valve && shape.name)
                put_part(report, shape.name, shape.state == RFY_OPEN, true, &first);
        }
    }
    const rfy_pump_desc *pump = d->pumps.item;
    for (size_t i = 0; i < d->pumps.n; i++)
        put_part(report, pump[i].name, pump[i].state != RFY_OFF, false, &first);
    putc(']', report->out);
}

void rfy_report_data(rfy_report *report) {
    static const char *const units[] = {"Pa", "mbar", "Torr", "mTorr", "hPa", "ubar"};
    FILE *out = report->out;
    fputs("{\"unit\":", out);
    put_text(out, report->page.unit);
    fputs(",\"units\":{", out);
    put_text(out, report->page.unit);
    fputs(":", out);
    put_number(out, report->page.unit_Pa, 12);
    for (size_t i = 0; i < sizeof units / sizeof *units; i++) {
        rfy_page page;
        const rfy_write_options options = {.pressure_unit = units[i]};
        if (strcmp(units[i], report->page.unit) == 0 ||
            rfy_page_open(&page, NULL, &options) != RFY_OK)
            continue;
        fprintf(out, ",\"%s\":", units[i]);
        put_number(out, page.unit_Pa, 12);
    }
    fputs("},\"low\":", out);
    put_number(out, report->low, 6);
    /* the scale of write_bench.c: decade, red, green, blue */
    fputs(",\"colors\":[", out);
    for (int decade = 5; decade >= -9; decade -= 2) {
        char color[8];
        unsigned red = 0, green = 0, blue = 0;
        rfy_bench_color(pow(10, decade), color);
        sscanf(color, "#%2x%2x%2x", &red, &green, &blue);
        fprintf(out, "%s[%d,%u,%u,%u]", decade < 5 ? "," : "", decade, red, green, blue);
    }
    putc(']', out);
    put_series(report);
    put_events(report);
    put_measured(report);
    put_parts(report);
    fputs("}\n", out);
}
