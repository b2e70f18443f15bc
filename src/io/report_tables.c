/* The tables of the page of a run. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "io/report.h"

static void put(rfy_report *report, const char *html) {
    fputs(html, report->out);
}

static void put_time(rfy_report *report, double seconds) {
    rfy_report_text(report, rfy_chart_time(seconds).text);
}

static void put_bar(rfy_report *report, double share) {
    rfy_word percent = rfy_show_percent(share);
    fprintf(report->out, "<td class=\"n\">");
    rfy_report_text(report, percent.text + strspn(percent.text, " "));
    fprintf(report->out,
            "</td><td class=\"w\"><span class=\"bar\" style=\"width:%.0fpx\"></span></td>",
            120 * (share > 1   ? 1
                   : share < 0 ? 0
                               : share));
}

/* ---- what happens when ---- */

static bool is_routine(const rfy_event *e) {
    return e->kind == RFY_EVENT_REGIME || e->kind == RFY_EVENT_WALL;
}

static void event_row(rfy_report *report, size_t i, const size_t *chamber, size_t n) {
    const rfy_event *e = &report->result->event[i];
    fprintf(report->out, "<tr%s><td class=\"n\">",
            e->kind == RFY_EVENT_LIMIT ? " class=\"broken\"" : "");
    if (report->number[i])
        fprintf(report->out, "%zu", report->number[i]);
    put(report, "</td><td class=\"w\">");
    put_time(report, e->time);
    put(report, "</td><td>");
    rfy_report_text(report, e->what);
    put(report, "</td>");
    for (size_t k = 0; k < n; k++) {
        put(report, "<td class=\"n\">");
        rfy_report_pressure(report, e->pressure ? e->pressure[chamber[k]] : (double)NAN, true);
        put(report, "</td>");
    }
    fprintf(report->out,
            "<td class=\"only-script\" hidden><button type=\"button\" data-time=\"%.9g\" "
            "aria-label=\"show ",
            e->time);
    rfy_report_text(report, e->what);
    put(report, "\">show</button></td></tr>\n");
}

static void event_table(rfy_report *report, bool routine) {
    const rfy_result *r = report->result;
    rfy_page page = report->page;
    page.width = 150;
    rfy_columns columns = rfy_columns_choose(&page, r, 0);
    put(report, "<div class=\"wide\"><table><thead><tr><th class=\"n\">no.</th>"
                "<th>when</th><th>what you do, what happens</th>");
    for (size_t k = 0; k < columns.n; k++) {
        put(report, "<th class=\"n\">");
        rfy_report_text(report, r->chamber[columns.chamber[k]]);
        put(report, ", <span class=\"unit\">");
        rfy_report_text(report, report->page.unit);
        put(report, "</span></th>");
    }
    put(report, "<th class=\"only-script\" hidden></th></tr></thead><tbody>\n");
    enum { MOST = 120 };
    size_t shown = 0, left_out = 0;
    for (size_t i = 0; i < r->n_events; i++) {
        if (is_routine(&r->event[i]) != routine)
            continue;
        bool matters = r->event[i].kind == RFY_EVENT_LIMIT ||
                       r->event[i].kind == RFY_EVENT_TARGET ||
                       r->event[i].kind == RFY_EVENT_FAULT || r->event[i].kind == RFY_EVENT_END;
        if (shown >= MOST && !matters) {
            left_out++;
            continue;
        }
        event_row(report, i, columns.chamber, columns.n);
        shown++;
    }
    put(report, "</tbody></table></div>\n");
    if (left_out)
        fprintf(report->out, "<p>%zu more are left out here; rarefy run --json has them.</p>\n",
                left_out);
}

void rfy_report_events(rfy_report *report) {
    const rfy_result *r = report->result;
    size_t routine = 0;
    for (size_t i = 0; i < r->n_events; i++)
        routine += is_routine(&r->event[i]);
    put(report, "<section id=\"when\"><h2>When and what</h2>\n");
    event_table(report, false);
    if (routine) {
        fprintf(report->out,
                "<details><summary>%zu changes of flow regime and outgassing clocks</summary>\n",
                routine);
        event_table(report, true);
        put(report, "</details>\n");
    }
    put(report, "</section>\n");
}

