/* Systems side by side. */
#include <math.h>
#include <string.h>
#include "io/write_common.h"

enum { MOST_SHOWN = 4, MOST_EVENTS = 12 };

/* "A", "B", … */
static rfy_word letter(size_t i) {
    rfy_word word;
    snprintf(word.text, sizeof word.text, "%c", (char)('A' + (i < 26 ? i : 25)));
    return word;
}

/* "+4 %", "-0.3 %", "the same" for less than 0.05 %. */
static rfy_word show_part(double ratio) {
    rfy_word word;
    double part = 100 * (ratio - 1);
    if (isnan(part))
        snprintf(word.text, sizeof word.text, "-");
    else if (fabs(part) < 0.05)
        snprintf(word.text, sizeof word.text, "the same");
    else if (ratio >= 3)
        snprintf(word.text, sizeof word.text, "x %.60s", rfy_show_number(ratio, 3, true).text);
    else
        snprintf(word.text, sizeof word.text, fabs(part) < 9.95 ? "%+.1f %%" : "%+.0f %%", part);
    return word;
}

/* Without sign, for a sentence: "4 %", "0.3 %". */
static rfy_word show_size(double part) {
    rfy_word word;
    part = fabs(100 * part);
    snprintf(word.text, sizeof word.text, part < 1.95 ? "%.1f %%" : "%.0f %%", part);
    return word;
}

/* What is different, in a few words: "hose/1/length 2 m instead of 1 m". */
static void say_change(const rfy_difference *d, char *text, size_t size) {
    size_t shown = d->n_changes < 3 ? d->n_changes : 2;
    text[0] = '\0';
    for (size_t i = 0; i < shown; i++) {
        const rfy_change *c = &d->change[i];
        size_t used = strlen(text);
        const char *join = i == 0 ? "" : "; ";
        if (c->from && c->to && strlen(c->from) + strlen(c->to) < 60)
            snprintf(text + used, size - used, "%s%s %s instead of %s", join, c->path, c->to,
                     c->from);
        else if (c->from && c->to)
            snprintf(text + used, size - used, "%sanother %s", join, c->path);
        else
            snprintf(text + used, size - used, "%s%s %s", join, c->to ? "with" : "without",
                     c->path);
    }
    size_t used = strlen(text);
    if (d->n_changes > shown)
        snprintf(text + used, size - used, " and %zu more changes", d->n_changes - shown);
    if (d->n_changes == 0)
        snprintf(text, size, "no value is different");
}

static const rfy_target_result *same_target(const rfy_result *r, const rfy_target_result *t) {
    for (size_t i = 0; i < r->n_targets; i++)
        if (strcmp(r->target[i].name, t->name) == 0 &&
            strcmp(r->target[i].chamber, t->chamber) == 0)
            return &r->target[i];
    return NULL;
}

/* "only below 3 Pa in bulb (by 12 % at 0.1 Pa)": at which pressures the times differ. */
static void say_where(const rfy_page *page, const rfy_course *c, double threshold, char *text,
                      size_t size) {
    char limit[32], most[240] = "";
    snprintf(limit, sizeof limit, "%.3g %%", 100 * threshold);
    rfy_word at = rfy_show_pressure(page, c->pressure, 2);
    if (c->where != RFY_WHERE_NOWHERE)
        snprintf(most, sizeof most, ", most (%s) at %.60s", show_part(1 + c->largest).text,
                 rfy_show_pressure(page, c->largest_at, 2).text);
    switch (c->where) {
    case RFY_WHERE_NOWHERE:
        snprintf(text, size, "nowhere is the time to a pressure in %.200s changed by %s",
                 c->chamber, limit);
        break;
    case RFY_WHERE_BELOW:
        snprintf(text, size, "by more than %s only below %s in %.200s%s", limit, at.text,
                 c->chamber, most);
        break;
    case RFY_WHERE_ABOVE:
        snprintf(text, size, "by more than %s only above %s in %.200s%s", limit, at.text,
                 c->chamber, most);
        break;
    case RFY_WHERE_ALL:
        snprintf(text, size, "by more than %s at every pressure in %.200s%s", limit, c->chamber,
                 most);
        break;
    case RFY_WHERE_MIXED:
        snprintf(text, size, "by more than %s at some pressures from %s down in %.200s%s", limit,
                 at.text, c->chamber, most);
        break;
    }
}

