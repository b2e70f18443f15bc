/* The networks that the benchmarks run, with what is measured of each. */
#ifndef RFY_BENCH_CASES_H
#define RFY_BENCH_CASES_H

#include <stdbool.h>
#include "rarefy/rarefy.h"

enum { BENCH_INSTANTS = 10, BENCH_CASES = 6 };

typedef struct bench_case {
    const char *name, *label, *path;
    const char *set, *value; /* one value changed, NULL = none */
    double at[BENCH_INSTANTS];
    double reference; /* tolerance of the reference */
    bool sparse;      /* dense matrices and SciPy would take minutes a run: left out */
    bool large;       /* runs take seconds: fewer of them */
} bench_case;

extern const bench_case bench_cases[BENCH_CASES];

const bench_case *bench_case_named(const char *name); /* NULL = no such */
/* Reads it, with `set` = `value` instead of the case's own when not NULL; ends the program with the
 * problems when it is not sound. */
rfy_system *bench_read(const bench_case *c, const char *set, const char *value);

#endif
