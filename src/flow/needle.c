#include <math.h>
#include <stdio.h>
#include "flow/kinds.h"

typedef struct needle {
    rfy_origin origin;
    const char *name;
    double bore, length, moves_in, seat_leak;
    rfy_curve curve;
    int state, without_mains;
} needle;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(needle),
    RFY_BORE_FIELD(needle),
    RFY_LENGTH_FIELD(needle),
    RFY_GIVEN_CURVE_FIELD(needle, true),
    RFY_VALVE_FIELDS(needle, "conductance"),
};
RFY_PIECE_RECORD(needle, needle, fields);

void rfy_shape_given_curve(rfy_piece_shape *shape, const rfy_curve *curve) {
    bool rising = curve->n > 1 && curve->x[1] > curve->x[0];
    shape->role = RFY_PIECE_GIVEN;
    shape->curve = curve;
    for (size_t i = 0; i < curve->n; i++) {
        bool even =
            i == 0 || (curve->x[i] != curve->x[i - 1] && (curve->x[i] > curve->x[i - 1]) == rising);
        if (!(curve->x[i] > 0) || !(curve->y[i] > 0) || !even)
            shape->fault = (rfy_piece_fault){
                "curve", "the conductance curve does not run evenly",
                "pressures above zero, rising or falling throughout, conductances above zero"};
    }
}

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const needle *v = values;
    rfy_shape_straight(shape, v->bore, v->length);
    rfy_shape_given_curve(shape, &v->curve);
    rfy_shape_valve(shape, v->name, v->state, v->moves_in, v->seat_leak, v->without_mains);
}

static void label(const void *values, char *text, size_t size) {
    const needle *v = values;
    snprintf(text, size, "%s", v->name ? v->name : "needle valve");
}

const rfy_piece_kind rfy_needle_kind = {"needle", shape_of, label};
