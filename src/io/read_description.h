/* A description in JSON to a rfy_description. */
#ifndef RFY_IO_READ_DESCRIPTION_H
#define RFY_IO_READ_DESCRIPTION_H

#include "gas/catalog.h"
#include "io/read_record.h"
#include "network/description.h"
#include "rarefy/rarefy.h"

/* Everything read lives in `arena`. False when there were errors: all of them are then in
 * `problems`, and *out is NULL. Checks form, dimensions, ranges and names; what the parts have to
 * do with each other is checked when the network is put together. Problems of a setting carry line
 * 0 and its number, from 1, as column. */
bool rfy_read_description(rfy_arena *arena, const rfy_catalog *catalog, const char *text,
                          size_t length, const rfy_setting *settings, size_t n_settings,
                          rfy_problems *problems, rfy_description **out);
/* The same, telling where each setting's value has gone: `slot` has room for n_settings. */
bool rfy_read_description_slots(rfy_arena *arena, const rfy_catalog *catalog, const char *text,
                                size_t length, const rfy_setting *settings, size_t n_settings,
                                rfy_problems *problems, rfy_slot *slot, rfy_description **out);

#endif
