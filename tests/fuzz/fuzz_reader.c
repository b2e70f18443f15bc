/* Feeds arbitrary bytes to the reader: they must end in a network or in problems, never in anything
 * else.
 *
 * One entry point for libFuzzer (-DRAREFY_FUZZ=ON with clang) and for replay.c, which runs files
 * through it in an ordinary build. The bytes up to the first NUL, if there is one in the first 200,
 * are a setting "path=value"; the rest is the description. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "fuzz/fuzz.h"
#include "io/read_description.h"
#include "network/network.h"

static void demand(int condition, const char *what) {
    if (!condition) {
        fprintf(stderr, "fuzz_reader: %s\n", what);
        abort();
    }
}

static rfy_arena *lasting;

static void free_lasting(void) {
    rfy_arena_free(lasting);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    char path[201] = "", *value = NULL;
    rfy_setting setting = {0};
    size_t n = 0;
    const uint8_t *nul = memchr(data, 0, size < 200 ? size : 200);
    if (nul) {
        size_t length = (size_t)(nul - data);
        memcpy(path, data, length);
        value = strchr(path, '=');
        if (value) {
            *value++ = '\0';
            setting = (rfy_setting){path, value};
            n = 1;
        }
        data += length + 1;
        size -= length + 1;
    }
    /* A block of its own: reading past the end is then seen. */
    char *text = malloc(size ? size : 1);
    demand(text != NULL, "no memory");
    memcpy(text, data, size);
    /* As rfy_system_read does, but the built-in tables are read once only. */
    static const rfy_catalog *catalog;
    if (!catalog) {
        lasting = rfy_arena_new();
        catalog = rfy_catalog_new(lasting);
        atexit(free_lasting);
    }
    rfy_problems *problems = rfy_problems_new("fuzz.json");
    rfy_arena *arena = rfy_arena_new();
    rfy_description *description = NULL;
    bool read =
        rfy_read_description(arena, catalog, text, size, &setting, n, problems, &description);
    free(text); /* what follows may not need it */
    demand(read == (description != NULL), "result and description disagree");
    demand(read == (rfy_problems_errors(problems) == 0), "result and errors disagree");
    if (read) {
        const rfy_network *network = rfy_network_new(arena, catalog, description, problems);
        demand(network || rfy_problems_errors(problems) > 0, "no network and no error");
    }
    demand(rfy_problems_kept(problems) <= RFY_MAX_PROBLEMS, "too many problems kept");
    demand(rfy_problems_kept(problems) <= rfy_problems_total(problems), "problems are miscounted");
    for (size_t i = 0; i < rfy_problems_kept(problems); i++) {
        const rfy_problem *p = rfy_problems_at(problems, i);
        demand(p->path && p->what && *p->what, "a problem without a text");
        demand(p->line >= 0 && p->column >= 0, "a place before the beginning");
    }
    static FILE *nowhere;
    if (!nowhere)
        nowhere = fopen("/dev/null", "w");
    if (nowhere)
        rfy_write_problems(nowhere, problems);
    rfy_problems_free(problems);
    rfy_arena_free(arena);
    return 0;
}
