#include <math.h>
#include <stdio.h>
#include "flow/kinds.h"

typedef struct trap {
    rfy_origin origin;
    const char *name;
    double conductance, volume;
    rfy_curve curve;
} trap;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(trap),
    {.key = "conductance",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_FLOW,
     .offset = offsetof(trap, conductance),
     .min = 0,
     .max = 1e4,
     .above_min = true,
     .help = "for air at 20 degC in molecular flow; other gases by the root of their mass"},
    RFY_GIVEN_CURVE_FIELD(trap, false),
    {.key = "volume",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_VOLUME,
     .required = true,
     .offset = offsetof(trap, volume),
     .min = 0,
     .max = 10,
     .above_min = true,
     .help = "gas volume inside"},
};
RFY_PIECE_RECORD(trap, trap, fields);
const char *const rfy_trap_short[] = {"conductance", "volume", NULL};

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const trap *t = values;
    shape->role = RFY_PIECE_GIVEN;
    shape->conductance = t->conductance;
    if (t->curve.n > 0)
        rfy_shape_given_curve(shape, &t->curve);
    if (isnan(t->conductance) == (t->curve.n == 0))
        shape->fault = (rfy_piece_fault){"conductance",
                                         t->curve.n ? "both `conductance` and `curve` are given"
                                                    : "the conductance is missing",
                                         "\"conductance\" (such as \"5 L/s\") or \"curve\""};
    shape->volume = t->volume;
    shape->name = t->name;
}

static void label(const void *values, char *text, size_t size) {
    const trap *t = values;
    snprintf(text, size, "%s", t->name ? t->name : "trap");
}

const rfy_piece_kind rfy_trap_kind = {"trap", shape_of, label};
