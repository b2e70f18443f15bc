/* Invented rate-of-rise records with a known truth, from closed forms written here and nowhere
 * else, and counts of how `rfy_rise` does on them. */
#ifndef RFY_TESTS_RISE_RECORDS_H
#define RFY_TESTS_RISE_RECORDS_H

#include <stddef.h>
#include <stdio.h>

typedef enum truth_kind { TRUE_LEAK, TRUE_OUTGASSING, TRUE_BOTH } truth_kind;
typedef enum scatter_kind {
    SCATTER_5,          /* 5 %, Gauss */
    SCATTER_30,         /* 30 %, Gauss */
    SCATTER_FLOOR,      /* 2 %, and a tenth of the rise at every pressure: the gauge's floor */
    SCATTER_30_IN_RATIO /* 30 %, log-normal; beyond the three asked for */
} scatter_kind;

typedef struct rise_tally {
    size_t records;
    size_t leak_in, outgassing_in; /* truth within the 95 % interval */
    size_t separable, right, wrong_separable;
    size_t alike, cannot_tell, wrong_alike; /* rival kinds nearly the same within the scatter */
    size_t between, wrong_between;
} rise_tally;

/* n records of one kind of scatter, truths in turn; the same seed gives the same records. */
void rise_records_try(rise_tally *tally, scatter_kind scatter, size_t n, unsigned long seed);
void rise_tally_write(FILE *out, const char *name, const rise_tally *tally);

#endif
