#include <math.h>
#include <stdio.h>
#include "flow/kinds.h"

typedef struct needle {
    rfy_origin origin;
    const char *name;
    double bore, length, moves_in, seat_leak;
    rfy_curve curve;
    int state;
} needle;

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(needle),
    RFY_BORE_FIELD(needle),
    RFY_LENGTH_FIELD(needle),
    RFY_GIVEN_CURVE_FIELD(needle, true),
    {.key = "state",
     .type = RFY_F_CHOICE,
     .offset = offsetof(needle, state),
     .choices = rfy_open_closed,
     .assumed = "open",
     .help = "at the beginning"},
    {.key = "moves_in",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_TIME,
     .offset = offsetof(needle, moves_in),
     .min = 0,
     .max = 1e5,
     .assumed = "0 s",
     .help = "time from closed to open; the conductance grows evenly"},
    {.key = "seat_leak",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_THROUGHPUT,
     .offset = offsetof(needle, seat_leak),
     .min = 0,
     .max = 1e3,
     .assumed = "tight",
     .help = "through the closed seat, one atmosphere against vacuum"},
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
    shape->name = v->name;
    shape->is_valve = true;
    shape->state = v->state < 0 ? RFY_OPEN : v->state;
    shape->moves_in = isnan(v->moves_in) ? 0 : v->moves_in;
    shape->seat_leak = v->seat_leak;
    if (isnan(v->moves_in))
        shape->assumed = "opens and closes at once";
}

static void label(const void *values, char *text, size_t size) {
    const needle *v = values;
    snprintf(text, size, "%s", v->name ? v->name : "needle valve");
}

const rfy_piece_kind rfy_needle_kind = {"needle", shape_of, label};
