/* The answer of a run for people: short, to act on, in a fixed order. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/arena.h"
#include "io/write_log.h"

/* ---- the answer ---- */

/* "Wall data scatter …": the same target with walls at both ends of their spread. */
static void say_band(char *text, size_t size, const rfy_result *r, const rfy_target_result *t) {
    text[0] = '\0';
    if (isnan(t->time_early) || isnan(t->time_late))
        return;
    char run[96];
    snprintf(run, sizeof run, "%s", rfy_show_time(r->end).text);
    if (isinf(t->time_late))
        snprintf(
            text, size,
            " Wall data scatter: within their spread it may be after %s, or not within the %s of "
            "the run.",
            rfy_show_time(t->time_early).text, run);
    else if (t->time_late - t->time_early < 0.06 * t->time)
        snprintf(text, size, " What the walls give off hardly changes that.");
    else
        snprintf(text, size, " Wall data scatter: within their spread, between %s and %s.",
                 rfy_show_time(t->time_early).text, rfy_show_time(t->time_late).text);
}

/* What becomes of a target that was not reached. */
static void say_outlook(char *text, size_t size, const rfy_page *page, const rfy_result *r,
                        const rfy_target_result *t) {
    long c = rfy_chamber_index(r, t->chamber);
    double level = rfy_levels_at(r, c), floor = NAN;
    char levels[96], dry[96];
    text[0] = '\0';
    if (!isfinite(level))
        return;
    if (!(t->speed > 0)) {
        snprintf(text, size,
                 " No open way leads from it to a pump that runs: closed valves, or pumps that "
                 "no step starts.");
        return;
    }
    if (r->ultimate.floor)
        floor = r->ultimate.floor[c];
    snprintf(levels, sizeof levels, "%s", rfy_show_pressure(page, level, 2).text);
    snprintf(dry, sizeof dry, "%s", rfy_show_pressure(page, floor, 2).text);
    if (level < t->pressure)
        snprintf(text, size, " It is still falling, towards %s: it only needs longer.", levels);
    else if (isfinite(floor) && floor >= t->pressure)
        snprintf(
            text, size,
            " It levels at %s, and even with walls that give off nothing at %s: neither waiting "
            "nor "
            "baking will do. Leaks, seals, speed or the pump's own ultimate pressure must change.",
            levels, dry);
    else if (isfinite(floor))
        snprintf(text, size,
                 " It levels at %s as long as the walls give off gas as they do after %s; with dry "
                 "walls "
                 "it would reach %s. Bake, wait for the walls, or pump faster.",
                 levels, rfy_show_time(r->ultimate.after).text, dry);
    else
        snprintf(text, size, " It levels at %s.", levels);
}

static void say_gauge(char *text, size_t size, const rfy_page *page, const rfy_target_result *t) {
    text[0] = '\0';
    if (!t->gauge)
        return;
    if (isfinite(t->gauge_reading))
        snprintf(text, size, " The nearest gauge, %s, %s %s.", t->gauge,
                 t->reached ? "then shows" : "shows",
                 rfy_show_pressure(page, t->gauge_reading, 2).text);
    else
        snprintf(text, size, " The nearest gauge, %s, shows nothing then (off or out of range).",
                 t->gauge);
}

void rfy_page_answer(rfy_page *page, const rfy_result *r, const rfy_target_result *t) {
    char band[400], gauge[600], wanted[96], run[96];
    say_band(band, sizeof band, r, t);
    say_gauge(gauge, sizeof gauge, page, t);
    snprintf(wanted, sizeof wanted, "%s", rfy_show_pressure(page, t->pressure, 3).text);
    snprintf(run, sizeof run, "%s", rfy_show_time(r->end).text);
    if (t->reached && t->time <= 0) {
        rfy_page_say(page, 0, 2, "%s is below %s (\"%s\") from the start.%s", t->chamber, wanted,
                     t->name, gauge);
    } else if (t->reached) {
        rfy_page_say(page, 0, 2, "%s falls below %s (\"%s\") after %s.%s%s", t->chamber, wanted,
                     t->name, rfy_show_time(t->time).text, band, gauge);
    } else {
        char outlook[800], lucky[200] = "", at_end[128] = "";
        say_outlook(outlook, sizeof outlook, page, r, t);
        double p = 0;
        for (size_t g = 0; t->partial && g < r->n_gases; g++)
            p += t->partial[g];
        if (t->partial)
            snprintf(at_end, sizeof at_end, ": at the end it has %s",
                     rfy_show_pressure(page, p, 2).text);
        if (isfinite(t->time_early))
            snprintf(lucky, sizeof lucky, " With walls at the dry end of their data: after %s.",
                     rfy_show_time(t->time_early).text);
        rfy_page_say(page, 0, 2,
                     "%s does NOT fall below %s (\"%s\") within the %s of the run%s.%s%s%s",
                     t->chamber, wanted, t->name, run, at_end, outlook, lucky, gauge);
    }
}

