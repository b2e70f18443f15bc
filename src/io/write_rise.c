/* The answer of a rate-of-rise test for people. */
#include <string.h>
#include "core/arena.h"
#include "core/text.h"
#include "core/units.h"
#include "io/write_log.h"

typedef struct phrase {
    char text[400];
} phrase;

/* "1.2e-6 Pa m3/s (95 %: 1e-6 to 1.4e-6)" */
static phrase flow(const rfy_page *page, const rfy_interval *i) {
    phrase p;
    const double unit = page->load_unit_SI;
    if (isfinite(i->high))
        snprintf(p.text, sizeof p.text, "%s (95" RFY_GLUE "%%: %s to %s)",
                 rfy_show_load(page, i->value).text, rfy_show_number(i->low / unit, 2, true).text,
                 rfy_show_number(i->high / unit, 2, true).text);
    else
        snprintf(p.text, sizeof p.text, "%s (95" RFY_GLUE "%%: more than %s, no upper end)",
                 rfy_show_load(page, i->value).text, rfy_show_number(i->low / unit, 2, true).text);
    return p;
}

static phrase at_most(const rfy_page *page, const rfy_interval *i) {
    phrase p;
    snprintf(p.text, sizeof p.text, "%s",
             isfinite(i->high) ? rfy_show_load(page, i->high).text : "anything");
    return p;
}

static void say_levelling(rfy_page *page, const rfy_rise_result *r) {
    char level[120] = "";
    if (isfinite(r->level.value))
        snprintf(level, sizeof level, ", towards %s above where it began",
                 rfy_show_pressure(page, r->level.value * r->gas_factor, 2).text);
    if (r->power_law)
        rfy_page_say(page, 2, 2,
                     "The flow falls as a power of time, as from wet walls or elastomers, rather "
                     "than levelling towards one pressure.");
    else if (isfinite(r->levelling))
        rfy_page_say(page, 2, 2, "It levels with a time constant of %s%s.",
                     rfy_show_time(r->levelling).text, level);
}

static void write_verdict(rfy_page *page, const rfy_rise_result *r) {
    rfy_page_bold(page, true);
    switch (r->verdict) {
    case RFY_RISE_LEAK:
        rfy_page_say(page, 0, 2,
                     "A LEAK: the pressure rises in a straight line, %s of gas keep "
                     "coming. Outgassing is at most %s of the rise.",
                     flow(page, &r->leak).text, rfy_say_percent(r->outgassing_share).text);
        break;
    case RFY_RISE_OUTGASSING:
        rfy_page_say(page, 0, 2,
                     "OUTGASSING: the rise levels off. It began with %s; a leak, if "
                     "there is one, is at most %s.",
                     flow(page, &r->outgassing).text, at_most(page, &r->leak).text);
        break;
    case RFY_RISE_BOTH:
        rfy_page_say(page, 0, 2, "BOTH: a leak of %s, and outgassing that began with %s.",
                     flow(page, &r->leak).text, flow(page, &r->outgassing).text);
        break;
    case RFY_RISE_NOTHING:
        rfy_page_say(page, 0, 2,
                     "NO RISE beyond the scatter of the readings: a leak is at most %s.",
                     at_most(page, &r->leak).text);
        break;
    case RFY_RISE_UNDECIDED:
        if (!isfinite(r->leak.value))
            rfy_page_say(page, 0, 2,
                         "CANNOT TELL leak from outgassing: %zu readings say how fast "
                         "the pressure rises, not how the rise changes. Together they "
                         "are %s (%.4g mol/s).",
                         r->n_used, rfy_show_load(page, r->total).text, r->moles);
        else if (r->leak_certain)
            rfy_page_say(page, 0, 2,
                         "A LEAK FOR CERTAIN, of %s; how much of the rise is "
                         "outgassing CANNOT BE TOLD: up to %s of it.",
                         flow(page, &r->leak).text, rfy_say_percent(r->outgassing_share).text);
        else if (r->outgassing_certain)
            rfy_page_say(page, 0, 2,
                         "OUTGASSING FOR CERTAIN, %s at the beginning; whether there is "
                         "a leak besides CANNOT BE TOLD: up to %s.",
                         flow(page, &r->outgassing).text, at_most(page, &r->leak).text);
        else
            rfy_page_say(page, 0, 2,
                         "CANNOT TELL leak from outgassing at this scatter: a straight "
                         "line and a levelling curve fit alike. Together they are %s.",
                         rfy_show_load(page, r->total).text);
        break;
    }
    rfy_page_bold(page, false);
    if (r->verdict == RFY_RISE_OUTGASSING || r->verdict == RFY_RISE_BOTH)
        say_levelling(page, r);
}

