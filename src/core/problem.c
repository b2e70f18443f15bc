#include "core/problem.h"
#include <stdlib.h>
#include <string.h>

rfy_problems *rfy_problems_new(const char *file) {
    rfy_problems *list = rfy_xcalloc(1, sizeof *list);
    list->arena = rfy_arena_new();
    list->file = rfy_arena_strdup(list->arena, file ? file : "description");
    list->option = "--set";
    list->item = RFY_NEW(list->arena, RFY_MAX_PROBLEMS, rfy_problem);
    return list;
}

void rfy_problems_from(rfy_problems *list, const char *option) {
    list->option = rfy_arena_strdup(list->arena, option);
}

void rfy_problems_free(rfy_problems *list) {
    if (!list)
        return;
    rfy_arena_free(list->arena);
    free(list);
}

size_t rfy_problems_kept(const rfy_problems *list) {
    return list->n;
}

size_t rfy_problems_total(const rfy_problems *list) {
    return list->total;
}

size_t rfy_problems_errors(const rfy_problems *list) {
    return list->errors;
}

const rfy_problem *rfy_problems_at(const rfy_problems *list, size_t i) {
    return i < list->n ? &list->item[i] : NULL;
}

static bool comes_before(const rfy_problem *a, const rfy_problem *b) {
    return a->line != b->line ? a->line < b->line : a->column < b->column;
}

/* The one to give up when the list is full: the last warning, or else the last error. */
static size_t least_wanted(const rfy_problems *list) {
    for (size_t i = list->n; i-- > 0;)
        if (list->item[i].severity == RFY_WARNING)
            return i;
    return list->n - 1;
}

void rfy_problem_add(rfy_problems *list, rfy_severity severity, const rfy_place *at,
                     const char *allowed, const char *hint, const char *format, ...) {
    rfy_problem new = {.severity = severity, .path = "", .what = ""};
    if (at) {
        new.line = at->line;
        new.column = at->column;
        if (at->path)
            new.path = at->path;
    }
    va_list args;
    va_start(args, format);
    new.what = rfy_arena_vprintf(list->arena, format, args);
    va_end(args);

    /* An object copied with "like" repeats its faults at the same place, and a value given on the
     * command line can be wrong for several parts in the same words: once is enough. */
    for (size_t i = 0; i < list->n; i++) {
        const rfy_problem *old = &list->item[i];
        if (old->line == new.line && old->column == new.column && old->severity == severity &&
            (new.line > 0 || strcmp(old->path, new.path) == 0) && strcmp(old->what, new.what) == 0)
            return;
    }
    list->total++;
    if (severity == RFY_ERROR)
        list->errors++;
    else
        list->warnings++;

    if (list->n == RFY_MAX_PROBLEMS) {
        size_t out = least_wanted(list);
        bool warning_out = list->item[out].severity == RFY_WARNING;
        if (severity == RFY_WARNING && !warning_out)
            return;
        if (!(severity == RFY_ERROR && warning_out) && !comes_before(&new, &list->item[out]))
            return;
        memmove(&list->item[out], &list->item[out + 1], (list->n - out - 1) * sizeof *list->item);
        list->n--;
    }
    new.path = rfy_arena_strdup(list->arena, new.path);
    new.allowed = allowed ? rfy_arena_strdup(list->arena, allowed) : NULL;
    new.hint = hint ? rfy_arena_strdup(list->arena, hint) : NULL;
    size_t place = list->n;
    while (place > 0 && comes_before(&new, &list->item[place - 1]))
        place--;
    memmove(&list->item[place + 1], &list->item[place], (list->n - place) * sizeof *list->item);
    list->item[place] = new;
    list->n++;
}
