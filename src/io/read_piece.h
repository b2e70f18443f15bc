/* One piece outside a description: a kind or a short form, and values by key. */
#ifndef RFY_IO_READ_PIECE_H
#define RFY_IO_READ_PIECE_H

#include "gas/catalog.h"
#include "rarefy/rarefy.h"

typedef struct rfy_piece_read {
    rfy_piece_desc piece;
    const char **assumed; /* "factor: 1.5 (common practice, no source)", for keys left out */
    size_t n_assumed;
} rfy_piece_read;

/* Fills *out; what is read lives in `arena`. The path of a problem is "tube/bore". RFY_USAGE when
 * the piece is not described as its kind wants it, RFY_BAD_INPUT when a value is wrong. */
rfy_status rfy_read_piece(rfy_arena *arena, const rfy_catalog *catalog, const char *text,
                          const rfy_setting *settings, size_t n_settings, rfy_problems *problems,
                          rfy_piece_read *out);

/* True for a key that has no say in the flow: the piece's own name, what its wall gives off. */
bool rfy_piece_key_is_idle(const rfy_field *field);

#endif
