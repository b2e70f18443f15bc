#include <stdlib.h>
#include <string.h>
#include "core/csv.h"
#include "core/dims.h"
#include "core/embedded.h"
#include "core/text.h"

/* A product and quotient of numbers: "101325*1e-6", "459.67*5/9". False when it is none. */
static bool factor_value(const char *text, double *value) {
    *value = 1;
    for (char op = '*';;) {
        double x = 0;
        size_t used = rfy_read_number(text, &x);
        if (used == 0 || (op == '/' && x <= 0 && x >= 0))
            return false;
        *value = op == '/' ? *value / x : *value * x;
        op = text[used];
        if (op == '\0')
            return true;
        if (op != '*' && op != '/')
            return false;
        text += used + 1;
    }
}

static void add_spellings(rfy_arena *arena, rfy_units *units, const char *names, size_t meaning) {
    while (*names) {
        size_t n = strcspn(names, "|");
        units->spelling[units->n_spellings] = rfy_arena_strndup(arena, names, n);
        units->meaning[units->n_spellings++] = meaning;
        names += n + (names[n] == '|');
    }
}

static const rfy_units *broken(rfy_arena *arena, rfy_units *units, int line, const char *what) {
    *units =
        (rfy_units){.trouble = rfy_arena_printf(arena, "table units, line %d: %s", line, what)};
    return units;
}

const rfy_units *rfy_units_read(rfy_arena *arena, const rfy_embedded *table) {
    enum { SYMBOL, NAME, DIMENSION, NUMERATOR, DENOMINATOR, OFFSET, BASES, SOURCE = 11, STATUS };
    static const char *const columns[] = {
        "symbol", "name", "dimension", "numerator", "denominator", "offset", "m",
        "kg",     "s",    "K",         "mol",       "source",      "status"};
    const size_t n_columns = sizeof columns / sizeof columns[0];
    rfy_units *units = RFY_NEW(arena, 1, rfy_units);
    while (table->name && strcmp(table->name, "units") != 0)
        table++;
    rfy_csv csv;
    rfy_csv_error error;
    if (!table->name)
        return broken(arena, units, 0, "the table is missing");
    if (!rfy_csv_read(arena, table->text, table->length, &csv, &error))
        return broken(arena, units, error.line, error.what);
    for (size_t c = 0; c < n_columns; c++)
        if (csv.n_columns != n_columns || strcmp(csv.column[c], columns[c]) != 0)
            return broken(arena, units, 1, "the columns are not the expected ones");

    units->n = csv.n_rows;
    units->unit = RFY_NEW(arena, csv.n_rows, rfy_unit);
    size_t spellings = csv.n_rows;
    for (size_t i = 0; i < csv.n_rows; i++) {
        spellings++;
        for (const char *c = csv.cell[i * n_columns + NAME]; *c; c++)
            spellings += *c == '|';
    }
    units->spelling = RFY_NEW(arena, spellings, const char *);
    units->meaning = RFY_NEW(arena, spellings, size_t);
    for (size_t i = 0; i < csv.n_rows; i++) {
        const char *const *cell = csv.cell + i * n_columns;
        rfy_unit *u = &units->unit[i];
        if (!factor_value(cell[NUMERATOR], &u->numerator) ||
            !factor_value(cell[DENOMINATOR], &u->denominator) ||
            !factor_value(cell[OFFSET], &u->offset))
            return broken(arena, units, csv.line[i], "a factor is not a product of numbers");
        for (int b = 0; b < RFY_BASE_ANGLE; b++)
            u->base[b] = (signed char)strtol(cell[BASES + b], NULL, 10);
        u->base[RFY_BASE_ANGLE] = strcmp(cell[DIMENSION], "angle") == 0;
        bool whole = strcmp(cell[DENOMINATOR], "1") == 0;
        u->row =
            (rfy_unit_row){.symbol = cell[SYMBOL],
                           .dimension = cell[DIMENSION],
                           .factor = whole ? cell[NUMERATOR]
                                           : rfy_arena_printf(arena, "%s/(%s)", cell[NUMERATOR],
                                                              cell[DENOMINATOR]),
                           .offset = cell[OFFSET],
                           .source = cell[SOURCE],
                           .status = cell[STATUS],
                           .si = u->numerator / u->denominator};
        add_spellings(arena, units, cell[SYMBOL], i);
    }
    for (size_t i = 0; i < csv.n_rows; i++)
        add_spellings(arena, units, csv.cell[i * n_columns + NAME], i);
    return units;
}

const rfy_units *rfy_units_new(rfy_arena *arena) {
    return rfy_units_read(arena, rfy_embedded_tables);
}

const char *rfy_units_trouble(const rfy_units *units) {
    return units->trouble;
}

size_t rfy_units_count(const rfy_units *units) {
    return units->n;
}

const rfy_unit_row *rfy_units_row(const rfy_units *units, size_t i) {
    return &units->unit[i].row;
}
