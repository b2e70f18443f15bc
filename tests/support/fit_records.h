/* Noisy pump-downs of the bulb bench with five known unknowns, and how `rfy_fit` does on them. */
#ifndef RFY_TESTS_FIT_RECORDS_H
#define RFY_TESTS_FIT_RECORDS_H

#include <stddef.h>
#include <stdio.h>

enum { FIT_UNKNOWNS = 5 };

typedef struct fit_tally {
    size_t records, determined, in[FIT_UNKNOWNS], failed;
    double seconds; /* of the processor, for fits alone */
} fit_tally;

void fit_records_try(fit_tally *tally, double noise, size_t n, unsigned long seed);
void fit_tally_write(FILE *out, const char *name, const fit_tally *tally);

#endif
