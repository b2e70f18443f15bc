/* Fitted unknowns for people and programs. */
#include <math.h>
#include <string.h>
#include "io/write_log.h"

/* "2 to 3", "2 or more", "3 or less" */
static void say_interval(const rfy_fitted *u, char *text, size_t size) {
    if (u->low && u->high)
        snprintf(text, size, "%.60s to %.60s", u->low, u->high);
    else if (u->low || u->high)
        snprintf(text, size, "%.60s or %s", u->low ? u->low : u->high, u->low ? "more" : "less");
    else
        snprintf(text, size, "any value");
}

static void write_unknowns(rfy_page *page, const rfy_fit_result *r) {
    rfy_page_heading(page, "FITTED%s", r->determined ? "" : " (NOT ALL DETERMINED: see above)");
    int name = 8, value = 12;
    for (size_t i = 0; i < r->n_unknowns; i++) {
        int n = rfy_text_columns(r->unknown[i].path), b = rfy_text_columns(r->unknown[i].after);
        name = n > name ? n : name;
        value = b > value ? b : value;
    }
    for (size_t i = 0; i < r->n_unknowns; i++) {
        const rfy_fitted *u = &r->unknown[i];
        fputs("  ", page->out);
        rfy_page_cell(page, u->path, name + 2, false);
        rfy_page_cell(page, u->after, value + 2, false);
        char prior[120] = "";
        if (!isnan(u->prior))
            snprintf(prior, sizeof prior,
                     "; %s of this from the readings, the rest was known before",
                     rfy_show_percent(u->by_readings).text +
                         strspn(rfy_show_percent(u->by_readings).text, " "));
        char text[480], interval[130];
        say_interval(u, interval, sizeof interval);
        snprintf(text, sizeof text, "95" RFY_GLUE "%%: %s%s; was %.60s%s", interval,
                 u->told ? "" : ", NOT DETERMINED", u->before, prior);
        rfy_page_rest(page, name + value + 6, name + value + 6, text);
    }
    rfy_page_say(
        page, 2, 2,
        "95" RFY_GLUE "%%: as far as a value can go, the others making up for it as well as "
        "they can, before the curve misses the readings by more than their scatter does in "
        "95 of 100 such records. The two sides need not be alike.");
}

static void write_correlations(rfy_page *page, const rfy_fit_result *r) {
    const size_t k = r->n_unknowns;
    bool headed = false;
    for (size_t a = 0; a < k; a++)
        for (size_t b = a + 1; b < k; b++) {
            double c = r->correlation[a * k + b];
            if (!(fabs(c) > 0.7))
                continue;
            if (!headed)
                rfy_page_heading(page, "WHAT HANGS TOGETHER (correlation of the errors)");
            headed = true;
            rfy_page_say(page, 2, 4, "%s and %s: %s", r->unknown[a].path, r->unknown[b].path,
                         rfy_show_number(c, 2, false).text);
        }
}

/* How far the curves are from the readings, in words. */
static void write_agreement(rfy_page *page, const rfy_fit_result *r) {
    double worst = 0, when = 0;
    for (size_t i = 0; i < r->n_points; i++) {
        double d = fabs(log(r->before[i] / r->measured[i]));
        if (d > worst) {
            worst = d;
            when = r->time[i];
        }
    }
    char most[96], at[96];
    snprintf(most, sizeof most, "%s", rfy_show_number(exp(worst), 2, true).text);
    snprintf(at, sizeof at, "%s", rfy_show_time(when).text);
    rfy_page_say(page, 0, 2,
                 "%s: %zu readings. The description as it was misses them by up to a factor %s (at "
                 "%s); fitted, they scatter about its curve by %s%%.",
                 r->gauge, r->n_used, most, at, rfy_show_number(100 * r->scatter, 2, true).text);
    if (r->noise > 0 && r->scatter > 1.5 * r->noise)
        rfy_page_say(
            page, 0, 2,
            "THE FIT DOES NOT FOLLOW THE CURVE: neighbouring readings scatter by %s%% only. "
            "Something else is wrong than what was freed; rarefy diagnose looks for it. The "
            "intervals are too narrow.",
            rfy_show_number(100 * r->noise, 2, true).text);
}

