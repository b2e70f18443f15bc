#include "support/fit_records.h"
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include "support/support.h"

enum { POINTS = 120 };

static const char *const paths[FIT_UNKNOWNS] = {
    "port/leaks/0/rate", "vane/scale", "port/walls/0/scale", "roughing line/scale", "turbo/scale"};
/* Range of the truth: a leak that matters beside the walls, a bench not quite as its plate says. */
#define SPREAD 10.0 /* of stainless steel as received, data/materials.csv */
static const double low[FIT_UNKNOWNS] = {2e-6, 0.6, 0.5, 0.6, 0.6},
                    high[FIT_UNKNOWNS] = {8e-6, 1.1, 3, 1.2, 1.1};

static rfy_system *read_with(const char *text, size_t length, const double *truth) {
    rfy_setting setting[FIT_UNKNOWNS];
    char value[FIT_UNKNOWNS][40];
    for (int i = 0; i < FIT_UNKNOWNS; i++) {
        snprintf(value[i], sizeof value[i], i == 0 ? "%.9g Pa m3/s" : "%.9g", truth[i]);
        setting[i] = (rfy_setting){paths[i], value[i]};
    }
    rfy_problems *problems = rfy_problems_new("bulb");
    rfy_system *system;
    assert_int_equal(rfy_system_read(&system, text, length, setting, FIT_UNKNOWNS, problems),
                     RFY_OK);
    rfy_problems_free(problems);
    return system;
}

void fit_records_try(fit_tally *tally, double noise, size_t n, unsigned long seed) {
    size_t length;
    char *text = test_read_file("examples/photocell-bulb.json", &length);
    rfy_system *plain = test_system(text);
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, seed);
    double at[POINTS], reading[POINTS];
    for (int i = 0; i < POINTS; i++)
        at[i] = 2 * pow(3600, i / (POINTS - 1.0)); /* 2 s to 2 h */
    for (size_t k = 0; k < n; k++) {
        double truth[FIT_UNKNOWNS];
        for (int i = 0; i < FIT_UNKNOWNS; i++)
            truth[i] = low[i] * pow(high[i] / low[i], gsl_rng_uniform(rng));
        /* the wall as its material scatters: that is what the fit takes as known beforehand */
        truth[2] = exp(gsl_ran_gaussian(rng, log(SPREAD) / 1.96));
        rfy_system *system = read_with(text, length, truth);
        rfy_run_options run = RFY_RUN_OPTIONS_INIT;
        run.at = at;
        run.n_at = POINTS;
        run.tolerance = 1e-6;
        rfy_result *made = NULL;
        rfy_run(&made, system, &run);
        assert_int_equal(made->n_times, POINTS);
        for (size_t i = 0; i < POINTS; i++)
            reading[i] = test_pressure(made, i, "port") * exp(noise * gsl_ran_gaussian(rng, 1));
        rfy_result_free(made);
        rfy_system_free(system);
        rfy_log log = {.name = "made", .n = POINTS, .time = at, .pressure = reading};
        rfy_fit_options o = RFY_FIT_OPTIONS_INIT;
        o.free = paths;
        o.n_free = FIT_UNKNOWNS;
        o.gauge = "port";
        rfy_fit_result *found;
        rfy_problems *problems = rfy_problems_new("made");
        clock_t begin = clock();
        rfy_status status = rfy_fit(&found, plain, &log, &o, problems);
        double took = (double)(clock() - begin) / CLOCKS_PER_SEC;
        tally->seconds += took;
        tally->most_seconds = fmax(tally->most_seconds, took);
        rfy_problems_free(problems);
        tally->records++;
        if (status != RFY_OK) {
            tally->failed++;
            continue;
        }
        tally->determined += found->determined;
        size_t missed = 0, told = 0;
        for (int i = 0; i < FIT_UNKNOWNS; i++) {
            const rfy_fitted *u = &found->unknown[i];
            bool in = u->value.low <= truth[i] && truth[i] <= u->value.high;
            tally->shown_in += in;
            if (!u->told)
                continue;
            tally->told[i]++;
            tally->in[i] += in;
            told++;
            missed += !in;
        }
        double beyond = (double)missed - 0.05 * (double)told;
        tally->square += beyond * beyond;
        rfy_fit_free(found);
    }
    gsl_rng_free(rng);
    rfy_system_free(plain);
    free(text);
}

void fit_tally_write(FILE *out, const char *name, const fit_tally *t) {
    size_t in = 0, told = 0;
    fprintf(out, "%-8s %zu records of five unknowns: ", name, t->records);
    for (int i = 0; i < FIT_UNKNOWNS; i++) {
        fprintf(out, "%s %zu of %zu told, ", paths[i], t->in[i], t->told[i]);
        in += t->in[i];
        told += t->told[i];
    }
    double n = (double)(told > 0 ? told : 1);
    fprintf(out,
            "together %.1f %% +- %.1f within their intervals, of the %zu told; all intervals, open "
            "ones too: %.1f %%; determined %zu, failed %zu; %.2f s of the processor each, at most "
            "%.2f\n",
            100 * (double)in / n, 100 * sqrt(t->square) / n, told,
            100 * (double)t->shown_in / (double)(FIT_UNKNOWNS * (t->records - t->failed)),
            t->determined, t->failed, t->seconds / (double)t->records, t->most_seconds);
}
