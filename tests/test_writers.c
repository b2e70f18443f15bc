/* The writers, fed with a result made by hand: what a person must find in the text, and JSON and
 * CSV that read back to the very same numbers. All values are invented for this test. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cjson/cJSON.h>
#include "core/problem.h"
#include "io/write_common.h"
#include "support/support.h"

enum { CHAMBERS = 7, GASES = 3, TIMES = 120, GAUGES = 2, EVENTS = 11 };

/* One bench, complete: bulb, port, turbo inlet, foreline, vane inlet, a chamber inside a line, a
 * trap. */
typedef struct fixture {
    rfy_result result;
    double time[TIMES], pressure[TIMES * CHAMBERS], partial[TIMES * CHAMBERS * GASES];
    double reading[TIMES * GAUGES], event_pressure[EVENTS][CHAMBERS];
    rfy_event event[EVENTS];
    double at_target[GASES], at_end[GASES], total[CHAMBERS], floor[CHAMBERS],
        level[CHAMBERS * GASES], contribution[4][CHAMBERS];
    rfy_target_result target[2];
    rfy_limit_result limit[3];
    rfy_share share[4];
    rfy_rising rising[1];
    rfy_resistance resistance[4];
    rfy_bottleneck bottleneck[1];
    rfy_balance_row balance[GASES];
} fixture;

static const char *const chamber_names[CHAMBERS] = {
    "bulb", "port", "turbo inlet", "foreline", "vane inlet", "hose cell 1", "cold trap vessel"};
static const bool internal[CHAMBERS] = {[5] = true};
static const char *const gas_names[GASES] = {"N2", "H2O", "He"};
static const char *const gauge_names[GAUGES] = {"port thermal gauge", "hot gauge"};
static const char *const assumed[] = {
    "port: the walls last left atmosphere at the start of the run",
    "vane: pumps every gas at the same speed"};
static const char *const care[] = {
    "turbo inlet: the hot gauge is switched on at 4.1e-2 Pa, close to "
    "the top of its range"};
static const char *const cautions[] = {
    "Evacuated glass can implode: shield it and wear a face guard."};

static double pressure_at(size_t c, double t) {
    double start = c == 3 || c == 4 ? 20 : 101325;
    return start * exp(-t / (30 + 10 * (double)c)) + 4e-4 * (1 + (double)c) +
           0.3 * (double)(c >= 3) + 3 / (1 + t);
}

