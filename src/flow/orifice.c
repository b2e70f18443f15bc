#include <math.h>
#include <stdio.h>
#include "flow/kinds.h"

typedef struct orifice {
    rfy_origin origin;
    const char *name;
    double bore, thickness;
} orifice;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(orifice),
    RFY_BORE_FIELD(orifice),
    {.key = "thickness",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .offset = offsetof(orifice, thickness),
     .min = 0,
     .max = 1,
     .assumed = "0 mm (a sharp edge)",
     .help = "thickness of the plate"},
};
RFY_PIECE_RECORD(orifice, orifice, fields);
const char *const rfy_orifice_short[] = {"bore", "thickness", NULL};

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const orifice *o = values;
    double length = isnan(o->thickness) ? 0 : o->thickness;
    rfy_shape_straight(shape, o->bore, length);
    shape->role = RFY_PIECE_OWN;
    shape->own = rfy_tube_geometry(o->bore, length, length);
    shape->own.thin = length < o->bore; /* thicker ones run full and behave as a tube */
    shape->name = o->name;
}

static void label(const void *values, char *text, size_t size) {
    const orifice *o = values;
    snprintf(text, size, "orifice %.4g mm", o->bore * 1e3);
}

const rfy_piece_kind rfy_orifice_kind = {"orifice", shape_of, label};
