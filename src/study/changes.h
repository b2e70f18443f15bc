/* Which values of two descriptions differ. */
#ifndef RFY_STUDY_CHANGES_H
#define RFY_STUDY_CHANGES_H

#include "study/system.h"

/* Paths as in --set, at most `most`, in the order of the first description; what only comments and
 * titles say is left out. Lives in the arena; *n counts all, kept or not. */
const rfy_change *rfy_changes(rfy_arena *arena, const rfy_system *from, const rfy_system *to,
                              size_t most, size_t *n);

#endif
