/* How sure the answers are. */
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "io/write_common.h"

enum { MOST_ROWS = 7 };

static void cell(rfy_page *page, const char *text) {
    rfy_page_cell(page, text, 14, true);
}

static const char *time_or_never(double seconds, rfy_word *word) {
    if (isinf(seconds))
        snprintf(word->text, sizeof word->text, "never");
    else
        *word = rfy_show_time(seconds);
    return word->text;
}

/* The inputs that count, largest first: "stainless steel 61 %, port/leaks/0/rate 20 %". */
static void write_shares(rfy_page *page, const rfy_band *b, const char *what, const double *share,
                         const rfy_quantiles *q) {
    char text[600] = "";
    double told = INFINITY, sum = 0;
    bool any = false;
    for (size_t k = 0; k < b->n_inputs; k++)
        sum += share && share[k] > 0 ? share[k] : 0;
    for (int shown = 0; shown < 5 && share; shown++) {
        size_t best = b->n_inputs;
        for (size_t k = 0; k < b->n_inputs; k++)
            if (share[k] < told && share[k] >= 0.02 &&
                (best == b->n_inputs || share[k] > share[best]))
                best = k;
        if (best == b->n_inputs)
            break;
        told = share[best];
        size_t used = strlen(text);
        snprintf(text + used, sizeof text - used, "%s%.60s %.0f %%", any ? ", " : "",
                 b->input[best].name, 100 * share[best]);
        any = true;
    }
    if (!any || q->high < 1.03 * q->low) {
        rfy_page_say(page, 2, 4, "%s: hardly changes at all.", what);
        return;
    }
    if (sum < 0.9)
        rfy_page_say(page, 2, 4, "%s: %s; the rest comes from several at once.", what, text);
    else
        rfy_page_say(page, 2, 4, "%s: %s.", what, text);
}

static void write_targets(rfy_page *page, const rfy_band *b) {
    int width = page->width - 4 * 14;
    width = width > 44 ? 44 : width;
    rfy_page_cell(page, "  time until", width, false);
    cell(page, "5 %");
    cell(page, "50 %");
    cell(page, "95 %");
    cell(page, "not reached");
    fputc('\n', page->out);
    for (size_t t = 0; t < b->n_targets; t++) {
        const rfy_band_target *g = &b->target[t];
        char name[160];
        rfy_word word;
        snprintf(name, sizeof name, "  %.60s %.40s", g->chamber,
                 rfy_show_pressure(page, g->pressure, 2).text);
        rfy_page_cell(page, name, width, false);
        cell(page, time_or_never(g->time.low, &word));
        cell(page, time_or_never(g->time.median, &word));
        cell(page, time_or_never(g->time.high, &word));
        cell(page, g->never > 0 ? rfy_show_percent(g->never).text : "-");
        fputc('\n', page->out);
    }
}

static void write_levels(rfy_page *page, const rfy_band *b) {
    int width = page->width - 4 * 14;
    width = width > 44 ? 44 : width;
    for (size_t c = 0; c < b->n_chambers; c++) {
        const rfy_band_chamber *k = &b->chamber[c];
        char name[160];
        if (isnan(k->ultimate.median))
            continue;
        snprintf(name, sizeof name, "  level of %.60s, %s", k->name, page->unit);
        rfy_page_cell(page, name, width, false);
        cell(page, rfy_show_pressure_number(page, k->ultimate.low, 2, false).text);
        cell(page, rfy_show_pressure_number(page, k->ultimate.median, 2, false).text);
        cell(page, rfy_show_pressure_number(page, k->ultimate.high, 2, false).text);
        fputc('\n', page->out);
    }
}

/* A few instants of the curve of each chamber. */
static void write_curves(rfy_page *page, const rfy_band *b) {
    size_t shown = b->n_chambers < 2 ? b->n_chambers : 2;
    if (b->n_times == 0)
        return;
    rfy_page_cell(page, "  pressure (5 / 50 / 95 %) at", 32, false);
    for (size_t c = 0; c < shown; c++)
        rfy_page_cell(page, b->chamber[c].name, 32, true);
    fputc('\n', page->out);
    size_t rows = b->n_times < MOST_ROWS ? b->n_times : MOST_ROWS;
    for (size_t i = 0; i < rows; i++) {
        size_t k = rows < 2 ? 0 : i * (b->n_times - 1) / (rows - 1);
        char text[200];
        snprintf(text, sizeof text, "  %s", rfy_show_time(b->time[k]).text);
        rfy_page_cell(page, text, 32, false);
        for (size_t c = 0; c < shown; c++) {
            const rfy_quantiles *q = &b->chamber[c].pressure[k];
            snprintf(text, sizeof text, "%.40s / %.40s / %.40s",
                     rfy_show_pressure_number(page, q->low, 2, false).text,
                     rfy_show_pressure_number(page, q->median, 2, false).text,
                     rfy_show_pressure_number(page, q->high, 2, false).text);
            rfy_page_cell(page, text, 32, true);
        }
        fputc('\n', page->out);
    }
    if (b->n_chambers > shown)
        rfy_page_say(page, 2, 2, "(%zu more in --json)", b->n_chambers - shown);
}