static fixture *make(void) {
    fixture *f = calloc(1, sizeof *f);
    assert_non_null(f);
    rfy_result *r = &f->result;
    for (size_t i = 0; i < TIMES; i++) {
        f->time[i] = i == 0 ? 0 : pow(10, -1 + 5.4594 * (double)(i - 1) / (TIMES - 2));
        for (size_t c = 0; c < CHAMBERS; c++) {
            double p = pressure_at(c, f->time[i]);
            f->pressure[i * CHAMBERS + c] = p;
            for (size_t g = 0; g < GASES; g++)
                f->partial[(i * CHAMBERS + c) * GASES + g] = p * (g == 0   ? 1. / 3
                                                                  : g == 1 ? 0.6
                                                                           : 1. / 15);
        }
        f->reading[i * GAUGES] = f->pressure[i * CHAMBERS + 1] * 0.9;
        f->reading[i * GAUGES + 1] = i < 60 ? (double)NAN : f->pressure[i * CHAMBERS + 2];
    }
    f->time[TIMES - 1] = 28800;
    static const struct {
        double time;
        rfy_event_kind kind;
        const char *what;
    } events[EVENTS] = {{0, RFY_EVENT_START, "the run begins"},
                        {0.4, RFY_EVENT_REGIME, "stem: flow is no longer choked"},
                        {190, RFY_EVENT_ACTION, "start turbo"},
                        {190, RFY_EVENT_ACTION, "close roughing valve"},
                        {247.6, RFY_EVENT_REGIME, "foreline hose: flow becomes molecular"},
                        {310, RFY_EVENT_MACHINE, "turbo is at speed"},
                        {310, RFY_EVENT_ACTION,
                         "open high-vacuum valve, close the valve to the roughing line and wait"},
                        {311, RFY_EVENT_LIMIT, "turbo overload: turbo inlet above 10 Pa for 1 s"},
                        {1500, RFY_EVENT_ACTION, "switch on hot gauge"},
                        {9660, RFY_EVENT_TARGET, "bake-out may start: bulb below 1e-3 Pa"},
                        {28800, RFY_EVENT_END, "the run ends"}};
    for (size_t i = 0; i < EVENTS; i++) {
        for (size_t c = 0; c < CHAMBERS; c++)
            f->event_pressure[i][c] = pressure_at(c, events[i].time);
        f->event[i] =
            (rfy_event){events[i].time, events[i].kind, events[i].what, f->event_pressure[i]};
    }
    memcpy(f->at_target, (double[]){5e-5, 9.4e-4, 1e-5}, sizeof f->at_target);
    memcpy(f->at_end, (double[]){1e-5, 3.5e-4, 1e-5}, sizeof f->at_end);
    f->target[0] = (rfy_target_result){"bake-out may start",
                                       "bulb",
                                       1e-3,
                                       true,
                                       9660,
                                       3300,
                                       INFINITY,
                                       f->at_target,
                                       8.2e-4,
                                       "N2",
                                       8.1e-7,
                                       "port thermal gauge",
                                       0.02};
    f->target[1] = (rfy_target_result){"tip-off", "bulb", 1e-5, false,  NAN,         NAN, NAN,
                                       f->at_end, 8.2e-4, "N2", 2.9e-7, "hot gauge", NAN};
    f->limit[0] = (rfy_limit_result){"turbo overload", "turbo inlet", true, 311, 230, 310.2, 10, 1};
    f->limit[1] = (rfy_limit_result){"foreline too high", "foreline", false, NAN, 125, 322, 500, 0};
    f->limit[2] =
        (rfy_limit_result){"hot gauge in air", "turbo inlet", false, NAN, NAN, NAN, 0.1, 0};
    for (size_t c = 0; c < CHAMBERS; c++) {
        f->total[c] = 3.1e-4 * (1 + (double)c);
        f->floor[c] = 2.2e-6 * (1 + (double)c);
        f->level[c * GASES] = f->total[c] * 0.04;
        f->level[c * GASES + 1] = f->total[c] * 0.95;
        f->level[c * GASES + 2] = f->total[c] * 0.01;
        f->contribution[0][c] = f->total[c] * 0.61;
        f->contribution[1][c] = f->total[c] * 0.34;
        f->contribution[2][c] = f->total[c] * 0.04;
        f->contribution[3][c] = f->total[c] * 0.01;
    }
    f->share[0] = (rfy_share){"bulb wall 1 (borosilicate glass)", 1, 2.1e-7, f->contribution[0]};
    f->share[1] = (rfy_share){"port wall 1 (stainless steel)", 1, 4e-7, f->contribution[1]};
    f->share[2] = (rfy_share){"port leak 1", 0, 1e-9, f->contribution[2]};
    f->share[3] = (rfy_share){"port seal 1 (FKM), permeation", 2, 2e-10, f->contribution[3]};
    f->rising[0] = (rfy_rising){0, 2, 1e-12};
    f->resistance[0] = (rfy_resistance){"stem", 0.8};
    f->resistance[1] = (rfy_resistance){"turbo", 0.15};
    f->resistance[2] = (rfy_resistance){"high-vacuum line / valve", 0.047};
    f->resistance[3] = (rfy_resistance){"foreline hose", 0.003};
    f->bottleneck[0] =
        (rfy_bottleneck){"bake-out may start", "bulb", "N2", 9660, 8.2e-4, 4, f->resistance};
    for (size_t g = 0; g < GASES; g++)
        f->balance[g] = (rfy_balance_row){
            0.02, 1e-6, 3e-8, 0.02, 1e-9, 0.02 + 1.03e-6, g == 1 ? -2e-11 : 4e-13};
    *r = (rfy_result){.title = "Lamp bulb \"K\" on the exhaust bench",
                      .status = RFY_LIMIT_BROKEN,
                      .end = 28800,
                      .n_chambers = CHAMBERS,
                      .n_gases = GASES,
                      .n_times = TIMES,
                      .chamber = chamber_names,
                      .internal = internal,
                      .gas = gas_names,
                      .time = f->time,
                      .pressure = f->pressure,
                      .partial = f->partial,
                      .n_gauges = GAUGES,
                      .gauge = gauge_names,
                      .gauge_reading = f->reading,
                      .n_targets = 2,
                      .n_limits = 3,
                      .n_events = EVENTS,
                      .n_bottlenecks = 1,
                      .target = f->target,
                      .limit = f->limit,
                      .event = f->event,
                      .bottleneck = f->bottleneck,
                      .balance = f->balance,
                      .n_assumed = 2,
                      .n_cautions = 1,
                      .n_care = 1,
                      .assumed = assumed,
                      .care = care,
                      .cautions = cautions};
    r->ultimate =
        (rfy_ultimate){true, 28800, f->total, f->level, f->floor, 4, f->share, 1, f->rising, 7};
    r->solver = (rfy_solver_stats){"rodas", 1e-5, 9, 3, 41, 812, 14, 5000, 826, 9};
    return f;
}

