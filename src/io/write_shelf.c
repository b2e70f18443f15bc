/* What becomes of a sealed envelope. */
#include <math.h>
#include "io/write_common.h"

enum { MOST_GASES = 64 };

static void write_answer(rfy_page *page, const rfy_shelf *s) {
    if (s->trouble)
        rfy_page_say(page, 0, 2, "THIS COULD NOT BE FINISHED: %s.", s->trouble);
    if (s->n_rows == 0)
        return;
    const rfy_shelf_row *last = &s->row[s->n_rows - 1];
    if (isnan(s->limit)) {
        rfy_page_say(
            page, 0, 2,
            "%s: %s when sealed, %s after %s. No limit is given (\"seal_off\": {\"limit\": "
            "...}).",
            s->chamber, rfy_show_pressure(page, s->row[0].total, 3).text,
            rfy_show_pressure(page, last->total, 3).text, last->when);
    } else if (s->crossed <= 86401) {
        rfy_page_say(page, 0, 2, "%s is above %s already after a day.", s->chamber,
                     rfy_show_pressure(page, s->limit, 3).text);
    } else if (isinf(s->crossed)) {
        rfy_page_say(page, 0, 2, "%s stays below %s for %s%s: it is then at %s.", s->chamber,
                     rfy_show_pressure(page, s->limit, 3).text, last->when,
                     isinf(s->crossed_early) ? ", also when its walls hold more by their spread"
                                             : "",
                     rfy_show_pressure(page, last->total, 3).text);
        if (isfinite(s->crossed_early))
            rfy_page_say(page, 2, 2,
                         "With more gas in its walls, within their spread, it would cross it after "
                         "%s.",
                         rfy_show_time(s->crossed_early).text);
    } else {
        rfy_page_say(page, 0, 2, "%s crosses %s after %s.", s->chamber,
                     rfy_show_pressure(page, s->limit, 3).text, rfy_show_time(s->crossed).text);
        if (!isnan(s->crossed_early) && !isnan(s->crossed_late))
            rfy_page_say(page, 2, 2, "Within the spread of the data: between %s and %s.",
                         rfy_show_time(s->crossed_early).text,
                         isinf(s->crossed_late) ? "never in ten years"
                                                : rfy_show_time(s->crossed_late).text);
    }
}

/* Gases by their greatest part of the pressure, the last row counting twice; those that never
 * matter are left out. Returns how many. */
static size_t order_gases(const rfy_shelf *s, size_t *order) {
    size_t n = 0;
    double part[MOST_GASES] = {0};
    for (size_t g = 0; g < s->n_gases && g < MOST_GASES; g++) {
        for (size_t i = 0; i < s->n_rows; i++) {
            double now = s->row[i].total > 0 ? s->row[i].partial[g] / s->row[i].total : 0;
            part[g] = fmax(part[g], i + 1 == s->n_rows ? 2 * now : now);
        }
        if (part[g] < 1e-3)
            continue;
        size_t k = n++;
        for (; k > 0 && part[order[k - 1]] < part[g]; k--)
            order[k] = order[k - 1];
        order[k] = g;
    }
    return n;
}

/* A cell of the table; below what any pressure means, nothing. */
static void write_cell(rfy_page *page, double pascal, int digits, int width) {
    rfy_page_cell(
        page, pascal < 1e-20 ? "-" : rfy_show_number(pascal / page->unit_Pa, digits, false).text,
        width, true);
}

static void write_table(rfy_page *page, const rfy_shelf *s) {
    size_t order[MOST_GASES], n = order_gases(s, order);
    /* columns of 10 for gases in what the others leave, words for the limit included */
    size_t most = page->width > 79 ? (size_t)(page->width - 59) / 10 : 2;
    size_t shown = n < most ? n : most;
    rfy_page_heading(page, "SEALED (pressures in %s)", page->unit);
    rfy_page_cell(page, "  after", 16, false);
    rfy_page_cell(page, "total", 10, true);
    rfy_page_cell(page, "within the spread", 21, true);
    for (size_t k = 0; k < shown; k++)
        rfy_page_cell(page, s->gas[order[k]], 10, true);
    fputc('\n', page->out);
    for (size_t i = 0; i < s->n_rows; i++) {
        const rfy_shelf_row *r = &s->row[i];
        bool limit = !isnan(s->limit) && r->when[0] == 'l';
        fputs("  ", page->out);
        rfy_page_cell(page, limit ? rfy_show_time(r->time).text : r->when, 14, false);
        write_cell(page, r->total, 3, 10);
        if (isnan(r->total_low) || isnan(r->total_high)) {
            rfy_page_cell(page, "", 21, true);
        } else {
            write_cell(page, fmin(r->total_low, r->total_high), 2, 11);
            fputs(" -", page->out);
            write_cell(page, fmax(r->total_low, r->total_high), 2, 8);
        }
        for (size_t k = 0; k < shown; k++)
            write_cell(page, r->partial[order[k]], 2, 10);
        fputs(limit ? "   the limit\n" : "\n", page->out);
    }
    if (n > shown)
        rfy_page_say(page, 2, 2, "(%zu more gas%s in --json)", n - shown,
                     n - shown > 1 ? "es" : "");
}

