/* The page of a run: one file that needs no other, and no network. */
#define _POSIX_C_SOURCE 200809L
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/embedded.h"
#include "io/bench.h"
#include "io/report.h"

static void put(rfy_report *report, const char *html) {
    fputs(html, report->out);
}

void rfy_report_text(rfy_report *report, const char *text) {
    rfy_put_xml(report->out, text ? text : "");
}

void rfy_report_pressure(rfy_report *report, double pascal, bool alone) {
    if (!isfinite(pascal)) {
        put(report, "–");
        return;
    }
    fprintf(report->out, "<span data-pa=\"%.7g\"%s>", pascal, alone ? " data-alone" : "");
    rfy_report_text(report, rfy_show_pressure_number(&report->page, pascal, 3, false).text);
    if (!alone) {
        put(report, " ");
        rfy_report_text(report, report->page.unit);
    }
    put(report, "</span>");
}

/* ---- what the text answer says ---- */

/* The lines of a text part: "  - …" are a list, all in capitals is a heading. */
static void put_lines(rfy_report *report, char *text) {
    bool list = false;
    for (char *line = text, *next; line && *line; line = next) {
        next = strchr(line, '\n');
        if (next)
            *next++ = '\0';
        size_t indent = strspn(line, " ");
        const char *words = line + indent;
        bool item = strncmp(words, "- ", 2) == 0 || indent >= 4;
        if (!*words || indent == 0)
            continue;
        if (item != list)
            put(report, item ? "<ul>\n" : "</ul>\n");
        list = item;
        put(report, item ? "<li>" : "<p>");
        rfy_report_text(report, strncmp(words, "- ", 2) == 0 ? words + 2 : words);
        put(report, item ? "</li>\n" : "</p>\n");
    }
    if (list)
        put(report, "</ul>\n");
}

void rfy_report_prose(rfy_report *report,
                      void (*say)(rfy_page *page, const rfy_result *result, const void *what),
                      const void *what) {
    char *text = NULL;
    size_t length = 0;
    FILE *memory = open_memstream(&text, &length);
    if (!memory)
        return;
    rfy_page page = report->page;
    page.out = memory;
    page.width = 1000000; /* a paragraph to a line */
    page.color = false;
    say(&page, report->result, what);
    if (fclose(memory) == 0 && length > 0) {
        put(report, "<div class=\"prose\">\n");
        put_lines(report, text);
        put(report, "</div>\n");
    }
    free(text);
}

static void say_answer(rfy_page *page, const rfy_result *r, const void *what) {
    fputs("  ", page->out); /* anything further left is a heading */
    rfy_page_answer(page, r, what);
}

static void say_creep(rfy_page *page, const rfy_result *r, const void *what) {
    (void)what;
    rfy_page_creep(page, r);
}

/* ---- sections ---- */

static const rfy_embedded *asset(const char *name) {
    for (const rfy_embedded *e = rfy_embedded_page; e->name; e++)
        if (strcmp(e->name, name) == 0)
            return e;
    return NULL;
}

bool rfy_report_has_chart_library(void) {
    return asset("chart-script") != NULL;
}

/* Within a script element: a library may hold "</script" in a text. */
static void put_script(rfy_report *report, const rfy_embedded *e) {
    const char *text = e->text;
    for (const char *at; (at = strstr(text, "</script")) != NULL; text = at + 2) {
        fwrite(text, 1, (size_t)(at - text), report->out);
        put(report, "<\\/");
    }
    put(report, text);
}

/* A word that scripts of this page carry, so that no other may run (Content Security Policy). It
 * follows from the description: the same run gives the same bytes (FNV-1a, Fowler, Noll and Vo). */
static unsigned long long nonce_of(const rfy_report *report) {
    unsigned long long hash = 14695981039346656037ull;
    for (size_t i = 0; i < report->system->length; i++)
        hash = (hash ^ (unsigned char)report->system->text[i]) * 1099511628211ull;
    return hash;
}

static void put_head(rfy_report *report, const char *title) {
    fprintf(report->out,
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
            "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n"
            "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
            "'unsafe-inline'; script-src 'nonce-%016llx'; img-src data:\">\n"
            "<meta name=\"generator\" content=\"rarefy " RAREFY_VERSION "\">\n<title>",
            nonce_of(report));
    rfy_report_text(report, title);
    put(report, "</title>\n<style>\n");
    if (asset("chart-style"))
        put(report, asset("chart-style")->text);
    put(report, asset("style")->text);
    put(report, "</style>\n</head>\n<body>\n<a class=\"skip\" href=\"#main\">to the content</a>\n");
}

