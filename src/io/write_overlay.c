#include "io/write_log.h"

static void say_part(rfy_page *page, const rfy_deviation *d, const char *who) {
    char from[96], to[96], at[96], most[128];
    double factor = d->most > 1 ? d->most : 1 / d->most;
    snprintf(from, sizeof from, "%s", rfy_show_time(d->from).text);
    snprintf(to, sizeof to, "%s", rfy_show_time(d->to).text);
    snprintf(at, sizeof at, "%s", rfy_show_time(d->most_at).text);
    if (factor < 1.6)
        snprintf(most, sizeof most, "%s" RFY_GLUE "%%",
                 rfy_show_number(100 * (factor - 1), 2, true).text);
    else
        snprintf(most, sizeof most, "a factor %s", rfy_show_number(factor, 2, true).text);
    if (d->side == 0)
        rfy_page_say(page, 2, 4, "- From %s to %s %s follows the prediction, within %s.", from, to,
                     who, most);
    else
        rfy_page_say(page, 2, 4, "- From %s to %s it reads %s than predicted, by up to %s (at %s).",
                     from, to, d->side > 0 ? "HIGHER" : "LOWER", most, at);
}

void rfy_page_overlay(rfy_page *page, const rfy_overlay *o) {
    bool strays = false;
    rfy_page_heading(page, "MEASURED BESIDE PREDICTED (%s, %s)", o->gauge, o->log->name);
    for (size_t i = 0; i < o->n_parts; i++) {
        say_part(page, &o->part[i], o->gauge);
        strays = strays || o->part[i].side != 0;
    }
    if (strays)
        rfy_page_say(page, 2, 4,
                     "- rarefy diagnose tells what may be wrong, rarefy fit makes the "
                     "description agree.");
    if (o->n_beyond == 1)
        rfy_page_say(
            page, 2, 4,
            "- One reading has no prediction beside it (out of range, gauge off, after the "
            "end).");
    else if (o->n_beyond > 1)
        rfy_page_say(page, 2, 4,
                     "- %zu readings have no prediction beside them (out of range, gauge "
                     "off, after the end).",
                     o->n_beyond);
    for (size_t i = 0; i < o->log->n_losses; i++)
        rfy_page_say(page, 2, 4, "- %zu row%s left out: %s (line %ld%s).", o->log->loss[i].rows,
                     o->log->loss[i].rows == 1 ? " was" : "s were", o->log->loss[i].why,
                     o->log->loss[i].first, o->log->loss[i].rows > 1 ? " and after" : "");
}

void rfy_json_overlay(rfy_json *json, const rfy_overlay *o) {
    rfy_json_object(json, "measured");
    rfy_json_text(json, "gauge", o->gauge);
    rfy_json_number(json, "scatter", o->scatter);
    rfy_json_count(json, "without_prediction", o->n_beyond);
    rfy_json_numbers(json, "time_s", o->time, o->n, 1);
    rfy_json_numbers(json, "measured_Pa", o->measured, o->n, 1);
    rfy_json_numbers(json, "predicted_Pa", o->predicted, o->n, 1);
    rfy_json_array(json, "deviations");
    for (size_t i = 0; i < o->n_parts; i++) {
        const rfy_deviation *d = &o->part[i];
        rfy_json_object(json, NULL);
        rfy_json_number(json, "from_s", d->from);
        rfy_json_number(json, "to_s", d->to);
        rfy_json_number(json, "side", d->side);
        rfy_json_number(json, "most", d->most);
        rfy_json_number(json, "most_at_s", d->most_at);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_log(json, "log", o->log);
    rfy_json_close(json);
}