static void write_length(rfy_page *page, const rfy_rise_result *r) {
    double length = r->to - r->from;
    rfy_page_heading(page, "IS THE RECORD LONG ENOUGH?");
    char now[96];
    snprintf(now, sizeof now, "%s", rfy_show_time(length).text);
    if (isnan(r->needed))
        rfy_page_say(page, 2, 2,
                     "With %zu readings that cannot be worked out; take 20 or more, "
                     "evenly over a time in which the pressure at least doubles.",
                     r->n_used);
    else if (r->verdict != RFY_RISE_UNDECIDED && r->verdict != RFY_RISE_NOTHING)
        rfy_page_say(page, 2, 2, "Yes: %s; about %s would have told it.", now,
                     rfy_show_time(r->needed).text);
    else if (isfinite(r->needed))
        rfy_page_say(page, 2, 2,
                     "No: %s. At this scatter and with readings as often as here, about "
                     "%s would part a leak from outgassing, if neither changes.",
                     now, rfy_show_time(r->needed).text);
    else
        rfy_page_say(page, 2, 2,
                     "No, and no record up to 1000 times as long would do at this "
                     "scatter: a steadier gauge, or a smaller volume, would.");
    rfy_page_say(page, 2, 2,
                 "What levels more slowly than twice the record looks like a leak to any "
                 "test of this length, and is counted as one.");
}

static void write_evidence(rfy_page *page, const rfy_rise_result *r) {
    static const char *const name[] = {"nothing comes in", "leak alone", "outgassing alone",
                                       "both"};
    if (isnan(r->bic[0]))
        return;
    rfy_page_heading(page, "EVIDENCE (Schwarz's criterion above the best; 6 is strong, 10 very "
                           "strong)");
    for (int i = 0; i < 4; i++) {
        fputs("  ", page->out);
        rfy_page_cell(page, name[i], 18, false);
        rfy_page_cell(page, r->bic[i] < 0.05 ? "0" : rfy_show_number(r->bic[i], 2, true).text, 8,
                      true);
        putc('\n', page->out);
    }
    rfy_page_say(page, 2, 2, "Readings scatter by %s of the pressure and %s besides%s.",
                 rfy_say_percent(r->scatter).text, rfy_show_pressure(page, r->floor, 2).text,
                 r->ratio ? ", evenly in ratio" : "");
    if (r->n_outliers > 0)
        rfy_page_say(page, 2, 2, "%zu reading%s far from all the others %s left out.",
                     r->n_outliers, r->n_outliers == 1 ? "" : "s",
                     r->n_outliers == 1 ? "was" : "were");
    if (r->n_floor > 0)
        rfy_page_say(page, 2, 2,
                     "%zu readings at the beginning stand at the lowest the gauge "
                     "shows and were left out.",
                     r->n_floor);
    if (r->misfit > 1.3)
        rfy_page_say(page, 2, 2,
                     "Neither shape quite fits: readings stray %s times as far from the "
                     "curve as from their neighbours. Something changed on the way "
                     "(temperature, a valve), and the intervals are too narrow.",
                     rfy_show_number(r->misfit, 2, true).text);
}

static void write_rates(rfy_page *page, const rfy_rise_result *r) {
    rfy_page_heading(page, "RATE OF RISE (%s a minute; flow in %s)", page->unit, page->load_unit);
    fputs("  from        to           pressure        rate        flow\n", page->out);
    for (size_t i = 0; i < r->n_rows; i++) {
        const rfy_rise_row *row = &r->row[i];
        fputs("  ", page->out);
        rfy_page_cell(page, rfy_show_time(row->from).text, 12, false);
        rfy_page_cell(page, rfy_show_time(row->to).text, 10, false);
        rfy_page_cell(page, rfy_show_number(row->pressure / page->unit_Pa, 3, false).text, 11,
                      true);
        rfy_page_cell(page, rfy_show_number(row->rate * 60 / page->unit_Pa, 3, true).text, 12,
                      true);
        rfy_page_cell(page, rfy_show_number(row->flow / page->load_unit_SI, 2, true).text, 12,
                      true);
        putc('\n', page->out);
    }
}

