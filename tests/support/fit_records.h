/* Noisy pump-downs of the bulb bench with five known unknowns, and how `rfy_fit` does on them. */
#ifndef RFY_TESTS_FIT_RECORDS_H
#define RFY_TESTS_FIT_RECORDS_H

#include <stddef.h>
#include <stdio.h>

enum { FIT_UNKNOWNS = 5 };

typedef struct fit_tally {
    size_t records, determined, failed;
    size_t told[FIT_UNKNOWNS], in[FIT_UNKNOWNS]; /* told, and of those within their interval */
    size_t shown_in;                             /* all intervals that hold, open ones too */
    double square; /* of misses beyond those expected, summed over records: within one they go
                      together, so that the error of a share is not that of single draws */
    double seconds, most_seconds; /* of the processor, for fits alone */
} fit_tally;

void fit_records_try(fit_tally *tally, double noise, size_t n, unsigned long seed);
void fit_tally_write(FILE *out, const char *name, const fit_tally *tally);

#endif
