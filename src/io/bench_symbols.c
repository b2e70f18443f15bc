/* Graphical symbols for vacuum technology after ISO 3753:1977 (DIN 28401), redrawn by us from
 * memory: the text of the standard was not at hand, so details may differ. Every symbol is also
 * named in words beside it. */
#include <string.h>
#include "io/bench.h"

static const struct {
    const char *kind, *drawing;
    double half;
} symbols[] = {
    {"tube", "", 0},
    /* shut-off device: two triangles tip to tip */
    {"valve", "<path class=\"body\" d=\"M-13-9L13 9V-9L-13 9Z\"/>", 13},
    /* one that is set: the arrow across it */
    {"needle",
     "<path class=\"body\" d=\"M-13-9L13 9V-9L-13 9Z\"/><path d=\"M-9 "
     "13L9-13M9-13L3-11M9-13L8-7\"/>",
     13},
    /* a bend, an opening in a plate, a cone */
    {"elbow", "<path d=\"M-13 0H0Q6 0 6-6V-9M6 0H13\"/>", 13},
    {"orifice", "<path d=\"M-15 0H15M0-12V-3M0 3V12\" stroke-width=\"2.4\"/>", 0},
    {"reducer", "<path class=\"body\" d=\"M-12-9L12-4V4L-12 9Z\"/>", 12},
    /* cold or sorbing trap: a vessel with a tube that dips into it */
    {"trap",
     "<path class=\"body\" d=\"M-12-12H12V8Q12 13 7 13H-7Q-12 13-12 8Z\"/><path "
     "d=\"M-12-4H-3V6H3V-4H12\"/>",
     12},
    {"bellows", "<path d=\"M-15 0H-12L-9-6L-5 6L-1-6L3 6L7-6L10 0H15\"/>", 0},
    {"duct", "<path class=\"body\" d=\"M-13-6H13V6H-13Z\"/>", 13},
    {"slit", "<path d=\"M-13-3H13M-13 3H13\"/>", 13},
    {"annulus",
     "<path class=\"body\" d=\"M-13-7H13V7H-13Z\"/><path d=\"M-13 0H13\" stroke-dasharray=\"4 "
     "2\"/>",
     13},
    /* baffle, gauze */
    {"mesh",
     "<path class=\"body\" d=\"M-10-11H10V11H-10Z\"/><path d=\"M-6-8L-2 0L-6 8M0-8L4 0L0 8\"/>",
     10},
    {"bed",
     "<path class=\"body\" d=\"M-12-10H12V10H-12Z\"/><path d=\"M-7-5h.1M0-5h.1M7-5h.1M-4 0h.1M4 "
     "0h.1M-7 5h.1M0 5h.1M7 5h.1\" stroke-width=\"3\" stroke-linecap=\"round\"/>",
     12},
    {"plug",
     "<path class=\"body\" d=\"M-8-10H8V10H-8Z\"/><path d=\"M-8-2L0-10M-8 6L8-10M-4 10L8-2M4 10L8 "
     "6\"/>",
     8},
    {"capillary", "<path d=\"M-15 0H-12Q-9-7-6 0T0 0T6 0T12 0H15\"/>", 0},
    /* vacuum pumps: a circle whose sides close towards the outlet; the kind within */
    {"ideal", "<circle class=\"body\" r=\"15\"/><path d=\"M-7.5-13L14-5M-7.5 13L14 5\"/>", 15},
    {"rotary vane",
     "<circle class=\"body\" r=\"15\"/><path d=\"M-7.5-13L14-5M-7.5 13L14 5\"/><circle cx=\"-2\" "
     "r=\"6\"/>"
     "<path d=\"M-2-9V9\"/>",
     15},
    {"diaphragm",
     "<circle class=\"body\" r=\"15\"/><path d=\"M-7.5-13L14-5M-7.5 13L14 5M-9 0Q-2 8 6 0\"/>", 15},
    {"scroll",
     "<circle class=\"body\" r=\"15\"/><path d=\"M-7.5-13L14-5M-7.5 13L14 5M-1 0a2 2 0 0 1 4 0a4.5 "
     "4.5 0 0 "
     "1-9 0a6.5 6.5 0 0 1 12-3\"/>",
     15},
    {"piston",
     "<circle class=\"body\" r=\"15\"/><path d=\"M-7.5-13L14-5M-7.5 13L14 "
     "5M-6-6H6M0-6V6M-6-6V4M6-6V4\"/>",
     15},
    {"turbomolecular",
     "<circle class=\"body\" r=\"15\"/><path d=\"M-7.5-13L14-5M-7.5 13L14 5M-6-6L-2 6M-1-6L3 "
     "6M4-6L8 "
     "6M-9 0H10\"/>",
     15},
    {"diffusion",
     "<circle class=\"body\" r=\"15\"/><path d=\"M-7.5-13L14-5M-7.5 13L14 5M-6 6L0-6L6 6M-3 6L0 "
     "0L3 6\"/>",
     15},
};

void rfy_bench_symbol_draw(FILE *out, const char *kind) {
    for (size_t i = 0; i < sizeof symbols / sizeof *symbols; i++)
        if (strcmp(symbols[i].kind, kind) == 0) {
            fputs(symbols[i].drawing, out);
            return;
        }
    fputs("<path class=\"body\" d=\"M-12-9H12V9H-12Z\"/>", out); /* a kind that came later */
}

double rfy_bench_symbol_half(const char *kind) {
    for (size_t i = 0; i < sizeof symbols / sizeof *symbols; i++)
        if (strcmp(symbols[i].kind, kind) == 0)
            return symbols[i].half;
    return 12;
}
