/* Predictions for fits: derivatives that one run carries along against central differences of runs.
 */
#include "support/support.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "study/predict.h"

enum { AT = 24, PATHS = 3 };

static const char *const paths[PATHS] = {"vane/scale", "port/walls/0/scale", "turbo/scale"};

typedef struct bench {
    rfy_arena *arena;
    rfy_system *system;
    rfy_predictor p;
    double at[AT], value[PATHS];
} bench;

static void begin(bench *b, const char *gauge) {
    char *text = test_read_file("examples/photocell-bulb.json", NULL);
    b->arena = rfy_arena_new();
    b->system = test_system(text);
    free(text);
    const rfy_network *net = b->system->network;
    b->p = (rfy_predictor){
        .system = b->system, .n = PATHS, .path = paths, .gauge = -1, .tolerance = 1e-8};
    for (int i = 0; i < net->n_gauges; i++)
        if (strcmp(net->gauge[i].name, gauge) == 0) {
            b->p.gauge = i;
            b->p.node = net->gauge[i].node;
        }
    assert_true(b->p.gauge >= 0);
    rfy_predictor_begin(&b->p, b->arena, PATHS + 1);
    for (int i = 0; i < AT; i++)
        b->at[i] = 3 * pow(1000, i / (AT - 1.0));
    b->value[0] = 0.8;
    b->value[1] = 2;
    b->value[2] = 0.9;
}

static void end(bench *b) {
    rfy_predictor_end(&b->p);
    rfy_system_free(b->system);
    rfy_arena_free(b->arena);
}

/* Paths of a group, or the time, moved by +-by: the difference of ln readings over 2 by. */
static void difference(bench *b, const size_t *of, size_t group, double by, double offset,
                       double *out) {
    double up[AT], down[AT], *to[2] = {up, down};
    for (int side = 0; side < 2; side++) {
        double value[PATHS], step = side ? -by : by;
        for (size_t i = 0; i < PATHS; i++)
            value[i] = b->value[i] * (of[i] == group ? exp(step) : 1);
        rfy_prediction one = {.value = value,
                              .offset = offset + (group == PATHS ? step : 0),
                              .log_reading = to[side]};
        rfy_predict(&b->p, &one, 1, b->at, AT);
        assert_true(one.good);
    }
    for (int i = 0; i < AT; i++)
        out[i] = (up[i] - down[i]) / (2 * by);
}

/* Where the curve is a step (the valve to the turbo opens near 150 s here), a difference of runs is
 * no derivative: such instants are left out. */
static bool is_steep(const double *shown, int i) {
    return (i > 0 && fabs(shown[i] - shown[i - 1]) > 2.5) ||
           (i + 1 < AT && fabs(shown[i + 1] - shown[i]) > 2.5);
}

static void slopes_are_those_of_differences(void **state) {
    (void)state;
    static const size_t each[PATHS] = {0, 1, 2}, grouped[PATHS] = {0, 1, 0};
    const double offset = 2;
    bench b;
    begin(&b, "port thermal gauge");
    for (int round = 0; round < 2; round++) {
        const size_t *of = round ? grouped : each, n = round ? 2 : PATHS;
        double shown[AT], by[AT * PATHS], by_offset[AT], wanted[AT];
        rfy_slopes s = {.value = b.value,
                        .offset = offset,
                        .n = n,
                        .of = round ? grouped : NULL,
                        .log_reading = shown,
                        .by = by,
                        .by_offset = by_offset};
        assert_true(rfy_predict_slopes(&b.p, &s, b.at, AT));
        int compared = 0;
        for (size_t j = 0; j < n; j++) {
            difference(&b, of, j, 1e-3, offset, wanted);
            for (int i = 0; i < AT; i++)
                if (!is_steep(shown, i)) {
                    assert_close(by[(size_t)i * n + j], wanted[i], 2e-3, 2e-3, "%s at %g s",
                                 paths[j], b.at[i]);
                    compared++;
                }
        }
        assert_true(compared > 15 * (int)n);
        difference(&b, of, PATHS, 1e-3, offset, wanted);
        for (int i = 0; i < AT; i++)
            if (!is_steep(shown, i))
                assert_close(by_offset[i] * b.at[i], wanted[i] * b.at[i], 0.02, 0.01,
                             "time at %g s", b.at[i]);
    }
    end(&b);
}

/* The hot gauge is off in the beginning: then differences of runs have to do. */
static void a_gauge_that_is_off_has_no_slopes(void **state) {
    (void)state;
    bench b;
    double shown[AT], by[AT * PATHS];
    begin(&b, "hot gauge");
    rfy_slopes s = {.value = b.value, .n = PATHS, .log_reading = shown, .by = by};
    assert_false(rfy_predict_slopes(&b.p, &s, b.at, AT));
    end(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(slopes_are_those_of_differences),
        cmocka_unit_test(a_gauge_that_is_off_has_no_slopes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
