/* The steady state: how low, of which gas, from which source. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/arena.h"
#include "io/write_common.h"

/* Indices of `value` sorted from large to small; n is small. */
static void sort_down(size_t *index, const double *value, size_t n) {
    for (size_t i = 0; i < n; i++) {
        size_t k = i;
        for (; k > 0 && value[index[k - 1]] < value[i]; k--)
            index[k] = index[k - 1];
        index[k] = i;
    }
}

char *rfy_gas_makeup(const rfy_page *page, const rfy_result *r, const double *partial) {
    size_t size = 64 + 256 * r->n_gases, used = 0, small = 0;
    char *text = rfy_xcalloc(size, 1);
    size_t *order = rfy_xcalloc(r->n_gases + 1, sizeof *order);
    double total = 0;
    for (size_t g = 0; g < r->n_gases; g++)
        total += partial[g];
    sort_down(order, partial, r->n_gases);
    for (size_t i = 0; i < r->n_gases; i++) {
        size_t g = order[i];
        if (!(partial[g] > 0) || (i > 0 && partial[g] < 0.01 * total)) {
            small += partial[g] > 0;
            continue;
        }
        rfy_word percent = rfy_show_percent(partial[g] / total);
        used +=
            (size_t)snprintf(text + used, size - used, "%s%.60s" RFY_GLUE "%s", used ? ", " : "",
                             r->gas[g], percent.text + strspn(percent.text, " "));
        if (page)
            used += (size_t)snprintf(text + used, size - used, " (%s)",
                                     rfy_show_pressure(page, partial[g], 2).text);
    }
    if (used == 0)
        snprintf(text, size, "no gas");
    else if (small)
        snprintf(text + used, size - used, ", the rest under 1" RFY_GLUE "%%");
    free(order);
    return text;
}

bool rfy_sources_matter(const rfy_result *r, size_t chamber) {
    const rfy_ultimate *u = &r->ultimate;
    double total = rfy_levels_at(r, (long)chamber);
    for (size_t k = 0; total > 0 && k < u->n_shares; k++)
        if (u->share[k].pressure && u->share[k].pressure[chamber] >= 0.005 * total)
            return true;
    return false;
}

void rfy_page_sources(rfy_page *page, const rfy_result *r, size_t chamber, size_t most) {
    const rfy_ultimate *u = &r->ultimate;
    double total = rfy_levels_at(r, (long)chamber), rest = 0;
    if (!rfy_sources_matter(r, chamber))
        return;
    double *part = rfy_xcalloc(u->n_shares, sizeof *part);
    size_t *order = rfy_xcalloc(u->n_shares, sizeof *order);
    for (size_t k = 0; k < u->n_shares; k++)
        part[k] = u->share[k].pressure ? u->share[k].pressure[chamber] : 0;
    sort_down(order, part, u->n_shares);
    for (size_t i = 0; i < u->n_shares; i++) {
        const rfy_share *s = &u->share[order[i]];
        double p = part[order[i]];
        if (i >= most || (i > 0 && p < 0.005 * total))
            rest += p;
        else
            rfy_page_say(page, 4, 12, "%s  %s from %s (%s)", rfy_show_percent(p / total).text,
                         r->gas[s->gas], s->source, rfy_show_load(page, s->throughput).text);
    }
    if (rest >= 0.005 * total)
        rfy_page_say(page, 4, 12, "%s  all the rest", rfy_show_percent(rest / total).text);
    free(part);
    free(order);
}

void rfy_page_rising(rfy_page *page, const rfy_result *r) {
    for (size_t i = 0; i < r->ultimate.n_rising; i++) {
        const rfy_rising *x = &r->ultimate.rising[i];
        rfy_page_say(page, 2, 4, "%s in %s is removed by nothing: it rises by %s every hour.",
                     r->gas[x->gas], r->chamber[x->chamber],
                     rfy_show_pressure(page, x->rate * 3600, 2).text);
    }
}

