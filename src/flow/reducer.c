#include <math.h>
#include <stdio.h>
#include "flow/kinds.h"
#include "flow/tables.h"

typedef struct reducer {
    rfy_origin origin;
    const char *name, *material;
    double from, to, length;
} reducer;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(reducer),
    {.key = "from",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(reducer, from),
     .min = 0,
     .max = 10,
     .above_min = true,
     .help = "bore at the end that comes first in the line"},
    {.key = "to",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(reducer, to),
     .min = 0,
     .max = 10,
     .above_min = true,
     .help = "bore at the other end"},
    RFY_LENGTH_FIELD(reducer),
    RFY_PIECE_MATERIAL_FIELD(reducer),
};
RFY_PIECE_RECORD(reducer, reducer, fields);
const char *const rfy_reducer_short[] = {"from", "to", "length", NULL};

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const reducer *r = values;
    double end[2] = {r->from / 2, r->to / 2};
    double small = fmin(end[0], end[1]), large = fmax(end[0], end[1]), rho = small / large;
    double area = RFY_PI * small * small;
    shape->role = RFY_PIECE_OWN;
    shape->own = (rfy_stretch_geometry){
        .section = RFY_SECTION_TUBE,
        .area = area,
        .radius = small,
        .end_area = {RFY_PI * end[0] * end[0], RFY_PI * end[1] * end[1]},
        .body = 1 / rfy_cone_transmission(large / small, r->length / small) - (1 + rho * rho) / 2,
        /* diffusion of one gas through another: the integral of dz/area, referred to the small end
         */
        .length = r->length * rho,
        /* lubrication theory: the integral of dz/r^4 (exact for a slender cone) */
        .viscous_length = r->length * rho * (1 + rho + rho * rho) / 3,
    };
    shape->volume = RFY_PI / 3 * r->length * (small * small + small * large + large * large);
    shape->wall_area = RFY_PI * (small + large) * hypot(r->length, large - small);
    shape->material = r->material;
    shape->name = r->name;
    shape->inexact = 0.005;
}

static void label(const void *values, char *text, size_t size) {
    const reducer *r = values;
    snprintf(text, size, "reducer %.4g mm to %.4g mm", r->from * 1e3, r->to * 1e3);
}

const rfy_piece_kind rfy_reducer_kind = {"reducer", shape_of, label};
