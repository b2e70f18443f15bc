/* The strict scan behind json_places.c. */
#ifndef RFY_IO_JSON_SCAN_H
#define RFY_IO_JSON_SCAN_H

#include "io/json_places.h"

typedef struct rfy_scan_error {
    int line, column;
    char what[200];
    char hint[120];
} rfy_scan_error;

/* Checks that `length` bytes are one JSON value (RFC 8259) and appends a place per value to *json
 * in document order. False fills *error. */
bool rfy_json_scan(rfy_json *json, const char *text, size_t length, rfy_scan_error *error);

#endif
