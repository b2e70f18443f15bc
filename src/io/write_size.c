/* Which size is enough. */
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "core/units.h"
#include "io/write_common.h"

char *rfy_show_quantity(char *buffer, size_t size, const char *unit, double si) {
    rfy_dim dim = RFY_DIM_NONE;
    for (int d = 0; d < RFY_DIM_COUNT; d++)
        if (strcmp(rfy_dim_si((rfy_dim)d), unit) == 0)
            dim = (rfy_dim)d;
    if (dim == RFY_DIM_FLOW && fabs(si) < 1e-3) { /* pumps and conductances are told in litres */
        char number[32];
        snprintf(buffer, size, "%s L/s", rfy_format_number(number, si * 1e3, 4));
        return buffer;
    }
    return rfy_format_quantity(buffer, size, dim, si);
}

/* Four digits; the direction in which it is safe to round. */
static rfy_word show_size(const rfy_size_result *r, double size, int safe) {
    rfy_word word;
    double scale = pow(10, floor(log10(fabs(size))) - 3), n = size / scale;
    n = safe > 0 ? ceil(n - 1e-3) : safe < 0 ? floor(n + 1e-3) : round(n);
    rfy_show_quantity(word.text, sizeof word.text, r->unit, n * scale);
    return word;
}

static rfy_word show_standard(const rfy_size_result *r, double size) {
    rfy_word word;
    rfy_show_quantity(word.text, sizeof word.text, r->unit, size);
    return word;
}

/* "after 19 min", "not within 3 h", "1.2e-4 Pa". */
static rfy_word show_outcome(const rfy_page *page, const rfy_size_result *r, double value) {
    rfy_word word;
    if (r->pressure)
        return rfy_show_pressure(page, value, 3);
    if (isnan(value))
        snprintf(word.text, sizeof word.text, r->keeps ? "more than %s" : "not within %s",
                 rfy_show_time(r->looked).text);
    else
        snprintf(word.text, sizeof word.text, r->keeps ? "%s" : "after %s",
                 rfy_show_time(value).text);
    return word;
}

static void write_goal(rfy_page *page, const rfy_size_result *r, char *text, size_t size) {
    if (r->pressure)
        snprintf(text, size, "%s", r->goal);
    else if (r->keeps)
        snprintf(text, size, "%s for at least %s", r->goal, rfy_show_time(r->wanted).text);
    else
        snprintf(text, size, "%s within %s", r->goal, rfy_show_time(r->wanted).text);
    (void)page;
}

static double margin_of(const rfy_size_result *r, double value) {
    return r->keeps ? value / r->wanted - 1 : 1 - value / r->wanted;
}

static void write_worst(rfy_page *page, const rfy_size_result *r) {
    if (!isnan(r->worst.size))
        rfy_page_say(page, 2, 2,
                     "Wall data scatter: with walls that give off more by their spread, %s gives: "
                     "%s%s.",
                     isnan(r->standard.size) ? show_size(r, r->worst.size, 0).text
                                             : show_standard(r, r->worst.size).text,
                     show_outcome(page, r, r->worst.value).text,
                     r->worst.excess > 0 ? ", which is not enough" : "");
}

static void write_found(rfy_page *page, const rfy_size_result *r, const char *goal,
                        const char *what) {
    if (isnan(r->size))
        return;
    rfy_page_say(page, 0, 2, "%s: %s %s is enough for \"%s\".", what,
                 r->smallest ? "at least" : "at most",
                 show_size(r, r->size, r->smallest ? 1 : -1).text, goal);
    if (!isnan(r->standard.size)) {
        double margin = margin_of(r, r->standard.value);
        char hand[64];
        if (isnan(margin))
            snprintf(hand, sizeof hand, "far more than is wanted");
        else
            snprintf(hand, sizeof hand, "%.0f %% in hand", 100 * margin);
        rfy_page_say(page, 2, 2, "%s standard bore: %s (%s): %s, %s (a run of its own).",
                     r->smallest ? "Next larger" : "Next smaller",
                     show_standard(r, r->standard.size).text, r->standard.of,
                     show_outcome(page, r, r->standard.value).text, hand);
    } else if (strcmp(r->key, "bore") == 0 && r->verdict == RFY_SIZE_FOUND) {
        rfy_page_say(page, 2, 2, "No bore of rarefy list bores is %s and still enough.",
                     r->smallest ? "larger" : "smaller");
    }
    write_worst(page, r);
}

