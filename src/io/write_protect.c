/* Every fault at every phase, for people: what leaves least time comes first. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/arena.h"
#include "io/write_common.h"

static bool same(const char *a, const char *b) {
    return a == b || (a && b && strcmp(a, b) == 0);
}

/* Cases that differ in their phase alone stand on one line. */
static bool alike(const rfy_protect_case *a, const rfy_protect_case *b) {
    return a->fault == b->fault && same(a->limit, b->limit) && same(a->rescue, b->rescue) &&
           (a->limit || !a->rule == !b->rule);
}

/* "1, 3-5" of the phases of all cases like number i; they are marked as told. */
static void list_phases(const rfy_protect_result *r, size_t i, bool *told, char *text,
                        size_t size) {
    bool in[256] = {false};
    for (size_t k = i; k < r->n_cases; k++)
        if (alike(&r->cases[i], &r->cases[k]) && r->cases[k].phase < 255) {
            in[r->cases[k].phase] = true;
            told[k] = true;
        }
    text[0] = '\0';
    for (size_t p = 0; p < r->n_phases && p < 255; p++) {
        size_t used = strlen(text), last = p;
        if (!in[p])
            continue;
        while (in[last + 1])
            last++;
        if (last > p)
            snprintf(text + used, size - used, "%s%zu-%zu", used ? ", " : "", p + 1, last + 1);
        else
            snprintf(text + used, size - used, "%s%zu", used ? ", " : "", p + 1);
        p = last;
    }
}

static void write_phases(rfy_page *page, const rfy_protect_result *r) {
    rfy_page_heading(page, "PHASES OF THE PROCEDURE (each fault strikes late in the phase)");
    for (size_t i = 0; i < r->n_phases; i++) {
        char number[32], from[96];
        snprintf(number, sizeof number, "  %2zu", i + 1);
        snprintf(from, sizeof from, "%s", rfy_show_time(r->phase[i].time).text);
        rfy_page_cell(page, number, 6, false);
        rfy_page_cell(page, from, 14, false);
        rfy_page_rest(page, 20, 20, r->phase[i].name);
    }
}

/* Less than this no gauge and relay can do (common practice, no source). */
static const double hopeless = 1e-3;

static bool is_saved(const rfy_protect_case *k) {
    return k->rescue && k->latest >= hopeless;
}

static void write_saving(const rfy_protect_case *k, char *text, size_t size) {
    if (is_saved(k) && k->guard && k->delay >= hopeless)
        snprintf(text, size, "Saved by the rule: %s, with a delay of at most %s.", k->guard,
                 rfy_show_span(k->delay).text);
    else if (is_saved(k))
        snprintf(text, size, "Saved by: %s, ordered within %s.", k->rescue,
                 rfy_show_span(k->latest).text);
    else if (k->available < k->transit)
        snprintf(text, size, "Nothing saves this; sound itself needs %s on the way.",
                 rfy_show_span(k->transit).text);
    else if (k->rescue)
        snprintf(text, size, "Nothing saves this: an order within %s would be needed.",
                 rfy_show_span(k->latest).text);
    else
        snprintf(text, size, "Nothing saves this.");
}

static void write_dangers(rfy_page *page, const rfy_protect_result *r, bool *told) {
    bool any = false;
    for (size_t i = 0; i < r->n_cases; i++) {
        const rfy_protect_case *k = &r->cases[i];
        if (!k->limit || told[i])
            continue;
        if (!any)
            rfy_page_heading(page, "TIME AVAILABLE, shortest first");
        any = true;
        char phases[64], time[96], saving[400];
        list_phases(r, i, told, phases, sizeof phases);
        snprintf(time, sizeof time, "  %s", rfy_show_span(k->available).text);
        write_saving(k, saving, sizeof saving);
        const bool lost = !is_saved(k);
        rfy_page_cell(page, time, 14, false);
        if (lost)
            rfy_page_bold(page, true);
        char what[900];
        snprintf(what, sizeof what, "%s (phase %s): %s. %s%s%s", r->fault[k->fault], phases,
                 k->limit, saving, k->rule ? " Too late: rule " : "", k->rule ? k->rule : "");
        rfy_page_rest(page, 14, 14, what);
        if (lost)
            rfy_page_bold(page, false);
    }
}

static void write_harmless(rfy_page *page, const rfy_protect_result *r, bool *told) {
    bool any = false;
    for (size_t i = 0; i < r->n_cases; i++) {
        const rfy_protect_case *k = &r->cases[i];
        if (k->limit || told[i] || k->trouble)
            continue;
        if (!any)
            rfy_page_heading(page, "NO LIMIT BREAKS within %s", rfy_show_time(r->horizon).text);
        any = true;
        char phases[64];
        list_phases(r, i, told, phases, sizeof phases);
        rfy_page_say(page, 2, 4, "- %s (phase %s)%s%s", r->fault[k->fault], phases,
                     k->rule ? ": kept by rule " : "", k->rule ? k->rule : "");
    }
    for (size_t i = 0; i < r->n_cases; i++)
        if (r->cases[i].trouble)
            rfy_page_say(page, 2, 4, "- %s (phase %zu) could not be computed: %s",
                         r->fault[r->cases[i].fault], r->cases[i].phase + 1, r->cases[i].trouble);
}

