#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support/support.h"

void rfy_assert_close(double found, double wanted, double rel, double abs, const char *file,
                      int line, const char *format, ...) {
    if (fabs(found - wanted) <= rel * fabs(wanted) + abs)
        return;
    va_list args;
    va_start(args, format);
    fprintf(stderr, "%s:%d: ", file, line);
    vfprintf(stderr, format, args);
    va_end(args);
    fprintf(stderr, ": found %.12g, wanted %.12g (off by %.3g relative, allowed %.3g + %.3g abs)\n",
            found, wanted, (found - wanted) / wanted, rel, abs);
    _fail(file, line);
}

char *test_read_file(const char *path, size_t *length) {
    char full[4096];
    snprintf(full, sizeof full, "%s%s%s", path[0] == '/' ? "" : RAREFY_SOURCE_DIR,
             path[0] == '/' ? "" : "/", path);
    FILE *file = fopen(full, "rb");
    if (!file) {
        fail_msg("cannot open %s", full);
        return NULL;
    }
    size_t n = 0, cap = 1 << 16;
    char *text = malloc(cap);
    assert_non_null(text);
    for (size_t got; (got = fread(text + n, 1, cap - n - 1, file)) > 0;) {
        n += got;
        if (cap - n < 2) {
            cap *= 2;
            text = realloc(text, cap);
            assert_non_null(text);
        }
    }
    fclose(file);
    text[n] = '\0';
    if (length)
        *length = n;
    return text;
}

rfy_system *test_system(const char *json) {
    rfy_problems *problems = rfy_problems_new("test");
    rfy_system *system = NULL;
    if (rfy_system_read(&system, json, strlen(json), NULL, 0, problems) != RFY_OK) {
        rfy_write_problems(stderr, problems);
        fail_msg("the description is not sound");
    }
    rfy_problems_free(problems);
    return system;
}

rfy_result *test_run(const rfy_system *system, const rfy_run_options *options,
                     rfy_status expected) {
    rfy_run_options defaults = RFY_RUN_OPTIONS_INIT;
    rfy_result *result = NULL;
    rfy_status status = rfy_run(&result, system, options ? options : &defaults);
    if (status != expected)
        fail_msg("status %d, expected %d: %s", (int)status, (int)expected,
                 result && result->trouble ? result->trouble : "");
    return result;
}

double test_pressure(const rfy_result *result, size_t i, const char *chamber) {
    for (size_t c = 0; c < result->n_chambers; c++)
        if (strcmp(result->chamber[c], chamber) == 0)
            return result->pressure[i * result->n_chambers + c];
    fail_msg("no chamber %s", chamber);
    return NAN;
}

size_t test_read_csv(const char *path, size_t n_columns, double **rows) {
    char *text = test_read_file(path, NULL);
    size_t n = 0, cap = 64;
    *rows = malloc(cap * n_columns * sizeof **rows);
    bool header = true;
    for (char *line = strtok(text, "\r\n"); line; line = strtok(NULL, "\r\n")) {
        if (line[0] == '#')
            continue;
        if (header) {
            header = false;
            continue;
        }
        if (n == cap) {
            cap *= 2;
            *rows = realloc(*rows, cap * n_columns * sizeof **rows);
        }
        char *at = line;
        for (size_t c = 0; c < n_columns; c++) {
            (*rows)[n * n_columns + c] = strtod(at, &at);
            if (*at == ',')
                at++;
        }
        n++;
    }
    free(text);
    return n;
}