typedef rfy_status writer(FILE *, const rfy_result *, const rfy_write_options *);

/* What a writer writes, malloc'ed. */
static char *written_by(writer *write, const rfy_result *r, const rfy_write_options *options) {
    FILE *file = tmpfile();
    assert_non_null(file);
    assert_int_equal(write(file, r, options), RFY_OK);
    long size = ftell(file);
    rewind(file);
    char *text = calloc((size_t)size + 1, 1);
    assert_non_null(text);
    assert_int_equal(fread(text, 1, (size_t)size, file), (size_t)size);
    fclose(file);
    return text;
}

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

/* ---- numbers -------------------------------------------------------------------------------- */

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

/* ---- text ----------------------------------------------------------------------------------- */

static void text_answers_first_and_warns(void **state) {
    (void)state;
    fixture *f = make();
    char *text = written_by(rfy_write_run_text, &f->result, NULL);
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
                "after about 1 h 37 min instead of 2 h 41 min");
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
    assert_says(text, care[0]);
    assert_says(text, assumed[1]);
    assert_says(text, cautions[0]);
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
    fixture *f = make();
    static const int widths[] = {60, 80, 100};
    for (size_t i = 0; i < 3; i++) {
        rfy_write_options options = {NULL, false, widths[i]};
        char *text = written_by(rfy_write_run_text, &f->result, &options);
        if (widest_line(text) > (size_t)widths[i])
            fail_msg("%zu columns where %d are allowed:\n%s", widest_line(text), widths[i], text);
        assert_null(strstr(text, " \n"));
        free(text);
        text = written_by(rfy_write_ultimate_text, &f->result, &options);
        assert_null(strstr(text, " \n"));
        assert_true(widest_line(text) <= (size_t)widths[i]);
        free(text);
    }
    free(f);
}

static void text_takes_the_unit_asked_for(void **state) {
    (void)state;
    fixture *f = make();
    rfy_write_options options = {"mbar", true, 0};
    char *text = written_by(rfy_write_run_text, &f->result, &options);
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
    fixture *f = make();
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
    char *text = written_by(rfy_write_run_text, r, NULL);
    assert_says(text,
                "THE RUN COULD NOT BE FINISHED; it came to 12 min. the step became too small");
    assert_says(text, "No target is given");
    assert_silent(text, "LIMITS");
    assert_silent(text, "WHAT DECIDES");
    assert_silent(text, "CARE");
    assert_silent(text, "balance");
    assert_silent(text, "?");
    free(text);
    text = written_by(rfy_write_ultimate_text, r, NULL);
    assert_says(text, "No steady state was found");
    free(text);
    text = written_by(rfy_write_run_json, r, NULL);
    cJSON *json = cJSON_Parse(text);
    assert_non_null(json);
    assert_true(cJSON_IsNull(cJSON_GetObjectItemCaseSensitive(json, "ultimate")));
    cJSON_Delete(json);
    free(text);
    free(f);
}

static void each_answer_has_its_sentence(void **state) {
    (void)state;
    fixture *f = make();
    f->result.n_targets = 1;
    rfy_target_result *t = &f->target[0];
    t->time_late = 9700;
    t->time_early = 9640;
    char *text = written_by(rfy_write_run_text, &f->result, NULL);
    assert_says(text, "What the walls give off hardly changes that.");
    free(text);
    t->time_late = 40000;
    text = written_by(rfy_write_run_text, &f->result, NULL);
    assert_says(text, "between 2 h 41 min and 11 h 07 min");
    free(text);
    t->time = 0;
    text = written_by(rfy_write_run_text, &f->result, NULL);
    assert_says(text, "bulb is below 1e-3 Pa (\"bake-out may start\") from the start");
    free(text);
    t->reached = false;
    t->time = t->time_late = t->time_early = NAN;
    text = written_by(rfy_write_run_text, &f->result, NULL);
    assert_says(text, "It is still falling, towards 3.1e-4 Pa: it only needs longer.");
    free(text);
    t->pressure = 1e-6; /* below the floor of 2.2e-6 Pa */
    text = written_by(rfy_write_run_text, &f->result, NULL);
    assert_says(text,
                "even with walls that give off nothing at 2.2e-6 Pa: neither waiting nor baking");
    free(text);
    f->limit[1].peak = 600;
    f->limit[1].duration = 5;
    text = written_by(rfy_write_run_text, &f->result, NULL);
    assert_says(text, "foreline too high: kept, but only by its time");
    free(text);
    free(f);
}

