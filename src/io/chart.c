#include "io/chart.h"
#include <math.h>
#include <string.h>

rfy_word rfy_chart_time(double seconds) {
    rfy_word word = rfy_show_time(seconds);
    for (char *c = word.text; *c; c++)
        *c = (char)(*c == RFY_GLUE[0] ? ' ' : *c);
    return word;
}

/* ---- curves ---- */

static bool is_asked_for(const rfy_result *r, const rfy_plot_options *o, size_t c) {
    if (rfy_is_inside(r, c))
        return false;
    for (size_t i = 0; i < o->n_chambers; i++)
        if (strcmp(o->chamber[i], r->chamber[c]) == 0)
            return true;
    return o->n_chambers == 0;
}

static rfy_chart_curve *add_curve(rfy_arena *arena, rfy_chart *chart, const char *name, size_t n,
                                  const double *x) {
    enum { COLORS = 7 };
    rfy_chart_curve *curve = &chart->curve[chart->n_curves];
    *curve = (rfy_chart_curve){.name = name,
                               .n = n,
                               .x = x,
                               .y = RFY_NEW(arena, n, double),
                               .color = (int)(chart->n_curves % COLORS),
                               .dash = (int)(chart->n_curves / 4) % 3};
    chart->n_curves++;
    return curve;
}

static void add_curves(rfy_arena *arena, const rfy_result *r, const rfy_plot_options *o,
                       rfy_chart *chart) {
    double unit = chart->page.unit_Pa;
    size_t n = 1 + r->n_chambers * (1 + (o->gases ? r->n_gases : 0));
    chart->curve = RFY_NEW(arena, n, rfy_chart_curve);
    for (size_t c = 0; c < r->n_chambers; c++) {
        if (!is_asked_for(r, o, c))
            continue;
        double *y = (double *)add_curve(arena, chart, r->chamber[c], r->n_times, r->time)->y;
        for (size_t i = 0; i < r->n_times; i++)
            y[i] = r->pressure[i * r->n_chambers + c] / unit;
        for (size_t g = 0; o->gases && g < r->n_gases; g++) {
            const char *name = rfy_arena_printf(arena, "%s, %s", r->chamber[c], r->gas[g]);
            y = (double *)add_curve(arena, chart, name, r->n_times, r->time)->y;
            for (size_t i = 0; i < r->n_times; i++)
                y[i] = r->partial[(i * r->n_chambers + c) * r->n_gases + g] / unit;
        }
    }
    if (o->measured) {
        const rfy_log *log = o->measured;
        rfy_chart_curve *curve = add_curve(arena, chart, "measured", log->n, log->time);
        curve->measured = true;
        for (size_t i = 0; i < log->n; i++)
            ((double *)curve->y)[i] = log->pressure[i] / unit;
    }
}

/* ---- scales ---- */

/* Before this nothing moves: the decade in which a pressure first leaves its start by 2 %. */
static double first_change(const rfy_result *r, const rfy_chart *chart) {
    double first = r->n_times > 1 ? r->time[r->n_times - 1] : 1;
    for (size_t k = 0; k < chart->n_curves; k++) {
        const rfy_chart_curve *c = &chart->curve[k];
        for (size_t i = 1; i < c->n && !c->measured; i++)
            if (c->x[i] > 0 && fabs(c->y[i] - c->y[0]) > 0.02 * c->y[0]) {
                first = c->x[i] < first ? c->x[i] : first;
                break;
            }
    }
    return first > 0 ? pow(10, floor(log10(first) + 1e-9)) : 1e-3;
}

