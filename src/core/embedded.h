/* The data tables of data/, embedded in the program by data/embed.cmake. */
#ifndef RFY_CORE_EMBEDDED_H
#define RFY_CORE_EMBEDDED_H
#include <stddef.h>

typedef struct rfy_embedded {
    const char *name; /* "gases" */
    const char *text; /* NUL-terminated */
    size_t length;
} rfy_embedded;

extern const rfy_embedded rfy_embedded_tables[]; /* ends with a NULL name */
/* What the page of a run is made of, by data/embed_page.cmake: "style", "script", and where the
 * chart library was there at build time "chart-script", "chart-style", "chart-version",
 * "chart-terms". */
extern const rfy_embedded rfy_embedded_page[];

#endif
