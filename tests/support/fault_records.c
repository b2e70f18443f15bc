#include "support/fault_records.h"
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include "support/support.h"

enum { POINTS = 100 };

/* A jar on a long hose: hose and pump both matter, walls take over late. */
static const char bench[] =
    "{\"rarefy\": 1, \"title\": \"Jar on a hose\", \"gases\": [\"N2\", \"O2\", \"Ar\", \"H2O\"],"
    "\"chambers\": ["
    "{\"name\": \"jar\", \"volume\": \"8 L\", \"walls\": [{\"material\": \"stainless steel\", "
    "\"area\": \"2500 cm2\"}]},"
    "{\"name\": \"pump inlet\", \"volume\": \"0.2 L\"}],"
    "\"lines\": [{\"name\": \"hose\", \"between\": [\"jar\", \"pump inlet\"], \"pieces\": "
    "[\"tube 12 mm x 1.2 m\"]}],"
    "\"pumps\": [{\"name\": \"vane\", \"kind\": \"rotary vane\", \"from\": \"pump inlet\", \"to\": "
    "\"ambient\", \"speed\": \"4 m3/h\", \"ultimate\": \"0.02 Pa\"}],"
    "\"gauges\": [{\"name\": \"gauge\", \"at\": \"jar\", \"kind\": \"capacitance\"}],"
    "\"run\": {\"until\": \"6 h\"}}";

static double between(gsl_rng *rng, double low, double high) {
    return low * pow(high / low, gsl_rng_uniform(rng));
}

/* The fault as settings; each is large enough to be worth naming. */
static size_t make_fault(int kind, gsl_rng *rng, rfy_setting *setting, char value[2][200]) {
    setting[0].value = value[0];
    switch (kind) {
    case 0:
        setting[0].path = "jar/leaks";
        snprintf(value[0], 200, "[{\"rate\": \"%.6g Pa m3/s\"}]", between(rng, 1e-4, 1e-2));
        return 1;
    case 1:
        setting[0].path = "jar/walls/0/scale";
        snprintf(value[0], 200, "%.6g", between(rng, 4, 15));
        return 1;
    case 2:
        setting[0].path = "jar/trapped";
        snprintf(value[0], 200, "[{\"volume\": \"%.6g cm3\", \"conductance\": \"%.6g L/s\"}]",
                 between(rng, 0.5, 5), between(rng, 3e-6, 3e-5));
        return 1;
    case 3:
        setting[0].path = "vane/scale";
        snprintf(value[0], 200, "%.6g", between(rng, 0.3, 0.75));
        return 1;
    case 4:
        setting[0].path = "hose/scale";
        snprintf(value[0], 200, "%.6g", between(rng, 0.05, 0.4));
        return 1;
    default:
        setting[0].path = "gauge/scale";
        snprintf(value[0], 200, "%.6g",
                 gsl_rng_uniform(rng) < 0.5 ? between(rng, 0.3, 0.7) : between(rng, 1.4, 3.5));
        return 1;
    }
}

/* The bench with these settings, as its gauge shows it with noise, diagnosed; to be freed. */
static rfy_diagnosis *diagnose(const rfy_system *plain, const rfy_setting *setting,
                               size_t n_settings, double noise, gsl_rng *rng, fault_tally *tally) {
    double at[POINTS], reading[POINTS];
    rfy_problems *problems = rfy_problems_new("bench");
    rfy_system *system;
    for (int i = 0; i < POINTS; i++)
        at[i] = 3 * pow(7200, i / (POINTS - 1.0)); /* 3 s to 6 h */
    if (rfy_system_read(&system, bench, strlen(bench), setting, n_settings, problems) != RFY_OK) {
        rfy_write_problems(stderr, problems);
        fail();
    }
    rfy_run_options run = RFY_RUN_OPTIONS_INIT;
    run.at = at;
    run.n_at = POINTS;
    run.tolerance = 1e-6;
    rfy_result *made;
    rfy_run(&made, system, &run);
    assert_int_equal(made->n_times, POINTS);
    for (size_t i = 0; i < POINTS; i++)
        reading[i] = made->gauge_reading[i] * exp(noise * gsl_ran_gaussian(rng, 1));
    rfy_result_free(made);
    rfy_system_free(system);
    rfy_log log = {.name = "made", .n = POINTS, .time = at, .pressure = reading};
    rfy_diagnose_options o = RFY_DIAGNOSE_OPTIONS_INIT;
    rfy_diagnosis *found;
    clock_t begin = clock();
    assert_int_equal(rfy_diagnose(&found, plain, &log, &o, problems), RFY_OK);
    if (tally)
        tally->seconds += (double)(clock() - begin) / CLOCKS_PER_SEC;
    rfy_problems_free(problems);
    return found;
}

int fault_pair_is_found(double noise, unsigned long seed) {
    static const rfy_setting both[] = {{"jar/leaks", "[{\"rate\": \"2e-3 Pa m3/s\"}]"},
                                       {"vane/scale", "0.5"}};
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, seed);
    rfy_system *plain = test_system(bench);
    rfy_diagnosis *found = diagnose(plain, both, 2, noise, rng, NULL);
    const rfy_suspect *s = &found->suspect[0];
    int good = (s->kind == RFY_SUSPECT_LEAK && s->also == RFY_SUSPECT_PUMP) ||
               (s->kind == RFY_SUSPECT_PUMP && s->also == RFY_SUSPECT_LEAK);
    print_message("%s\n", s->name);
    rfy_diagnosis_free(found);
    rfy_system_free(plain);
    gsl_rng_free(rng);
    return good;
}

void fault_records_try(fault_tally *tally, double noise, size_t n, unsigned long seed) {
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    rfy_system *plain = test_system(bench);
    gsl_rng_set(rng, seed);
    for (size_t k = 0; k < n; k++) {
        rfy_setting setting[2];
        char value[2][200];
        int kind = (int)(k % FAULT_KINDS);
        size_t n_settings = make_fault(kind, rng, setting, value);
        rfy_diagnosis *found = diagnose(plain, setting, n_settings, noise, rng, tally);
        const rfy_suspect *first = &found->suspect[0];
        bool right = first->kind == (rfy_suspect_kind)(kind + 1) && first->also == RFY_SUSPECT_NONE;
        tally->records++;
        tally->right += right;
        tally->count[kind + 1][first->kind]++;
        rfy_diagnosis_free(found);
    }
    rfy_system_free(plain);
    gsl_rng_free(rng);
}

void fault_tally_write(FILE *out, const fault_tally *t) {
    static const char *const name[] = {"nothing", "leak",    "walls", "trapped",
                                       "pump",    "blocked", "gauge"};
    fprintf(out, "%-9s", "true");
    for (int i = 0; i <= FAULT_KINDS; i++)
        fprintf(out, "%9s", name[i]);
    fputs("   <- found\n", out);
    for (int a = 1; a <= FAULT_KINDS; a++) {
        fprintf(out, "%-9s", name[a]);
        for (int b = 0; b <= FAULT_KINDS; b++)
            fprintf(out, "%9zu", t->count[a][b]);
        putc('\n', out);
    }
    fprintf(out, "%zu of %zu right (%.1f %%); %.2f s of the processor each\n", t->right, t->records,
            100.0 * (double)t->right / (double)t->records, t->seconds / (double)t->records);
}
