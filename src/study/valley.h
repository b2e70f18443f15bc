/* Intervals of fitted unknowns by the likelihood: how far each can go while all the others make up
 * for it as well as they can.
 *
 * Near the best values the sum of squares is a bowl, and derivatives there tell its width. Where
 * several unknowns nearly do the same to the curve it is a long valley that bends, and they do not.
 * Then the valley is followed along its floor to both sides until the sum has risen by what chance
 * would explain in 95 of 100 records (profile likelihood: Venzon and Moolgavkar 1988, Appl.
 * Statist. 37, 87; Raue et al. 2009, Bioinformatics 25, 1923). Across the floor, where it is
 * narrow, it is taken as a bowl anew at each place. */
#ifndef RFY_STUDY_VALLEY_H
#define RFY_STUDY_VALLEY_H

#include "study/least_squares.h"

typedef struct rfy_valley_end {
    double at; /* of x; where the walk ended when open */
    bool open; /* the sum does not rise enough however far the unknown goes */
    bool sure; /* nor is it by a whisker that it does: see SURE in valley.c */
} rfy_valley_end;

typedef struct rfy_valley {
    rfy_valley_end *low, *high; /* [n_unknowns] */
    size_t n_places;            /* looked at along the floor; 0 = derivatives suffice */
    bool better; /* a smaller sum was met on the way: s->x is there now, and all is to be solved
                    anew */
} rfy_valley;

/* `reach` is the quantile of a normal or Student's law, as in value +- reach * deviation; `span`
 * the length of the record, s. After rfy_squares_solve. */
void rfy_valley_follow(rfy_squares *s, rfy_arena *arena, double reach, double span,
                       rfy_valley *out);

/* The direction (of length 1) in which a sum with second derivatives h, [k * k], bends least, and
 * how much. */
double rfy_valley_flattest(const double *h, size_t k, double *direction);

#endif
