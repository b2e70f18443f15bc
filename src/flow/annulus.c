#include <math.h>
#include <stdio.h>
#include "flow/kinds.h"
#include "flow/tables.h"

typedef struct annulus {
    rfy_origin origin;
    const char *name, *material;
    double outer, inner, length;
} annulus;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(annulus),
    {.key = "outer",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(annulus, outer),
     .min = 0,
     .max = 10,
     .above_min = true,
     .help = "bore of the outer tube"},
    {.key = "inner",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(annulus, inner),
     .min = 0,
     .max = 10,
     .above_min = true,
     .help = "diameter of the rod or tube along its middle"},
    RFY_LENGTH_FIELD(annulus),
    RFY_PIECE_MATERIAL_FIELD(annulus),
};
RFY_PIECE_RECORD(annulus, annulus, fields);
const char *const rfy_annulus_short[] = {"outer", "inner", "length", NULL};

/* Laminar flow through a concentric annulus (the exact solution of the textbooks):
 * pi dp/(8 mu L) R0^4 (1 - k^2)[1 + k^2 - (1 - k^2)/u] with k = Ri/R0, u = ln 1/k. The bracket is
 * 2k (cosh u - sinh(u)/u), a power series for narrow gaps, where the plain form cancels. */
static double bracket(double k) {
    double u = -log(k), u2 = u * u;
    if (u < 0.3)
        return 2 * k * u2 * (1.0 / 3 + u2 * (1.0 / 30 + u2 * (1.0 / 840 + u2 / 45360)));
    return 1 + k * k - (1 - k * k) / u;
}

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const annulus *a = values;
    double outer = a->outer / 2, inner = a->inner / 2, ratio = inner / outer;
    shape->role = RFY_PIECE_OWN;
    shape->name = a->name;
    if (ratio > 1 - 1e-9) {
        shape->fault = (rfy_piece_fault){"inner", "what is inside fills the outer tube",
                                         "an inner diameter smaller than the outer one"};
        return;
    }
    double radius = outer - inner, area = RFY_PI * radius * (outer + inner);
    shape->own = (rfy_stretch_geometry){
        .section = RFY_SECTION_CHANNEL,
        .area = area,
        .radius = radius, /* half of the hydraulic diameter: the gap */
        .end_area = {area, area},
        .body = 1 / rfy_annulus_transmission(ratio, a->length / radius) - 1,
        .length = a->length,
        .viscous_length = a->length * radius * radius / (outer * outer * bracket(ratio)),
    };
    shape->volume = area * a->length;
    shape->wall_area = 2 * RFY_PI * (outer + inner) * a->length;
    shape->material = a->material;
    shape->inexact = 0.005;
}

static void label(const void *values, char *text, size_t size) {
    const annulus *a = values;
    snprintf(text, size, "annulus %.4g mm around %.4g mm x %.4g m", a->outer * 1e3, a->inner * 1e3,
             a->length);
}

const rfy_piece_kind rfy_annulus_kind = {"annulus", shape_of, label};