static void write_sources(rfy_page *page, const rfy_shelf *s) {
    rfy_page_heading(page, "WHAT BRINGS THE GAS");
    for (size_t i = 1; i < s->n_rows; i++) {
        const rfy_shelf_row *r = &s->row[i];
        rfy_word when;
        snprintf(when.text, sizeof when.text, "%s",
                 r->when[0] == 'l' ? rfy_show_time(r->time).text : r->when);
        if (r->source)
            rfy_page_say(page, 2, 18, "%-14s  most by %s: %s of %s", when.text, r->source,
                         rfy_show_load(page, r->source_flow).text, r->source_gas);
        else
            rfy_page_say(page, 2, 18, "%-14s  nothing", when.text);
    }
}

rfy_status rfy_write_shelf_text(FILE *out, const rfy_shelf *s, const rfy_write_options *options) {
    rfy_page page;
    rfy_status status = rfy_page_open(&page, out, options);
    if (status != RFY_OK)
        return status;
    rfy_page_title(&page, s->title);
    write_answer(&page, s);
    if (s->n_rows > 0) {
        rfy_page_say(&page, 0, 2, "Sealed %s after the beginning of the run; %s cm3.",
                     rfy_show_time(s->sealed_at).text,
                     rfy_show_number(s->volume * 1e6, 3, true).text);
        write_table(&page, s);
        write_sources(&page, s);
    }
    rfy_page_list(&page, "CARE", s->n_care, s->care);
    rfy_page_list(&page, "ASSUMED, BECAUSE THE DESCRIPTION DOES NOT SAY", s->n_assumed, s->assumed);
    rfy_page_list(&page, "SAFETY", s->n_cautions, s->cautions);
    return rfy_page_close(&page);
}

rfy_status rfy_write_shelf_json(FILE *out, const rfy_shelf *s, const rfy_write_options *options) {
    rfy_json json;
    (void)options;
    rfy_json_begin(&json, out);
    rfy_json_text(&json, "title", s->title);
    rfy_json_count(&json, "status", (size_t)s->status);
    rfy_json_text(&json, "trouble", s->trouble);
    rfy_json_text(&json, "chamber", s->chamber);
    rfy_json_number(&json, "sealed_at_s", s->sealed_at);
    rfy_json_number(&json, "volume_m3", s->volume);
    rfy_json_number(&json, "limit_Pa", s->limit);
    bool crosses = isfinite(s->crossed);
    if (isnan(s->limit))
        rfy_json_null(&json, "limit_crossed");
    else
        rfy_json_flag(&json, "limit_crossed", crosses);
    rfy_json_number(&json, "limit_crossed_s", s->crossed);
    rfy_json_number(&json, "limit_crossed_early_s", s->crossed_early);
    rfy_json_number(&json, "limit_crossed_late_s", s->crossed_late);
    rfy_json_array(&json, "after");
    for (size_t i = 0; i < s->n_rows; i++) {
        const rfy_shelf_row *r = &s->row[i];
        rfy_json_object(&json, NULL);
        rfy_json_text(&json, "when", r->when);
        rfy_json_number(&json, "time_s", r->time);
        rfy_json_number(&json, "total_Pa", r->total);
        rfy_json_number(&json, "total_low_Pa", r->total_low);
        rfy_json_number(&json, "total_high_Pa", r->total_high);
        rfy_json_by_name(&json, "partial_Pa", s->gas, r->partial, s->n_gases);
        rfy_json_text(&json, "source", r->source);
        rfy_json_text(&json, "source_gas", r->source_gas);
        rfy_json_number(&json, "source_Pa_m3_per_s", r->source_flow);
        rfy_json_close(&json);
    }
    rfy_json_close(&json);
    rfy_json_texts(&json, "care", s->care, s->n_care);
    rfy_json_texts(&json, "assumed", s->assumed, s->n_assumed);
    rfy_json_texts(&json, "cautions", s->cautions, s->n_cautions);
    rfy_json_object(&json, "solver");
    rfy_json_text(&json, "method", s->solver.method);
    rfy_json_number(&json, "tolerance", s->solver.tolerance);
    rfy_json_count(&json, "steps", s->solver.steps);
    rfy_json_count(&json, "rejected", s->solver.rejected);
    rfy_json_close(&json);
    return rfy_json_end(&json);
}