static void put_unit_choice(rfy_report *report) {
    static const char *const units[] = {"Pa", "mbar", "Torr", "mTorr", "hPa", "ubar"};
    put(report, "<label>pressures in <select id=\"unit\"><option selected>");
    rfy_report_text(report, report->page.unit);
    put(report, "</option>");
    for (size_t i = 0; i < sizeof units / sizeof *units; i++)
        if (strcmp(units[i], report->page.unit) != 0)
            fprintf(report->out, "<option>%s</option>", units[i]);
    put(report, "</select></label>\n");
}

static void put_opening(rfy_report *report, const char *title) {
    const rfy_result *r = report->result;
    put(report, "<header>\n<h1>");
    rfy_report_text(report, title);
    put(report, "</h1>\n<div class=\"lede\">\n");
    if (r->status == RFY_INTERRUPTED || r->trouble) {
        put(report, "<p class=\"bad\">");
        put(report, r->status == RFY_INTERRUPTED ? "Interrupted at "
                                                 : "The run could not be finished; it came to ");
        rfy_report_text(report, rfy_chart_time(r->end).text);
        put(report, ". ");
        rfy_report_text(report, r->trouble);
        put(report, "</p>\n");
    }
    for (size_t i = 0; i < r->n_targets; i++)
        rfy_report_prose(report, say_answer, &r->target[i]);
    if (r->n_targets == 0)
        put(report, "<p>No target is given.</p>\n");
    for (size_t i = 0; i < r->n_limits; i++)
        if (r->limit[i].broken) {
            put(report, "<p class=\"broken-note\"><strong>Limit broken:</strong> ");
            rfy_report_text(report, r->limit[i].name);
            put(report, ", at ");
            rfy_report_text(report, rfy_chart_time(r->limit[i].time).text);
            put(report, ". <a href=\"#limits\">See limits.</a></p>\n");
        }
    put(report, "</div>\n<div class=\"tools only-script\" hidden role=\"toolbar\" aria-label=\"how "
                "the page shows\">\n");
    put_unit_choice(report);
    put(report,
        "<label>colours <select id=\"theme\"><option value=\"auto\">as the device</option><option "
        "value=\"light\">light</option><option value=\"dark\">dark</option></select></label>\n"
        "</div>\n</header>\n<main id=\"main\">\n");
}

static void put_chart(rfy_report *report, const char *id, const char *chamber, bool linear) {
    rfy_chart chart;
    rfy_plot_options options = RFY_PLOT_OPTIONS_INIT;
    options.pressure_unit = report->options->pressure_unit;
    options.linear_time = linear;
    options.measured = report->options->measured;
    if (chamber) {
        options.chamber = &chamber;
        options.n_chambers = 1;
        options.gases = true;
    }
    if (rfy_chart_new(report->arena, report->result, &options, &chart) != RFY_OK)
        return;
    if (!linear && !chamber)
        report->low = chart.x.low;
    const rfy_svg_options svg = {960, 0, true, id};
    put(report, "<figure style=\"margin:0\"><h3>");
    if (chamber) {
        rfy_report_text(report, chamber);
        put(report, ", by gas");
    } else {
        put(report,
            linear ? "All chambers, time on an even scale" : "All chambers, time by decades");
    }
    put(report, "</h3>\n");
    rfy_svg_chart(report->out, &chart, &svg);
    put(report, "</figure>\n");
}

