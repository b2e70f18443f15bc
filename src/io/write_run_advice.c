/* What decides a target, what changing one part would bring, and the limits with their margins. */
#include <math.h>
#include <string.h>
#include "io/write_common.h"

static bool same(const char *a, const char *b) {
    return a && b && strcmp(a, b) == 0;
}

static const rfy_target_result *target_of(const rfy_result *r, const rfy_bottleneck *b) {
    for (size_t i = 0; i < r->n_targets; i++)
        if (same(r->target[i].name, b->target) && same(r->target[i].chamber, b->chamber))
            return &r->target[i];
    return NULL;
}

/* An earlier bottleneck of the same chamber with the same parts in the same shares: said once is
 * enough. */
static bool told(const rfy_result *r, size_t i) {
    const rfy_bottleneck *b = &r->bottleneck[i];
    for (size_t j = 0; j < i; j++) {
        const rfy_bottleneck *a = &r->bottleneck[j];
        bool alike = same(a->chamber, b->chamber) && a->n > 0 && b->n > 0;
        for (size_t k = 0; alike && k < 2 && k < a->n && k < b->n; k++)
            alike = same(a->resistance[k].part, b->resistance[k].part) &&
                    fabs(a->resistance[k].share - b->resistance[k].share) < 0.05;
        if (alike)
            return true;
    }
    return false;
}

/* When the last switching before a target ended (gauges do not count): only the time since then is
 * pumping that a faster part shortens. */
static double last_switching(const rfy_result *r, double before) {
    double last = 0;
    for (size_t i = 0; i < r->n_events; i++) {
        const rfy_event *e = &r->event[i];
        if (e->time < before && e->time > last && strncmp(e->what, "switch ", 7) != 0 &&
            (e->kind == RFY_EVENT_ACTION || e->kind == RFY_EVENT_MACHINE ||
             e->kind == RFY_EVENT_SOURCE))
            last = e->time;
    }
    return last;
}

/* p = Q / S at one place when nothing but the gas load keeps the pressure up; compared with the
 * pressure there it tells whether gas coming off or gas still to be removed decides. */
static const char *verdict(const rfy_target_result *t, double pressure) {
    double held = t->gas_load / t->speed;
    if (!(held > 0) || !(pressure > 0))
        return "";
    if (held > 0.5 * pressure && held < 2 * pressure)
        return " The incoming gas holds the pressure up: less of it, or more speed.";
    if (held < 0.1 * pressure)
        return " The incoming gas matters little yet: emptying the volume decides.";
    return "";
}

void rfy_page_bottlenecks(rfy_page *page, const rfy_result *r) {
    if (r->n_bottlenecks == 0)
        return;
    rfy_page_heading(page, "WHAT DECIDES IT");
    for (size_t i = 0; i < r->n_bottlenecks && i < 4; i++) {
        const rfy_bottleneck *b = &r->bottleneck[i];
        const rfy_target_result *t = target_of(r, b);
        char load[160] = "";
        if (t && isfinite(t->gas_load))
            snprintf(load, sizeof load, " against a gas load of %s",
                     rfy_show_load(page, t->gas_load).text);
        if (!(b->speed > 0)) {
            rfy_page_say(page, 2, 2, "At %s, after %s: no open way leads to a pump that runs.",
                         b->chamber, rfy_show_time(b->time).text);
            continue;
        }
        double pressure = 0;
        for (size_t g = 0; t && t->partial && g < r->n_gases; g++)
            pressure += t->partial[g];
        rfy_page_say(page, 2, 2,
                     "At %s, after %s: effective speed %s (%s)%s.%s What holds the speed back:",
                     b->chamber, rfy_show_time(b->time).text, rfy_show_speed(b->speed).text, b->gas,
                     load, t ? verdict(t, pressure) : "");
        if (told(r, i)) {
            rfy_page_say(page, 4, 12, "the same parts in the same shares as before.");
            continue;
        }
        double rest = 0;
        for (size_t k = 0; k < b->n; k++) {
            if (k >= 6 || (k > 0 && b->resistance[k].share < 0.01))
                rest += b->resistance[k].share;
            else
                rfy_page_say(page, 4, 12, "%s  %s", rfy_show_percent(b->resistance[k].share).text,
                             b->resistance[k].part);
        }
        if (rest > 0.005)
            rfy_page_say(page, 4, 12, "%s  all the rest", rfy_show_percent(rest).text);
        if (rest < -0.005) {
            rfy_page_say(page, 4, 12, "less %s  for gas that other parts lead round the pump",
                         rfy_show_percent(-rest).text);
        }
    }
}

