/* Pump-downs of a small bench with one of six faults, and which `rfy_diagnose` names. */
#ifndef RFY_TESTS_FAULT_RECORDS_H
#define RFY_TESTS_FAULT_RECORDS_H

#include <stddef.h>
#include <stdio.h>

enum { FAULT_KINDS = 6 }; /* as rfy_suspect_kind, from RFY_SUSPECT_LEAK on */

typedef struct fault_tally {
    size_t records, right, count[FAULT_KINDS + 1][FAULT_KINDS + 1]; /* [true][found] */
    double seconds;
} fault_tally;

/* n records, the faults in turn; `noise` is even in ratio. */
void fault_records_try(fault_tally *tally, double noise, size_t n, unsigned long seed);
/* A leak and a worn pump at once: whether that pair is named first. */
int fault_pair_is_found(double noise, unsigned long seed);
void fault_tally_write(FILE *out, const fault_tally *tally);

#endif