static void put_curves(rfy_report *report) {
    const rfy_result *r = report->result;
    put(report,
        "<section id=\"curves\"><h2>Pressure over time</h2>\n"
        "<div class=\"tools only-script\" hidden role=\"toolbar\" aria-label=\"the curves\">\n"
        "<label class=\"only-live\">curves of <select id=\"what\"><option value=\"\">all "
        "chambers</option>");
    for (size_t c = 0; c < r->n_chambers; c++)
        if (!rfy_is_inside(r, c)) {
            put(report, "<option value=\"");
            rfy_report_text(report, r->chamber[c]);
            put(report, "\">");
            rfy_report_text(report, r->chamber[c]);
            put(report, ", by gas</option>");
        }
    put(report,
        "</select></label>\n<span class=\"only-live\">time <button type=\"button\" "
        "id=\"by-decades\" "
        "aria-pressed=\"true\">by decades</button> <button type=\"button\" id=\"even\" "
        "aria-pressed=\"false\">even</button></span>\n"
        "<span class=\"only-live\">about the cursor <button type=\"button\" "
        "id=\"zoom-in\">nearer</button> "
        "<button type=\"button\" id=\"zoom-out\">farther</button> <button type=\"button\" "
        "id=\"whole\">all</button></span>\n</div>\n"
        "<div class=\"board\">\n<div>\n<div id=\"live\" class=\"live\" role=\"img\" "
        "aria-label=\"Curves of "
        "pressure over time; the slider below reads them out\"></div>\n<div class=\"still\">\n");
    put_chart(report, "decades", NULL, false);
    put_chart(report, "even-time", NULL, true);
    size_t done = 0;
    for (size_t i = 0; i < r->n_targets && done < 2; i++) {
        bool again = false;
        for (size_t k = 0; k < i; k++)
            again = again || strcmp(r->target[k].chamber, r->target[i].chamber) == 0;
        if (again)
            continue;
        put_chart(report, done ? "gas-2" : "gas-1", r->target[i].chamber, false);
        done++;
    }
    put(report,
        "</div>\n<p class=\"only-script\" hidden><label>time: <input type=\"range\" id=\"slider\" "
        "min=\"0\" "
        "max=\"1\" value=\"0\" step=\"1\" aria-label=\"time\"></label></p>\n</div>\n"
        "<div class=\"read only-script\" hidden><h3>at <span id=\"read-time\"></span></h3>\n"
        "<table><thead><tr><th></th><th class=\"n\" id=\"read-unit\"></th></tr></thead><tbody "
        "id=\"read-rows\"></tbody></table></div>\n</div>\n</section>\n");
}

static void put_bench(rfy_report *report) {
    rfy_bench bench;
    rfy_bench_new(report->arena, report->system->description, report->result, &bench);
    put(report, "<section id=\"bench\"><h2>The bench at <span id=\"bench-time\">");
    rfy_report_text(report, rfy_chart_time(report->result->end).text);
    put(report, "</span></h2>\n<div class=\"wide\">\n");
    rfy_bench_svg(report->out, &bench, report->result);
    put(report, "</div>\n<p class=\"only-screen\">Colours follow the time chosen above. Valves: "
                "filled when shut. "
                "Pumps: dashed at rest. Gauges: T thermal, H hot cathode, K cold cathode, C "
                "capacitance.</p>\n"
                "</section>\n");
}

static void put_list(rfy_report *report, const char *heading, size_t n, const char *const *text) {
    if (n == 0)
        return;
    fprintf(report->out, "<h3>%s</h3>\n<ul class=\"prose\">\n", heading);
    for (size_t i = 0; i < n; i++) {
        put(report, "<li>");
        rfy_report_text(report, text[i]);
        put(report, "</li>\n");
    }
    put(report, "</ul>\n");
}

static void put_assumed(rfy_report *report) {
    const rfy_result *r = report->result;
    put(report, "<section id=\"assumed\"><h2>What this rests on</h2>\n");
    put_list(report, "Care", r->n_care, r->care);
    put_list(
        report,
        "Assumed, because the description does not say; in brackets the source and how it is known",
        r->n_assumed, r->assumed);
    put(report, "<p>R read in a published text, N recomputed, M from memory, D derived, P common "
                "practice without a "
                "source.</p>\n");
    rfy_report_prose(report, say_creep, NULL);
    put(report, "</section>\n<section class=\"caution\" id=\"safety\"><h2>Safety</h2>\n<ul>\n");
    bool said = false;
    for (size_t i = 0; i < r->n_cautions; i++) {
        said = said || strstr(r->cautions[i], "estimate");
        put(report, "<li>");
        rfy_report_text(report, r->cautions[i]);
        put(report, "</li>\n");
    }
    if (!said)
        put(report, "<li>This is an estimate: published outgassing data scatter by 3 to 10 times. "
                    "Local rules, the "
                    "makers' manuals and trained people come first.</li>\n");
    put(report, "</ul>\n</section>\n");
}

/* A word for a shell. */
static void put_shell_word(rfy_report *report, const char *a, const char *between, const char *b) {
    const char *part[] = {a, between, b};
    put(report, "'");
    for (int i = 0; i < 3; i++)
        for (const char *c = part[i]; *c; c++) {
            char one[] = {*c, '\0'};
            if (*c == '\'')
                put(report, "&#39;\\&#39;&#39;");
            else if ((unsigned char)*c >= 0x80)
                putc(*c, report->out);
            else
                rfy_report_text(report, one);
        }
    put(report, "'");
}

