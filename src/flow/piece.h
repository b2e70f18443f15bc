/* Pieces of tubing: the registry of kinds, and what a piece contributes to a line.
 *
 * A line is cut into runs of equal bore (network/assemble.c). A piece adds lengths and losses to
 * its run, or is an element of its own (a trap with a given conductance). Adding a kind: one file
 * with a value struct, a field table, a describe function, and one line in piece.c. */
#ifndef RFY_FLOW_PIECE_H
#define RFY_FLOW_PIECE_H

#include "core/record.h"
#include "flow/stretch.h"

enum { RFY_OPEN, RFY_CLOSED }; /* choices of a valve's "state" */
extern const char *const rfy_open_closed[];

typedef enum rfy_piece_role {
    RFY_PIECE_BORE, /* a stretch of circular bore: merges with neighbours of the same bore */
    RFY_PIECE_OWN,  /* a stretch of its own kind: `own` is its whole geometry but for its
                       surroundings */
    RFY_PIECE_GIVEN /* a given conductance, constant with pressure or by a curve */
} rfy_piece_role;

/* Values that are each in range but do not go together. All NULL = sound; else only the name may be
 * used. */
typedef struct rfy_piece_fault {
    const char *key, *what, *allowed;
} rfy_piece_fault;

/* What one piece is, in the terms a run is built from. SI. */
typedef struct rfy_piece_shape {
    rfy_piece_role role;
    double
        bore; /* RFY_PIECE_BORE; of the others the bore they sit in, 0 = their own section counts */
    double molecular_length; /* length that counts in molecular flow */
    double viscous_length;   /* length that counts for wall friction */
    double volume;
    double wall_area;
    double loss; /* extra kinetic-energy loss coefficient K (bends) */
    double roughness;
    rfy_stretch_geometry own;
    double conductance; /* RFY_PIECE_GIVEN: for air at 20 degC in molecular flow, m3/s */
    const rfy_curve
        *curve; /* RFY_PIECE_GIVEN: the same over mean pressure, both > 0; NULL = constant */
    rfy_piece_fault fault;
    const char *material; /* gives off gas when named */
    const char *name;     /* its own name, or NULL */
    const char *assumed;  /* what was taken for granted, a phrase; NULL = nothing */
    double
        inexact; /* relative error of the rule itself in molecular flow; 0 = exact for the shape */
    bool is_valve;
    int state;       /* valve: RFY_OPEN or RFY_CLOSED */
    double moves_in; /* valve: s from closed to open */
    double
        seat_leak; /* valve: Pa m3/s through the closed seat with 1 atm across; NaN = none given */
    int without_mains; /* valve: index in rfy_without_mains: stays, closes, opens */
} rfy_piece_shape;

typedef struct rfy_piece_kind {
    const char *name;
    /* Fills a shape that was zeroed. `values` is the kind's own struct. */
    void (*shape)(const void *values, rfy_piece_shape *shape);
    /* "tube 16 mm x 1 m": fills text of `size` bytes. */
    void (*label)(const void *values, char *text, size_t size);
} rfy_piece_kind;

/* False after adding a problem for a shape with a fault; values are those it was made of. */
bool rfy_piece_is_sound(const rfy_piece_shape *shape, const void *values, rfy_problems *problems);

extern const rfy_variants rfy_piece_kinds; /* .kind is const rfy_piece_kind * */

#endif
