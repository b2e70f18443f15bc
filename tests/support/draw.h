/* Reproducible random numbers and random networks, the same on every machine. */
#ifndef RFY_TESTS_DRAW_H
#define RFY_TESTS_DRAW_H

#include "network/rates.h"
#include "support/sketch.h"

typedef struct test_dice {
    uint64_t state;
} test_dice;

/* Evenly in [0, 1), in [low, high), evenly on log paper, and a whole number below n. */
double test_even(test_dice *dice);
double test_between(test_dice *dice, double low, double high);
double test_decades(test_dice *dice, double low, double high);
int test_below(test_dice *dice, int n);

/* A connected system of `n` chambers and about `extra` lines more than a tree, of random pieces,
 * pumps, leaks, seals and temperatures, following the first `gases` of N2 H2O H2 He Ar O2 Xe CO2.
 */
rfy_system *test_random_system(test_dice *dice, int n, int extra, int gases);
/* About `n` chambers on a square grid, each joined to its neighbours by a tube and some further
 * away, pumped at one corner: the kind of graph that fills in most. */
rfy_system *test_mesh_system(test_dice *dice, int n, int gases);
/* Random pressures of every free node, decades low to high, some gases absent, and random controls.
 */
void test_random_state(test_dice *dice, const rfy_network *net, double low, double high, double *y,
                       rfy_controls *controls);

#endif
