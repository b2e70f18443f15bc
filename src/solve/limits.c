/* Limits of the description, ready-made and the user's: how long each is exceeded, its peak, and
 * where that was. */
#include <math.h>
#include "solve/simulate_parts.h"

void rfy_sim_limit_begins(rfy_sim *sim, int i, double time) {
    rfy_limit_state *l = &sim->limit[i];
    l->over = true;
    l->over_since = time;
}

/* Breaks the limit when it has been exceeded for longer than allowed by `time`. */
void rfy_sim_limit_check(rfy_sim *sim, int i, double time, const double *y) {
    rfy_limit_state *l = &sim->limit[i];
    const rfy_limit *limit = &sim->net->limit[i];
    double due = l->over_since + limit->duration;
    if (!l->over || l->broken || time < due)
        return;
    l->broken = true;
    l->broken_at = due;
    if (due > sim->step_from && due < time) { /* the event shows the pressures of its own instant */
        rfy_sim_restep(sim, due, sim->found);
        y = sim->found;
    }
    sim->any_broken = true;
    char max[32], time_[32];
    rfy_format_number(max, limit->allowed, 3);
    rfy_format_number(time_, limit->duration, 3);
    const char *how = limit->kind == RFY_LIMIT_MAX   ? "above"
                      : limit->kind == RFY_LIMIT_MIN ? "below"
                                                     : "changes faster than",
               *unit = limit->kind == RFY_LIMIT_RATE ? "Pa/s" : "Pa";
    if (sim->observer && sim->observer->limit)
        sim->observer->limit(sim->observer->context, sim, due, y, i);
    if (limit->duration > 0)
        rfy_sim_tell(sim, due, y, RFY_EVENT_LIMIT, "%s: %s %s %s %s for %s s", limit->name,
                     sim->net->node[limit->node].name, how, max, unit, time_);
    else
        rfy_sim_tell(sim, due, y, RFY_EVENT_LIMIT, "%s: %s %s %s %s", limit->name,
                     sim->net->node[limit->node].name, how, max, unit);
}

static double watched(const rfy_sim *sim, const rfy_limit *limit) {
    return limit->kind == RFY_LIMIT_RATE ? sim->sight.rise[limit->node]
                                         : sim->sight.pressure[limit->node];
}

void rfy_sim_limit_peak(rfy_sim *sim, int i, double time) {
    rfy_limit_state *l = &sim->limit[i];
    const rfy_limit *limit = &sim->net->limit[i];
    /* a hair of slack: at a located crossing the condition is zero to round-off */
    if (limit->while_ && rfy_condition_guard(limit->while_, &sim->sight.view) < -1e-9)
        return;
    double p = watched(sim, limit);
    if (limit->kind == RFY_LIMIT_MIN ? !(p >= l->peak) : !(p <= l->peak)) {
        l->peak = p;
        l->peak_at = time;
    }
}

static double applies(const rfy_sim *sim, const rfy_limit *limit) {
    return limit->while_ ? rfy_condition_guard(limit->while_, &sim->sight.view) : 1;
}

/* Pressures mostly fall while a limit begins to apply, as when a rotor gains speed: its peak is the
 * first value that counts, or the last. Looks at that instant, between two with values of its
 * condition of opposite sign. */
static void peak_at_border(rfy_sim *sim, const rfy_guard *guard, double from, double at_from,
                           double to, double at_to) {
    const rfy_limit *limit = &sim->net->limit[guard->index];
    for (int i = 0; i < 12; i++) {
        double share = at_from / (at_from - at_to);
        double when = from + (to - from) * (share > 0.02 && share < 0.98 ? share : 0.5);
        rfy_sim_glance(sim, when, sim->work);
        rfy_sim_look(sim, when, sim->work);
        double now = applies(sim, limit);
        bool early = (now < 0) == (at_from < 0);
        *(early ? &from : &to) = when;
        *(early ? &at_from : &at_to) = now;
    }
    double when = at_from >= 0 ? from : to;
    rfy_sim_restep(sim, when, sim->found);
    rfy_sim_look(sim, when, sim->found);
    rfy_sim_limit_peak(sim, guard->index, when);
}

/* A limit over the last step in four parts, so that a peak that comes and goes inside it is not
 * missed. */
void rfy_sim_watch_limit(rfy_sim *sim, rfy_guard *guard, double from, double horizon) {
    double before = from, p_two = NAN, p_one = NAN; /* the last samples, for a peak between them */
    const rfy_limit *limit = &sim->net->limit[guard->index];
    const double sign = limit->kind == RFY_LIMIT_MIN ? -1 : 1; /* tops are looked for */
    rfy_sim_look_at_part(sim, 0, from, horizon);
    p_one = sign * watched(sim, limit);
    double applied = applies(sim, limit);
    for (int part = 1; part <= 4; part++) {
        double when = part == 4 ? horizon : from + (horizon - from) * part / 4;
        rfy_sim_look_at_part(sim, part, from, horizon);
        double now = rfy_sim_guard_value(sim, guard);
        rfy_sim_limit_peak(sim, guard->index, when);
        if ((guard->before < 0) != (now < 0) && now == now)
            rfy_sim_passive_change(sim, guard, now, before, when);
        guard->before = now;
        rfy_sim_look_at_part(sim, part, from, horizon);
        double p = sign * watched(sim, limit), applies_now = applies(sim, limit);
        if ((applied < 0) != (applies_now < 0))
            peak_at_border(sim, guard, before, applied, when, applies_now);
        applied = applies_now;
        if (p_one > p_two && p_one >= p) { /* a parabola through the three says where the top is */
            double top = 0.5 * (p_two - p) / (p_two - 2 * p_one + p), step = (horizon - from) / 4;
            rfy_sim_restep(sim, before + top * step, sim->found);
            rfy_sim_look(sim, before + top * step, sim->found);
            rfy_sim_limit_peak(sim, guard->index, before + top * step);
        }
        p_two = p_one;
        p_one = p;
        before = when;
    }
    rfy_sim_limit_check(sim, guard->index, horizon, sim->y);
}