static void write_none(rfy_page *page, const rfy_size_result *r, const char *goal,
                       const char *what) {
    bool at_top = fabs(r->best.size - r->high) <= 1e-6 * r->high,
         at_bottom = fabs(r->best.size - r->low) <= 1e-6 * r->low;
    rfy_page_say(page, 0, 2, "%s: no size reaches \"%s\". The %s looked at, %s, gives: %s%s.", what,
                 goal,
                 at_top      ? "largest"
                 : at_bottom ? "smallest"
                             : "best",
                 show_size(r, r->best.size, 0).text, show_outcome(page, r, r->best.value).text,
                 !at_top && !at_bottom ? "; both more and less are worse, or no better"
                 : r->levels_off       ? "; it levels off there"
                                       : "");
    if (r->bottleneck && r->bottleneck->n > 0) {
        const rfy_resistance *most = &r->bottleneck->resistance[0];
        rfy_page_say(page, 2, 2,
                     "Because %s then makes %.0f %% of what holds the speed back%s%s%s%s%s.",
                     most->part, 100 * most->share, r->source ? ", and most of the gas is " : "",
                     r->source ? r->source_gas : "", r->source ? " from " : "",
                     r->source ? r->source : "", r->source ? " in the steady state" : "");
    }
}

static void write_unsteady(rfy_page *page, const rfy_size_result *r) {
    if (!r->steady && r->verdict != RFY_SIZE_UNKNOWN)
        rfy_page_say(page, 2, 2,
                     "More does not always help, nor always hurt: see the sizes computed.");
}

static void write_answer(rfy_page *page, const rfy_size_result *r) {
    char goal[320], what[320] = "";
    write_goal(page, r, goal, sizeof goal);
    for (size_t i = 0; i < r->n_vary; i++) {
        size_t used = strlen(what);
        snprintf(what + used, sizeof what - used, "%s%s",
                 i == 0               ? ""
                 : i + 1 == r->n_vary ? " and "
                                      : ", ",
                 r->vary[i]);
    }
    switch (r->verdict) {
    case RFY_SIZE_FOUND:
        write_found(page, r, goal, what);
        break;
    case RFY_SIZE_NONE:
        write_none(page, r, goal, what);
        break;
    case RFY_SIZE_ANY:
        rfy_page_say(page, 0, 2, "%s: every size computed, from %s to %s, is enough for \"%s\".",
                     what, show_size(r, r->point[0].size, 0).text,
                     show_size(r, r->point[r->n_points - 1].size, 0).text, goal);
        break;
    case RFY_SIZE_UNKNOWN:
        break;
    }
    write_unsteady(page, r);
    if (r->trouble)
        rfy_page_say(page, 0, 2, "%s: %s.",
                     r->verdict == RFY_SIZE_UNKNOWN ? "THIS COULD NOT BE FINISHED"
                                                    : "Sizes beyond could not be tried",
                     r->trouble);
}

static void write_points(rfy_page *page, const rfy_size_result *r) {
    size_t more = r->n_solves - r->n_points;
    rfy_page_heading(page, "SIZES COMPUTED (%zu full solves%s)", r->n_solves,
                     more == 2   ? ", with one for what holds it back, one for the spread"
                     : more == 1 ? ", with one for what holds it back or the spread"
                                 : "");
    for (size_t i = 0; i < r->n_points; i++) {
        const rfy_size_point *p = &r->point[i];
        fputs("  ", page->out);
        /* away from the border: what is not enough is not to look like the least that is */
        const int safe = (p->excess <= 0) == r->smallest ? 1 : -1;
        rfy_page_cell(page, show_size(r, p->size, safe).text, 12, true);
        rfy_page_cell(page, "", 2, true);
        rfy_page_cell(page, show_outcome(page, r, p->value).text, 26, false);
        rfy_page_cell(page, p->excess <= 0 ? "enough" : "not enough", 12, false);
        fprintf(page->out, "%s\n", p->of ? p->of : "");
    }
}

static void write_reasons(rfy_page *page, const rfy_size_result *r) {
    if (!r->bottleneck || r->bottleneck->n == 0)
        return;
    const rfy_bottleneck *b = r->bottleneck;
    double at = r->verdict == RFY_SIZE_FOUND ? r->exact.size : r->best.size;
    if (isnan(at))
        return;
    rfy_page_heading(page, "WHAT HOLDS IT BACK AT %s", show_size(r, at, 0).text);
    rfy_page_say(page, 2, 4, "At %s: effective speed %s (%s).", b->chamber,
                 rfy_show_speed(b->speed).text, b->gas);
    for (size_t i = 0; i < b->n && i < 4 && b->resistance[i].share > 0.005; i++)
        rfy_page_say(page, 4, 11, "%s  %s", rfy_show_percent(b->resistance[i].share).text,
                     b->resistance[i].part);
}

