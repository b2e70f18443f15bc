#include "flow/kinds.h"

const char *const rfy_open_closed[] = {"open", "closed", NULL};

/* One line a kind. */
static const rfy_variant kinds[] = {
    {.name = "tube", .help = "straight tube of circular bore", .record = &rfy_tube_record,
     .kind = &rfy_tube_kind, .short_keys = rfy_tube_short},
    {.name = "elbow", .help = "bend of circular bore", .record = &rfy_elbow_record,
     .kind = &rfy_elbow_kind, .short_keys = rfy_elbow_short},
    {.name = "orifice", .help = "hole in a plate", .record = &rfy_orifice_record,
     .kind = &rfy_orifice_kind, .short_keys = rfy_orifice_short},
    {.name = "valve", .help = "valve; when open a short tube of its bore",
     .record = &rfy_valve_record, .kind = &rfy_valve_kind, .short_keys = rfy_valve_short},
    {.name = "trap", .help = "trap or filter of known conductance", .record = &rfy_trap_record,
     .kind = &rfy_trap_kind, .short_keys = rfy_trap_short},
    {.name = "bellows", .help = "corrugated metal hose", .record = &rfy_bellows_record,
     .kind = &rfy_bellows_kind, .short_keys = rfy_bellows_short},
};

const rfy_variants rfy_piece_kinds = {kinds, sizeof kinds / sizeof *kinds};
