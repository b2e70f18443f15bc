#include "flow/kinds.h"

const char *const rfy_open_closed[] = {"open", "closed", NULL};

/* One line a kind. */
static const rfy_variant kinds[] = {
    {.name = "tube",
     .help = "straight tube of circular bore",
     .record = &rfy_tube_record,
     .kind = &rfy_tube_kind,
     .short_keys = rfy_tube_short},
    {.name = "elbow",
     .help = "bend of circular bore",
     .record = &rfy_elbow_record,
     .kind = &rfy_elbow_kind,
     .short_keys = rfy_elbow_short},
    {.name = "orifice",
     .help = "hole in a plate",
     .record = &rfy_orifice_record,
     .kind = &rfy_orifice_kind,
     .short_keys = rfy_orifice_short},
    {.name = "valve",
     .help = "valve; when open a short tube of its bore",
     .record = &rfy_valve_record,
     .kind = &rfy_valve_kind,
     .short_keys = rfy_valve_short},
    {.name = "trap",
     .help = "trap or filter of known conductance",
     .record = &rfy_trap_record,
     .kind = &rfy_trap_kind,
     .short_keys = rfy_trap_short},
    {.name = "bellows",
     .help = "corrugated metal hose",
     .record = &rfy_bellows_record,
     .kind = &rfy_bellows_kind,
     .short_keys = rfy_bellows_short},
    {.name = "reducer",
     .help = "cone between two bores",
     .record = &rfy_reducer_record,
     .kind = &rfy_reducer_kind,
     .short_keys = rfy_reducer_short},
    {.name = "duct",
     .help = "straight duct of rectangular section",
     .record = &rfy_duct_record,
     .kind = &rfy_duct_kind,
     .short_keys = rfy_duct_short},
    {.name = "slit",
     .help = "gap between wide parallel faces",
     .record = &rfy_slit_record,
     .kind = &rfy_slit_kind,
     .short_keys = rfy_slit_short},
    {.name = "annulus",
     .help = "gap between a tube and a rod along its middle",
     .record = &rfy_annulus_record,
     .kind = &rfy_annulus_kind,
     .short_keys = rfy_annulus_short},
    {.name = "mesh",
     .help = "perforated plate, gauze or baffle across the bore",
     .record = &rfy_mesh_record,
     .kind = &rfy_mesh_kind,
     .short_keys = rfy_mesh_short},
    {.name = "bed",
     .help = "filling of pellets or grains",
     .record = &rfy_bed_record,
     .kind = &rfy_bed_kind,
     .short_keys = rfy_bed_short},
    {.name = "plug",
     .help = "porous plug, by its pores",
     .record = &rfy_plug_record,
     .kind = &rfy_plug_kind,
     .short_keys = rfy_plug_short},
    {.name = "capillary",
     .help = "capillary or a bundle of them",
     .record = &rfy_capillary_record,
     .kind = &rfy_capillary_kind,
     .short_keys = rfy_capillary_short},
    {.name = "needle",
     .help = "valve whose conductance is given over pressure",
     .record = &rfy_needle_record,
     .kind = &rfy_needle_kind},
};

const rfy_variants rfy_piece_kinds = {kinds, sizeof kinds / sizeof *kinds};

bool rfy_piece_is_sound(const rfy_piece_shape *shape, const void *values, rfy_problems *problems) {
    if (!shape->fault.key)
        return true;
    rfy_place at =
        rfy_place_of(values, shape->fault.key); /* every struct of values begins with its origin */
    rfy_problem_add(problems, RFY_ERROR, &at, shape->fault.allowed, NULL, "%s", shape->fault.what);
    return false;
}