/* Chamber, pressure, pressure with dry walls, make-up: one line each. */
static void write_levels(rfy_page *page, const rfy_result *r) {
    const rfy_ultimate *u = &r->ultimate;
    int name = 10;
    for (size_t c = 0; c < r->n_chambers; c++)
        if (!rfy_is_inside(r, c) && rfy_text_columns(r->chamber[c]) > name)
            name = rfy_text_columns(r->chamber[c]);
    name = name > 26 ? 26 : name;
    int words = 2 + name + 2 * 11 + 3;
    rfy_page_heading(page, "LEVELS (%s)", page->unit);
    rfy_page_cell(page, "", 2 + name, false);
    rfy_page_cell(page, "pressure", 11, true);
    rfy_page_cell(page, "dry walls", 11, true);
    fputs("   of which\n", page->out);
    for (size_t c = 0; c < r->n_chambers; c++) {
        if (rfy_is_inside(r, c))
            continue;
        fputs("  ", page->out);
        rfy_page_cell(page, r->chamber[c], name, false);
        if (rfy_text_columns(r->chamber[c]) > name) {
            putc('\n', page->out);
            rfy_page_cell(page, "", 2 + name, false);
        }
        rfy_page_cell(page, rfy_show_pressure_number(page, u->total[c], 3, false).text, 11, true);
        rfy_page_cell(page,
                      u->floor && isfinite(u->floor[c])
                          ? rfy_show_pressure_number(page, u->floor[c], 2, false).text
                          : "",
                      11, true);
        char *makeup = u->partial ? rfy_gas_makeup(NULL, r, u->partial + c * r->n_gases) : NULL;
        fputs("   ", page->out);
        rfy_page_rest(page, words, words, makeup ? makeup : "");
        free(makeup);
    }
}

/* Share of the source k in the pressure of a chamber. */
static double share_in(const rfy_ultimate *u, size_t k, size_t chamber) {
    return u->share[k].pressure && u->total[chamber] > 0
               ? u->share[k].pressure[chamber] / u->total[chamber]
               : 0;
}

static void write_share_row(rfy_page *page, const rfy_columns *t, const double *share,
                            const char *words) {
    fprintf(page->out, "%*s", t->begin, "");
    for (size_t i = 0; i < t->n; i++) {
        fputs("  ", page->out);
        rfy_page_cell(page, share[i] > 0 ? rfy_show_percent(share[i]).text : "-", t->width[i],
                      true);
    }
    fputs("   ", page->out);
    rfy_page_rest(page, t->words, t->words + 2, words);
}

static void write_shares(rfy_page *page, const rfy_result *r) {
    enum { MOST = 10 };
    const rfy_ultimate *u = &r->ultimate;
    if (u->n_shares == 0)
        return;
    rfy_columns t = rfy_columns_choose(page, r, 0);
    double *most = rfy_xcalloc(u->n_shares, sizeof *most);
    size_t *order = rfy_xcalloc(u->n_shares, sizeof *order);
    for (size_t k = 0; k < u->n_shares; k++)
        for (size_t i = 0; i < t.n; i++)
            most[k] = fmax(most[k], share_in(u, k, t.chamber[i]));
    sort_down(order, most, u->n_shares);
    rfy_page_heading(page, "WHERE IT COMES FROM (share of the pressure)");
    rfy_columns_header(page, &t, r, "", "gas and source");
    double rest[RFY_MOST_COLUMNS] = {0};
    bool any_rest = false;
    for (size_t n = 0; n < u->n_shares; n++) {
        const rfy_share *s = &u->share[order[n]];
        double share[RFY_MOST_COLUMNS] = {0};
        for (size_t i = 0; i < t.n; i++)
            share[i] = share_in(u, order[n], t.chamber[i]);
        if (n >= MOST || (n > 0 && most[order[n]] < 0.005)) {
            for (size_t i = 0; i < t.n; i++)
                rest[i] += share[i];
            any_rest = true;
            continue;
        }
        char words[640];
        snprintf(words, sizeof words, "%s from %s: %s", r->gas[s->gas], s->source,
                 rfy_show_load(page, s->throughput).text);
        write_share_row(page, &t, share, words);
    }
    if (any_rest)
        write_share_row(page, &t, rest, "all the rest");
    rfy_columns_footer(page, &t, "--json");
    free(most);
    free(order);
}

