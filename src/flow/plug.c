#include <math.h>
#include <stdio.h>
#include "flow/kinds.h"

typedef struct plug {
    rfy_origin origin;
    const char *name;
    double bore, length, pore, porosity, tortuosity;
} plug;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(plug),
    RFY_BORE_FIELD(plug),
    {.key = "length",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(plug, length),
     .min = 0,
     .max = 10,
     .above_min = true,
     .help = "thickness of the porous plug"},
    {.key = "pore",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(plug, pore),
     .min = 0,
     .max = 0.1,
     .above_min = true,
     .help = "diameter of a pore"},
    {.key = "porosity",
     .type = RFY_F_NUMBER,
     .required = true,
     .offset = offsetof(plug, porosity),
     .min = 0,
     .max = 0.95,
     .above_min = true,
     .help = "volume of the pores over the whole"},
    {.key = "tortuosity",
     .type = RFY_F_NUMBER,
     .offset = offsetof(plug, tortuosity),
     .min = 1,
     .max = 10,
     .assumed = "1.5 (common practice, no source)",
     .help = "length of a pore over the thickness of the plug"},
};
RFY_PIECE_RECORD(plug, plug, fields);
const char *const rfy_plug_short[] = {"bore", "length", "pore", "porosity", NULL};

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const plug *p = values;
    double winding = isnan(p->tortuosity) ? 1.5 : p->tortuosity;
    double section = RFY_PI * p->bore * p->bore / 4;
    shape->role = RFY_PIECE_OWN;
    shape->name = p->name;
    shape->bore = p->bore;
    if (p->pore >= p->bore) {
        shape->fault = (rfy_piece_fault){"pore", "a pore is as wide as the plug",
                                         "pores smaller than the bore"};
        return;
    }
    /* Equal winding pores side by side. */
    shape->own = rfy_tube_geometry(p->pore, winding * p->length, winding * p->length);
    shape->own.area = shape->own.end_area[0] = shape->own.end_area[1] =
        p->porosity * section / winding;
    shape->volume = p->porosity * section * p->length;
    shape->wall_area = RFY_PI * p->bore * p->length;
    if (isnan(p->tortuosity))
        shape->assumed =
            "its pores are 1.5 times as long as it is thick (common practice, no source)";
    shape->inexact = 0.3;
}

static void label(const void *values, char *text, size_t size) {
    const plug *p = values;
    snprintf(text, size, "porous plug %.4g mm x %.4g mm", p->bore * 1e3, p->length * 1e3);
}

const rfy_piece_kind rfy_plug_kind = {"plug", shape_of, label};