/* ---- limits ---- */

static void say_limits(rfy_page *page, const rfy_result *r, const void *what) {
    (void)what;
    rfy_page_limits(page, r);
}

static void limit_value(rfy_report *report, const rfy_limit_result *l, double value) {
    rfy_report_pressure(report, value, false);
    if (l->kind == RFY_LIMIT_RATE && isfinite(value))
        put(report, "/s");
}

void rfy_report_limits(rfy_report *report) {
    const rfy_result *r = report->result;
    if (r->n_limits == 0)
        return;
    put(report, "<section id=\"limits\"><h2>Limits</h2>\n<div "
                "class=\"wide\"><table><thead><tr><th>limit</th>"
                "<th>watched</th><th class=\"n\">allowed</th><th "
                "class=\"n\">worst</th><th>when</th><th></th>"
                "</tr></thead><tbody>\n");
    for (size_t i = 0; i < r->n_limits; i++) {
        const rfy_limit_result *l = &r->limit[i];
        fprintf(report->out, "<tr%s><td>", l->broken ? " class=\"broken\"" : "");
        rfy_report_text(report, l->name);
        put(report, "</td><td>");
        rfy_report_text(report, l->watch ? l->watch : "");
        fprintf(report->out, "</td><td class=\"n\">%s ",
                l->kind == RFY_LIMIT_MIN ? "at least" : "at most");
        limit_value(report, l, l->max);
        put(report, "</td><td class=\"n\">");
        if (isfinite(l->peak))
            limit_value(report, l, l->peak);
        put(report, "</td><td class=\"w\">");
        if (isfinite(l->peak))
            put_time(report, l->broken ? l->time : l->peak_time);
        fprintf(report->out, "</td><td class=\"%s\">%s</td></tr>\n", l->broken ? "bad" : "ok",
                l->broken           ? "BROKEN"
                : isfinite(l->peak) ? "kept"
                                    : "never put to the test");
    }
    put(report, "</tbody></table></div>\n<details><summary>In words</summary>");
    rfy_report_prose(report, say_limits, NULL);
    put(report, "</details></section>\n");
}

/* ---- what decides it ---- */

static void say_changes(rfy_page *page, const rfy_result *r, const void *what) {
    (void)what;
    rfy_page_changes(page, r);
}

void rfy_report_bottlenecks(rfy_report *report) {
    const rfy_result *r = report->result;
    if (r->n_bottlenecks == 0)
        return;
    put(report, "<section id=\"decides\"><h2>What decides it</h2>\n");
    for (size_t i = 0; i < r->n_bottlenecks && i < 6; i++) {
        const rfy_bottleneck *b = &r->bottleneck[i];
        put(report, "<h3>");
        rfy_report_text(report, b->chamber);
        put(report, ", ");
        rfy_report_text(report, b->target);
        put(report, ", after ");
        put_time(report, b->time);
        put(report, "</h3>\n");
        if (!(b->speed > 0)) {
            put(report, "<p>No open way leads to a pump that runs.</p>\n");
            continue;
        }
        put(report, "<p>Effective speed ");
        rfy_report_text(report, rfy_show_speed(b->speed).text);
        put(report, " for ");
        rfy_report_text(report, b->gas);
        put(report, ". What holds it back:</p>\n<div class=\"wide\"><table><tbody>\n");
        double rest = 0;
        for (size_t k = 0; k < b->n; k++) {
            if (k >= 8 || (k > 0 && b->resistance[k].share < 0.01)) {
                rest += b->resistance[k].share;
                continue;
            }
            put(report, "<tr>");
            put_bar(report, b->resistance[k].share);
            put(report, "<td>");
            rfy_report_text(report, b->resistance[k].part);
            put(report, "</td></tr>\n");
        }
        if (fabs(rest) > 0.005) {
            put(report, "<tr>");
            put_bar(report, rest);
            put(report, rest > 0 ? "<td>all the rest</td></tr>\n"
                                 : "<td>for gas that other parts lead round the pump</td></tr>\n");
        }
        put(report, "</tbody></table></div>\n");
    }
    rfy_report_prose(report, say_changes, NULL);
    put(report, "</section>\n");
}

/* ---- the steady state ---- */

