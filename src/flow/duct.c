#include <math.h>
#include <stdio.h>
#include "flow/kinds.h"
#include "flow/tables.h"

typedef struct duct {
    rfy_origin origin;
    const char *name, *material;
    double width, height, length;
} duct;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(duct),
    {.key = "width",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(duct, width),
     .min = 0,
     .max = 10,
     .above_min = true,
     .help = "inner width"},
    {.key = "height",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(duct, height),
     .min = 0,
     .max = 10,
     .above_min = true,
     .help = "inner height; which of the two is larger does not matter"},
    RFY_LENGTH_FIELD(duct),
    RFY_PIECE_MATERIAL_FIELD(duct),
};
RFY_PIECE_RECORD(duct, duct, fields);
const char *const rfy_duct_short[] = {"width", "height", "length", NULL};

/* Laminar flow in a rectangle over that between endless plates of the same gap, slenderness =
 * gap/width <= 1: 1 - (192/pi^5) (b/a) sum over odd n of tanh(n pi a/2b)/n^5 (Boussinesq 1868). */
static double share_of_plates(double slenderness) {
    double sum = 0;
    for (int n = 1; n < 40; n += 2)
        sum += tanh(n * RFY_PI / (2 * slenderness)) / pow(n, 5);
    return 1 - 192 / pow(RFY_PI, 5) * slenderness * sum;
}

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const duct *d = values;
    double a = fmax(d->width, d->height), b = fmin(d->width, d->height);
    double area = a * b, radius = a * b / (a + b);
    shape->role = RFY_PIECE_OWN;
    shape->own = (rfy_stretch_geometry){
        .section = RFY_SECTION_CHANNEL,
        .area = area,
        .radius = radius,
        .end_area = {area, area},
        .body = 1 / rfy_duct_transmission(a / b, d->length / b) - 1,
        .length = d->length,
        /* plates pass A b^2/12, a tube of half the hydraulic diameter A radius^2/8 */
        .viscous_length = d->length * 1.5 * radius * radius / (b * b * share_of_plates(b / a)),
    };
    shape->volume = area * d->length;
    shape->wall_area = 2 * (a + b) * d->length;
    shape->material = d->material;
    shape->name = d->name;
    shape->inexact = 0.005;
}

static void label(const void *values, char *text, size_t size) {
    const duct *d = values;
    snprintf(text, size, "duct %.4g mm x %.4g mm x %.4g m", d->width * 1e3, d->height * 1e3,
             d->length);
}

const rfy_piece_kind rfy_duct_kind = {"duct", shape_of, label};
