/* Every file in examples/ runs, balances, and gives the answers stored in tests/examples/. The
 * stored ones were computed at a tolerance of 1e-8, the runs use the default one, so the comparison
 * also says what the default is worth.
 *
 * `test_examples --update` rewrites the stored answers (tests/examples/update.sh does it): read the
 * difference by eye. */
#define _POSIX_C_SOURCE 200809L
#include <glob.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cjson/cJSON.h>
#include <gsl/gsl_errno.h>
#include "support/sketch.h"

static const double close_enough = 1e-3;
/* The highest pressure while a limit applied is looked for at a few points of each step. */
static const double close_peak = 3e-2;

static void stored_path(const char *example, char *path, size_t size) {
    const char *slash = strrchr(example, '/');
    snprintf(path, size, RAREFY_SOURCE_DIR "/tests/examples/%s", slash ? slash + 1 : example);
}

static rfy_result *run_example(const char *path, double tolerance, rfy_system **system) {
    char *text = test_read_file(path, NULL);
    *system = test_system(text);
    free(text);
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.tolerance = tolerance;
    rfy_result *result = NULL;
    rfy_run(&result, *system, &options);
    assert_non_null(result);
    return result;
}

/* ---- writing ---- */

/* Six digits: more would change with every touch of the solver. */
static double rounded(double x) {
    char text[32];
    snprintf(text, sizeof text, "%.5e", x);
    return strtod(text, NULL);
}

static void add_number(cJSON *object, const char *key, double x) {
    if (isfinite(x))
        cJSON_AddNumberToObject(object, key, rounded(x));
    else
        cJSON_AddNullToObject(object, key);
}

static cJSON *answers(const rfy_result *r) {
    cJSON *out = cJSON_CreateObject(), *list;
    cJSON_AddNumberToObject(out, "status", (double)r->status);
    add_number(out, "end_s", r->end);
    list = cJSON_AddArrayToObject(out, "targets");
    for (size_t i = 0; i < r->n_targets; i++) {
        cJSON *t = cJSON_CreateObject();
        cJSON_AddStringToObject(t, "name", r->target[i].name);
        add_number(t, "time_s", r->target[i].time);
        cJSON_AddItemToArray(list, t);
    }
    list = cJSON_AddArrayToObject(out, "limits");
    for (size_t i = 0; i < r->n_limits; i++) {
        cJSON *l = cJSON_CreateObject();
        cJSON_AddStringToObject(l, "name", r->limit[i].name);
        add_number(l, "broken_s", r->limit[i].time);
        add_number(l, "peak_Pa", r->limit[i].peak);
        cJSON_AddItemToArray(list, l);
    }
    list = cJSON_AddArrayToObject(out, "actions");
    for (size_t i = 0; i < r->n_events; i++)
        if (r->event[i].kind == RFY_EVENT_ACTION) {
            cJSON *e = cJSON_CreateObject();
            cJSON_AddStringToObject(e, "what", r->event[i].what);
            add_number(e, "time_s", r->event[i].time);
            cJSON_AddItemToArray(list, e);
        }
    cJSON *ultimate = cJSON_AddObjectToObject(out, "ultimate_Pa"),
          *end = cJSON_AddObjectToObject(out, "end_Pa");
    for (size_t c = 0; c < r->n_chambers; c++) {
        if (r->internal[c])
            continue;
        if (r->ultimate.found)
            add_number(ultimate, r->chamber[c], r->ultimate.total[c]);
        add_number(end, r->chamber[c], r->pressure[(r->n_times - 1) * r->n_chambers + c]);
    }
    return out;
}

/* ---- comparing ---- */

static void compare(const cJSON *found, const cJSON *stored, const char *where) {
    if (cJSON_IsNumber(stored) && cJSON_IsNumber(found)) {
        bool peak = stored->string && strcmp(stored->string, "peak_Pa") == 0;
        assert_close(found->valuedouble, stored->valuedouble, peak ? close_peak : close_enough,
                     1e-10, "%s", where);
        return;
    }
    if (cJSON_IsString(stored) && cJSON_IsString(found)) {
        assert_string_equal(found->valuestring, stored->valuestring);
        return;
    }
    if ((found->type & 0xff) != (stored->type & 0xff) ||
        cJSON_GetArraySize(found) != cJSON_GetArraySize(stored))
        fail_msg("%s: not the same kind of answer, or not as many", where);
    const cJSON *f = found->child;
    for (const cJSON *s = stored->child; s; s = s->next, f = f->next) {
        char inner[512];
        const cJSON *name = cJSON_GetObjectItemCaseSensitive(s, "name");
        snprintf(inner, sizeof inner, "%s/%s", where,
                 s->string ? s->string
                 : name    ? name->valuestring
                           : "");
        if (s->string)
            assert_string_equal(f->string, s->string);
        compare(f, s, inner);
    }
}

