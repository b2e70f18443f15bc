/* Networks beside a system's own, one for each parameter with that number a little larger. */
#ifndef RFY_STUDY_VARIATIONS_H
#define RFY_STUDY_VARIATIONS_H

#include "network/variation.h"
#include "study/parameter.h"

/* [n]; the system must outlive them. */
const rfy_variation *rfy_variations_of(rfy_arena *arena, const rfy_system *system,
                                       const rfy_parameter *parameter, size_t n);

#endif
