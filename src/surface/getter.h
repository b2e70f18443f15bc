/* A getter: takes up a gas for good; its speed falls evenly as its capacity fills (a usual
 * simplification: the sticking probability follows the bare share of the film). */
#ifndef RFY_SURFACE_GETTER_H
#define RFY_SURFACE_GETTER_H

#include "surface/store.h"

extern const rfy_store_kind rfy_store_getter;

/* Speed when fresh m3/s; capacity mol. */
void rfy_getter_new(rfy_arena *arena, double speed, double capacity, rfy_store *store);

#endif