/* The last target that both reach speaks for the run; the sentence a person asked for. */
static void write_sentence(rfy_page *page, const rfy_comparison *c, size_t i) {
    const rfy_result *a = c->result[0], *b = c->result[i];
    const rfy_difference *d = &c->difference[i];
    const rfy_target_result *ta = NULL, *tb = NULL;
    char what[400], where[800] = "";
    say_change(d, what, sizeof what);
    for (size_t k = 0; k < a->n_targets; k++) {
        const rfy_target_result *x = &a->target[k], *y = same_target(b, x);
        if (y && x->reached && y->reached && (!ta || x->time > ta->time)) {
            ta = x;
            tb = y;
        }
    }
    const rfy_course *course = NULL;
    for (size_t k = 0; k < d->n_courses && ta; k++)
        if (strcmp(d->course[k].chamber, ta->chamber) == 0)
            course = &d->course[k];
    if (!course && d->n_courses > 0)
        course = &d->course[0];
    if (course)
        say_where(page, course, c->threshold, where, sizeof where);
    const bool nowhere = course && course->where == RFY_WHERE_NOWHERE;
    if (ta) {
        double part = tb->time / ta->time - 1;
        if (nowhere || fabs(part) < 5e-4)
            rfy_page_say(page, 0, 2,
                         "%s: %s: it makes no difference of note to the time to %s (%s); %s.",
                         letter(i).text, what, rfy_show_pressure(page, ta->pressure, 2).text,
                         ta->name, where);
        else
            rfy_page_say(page, 0, 2,
                         "%s: %s: it %s %s of the time to %s (%s), and changes times %s.",
                         letter(i).text, what, part > 0 ? "costs" : "saves", show_size(part).text,
                         rfy_show_pressure(page, ta->pressure, 2).text, ta->name, where);
    } else if (course) {
        rfy_page_say(page, 0, 2, "%s: %s: %s%s.", letter(i).text, what,
                     nowhere ? "" : "it changes times ", where);
    }
    for (size_t k = 0; k < a->n_targets; k++) {
        const rfy_target_result *x = &a->target[k], *y = same_target(b, x);
        if (y && x->reached != y->reached)
            rfy_page_say(page, 2, 2, "%s reaches %s (%s), %s does not within %s.",
                         letter(x->reached ? 0 : i).text,
                         rfy_show_pressure(page, x->pressure, 2).text, x->name,
                         letter(x->reached ? i : 0).text,
                         rfy_show_time(x->reached ? b->end : a->end).text);
    }
    if (i == 1 && ta && isfinite(ta->time_late) && isfinite(ta->time_early) &&
        fabs(tb->time - ta->time) < 0.5 * (ta->time_late - ta->time_early) && !nowhere)
        rfy_page_say(page, 2, 2,
                     "The scatter of wall data is larger than that: for A alone between %s and "
                     "%s. Both shift together, so the comparison holds better than each time.",
                     rfy_show_time(ta->time_early).text, rfy_show_time(ta->time_late).text);
}

/* ---- tables ---- */

/* Widths of columns; with many systems side by side there is no room for absolute differences. */
enum { VALUE = 13, ROOMY = 22, NARROW = 10 };
typedef struct layout {
    int name, difference;
} layout;

static void header(rfy_page *page, const rfy_comparison *c, layout w) {
    rfy_page_cell(page, "", w.name, false);
    for (size_t i = 0; i < c->n; i++) {
        rfy_page_cell(page, letter(i).text, VALUE, true);
        if (i > 0)
            rfy_page_cell(page, w.difference == NARROW ? "" : "difference", w.difference, true);
    }
    fputc('\n', page->out);
}

static void difference(rfy_page *page, layout w, const char *absolute, double ratio) {
    char text[120];
    snprintf(text, sizeof text, "%.60s  %.40s", w.difference == NARROW ? "" : absolute,
             show_part(ratio).text);
    rfy_page_cell(page, w.difference == NARROW ? text + 2 : text, w.difference, true);
}

static void signed_time(char *text, size_t size, double seconds) {
    snprintf(text, size, "%s%s", seconds < 0 ? "-" : "+", rfy_show_time(fabs(seconds)).text);
}

static void time_row(rfy_page *page, const rfy_comparison *c, const char *name, layout w,
                     const double *time) {
    char text[120];
    rfy_page_cell(page, name, w.name, false);
    for (size_t i = 0; i < c->n; i++) {
        rfy_page_cell(page, isnan(time[i]) ? "not reached" : rfy_show_time(time[i]).text, VALUE,
                      true);
        if (i == 0)
            continue;
        if (isnan(time[i]) || isnan(time[0])) {
            rfy_page_cell(page, "", w.difference, true);
            continue;
        }
        signed_time(text, sizeof text, time[i] - time[0]);
        difference(page, w, text, time[i] / time[0]);
    }
    fputc('\n', page->out);
}

