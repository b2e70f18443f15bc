/* A point of a sweep as one line of JSON; written by io/write_line.c. */
#ifndef RFY_STUDY_LINE_H
#define RFY_STUDY_LINE_H

#include <stdio.h>
#include "study/draws.h"
#include "study/point.h"

typedef struct rfy_line_of {
    const char *head; /* how it begins: rfy_line_head */
    size_t n;         /* what was set, and to what */
    const char *const *path, *const *value;
    const rfy_walls *walls; /* NULL = none sampled */
    const double *u;        /* [walls->n] */
    const rfy_network *net; /* NULL: `problems` says why there is none */
    const rfy_problems *problems;
    const rfy_point *point;
} rfy_line_of;

/* {"point": 12, "sweep": "0123456789abcdef" – what a resumed sweep compares; in the arena. */
const char *rfy_line_head(rfy_arena *arena, size_t point, unsigned long long sweep);
/* With the line's end. False on a stream error. */
bool rfy_line_write(FILE *out, const rfy_line_of *line);

#endif
