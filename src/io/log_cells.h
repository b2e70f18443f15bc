/* Cells of a line of a log: cutting them, and what stands in one. */
#ifndef RFY_IO_LOG_CELLS_H
#define RFY_IO_LOG_CELLS_H

#include <stdbool.h>
#include <stddef.h>
#include "core/units.h"

enum { RFY_LOG_MOST_CELLS = 200 };

typedef struct rfy_log_cells {
    size_t n;
    char *text[RFY_LOG_MOST_CELLS];
} rfy_log_cells;

/* Cuts `line` (changed) at the separator; ' ' stands for any run of blanks and tabs. Blanks around
 * cells and the quotes of quoted ones are dropped. */
void rfy_log_cut(char *line, char separator, rfy_log_cells *cells);

typedef enum rfy_log_kind {
    RFY_CELL_NUMBER,
    RFY_CELL_EMPTY,
    RFY_CELL_OVER,     /* a mark of a gauge above its range: OL, OVER, ----, >1000 */
    RFY_CELL_UNDER,    /* below its range: UR, UNDER, <1e-4 */
    RFY_CELL_INFINITE, /* inf, -inf */
    RFY_CELL_NAN,      /* nan, #N/A, null */
    RFY_CELL_OFF,      /* off, no sensor */
    RFY_CELL_MARK,     /* a number with the other decimal mark, or with both */
    RFY_CELL_TEXT      /* anything else */
} rfy_log_kind;

/* Reads a number whose decimal mark is `mark`; with 0 either one mark is taken. *rest is what
 * follows it (a unit), blanks skipped. "1.2E-03", "1,2e-3", "+4", "1.0D-3", a typographic minus. */
rfy_log_kind rfy_log_number(const char *text, char mark, double *value, const char **rest);

/* The unit as logs write it ("MBAR", "sec", "°C" besides the program's own). */
bool rfy_log_unit(const rfy_units *units, const char *text, size_t length, rfy_dim dim,
                  double *factor, double *offset);
/* A unit that a column's name carries: in brackets, after a slash, an underscore or "in", or as its
 * last word. *name_length is the length of the name without it. */
bool rfy_log_unit_in_name(const rfy_units *units, const char *name, rfy_dim dim, double *factor,
                          double *offset, size_t *name_length);

#endif
