/* A cmocka fixture: the built-in data, and an arena that lives as long as the group of tests. */
#ifndef RFY_TESTS_CATALOG_H
#define RFY_TESTS_CATALOG_H
#include "core/arena.h"
#include "gas/catalog.h"

extern rfy_arena *arena;
extern const rfy_catalog *catalog;
int test_catalog_setup(void **state);
int test_catalog_teardown(void **state);
/* The species of that name; fails the test when there is none. */
const rfy_species *test_species(const char *name);
#endif
