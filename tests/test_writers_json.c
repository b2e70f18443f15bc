/* JSON and CSV, written from a result made by hand, must read back to the very same numbers; and
 * what else is at the edge: full disks, problems as JSON, lists of times. */
#define _POSIX_C_SOURCE 200809L
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cjson/cJSON.h>
#include "core/problem.h"
#include "support/made_result.h"

/* ---- JSON ---- */

static const cJSON *at(const cJSON *json, const char *path) {
    char part[64];
    while (json && *path) {
        size_t n = strcspn(path, "/");
        snprintf(part, sizeof part, "%.*s", (int)n, path);
        json = part[0] >= '0' && part[0] <= '9' ? cJSON_GetArrayItem(json, atoi(part))
                                                : cJSON_GetObjectItemCaseSensitive(json, part);
        path += n + (path[n] == '/');
    }
    return json;
}

static void assert_same(const cJSON *json, const char *path, double wanted) {
    const cJSON *found = at(json, path);
    if (!found)
        fail_msg("no %s", path);
    else if (!isfinite(wanted) ? !cJSON_IsNull(found)
                               : !cJSON_IsNumber(found) || found->valuedouble != wanted)
        fail_msg("%s: %.17g, wanted %.17g", path, found->valuedouble, wanted);
}

static void assert_word(const cJSON *json, const char *path, const char *wanted) {
    const cJSON *found = at(json, path);
    if (!cJSON_IsString(found))
        fail_msg("no text %s", path);
    else
        assert_string_equal(found->valuestring, wanted);
}

static void json_reads_back_exactly(void **state) {
    (void)state;
    made_result *f = test_made_result();
    char *text = test_written(rfy_write_run_json, &f->result, NULL), path[128];
    cJSON *json = cJSON_Parse(text);
    assert_non_null(json);
    assert_word(json, "title", "Lamp bulb \"K\" on the exhaust bench");
    assert_word(json, "status", "limit broken");
    assert_true(cJSON_IsNull(at(json, "trouble")));
    assert_same(json, "end_s", 28800);
    assert_int_equal(cJSON_GetArraySize(at(json, "series/time_s")), TIMES);
    for (size_t i = 0; i < TIMES; i++) {
        snprintf(path, sizeof path, "series/time_s/%zu", i);
        assert_same(json, path, f->time[i]);
        for (size_t c = 0; c < CHAMBERS; c++) {
            snprintf(path, sizeof path, "series/pressure_Pa/%s/%zu", f->result.chamber[c], i);
            assert_same(json, path, f->pressure[i * CHAMBERS + c]);
            for (size_t g = 0; g < GASES; g++) {
                snprintf(path, sizeof path, "series/partial_Pa/%s/%s/%zu", f->result.chamber[c],
                         f->result.gas[g], i);
                assert_same(json, path, f->partial[(i * CHAMBERS + c) * GASES + g]);
            }
        }
        for (size_t g = 0; g < GAUGES; g++) {
            snprintf(path, sizeof path, "series/gauge_Pa/%s/%zu", f->result.gauge[g], i);
            assert_same(json, path, f->reading[i * GAUGES + g]);
        }
    }
    assert_word(json, "targets/0/name", "bake-out may start");
    assert_same(json, "targets/0/time_s", 9660);
    assert_same(json, "targets/0/time_early_s", 3300);
    assert_same(json, "targets/0/time_late_s", INFINITY);
    assert_true(cJSON_IsFalse(at(json, "targets/0/late_within_run")));
    assert_true(cJSON_IsTrue(at(json, "targets/0/reached")));
    assert_same(json, "targets/0/partial_Pa/H2O", 9.4e-4);
    assert_same(json, "targets/0/gauge_reading_Pa", 0.02);
    assert_true(cJSON_IsFalse(at(json, "targets/1/reached")));
    assert_same(json, "targets/1/time_s", NAN);
    assert_same(json, "targets/1/gauge_reading_Pa", NAN);
    assert_int_equal(cJSON_GetArraySize(at(json, "events")), EVENTS);
    assert_word(json, "events/7/kind", "limit");
    assert_same(json, "events/4/time_s", 247.6);
    assert_same(json, "events/4/pressure_Pa/foreline", f->event_pressure[4][3]);
    assert_same(json, "ultimate/port/total_Pa", f->total[1]);
    assert_same(json, "ultimate/port/partial_Pa/H2O", f->level[1 * GASES + 1]);
    assert_same(json, "ultimate/port/floor_Pa", f->floor[1]);
    assert_same(json, "ultimate_after_s", 28800);
    assert_word(json, "ultimate_sources/2/source", "port leak 1");
    assert_same(json, "ultimate_sources/2/pressure_Pa/port", f->contribution[2][1]);
    assert_word(json, "rising/0/gas", "He");
    assert_true(cJSON_IsTrue(at(json, "limits/0/broken")));
    assert_same(json, "limits/0/peak_Pa", 230);
    assert_same(json, "limits/2/peak_Pa", NAN);
    assert_word(json, "bottleneck/0/parts/0/part", "stem");
    assert_same(json, "bottleneck/0/parts/0/share", 0.8);
    assert_same(json, "balance/H2O/residue", -2e-11);
    assert_same(json, "balance/N2/handled_mol", f->balance[0].handled);
    assert_word(json, "care/0", f->result.care[0]);
    assert_word(json, "assumed/1", f->result.assumed[1]);
    assert_word(json, "cautions/0", f->result.cautions[0]);
    assert_same(json, "solver/steps", 812);
    assert_word(json, "solver/method", "rodas");
    cJSON_Delete(json);
    free(text);

    text = test_written(rfy_write_ultimate_json, &f->result, NULL);
    json = cJSON_Parse(text);
    assert_non_null(json);
    assert_same(json, "ultimate/bulb/total_Pa", f->total[0]);
    assert_same(json, "ultimate_sources/0/throughput_Pa_m3_s", 2.1e-7);
    cJSON_Delete(json);
    free(text);
    free(f);
}

