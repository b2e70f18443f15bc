/* Networks beside a system's own, one for each parameter with that number a little larger. */
#ifndef RFY_STUDY_NEIGHBOURS_H
#define RFY_STUDY_NEIGHBOURS_H

#include "network/neighbour.h"
#include "study/parameter.h"

/* [n]; the system must outlive them. */
const rfy_neighbour *rfy_neighbours_of(rfy_arena *arena, const rfy_system *system,
                                       const rfy_parameter *parameter, size_t n);

#endif
