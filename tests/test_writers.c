/* The text for people, written from a result made by hand: what a reader must find in it. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cjson/cJSON.h>
#include "io/write_common.h"
#include "support/made_result.h"

/* The text with every run of blanks and line ends as one blank, so that wrapping does not matter.
 */
static char *flowing(const char *text) {
    char *flat = calloc(strlen(text) + 1, 1), *o = flat;
    assert_non_null(flat);
    for (const char *c = text; *c; c++)
        if ((*c != ' ' && *c != '\n') || (o > flat && o[-1] != ' '))
            *o++ = *c == '\n' ? ' ' : *c;
    return flat;
}

static void assert_says(const char *text, const char *phrase) {
    char *flat = flowing(text);
    bool said = strstr(flat, phrase) != NULL;
    if (!said)
        fprintf(stderr, "%s\n", text);
    free(flat);
    if (!said)
        fail_msg("the text does not say: %s", phrase);
}

static void assert_silent(const char *text, const char *phrase) {
    if (strstr(text, phrase)) {
        fprintf(stderr, "%s\n", text);
        fail_msg("the text must not say: %s", phrase);
    }
}

static size_t widest_line(const char *text) {
    size_t widest = 0;
    for (const char *c = text; *c; c++) {
        size_t n = strcspn(c, "\n");
        if (n > widest)
            widest = n;
        c += n;
        if (!*c)
            break;
    }
    return widest;
}

/* ---- numbers ---- */

static void assert_number(double value, int digits, bool tidy, const char *wanted) {
    assert_string_equal(rfy_show_number(value, digits, tidy).text, wanted);
}

static void numbers_are_for_people(void **state) {
    (void)state;
    assert_number(1e-3, 3, true, "1e-3");
    assert_number(1e-3, 3, false, "1.00e-3");
    assert_number(0.01234, 2, true, "0.012");
    assert_number(0.5, 3, false, "0.500");
    assert_number(9.999, 2, true, "10");
    assert_number(101325, 3, false, "1.01e5");
    assert_number(1013, 2, false, "1000");
    assert_number(-12.34, 3, false, "-12.3");
    assert_number(4.56e-10, 3, false, "4.56e-10");
    assert_number(0, 3, false, "0");
    assert_number(NAN, 3, false, "?");
}

static void assert_time(double seconds, const char *wanted) {
    char text[96];
    snprintf(text, sizeof text, "%s", rfy_show_time(seconds).text);
    for (char *c = text; *c; c++)
        if (*c == RFY_GLUE[0])
            *c = ' ';
    assert_string_equal(text, wanted);
}

static void times_are_for_people(void **state) {
    (void)state;
    assert_time(0, "0 s");
    assert_time(0.0042, "4.2 ms");
    assert_time(0.42, "0.42 s");
    assert_time(9.96, "10 s");
    assert_time(59.4, "59 s");
    assert_time(59.6, "1 min");
    assert_time(125, "2 min 05 s");
    assert_time(3599.7, "1 h");
    assert_time(11520, "3 h 12 min");
    assert_time(86399, "1 d");
    assert_time(2 * 86400 + 3 * 3600, "2 d 03 h");
    assert_time(10 * 365.25 * 86400, "10 years");
}

/* ---- text ---- */

static void text_answers_first_and_warns(void **state) {
    (void)state;
    made_result *f = test_made_result();
    char *text = test_written(rfy_write_run_text, &f->result, NULL);
    assert_says(text, "bulb falls below 1e-3 Pa (\"bake-out may start\") after 2 h 41 min.");
    assert_says(text, "may be after 55 min, or not within the 8 h of the run");
    assert_says(text, "port thermal gauge, then shows 0.02 Pa");
    /* the second target: at the end 3.7e-4 Pa, levels at 3.1e-4, floor 2.2e-6 below the wanted 1e-5
     */
    assert_says(text, "bulb does NOT fall below 1e-5 Pa (\"tip-off\") within the 8 h of the run");
    assert_says(text, "at the end it has 3.7e-4 Pa");
    assert_says(text, "It levels at 3.1e-4 Pa");
    assert_says(text, "with dry walls it would reach 2.2e-6 Pa");
    assert_says(text, "LIMIT BROKEN: turbo overload, at 5 min 11 s");
    assert_says(text, "effective speed 0.82 L/s (N2) against a gas load of 8.1e-7 Pa m3/s");
    assert_says(text, "80 % stem");
    /* 1 / (1 - 0.8/2) = 1.667: 0.82 L/s becomes 1.4 L/s and 9660 s become 5796 s */
    assert_says(text,
                "stem, twice as open or fast: bulb pulls 1.4 L/s instead of 0.82 L/s; 1e-3 Pa "
                "after about 1 h 39 min instead of 2 h 41 min");
    assert_says(text,
                "half the H2O from bulb wall 1 (borosilicate glass): bulb levels at 2.2e-4 Pa "
                "instead of 3.1e-4 Pa");
    assert_says(text, "do: start turbo");
    assert_says(text, "foreline hose: flow becomes molecular");
    assert_says(text, "H2O 94 % (9.4e-4 Pa), N2 5 % (5e-5 Pa), He 1 %");
    assert_says(text, "61 % H2O from bulb wall 1 (borosilicate glass)");
    assert_says(text, "its peak was 230 Pa at 5 min 10 s, 23 times what is allowed");
    assert_says(text, "125 Pa at 5 min 22 s; allowed 500 Pa: a factor of 4 in hand");
    assert_says(text, "hot gauge in air: never put to the test");
    assert_says(text, "He in bulb is removed by nothing");
    assert_says(text, f->result.care[0]);
    assert_says(text, f->result.assumed[1]);
    assert_says(text, f->result.cautions[0]);
    assert_says(text, "estimate");
    assert_says(text, "Gas balance closes to 2e-11 of the gas handled");
    assert_says(text, "812 steps, 14 repeated");
    assert_silent(text, "hose cell 1");
    assert_silent(text, "nan");
    assert_silent(text, "inf ");
    assert_silent(text, "\033");
    free(text);
    free(f);
}