static void write_gauge(rfy_page *page, const rfy_rise_result *r) {
    rfy_page_heading(page, "GAUGE AND TEMPERATURE");
    char factor[96];
    snprintf(factor, sizeof factor, "%s", rfy_show_number(r->gas_factor, 2, true).text);
    if (r->gauge && strcmp(r->gauge, "capacitance") != 0)
        rfy_page_say(page, 2, 4,
                     "- The %s gauge shows %s times the true pressure of %s: outgassing "
                     "above is counted as %s, the leak as air.",
                     r->gauge, factor, r->gas, r->gas);
    else if (r->gauge)
        rfy_page_say(page, 2, 4, "- A capacitance gauge shows every gas alike.");
    else
        rfy_page_say(page, 2, 4,
                     "- Readings are taken as true pressures. A thermal gauge would show "
                     "%s as %s times its pressure, a hot cathode as %s times: say --gauge.",
                     r->gas, rfy_show_number(r->thermal_gas_factor, 2, true).text,
                     rfy_show_number(r->ion_gas_factor, 2, true).text);
    if (r->corrected)
        rfy_page_say(page, 2, 4,
                     "- Corrected for the temperature of the gas (pV = nRT); without that "
                     "%s more would have shown.",
                     rfy_show_load(page, r->drift_flow).text);
    else
        rfy_page_say(page, 2, 4,
                     "- A warming by 1 K over the record looks like %s (%s" RFY_GLUE "%% of the "
                     "pressure per kelvin); give --temperature or --drift to take it "
                     "out.",
                     rfy_show_load(page, r->by_kelvin).text,
                     rfy_show_number(100 / r->temperature, 2, true).text);
}

static void write_one(rfy_page *page, const rfy_rise_result *r) {
    write_verdict(page, r);
    char volume[48];
    rfy_page_say(page, 2, 2, "Volume %s, gas at %s" RFY_GLUE "degC.",
                 rfy_format_quantity(volume, sizeof volume, RFY_DIM_VOLUME, r->volume),
                 rfy_show_number(r->temperature - 273.15, 3, true).text);
    write_length(page, r);
    write_rates(page, r);
    write_evidence(page, r);
    write_gauge(page, r);
    rfy_page_log(page, r->log);
}

static void say_change(rfy_page *page, const char *what, double change, double error, double before,
                       double after) {
    if (!isfinite(error)) {
        rfy_page_say(page, 2, 4, "- %s: the two tests do not say.", what);
        return;
    }
    char from[96], to[96];
    snprintf(from, sizeof from, "%s", rfy_show_load(page, before).text);
    snprintf(to, sizeof to, "%s", rfy_show_load(page, after).text);
    if (fabs(change) < 1.96 * error)
        rfy_page_say(page, 2, 4,
                     "- %s: %s before, %s after; the difference is within what the two "
                     "tests can tell (%s).",
                     what, from, to, rfy_show_load(page, 1.96 * error).text);
    else
        rfy_page_say(page, 2, 4, "- %s %s from %s to %s, by %s give or take %s.", what,
                     change < 0 ? "fell" : "ROSE", from, to, rfy_show_load(page, fabs(change)).text,
                     rfy_show_load(page, 1.96 * error).text);
}

static void write_change(rfy_page *page, const rfy_rise_result *before,
                         const rfy_rise_result *after) {
    rfy_rise_change c = rfy_rise_compare(before, after);
    rfy_page_heading(page, "BEFORE AND AFTER");
    say_change(page, "leak", c.leak, c.leak_error, before->leak.value, after->leak.value);
    say_change(page, "outgassing at the first reading", c.outgassing, c.outgassing_error,
               before->outgassing.value, after->outgassing.value);
    if (fabs(before->from - after->from) > 1 ||
        before->to - before->from > 1.2 * (after->to - after->from) ||
        after->to - after->from > 1.2 * (before->to - before->from))
        rfy_page_say(page, 2, 4,
                     "- The two records differ in beginning or length: outgassing then "
                     "differs by itself.");
}

rfy_status rfy_write_rise_text(FILE *out, const rfy_rise_result *result,
                               const rfy_rise_result *after, const rfy_write_options *options) {
    rfy_page page;
    rfy_status status = rfy_page_open(&page, out, options);
    if (status != RFY_OK)
        return status;
    if (after) {
        write_change(&page, result, after);
        rfy_page_heading(&page, "BEFORE");
    }
    write_one(&page, result);
    if (after) {
        rfy_page_heading(&page, "AFTER");
        write_one(&page, after);
    }
    rfy_page_heading(&page, "SAFETY");
    rfy_page_say(&page, 2, 4,
                 "- This is an estimate from one record. Evacuated glass may implode "
                 "while it stands shut off: shield it. Local rules, the makers' manuals "
                 "and trained people come first.");
    return rfy_page_close(&page);
}