static rfy_status set_scales(const rfy_result *r, const rfy_plot_options *o, rfy_chart *chart) {
    double end = r->n_times ? r->time[r->n_times - 1] : 0;
    if (o->measured && o->measured->n && o->measured->time[o->measured->n - 1] > end)
        end = o->measured->time[o->measured->n - 1];
    chart->x = (rfy_scale){!o->linear_time, o->from > 0 ? o->from : 0, o->to > 0 ? o->to : end};
    if (chart->x.log && !(chart->x.low > 0))
        chart->x.low = first_change(r, chart);
    if (chart->x.log && chart->x.low > 0.5 * chart->x.high)
        chart->x.low = o->from > 0 ? o->from : 1e-3 * chart->x.high;
    if (!(chart->x.high > chart->x.low))
        return RFY_USAGE;
    double low = INFINITY, high = 0, lowest_total = INFINITY;
    for (size_t k = 0; k < chart->n_curves; k++)
        for (size_t i = 0; i < chart->curve[k].n; i++) {
            double x = chart->curve[k].x[i], y = chart->curve[k].y[i];
            if (x < chart->x.low * (1 - 1e-9) || x > chart->x.high || !(y > 0))
                continue;
            low = y < low ? y : low;
            high = y > high ? y : high;
            if (!o->gases || !strchr(chart->curve[k].name, ','))
                lowest_total = y < lowest_total ? y : lowest_total;
        }
    if (!(high > 0))
        return RFY_USAGE;
    /* Traces of a gas do not stretch the scale, nor what is below all telling. */
    double least = RFY_LOWEST_SHOWN / chart->page.unit_Pa;
    if (o->gases && isfinite(lowest_total) && 1e-4 * lowest_total > least)
        least = 1e-4 * lowest_total;
    low = low < least ? least : low;
    low = pow(10, floor(log10(low) + 1e-6));
    /* An atmosphere stands a little above its decade, and does not need the next one. */
    double decade = pow(10, floor(log10(high) + 1e-9));
    high = high < 1.05 * decade ? 1.5 * decade : 10 * decade;
    chart->y = (rfy_scale){true, low, high > 10 * low ? high : 10 * low};
    return RFY_OK;
}

/* ---- marks and levels ---- */

bool rfy_chart_tells(rfy_event_kind kind) {
    return kind == RFY_EVENT_ACTION || kind == RFY_EVENT_RULE || kind == RFY_EVENT_FAULT ||
           kind == RFY_EVENT_TARGET || kind == RFY_EVENT_LIMIT || kind == RFY_EVENT_SOURCE;
}

static void add_marks(rfy_arena *arena, const rfy_result *r, rfy_chart *chart) {
    chart->mark = RFY_NEW(arena, r->n_events, rfy_chart_mark);
    size_t number = 0;
    for (size_t i = 0; i < r->n_events; i++) {
        const rfy_event *e = &r->event[i];
        number += rfy_chart_tells(e->kind);
        if (rfy_chart_tells(e->kind) && e->time <= chart->x.high &&
            e->time >= (chart->x.log && chart->x.low > 0 ? 0 : chart->x.low))
            chart->mark[chart->n_marks++] = (rfy_chart_mark){number, e->time, e->kind, e->what};
    }
}

static bool is_drawn(const rfy_chart *chart, const char *name) {
    for (size_t i = 0; i < chart->n_curves; i++)
        if (name && strcmp(chart->curve[i].name, name) == 0)
            return true;
    return false;
}

static void add_level(rfy_chart *chart, rfy_chart_level level) {
    if (level.value >= chart->y.low && level.value <= chart->y.high)
        chart->level[chart->n_levels++] = level;
}

static void add_levels(rfy_arena *arena, const rfy_result *r, rfy_chart *chart) {
    chart->level = RFY_NEW(arena, r->n_targets + r->n_limits, rfy_chart_level);
    for (size_t i = 0; i < r->n_targets; i++) {
        const rfy_target_result *t = &r->target[i];
        if (is_drawn(chart, t->chamber))
            add_level(chart, (rfy_chart_level){t->pressure / chart->page.unit_Pa, RFY_LEVEL_TARGET,
                                               t->name, false, t->reached ? t->time : (double)NAN});
    }
    for (size_t i = 0; i < r->n_limits; i++) {
        const rfy_limit_result *l = &r->limit[i];
        if (l->kind != RFY_LIMIT_RATE && is_drawn(chart, l->watch))
            add_level(chart, (rfy_chart_level){l->max / chart->page.unit_Pa,
                                               l->broken ? RFY_LEVEL_BROKEN : RFY_LEVEL_LIMIT,
                                               l->name, l->kind == RFY_LIMIT_MIN,
                                               l->broken ? l->time : (double)NAN});
    }
}

rfy_status rfy_chart_new(rfy_arena *arena, const rfy_result *r, const rfy_plot_options *o,
                         rfy_chart *chart) {
    *chart = (rfy_chart){.title = r->title};
    const rfy_write_options unit = {.pressure_unit = o->pressure_unit};
    rfy_status status = rfy_page_open(&chart->page, NULL, &unit);
    if (status != RFY_OK)
        return status;
    for (size_t i = 0; i < o->n_chambers; i++) {
        long c = rfy_chamber_index(r, o->chamber[i]);
        if (c < 0 || rfy_is_inside(r, (size_t)c))
            return RFY_USAGE;
    }
    add_curves(arena, r, o, chart);
    status = set_scales(r, o, chart);
    if (status != RFY_OK)
        return status;
    add_marks(arena, r, chart);
    add_levels(arena, r, chart);
    return RFY_OK;
}