static void text_keeps_to_its_width(void **state) {
    (void)state;
    made_result *f = test_made_result();
    static const int widths[] = {60, 80, 100};
    for (size_t i = 0; i < 3; i++) {
        rfy_write_options options = {NULL, false, widths[i]};
        char *text = test_written(rfy_write_run_text, &f->result, &options);
        if (widest_line(text) > (size_t)widths[i])
            fail_msg("%zu columns where %d are allowed:\n%s", widest_line(text), widths[i], text);
        assert_null(strstr(text, " \n"));
        free(text);
        text = test_written(rfy_write_ultimate_text, &f->result, &options);
        assert_null(strstr(text, " \n"));
        assert_true(widest_line(text) <= (size_t)widths[i]);
        free(text);
    }
    free(f);
}

static void text_takes_the_unit_asked_for(void **state) {
    (void)state;
    made_result *f = test_made_result();
    rfy_write_options options = {"mbar", true, 0};
    char *text = test_written(rfy_write_run_text, &f->result, &options);
    assert_says(text, "falls below 1e-5 mbar");
    assert_says(text, "8.1e-6 mbar L/s"); /* 1 Pa m3/s is 10 mbar L/s */
    assert_says(text, "pressures in mbar");
    assert_says(text, "\033[1m");
    free(text);
    options.pressure_unit = "mm";
    FILE *file = tmpfile();
    assert_non_null(file);
    assert_int_equal(rfy_write_run_text(file, &f->result, &options), RFY_USAGE);
    assert_int_equal(rfy_write_run_csv(file, &f->result, &options), RFY_USAGE);
    assert_int_equal(ftell(file), 0);
    fclose(file);
    free(f);
}

static void text_leaves_out_what_is_unknown(void **state) {
    (void)state;
    made_result *f = test_made_result();
    rfy_result *r = &f->result;
    r->status = RFY_RUN_FAILED;
    r->trouble = "the step became too small at the stem";
    r->end = 720;
    r->n_targets = r->n_limits = r->n_bottlenecks = r->n_care = r->n_assumed = 0;
    r->n_cautions = 0;
    r->n_times = 3;
    r->n_events = 1;
    r->balance = NULL;
    r->ultimate = (rfy_ultimate){0};
    r->title = NULL;
    char *text = test_written(rfy_write_run_text, r, NULL);
    assert_says(text,
                "THE RUN COULD NOT BE FINISHED; it came to 12 min. the step became too small");
    assert_says(text, "No target is given");
    assert_silent(text, "LIMITS");
    assert_silent(text, "WHAT DECIDES");
    assert_silent(text, "CARE");
    assert_silent(text, "balance");
    assert_silent(text, "?");
    free(text);
    text = test_written(rfy_write_ultimate_text, r, NULL);
    assert_says(text, "No steady state was found");
    free(text);
    text = test_written(rfy_write_run_json, r, NULL);
    cJSON *json = cJSON_Parse(text);
    assert_non_null(json);
    assert_true(cJSON_IsNull(cJSON_GetObjectItemCaseSensitive(json, "ultimate")));
    cJSON_Delete(json);
    free(text);
    free(f);
}