/* Everything that can be written is, without a "nan" or an "inf". */
static void check_writers(const rfy_result *result) {
    rfy_status (*const writers[])(FILE *, const rfy_result *, const rfy_write_options *) = {
        rfy_write_run_text, rfy_write_run_json, rfy_write_run_csv, rfy_write_ultimate_text,
        rfy_write_ultimate_json};
    for (size_t i = 0; i < sizeof writers / sizeof *writers; i++) {
        char *text = NULL;
        size_t n = 0;
        FILE *file = open_memstream(&text, &n);
        assert_non_null(file);
        rfy_write_options options = RFY_WRITE_OPTIONS_INIT;
        assert_int_equal(writers[i](file, result, &options), RFY_OK);
        fclose(file);
        assert_true(n > 50);
        const char *const words[] = {" nan", "-nan", ":nan", ",nan", " inf,", ":inf", "-inf"};
        for (size_t k = 0; k < sizeof words / sizeof *words; k++)
            if (strstr(text, words[k]))
                fail_msg("writer %zu writes \"%s\"", i, words[k]);
        if (i == 1 || i == 4) {
            cJSON *parsed = cJSON_Parse(text);
            assert_non_null(parsed);
            cJSON_Delete(parsed);
        }
        free(text);
    }
}

static void example(void **state) {
    const char *path = *state;
    rfy_system *system;
    rfy_result *result = run_example(path, 0, &system);
    for (size_t g = 0; g < result->n_gases; g++)
        assert_close(result->balance[g].residue, 0, 0, 1e-8, "balance of %s", result->gas[g]);
    check_writers(result);
    char file[4096];
    stored_path(path, file, sizeof file);
    FILE *there = fopen(file, "rb");
    if (!there)
        fail_msg("no stored answer for %s: see tests/examples/update.sh", path);
    fclose(there);
    char *text = test_read_file(file, NULL);
    cJSON *stored = cJSON_Parse(text), *found = answers(result);
    free(text);
    assert_non_null(stored);
    compare(found, stored, strrchr(path, '/') + 1);
    cJSON_Delete(found);
    cJSON_Delete(stored);
    rfy_result_free(result);
    rfy_system_free(system);
}

static int update(const glob_t *files) {
    for (size_t i = 0; i < files->gl_pathc; i++) {
        rfy_system *system;
        rfy_result *result = run_example(files->gl_pathv[i], 1e-8, &system);
        cJSON *out = answers(result);
        char *text = cJSON_Print(out), path[4096];
        stored_path(files->gl_pathv[i], path, sizeof path);
        FILE *file = fopen(path, "wb");
        if (!file || fprintf(file, "%s\n", text) < 0 || fclose(file) != 0)
            return 1;
        free(text);
        cJSON_Delete(out);
        rfy_result_free(result);
        rfy_system_free(system);
    }
    return 0;
}

int main(int argc, char **argv) {
    gsl_set_error_handler_off();
    glob_t files;
    if (glob(RAREFY_SOURCE_DIR "/examples/*.json", 0, NULL, &files) != 0)
        return 1;
    if (argc > 1 && strcmp(argv[1], "--update") == 0)
        return update(&files);
    struct CMUnitTest *tests = calloc(files.gl_pathc, sizeof *tests);
    for (size_t i = 0; i < files.gl_pathc; i++)
        tests[i] = (struct CMUnitTest){.name = strrchr(files.gl_pathv[i], '/') + 1,
                                       .test_func = example,
                                       .initial_state = files.gl_pathv[i]};
    int failed = _cmocka_run_group_tests("examples", tests, files.gl_pathc, NULL, NULL);
    free(tests);
    globfree(&files);
    return failed;
}