rfy_status rfy_write_fit_text(FILE *out, const rfy_fit_result *r,
                              const rfy_write_options *options) {
    rfy_page page;
    rfy_status status = rfy_page_open(&page, out, options);
    if (status != RFY_OK)
        return status;
    rfy_page_title(&page, r->title);
    write_agreement(&page, r);
    for (size_t i = 0; i < r->n_doubts; i++) {
        rfy_page_bold(&page, true);
        rfy_page_say(&page, 0, 2, "%s", r->doubt[i]);
        rfy_page_bold(&page, false);
    }
    write_unknowns(&page, r);
    write_correlations(&page, r);
    rfy_page_list(&page, "WHAT WOULD TELL", r->n_advice, r->advice);
    rfy_page_log(&page, r->log);
    if (r->n_beyond > 0)
        rfy_page_say(&page, 2, 4, "- %zu more lie outside the range of %s.", r->n_beyond, r->gauge);
    if (r->n_outliers > 0)
        rfy_page_say(&page, 2, 4, "- %zu far from all the others were left out.", r->n_outliers);
    rfy_page_heading(&page, "SAFETY");
    rfy_page_say(&page, 2, 4,
                 "- Fitted values describe this record; they are no proof of what is inside. Local "
                 "rules, the makers' manuals and trained people come first.");
    return rfy_page_close(&page);
}

rfy_status rfy_write_fit_json(FILE *out, const rfy_fit_result *r,
                              const rfy_write_options *options) {
    rfy_json json;
    (void)options;
    rfy_json_begin(&json, out);
    rfy_json_text(&json, "title", r->title);
    rfy_json_text(&json, "gauge", r->gauge);
    rfy_json_flag(&json, "determined", r->determined);
    rfy_json_array(&json, "unknowns");
    for (size_t i = 0; i < r->n_unknowns; i++) {
        const rfy_fitted *u = &r->unknown[i];
        rfy_json_object(&json, NULL);
        rfy_json_text(&json, "path", u->path);
        rfy_json_text(&json, "text", u->after);
        rfy_json_text(&json, "unit", u->unit);
        rfy_json_number(&json, "value", u->value.value);
        rfy_json_number(&json, "low", u->low ? u->value.low : (double)NAN);
        rfy_json_number(&json, "high", u->high ? u->value.high : (double)NAN);
        rfy_json_flag(&json, "told", u->told);
        rfy_json_number(&json, "before", u->start);
        rfy_json_number(&json, "prior", u->prior);
        rfy_json_number(&json, "by_readings", u->by_readings);
        rfy_json_close(&json);
    }
    rfy_json_close(&json);
    rfy_json_array(&json, "correlation");
    for (size_t i = 0; i < r->n_unknowns; i++)
        rfy_json_numbers(&json, NULL, r->correlation + i * r->n_unknowns, r->n_unknowns, 1);
    rfy_json_close(&json);
    rfy_json_number(&json, "scatter", r->scatter);
    rfy_json_number(&json, "noise", r->noise);
    rfy_json_count(&json, "readings", r->n_used);
    rfy_json_count(&json, "outliers", r->n_outliers);
    rfy_json_count(&json, "beyond_range", r->n_beyond);
    rfy_json_texts(&json, "doubts", r->doubt, r->n_doubts);
    rfy_json_texts(&json, "would_tell", r->advice, r->n_advice);
    rfy_json_object(&json, "series");
    rfy_json_numbers(&json, "time_s", r->time, r->n_points, 1);
    rfy_json_numbers(&json, "measured_Pa", r->measured, r->n_points, 1);
    rfy_json_numbers(&json, "before_Pa", r->before, r->n_points, 1);
    rfy_json_numbers(&json, "fitted_Pa", r->after, r->n_points, 1);
    rfy_json_close(&json);
    rfy_json_log(&json, "log", r->log);
    return rfy_json_end(&json);
}