/* ---- CSV ---- */

static void csv_reads_back_exactly(void **state) {
    (void)state;
    made_result *f = test_made_result();
    static const char *const odd_names[CHAMBERS] = {"bulb, small", "the \"port\"", "turbo inlet",
                                                    "foreline",    "vane inlet",   "hose cell 1",
                                                    "trap"};
    f->result.chamber = odd_names;
    rfy_write_options options = {"mbar", false, 0};
    char *text = test_written(rfy_write_run_csv, &f->result, &options);
    const char *header = "time_s,\"bulb, small_mbar\",\"the \"\"port\"\"_mbar\",turbo inlet_mbar,"
                         "foreline_mbar,vane inlet_mbar,trap_mbar,port thermal gauge_mbar,"
                         "hot gauge_mbar,\"bulb, small N2_mbar\",";
    assert_memory_equal(text, header, strlen(header));
    const char *line = strchr(text, '\n') + 1;
    for (size_t i = 0; i < TIMES; i++) {
        char *end;
        assert_true(strtod(line, &end) == f->time[i]);
        assert_true(strtod(end + 1, &end) == f->pressure[i * CHAMBERS] / 100);
        size_t commas = 0;
        for (const char *c = line; *c != '\n'; c++)
            commas += *c == ',';
        assert_int_equal(commas, 6 + GAUGES + 6 * GASES); /* six chambers of the user's */
        line = strchr(line, '\n') + 1;
    }
    assert_int_equal(*line, '\0');
    assert_null(strstr(text, "null"));
    assert_non_null(strstr(text, ",,")); /* the hot gauge while it is off */
    free(text);
    free(f);
}

/* ---- the rest ---- */

static void a_full_disk_is_reported(void **state) {
    (void)state;
    made_result *f = test_made_result();
    test_writer *const writers[] = {rfy_write_run_text, rfy_write_run_json, rfy_write_run_csv,
                                    rfy_write_ultimate_text, rfy_write_ultimate_json};
    for (size_t i = 0; i < sizeof writers / sizeof writers[0]; i++) {
        FILE *full = fopen("/dev/full", "w");
        if (!full)
            skip(); /* no such device on this system */
        assert_int_equal(writers[i](full, &f->result, NULL), RFY_IO_FAILED);
        fclose(full);
    }
    free(f);
}

static void check_lists_problems_without_a_system(void **state) {
    (void)state;
    rfy_problems *problems = rfy_problems_new("bench.json");
    rfy_place place = {3, 14, "foreline hose/1/bore"};
    rfy_problem_add(problems, RFY_ERROR, &place, "a length such as \"25 mm\"",
                    "did you mean \"mm\"?", "unit \"%s\" is not known", "mn");
    FILE *file = tmpfile();
    assert_non_null(file);
    assert_int_equal(rfy_write_check_json(file, NULL, problems), RFY_OK);
    char text[4096] = "";
    rewind(file);
    assert_true(fread(text, 1, sizeof text - 1, file) > 0);
    fclose(file);
    cJSON *json = cJSON_Parse(text);
    assert_non_null(json);
    assert_true(cJSON_IsFalse(at(json, "sound")));
    assert_same(json, "errors", 1);
    assert_word(json, "problems/0/path", "foreline hose/1/bore");
    assert_same(json, "problems/0/line", 3);
    assert_same(json, "problems/0/column", 14);
    assert_word(json, "problems/0/what", "unit \"mn\" is not known");
    assert_word(json, "problems/0/hint", "did you mean \"mm\"?");
    cJSON_Delete(json);
    rfy_problems_free(problems);
}

