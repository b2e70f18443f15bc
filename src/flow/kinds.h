/* The piece kinds, one file each; only piece.c and the kinds themselves need this. */
#ifndef RFY_FLOW_KINDS_H
#define RFY_FLOW_KINDS_H

#include "flow/piece.h"

#define RFY_DECLARE_PIECE(kind)                                                                    \
    extern const rfy_record rfy_##kind##_record;                                                   \
    extern const rfy_piece_kind rfy_##kind##_kind;                                                 \
    extern const char *const rfy_##kind##_short[]

RFY_DECLARE_PIECE(tube);
RFY_DECLARE_PIECE(elbow);
RFY_DECLARE_PIECE(orifice);
RFY_DECLARE_PIECE(valve);
RFY_DECLARE_PIECE(trap);
RFY_DECLARE_PIECE(bellows);
RFY_DECLARE_PIECE(reducer);
RFY_DECLARE_PIECE(duct);
RFY_DECLARE_PIECE(slit);
RFY_DECLARE_PIECE(annulus);
RFY_DECLARE_PIECE(mesh);
RFY_DECLARE_PIECE(bed);
RFY_DECLARE_PIECE(plug);
RFY_DECLARE_PIECE(capillary);
RFY_DECLARE_PIECE(needle);

#define RFY_PI 3.14159265358979323846

/* Volume and wall of a straight stretch, for the kinds that are one. */
void rfy_shape_straight(rfy_piece_shape *shape, double bore, double length);

/* Marks a piece as a valve with the values of RFY_VALVE_FIELDS; state < 0 and a NaN time are those
 * the description leaves out. */
void rfy_shape_valve(rfy_piece_shape *shape, const char *name, int state, double moves_in,
                     double seat_leak, int without_mains);
extern const char *const rfy_without_mains[];

/* A conductance given by a curve over mean pressure; a fault when it does not run evenly. */
void rfy_shape_given_curve(rfy_piece_shape *shape, const rfy_curve *curve);

#define RFY_PIECE_RECORD(kind, type, fields)                                                       \
    const rfy_record rfy_##kind##_record = {.name = #kind,                                         \
                                            .size = sizeof(type),                                  \
                                            .field = (fields),                                     \
                                            .n = sizeof(fields) / sizeof(fields)[0]}

/* Fields that several kinds share. */
#define RFY_BORE_FIELD(T)                                                                          \
    {                                                                                              \
        .key = "bore", .type = RFY_F_QUANTITY, .dim = RFY_DIM_LENGTH, .required = true,            \
        .offset = offsetof(T, bore), .min = 0, .max = 10, .above_min = true,                       \
        .help = "inner diameter"                                                                   \
    }
#define RFY_LENGTH_FIELD(T)                                                                        \
    {                                                                                              \
        .key = "length", .type = RFY_F_QUANTITY, .dim = RFY_DIM_LENGTH, .required = true,          \
        .offset = offsetof(T, length), .min = 0, .max = 1e4, .above_min = true,                    \
        .help = "length along the axis"                                                            \
    }
#define RFY_GIVEN_CURVE_FIELD(T, is_required)                                                      \
    {                                                                                              \
        .key = "curve", .type = RFY_F_CURVE, .dim = RFY_DIM_PRESSURE, .dim2 = RFY_DIM_FLOW,        \
        .required = (is_required), .offset = offsetof(T, curve), .min = 0, .max = 1e7,             \
        .help = "points [mean pressure, conductance] for air at 20 degC; constant beyond the ends" \
    }
#define RFY_PIECE_NAME_FIELD(T)                                                                    \
    { .key = "name", .type = RFY_F_NAME, .offset = offsetof(T, name), .help = "unique in the file" }
#define RFY_VALVE_FIELDS(T, what_grows)                                                            \
    {.key = "state",                                                                               \
     .type = RFY_F_CHOICE,                                                                         \
     .offset = offsetof(T, state),                                                                 \
     .choices = rfy_open_closed,                                                                   \
     .assumed = "open",                                                                            \
     .help = "at the beginning"},                                                                  \
        {.key = "moves_in",                                                                        \
         .type = RFY_F_QUANTITY,                                                                   \
         .dim = RFY_DIM_TIME,                                                                      \
         .offset = offsetof(T, moves_in),                                                          \
         .min = 0,                                                                                 \
         .max = 1e5,                                                                               \
         .assumed = "0 s",                                                                         \
         .help = "time from closed to open; the " what_grows " grows evenly"},                     \
        {.key = "seat_leak",                                                                       \
         .type = RFY_F_QUANTITY,                                                                   \
         .dim = RFY_DIM_THROUGHPUT,                                                                \
         .offset = offsetof(T, seat_leak),                                                         \
         .min = 0,                                                                                 \
         .max = 1e3,                                                                               \
         .assumed = "tight",                                                                       \
         .help = "through the closed seat, one atmosphere against vacuum"},                        \
    {                                                                                              \
        .key = "without_mains", .type = RFY_F_CHOICE, .offset = offsetof(T, without_mains),        \
        .choices = rfy_without_mains, .assumed = "stays",                                          \
        .help = "where it goes by itself when the mains fail"                                      \
    }
#define RFY_PIECE_MATERIAL_FIELD(T)                                                                \
    {                                                                                              \
        .key = "material", .type = RFY_F_TEXT, .offset = offsetof(T, material),                    \
        .assumed = "its wall gives off no gas",                                                    \
        .help = "gives off gas like a wall of this material"                                       \
    }

#endif
