/* What a picture of a run shows, before it is drawn: curves, marks in time, levels of pressure, and
 * the scales they stand on. The writers of SVG, terminal and gnuplot pictures draw from this. */
#ifndef RFY_IO_CHART_H
#define RFY_IO_CHART_H

#include "core/arena.h"
#include "io/write_common.h"
#include "rarefy/pictures.h"

/* ---- scales ---- */

typedef struct rfy_scale {
    bool log;
    double low, high; /* low < high; both above zero when log */
} rfy_scale;

typedef struct rfy_tick {
    double value;
    bool major;
    char label[24]; /* "" for minor ones and where labels would touch */
} rfy_tick;

enum { RFY_MOST_TICKS = 240 };

/* Where a value stands, 0 at the low end and 1 at the high end. */
double rfy_scale_place(const rfy_scale *scale, double value);
/* Decades with their parts on a logarithmic scale. `room` is the length of the scale over the
 * length a label takes. `ascii` writes 1e-3 for 10⁻³. Returns how many. */
size_t rfy_scale_decades(const rfy_scale *scale, double room, bool ascii, rfy_tick *tick);
/* Times people know: 10 s, 1 min, 1 h; on either kind of scale. Labels are at least 1/room apart.
 */
size_t rfy_scale_times(const rfy_scale *scale, double room, rfy_tick *tick);

/* Moves rising places apart until each is `gap` from the next, as little as possible, within low
 * and high (which must have the room). */
void rfy_spread_out(double *place, size_t n, double gap, double low, double high);

/* ---- what is shown ---- */

typedef struct rfy_chart_curve {
    const char *name;
    size_t n;
    const double *x, *y; /* s; pressure in the unit; not all of them on the scale */
    int color;           /* from 0 */
    int dash;            /* 0 = solid */
    bool measured;       /* dots */
} rfy_chart_curve;

typedef struct rfy_chart_mark { /* something happens */
    size_t number;              /* among all that charts tell of this run, from 1 */
    double time;
    rfy_event_kind kind;
    const char *what;
} rfy_chart_mark;

typedef enum rfy_level_kind { RFY_LEVEL_TARGET, RFY_LEVEL_LIMIT, RFY_LEVEL_BROKEN } rfy_level_kind;

typedef struct rfy_chart_level { /* a pressure wanted or allowed */
    double value;
    rfy_level_kind kind;
    const char *name;
    bool least;  /* the pressure has to stay above */
    double time; /* when it was reached or broken; NaN = not */
} rfy_chart_level;

typedef struct rfy_chart {
    rfy_page page; /* the unit */
    const char *title;
    rfy_scale x, y;
    size_t n_curves, n_marks, n_levels, n_left_out;
    rfy_chart_curve *curve;
    rfy_chart_mark *mark;
    rfy_chart_level *level;
} rfy_chart;

/* Everything in the arena. RFY_USAGE as rfy_write_plot_svg. */
rfy_status rfy_chart_new(rfy_arena *arena, const rfy_result *result,
                         const rfy_plot_options *options, rfy_chart *chart);

/* Whether an event of that kind is marked on a chart. */
bool rfy_chart_tells(rfy_event_kind kind);
/* "2 min 05 s" with plain blanks. */
rfy_word rfy_chart_time(double seconds);

/* ---- SVG for files and for the page ---- */

typedef struct rfy_svg_options {
    int width, height; /* px; 0 = 960 x 600 or as much as the list of marks needs */
    bool embedded;     /* in a page that brings the styles */
    const char *id;    /* for the ids within */
} rfy_svg_options;
void rfy_svg_chart(FILE *out, const rfy_chart *chart, const rfy_svg_options *options);
/* Text within XML or HTML, attributes too: nothing in it is taken for markup. */
void rfy_put_xml(FILE *out, const char *text);
/* The same, at most `columns` of it; the rest becomes "…". */
void rfy_put_xml_clipped(FILE *out, const char *text, int columns);

#endif