static void times_are_read_from_a_list(void **state) {
    (void)state;
    char message[256];
    double *times = NULL;
    size_t n = 0;
    assert_int_equal(rfy_read_times("10 s, 100 s,1 h", &times, &n, message), RFY_OK);
    assert_int_equal(n, 3);
    assert_true(times[0] == 10 && times[1] == 100 && times[2] == 3600);
    free(times);
    static const struct {
        const char *text, *says;
    } wrong[] = {{"", "missing"},      {"1 s,", "missing"},   {"10 s,,1 h", "missing"},
                 {"10 s,5 s", "rise"}, {"10 s,10 s", "rise"}, {"-1 s", "before"},
                 {"10", ""},           {"10 mm", ""},         {"ten s", ""}};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        memset(message, 0, sizeof message);
        assert_int_equal(rfy_read_times(wrong[i].text, &times, &n, message), RFY_USAGE);
        assert_null(times);
        assert_true(message[0] != '\0');
        assert_non_null(strstr(message, wrong[i].says));
    }
    assert_true(rfy_is_pressure_unit("Pa"));
    assert_true(rfy_is_pressure_unit("mbar"));
    assert_true(rfy_is_pressure_unit("Torr"));
    assert_false(rfy_is_pressure_unit("mm"));
    assert_false(rfy_is_pressure_unit(""));
    assert_false(rfy_is_pressure_unit("mbar L/s"));
}

/* A run that came to nothing (exit code 1) still gives JSON that a strict reader takes, whatever is
 * not known. That reader is Python's: cJSON takes more than the standard allows. */
static void a_failed_run_is_json(void **state) {
    (void)state;
    static const rfy_status statuses[] = {RFY_OK, RFY_RUN_FAILED, RFY_INTERRUPTED};
    rfy_status (*const writers[])(FILE *, const rfy_result *, const rfy_write_options *) = {
        rfy_write_run_json, rfy_write_ultimate_json};
    for (int bare = 0; bare < 2; bare++)
        for (size_t k = 0; k < sizeof statuses / sizeof *statuses; k++)
            for (size_t w = 0; w < 2; w++) {
                made_result *f = test_made_result();
                rfy_result *r = &f->result;
                r->status = statuses[k];
                r->trouble = k ? "the step size became too small\t\"here\" \\ \x01" : NULL;
                f->partial[0] = (double)NAN;
                f->pressure[0] = (double)INFINITY;
                if (k)
                    r->end = (double)NAN;
                if (bare) {
                    r->n_targets = r->n_limits = r->n_bottlenecks = r->n_care = r->n_assumed = 0;
                    r->n_cautions = r->n_times = r->n_events = 0;
                    r->balance = NULL;
                    r->ultimate = (rfy_ultimate){0};
                    r->title = NULL;
                }
                char *text = test_written(writers[w], r, NULL);
                FILE *reader = popen("python3 -c 'import json, sys\n"
                                     "def no(word): raise ValueError(word)\n"
                                     "d = json.load(sys.stdin, parse_constant=no)\n"
                                     "assert isinstance(d, dict)'",
                                     "w");
                assert_non_null(reader);
                assert_int_equal(fwrite(text, 1, strlen(text), reader), strlen(text));
                if (pclose(reader) != 0)
                    fail_msg("writer %zu, status %d, bare %d: not JSON:\n%s", w, (int)statuses[k],
                             bare, text);
                cJSON *json = cJSON_Parse(text);
                if (w == 0) {
                    assert_word(json, "status",
                                ((const char *[]){"done", "not finished", "interrupted"})[k]);
                    if (k)
                        assert_word(json, "trouble", r->trouble);
                }
                cJSON_Delete(json);
                free(text);
                free(f);
            }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(json_reads_back_exactly),
        cmocka_unit_test(a_failed_run_is_json),
        cmocka_unit_test(csv_reads_back_exactly),
        cmocka_unit_test(a_full_disk_is_reported),
        cmocka_unit_test(check_lists_problems_without_a_system),
        cmocka_unit_test(times_are_read_from_a_list),
    };
    return cmocka_run_group_tests_name("writers: JSON and CSV", tests, NULL, NULL);
}
