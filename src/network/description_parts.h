/* Field tables of what a chamber has, of bakes and of the seal-off, for description.c. */
#ifndef RFY_NETWORK_DESCRIPTION_PARTS_H
#define RFY_NETWORK_DESCRIPTION_PARTS_H

#include "core/record.h"

extern const rfy_record rfy_wall_record, rfy_seal_record, rfy_leak_record, rfy_trapped_record,
    rfy_getter_record, rfy_condensate_record, rfy_bake_record, rfy_seal_off_record;

#endif
