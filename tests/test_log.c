/* Logs of gauges as they come: separators, decimal marks, clocks, marks, damage. Wanted values are
 * worked out by hand; days by the calendar. */
#define _POSIX_C_SOURCE 200809L
#include "support/support.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "io/log_time.h"

static rfy_log *try_bytes(const char *text, size_t length, const rfy_log_options *options,
                          rfy_status wanted, const char *says) {
    FILE *in = fmemopen((void *)(uintptr_t)text, length ? length : 1, "rb");
    assert_non_null(in);
    if (length == 0)
        fgetc(in);
    rfy_problems *problems = rfy_problems_new("log.csv");
    rfy_log *log = NULL;
    rfy_status status = rfy_log_read(&log, in, "log.csv", options, problems);
    fclose(in);
    if (status != wanted)
        rfy_write_problems(stderr, problems);
    assert_int_equal(status, wanted);
    if (says) {
        bool said = false;
        for (size_t i = 0; i < rfy_problems_kept(problems); i++)
            said = said || strstr(rfy_problems_at(problems, i)->what, says);
        if (!said)
            rfy_write_problems(stderr, problems);
        assert_true(said);
    }
    assert_true((log != NULL) == (wanted == RFY_OK));
    rfy_problems_free(problems);
    return log;
}

static rfy_log *try_log(const char *text, const rfy_log_options *options, rfy_status wanted,
                        const char *says) {
    return try_bytes(text, strlen(text), options, wanted, says);
}

/* Reads, and compares with n times and pressures. */
static void expect(const char *text, const rfy_log_options *options, size_t n, const double *time,
                   const double *pressure) {
    rfy_log *log = try_log(text, options, RFY_OK, NULL);
    assert_int_equal(log->n, n);
    for (size_t i = 0; i < n; i++) {
        assert_close(log->time[i], time[i], 1e-12, 1e-9, "time %zu of %.40s", i, text);
        assert_close(log->pressure[i], pressure[i], 1e-12, 0, "pressure %zu of %.40s", i, text);
    }
    rfy_log_free(log);
}

static size_t rows_lost(const rfy_log *log, const char *why) {
    for (size_t i = 0; i < log->n_losses; i++)
        if (strcmp(log->loss[i].why, why) == 0)
            return log->loss[i].rows;
    return 0;
}

static const double t3[] = {0, 60, 180}, p3[] = {20, 30, 43};

static void every_separator_and_mark_reads_the_same(void **state) {
    (void)state;
    static const char *const texts[] = {
        "time (s),pressure (mbar)\n0,0.20\n60,0.30\n180,0.43\n",
        "time (s);pressure (mbar)\n0;0,20\n60;0,30\n180;0,43\n",
        "t/s\tp/mbar\n0\t0.20\n60\t0.30\n180\t0.43\n",
        "time_s p_mbar\n0 0.20\n60 0.30\n180 0.43\n",
        "# time_s p_mbar\n0 0.20\n60   0.30\n  180 0.43\n",
        "Zeit [min];Druck [mbar]\n0,0;0,20\n1,0;3,0e-1\n3,0;4,3E-01\n",
        "time (min) | pressure (hPa)\n0 | 0.20\n1 | 0.30\n3 | 0.43\n",
        "\xEF\xBB\xBFtime,pressure\ns,mbar\n0,0.20\n60,0.30\n180,0.43",
        "\"time, s\",\"pressure, Pa\"\r\n\"0\",\"20\"\r\n\"60\",\"30\"\r\n\"180\",\"43\"\r\n",
        "time;pressure\n0 s;0.20 mbar\n1 min;0.30 mbar\n3 min;43 Pa\n",
        "Pressure [MBAR];Elapsed [sec]\r0.20;0\r0.30;60\r0.43;180\r",
        "Logger 7, serial 12\nstarted by hand\n\ntime (s),p "
        "(mbar),note\n0,0.2,a\n60,0.3,\n180,0.43,c\n",
        "time (s),p (mbar)\n0,0.2\n60,3.0D-1\n180,+4.3E\xE2\x88\x92"
        "01\n",
    };
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        expect(texts[i], NULL, 3, t3, p3);
}