rfy_status rfy_write_ultimate_text(FILE *out, const rfy_result *r,
                                   const rfy_write_options *options) {
    rfy_page page;
    rfy_status status = rfy_page_open(&page, out, options);
    if (status != RFY_OK)
        return status;
    const rfy_ultimate *u = &r->ultimate;
    rfy_page_title(&page, r->title);
    if (r->trouble)
        rfy_page_say(&page, 0, 2, "%s %s",
                     r->status == RFY_INTERRUPTED ? "INTERRUPTED." : "IT COULD NOT BE FINISHED.",
                     r->trouble);
    if (!u->found) {
        rfy_page_say(&page, 0, 2, "No steady state was found.");
    } else {
        rfy_page_say(&page, 0, 2,
                     "The pressure levels as follows, with valves and pumps as at the end of the "
                     "procedure and walls as they are after %s:",
                     rfy_show_time(u->after).text);
    }
    if (u->found) {
        write_levels(&page, r);
        write_shares(&page, r);
    }
    if (u->n_rising > 0)
        rfy_page_heading(&page, "NOT STEADY");
    rfy_page_rising(&page, r);
    rfy_page_closing(&page, r);
    return rfy_page_close(&page);
}

void rfy_json_ultimate(rfy_json *json, const rfy_result *r) {
    const rfy_ultimate *u = &r->ultimate;
    if (!u->found) {
        rfy_json_null(json, "ultimate");
    } else {
        rfy_json_object(json, "ultimate");
        for (size_t c = 0; c < r->n_chambers; c++) {
            rfy_json_object(json, r->chamber[c]);
            rfy_json_number(json, "total_Pa", u->total ? u->total[c] : (double)NAN);
            rfy_json_by_name(json, "partial_Pa", r->gas,
                             u->partial ? u->partial + c * r->n_gases : NULL, r->n_gases);
            rfy_json_number(json, "floor_Pa", u->floor ? u->floor[c] : (double)NAN);
            rfy_json_close(json);
        }
        rfy_json_close(json);
    }
    rfy_json_number(json, "ultimate_after_s", u->found ? u->after : (double)NAN);
    rfy_json_array(json, "ultimate_sources");
    for (size_t i = 0; i < u->n_shares; i++) {
        const rfy_share *s = &u->share[i];
        rfy_json_object(json, NULL);
        rfy_json_text(json, "source", s->source);
        rfy_json_text(json, "gas", r->gas[s->gas]);
        rfy_json_number(json, "throughput_Pa_m3_s", s->throughput);
        rfy_json_by_name(json, "pressure_Pa", r->chamber, s->pressure, r->n_chambers);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_array(json, "rising");
    for (size_t i = 0; i < u->n_rising; i++) {
        const rfy_rising *x = &u->rising[i];
        rfy_json_object(json, NULL);
        rfy_json_text(json, "chamber", r->chamber[x->chamber]);
        rfy_json_text(json, "gas", r->gas[x->gas]);
        rfy_json_number(json, "rate_Pa_s", x->rate);
        rfy_json_close(json);
    }
    rfy_json_close(json);
}

rfy_status rfy_write_ultimate_json(FILE *out, const rfy_result *result,
                                   const rfy_write_options *options) {
    (void)options; /* JSON is always in SI, as its keys say */
    rfy_json json;
    rfy_json_begin(&json, out);
    rfy_json_opening(&json, result);
    rfy_json_texts(&json, "gases", result->gas, result->n_gases);
    rfy_json_texts(&json, "chambers", result->chamber, result->n_chambers);
    rfy_json_ultimate(&json, result);
    rfy_json_closing(&json, result);
    return rfy_json_end(&json);
}