void rfy_page_band(rfy_page *page, const rfy_result *r) {
    const rfy_band *b = r->band;
    if (!b)
        return;
    rfy_page_heading(page, "HOW SURE (%zu runs with all that is uncertain varied at once%s)",
                     b->samples, b->whole ? "" : "; stopped early");
    write_targets(page, b);
    write_levels(page, b);
    fputc('\n', page->out);
    write_curves(page, b);
    rfy_page_say(
        page, 2, 2,
        "Nine runs of ten lie between 5 and 95 %%, as far as the stated spreads are right.");
    if (b->failed > 0)
        rfy_page_say(page, 2, 2, "%zu more runs came to no result and are left out.", b->failed);
    rfy_page_heading(page, "WHERE THAT COMES FROM (share of the variance of the logarithm)");
    for (size_t t = 0; t < b->n_targets; t++)
        write_shares(page, b, b->target[t].name, b->target[t].share, &b->target[t].time);
    for (size_t c = 0; c < b->n_chambers; c++) {
        char what[100];
        snprintf(what, sizeof what, "level of %.80s", b->chamber[c].name);
        write_shares(page, b, what, b->chamber[c].share, &b->chamber[c].ultimate);
    }
}

/* ---- JSON ---- */

static void json_quantiles(rfy_json *json, const char *key, const rfy_quantiles *q) {
    rfy_json_object(json, key);
    rfy_json_number(json, "p05", q->low);
    rfy_json_number(json, "p50", q->median);
    rfy_json_number(json, "p95", q->high);
    rfy_json_close(json);
}

static void json_shares(rfy_json *json, const rfy_band *b, const double *share) {
    rfy_json_object(json, "first_order");
    for (size_t k = 0; k < b->n_inputs && share; k++)
        rfy_json_number(json, b->input[k].name, share[k]);
    rfy_json_close(json);
}

void rfy_json_band(rfy_json *json, const rfy_result *r) {
    const rfy_band *b = r->band;
    if (!b)
        return;
    rfy_json_object(json, "band");
    rfy_json_count(json, "samples", b->samples);
    rfy_json_count(json, "failed", b->failed);
    rfy_json_flag(json, "whole", b->whole);
    rfy_json_array(json, "inputs");
    for (size_t k = 0; k < b->n_inputs; k++) {
        rfy_json_object(json, NULL);
        rfy_json_text(json, b->input[k].material ? "material" : "path", b->input[k].name);
        rfy_json_number(json, "factor", b->input[k].factor);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_array(json, "targets");
    for (size_t t = 0; t < b->n_targets; t++) {
        const rfy_band_target *g = &b->target[t];
        rfy_json_object(json, NULL);
        rfy_json_text(json, "name", g->name);
        json_quantiles(json, "time_s", &g->time);
        rfy_json_number(json, "never_reached", g->never);
        json_shares(json, b, g->share);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_numbers(json, "time_s", b->time, b->n_times, 1);
    rfy_json_object(json, "chambers");
    for (size_t c = 0; c < b->n_chambers; c++) {
        const rfy_band_chamber *k = &b->chamber[c];
        const size_t stride = sizeof *k->pressure / sizeof(double);
        rfy_json_object(json, k->name);
        rfy_json_object(json, "pressure_Pa");
        rfy_json_numbers(json, "p05", &k->pressure->low, b->n_times, stride);
        rfy_json_numbers(json, "p50", &k->pressure->median, b->n_times, stride);
        rfy_json_numbers(json, "p95", &k->pressure->high, b->n_times, stride);
        rfy_json_close(json);
        json_quantiles(json, "ultimate_Pa", &k->ultimate);
        json_shares(json, b, k->share);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_close(json);
}
