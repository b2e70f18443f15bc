/* Abbreviations of a description, written out in the JSON tree before it is read. */
#ifndef RFY_IO_EXPAND_H
#define RFY_IO_EXPAND_H

#include "io/read_record.h"

/* Completes every list element that has "like": "port A" with the keys of that element of the same
 * list which it does not have itself (all but the name). */
void rfy_expand_likes(rfy_reader *reader);
/* True when the object had a "like". */
bool rfy_is_copy(const rfy_reader *reader, const cJSON *object);
/* True when the object's "like" could not be followed: what it lacks is then no fault of its own.
 */
bool rfy_like_failed(const rfy_reader *reader, const cJSON *object);

/* Turns the short form of a piece ("tube 16 mm x 1 m") into {"tube": {…}}, in place of the text in
 * its list. Returns the long form (a node that is no text comes back as it is), NULL after a
 * problem. */
cJSON *rfy_expand_piece(rfy_reader *reader, cJSON *list, cJSON *piece, const rfy_variants *variants,
                        const char *path);

#endif
