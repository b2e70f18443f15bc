#include <math.h>
#include <stdio.h>
#include "flow/kinds.h"

typedef struct bed {
    rfy_origin origin;
    const char *name;
    double bore, length, grain, voids;
} bed;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(bed),
    RFY_BORE_FIELD(bed),
    {.key = "length",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(bed, length),
     .min = 0,
     .max = 100,
     .above_min = true,
     .help = "of the filling"},
    {.key = "grain",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(bed, grain),
     .min = 0,
     .max = 1,
     .above_min = true,
     .help = "diameter of a ball that stands for the pellets (6 volume/surface)"},
    {.key = "void_fraction",
     .type = RFY_F_NUMBER,
     .offset = offsetof(bed, voids),
     .min = 0.05,
     .max = 0.95,
     .assumed = "0.4 (balls poured at random)",
     .help = "space between the pellets over the whole"},
};
RFY_PIECE_RECORD(bed, bed, fields);
const char *const rfy_bed_short[] = {"bore", "length", "grain", NULL};

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const bed *b = values;
    const double tortuosity = sqrt(2.5);
    double e = isnan(b->voids) ? 0.4 : b->voids, section = RFY_PI * b->bore * b->bore / 4;
    shape->role = RFY_PIECE_OWN;
    shape->name = b->name;
    shape->bore = b->bore;
    if (b->grain >= b->bore) {
        shape->fault = (rfy_piece_fault){"grain", "the grains are as wide as the bore",
                                         "grains smaller than the bore"};
        return;
    }
    /* A bundle of winding tubes with the voids' volume and hydraulic radius, and sqrt(2.5) times
     * the bed's length: in laminar flow the bed of Kozeny and Carman, permeability e^3 d^2/(180 (1
     * - e)^2) (Carman 1937). */
    double hole = 2 * e * b->grain / (3 * (1 - e)), length = tortuosity * b->length;
    shape->own = rfy_tube_geometry(hole, length, length);
    shape->own.area = shape->own.end_area[0] = shape->own.end_area[1] = e * section / tortuosity;
    /* Inertia between grains, 1.75 (1 - e)/e^3 rho U^2/d a length (Ergun 1952), as a loss of the
     * velocity in the tubes, which is sqrt(2.5)/e times U. */
    shape->own.loss = 3.5 * (1 - e) / (e * b->grain) * b->length / (tortuosity * tortuosity);
    shape->volume = e * section * b->length;
    shape->wall_area = RFY_PI * b->bore * b->length;
    if (isnan(b->voids))
        shape->assumed = "0.4 of it is voids (balls poured at random)";
    shape->inexact = 0.3;
}

static void label(const void *values, char *text, size_t size) {
    const bed *b = values;
    snprintf(text, size, "bed of %.4g mm grains, %.4g mm x %.4g m", b->grain * 1e3, b->bore * 1e3,
             b->length);
}

const rfy_piece_kind rfy_bed_kind = {"bed", shape_of, label};