/* Resistances in series add: halving the part that holds the share s of R leaves R (1 - s/2). */
static double faster(double share) {
    return 1 / (1 - share / 2);
}

void rfy_page_changes(rfy_page *page, const rfy_result *r) {
    bool headed = false;
    if (r->n_sensitivities > 0) {
        rfy_page_exact_changes(page, r);
        return;
    }
    for (size_t i = 0; i < r->n_bottlenecks && i < 4; i++) {
        const rfy_bottleneck *b = &r->bottleneck[i];
        const rfy_target_result *t = target_of(r, b);
        long chamber = rfy_chamber_index(r, b->chamber);
        double level = rfy_levels_at(r, chamber);
        if (b->n == 0 || told(r, i))
            continue;
        if (!headed)
            rfy_page_heading(page, "IF YOU CHANGE ONE THING (to first order)");
        headed = true;
        bool any = false;
        for (size_t k = 0; k < b->n && k < 2; k++) {
            double gain = faster(b->resistance[k].share);
            if (!(gain >= 1.05))
                break;
            char time[320] = "";
            double begin = t && t->reached ? last_switching(r, t->time) : 0;
            if (t && t->reached && t->time - begin > 0.1 * t->time)
                snprintf(time, sizeof time, "; %s after about %s instead of %s",
                         rfy_show_pressure(page, t->pressure, 2).text,
                         rfy_show_time(begin + (t->time - begin) / gain).text,
                         rfy_show_time(t->time).text);
            else if (t && t->reached)
                snprintf(time, sizeof time, "; %s hardly sooner, the order of work decides",
                         rfy_show_pressure(page, t->pressure, 2).text);
            rfy_page_say(page, 2, 4, "- %s, twice as open or fast: %s pulls %s instead of %s%s.",
                         b->resistance[k].part, b->chamber, rfy_show_speed(b->speed * gain).text,
                         rfy_show_speed(b->speed).text, time);
            any = true;
        }
        if (!any)
            rfy_page_say(page, 2, 4,
                         "- no single part between %s and the pumps gains 5 %% of speed.",
                         b->chamber);
        const rfy_ultimate *u = &r->ultimate;
        bool last = true; /* what the walls do to the level of a chamber is said once */
        for (size_t j = i + 1; j < r->n_bottlenecks && j < 4; j++)
            last = last && !(same(r->bottleneck[j].chamber, b->chamber) && !told(r, j));
        if (last && level > 0 && u->n_shares > 0) {
            double most = 0;
            const rfy_share *source = NULL;
            for (size_t k = 0; k < u->n_shares; k++)
                if (u->share[k].pressure && u->share[k].pressure[chamber] > most) {
                    most = u->share[k].pressure[chamber];
                    source = &u->share[k];
                }
            if (source && most > 0.05 * level)
                rfy_page_say(page, 2, 4, "- half the %s from %s: %s levels at %s instead of %s.",
                             r->gas[source->gas], source->source, b->chamber,
                             rfy_show_pressure(page, level - most / 2, 2).text,
                             rfy_show_pressure(page, level, 2).text);
        }
    }
    if (headed)
        rfy_page_say(
            page, 2, 4,
            "The gas coming off and the order of work are taken as unchanged: try it with --set.");
}