static void columns_and_units_can_be_given(void **state) {
    (void)state;
    rfy_log_options o = RFY_LOG_OPTIONS_INIT;
    o.pressure_unit = "mbar";
    expect("0 0.20\n60 0.30\n180 0.43\n", &o, 3, t3, p3);
    o.columns = "1,3";
    o.time_unit = "min";
    expect("0,9,0.20\n1,9,0.30\n3,9,0.43\n", &o, 3, t3, p3);
    o.time_unit = NULL;
    o.pressure_unit = NULL;
    o.columns = "time,gauge 2";
    expect("time (s),gauge 1 (Pa),gauge 2 (mbar)\n0,1,.2\n60,1,.3\n180,1,.43\n", &o, 3, t3, p3);
    o.columns = "time,gauge 3";
    try_log("time (s),gauge 1 (Pa),gauge 2 (mbar)\n0,1,.2\n60,1,.3\n", &o, RFY_BAD_INPUT,
            "no column \"gauge 3\"");
    o.columns = NULL;
    o.pressure_unit = "Torr";
    try_log("time (s),p (mbar)\n0,.2\n60,.3\n", &o, RFY_BAD_INPUT, "contradicts");
    try_log("0 1\n1 2\n", NULL, RFY_BAD_INPUT, "does not say in which unit");
    try_log("t (s),a (Pa),b (Pa)\n0,1,2\n1,2,3\n", NULL, RFY_BAD_INPUT, "several columns");
    o.pressure_unit = "mbar";
    o.columns = "a,2";
    try_log("0,1\n1,2\n", &o, RFY_BAD_INPUT, "no column \"a\"");
    o.columns = "1";
    try_log("0,1\n1,2\n", &o, RFY_BAD_INPUT, "does not name two columns");
}

static void clocks_and_calendars(void **state) {
    (void)state;
    static const char *const texts[] = {
        "time,p (mbar)\n23:59:00,0.20\n00:00:00,0.30\n00:02:00,0.43\n",
        "time,p (mbar)\n2026-11-26T23:59:00Z,0.20\n2026-11-27T01:00:00+01:00,0.30\n"
        "2026-11-27 00:02:00Z,0.43\n",
        "date;time;p (mbar)\n28.02.2028;23:59:00;0,20\n29.02.2028;00:00:00;0,30\n"
        "29.02.2028;00:02:00;0,43\n",
        "time p_mbar\n2026-12-31 23:59:00 0.20\n2027-01-01 00:00:00 0.30\n2027-01-01 00:02:00 "
        "0.43\n",
        "Date,Time,p (mbar)\n12/31/2026,11:59:00 PM,0.20\n1/1/2027,12:00:00 AM,0.30\n"
        "1/1/2027,12:02:00 AM,0.43\n",
        "time (mm:ss),p (mbar)\n00:00,0.20\n01:00,0.30\n03:00,0.43\n",
        "time,p (mbar)\n1764201540,0.20\n1764201600,0.30\n1764201720,0.43\n",
    };
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        if (i == 3)
            continue;
        expect(texts[i], NULL, 3, t3, p3);
    }
    /* cut at blanks, date and clock time are two cells under one name */
    rfy_log_options o = RFY_LOG_OPTIONS_INIT;
    o.columns = "1,3";
    o.pressure_unit = "mbar";
    expect(strchr(texts[3], '\n') + 1, &o, 3, t3, p3);
    /* days since 1970-01-01: 2000-03-01 is 11017, 2026-11-26 is 20783 (GNU date) */
    rfy_log_date_order order = {0};
    double s;
    assert_int_equal(rfy_log_time("2000-03-01", &order, &s), RFY_TIME_DATE);
    assert_close(s, 86400.0 * 11017, 0, 0, "2000-03-01");
    assert_int_equal(rfy_log_time("2026-11-26T21:51:31.5Z", &order, &s), RFY_TIME_DATE_CLOCK);
    assert_close(s, 86400.0 * 20783 + 78691.5, 0, 1e-6, "2026-11-26T21:51:31.5Z");
    assert_int_equal(rfy_log_time("2026-02-29", &order, &s), RFY_TIME_NONE);
    assert_int_equal(rfy_log_time("24:61", &order, &s), RFY_TIME_NONE);
}

static void what_cannot_be_used_is_accounted_for(void **state) {
    (void)state;
    rfy_log *log = try_log("time (s),p (mbar)\n0,OL\n1,OVER\n2,----\n3,1000\n4,>1000\n5,500\n"
                           "6,inf\n7,-inf\n8,nan\n9,\n10,off\n11,1e-400\n12,<1e-4\n13,1e999\n"
                           "14,100.5\n15,\"1,5\"\n16,seven\n17\nx,5\n18,90\n18,91\n17,92\n"
                           "900,80\n19,70\n20,60\n# a remark\n\n21,50\n",
                           NULL, RFY_OK, NULL);
    assert_int_equal(rows_lost(log, "over-range mark"), 4);
    assert_int_equal(rows_lost(log, "under-range mark"), 1);
    assert_int_equal(rows_lost(log, "infinite"), 3);
    assert_int_equal(rows_lost(log, "not a number"), 1);
    assert_int_equal(rows_lost(log, "gauge off or in error"), 1);
    assert_int_equal(rows_lost(log, "cell missing or empty"), 2);
    assert_int_equal(rows_lost(log, "written with another decimal mark than the rest"), 1);
    assert_int_equal(rows_lost(log, "text where a pressure should be"), 1);
    assert_int_equal(rows_lost(log, "no readable time"), 1);
    assert_int_equal(rows_lost(log, "time stands still"), 1);
    assert_int_equal(rows_lost(log, "time goes back"), 1);
    assert_int_equal(rows_lost(log, "time leaps ahead and comes back"), 1);
    size_t lost = 0;
    for (size_t i = 0; i < log->n_losses; i++)
        lost += log->loss[i].rows;
    assert_int_equal(lost + log->used, log->rows);
    assert_int_equal(log->loss[0].first, 2);
    assert_string_equal(log->loss[0].example, "OL");
    rfy_log_free(log);
}

