/* The limits of a run with their margins, in text. */
#include <math.h>
#include <string.h>
#include "io/write_common.h"

/* A watched value with its unit: a pressure, or a rate. */
static rfy_word show(const rfy_page *page, const rfy_limit_result *l, double value) {
    rfy_word w = rfy_show_pressure(page, value, 3);
    if (l->kind == RFY_LIMIT_RATE)
        strncat(w.text, "/s", sizeof w.text - strlen(w.text) - 1);
    return w;
}

/* How many times the allowed value; above 1 = worse than allowed. */
static double excess(const rfy_limit_result *l) {
    return l->kind == RFY_LIMIT_MIN ? l->max / l->peak : l->peak / l->max;
}

typedef struct words {
    const char *stood, *forbidden, *reached, *peak;
} words;

static const words by_kind[] = {
    [RFY_LIMIT_MAX] = {"stood above", "above", "peaked at", "peak"},
    [RFY_LIMIT_MIN] = {"stood below", "below", "fell to", "lowest"},
    [RFY_LIMIT_RATE] = {"changed faster than", "faster than", "changed at most by", "fastest"}};

static void write_broken(rfy_page *page, const rfy_limit_result *l, const char *tolerated,
                         const char *peak) {
    const words *w = &by_kind[l->kind];
    rfy_page_bold(page, true);
    rfy_page_say(
        page, 2, 4,
        "- BROKEN: %s, at %s. %s %s %s%s; its %s was %s, %s times what is allowed. (Exit "
        "code 5.)",
        l->name, rfy_show_time(l->time).text, l->watch, w->stood, show(page, l, l->max).text,
        tolerated, w->peak, peak,
        rfy_show_number(l->kind == RFY_LIMIT_MIN ? 1 / excess(l) : excess(l), 2, true).text);
    rfy_page_bold(page, false);
    if (l->path)
        rfy_page_say(page, 4, 6, "Way of the gas: %s.", l->path);
    if (l->ready)
        rfy_page_say(page, 4, 6, "Why: %s.", l->ready);
}

static void write_limit(rfy_page *page, const rfy_limit_result *l) {
    const words *w = &by_kind[l->kind];
    char tolerated[128] = "", allowed[128], peak[224] = "";
    if (l->duration > 0)
        snprintf(tolerated, sizeof tolerated, " for more than %s", rfy_show_time(l->duration).text);
    snprintf(allowed, sizeof allowed, "%s", show(page, l, l->max).text);
    if (isfinite(l->peak))
        snprintf(peak, sizeof peak, "%s at %s", show(page, l, l->peak).text,
                 rfy_show_time(l->peak_time).text);
    if (l->broken) {
        write_broken(page, l, tolerated, peak);
    } else if (!isfinite(l->peak)) {
        rfy_page_say(
            page, 2, 4,
            "- %s: never put to the test, its condition did not come true. Allowed in %s: %s.",
            l->name, l->watch, allowed);
    } else if (excess(l) > 1) {
        rfy_page_say(page, 2, 4,
                     "- %s: kept, but only by its time. %s %s %s; %s %s is forbidden%s.", l->name,
                     l->watch, w->reached, peak, w->forbidden, allowed, tolerated);
    } else {
        char margin[128] = "no gas at all";
        if (l->peak > 0)
            snprintf(margin, sizeof margin, "a factor of %s in hand",
                     rfy_show_number(1 / excess(l), 2, true).text);
        rfy_page_say(page, 2, 4, "- %s: kept. %s %s %s; allowed %s: %s%s.", l->name, l->watch,
                     w->reached, peak, allowed, margin, excess(l) > 0.5 ? ", which is little" : "");
    }
}

void rfy_page_limits(rfy_page *page, const rfy_result *r) {
    if (r->n_limits == 0)
        return;
    rfy_page_heading(page, "LIMITS");
    char untested[600] = "";
    size_t n = 0;
    for (size_t i = 0; i < r->n_limits; i++) {
        const rfy_limit_result *l = &r->limit[i];
        if (!l->ready || l->broken || isfinite(l->peak)) {
            write_limit(page, l);
            continue;
        }
        size_t used = strlen(untested);
        snprintf(untested + used, sizeof untested - used, "%s%s", n++ ? ", " : "", l->name);
    }
    if (n > 0)
        rfy_page_say(page, 2, 4, "- Ready-made and never put to the test: %s.", untested);
}
