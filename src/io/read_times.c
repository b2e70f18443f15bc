/* Lists of times and units as they stand on a command line. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "core/arena.h"
#include "core/units.h"
#include "rarefy/rarefy.h"

enum { MESSAGE = 256 };

/* One item between commas; false with a message. */
static bool read_time(const rfy_units *units, const char *item, size_t length, double *seconds,
                      char *message) {
    char text[128];
    while (length > 0 && strchr(" \t", item[0])) {
        item++;
        length--;
    }
    while (length > 0 && strchr(" \t", item[length - 1]))
        length--;
    if (length == 0) {
        snprintf(message, MESSAGE, "a time is missing; write times such as \"10 s,100 s,1 h\"");
        return false;
    }
    if (length >= sizeof text) {
        snprintf(message, MESSAGE, "\"%.40s...\" is too long for a time", item);
        return false;
    }
    memcpy(text, item, length);
    text[length] = '\0';
    rfy_quantity_error error;
    if (!rfy_parse_quantity(units, text, RFY_DIM_TIME, seconds, &error)) {
        snprintf(message, MESSAGE, "\"%.50s\": %.90s; allowed: %.60s%s%.30s", text, error.what,
                 error.allowed, error.hint[0] ? "; " : "", error.hint);
        return false;
    }
    if (!(*seconds >= 0)) {
        snprintf(message, MESSAGE, "\"%.60s\" is before the beginning of the run", text);
        return false;
    }
    return true;
}

rfy_status rfy_read_times(const char *text, double **times, size_t *n, char *message) {
    size_t count = 1;
    for (const char *c = text; *c; c++)
        count += *c == ',';
    rfy_arena *arena = rfy_arena_new();
    const rfy_units *units = rfy_units_new(arena);
    double *list = rfy_xcalloc(count, sizeof *list);
    size_t got = 0;
    for (const char *item = text;; item++) {
        size_t length = strcspn(item, ",");
        if (!read_time(units, item, length, &list[got], message))
            break;
        if (got > 0 && list[got] <= list[got - 1]) {
            snprintf(message, MESSAGE,
                     "times must rise: \"%.80s\" is not later than the one before it",
                     item + strspn(item, " \t"));
            break;
        }
        got++;
        item += length;
        if (*item == '\0') {
            rfy_arena_free(arena);
            *times = list;
            *n = got;
            message[0] = '\0';
            return RFY_OK;
        }
    }
    rfy_arena_free(arena);
    free(list);
    *times = NULL;
    *n = 0;
    return RFY_USAGE;
}

bool rfy_is_pressure_unit(const char *text) {
    rfy_arena *arena = rfy_arena_new();
    rfy_quantity_error error;
    double factor, offset;
    bool good =
        rfy_parse_unit(rfy_units_new(arena), text, RFY_DIM_PRESSURE, &factor, &offset, &error);
    rfy_arena_free(arena);
    return good && factor > 0 && offset == 0;
}

rfy_status rfy_read_quantity(const char *text, const char *dimension, double *si, char *message) {
    rfy_arena *arena = rfy_arena_new();
    rfy_quantity_error error;
    rfy_dim dim = RFY_DIM_NONE;
    while (dim < RFY_DIM_COUNT && strcmp(rfy_dim_name(dim), dimension) != 0)
        dim++;
    bool good =
        dim < RFY_DIM_COUNT && rfy_parse_quantity(rfy_units_new(arena), text, dim, si, &error);
    message[0] = '\0';
    if (!good)
        snprintf(message, 480, "%s; allowed: %s%s%s",
                 dim < RFY_DIM_COUNT ? error.what : "no such dimension", error.allowed,
                 error.hint[0] ? "; " : "", error.hint);
    rfy_arena_free(arena);
    return good ? RFY_OK : RFY_USAGE;
}
