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
        used += (size_t)snprintf(
            text + used, size - used, "%s%.60s" RFY_GLUE "%s (%s)", used ? ", " : "", r->gas[g],
            percent.text + strspn(percent.text, " "), rfy_show_pressure(page, partial[g], 2).text);
    }
    if (used == 0)
        snprintf(text, size, "no gas");
    else if (small)
        snprintf(text + used, size - used, ", the rest under 1" RFY_GLUE "%%");
    free(order);
    return text;
}

void rfy_page_sources(rfy_page *page, const rfy_result *r, size_t chamber, size_t most) {
    const rfy_ultimate *u = &r->ultimate;
    double total = rfy_levels_at(r, (long)chamber), rest = 0;
    if (!(total > 0) || u->n_shares == 0)
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

rfy_status rfy_write_ultimate_text(FILE *out, const rfy_result *r,
                                   const rfy_write_options *options) {
    rfy_page page;
    rfy_status status = rfy_page_open(&page, out, options);
    if (status != RFY_OK)
        return status;
    const rfy_ultimate *u = &r->ultimate;
    rfy_page_bold(&page, true);
    rfy_page_say(&page, 0, 2, "%s", r->title && r->title[0] ? r->title : "Untitled");
    rfy_page_bold(&page, false);
    putc('\n', out);
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
    for (size_t c = 0; u->found && c < r->n_chambers; c++) {
        if (rfy_is_inside(r, c))
            continue;
        char dry[160] = "";
        if (u->floor && isfinite(u->floor[c]))
            snprintf(dry, sizeof dry, " (with dry walls %s)",
                     rfy_show_pressure(&page, u->floor[c], 2).text);
        rfy_page_heading(&page, "%s: %s%s", r->chamber[c],
                         rfy_show_pressure(&page, u->total[c], 3).text, dry);
        if (u->partial) {
            char *makeup = rfy_gas_makeup(&page, r, u->partial + c * r->n_gases);
            rfy_page_say(&page, 2, 4, "%s", makeup);
            free(makeup);
        }
        rfy_page_sources(&page, r, c, 6);
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
