#include <math.h>
#include <stdio.h>
#include "flow/kinds.h"

typedef struct valve {
    rfy_origin origin;
    const char *name;
    double bore, length, moves_in, seat_leak;
    int state, form, without_mains;
} valve;

enum { GATE, ANGLE };
const char *const rfy_without_mains[] = {"stays", "closes", "opens", NULL};
static const char *const forms[] = {"gate", "angle", NULL};

static const rfy_field fields[] = {
    RFY_PIECE_NAME_FIELD(valve),
    RFY_BORE_FIELD(valve),
    RFY_LENGTH_FIELD(valve),
    RFY_VALVE_FIELDS(valve, "open area"),
    {.key = "form",
     .type = RFY_F_CHOICE,
     .offset = offsetof(valve, form),
     .choices = forms,
     .assumed = "gate",
     .help = "gate: straight through; angle: the flow turns by 90 deg inside"},
};
RFY_PIECE_RECORD(valve, valve, fields);
const char *const rfy_valve_short[] = {"bore", "length", NULL};

void rfy_shape_valve(rfy_piece_shape *shape, const char *name, int state, double moves_in,
                     double seat_leak, int without_mains) {
    shape->without_mains = without_mains < 0 ? 0 : without_mains;
    shape->name = name;
    shape->is_valve = true;
    shape->state = state < 0 ? RFY_OPEN : state;
    shape->moves_in = isnan(moves_in) ? 0 : moves_in;
    shape->seat_leak = seat_leak;
    if (isnan(moves_in))
        shape->assumed = "opens and closes at once";
}

static void shape_of(const void *values, rfy_piece_shape *shape) {
    const valve *v = values;
    rfy_shape_straight(shape, v->bore, v->length);
    if (v->form == ANGLE) {
        /* As a sharp bend: 1.33 (90/180) bores more of tube in molecular flow (Davis 1960, from
         * memory), one velocity head in viscous flow (order of magnitude, from memory). */
        shape->molecular_length += 1.33 * 0.5 * v->bore;
        shape->loss = 1.0;
    }
    rfy_shape_valve(shape, v->name, v->state, v->moves_in, v->seat_leak, v->without_mains);
}

static void label(const void *values, char *text, size_t size) {
    const valve *v = values;
    if (v->name)
        snprintf(text, size, "%s", v->name);
    else
        snprintf(text, size, "valve %.4g mm", v->bore * 1e3);
}

const rfy_piece_kind rfy_valve_kind = {"valve", shape_of, label};
