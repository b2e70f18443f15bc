/* Reads lines "dimension number, tab, quantity" and writes for each whether it is read: 1 or 0.
 * Without input lines ("--dimensions") it names the dimensions, one a line, in their order. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "core/units.h"

int main(int argc, char **argv) {
    if (argc > 1 && strcmp(argv[1], "--dimensions") == 0) {
        for (int d = 0; d < RFY_DIM_COUNT; d++)
            puts(rfy_dim_name((rfy_dim)d));
        return 0;
    }
    rfy_arena *arena = rfy_arena_new();
    const rfy_units *units = rfy_units_new(arena);
    char line[400];
    while (fgets(line, sizeof line, stdin)) {
        char *tab = strchr(line, '\t');
        line[strcspn(line, "\n")] = '\0';
        if (!tab)
            return 1;
        double si;
        rfy_quantity_error error;
        long dim = strtol(line, NULL, 10);
        puts(rfy_parse_quantity(units, tab + 1, (rfy_dim)dim, &si, &error) ? "1" : "0");
    }
    rfy_arena_free(arena);
    return 0;
}
