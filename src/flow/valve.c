#include <math.h>
#include <stdio.h>
#include "flow/kinds.h"

typedef struct valve {
    rfy_origin origin;
    const char *name;
    double bore, length, moves_in, seat_leak;
    int state, form;
} valve;

enum { GATE, ANGLE };
static const char *const forms[] = {"gate", "angle", NULL};

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(valve),
    RFY_BORE_FIELD(valve),
    RFY_LENGTH_FIELD(valve),
    {.key = "state",
     .type = RFY_F_CHOICE,
     .offset = offsetof(valve, state),
     .choices = rfy_open_closed,
     .assumed = "open",
     .help = "at the beginning"},
    {.key = "moves_in",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_TIME,
     .offset = offsetof(valve, moves_in),
     .min = 0,
     .max = 1e5,
     .assumed = "0 s",
     .help = "time from closed to open; the open area grows evenly"},
    {.key = "seat_leak",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_THROUGHPUT,
     .offset = offsetof(valve, seat_leak),
     .min = 0,
     .max = 1e3,
     .assumed = "tight",
     .help = "through the closed seat, one atmosphere against vacuum"},
    {.key = "form",
     .type = RFY_F_CHOICE,
     .offset = offsetof(valve, form),
     .choices = forms,
     .assumed = "gate",
     .help = "gate: straight through; angle: the flow turns by 90 deg inside"},
};
RFY_PIECE_RECORD(valve, valve, fields);
const char *const rfy_valve_short[] = {"bore", "length", NULL};

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const valve *v = values;
    rfy_shape_straight(shape, v->bore, v->length);
    if (v->form == ANGLE) {
        /* As a sharp bend: 1.33 (90/180) bores more of tube in molecular flow (Davis 1960, from
         * memory), one velocity head in viscous flow (order of magnitude, from memory). */
        shape->molecular_length += 1.33 * 0.5 * v->bore;
        shape->loss = 1.0;
    }
    shape->name = v->name;
    shape->is_valve = true;
    shape->state = v->state < 0 ? RFY_OPEN : v->state;
    shape->moves_in = isnan(v->moves_in) ? 0 : v->moves_in;
    shape->seat_leak = v->seat_leak;
    if (isnan(v->moves_in))
        shape->assumed = "opens and closes at once";
}

static void label(const void *values, char *text, size_t size) {
    const valve *v = values;
    if (v->name)
        snprintf(text, size, "%s", v->name);
    else
        snprintf(text, size, "valve %.4g mm", v->bore * 1e3);
}

const rfy_piece_kind rfy_valve_kind = {"valve", shape_of, label};