static void write_times(rfy_page *page, const rfy_comparison *c, layout w, double *time) {
    const rfy_result *a = c->result[0];
    rfy_page_heading(page, "TIMES");
    header(page, c, w);
    for (size_t k = 0; k < a->n_targets; k++) {
        char name[160];
        for (size_t i = 0; i < c->n; i++) {
            const rfy_target_result *t = same_target(c->result[i], &a->target[k]);
            time[i] = t && t->reached ? t->time : (double)NAN;
        }
        snprintf(name, sizeof name, "  %s %s", a->target[k].chamber,
                 rfy_show_pressure(page, a->target[k].pressure, 2).text);
        time_row(page, c, name, w, time);
    }
    size_t shown = 0;
    for (size_t k = 0; k < a->n_events && shown < MOST_EVENTS; k++) {
        const rfy_event *e = &a->event[k];
        if (e->kind != RFY_EVENT_ACTION)
            continue;
        for (size_t i = 0; i < c->n; i++) {
            const rfy_result *r = c->result[i];
            time[i] = NAN;
            for (size_t j = 0; j < r->n_events && isnan(time[i]); j++)
                if (r->event[j].kind == e->kind && strcmp(r->event[j].what, e->what) == 0)
                    time[i] = r->event[j].time;
        }
        char name[160];
        snprintf(name, sizeof name, "  %.*s", w.name - 3, e->what);
        time_row(page, c, name, w, time);
        shown++;
    }
}

static void write_levels(rfy_page *page, const rfy_comparison *c, layout w) {
    const rfy_result *a = c->result[0];
    if (!a->ultimate.found)
        return;
    rfy_page_heading(page,
                     "WHERE THE PRESSURES LEVEL OFF (as the walls are at the end of the run)");
    header(page, c, w);
    for (size_t k = 0; k < a->n_chambers; k++) {
        if (a->internal[k])
            continue;
        char name[160];
        snprintf(name, sizeof name, "  %s", a->chamber[k]);
        rfy_page_cell(page, name, w.name, false);
        double first = a->ultimate.total[k];
        for (size_t i = 0; i < c->n; i++) {
            long other = rfy_chamber_index(c->result[i], a->chamber[k]);
            double now = rfy_levels_at(c->result[i], other);
            rfy_page_cell(page, isnan(now) ? "-" : rfy_show_pressure(page, now, 3).text, VALUE,
                          true);
            if (i == 0)
                continue;
            char text[100] = "";
            if (!isnan(now))
                snprintf(text, sizeof text, "%s%s", now < first ? "-" : "+",
                         rfy_show_pressure(page, fabs(now - first), 2).text);
            if (fabs(now / first - 1) < 5e-4)
                text[0] = '\0';
            difference(page, w, text, now / first);
        }
        fputc('\n', page->out);
    }
}

static double share_of(const rfy_result *r, const char *target, const char *chamber,
                       const char *part) {
    for (size_t k = 0; k < r->n_bottlenecks; k++) {
        const rfy_bottleneck *b = &r->bottleneck[k];
        if (!b->target || strcmp(b->target, target) != 0 || strcmp(b->chamber, chamber) != 0)
            continue;
        double sum = 0; /* "hose: tube 8 mm x 2 m" counts for "hose" */
        for (size_t i = 0; i < b->n; i++) {
            size_t n = strcspn(part, ":");
            if (strncmp(b->resistance[i].part, part, n) == 0 &&
                (b->resistance[i].part[n] == ':' || b->resistance[i].part[n] == '\0'))
                sum += b->resistance[i].share;
        }
        return sum;
    }
    return NAN;
}