rfy_status rfy_write_protect_text(FILE *out, const rfy_protect_result *r,
                                  const rfy_write_options *options) {
    rfy_page page;
    rfy_status status = rfy_page_open(&page, out, options);
    if (status != RFY_OK)
        return status;
    rfy_page_title(&page, r->title);
    if (r->status == RFY_INTERRUPTED)
        rfy_page_say(&page, 0, 2, "INTERRUPTED: not every case is here.");
    else if (r->trouble)
        rfy_page_say(&page, 0, 2, "THE PROCEDURE COULD NOT BE RUN: %s", r->trouble);
    for (size_t i = 0; i < r->n_broken_alone; i++)
        rfy_page_say(&page, 0, 2,
                     "THE PROCEDURE ITSELF BREAKS A LIMIT, without any fault: %s. See rarefy run.",
                     r->broken_alone[i]);
    size_t broken = 0, lost = 0;
    for (size_t i = 0; i < r->n_cases; i++) {
        broken += r->cases[i].limit != NULL;
        lost += r->cases[i].limit && !is_saved(&r->cases[i]);
    }
    rfy_page_say(&page, 0, 2,
                 "%zu cases: %zu faults, one at a time, in %zu phases. %zu of them break a limit; "
                 "%zu of these cannot be saved by a valve or switch of this bench.",
                 r->n_cases, r->n_faults, r->n_phases, broken, lost);
    bool *told = rfy_xcalloc(r->n_cases + 1, sizeof *told);
    if (r->n_phases > 0 && r->n_cases > 0)
        write_phases(&page, r);
    write_dangers(&page, r, told);
    write_harmless(&page, r, told);
    free(told);
    if (broken > 0) {
        putc('\n', out);
        rfy_page_say(
            &page, 0, 2,
            "Times are those of gas that keeps its heat where gas rushes in: the safe ones. "
            "\"Ordered within\" counts from the fault to the moment the order is given; "
            "gauge, controller and relay must fit into it. The valve's own time is taken "
            "off already.");
    }
    rfy_page_list(&page, "ASSUMED, BECAUSE THE DESCRIPTION DOES NOT SAY", r->n_assumed, r->assumed);
    rfy_page_list(&page, "CAUTIONS", r->n_cautions, r->cautions);
    return rfy_page_close(&page);
}

rfy_status rfy_write_protect_json(FILE *out, const rfy_protect_result *r,
                                  const rfy_write_options *options) {
    rfy_json json;
    (void)options;
    rfy_json_begin(&json, out);
    rfy_json_text(&json, "title", r->title);
    rfy_json_text(&json, "trouble", r->trouble);
    rfy_json_number(&json, "horizon_s", r->horizon);
    rfy_json_texts(&json, "broken_without_fault", r->broken_alone, r->n_broken_alone);
    rfy_json_array(&json, "phases");
    for (size_t i = 0; i < r->n_phases; i++) {
        rfy_json_object(&json, NULL);
        rfy_json_text(&json, "name", r->phase[i].name);
        rfy_json_number(&json, "begin_s", r->phase[i].begin);
        rfy_json_number(&json, "end_s", r->phase[i].end);
        rfy_json_number(&json, "fault_at_s", r->phase[i].time);
        rfy_json_close(&json);
    }
    rfy_json_close(&json);
    rfy_json_array(&json, "cases");
    for (size_t i = 0; i < r->n_cases; i++) {
        const rfy_protect_case *k = &r->cases[i];
        rfy_json_object(&json, NULL);
        rfy_json_text(&json, "fault", r->fault[k->fault]);
        rfy_json_count(&json, "phase", k->phase);
        rfy_json_text(&json, "limit", k->limit);
        rfy_json_number(&json, "available_s", k->available);
        rfy_json_number(&json, "isothermal_s", k->isothermal);
        rfy_json_number(&json, "transit_s", k->transit);
        rfy_json_text(&json, "path", k->path);
        rfy_json_text(&json, "saved_by", k->rescue);
        rfy_json_number(&json, "ordered_within_s", k->latest);
        rfy_json_text(&json, "saved_by_rule", k->guard);
        rfy_json_number(&json, "rule_delay_s", k->delay);
        rfy_json_text(&json, "rules", k->rule);
        rfy_json_text(&json, "trouble", k->trouble);
        rfy_json_close(&json);
    }
    rfy_json_close(&json);
    rfy_json_texts(&json, "assumed", r->assumed, r->n_assumed);
    rfy_json_texts(&json, "cautions", r->cautions, r->n_cautions);
    return rfy_json_end(&json);
}