static void hostile_logs_end_with_a_reason(void **state) {
    (void)state;
    try_log("", NULL, RFY_BAD_INPUT, "empty");
    try_log("\n\n\n", NULL, RFY_BAD_INPUT, "no row");
    try_log("nothing to see\nhere at all\n", NULL, RFY_BAD_INPUT, "no row");
    try_log("time (s),p (Pa)\n", NULL, RFY_BAD_INPUT, "no row");
    try_log("time (s),p (Pa)\n0,OL\n1,OL\n", NULL, RFY_BAD_INPUT,
            "none of the 2 rows can be used; 2 of them: over-range mark");
    try_log("time (s),p (Pa)\n5,nan\n1,5\n", NULL, RFY_OK, NULL);
    try_log("0,5,1013,2\n1,5,1000,7\n", &(rfy_log_options){.pressure_unit = "mbar"}, RFY_BAD_INPUT,
            "commas may separate cells here or be decimal commas");
    try_log("t,p (mbar)\n0,5,1013,2\n1,5,1000,7\n", NULL, RFY_BAD_INPUT, "commas may separate");
    try_bytes("\xFF\xFEt\0,\0p\0", 8, NULL, RFY_BAD_INPUT, "UTF-16");
    char noise[20000];
    unsigned seed = 1;
    for (size_t i = 0; i < sizeof noise; i++) {
        seed = seed * 1103515245u + 12345u;
        noise[i] = (char)(seed >> 16);
    }
    try_bytes(noise, sizeof noise, NULL, RFY_BAD_INPUT, "no row");
    /* one line without an end */
    memset(noise, '7', sizeof noise);
    try_bytes(noise, sizeof noise, NULL, RFY_BAD_INPUT, "no row");
    /* damage in the middle of a good log */
    static const char cut[] = "time (s),p (Pa)\n0,5\n1,4\n\0\0\0\n2,3\n";
    rfy_log *log = try_bytes(cut, sizeof cut - 1, NULL, RFY_OK, NULL);
    assert_int_equal(log->n, 3);
    assert_int_equal(rows_lost(log, "bytes that are no text"), 1);
    rfy_log_free(log);
}

static void long_logs_are_thinned_by_averaging(void **state) {
    (void)state;
    size_t room = 4u << 20, n = 0;
    char *text = malloc(room);
    assert_non_null(text);
    n += (size_t)snprintf(text, room, "time (s),p (Pa)\n");
    for (int i = 0; i < 200000; i++)
        n += (size_t)snprintf(text + n, room - n, "%.1f,%.6g\n", 0.1 * i, 1e4 * exp(-i / 40000.0));
    rfy_log_options o = RFY_LOG_OPTIONS_INIT;
    o.most = 500;
    rfy_log *log = try_bytes(text, n, &o, RFY_OK, NULL);
    assert_true(log->thinned && log->n <= 500 && log->n > 100);
    assert_int_equal(log->used, 200000);
    for (size_t i = 0; i < log->n; i++) {
        if (i > 0)
            assert_true(log->time[i] > log->time[i - 1]);
        assert_close(log->pressure[i], 1e4 * exp(-log->time[i] / 4000), 5e-3, 0, "mean at %g s",
                     log->time[i]);
    }
    assert_close(log->time[0], 0, 0, 1, "the beginning is kept fine");
    rfy_log_free(log);
    free(text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_separator_and_mark_reads_the_same),
        cmocka_unit_test(columns_and_units_can_be_given),
        cmocka_unit_test(clocks_and_calendars),
        cmocka_unit_test(what_cannot_be_used_is_accounted_for),
        cmocka_unit_test(hostile_logs_end_with_a_reason),
        cmocka_unit_test(long_logs_are_thinned_by_averaging),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
