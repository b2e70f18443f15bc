#include <string.h>
#include "core/text.h"
#include "network/references.h"

typedef struct places {
    rfy_arena *arena;
    rfy_problems *problems;
    const char **name;
    size_t n;
} places;

static void need(const places *p, const char *name, rfy_place at, const char *what) {
    if (!name)
        return;
    for (size_t i = 0; i < p->n; i++)
        if (strcmp(p->name[i], name) == 0)
            return;
    int near = rfy_nearest(name, p->name, p->n);
    rfy_problem_add(
        p->problems, RFY_ERROR, &at, "the name of a chamber or junction, or \"ambient\"",
        near >= 0 ? rfy_arena_printf(p->arena, "did you mean \"%s\"?", p->name[near]) : NULL,
        "%s \"%s\" does not exist", what, name);
}

void rfy_references_check(rfy_arena *arena, const rfy_description *d, rfy_problems *problems) {
    /* where a place has lost its own name, every mention of it would be one fault more */
    for (size_t i = 0; i < rfy_problems_kept(problems); i++) {
        const rfy_problem *before = rfy_problems_at(problems, i);
        if (strncmp(before->path, "chambers", 8) == 0 || !strchr(before->path, '/') ||
            strncmp(before->path, "junctions", 9) == 0 || strstr(before->path, "/name"))
            return;
    }
    places p = {arena, problems, NULL, 0};
    p.name = RFY_NEW(arena, d->chambers.n + d->junctions.n + 1, const char *);
    const rfy_chamber_desc *chambers = d->chambers.item;
    for (size_t i = 0; i < d->chambers.n; i++)
        if (chambers[i].name)
            p.name[p.n++] = chambers[i].name;
    for (size_t i = 0; i < d->junctions.n; i++)
        if (d->junctions.item[i])
            p.name[p.n++] = d->junctions.item[i];
    p.name[p.n++] = "ambient";

    const rfy_line_desc *lines = d->lines.item;
    for (size_t i = 0; i < d->lines.n; i++) {
        const rfy_texts *ends = &lines[i].between;
        for (size_t k = 0; k < ends->n; k++)
            need(&p, ends->item[k], ends->at[k], "the line's end");
        rfy_place at = rfy_place_of(&lines[i].origin, "between");
        if (ends->n == 2 && ends->item[0] && ends->item[1] &&
            strcmp(ends->item[0], ends->item[1]) == 0)
            rfy_problem_add(problems, RFY_ERROR, &at, "two different places", NULL,
                            "the line runs from \"%s\" back to itself", ends->item[0]);
    }
    const rfy_pump_desc *pumps = d->pumps.item;
    for (size_t i = 0; i < d->pumps.n; i++) {
        const rfy_origin *origin = &pumps[i].head.origin;
        need(&p, pumps[i].from, rfy_place_of(origin, "from"), "the inlet");
        need(&p, pumps[i].to, rfy_place_of(origin, "to"), "the outlet");
    }
    const rfy_gauge_desc *gauges = d->gauges.item;
    for (size_t i = 0; i < d->gauges.n; i++)
        need(&p, gauges[i].at, rfy_place_of(&gauges[i].origin, "at"), "the place");
    const rfy_source_desc *sources = d->sources.item;
    for (size_t i = 0; i < d->sources.n; i++)
        need(&p, sources[i].at, rfy_place_of(&sources[i].origin, "at"), "the place");
    const rfy_limit_desc *limits = d->limits.item;
    for (size_t i = 0; i < d->limits.n; i++)
        need(&p, limits[i].watch, rfy_place_of(&limits[i].origin, "watch"), "the watched place");
    const rfy_target_desc *targets = d->targets.item;
    for (size_t i = 0; i < d->targets.n; i++)
        need(&p, targets[i].chamber, rfy_place_of(&targets[i].origin, "chamber"), "the chamber");
}
