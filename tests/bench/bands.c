/* How the quantiles of a band settle with the number of runs: a Sobol sequence against plain random
 * numbers, both against a Sobol run of 16384, on the photocell bench. */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include "support/support.h"

enum { SEEDS = 6, REFERENCE = 16384 };

static rfy_quantiles found(const rfy_system *system, size_t n, unsigned long seed) {
    rfy_band_options o = RFY_BAND_OPTIONS_INIT;
    const double end = 1;
    o.samples = n;
    o.plain = seed > 0;
    o.seed = seed;
    o.at = &end;
    o.n_at = 1;
    rfy_band *b = NULL;
    if (rfy_band_find(&b, system, &o) != RFY_OK)
        exit(1);
    rfy_quantiles q = b->target[b->n_targets - 1].time;
    rfy_band_free(b);
    return q;
}

static double error_of(const rfy_quantiles *q, const rfy_quantiles *exact) {
    return (pow(log(q->low / exact->low), 2) + pow(log(q->median / exact->median), 2) +
            pow(log(q->high / exact->high), 2)) /
           3;
}

int main(void) {
    gsl_set_error_handler_off();
    char *text = test_read_file("examples/photocell-bulb.json", NULL);
    rfy_system *system = test_system(text);
    rfy_quantiles exact = found(system, REFERENCE, 0);
    printf("time to the last target: 5 %% %.0f s, 50 %% %.0f s, 95 %% %.0f s\n", exact.low,
           exact.median, exact.high);
    printf("%8s  %26s  %26s  %8s\n", "runs", "error of ln, Sobol", "plain random, rms of 6",
           "ratio");
    for (size_t n = 64; n <= 4096; n *= 4) {
        rfy_quantiles q = found(system, n, 0);
        double sobol = error_of(&q, &exact), plain = 0;
        for (unsigned long seed = 1; seed <= SEEDS; seed++) {
            q = found(system, n, seed);
            plain += error_of(&q, &exact) / SEEDS;
        }
        printf("%8zu  %26.4f  %26.4f  %8.1f\n", n, sqrt(sobol), sqrt(plain), sqrt(plain / sobol));
    }
    rfy_system_free(system);
    free(text);
    return 0;
}
