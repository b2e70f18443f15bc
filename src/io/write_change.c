/* "If you change one thing", from exact sensitivities; and all of them as a table. */
#include <math.h>
#include <string.h>
#include "io/write_common.h"

/* Levels are told for so many numbers at the most, and above this part of the level. */
enum { LEVELS = 2, ROWS = 40, COLUMNS = 3 };
static const double worth = 0.02, least = 5e-4;

static rfy_word show(const rfy_sensitivity *s, double value) {
    rfy_word word;
    if (strcmp(s->unit, "m3/s") == 0)
        return rfy_show_speed(value);
    if (strcmp(s->unit, "K/s") == 0) { /* ovens are set in kelvins a minute */
        snprintf(word.text, sizeof word.text, "%.60s" RFY_GLUE "K/min",
                 rfy_show_number(60 * value, 3, true).text);
        return word;
    }
    rfy_show_quantity(word.text, sizeof word.text, s->unit, value);
    for (char *c = word.text; *c; c++)
        if (*c == ' ')
            *c = RFY_GLUE[0];
    return word;
}

static const char *verb(double factor) {
    return factor < 1 ? "halve" : "double";
}

/* ---- times ---- */

static void say_change(rfy_page *page, const rfy_result *r, const rfy_gain *c) {
    const rfy_sensitivity *s = &r->sensitivity[c->sensitivity];
    const double now = r->target[c->target].time;
    char effect[240];
    if (isnan(c->time))
        snprintf(effect, sizeof effect, "about %s sooner", rfy_show_time(now - c->estimate).text);
    else if (isinf(c->time))
        snprintf(effect, sizeof effect,
                 "a run of its own does not reach it within the run: much else changes with it");
    else if (c->time < now)
        snprintf(effect, sizeof effect, "%s sooner, after %s", rfy_show_time(now - c->time).text,
                 rfy_show_time(c->time).text);
    else
        snprintf(effect, sizeof effect,
                 "sooner for a small change, yet %s later for this one (after %s)",
                 rfy_show_time(c->time - now).text, rfy_show_time(c->time).text);
    rfy_page_say(page, 2, 4, "- %s the %s (%s to %s): %s.", verb(c->factor), s->name,
                 show(s, s->value).text, show(s, s->value * c->factor).text, effect);
}

/* ---- levels ---- */

/* The numbers that lower the level of a chamber most when halved or doubled. */
static void say_levels(rfy_page *page, const rfy_result *r, size_t chamber) {
    const double level = rfy_levels_at(r, (long)chamber);
    const rfy_sensitivity *best[LEVELS] = {0};
    for (size_t k = 0; k < r->n_sensitivities; k++) {
        const rfy_sensitivity *s = &r->sensitivity[k];
        double e = fabs(s->ultimate[chamber]);
        for (int i = 0; i < LEVELS && e > worth; i++)
            if (!best[i] || e > fabs(best[i]->ultimate[chamber])) {
                for (int j = LEVELS - 1; j > i; j--)
                    best[j] = best[j - 1];
                best[i] = s;
                break;
            }
    }
    for (int i = 0; i < LEVELS && best[i] && isfinite(level); i++) {
        const double e = best[i]->ultimate[chamber];
        rfy_page_say(page, 2, 4, "- %s the %s: %s levels at about %s instead of %s.",
                     verb(e > 0 ? 0.5 : 2), best[i]->name, r->chamber[chamber],
                     rfy_show_pressure(page, level * exp2(-fabs(e)), 2).text,
                     rfy_show_pressure(page, level, 2).text);
    }
}

void rfy_page_exact_changes(rfy_page *page, const rfy_result *r) {
    bool about = false, area = false;
    rfy_page_heading(page, "IF YOU CHANGE ONE THING");
    for (size_t i = 0; i < r->n_targets; i++) {
        const rfy_target_result *t = &r->target[i];
        const long chamber = rfy_chamber_index(r, t->chamber);
        bool any = false, last = true;
        for (size_t k = i + 1; k < r->n_targets; k++) /* a chamber's level is said once */
            last = last && strcmp(r->target[k].chamber, t->chamber) != 0;
        if (t->reached)
            rfy_page_say(page, 2, 2, "%s, now %s (\"%s\"):", t->chamber,
                         rfy_show_time(t->time).text, t->name);
        else
            rfy_page_say(page, 2, 2, "%s, not reached (\"%s\"):", t->chamber, t->name);
        for (size_t k = 0; k < r->n_changes; k++) {
            if (r->change[k].target != i)
                continue;
            say_change(page, r, &r->change[k]);
            any = true;
            about = about || isnan(r->change[k].time);
            area =
                area || strstr(r->sensitivity[r->change[k].sensitivity].name, "area of the wall");
        }
        if (t->reached && !any)
            rfy_page_say(page, 2, 4,
                         "- no number of the description gains 1 %% when halved or "
                         "doubled.");
        /* a chamber that is filled again levels where it is meant to */
        const bool filled = t->reached && rfy_levels_at(r, chamber) > t->pressure;
        if (last && chamber >= 0 && !filled)
            say_levels(page, r, (size_t)chamber);
    }
    if (r->n_targets > 0)
        rfy_page_say(page, 2, 2, "%sEverything else stays, the order of work included.%s",
                     !about ? ""
                     : r->rough_sensitivities
                         ? "\"About\" is to first order, by a derivative good to a tenth "
                           "(--sensitivities: exact); the others were run again. "
                         : "\"About\" is to first order, by an exact derivative; the others were "
                           "run again. ",
                     area
                         ? " A wall's area stands for the gas it gives off: a cleaner or baked one "
                           "does the same."
                         : "");
}

/* ---- all of them ---- */