/* The resistance by part at the last target of the first, lines as a whole. */
static void write_resistances(rfy_page *page, const rfy_comparison *c, layout w) {
    const rfy_result *a = c->result[0];
    const rfy_bottleneck *last = NULL;
    for (size_t k = 0; k < a->n_bottlenecks; k++)
        if (a->bottleneck[k].target && a->bottleneck[k].n > 0 &&
            (!last || a->bottleneck[k].time >= last->time))
            last = &a->bottleneck[k];
    if (!last)
        return;
    rfy_page_heading(page, "WHAT HOLDS THE SPEED BACK, AT \"%s\"", last->target);
    header(page, c, w);
    char seen[MOST_SHOWN][80];
    size_t shown = 0;
    for (size_t i = 0; i < c->n; i++)
        for (size_t k = 0; k < c->result[i]->n_bottlenecks; k++) {
            const rfy_bottleneck *b = &c->result[i]->bottleneck[k];
            if (!b->target || strcmp(b->target, last->target) != 0)
                continue;
            for (size_t p = 0; p < b->n && shown < MOST_SHOWN; p++) {
                char part[80];
                bool old = false;
                snprintf(part, sizeof part, "%.*s", (int)strcspn(b->resistance[p].part, ":"),
                         b->resistance[p].part);
                for (size_t s = 0; s < shown; s++)
                    old = old || strcmp(seen[s], part) == 0;
                if (!old && b->resistance[p].share > 0.02)
                    memcpy(seen[shown++], part, sizeof part);
            }
        }
    for (size_t s = 0; s < shown; s++) {
        char name[100];
        snprintf(name, sizeof name, "  %s", seen[s]);
        rfy_page_cell(page, name, w.name, false);
        for (size_t i = 0; i < c->n; i++) {
            double share = share_of(c->result[i], last->target, last->chamber, seen[s]);
            rfy_page_cell(page, isnan(share) ? "-" : rfy_show_percent(share).text, VALUE, true);
            if (i > 0)
                rfy_page_cell(page, "", w.difference, true);
        }
        fputc('\n', page->out);
    }
}

static void write_changes(rfy_page *page, const rfy_comparison *c) {
    rfy_page_heading(page, "WHAT IS DIFFERENT");
    for (size_t i = 1; i < c->n; i++) {
        const rfy_difference *d = &c->difference[i];
        for (size_t k = 0; k < d->n_changes && k < 12; k++)
            rfy_page_say(page, 2, 4, "%s  %s: %s instead of %s", letter(i).text, d->change[k].path,
                         d->change[k].to ? d->change[k].to : "nothing",
                         d->change[k].from ? d->change[k].from : "nothing");
        if (d->n_changes > 12)
            rfy_page_say(page, 2, 4, "%s  and %zu more", letter(i).text, d->n_changes - 12);
        if (d->n_changes == 0)
            rfy_page_say(page, 2, 4, "%s  nothing", letter(i).text);
    }
}

rfy_status rfy_write_comparison_text(FILE *out, const rfy_comparison *c,
                                     const rfy_write_options *options) {
    rfy_page page;
    rfy_status status = rfy_page_open(&page, out, options);
    if (status != RFY_OK)
        return status;
    for (size_t i = 0; i < c->n; i++)
        rfy_page_say(&page, 0, 3, "%s: %s", letter(i).text, c->name[i]);
    fputc('\n', out);
    for (size_t i = 0; i < c->n; i++) {
        if (c->result[i]->trouble)
            rfy_page_say(&page, 0, 2, "%s COULD NOT BE FINISHED: %s.", letter(i).text,
                         c->result[i]->trouble);
        for (size_t k = 0; k < c->result[i]->n_limits; k++)
            if (c->result[i]->limit[k].broken)
                rfy_page_say(&page, 0, 2, "LIMIT BROKEN in %s: %s, at %s.", letter(i).text,
                             c->result[i]->limit[k].name,
                             rfy_show_time(c->result[i]->limit[k].time).text);
    }
    for (size_t i = 1; i < c->n; i++)
        write_sentence(&page, c, i);
    layout w = {0, ROOMY};
    if (c->n > 2 && page.width - 24 - VALUE < (int)(c->n - 1) * (VALUE + ROOMY))
        w.difference = NARROW;
    const int each = VALUE + w.difference, left = page.width - VALUE - (int)(c->n - 1) * each;
    w.name = left < 24 ? 24 : left > 44 ? 44 : left;
    double time[32];
    rfy_comparison shown = *c; /* columns for so many; the sentences tell of all */
    const int room = (page.width - w.name - VALUE) / each;
    shown.n = c->n > 1 + (size_t)(room < 1 ? 1 : room) ? 1 + (size_t)(room < 1 ? 1 : room) : c->n;
    if (shown.n > 32)
        shown.n = 32;
    write_times(&page, &shown, w, time);
    write_levels(&page, &shown, w);
    write_resistances(&page, &shown, w);
    if (shown.n < c->n)
        rfy_page_say(&page, 2, 2, "(%zu more in --json, or compared two at a time)",
                     c->n - shown.n);
    write_changes(&page, c);
    rfy_page_list(&page, "SAFETY", c->result[0]->n_cautions, c->result[0]->cautions);
    return rfy_page_close(&page);
}

/* ---- JSON ---- */

