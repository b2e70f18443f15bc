#include "bench/cases.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support/support.h"

/* Instants: spread over the decades of each run, none at a switching. */
const bench_case bench_cases[BENCH_CASES] = {
    {.name = "bulb",
     .label = "bulb bench, 24 h",
     .path = "examples/photocell-bulb.json",
     .set = "run/until",
     .value = "24 h",
     .at = {0.5, 5, 20, 45, 90, 170, 400, 2000, 10000, 86400},
     .reference = 1e-12},
    {.name = "valve",
     .label = "valve opening, 4 h",
     .path = "tests/bench/networks/valve-opening.json",
     .at = {10, 65.5, 70, 90, 150, 250, 900, 2027, 2200, 14000},
     .reference = 1e-12},
    {.name = "break",
     .label = "envelope break, 1 h",
     .path = "tests/bench/networks/envelope-break.json",
     .at = {50, 100.0005, 100.02, 100.2, 101, 110, 140, 180, 240, 3000},
     .reference = 1e-10}, /* tighter ones need millions of steps */
    {.name = "outgassing",
     .label = "outgassing cycle, 30 h",
     .path = "tests/bench/networks/outgassing-cycle.json",
     .at = {1, 60, 1800, 8000, 10000, 18500, 26000, 36000, 50000, 108000},
     .reference = 1e-12},
    {.name = "bake",
     .label = "bake cycle with all that walls hold, 30 h",
     .path = "tests/bench/networks/bake-cycle.json",
     .at = {10, 60, 400, 10000, 12600, 14900, 30000, 46000, 60000, 100000},
     .reference = 1e-11,
     .sparse = true},
    {.name = "line",
     .label = "line of 1,000 cells, 4 h",
     .path = "tests/bench/networks/long-line.json",
     .at = {0.1, 1, 5, 20, 60, 150, 400, 1000, 4000, 14400},
     .reference = 1e-10,
     .sparse = true,
     .large = true},
};

const bench_case *bench_case_named(const char *name) {
    for (int i = 0; i < BENCH_CASES; i++)
        if (strcmp(bench_cases[i].name, name) == 0)
            return &bench_cases[i];
    return NULL;
}

rfy_system *bench_read(const bench_case *c, const char *set, const char *value) {
    rfy_setting setting = {set ? set : c->set, set ? value : c->value};
    size_t length;
    char *text = test_read_file(c->path, &length);
    rfy_problems *problems = rfy_problems_new(c->path);
    rfy_system *system = NULL;
    if (rfy_system_read(&system, text, length, &setting, setting.path ? 1 : 0, problems) !=
        RFY_OK) {
        rfy_write_problems(stderr, problems);
        exit(1);
    }
    rfy_problems_free(problems);
    free(text);
    return system;
}
