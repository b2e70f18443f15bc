/* A diagnosis for people and programs. */
#include <string.h>
#include "io/write_log.h"

static const char *const kinds[] = {"nothing",   "leak",         "wet walls",  "trapped volume",
                                    "worn pump", "blocked line", "wrong gauge"};

static void write_verdict(rfy_page *page, const rfy_diagnosis *d) {
    const rfy_suspect *s = &d->suspect[0];
    char noise[160] = "";
    if (isfinite(d->noise))
        snprintf(noise, sizeof noise, " (neighbouring readings scatter by %s%%)",
                 rfy_show_number(100 * d->noise, 2, true).text);
    rfy_page_bold(page, true);
    if (s->kind == RFY_SUSPECT_NONE)
        rfy_page_say(page, 0, 2,
                     "NOTHING IS WRONG that this record shows: %s follows the "
                     "description.",
                     d->gauge);
    else if (d->clear)
        rfy_page_say(page, 0, 2, "MOST LIKELY: %s.", s->name);
    else
        rfy_page_say(page, 0, 2, "NOT CLEAR from this record; first comes: %s.", s->name);
    rfy_page_bold(page, false);
    for (size_t i = 1; i < d->n && s->kind != RFY_SUSPECT_NONE && d->clear; i++)
        if (d->suspect[i].kind == s->kind && d->suspect[i].weight > 0.2 * s->weight)
            rfy_page_say(page, 0, 2,
                         "Hardly less likely: %s. This record does not tell them apart.",
                         d->suspect[i].name);
    rfy_page_say(page, 0, 2, "With it the curve follows the readings of %s within %s%%%s.",
                 d->gauge, rfy_show_number(100 * s->scatter, 2, true).text, noise);
    if (isfinite(d->noise) && s->scatter > 1.6 * fmax(d->noise, 0.01))
        rfy_page_say(page, 0, 2,
                     "None of the usual suspects explains all of it: look for something "
                     "else as well (a wrong volume, a step taken at another time).");
}

static void write_suspects(rfy_page *page, const rfy_diagnosis *d) {
    rfy_page_heading(page,
                     "SUSPECTS (share of the evidence, as if each were as likely beforehand)");
    for (size_t i = 0; i < d->n; i++) {
        const rfy_suspect *s = &d->suspect[i];
        fputs("  ", page->out);
        rfy_page_cell(page, rfy_show_percent(s->weight).text, 6, true);
        fputs("  ", page->out);
        char text[700], when[400] = "";
        if (s->kind != RFY_SUSPECT_NONE && isfinite(s->from)) {
            char from[96], most[96];
            snprintf(from, sizeof from, "%s", rfy_show_time(s->from).text);
            snprintf(most, sizeof most, "%s", rfy_show_time(s->most_at).text);
            snprintf(when, sizeof when,
                     "; would show from %s on, most at %s (%s times what is "
                     "described)",
                     from, most, rfy_show_number(s->most, 2, true).text);
        } else if (s->kind != RFY_SUSPECT_NONE) {
            snprintf(when, sizeof when, "; would hardly show here");
        }
        snprintf(text, sizeof text, "%.280s%s; misses by %s%%", s->name, when,
                 rfy_show_number(100 * s->scatter, 2, true).text);
        rfy_page_rest(page, 10, 10, text);
    }
}

rfy_status rfy_write_diagnosis_text(FILE *out, const rfy_diagnosis *d,
                                    const rfy_write_options *options) {
    rfy_page page;
    rfy_status status = rfy_page_open(&page, out, options);
    if (status != RFY_OK)
        return status;
    rfy_page_title(&page, d->title);
    write_verdict(&page, d);
    write_suspects(&page, d);
    rfy_page_log(&page, d->log);
    if (d->n_beyond > 0)
        rfy_page_say(&page, 2, 4, "- %zu more lie outside the range of %s.", d->n_beyond, d->gauge);
    rfy_page_heading(&page, "SAFETY");
    rfy_page_say(
        &page, 2, 4,
        "- What fits best need not be what is wrong: check it before anything is opened or "
        "heated. Local rules, the makers' manuals and trained people come first.");
    return rfy_page_close(&page);
}

rfy_status rfy_write_diagnosis_json(FILE *out, const rfy_diagnosis *d,
                                    const rfy_write_options *options) {
    rfy_json json;
    (void)options;
    rfy_json_begin(&json, out);
    rfy_json_text(&json, "title", d->title);
    rfy_json_text(&json, "gauge", d->gauge);
    rfy_json_flag(&json, "clear", d->clear);
    rfy_json_number(&json, "noise", d->noise);
    rfy_json_array(&json, "suspects");
    for (size_t i = 0; i < d->n; i++) {
        const rfy_suspect *s = &d->suspect[i];
        rfy_json_object(&json, NULL);
        rfy_json_text(&json, "kind", kinds[s->kind]);
        rfy_json_text(&json, "also", s->also == RFY_SUSPECT_NONE ? NULL : kinds[s->also]);
        rfy_json_text(&json, "what", s->name);
        rfy_json_number(&json, "weight", s->weight);
        rfy_json_number(&json, "log_evidence", s->log_evidence);
        rfy_json_number(&json, "scatter", s->scatter);
        rfy_json_number(&json, "shows_from_s", s->from);
        rfy_json_number(&json, "shows_most_at_s", s->most_at);
        rfy_json_number(&json, "shows_most", s->most);
        rfy_json_numbers(&json, "curve_Pa", s->curve, d->n_points, 1);
        rfy_json_close(&json);
    }
    rfy_json_close(&json);
    rfy_json_object(&json, "series");
    rfy_json_numbers(&json, "time_s", d->time, d->n_points, 1);
    rfy_json_numbers(&json, "measured_Pa", d->measured, d->n_points, 1);
    if (d->expected)
        rfy_json_numbers(&json, "expected_Pa", d->expected, d->n_points, 1);
    rfy_json_close(&json);
    rfy_json_log(&json, "log", d->log);
    return rfy_json_end(&json);
}
