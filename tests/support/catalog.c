#include "support/support.h"
#include "support/catalog.h"

rfy_arena *arena;
const rfy_catalog *catalog;

int test_catalog_setup(void **state) {
    (void)state;
    arena = rfy_arena_new();
    catalog = rfy_catalog_new(arena);
    return 0;
}

int test_catalog_teardown(void **state) {
    (void)state;
    rfy_arena_free(arena);
    return 0;
}

const rfy_species *test_species(const char *name) {
    int i = rfy_species_find(catalog, name);
    assert_true(i >= 0);
    return &catalog->species[i];
}
