/* The whole campaigns of invented records, as a table: `campaign_measured`. */
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "support/fault_records.h"
#include "support/fit_records.h"
#include "support/rise_records.h"

static void rises(size_t n, unsigned long seed) {
    static const char *const names[] = {"5 %", "30 %", "gauge floor", "30 %, log-normal"};
    for (int k = 0; k < 4; k++) {
        rise_tally one = {0};
        size_t part = k < 3 ? (n + 2 - (size_t)k) / 3 : n / 3;
        rise_records_try(&one, (scatter_kind)k, part, seed + (unsigned long)k);
        rise_tally_write(stdout, names[k], &one);
    }
}

static void fits(size_t n, unsigned long seed) {
    static const double noise[] = {0.05, 0.1, 0.3};
    static const char *const names[] = {"5 %", "10 %", "30 %"};
    for (int k = 0; k < 3; k++) {
        fit_tally one = {0};
        fit_records_try(&one, noise[k], n / 3, seed + (unsigned long)k);
        fit_tally_write(stdout, names[k], &one);
    }
}

static void faults(size_t n, unsigned long seed) {
    fault_tally one = {0};
    fault_records_try(&one, 0.1, n, seed);
    fault_tally_write(stdout, &one);
}

/* campaign [rise|fit|fault|all [records [seed]]] */
int main(int argc, char **argv) {
    const char *what = argc > 1 ? argv[1] : "all";
    size_t n = argc > 2 ? (size_t)atol(argv[2]) : 0;
    unsigned long seed = argc > 3 ? (unsigned long)atol(argv[3]) : 20261126;
    bool all = strcmp(what, "all") == 0;
    gsl_set_error_handler_off();
    if (all || strcmp(what, "rise") == 0)
        rises(n ? n : 1000, seed);
    if (all || strcmp(what, "fit") == 0)
        fits(n ? n : 300, seed);
    if (all || strcmp(what, "fault") == 0)
        faults(n ? n : 600, seed);
    return 0;
}