static void level_table(rfy_report *report) {
    const rfy_result *r = report->result;
    const rfy_ultimate *u = &r->ultimate;
    put(report,
        "<div class=\"wide\"><table><thead><tr><th>chamber</th><th class=\"n\">levels at</th>"
        "<th class=\"n\">with dry walls</th>");
    for (size_t g = 0; g < r->n_gases; g++) {
        put(report, "<th class=\"n\">");
        rfy_report_text(report, r->gas[g]);
        put(report, "</th>");
    }
    put(report, "</tr></thead><tbody>\n");
    for (size_t c = 0; c < r->n_chambers; c++) {
        if (rfy_is_inside(r, c))
            continue;
        put(report, "<tr><td>");
        rfy_report_text(report, r->chamber[c]);
        put(report, "</td><td class=\"n\">");
        rfy_report_pressure(report, rfy_levels_at(r, (long)c), false);
        put(report, "</td><td class=\"n\">");
        rfy_report_pressure(report, u->floor ? u->floor[c] : (double)NAN, false);
        put(report, "</td>");
        for (size_t g = 0; g < r->n_gases; g++) {
            double p = u->partial ? u->partial[c * r->n_gases + g] : (double)NAN;
            put(report, "<td class=\"n\">");
            if (isfinite(p) && u->total[c] > 0) {
                rfy_word percent = rfy_show_percent(p / u->total[c]);
                rfy_report_text(report, percent.text + strspn(percent.text, " "));
            }
            put(report, "</td>");
        }
        put(report, "</tr>\n");
    }
    put(report, "</tbody></table></div>\n");
}

static void source_table(rfy_report *report, size_t chamber) {
    const rfy_result *r = report->result;
    const rfy_ultimate *u = &r->ultimate;
    double total = u->total[chamber];
    if (!(total > 0) || !rfy_sources_matter(r, chamber))
        return;
    put(report, "<h3>Where the gas in ");
    rfy_report_text(report, r->chamber[chamber]);
    put(report, " comes from</h3>\n<div class=\"wide\"><table><tbody>\n");
    bool *taken = RFY_NEW(report->arena, u->n_shares, bool);
    for (int row = 0; row < 8; row++) {
        size_t best = u->n_shares;
        for (size_t k = 0; k < u->n_shares; k++)
            if (!taken[k] && u->share[k].pressure &&
                (best == u->n_shares ||
                 u->share[k].pressure[chamber] > u->share[best].pressure[chamber]))
                best = k;
        if (best == u->n_shares || u->share[best].pressure[chamber] < 0.005 * total)
            break;
        taken[best] = true;
        put(report, "<tr>");
        put_bar(report, u->share[best].pressure[chamber] / total);
        put(report, "<td>");
        rfy_report_text(report, r->gas[u->share[best].gas]);
        put(report, " from ");
        rfy_report_text(report, u->share[best].source);
        put(report, "</td><td class=\"w\">");
        rfy_report_text(report, rfy_show_load(&report->page, u->share[best].throughput).text);
        put(report, "</td></tr>\n");
    }
    put(report, "</tbody></table></div>\n");
}

static void say_rising(rfy_page *page, const rfy_result *r, const void *what) {
    (void)what;
    rfy_page_rising(page, r);
    rfy_page_held(page, r);
}

void rfy_report_ultimate(rfy_report *report) {
    const rfy_result *r = report->result;
    if (!r->ultimate.found)
        return;
    put(report, "<section id=\"ultimate\"><h2>How low</h2>\n<p>With walls as they are after ");
    put_time(report, r->ultimate.after);
    put(report, ":</p>\n");
    level_table(report);
    bool *done = RFY_NEW(report->arena, r->n_chambers, bool);
    for (size_t i = 0; i < r->n_targets; i++) {
        long c = rfy_chamber_index(r, r->target[i].chamber);
        if (c < 0 || done[c])
            continue;
        done[c] = true;
        source_table(report, (size_t)c);
    }
    rfy_report_prose(report, say_rising, NULL);
    put(report, "</section>\n");
}

