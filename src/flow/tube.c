#include <math.h>
#include <stdio.h>
#include "flow/kinds.h"

typedef struct tube {
    rfy_origin origin;
    const char *name, *material;
    double bore, length, roughness;
} tube;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(tube),
    RFY_BORE_FIELD(tube),
    RFY_LENGTH_FIELD(tube),
    RFY_PIECE_MATERIAL_FIELD(tube),
    {.key = "roughness",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .offset = offsetof(tube, roughness),
     .min = 0,
     .max = 0.01,
     .assumed = "0 mm (smooth)",
     .help = "height of the wall's roughness, matters in turbulent flow only"},
};
RFY_PIECE_RECORD(tube, tube, fields);
const char *const rfy_tube_short[] = {"bore", "length", NULL};

void rfy_shape_straight(rfy_piece_shape *shape, double bore, double length) {
    shape->role = RFY_PIECE_BORE;
    shape->bore = bore;
    shape->molecular_length = shape->viscous_length = length;
    shape->volume = RFY_PI * bore * bore / 4 * length;
    shape->wall_area = RFY_PI * bore * length;
}

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const tube *t = values;
    rfy_shape_straight(shape, t->bore, t->length);
    shape->roughness = isnan(t->roughness) ? 0 : t->roughness;
    shape->material = t->material;
    shape->name = t->name;
}

static void label(const void *values, char *text, size_t size) {
    const tube *t = values;
    snprintf(text, size, "tube %.4g mm x %.4g m", t->bore * 1e3, t->length);
}

const rfy_piece_kind rfy_tube_kind = {"tube", shape_of, label};