static void json_difference(rfy_json *json, const rfy_comparison *c, size_t i) {
    static const char *const where[] = {[RFY_WHERE_NOWHERE] = "nowhere",
                                        [RFY_WHERE_BELOW] = "below",
                                        [RFY_WHERE_ABOVE] = "above",
                                        [RFY_WHERE_ALL] = "everywhere",
                                        [RFY_WHERE_MIXED] = "some, from here down"};
    const rfy_difference *d = &c->difference[i];
    const rfy_result *a = c->result[0], *b = c->result[i];
    rfy_json_object(json, NULL);
    rfy_json_text(json, "of", c->name[i]);
    rfy_json_text(json, "to", c->name[0]);
    rfy_json_array(json, "changes");
    for (size_t k = 0; k < d->n_changes && k < 12; k++) {
        rfy_json_object(json, NULL);
        rfy_json_text(json, "path", d->change[k].path);
        rfy_json_text(json, "from", d->change[k].from);
        rfy_json_text(json, "to", d->change[k].to);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_count(json, "changes_in_all", d->n_changes);
    rfy_json_array(json, "targets");
    for (size_t k = 0; k < a->n_targets; k++) {
        const rfy_target_result *x = &a->target[k], *y = same_target(b, x);
        rfy_json_object(json, NULL);
        rfy_json_text(json, "name", x->name);
        rfy_json_number(json, "difference_s",
                        y && y->reached && x->reached ? y->time - x->time : (double)NAN);
        rfy_json_number(json, "ratio",
                        y && y->reached && x->reached ? y->time / x->time : (double)NAN);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_object(json, "ultimate_ratio");
    for (size_t k = 0; k < a->n_chambers; k++)
        if (!a->internal[k])
            rfy_json_number(json, a->chamber[k],
                            rfy_levels_at(b, rfy_chamber_index(b, a->chamber[k])) /
                                rfy_levels_at(a, (long)k));
    rfy_json_close(json);
    rfy_json_array(json, "times_to_a_pressure");
    for (size_t k = 0; k < d->n_courses; k++) {
        const rfy_course *course = &d->course[k];
        rfy_json_object(json, NULL);
        rfy_json_text(json, "chamber", course->chamber);
        rfy_json_number(json, "differ_by_more_than", c->threshold);
        rfy_json_text(json, "where", where[course->where]);
        rfy_json_number(json, "pressure_Pa", course->pressure);
        rfy_json_number(json, "largest", course->largest);
        rfy_json_number(json, "largest_at_Pa", course->largest_at);
        rfy_json_number(json, "compared_from_Pa", course->highest);
        rfy_json_number(json, "compared_to_Pa", course->lowest);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_close(json);
}

rfy_status rfy_write_comparison_json(FILE *out, const rfy_comparison *c,
                                     const rfy_write_options *options) {
    rfy_json json;
    (void)options;
    rfy_json_begin(&json, out);
    rfy_json_count(&json, "status", (size_t)c->status);
    rfy_json_array(&json, "systems");
    for (size_t i = 0; i < c->n; i++) {
        const rfy_result *r = c->result[i];
        rfy_json_object(&json, NULL);
        rfy_json_text(&json, "name", c->name[i]);
        rfy_json_opening(&json, r);
        rfy_json_array(&json, "targets");
        for (size_t k = 0; k < r->n_targets; k++) {
            rfy_json_object(&json, NULL);
            rfy_json_text(&json, "name", r->target[k].name);
            rfy_json_text(&json, "chamber", r->target[k].chamber);
            rfy_json_number(&json, "pressure_Pa", r->target[k].pressure);
            rfy_json_flag(&json, "reached", r->target[k].reached);
            rfy_json_number(&json, "time_s", r->target[k].time);
            rfy_json_number(&json, "speed_m3_per_s", r->target[k].speed);
            rfy_json_close(&json);
        }
        rfy_json_close(&json);
        rfy_json_ultimate(&json, r);
        rfy_json_array(&json, "held_back_by");
        for (size_t k = 0; k < r->n_bottlenecks; k++) {
            const rfy_bottleneck *b = &r->bottleneck[k];
            rfy_json_object(&json, NULL);
            rfy_json_text(&json, "target", b->target);
            rfy_json_object(&json, "share");
            for (size_t p = 0; p < b->n; p++)
                rfy_json_number(&json, b->resistance[p].part, b->resistance[p].share);
            rfy_json_close(&json);
            rfy_json_close(&json);
        }
        rfy_json_close(&json);
        rfy_json_close(&json);
    }
    rfy_json_close(&json);
    rfy_json_array(&json, "differences");
    for (size_t i = 1; i < c->n; i++)
        json_difference(&json, c, i);
    rfy_json_close(&json);
    return rfy_json_end(&json);
}