void rfy_report_balance(rfy_report *report) {
    const rfy_result *r = report->result;
    if (!r->balance)
        return;
    put(report, "<section id=\"balance\"><h2>Where the gas went</h2>\n<div "
                "class=\"wide\"><table><thead><tr><th>mol</th>"
                "<th class=\"n\">at the start</th><th class=\"n\">from walls</th><th "
                "class=\"n\">from outside</th>"
                "<th class=\"n\">pumped</th><th class=\"n\">to walls</th><th class=\"n\">left</th>"
                "<th class=\"n\">does not add up</th></tr></thead><tbody>\n");
    for (size_t g = 0; g < r->n_gases; g++) {
        const rfy_balance_row *b = &r->balance[g];
        const double value[] = {b->start,  b->from_walls, b->admitted,
                                b->pumped, b->to_walls,   b->left};
        put(report, "<tr><td>");
        rfy_report_text(report, r->gas[g]);
        put(report, "</td>");
        for (size_t k = 0; k < sizeof value / sizeof *value; k++)
            fprintf(report->out, "<td class=\"n\">%s</td>",
                    rfy_show_number(value[k], 3, true).text);
        fprintf(report->out, "<td class=\"n\">%s</td></tr>\n",
                rfy_show_number(b->residue, 1, true).text);
    }
    put(report, "</tbody></table></div></section>\n");
}

/* ---- faults ---- */

static void say_strike(rfy_page *page, const rfy_result *r, const void *what) {
    (void)what;
    rfy_page_strike(page, r);
}

static void protect_table(rfy_report *report, const rfy_protect_result *p) {
    put(report, "<h3>Every fault in every phase</h3>\n<div class=\"wide\"><table><thead><tr><th "
                "class=\"n\">time "
                "available</th><th>fault</th><th>phase</th><th>breaks</th><th>saved "
                "by</th></tr></thead><tbody>\n");
    size_t shown = 0, kept = 0;
    for (size_t i = 0; i < p->n_cases; i++) {
        const rfy_protect_case *c = &p->cases[i];
        if (!c->limit) {
            kept++;
            continue;
        }
        if (shown++ >= 60)
            continue;
        put(report, "<tr><td class=\"n\">");
        rfy_report_text(report, rfy_show_span(c->available).text);
        put(report, "</td><td>");
        rfy_report_text(report, p->fault[c->fault]);
        put(report, "</td><td>");
        rfy_report_text(report, p->phase[c->phase].name);
        put(report, "</td><td>");
        rfy_report_text(report, c->limit);
        put(report, "</td><td>");
        rfy_report_text(report, c->guard ? c->guard : c->rescue ? c->rescue : "nothing");
        put(report, "</td></tr>\n");
    }
    put(report, "</tbody></table></div>\n");
    fprintf(report->out, "<p>%zu cases break a limit%s; %zu break none.</p>\n", shown,
            shown > 60 ? ", of which those with the least time are shown" : "", kept);
}

void rfy_report_faults(rfy_report *report) {
    const rfy_description *d = report->system->description;
    const rfy_fault_desc *fault = d->faults.item;
    const rfy_protect_result *protect = report->options->protect;
    if (!report->result->strike && d->faults.n == 0 && !protect)
        return;
    put(report, "<section id=\"faults\"><h2>Faults</h2>\n");
    if (report->result->strike)
        rfy_report_prose(report, say_strike, NULL);
    if (d->faults.n) {
        put(report,
            "<div class=\"wide\"><table><thead><tr><th>fault of the description</th><th>what "
            "happens</th></tr></thead><tbody>\n");
        for (size_t i = 0; i < d->faults.n; i++) {
            put(report, "<tr><td>");
            rfy_report_text(report, fault[i].name);
            put(report, "</td><td>");
            for (size_t k = 0; k < fault[i].actions.n; k++) {
                put(report, k ? "; " : "");
                rfy_report_text(report, fault[i].actions.item[k]);
            }
            put(report, "</td></tr>\n");
        }
        put(report, "</tbody></table></div>\n");
        if (!report->result->strike && !protect)
            put(report, "<p>None of them strikes in this run: <code>rarefy run --fault</code> lets "
                        "one, <code>rarefy "
                        "report --faults</code> tries all in every phase.</p>\n");
    }
    if (protect)
        protect_table(report, protect);
    put(report, "</section>\n");
}
