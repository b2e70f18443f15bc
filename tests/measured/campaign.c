/* The whole campaigns of invented records, as a table: `campaign_measured`. */
#include <stdio.h>
#include <stdlib.h>
#include <gsl/gsl_errno.h>
#include "support/rise_records.h"

int main(int argc, char **argv) {
    size_t n = argc > 1 ? (size_t)atol(argv[1]) : 1000;
    static const char *const names[] = {"5 %", "30 %", "gauge floor", "30 %, log-normal"};
    gsl_set_error_handler_off();
    rise_tally all = {0};
    for (int k = 0; k < 4; k++) {
        rise_tally one = {0};
        size_t part = k < 3 ? (n + 2 - (size_t)k) / 3 : n / 3;
        rise_records_try(&one, (scatter_kind)k, part,
                         20261126 + (unsigned long)k +
                             (argc > 2 ? (unsigned long)atol(argv[2]) : 0));
        rise_tally_write(stdout, names[k], &one);
    }
    (void)all;
    return 0;
}
