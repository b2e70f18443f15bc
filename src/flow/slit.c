#include <stdio.h>
#include "flow/kinds.h"
#include "flow/tables.h"

typedef struct slit {
    rfy_origin origin;
    const char *name, *material;
    double width, gap, length;
} slit;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(slit),
    {.key = "width",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(slit, width),
     .min = 0,
     .max = 100,
     .above_min = true,
     .help = "long side of the opening, at least ten gaps; its ends are not counted as walls"},
    {.key = "gap",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(slit, gap),
     .min = 0,
     .max = 1,
     .above_min = true,
     .help = "distance between the faces"},
    RFY_LENGTH_FIELD(slit),
    RFY_PIECE_MATERIAL_FIELD(slit),
};
RFY_PIECE_RECORD(slit, slit, fields);
const char *const rfy_slit_short[] = {"width", "gap", "length", NULL};

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const slit *s = values;
    double area = s->width * s->gap;
    shape->role = RFY_PIECE_OWN;
    shape->name = s->name;
    if (s->width < 10 * s->gap) {
        shape->fault = (rfy_piece_fault){"width", "the slit is less than ten gaps wide",
                                         "a wide slit; a \"duct\" counts all four walls"};
        return;
    }
    shape->own = (rfy_stretch_geometry){
        .section = RFY_SECTION_CHANNEL,
        .area = area,
        .radius = s->gap, /* half of the hydraulic diameter 2 gap */
        .end_area = {area, area},
        .body = 1 / rfy_slit_transmission(s->length / s->gap) - 1,
        .length = s->length,
        .viscous_length = 1.5 * s->length, /* between plates A gap^2/12, in a tube A radius^2/8 */
    };
    shape->volume = area * s->length;
    shape->wall_area = 2 * s->width * s->length;
    shape->material = s->material;
}

static void label(const void *values, char *text, size_t size) {
    const slit *s = values;
    snprintf(text, size, "slit %.4g mm x %.4g mm x %.4g m", s->width * 1e3, s->gap * 1e3,
             s->length);
}

const rfy_piece_kind rfy_slit_kind = {"slit", shape_of, label};
