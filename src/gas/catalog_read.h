/* Reading the data tables, apart from where their texts come from: tests feed broken ones. */
#ifndef RFY_GAS_CATALOG_READ_H
#define RFY_GAS_CATALOG_READ_H

#include "core/embedded.h"
#include "gas/catalog.h"

#define RFY_CATALOG_MESSAGE 320 /* bytes */

/* `tables` ends with a NULL name. On failure false, and message names table, line and column. The
 * units are not read here (catalog->units stays NULL), only their table. */
bool rfy_catalog_read(rfy_arena *arena, const rfy_embedded *tables, rfy_catalog *catalog,
                      char *message);

#endif
