/* The numbers of a description, found by path, and copies of a description to change them in. */
#ifndef RFY_NETWORK_LEAVES_H
#define RFY_NETWORK_LEAVES_H

#include "gas/catalog.h"
#include "network/description.h"

/* A copy whose numbers may be changed; texts, places and tables stay shared. */
rfy_description *rfy_description_copy(rfy_arena *arena, const rfy_description *description);

enum { RFY_MOST_LEAVES = 512 };

typedef struct rfy_leaves {
    size_t n;
    double *number[RFY_MOST_LEAVES]; /* in the description given */
    rfy_dim dim;
    const char *label; /* of the part, as the user calls it: "stem", "wall 1 of bulb" */
    const char *part;  /* the name the path begins with */
    const char *key;   /* the last key */
} rfy_leaves;

/* Follows a path with the grammar of io/settings.h. NULL, or why it leads to no number (the
 * arena's). */
const char *rfy_leaves_find(rfy_arena *arena, const rfy_catalog *catalog,
                            rfy_description *description, const char *path, rfy_leaves *out);

/* Calls `visit` for the value of every field of dimension or number type that is given, with the
 * path to it. `label` as in rfy_leaves; maps by gas and curves come as a whole (first number). */
typedef void rfy_leaf_visit(void *context, const char *path, const char *label,
                            const rfy_field *field, const double *number);
void rfy_leaves_walk(rfy_arena *arena, const rfy_description *description, const char *list,
                     rfy_leaf_visit *visit, void *context);

#endif
