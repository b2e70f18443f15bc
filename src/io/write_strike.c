/* What the fault of a run comes to, in text and JSON. */
#include <math.h>
#include <string.h>
#include "io/write_common.h"

rfy_word rfy_show_span(double seconds) {
    rfy_word word;
    if (!isfinite(seconds) || seconds >= 59.5 || !(seconds > 0))
        return rfy_show_time(seconds);
    const char *unit = seconds < 1e-3 ? "us" : seconds < 0.9995 ? "ms" : "s";
    double in = seconds < 1e-3 ? 1e6 : seconds < 0.9995 ? 1e3 : 1;
    snprintf(word.text, sizeof word.text, "%.30s" RFY_GLUE "%s",
             rfy_show_number(seconds * in, 3, true).text, unit);
    return word;
}

static rfy_word show_area(double m2) {
    rfy_word word;
    const bool small = m2 < 1e-4;
    snprintf(word.text, sizeof word.text, "%.30s" RFY_GLUE "%s",
             rfy_show_number(m2 * (small ? 1e6 : 1e4), 3, true).text, small ? "mm2" : "cm2");
    return word;
}

static void write_times(rfy_page *page, const rfy_strike *s) {
    const rfy_broken_limit *first = &s->broken[0];
    rfy_page_bold(page, true);
    rfy_page_say(page, 2, 2, "Time available: %s, then \"%s\" is broken.",
                 rfy_show_span(s->available).text, first->limit);
    rfy_page_bold(page, false);
    for (size_t i = 0; i < s->n_broken; i++) {
        const rfy_broken_limit *b = &s->broken[i];
        char cold[96], hot[96];
        snprintf(cold, sizeof cold, "%s", rfy_show_span(b->isothermal).text);
        snprintf(hot, sizeof hot, "%s", rfy_show_span(b->adiabatic).text);
        if (isnan(b->adiabatic))
            rfy_page_say(page, 2, 4, "- %s: after %s.", b->limit, cold);
        else if (isnan(b->isothermal))
            rfy_page_say(page, 2, 4,
                         "- %s: after %s at the earliest; kept where the gas is cooled at once.",
                         b->limit, hot);
        else
            rfy_page_say(page, 2, 4,
                         "- %s: after %s at the earliest (gas that keeps its heat), %s where the "
                         "walls cool it at once.",
                         b->limit, hot, cold);
    }
    if (isfinite(first->adiabatic))
        rfy_page_say(page, 2, 2,
                     "Gas that rushes in is warmed by filling; until the walls have taken that "
                     "heat, pressures rise faster. The earlier time is a bound and the one to "
                     "build on.");
    if (s->path)
        rfy_page_say(page, 2, 4, "Way of the gas: %s.", s->path);
    if (s->available < s->transit)
        rfy_page_say(page, 2, 2,
                     "This is less than the %s that sound needs along that way: one pressure for "
                     "every chamber is too coarse here. Nothing between can act in time.",
                     rfy_show_span(s->transit).text);
}

static void write_rescues(rfy_page *page, const rfy_strike *s) {
    char vain[700] = "";
    bool any = false;
    for (size_t i = 0; i < s->n_rescues; i++) {
        const rfy_rescue *r = &s->rescue[i];
        char takes[128] = "";
        if (r->takes > 0)
            snprintf(takes, sizeof takes, " (moving takes %s)", rfy_show_span(r->takes).text);
        size_t used = strlen(vain);
        if (r->saves)
            rfy_page_say(page, 2, 4, "- %s: saves every limit when ordered within %s%s.", r->action,
                         rfy_show_span(r->latest).text, takes);
        else
            snprintf(vain + used, sizeof vain - used, "%s%s%s", used ? "; " : "", r->action, takes);
        any = any || r->saves;
    }
    if (!any)
        rfy_page_say(page, 2, 2, "Nothing that can be switched here saves it%s.",
                     s->n_rescues ? "" : ": no valve stands in the way");
    if (*vain)
        rfy_page_say(page, 2, 4, "In vain, even at once: %s.", vain);
}

