#include <stdio.h>
#include "flow/kinds.h"

typedef struct mesh {
    rfy_origin origin;
    const char *name;
    double bore, open, hole, thickness;
} mesh;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(mesh),
    RFY_BORE_FIELD(mesh),
    {.key = "open_fraction",
     .type = RFY_F_NUMBER,
     .required = true,
     .offset = offsetof(mesh, open),
     .min = 0,
     .max = 0.95,
     .above_min = true,
     .help = "area of all holes over the section of the bore"},
    {.key = "hole",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(mesh, hole),
     .min = 0,
     .max = 1,
     .above_min = true,
     .help = "diameter of one hole"},
    {.key = "thickness",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .required = true,
     .offset = offsetof(mesh, thickness),
     .min = 0,
     .max = 1,
     .help = "of the plate or gauze"},
};
RFY_PIECE_RECORD(mesh, mesh, fields);
const char *const rfy_mesh_short[] = {"bore", "open_fraction", "hole", "thickness", NULL};

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const mesh *m = values;
    double section = RFY_PI * m->bore * m->bore / 4;
    shape->role = RFY_PIECE_OWN;
    shape->name = m->name;
    shape->bore = m->bore;
    if (m->hole * m->hole > m->open * m->bore * m->bore * (1 + 1e-9)) {
        shape->fault = (rfy_piece_fault){"hole", "the open fraction is less than one hole",
                                         "smaller holes, or an \"orifice\" for a single one"};
        return;
    }
    /* Holes side by side, each a short tube (Clausing 1932); the flow draws together in front of
     * the plate as into a contraction by the open fraction. */
    shape->own = rfy_tube_geometry(m->hole, m->thickness, m->thickness);
    shape->own.area = shape->own.end_area[0] = shape->own.end_area[1] = m->open * section;
    shape->own.thin = m->thickness < m->hole;
    shape->volume = m->open * section * m->thickness;
    shape->wall_area = 2 * (1 - m->open) * section + 4 * m->open * section / m->hole * m->thickness;
}

static void label(const void *values, char *text, size_t size) {
    const mesh *m = values;
    snprintf(text, size, "mesh of %.4g mm holes, %.3g %% open", m->hole * 1e3, m->open * 100);
}

const rfy_piece_kind rfy_mesh_kind = {"mesh", shape_of, label};