static void put_input(rfy_report *report) {
    const rfy_system *s = report->system;
    put(report, "<section id=\"input\"><h2>The description</h2>\n<p>This page is made again from "
                "it by</p>\n<pre>rarefy "
                "report description.json");
    for (size_t i = 0; i < s->n_settings; i++) {
        put(report, " --set ");
        put_shell_word(report, s->setting[i].path, "=", s->setting[i].value);
    }
    if (report->options->fault) {
        put(report, " --fault ");
        put_shell_word(report, report->options->fault, "", "");
    }
    if (report->options->protect)
        put(report, " --faults");
    if (strcmp(report->page.unit, "Pa") != 0) {
        put(report, " --pressure-unit ");
        put_shell_word(report, report->page.unit, "", "");
    }
    put(report,
        " -o page.html</pre>\n<p class=\"only-script\" hidden><button type=\"button\" "
        "id=\"save\">save "
        "description.json</button></p>\n<pre id=\"description\" tabindex=\"0\" aria-label=\"the "
        "description\">");
    /* an HTML parser drops one line end that follows the tag at once */
    put(report, s->text[0] == '\n' ? "\n" : "");
    for (size_t i = 0; i < s->length; i++) {
        char c = s->text[i];
        if (c == '&')
            put(report, "&amp;");
        else if (c == '<')
            put(report, "&lt;");
        else if (c == '>')
            put(report, "&gt;");
        else if (c != '\0')
            putc(c, report->out);
    }
    put(report, "</pre>\n</section>\n</main>\n");
}

static void put_footer(rfy_report *report) {
    const rfy_solver_stats *s = &report->result->solver;
    fprintf(report->out, "<footer>\n<p>rarefy " RAREFY_VERSION ". Solved by ");
    rfy_report_text(report, s->method ? s->method : "nothing");
    fprintf(report->out, " to %s: %zu steps, %zu unknowns.</p>\n",
            rfy_show_number(s->tolerance, 2, true).text, s->steps, s->states);
    if (asset("chart-version")) {
        put(report, "<details><summary>Curves by dygraphs ");
        rfy_report_text(report, asset("chart-version")->text);
        put(report, ", MIT licence</summary>\n<pre>");
        rfy_report_text(report, asset("chart-terms") ? asset("chart-terms")->text
                                                     : "MIT licence; its terms came not with it");
        put(report, "</pre></details>\n");
    }
    put(report, "</footer>\n");
}

static void put_scripts(rfy_report *report) {
    unsigned long long nonce = nonce_of(report);
    put(report, "<script type=\"application/json\" id=\"data\">");
    rfy_report_data(report);
    put(report, "</script>\n");
    if (asset("chart-script")) {
        fprintf(report->out, "<script nonce=\"%016llx\">", nonce);
        put_script(report, asset("chart-script"));
        put(report, "</script>\n");
    }
    fprintf(report->out, "<script nonce=\"%016llx\">\n", nonce);
    put_script(report, asset("script"));
    put(report, "</script>\n</body>\n</html>\n");
}

/* Numbers of events, one to each that a chart would mark. */
static void number_events(rfy_report *report) {
    const rfy_result *r = report->result;
    report->number = RFY_NEW(report->arena, r->n_events + 1, size_t);
    size_t n = 0;
    for (size_t i = 0; i < r->n_events; i++)
        if (rfy_chart_tells(r->event[i].kind))
            report->number[i] = ++n;
}

rfy_status rfy_write_report(FILE *out, const rfy_system *system, const rfy_result *result,
                            const rfy_report_options *options) {
    rfy_report report = {
        .out = out, .system = system, .result = result, .options = options, .low = 1e-3};
    const rfy_write_options unit = {.pressure_unit = options->pressure_unit};
    rfy_status status = rfy_page_open(&report.page, out, &unit);
    if (status != RFY_OK)
        return status;
    report.arena = rfy_arena_new();
    number_events(&report);
    const char *title = result->title && *result->title ? result->title : "A vacuum system";
    put_head(&report, title);
    put_opening(&report, title);
    put_curves(&report);
    put_bench(&report);
    rfy_report_events(&report);
    rfy_report_bottlenecks(&report);
    rfy_report_limits(&report);
    rfy_report_ultimate(&report);
    rfy_report_faults(&report);
    rfy_report_balance(&report);
    put_assumed(&report);
    put_input(&report);
    put_footer(&report);
    put_scripts(&report);
    rfy_arena_free(report.arena);
    return ferror(out) || fflush(out) != 0 ? RFY_IO_FAILED : RFY_OK;
}