/* ---- JSON ---- */

static void interval(rfy_json *json, const char *key, const rfy_interval *i) {
    rfy_json_object(json, key);
    rfy_json_number(json, "value", i->value);
    rfy_json_number(json, "low", i->low);
    rfy_json_number(json, "high", i->high);
    rfy_json_close(json);
}

static void write_test(rfy_json *json, const rfy_rise_result *r) {
    static const char *const verdicts[] = {"nothing", "leak", "outgassing", "both", "cannot tell"};
    static const char *const kinds[] = {"nothing", "leak", "outgassing", "both"};
    rfy_json_text(json, "verdict", verdicts[r->verdict]);
    rfy_json_flag(json, "leak_certain", r->leak_certain);
    rfy_json_flag(json, "outgassing_certain", r->outgassing_certain);
    rfy_json_number(json, "volume_m3", r->volume);
    rfy_json_number(json, "temperature_K", r->temperature);
    rfy_json_number(json, "from_s", r->from);
    rfy_json_number(json, "to_s", r->to);
    rfy_json_count(json, "readings", r->n_used);
    rfy_json_count(json, "outliers", r->n_outliers);
    rfy_json_count(json, "at_floor", r->n_floor);
    interval(json, "leak_Pa_m3_per_s", &r->leak);
    interval(json, "outgassing_Pa_m3_per_s", &r->outgassing);
    interval(json, "level_Pa", &r->level);
    rfy_json_number(json, "levelling_s", r->levelling);
    rfy_json_flag(json, "power_law", r->power_law);
    rfy_json_number(json, "background_Pa", r->background);
    rfy_json_number(json, "leak_share_at_most", r->leak_share);
    rfy_json_number(json, "outgassing_share_at_most", r->outgassing_share);
    rfy_json_number(json, "total_Pa_m3_per_s", r->total);
    rfy_json_number(json, "total_mol_per_s", r->moles);
    rfy_json_number(json, "scatter", r->scatter);
    rfy_json_number(json, "scatter_floor_Pa", r->floor);
    rfy_json_by_name(json, "criterion_above_best", kinds, r->bic, 4);
    rfy_json_number(json, "misfit", r->misfit);
    rfy_json_number(json, "length_needed_s", r->needed);
    rfy_json_number(json, "flow_of_1_K_Pa_m3_per_s", r->by_kelvin);
    rfy_json_text(json, "gauge", r->gauge);
    rfy_json_text(json, "gas", r->gas);
    rfy_json_number(json, "gas_factor", r->gas_factor);
    rfy_json_array(json, "rates");
    for (size_t i = 0; i < r->n_rows; i++) {
        rfy_json_object(json, NULL);
        rfy_json_number(json, "from_s", r->row[i].from);
        rfy_json_number(json, "to_s", r->row[i].to);
        rfy_json_number(json, "pressure_Pa", r->row[i].pressure);
        rfy_json_number(json, "rate_Pa_per_s", r->row[i].rate);
        rfy_json_number(json, "flow_Pa_m3_per_s", r->row[i].flow);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_log(json, "log", r->log);
}

rfy_status rfy_write_rise_json(FILE *out, const rfy_rise_result *result,
                               const rfy_rise_result *after, const rfy_write_options *options) {
    rfy_json json;
    (void)options;
    rfy_json_begin(&json, out);
    write_test(&json, result);
    if (after) {
        rfy_rise_change c = rfy_rise_compare(result, after);
        rfy_json_object(&json, "after");
        write_test(&json, after);
        rfy_json_close(&json);
        rfy_json_object(&json, "change");
        rfy_json_number(&json, "leak_Pa_m3_per_s", c.leak);
        rfy_json_number(&json, "leak_error_Pa_m3_per_s", c.leak_error);
        rfy_json_number(&json, "outgassing_Pa_m3_per_s", c.outgassing);
        rfy_json_number(&json, "outgassing_error_Pa_m3_per_s", c.outgassing_error);
        rfy_json_close(&json);
    }
    return rfy_json_end(&json);
}