static void write_opening(rfy_page *page, const rfy_result *r) {
    rfy_page_title(page, r->title);
    if (r->status == RFY_INTERRUPTED)
        rfy_page_say(page, 0, 2, "INTERRUPTED at %s of the run. What is known up to there:",
                     rfy_show_time(r->end).text);
    else if (r->trouble)
        rfy_page_say(page, 0, 2, "THE RUN COULD NOT BE FINISHED; it came to %s. %s",
                     rfy_show_time(r->end).text, r->trouble);
    for (size_t i = 0; i < r->n_targets; i++)
        rfy_page_answer(page, r, &r->target[i]);
    if (r->n_targets == 0 && r->n_times > 0) {
        const double *last = r->pressure + (r->n_times - 1) * r->n_chambers;
        rfy_page_say(page, 0, 2, "No target is given. At the end, after %s:",
                     rfy_show_time(r->time[r->n_times - 1]).text);
        for (size_t c = 0; c < r->n_chambers; c++)
            if (!rfy_is_inside(r, c))
                rfy_page_say(page, 2, 4, "%s: %s", r->chamber[c],
                             rfy_show_pressure(page, last[c], 3).text);
    }
    for (size_t i = 0; i < r->n_limits; i++)
        if (r->limit[i].broken) {
            rfy_page_bold(page, true);
            rfy_page_say(page, 0, 2, "LIMIT BROKEN: %s, at %s (see LIMITS).", r->limit[i].name,
                         rfy_show_time(r->limit[i].time).text);
            rfy_page_bold(page, false);
        }
}

/* ---- gas ---- */

static void write_gas(rfy_page *page, const rfy_result *r) {
    bool headed = false;
    for (size_t i = 0; i < r->n_targets; i++) {
        const rfy_target_result *t = &r->target[i];
        long c = rfy_chamber_index(r, t->chamber);
        if (!t->partial || c < 0)
            continue;
        if (!headed)
            rfy_page_heading(page, "GAS, AND WHERE IT COMES FROM");
        headed = true;
        char *makeup = rfy_gas_makeup(page, r, t->partial);
        rfy_page_say(page, 2, 4, "%s at %s: %s", t->chamber,
                     t->reached ? rfy_show_time(t->time).text : "the end", makeup);
        free(makeup);
        bool again = false; /* two targets in one chamber share the sources */
        for (size_t k = i + 1; k < r->n_targets; k++)
            again = again || strcmp(r->target[k].chamber, t->chamber) == 0;
        double level = rfy_levels_at(r, c);
        if (again || !isfinite(level))
            continue;
        char dry[160] = "";
        if (r->ultimate.floor && isfinite(r->ultimate.floor[c]))
            snprintf(dry, sizeof dry, " (with dry walls at %s)",
                     rfy_show_pressure(page, r->ultimate.floor[c], 2).text);
        rfy_page_say(page, 2, 4, "With walls as after %s it levels at %s%s%s",
                     rfy_show_time(r->ultimate.after).text, rfy_show_pressure(page, level, 2).text,
                     dry, rfy_sources_matter(r, (size_t)c) ? ", made of:" : ".");
        rfy_page_sources(page, r, (size_t)c, 5);
    }
    rfy_page_rising(page, r);
}

/* ---- the last line ---- */

static void write_footer(rfy_page *page, const rfy_result *r) {
    const rfy_solver_stats *s = &r->solver;
    double worst = NAN;
    for (size_t g = 0; r->balance && g < r->n_gases; g++)
        if (!(fabs(r->balance[g].residue) <= worst))
            worst = fabs(r->balance[g].residue);
    putc('\n', page->out);
    char balance[160] = "", method[160] = "";
    if (isfinite(worst))
        snprintf(balance, sizeof balance, "Gas balance closes to %s of the gas handled. ",
                 rfy_show_number(worst, 1, true).text);
    if (s->method)
        snprintf(method, sizeof method, " by %.40s to %s", s->method,
                 rfy_show_number(s->tolerance, 2, true).text);
    rfy_page_say(page, 0, 2, "%sSolved%s: %zu steps, %zu repeated, %zu unknowns (%zu node%s).",
                 balance, method, s->steps, s->rejected, s->states, s->nodes,
                 s->nodes == 1 ? "" : "s");
}

rfy_status rfy_write_run_text(FILE *out, const rfy_result *result,
                              const rfy_write_options *options) {
    rfy_page page;
    rfy_status status = rfy_page_open(&page, out, options);
    if (status != RFY_OK)
        return status;
    write_opening(&page, result);
    rfy_page_strike(&page, result);
    rfy_page_band(&page, result);
    if (result->measured)
        rfy_page_overlay(&page, result->measured);
    rfy_page_bottlenecks(&page, result);
    rfy_page_events(&page, result);
    write_gas(&page, result);
    rfy_page_held(&page, result);
    rfy_page_changes(&page, result);
    if (result->list_sensitivities)
        rfy_page_sensitivities(&page, result);
    rfy_page_splits(&page, result);
    rfy_page_limits(&page, result);
    rfy_page_creep(&page, result);
    rfy_page_closing(&page, result);
    write_footer(&page, result);
    return rfy_page_close(&page);
}
