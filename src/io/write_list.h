/* Parts of `rarefy list`: tables of data/ here, kinds of pieces and pumps in write_list_kinds.c. */
#ifndef RFY_IO_WRITE_LIST_H
#define RFY_IO_WRITE_LIST_H

#include "core/record.h"
#include "io/write_common.h"

/* Every kind with its keys, what each takes, whether it is required, and what is assumed without
 * it. `base` holds the keys that all kinds share, or is NULL. */
void rfy_page_kinds(rfy_page *page, const rfy_variants *kinds, const rfy_record *base);
void rfy_json_kinds(rfy_json *json, const rfy_variants *kinds, const rfy_record *base);

/* How actions and conditions are written, and the keys of procedure, rules, faults and limits. */
void rfy_page_actions(rfy_page *page);
void rfy_json_actions(rfy_json *json);

#endif
