/* Names that a description refers to, checked without building anything. */
#ifndef RFY_NETWORK_REFERENCES_H
#define RFY_NETWORK_REFERENCES_H

#include "network/description.h"

/* For a description that already has other faults, so that all are told together: places that
 * lines, pumps, gauges, sources, limits and targets name must exist, and a line or pump must not
 * end where it began. (A sound one is checked when the network is assembled.) Missing values are
 * passed over. */
void rfy_references_check(rfy_arena *arena, const rfy_description *description,
                          rfy_problems *problems);

#endif