static void each_answer_has_its_sentence(void **state) {
    (void)state;
    made_result *f = test_made_result();
    f->result.n_targets = 1;
    rfy_target_result *t = &f->target[0];
    t->time_late = 9700;
    t->time_early = 9640;
    char *text = test_written(rfy_write_run_text, &f->result, NULL);
    assert_says(text, "What the walls give off hardly changes that.");
    free(text);
    t->time_late = 40000;
    text = test_written(rfy_write_run_text, &f->result, NULL);
    assert_says(text, "between 2 h 41 min and 11 h 07 min");
    free(text);
    t->time = 0;
    text = test_written(rfy_write_run_text, &f->result, NULL);
    assert_says(text, "bulb is below 1e-3 Pa (\"bake-out may start\") from the start");
    free(text);
    t->reached = false;
    t->time = t->time_late = t->time_early = NAN;
    text = test_written(rfy_write_run_text, &f->result, NULL);
    assert_says(text, "It is still falling, towards 3.1e-4 Pa: it only needs longer.");
    free(text);
    t->pressure = 1e-6; /* below the floor of 2.2e-6 Pa */
    text = test_written(rfy_write_run_text, &f->result, NULL);
    assert_says(text,
                "even with walls that give off nothing at 2.2e-6 Pa: neither waiting nor baking");
    free(text);
    f->limit[1].peak = 600;
    f->limit[1].duration = 5;
    text = test_written(rfy_write_run_text, &f->result, NULL);
    assert_says(text, "foreline too high: kept, but only by its time");
    free(text);
    free(f);
}

static void a_long_procedure_is_cut_in_the_middle(void **state) {
    (void)state;
    enum { MANY = 500 };
    made_result *f = test_made_result();
    rfy_event *events = calloc(MANY, sizeof *events);
    assert_non_null(events);
    char what[MANY][32];
    for (size_t i = 0; i < MANY; i++) {
        snprintf(what[i], sizeof what[i], "turn number %zu.", i);
        events[i] = (rfy_event){(double)i + 1, i == 250 ? RFY_EVENT_LIMIT : RFY_EVENT_ACTION,
                                what[i], f->event_pressure[0]};
    }
    events[2].kind = RFY_EVENT_REGIME;
    f->result.event = events;
    f->result.n_events = MANY;
    char *text = test_written(rfy_write_run_text, &f->result, NULL);
    assert_says(text, "do: turn number 0.");
    assert_says(text, "do: turn number 499.");
    assert_says(text, "BROKEN: turn number 250.");
    assert_silent(text, "number 249.");
    assert_silent(text, "number 2.");
    /* 500 less one limit and one regime are 498 others; 40 + 20 of them stay */
    assert_says(text, "438 events in the middle are left out");
    assert_says(text, "1 change of flow regime is left out");
    free(text);
    free(events);
    free(f);
}

static void hostile_names_stay_harmless(void **state) {
    (void)state;
    made_result *f = test_made_result();
    f->result.title = "bell \a, escape \033[31m, quote \" backslash \\, broken \xff\xc3 utf8, é";
    char *text = test_written(rfy_write_run_text, &f->result, NULL);
    for (const char *c = text; *c; c++)
        assert_true(*c == '\n' || (unsigned char)*c >= 0x20);
    free(text);
    text = test_written(rfy_write_run_json, &f->result, NULL);
    cJSON *json = cJSON_Parse(text);
    assert_non_null(json);
    assert_string_equal(cJSON_GetObjectItemCaseSensitive(json, "title")->valuestring,
                        "bell \a, escape \033[31m, quote \" backslash \\, broken \xef\xbf\xbd"
                        "\xef\xbf\xbd utf8, é");
    cJSON_Delete(json);
    free(text);
    free(f);
}

static void ultimate_text_names_sources(void **state) {
    (void)state;
    made_result *f = test_made_result();
    char *text = test_written(rfy_write_ultimate_text, &f->result, NULL);
    assert_says(text, "bulb 3.10e-4 2.2e-6 H2O 95 %, N2 4 %, He 1 %");
    assert_says(text, "61 % 61 % 61 % 61 % 61 % H2O from bulb wall 1 (borosilicate glass): 2.1e-7 "
                      "Pa m3/s");
    assert_says(text, "walls as they are after 8 h");
    assert_silent(text, "hose cell 1");
    free(text);
    free(f);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_are_for_people),
        cmocka_unit_test(times_are_for_people),
        cmocka_unit_test(text_answers_first_and_warns),
        cmocka_unit_test(text_keeps_to_its_width),
        cmocka_unit_test(text_takes_the_unit_asked_for),
        cmocka_unit_test(text_leaves_out_what_is_unknown),
        cmocka_unit_test(each_answer_has_its_sentence),
        cmocka_unit_test(a_long_procedure_is_cut_in_the_middle),
        cmocka_unit_test(hostile_names_stay_harmless),
        cmocka_unit_test(ultimate_text_names_sources),
    };
    return cmocka_run_group_tests_name("writers: text", tests, NULL, NULL);
}
