#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support/made_result.h"

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

made_result *test_made_result(void) {
    made_result *f = calloc(1, sizeof *f);
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
    f->limit[0] = (rfy_limit_result){"turbo overload",
                                     "turbo inlet",
                                     true,
                                     311,
                                     230,
                                     310.2,
                                     10,
                                     1,
                                     RFY_LIMIT_MAX,
                                     NULL,
                                     "air through vent (vent valve open) -> turbo inlet"};
    f->limit[1] = (rfy_limit_result){"foreline too high", "foreline", false, NAN, 125, 322, 500, 0,
                                     RFY_LIMIT_MAX,       NULL,       NULL};
    f->limit[2] = (rfy_limit_result){
        "hot gauge in air", "turbo inlet", false, NAN, NAN, NAN, 0.1, 0, RFY_LIMIT_MAX, NULL, NULL};
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
        f->balance[g] = (rfy_balance_row){0.02, 1e-6, 3e-8,           0.02,
                                          0,    1e-9, 0.02 + 1.03e-6, g == 1 ? -2e-11 : 4e-13};
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

char *test_written(test_writer *write, const rfy_result *r, const rfy_write_options *options) {
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
