/* One description with some of its values changed again and again: read once, then each time only
 * the values are put in place and the network is assembled. What a study of many points is made of.
 *
 * One of these belongs to one thread; several may share a system. */
#ifndef RFY_STUDY_VARIATION_H
#define RFY_STUDY_VARIATION_H

#include "study/system.h"

typedef struct rfy_variation rfy_variation;

/* Values are varied at these paths (as in --set; the texts must stay). Free with
 * rfy_variation_free. */
rfy_variation *rfy_variation_new(const rfy_system *system, const char *const *path, size_t n);
void rfy_variation_free(rfy_variation *variation);

/* The network with these values, one a path, as texts; it lasts until the next one is made. NULL
 * when it cannot be: rfy_variation_problems says why, and the path of a problem of a value has line
 * 0 and the number of the path, from 1, counted after the settings of the system, as column. */
const rfy_network *rfy_variation_network(rfy_variation *variation, const char *const *value);
/* The same with numbers in SI. */
const rfy_network *rfy_variation_numbers(rfy_variation *variation, const double *si);
const rfy_problems *rfy_variation_problems(const rfy_variation *variation);

/* What stands at a path, once a network was made: false unless it is one quantity or number. */
typedef struct rfy_varied {
    double value; /* as it is now, SI */
    rfy_dim dim;
    double min, max; /* SI; both 0 = no limits */
    const char *key; /* "bore" */
} rfy_varied;
bool rfy_variation_at(const rfy_variation *variation, size_t i, rfy_varied *out);
/* The same for the value in the description as it was read: what --vary starts from. Makes no
 * network; `path` must be a single quantity that is given. */
bool rfy_variation_given(const rfy_system *system, const char *path, rfy_varied *out,
                         rfy_problems *problems);
/* Quantities with a factor, at those values that every network of this variation is made from. */
const rfy_spreads *rfy_variation_spreads(rfy_variation *variation);

#endif