static void a_long_procedure_is_cut_in_the_middle(void **state) {
    (void)state;
    enum { MANY = 500 };
    fixture *f = make();
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
    char *text = written_by(rfy_write_run_text, &f->result, NULL);
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
    fixture *f = make();
    f->result.title = "bell \a, escape \033[31m, quote \" backslash \\, broken \xff\xc3 utf8, é";
    char *text = written_by(rfy_write_run_text, &f->result, NULL);
    for (const char *c = text; *c; c++)
        assert_true(*c == '\n' || (unsigned char)*c >= 0x20);
    free(text);
    text = written_by(rfy_write_run_json, &f->result, NULL);
    cJSON *json = cJSON_Parse(text);
    assert_non_null(json);
    assert_string_equal(cJSON_GetObjectItemCaseSensitive(json, "title")->valuestring,
                        "bell \a, escape \033[31m, quote \" backslash \\, broken \xef\xbf\xbd"
                        "\xef\xbf\xbd utf8, é");
    cJSON_Delete(json);
    free(text);
    free(f);
}

/* ---- JSON ----------------------------------------------------------------------------------- */

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
    fixture *f = make();
    char *text = written_by(rfy_write_run_json, &f->result, NULL), path[128];
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
            snprintf(path, sizeof path, "series/pressure_Pa/%s/%zu", chamber_names[c], i);
            assert_same(json, path, f->pressure[i * CHAMBERS + c]);
            for (size_t g = 0; g < GASES; g++) {
                snprintf(path, sizeof path, "series/partial_Pa/%s/%s/%zu", chamber_names[c],
                         gas_names[g], i);
                assert_same(json, path, f->partial[(i * CHAMBERS + c) * GASES + g]);
            }
        }
        for (size_t g = 0; g < GAUGES; g++) {
            snprintf(path, sizeof path, "series/gauge_Pa/%s/%zu", gauge_names[g], i);
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
    assert_word(json, "care/0", care[0]);
    assert_word(json, "assumed/1", assumed[1]);
    assert_word(json, "cautions/0", cautions[0]);
    assert_same(json, "solver/steps", 812);
    assert_word(json, "solver/method", "rodas");
    cJSON_Delete(json);
    free(text);

    text = written_by(rfy_write_ultimate_json, &f->result, NULL);
    json = cJSON_Parse(text);
    assert_non_null(json);
    assert_same(json, "ultimate/bulb/total_Pa", f->total[0]);
    assert_same(json, "ultimate_sources/0/throughput_Pa_m3_s", 2.1e-7);
    cJSON_Delete(json);
    free(text);
    free(f);
}

static void ultimate_text_names_sources(void **state) {
    (void)state;
    fixture *f = make();
    char *text = written_by(rfy_write_ultimate_text, &f->result, NULL);
    assert_says(text, "bulb 3.10e-4 2.2e-6 H2O 95 %, N2 4 %, He 1 %");
    assert_says(text, "61 % 61 % 61 % 61 % 61 % H2O from bulb wall 1 (borosilicate glass): 2.1e-7 "
                      "Pa m3/s");
    assert_says(text, "walls as they are after 8 h");
    assert_silent(text, "hose cell 1");
    free(text);
    free(f);
}

/* ---- CSV ------------------------------------------------------------------------------------ */

static void csv_reads_back_exactly(void **state) {
    (void)state;
    fixture *f = make();
    static const char *const odd_names[CHAMBERS] = {"bulb, small", "the \"port\"", "turbo inlet",
                                                    "foreline",    "vane inlet",   "hose cell 1",
                                                    "trap"};
    f->result.chamber = odd_names;
    rfy_write_options options = {"mbar", false, 0};
    char *text = written_by(rfy_write_run_csv, &f->result, &options);
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

/* ---- the rest ------------------------------------------------------------------------------- */

static void a_full_disk_is_reported(void **state) {
    (void)state;
    fixture *f = make();
    writer *const writers[] = {rfy_write_run_text, rfy_write_run_json, rfy_write_run_csv,
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
        cmocka_unit_test(json_reads_back_exactly),
        cmocka_unit_test(ultimate_text_names_sources),
        cmocka_unit_test(csv_reads_back_exactly),
        cmocka_unit_test(a_full_disk_is_reported),
        cmocka_unit_test(check_lists_problems_without_a_system),
        cmocka_unit_test(times_are_read_from_a_list),
    };
    return cmocka_run_group_tests_name("writers", tests, NULL, NULL);
}