/* "+0.69", "-2.2", "0" for less than matters. */
static rfy_word exponent(double e) {
    rfy_word word;
    if (isnan(e))
        snprintf(word.text, sizeof word.text, "-");
    else if (fabs(e) < least)
        snprintf(word.text, sizeof word.text, "0");
    else
        snprintf(word.text, sizeof word.text, "%+.*f", fabs(e) < 0.095 ? 3 : 2, e);
    return word;
}

void rfy_page_sensitivities(rfy_page *page, const rfy_result *r) {
    const size_t columns = r->n_targets < COLUMNS ? r->n_targets : COLUMNS;
    size_t shown = 0, small = 0;
    if (r->n_sensitivities == 0)
        return;
    rfy_page_heading(page,
                     "WHAT EACH NUMBER DOES (change in per cent for one per cent more of it)");
    for (size_t i = 0; i < columns; i++)
        rfy_page_say(page, 2, 6, "(%zu) time to \"%s\"; level of %s", i + 1, r->target[i].name,
                     r->target[i].chamber);
    rfy_page_cell(page, "  number", 46, false);
    rfy_page_cell(page, "now", 11, true);
    for (size_t i = 0; i < columns; i++) {
        rfy_word head;
        snprintf(head.text, sizeof head.text, "(%zu) time", i + 1);
        rfy_page_cell(page, head.text, 10, true);
        rfy_page_cell(page, "level", 8, true);
    }
    fputc('\n', page->out);
    for (size_t k = 0; k < r->n_sensitivities; k++) {
        const rfy_sensitivity *s = &r->sensitivity[k];
        bool matters = false;
        for (size_t i = 0; i < columns; i++) {
            const long c = rfy_chamber_index(r, r->target[i].chamber);
            matters =
                matters || fabs(s->time[i]) >= least || (c >= 0 && fabs(s->ultimate[c]) >= least);
        }
        if (s->unsuited || !matters || shown >= ROWS) {
            small += matters && !s->unsuited ? 0 : 1;
            continue;
        }
        shown++;
        rfy_word name, now = show(s, s->value);
        snprintf(name.text, sizeof name.text, "  %.80s", s->name);
        for (char *c = now.text; *c; c++)
            if (*c == RFY_GLUE[0])
                *c = ' ';
        rfy_page_cell(page, name.text, 46, false);
        rfy_page_cell(page, now.text, 11, true);
        for (size_t i = 0; i < columns; i++) {
            const long c = rfy_chamber_index(r, r->target[i].chamber);
            rfy_page_cell(page, exponent(s->time[i]).text, 10, true);
            rfy_page_cell(page, exponent(c >= 0 ? s->ultimate[c] : (double)NAN).text, 8, true);
        }
        fputc('\n', page->out);
    }
    if (small > 0)
        rfy_page_say(page, 2, 2, "%zu more do next to nothing.", small);
    for (size_t k = 0; k < r->n_sensitivities; k++)
        if (r->sensitivity[k].unsuited)
            rfy_page_say(page, 2, 4, "- %s: no derivative, %s.", r->sensitivity[k].name,
                         r->sensitivity[k].unsuited);
}

/* ---- over time ---- */

/* "stem 99 %, all the rest 1 %" of the parts that hold back, "40 % H2O from port wall, …" of the
 * gas. */
static void list_parts(const rfy_split *s, char *text, size_t size) {
    size_t at = 0;
    double rest = 0;
    text[0] = '\0';
    for (size_t k = 0; k < s->at.n; k++) {
        const rfy_resistance *part = &s->at.resistance[k];
        if (k >= 3 || part->share < 0.03)
            rest += part->share;
        else if (at < size)
            at += (size_t)snprintf(text + at, size - at, "%s%s %.0f" RFY_GLUE "%%", at ? ", " : "",
                                   part->part, 100 * part->share);
    }
    if (at > 0 && at < size && rest > 0.03)
        snprintf(text + at, size - at, ", the rest %.0f" RFY_GLUE "%%", 100 * rest);
}

static void list_sources(const rfy_result *r, const rfy_split *s, char *text, size_t size) {
    size_t at = 0;
    text[0] = '\0';
    for (size_t k = 0; k < s->n_sources && k < 3; k++) {
        const double share = s->source[k].throughput / s->gas_load;
        if (share >= 0.05 && at < size)
            at += (size_t)snprintf(text + at, size - at, "%s%s from %s %.0f" RFY_GLUE "%%",
                                   at ? ", " : "", r->gas[s->source[k].gas], s->source[k].source,
                                   100 * share);
    }
}

void rfy_page_splits(rfy_page *page, const rfy_result *r) {
    if (r->n_splits == 0)
        return;
    rfy_page_heading(page, "WHAT HOLDS BACK AND WHERE GAS COMES FROM, OVER TIME");
    for (size_t i = 0; i < r->n_splits; i++) {
        const rfy_split *s = &r->split[i];
        char parts[320], sources[480];
        list_parts(s, parts, sizeof parts);
        list_sources(r, s, sources, sizeof sources);
        rfy_page_say(page, 2, 4, "%s, %s:", rfy_show_time(s->at.time).text, s->what);
        if (s->at.speed > 0)
            rfy_page_say(page, 4, 6, "%s: %s (%s); %s.", s->at.chamber,
                         rfy_show_speed(s->at.speed).text, s->at.gas, parts);
        else
            rfy_page_say(page, 4, 6, "%s: no open way leads to a pump that runs.", s->at.chamber);
        if (s->gas_load > 0)
            rfy_page_say(page, 4, 6, "gas %s%s%s.", rfy_show_load(page, s->gas_load).text,
                         sources[0] ? ": " : "", sources);
    }
}
