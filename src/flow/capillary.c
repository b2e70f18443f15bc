#include <stdio.h>
#include "flow/kinds.h"

typedef struct capillary {
    rfy_origin origin;
    const char *name;
    double bore, length;
    int count;
} capillary;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(capillary),
    {.key = "bore",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(capillary, bore),
     .min = 0,
     .max = 1,
     .above_min = true,
     .help = "inner diameter of one capillary"},
    RFY_LENGTH_FIELD(capillary),
    {.key = "count",
     .type = RFY_F_INTEGER,
     .offset = offsetof(capillary, count),
     .min = 1,
     .max = 1e6,
     .assumed = "1",
     .help = "equal capillaries side by side"},
};
RFY_PIECE_RECORD(capillary, capillary, fields);
const char *const rfy_capillary_short[] = {"bore", "length", NULL};

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const capillary *c = values;
    double count = c->count < 1 ? 1 : c->count;
    shape->role = RFY_PIECE_OWN;
    shape->name = c->name;
    shape->own = rfy_tube_geometry(c->bore, c->length, c->length);
    double area = count * shape->own.area;
    shape->own.area = shape->own.end_area[0] = shape->own.end_area[1] = area;
    shape->volume = area * c->length;
    shape->wall_area = 4 * area / c->bore * c->length;
}

static void label(const void *values, char *text, size_t size) {
    const capillary *c = values;
    if (c->count > 1)
        snprintf(text, size, "%d capillaries %.4g mm x %.4g m", c->count, c->bore * 1e3, c->length);
    else
        snprintf(text, size, "capillary %.4g mm x %.4g m", c->bore * 1e3, c->length);
}

const rfy_piece_kind rfy_capillary_kind = {"capillary", shape_of, label};