static void write_hole(rfy_page *page, const rfy_strike *s) {
    char hot[128] = "";
    if (isnan(s->largest_hole))
        return;
    if (s->largest_hole_adiabatic < s->largest_hole * 0.995)
        snprintf(hot, sizeof hot, " (%s where the gas keeps its heat)",
                 s->largest_hole_adiabatic > 0 ? show_area(s->largest_hole_adiabatic).text
                                               : "none");
    if (!(s->largest_hole > 0))
        rfy_page_say(page, 2, 2, "Largest hole that can be saved (%s): none.", s->by);
    else if (isinf(s->largest_hole))
        rfy_page_say(page, 2, 2, "Largest hole that can be saved (%s): any up to 1000 cm2%s.",
                     s->by, hot);
    else
        rfy_page_say(page, 2, 2, "Largest hole that can be saved (%s): %s%s.", s->by,
                     show_area(s->largest_hole).text, hot);
}

void rfy_page_strike(rfy_page *page, const rfy_result *r) {
    const rfy_strike *s = r->strike;
    if (!s)
        return;
    if (!s->struck) {
        rfy_page_heading(page, "THE FAULT: %s", s->what);
        rfy_page_say(page, 2, 2, "It did not strike within the %s of the run.",
                     rfy_show_time(r->end).text);
        return;
    }
    rfy_page_heading(page, "THE FAULT: %s, at %s", s->what, rfy_show_time(s->time).text);
    for (size_t i = 0; i < s->n_rules; i++)
        rfy_page_say(page, 2, 4, "Rule, %s after it: %s.", rfy_show_span(s->rule_time[i]).text,
                     s->rule[i]);
    if (s->n_broken > 0) {
        if (s->n_rules > 0)
            rfy_page_say(page, 2, 2, "The rules are NOT fast enough.");
        write_times(page, s);
        write_rescues(page, s);
    } else {
        rfy_page_say(page, 2, 2, "No limit breaks within 30 min after it%s.",
                     s->n_rules > 0 ? ": the rules are fast enough" : "");
    }
    write_hole(page, s);
}

void rfy_json_strike(rfy_json *json, const rfy_result *r) {
    const rfy_strike *s = r->strike;
    if (!s)
        return;
    rfy_json_object(json, "fault");
    rfy_json_text(json, "what", s->what);
    rfy_json_flag(json, "struck", s->struck);
    rfy_json_number(json, "time_s", s->time);
    rfy_json_number(json, "available_s", s->available);
    rfy_json_flag(json, "breaks", s->n_broken > 0);
    rfy_json_array(json, "broken");
    for (size_t i = 0; i < s->n_broken; i++) {
        rfy_json_object(json, NULL);
        rfy_json_text(json, "limit", s->broken[i].limit);
        rfy_json_number(json, "isothermal_s", s->broken[i].isothermal);
        rfy_json_number(json, "adiabatic_s", s->broken[i].adiabatic);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_text(json, "path", s->path);
    rfy_json_number(json, "transit_s", s->transit);
    rfy_json_array(json, "rules");
    for (size_t i = 0; i < s->n_rules; i++) {
        rfy_json_object(json, NULL);
        rfy_json_text(json, "what", s->rule[i]);
        rfy_json_number(json, "after_s", s->rule_time[i]);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_array(json, "rescues");
    for (size_t i = 0; i < s->n_rescues; i++) {
        rfy_json_object(json, NULL);
        rfy_json_text(json, "action", s->rescue[i].action);
        rfy_json_flag(json, "saves", s->rescue[i].saves);
        rfy_json_number(json, "latest_s", s->rescue[i].latest);
        rfy_json_number(json, "takes_s", s->rescue[i].takes);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_number(json, "largest_hole_m2", s->largest_hole);
    rfy_json_number(json, "largest_hole_adiabatic_m2", s->largest_hole_adiabatic);
    rfy_json_text(json, "largest_hole_by", s->by);
    rfy_json_close(json);
}
