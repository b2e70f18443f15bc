/* Tables in CSV after RFC 4180: quoted cells may hold commas, quotes ("") and line breaks.
 *
 * Beyond the RFC: lines that begin with '#' and empty lines are skipped, spaces and tabs around an
 * unquoted cell are dropped, a UTF-8 byte order mark is ignored, and LF, CRLF or CR end a line. The
 * first line that remains names the columns; every row must have as many cells as it. */
#ifndef RFY_CORE_CSV_H
#define RFY_CORE_CSV_H

#include <stdbool.h>
#include <stddef.h>
#include "core/arena.h"

typedef struct rfy_csv {
    size_t n_columns, n_rows;
    const char *const *column; /* [n_columns] */
    const char *const *cell;   /* [row * n_columns + column] */
    const int *line;           /* [n_rows] where each row begins, from 1 */
} rfy_csv;

typedef struct rfy_csv_error {
    int line, column; /* from 1; column counts cells */
    char what[160];
} rfy_csv_error;

/* Cells and names are owned by the arena. False fills *error; *out is then empty. */
bool rfy_csv_read(rfy_arena *arena, const char *text, size_t length, rfy_csv *out,
                  rfy_csv_error *error);
/* Index of a column by its name, -1 if there is none. */
int rfy_csv_column(const rfy_csv *csv, const char *name);

#endif
