#include <math.h>
#include <stdio.h>
#include "flow/kinds.h"

typedef struct bellows {
    rfy_origin origin;
    const char *name, *material;
    double bore, length, factor;
} bellows;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(bellows),
    RFY_BORE_FIELD(bellows),
    RFY_LENGTH_FIELD(bellows),
    {.key = "factor",
     .type = RFY_F_NUMBER,
     .offset = offsetof(bellows, factor),
     .min = 1,
     .max = 10,
     .assumed = "1.5 (common practice, no source)",
     .help = "how much longer a smooth tube of the same bore resists as much"},
    RFY_PIECE_MATERIAL_FIELD(bellows),
};
RFY_PIECE_RECORD(bellows, bellows, fields);
const char *const rfy_bellows_short[] = {"bore", "length", NULL};

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const bellows *b = values;
    double factor = isnan(b->factor) ? 1.5 : b->factor;
    rfy_shape_straight(shape, b->bore, b->length);
    shape->molecular_length = shape->viscous_length = b->length * factor;
    /* The corrugations roughly triple the wall and add a fifth to the volume (common practice, no
     * source). */
    shape->wall_area *= 3;
    shape->volume *= 1.2;
    if (isnan(b->factor))
        shape->assumed =
            "resists like 1.5 times its length of smooth tube (common practice, no source)";
    shape->material = b->material;
    shape->name = b->name;
    shape->inexact = 0.3;
}

static void label(const void *values, char *text, size_t size) {
    const bellows *b = values;
    snprintf(text, size, "bellows %.4g mm x %.4g m", b->bore * 1e3, b->length);
}

const rfy_piece_kind rfy_bellows_kind = {"bellows", shape_of, label};
