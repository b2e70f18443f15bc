/* Collecting what is wrong with a description, with the place of each problem.
 *
 * The public view (rfy_problem) is in rarefy/rarefy.h. A place is where something stands in the
 * source text; it is resolved when the text is read and copied into every record, so that later
 * stages can complain about line and column without the JSON tree. */
#ifndef RFY_CORE_PROBLEM_H
#define RFY_CORE_PROBLEM_H

#include <stdbool.h>
#include <stddef.h>
#include "core/arena.h"
#include "rarefy/rarefy.h"

typedef struct rfy_place {
    int line, column; /* from 1; 0 = unknown. Columns count characters (UTF-8), not bytes. */
    const char *path; /* "foreline hose/1/bore"; "" for the whole file; never NULL once resolved */
} rfy_place;

struct rfy_problems {
    rfy_arena *arena;   /* owns every text below */
    const char *file;   /* as shown in messages, e.g. "bench.json" */
    const char *option; /* what gave the values and paths that stand in no file: "--set" */
    const char *text;   /* the source, for the quoted line; may be NULL */
    size_t text_length;
    rfy_problem *item; /* up to RFY_MAX_PROBLEMS are kept, */
    size_t n;
    size_t total; /* all are counted */
    size_t errors, warnings;
};

/* Adds one problem. `allowed` and `hint` may be NULL. `what` is a full phrase: «unit "mn" is not
 * known». */
void rfy_problem_add(rfy_problems *list, rfy_severity severity, const rfy_place *at,
                     const char *allowed, const char *hint, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 6, 7)))
#endif
    ;

#endif
