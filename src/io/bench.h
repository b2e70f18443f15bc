/* The drawing of a bench from its description: what is joined to what, and where each part stands.
 *
 * Chambers stand in columns, what joins them between the columns, in rows: the longest way of the
 * gas from a chamber through lines and pumps to the open air is the first row, branches and
 * by-passes have rows of their own below it. So no label can lie on another. */
#ifndef RFY_IO_BENCH_H
#define RFY_IO_BENCH_H

#include "core/arena.h"
#include "network/description.h"
#include "rarefy/rarefy.h"

enum {
    RFY_BENCH_AIR = -1, /* in place of a node: the surroundings */
    RFY_BENCH_GAUGES = 12
};

typedef struct rfy_bench_symbol { /* a piece of a line, or a pump */
    const char *kind;             /* "valve", "rotary vane" */
    const char *name;             /* its own, or NULL */
    const char *label[2];         /* lines below it; "" = none */
    const char *about;            /* all that is known, for a hint */
    double width;                 /* px */
    bool is_valve, is_pump, on;   /* open, or running, at the beginning */
} rfy_bench_symbol;

typedef struct rfy_bench_node {
    const char *name;
    long chamber; /* in the result, -1 = none */
    bool junction, reservoir;
    double held; /* Pa, of a reservoir */
    int copies;
    int row, column;
    bool placed, turns_left, turns_right; /* has a branch below it on that side */
    size_t n_gauges;
    const rfy_gauge_desc *gauge[RFY_BENCH_GAUGES];
    double x, y;                  /* middle, px */
    double lane_left, lane_right; /* where its branches go down */
} rfy_bench_node;

typedef enum rfy_bench_way {
    RFY_BENCH_ALONG, /* between neighbours of one row, or from a node to the air beside it */
    RFY_BENCH_BELOW  /* in a row of its own: down, along, and up again or into the air */
} rfy_bench_way;

typedef struct rfy_bench_edge {
    const char *name;        /* of a line; pumps carry theirs on the symbol */
    int a, b;                /* nodes, or RFY_BENCH_AIR for b */
    bool pump, used, turned; /* turned: drawn from b to a */
    rfy_bench_way way;
    int row, column; /* its symbols stand in the gap right of that column */
    size_t n;
    rfy_bench_symbol *symbol;
    double width; /* of all symbols, px */
} rfy_bench_edge;

typedef struct rfy_bench {
    size_t n_nodes, n_edges;
    rfy_bench_node *node;
    rfy_bench_edge *edge;
    int rows, columns;
    double *column_x, *column_width; /* of the nodes */
    double *gap_x, *gap_width;       /* right of each column */
    double *row_y;
    double width, height;
} rfy_bench;

/* Reads the description and places everything; all of it in the arena. */
void rfy_bench_new(rfy_arena *arena, const rfy_description *description, const rfy_result *result,
                   rfy_bench *bench);

/* ---- drawing ---- */

/* Graphical symbols after ISO 3753 (DIN 28401), as remembered and in our own drawing, about (0, 0),
 * 30 px wide; the connecting lines come to x = -15 and 15. A pump's outlet is on the right. */
void rfy_bench_symbol_draw(FILE *out, const char *kind);
/* How long the line goes on into the symbol: 15 = it fills the gap to its edges. */
double rfy_bench_symbol_half(const char *kind);

/* The whole drawing, for a page that brings the styles; a pressure's colour by rfy_bench_color. */
void rfy_bench_svg(FILE *out, const rfy_bench *bench, const rfy_result *result);
/* "#rrggbb" of our own scale, from sand at an atmosphere to deep blue at 1e-9 Pa. */
void rfy_bench_color(double pascal, char *text);

#endif
