#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support/sketch.h"

static char *write_out(const char *format, va_list args) {
    va_list again;
    va_copy(again, args);
    int n = vsnprintf(NULL, 0, format, again);
    va_end(again);
    assert_true(n > 0);
    char *text = malloc((size_t)n + 1);
    assert_non_null(text);
    vsnprintf(text, (size_t)n + 1, format, args);
    for (char *at = text; (at = strchr(at, '\'')); at++)
        *at = '"';
    return text;
}

rfy_system *test_sketch(const char *format, ...) {
    va_list args;
    va_start(args, format);
    char *text = write_out(format, args);
    va_end(args);
    rfy_system *system = test_system(text);
    free(text);
    return system;
}

rfy_problems *test_refused(const char *format, ...) {
    va_list args;
    va_start(args, format);
    char *text = write_out(format, args);
    va_end(args);
    rfy_problems *problems = rfy_problems_new("sketch");
    rfy_system *system = NULL;
    rfy_status status = rfy_system_read(&system, text, strlen(text), NULL, 0, problems);
    if (status != RFY_BAD_INPUT || system)
        fail_msg("accepted: %s", text);
    free(text);
    return problems;
}

size_t test_chamber(const rfy_result *result, const char *name) {
    for (size_t i = 0; i < result->n_chambers; i++)
        if (strcmp(result->chamber[i], name) == 0)
            return i;
    fail_msg("no chamber %s", name);
    return 0;
}

size_t test_gas(const rfy_result *result, const char *name) {
    for (size_t i = 0; i < result->n_gases; i++)
        if (strcmp(result->gas[i], name) == 0)
            return i;
    fail_msg("no gas %s", name);
    return 0;
}

const rfy_target_result *test_target(const rfy_result *result, const char *name) {
    for (size_t i = 0; i < result->n_targets; i++)
        if (strcmp(result->target[i].name, name) == 0)
            return &result->target[i];
    fail_msg("no target %s", name);
    return NULL;
}

const rfy_limit_result *test_limit(const rfy_result *result, const char *name) {
    for (size_t i = 0; i < result->n_limits; i++)
        if (strcmp(result->limit[i].name, name) == 0)
            return &result->limit[i];
    fail_msg("no limit %s", name);
    return NULL;
}

const rfy_event *test_event(const rfy_result *result, const char *what) {
    for (size_t i = 0; i < result->n_events; i++)
        if (strcmp(result->event[i].what, what) == 0)
            return &result->event[i];
    for (size_t i = 0; i < result->n_events; i++)
        fprintf(stderr, "  %.9g s  %s\n", result->event[i].time, result->event[i].what);
    fail_msg("no event \"%s\" among these", what);
    return NULL;
}

double test_partial(const rfy_result *result, size_t i, const char *chamber, const char *gas) {
    assert_true(i < result->n_times);
    return result
        ->partial[(i * result->n_chambers + test_chamber(result, chamber)) * result->n_gases +
                  test_gas(result, gas)];
}

double test_ultimate(const rfy_result *result, const char *chamber, const char *gas) {
    if (!result->ultimate.found)
        fail_msg("no steady state was found");
    return result->ultimate
        .partial[test_chamber(result, chamber) * result->n_gases + test_gas(result, gas)];
}
