#include "io/read_description.h"
#include <stdlib.h>
#include <string.h>
#include "io/expand.h"
#include "io/read_record.h"
#include "network/references.h"
#include "io/settings.h"

/* ---- one namespace for all parts ---- */

typedef struct part {
    const char *name;
    rfy_place at;    /* of the name */
    rfy_place owner; /* of the part */
} part;

typedef struct parts {
    part *item;
    size_t n, capacity;
} parts;

static void add_part(parts *all, const char *name, rfy_place at, rfy_place owner) {
    if (!name)
        return;
    if (all->n == all->capacity) {
        all->capacity = all->capacity ? 2 * all->capacity : 64;
        all->item = rfy_xrealloc(all->item, all->capacity, sizeof *all->item);
    }
    all->item[all->n++] = (part){name, at, owner};
}

/* A struct read by a table: its field "name", if it has one and it was given. */
static void add_named(parts *all, const rfy_origin *origin, const void *values) {
    if (!origin->record)
        return;
    for (size_t i = 0; i < origin->record->n; i++) {
        const rfy_field *f = &origin->record->field[i];
        if (f->type == RFY_F_NAME && strcmp(f->key, "name") == 0)
            add_part(all, *(const char *const *)((const char *)values + f->offset),
                     rfy_place_of(origin, "name"), origin->at);
    }
}

static void add_list(parts *all, const rfy_list *list, size_t size) {
    for (size_t i = 0; i < list->n; i++) {
        const void *item = (const char *)list->item + i * size;
        add_named(all, item, item);
    }
}

static int by_name_then_place(const void *a, const void *b) {
    const part *x = a, *y = b;
    int order = strcmp(x->name, y->name);
    if (order)
        return order;
    if (x->at.line != y->at.line)
        return x->at.line < y->at.line ? -1 : 1;
    if (x->at.column != y->at.column)
        return x->at.column < y->at.column ? -1 : 1;
    return 0;
}

static void check_names(rfy_problems *problems, const rfy_description *d) {
    parts all = {0};
    add_list(&all, &d->chambers, sizeof(rfy_chamber_desc));
    for (size_t i = 0; i < d->junctions.n; i++) {
        if (!d->junctions.item[i]) /* not a text */
            continue;
        const char *name = d->junctions.item[i], *fault = rfy_name_fault(name);
        if (fault)
            rfy_problem_add(problems, RFY_ERROR, &d->junctions.at[i], NULL, NULL,
                            "the name \"%.60s\" %s", name, fault);
        else
            add_part(&all, name, d->junctions.at[i], d->junctions.at[i]);
    }
    add_list(&all, &d->lines, sizeof(rfy_line_desc));
    const rfy_line_desc *line = d->lines.item;
    for (size_t i = 0; i < d->lines.n; i++) {
        const rfy_piece_desc *piece = line[i].pieces.item;
        for (size_t k = 0; k < line[i].pieces.n; k++)
            if (piece[k].values)
                add_named(&all, piece[k].values, piece[k].values);
    }
    add_list(&all, &d->pumps, sizeof(rfy_pump_desc));
    add_list(&all, &d->gauges, sizeof(rfy_gauge_desc));
    add_list(&all, &d->sources, sizeof(rfy_source_desc));
    add_list(&all, &d->rules, sizeof(rfy_rule_desc));
    add_list(&all, &d->faults, sizeof(rfy_fault_desc));
    add_list(&all, &d->limits, sizeof(rfy_limit_desc));
    add_list(&all, &d->targets, sizeof(rfy_target_desc));

    if (all.n)
        qsort(all.item, all.n, sizeof *all.item, by_name_then_place);
    for (size_t i = 0; i < all.n; i++) {
        const part *p = &all.item[i], *before = i ? p - 1 : NULL;
        if (strcmp(p->name, "time") == 0 || strcmp(p->name, "elapsed") == 0)
            rfy_problem_add(problems, RFY_ERROR, &p->at, "any other name", NULL,
                            "\"%s\" is a word of conditions", p->name);
        if (strcmp(p->name, "ambient") == 0)
            rfy_problem_add(problems, RFY_ERROR, &p->at, NULL, NULL,
                            "the name \"ambient\" is kept for the surroundings");
        if (!before || strcmp(before->name, p->name) != 0)
            continue;
        if (p->at.line == before->at.line && p->at.column == before->at.column)
            rfy_problem_add(
                problems, RFY_ERROR, &p->at, NULL, "give the copy its own pieces, with other names",
                "the name \"%s\" is copied by \"like\", so two parts would have it", p->name);
        else if (before->at.line > 0)
            rfy_problem_add(problems, RFY_ERROR, &p->at, NULL, "every part has its own name",
                            "the name \"%s\" is taken already, on line %d", p->name,
                            before->at.line);
        else
            rfy_problem_add(problems, RFY_ERROR, &p->at, NULL, "every part has its own name",
                            "the name \"%s\" is taken already", p->name);
    }
    free(all.item);
}

bool rfy_read_description(rfy_arena *arena, const rfy_catalog *catalog, const char *text,
                          size_t length, const rfy_setting *settings, size_t n_settings,
                          rfy_problems *problems, rfy_description **out) {
    return rfy_read_description_slots(arena, catalog, text, length, settings, n_settings, problems,
                                      NULL, out);
}

bool rfy_read_description_slots(rfy_arena *arena, const rfy_catalog *catalog, const char *text,
                                size_t length, const rfy_setting *settings, size_t n_settings,
                                rfy_problems *problems, rfy_slot *slot, rfy_description **out) {
    *out = NULL;
    size_t errors_before = problems->errors;
    if (length <= RFY_JSON_MAX_BYTES) { /* a longer text is refused, so it need not be kept */
        problems->text = rfy_arena_strndup(problems->arena, text, length);
        problems->text_length = length;
    }
    rfy_spreads spreads = {0};
    rfy_reader reader = {.arena = arena,
                         .catalog = catalog,
                         .problems = problems,
                         .slot = slot,
                         .n_slots = slot ? n_settings : 0,
                         .spreads = &spreads};
    if (!rfy_json_read(&reader.json, text, length, problems))
        return false;
    if (cJSON_IsObject(reader.json.root)) {
        rfy_expand_likes(&reader);
        rfy_apply_settings(&reader, &rfy_description_record, settings, n_settings);
        rfy_description *d = RFY_NEW(arena, 1, rfy_description);
        rfy_read_object(&reader, reader.json.root, &rfy_description_record, "", d);
        check_names(problems, d);
        if (problems->errors > errors_before)
            rfy_references_check(arena, d, problems);
        d->spreads = spreads;
        *out = d;
    } else {
        rfy_wrong_type(&reader, reader.json.root, "",
                       "an object that describes a system: {\"rarefy\": 1, …}");
    }
    rfy_json_free(&reader.json);
    if (problems->errors > errors_before)
        *out = NULL;
    return *out != NULL;
}