rfy_status rfy_write_size_text(FILE *out, const rfy_size_result *r,
                               const rfy_write_options *options) {
    rfy_page page;
    rfy_status status = rfy_page_open(&page, out, options);
    if (status != RFY_OK)
        return status;
    rfy_page_title(&page, r->title);
    write_answer(&page, r);
    if (!isnan(r->given.size))
        rfy_page_say(&page, 2, 2, "As described, %s: %s.", show_standard(r, r->given.size).text,
                     show_outcome(&page, r, r->given.value).text);
    write_reasons(&page, r);
    write_points(&page, r);
    rfy_page_list(&page, "ASSUMED, BECAUSE THE DESCRIPTION DOES NOT SAY", r->n_assumed, r->assumed);
    rfy_page_list(&page, "SAFETY", r->n_cautions, r->cautions);
    return rfy_page_close(&page);
}

static void json_point(rfy_json *json, const char *key, const rfy_size_result *r,
                       const rfy_size_point *p) {
    if (isnan(p->size)) {
        rfy_json_null(json, key);
        return;
    }
    rfy_json_object(json, key);
    rfy_json_number(json, "size", p->size);
    rfy_json_number(json, r->pressure ? "pressure_Pa" : "time_s", p->value);
    rfy_json_flag(json, "enough", p->excess <= 0);
    if (p->of)
        rfy_json_text(json, "of", p->of);
    rfy_json_close(json);
}

rfy_status rfy_write_size_json(FILE *out, const rfy_size_result *r,
                               const rfy_write_options *options) {
    static const char *const verdicts[] = {[RFY_SIZE_FOUND] = "found",
                                           [RFY_SIZE_NONE] = "no size is enough",
                                           [RFY_SIZE_ANY] = "every size is enough",
                                           [RFY_SIZE_UNKNOWN] = "unknown"};
    rfy_json json;
    (void)options;
    rfy_json_begin(&json, out);
    rfy_json_text(&json, "title", r->title);
    rfy_json_count(&json, "status", (size_t)r->status);
    rfy_json_text(&json, "trouble", r->trouble);
    rfy_json_texts(&json, "vary", r->vary, r->n_vary);
    rfy_json_text(&json, "unit", r->unit);
    rfy_json_text(&json, r->keeps ? "keep" : "reach", r->goal);
    rfy_json_number(&json, r->pressure ? "wanted_Pa" : "wanted_s", r->wanted);
    rfy_json_text(&json, "verdict", verdicts[r->verdict]);
    rfy_json_flag(&json, "more_always_helps_or_always_hurts", r->steady);
    rfy_json_text(&json, "asked_for", r->smallest ? "smallest" : "largest");
    rfy_json_number(&json, "size", r->size);
    rfy_json_number(&json, "looked_from", r->low);
    rfy_json_number(&json, "looked_to", r->high);
    json_point(&json, "as_described", r, &r->given);
    json_point(&json, "nearest_computed", r, &r->exact);
    json_point(&json, "standard", r, &r->standard);
    if (isnan(r->standard.size))
        rfy_json_null(&json, "margin");
    else
        rfy_json_number(&json, "margin", margin_of(r, r->standard.value));
    json_point(&json, "best", r, &r->best);
    json_point(&json, "with_more_from_walls", r, &r->worst);
    rfy_json_flag(&json, "levels_off", r->levels_off);
    rfy_json_array(&json, "held_back_by");
    for (size_t i = 0; r->bottleneck && i < r->bottleneck->n; i++) {
        rfy_json_object(&json, NULL);
        rfy_json_text(&json, "part", r->bottleneck->resistance[i].part);
        rfy_json_number(&json, "share", r->bottleneck->resistance[i].share);
        rfy_json_close(&json);
    }
    rfy_json_close(&json);
    rfy_json_text(&json, "most_gas_from", r->source);
    rfy_json_text(&json, "most_gas", r->source_gas);
    rfy_json_count(&json, "full_solves", r->n_solves);
    rfy_json_array(&json, "computed");
    for (size_t i = 0; i < r->n_points; i++)
        json_point(&json, NULL, r, &r->point[i]);
    rfy_json_close(&json);
    rfy_json_texts(&json, "assumed", r->assumed, r->n_assumed);
    rfy_json_texts(&json, "cautions", r->cautions, r->n_cautions);
    return rfy_json_end(&json);
}
