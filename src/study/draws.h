/* Uncertain inputs: what the description states with a factor, and walls by their material. */
#ifndef RFY_STUDY_DRAWS_H
#define RFY_STUDY_DRAWS_H

#include "network/network.h"

/* Half the width, in standard deviations, of the range from 5 % to 95 % of a normal distribution.
 */
#define RFY_Z95 1.6448536269514722

typedef enum rfy_law {
    RFY_LAW_EVEN,     /* from a to b */
    RFY_LAW_LOG_EVEN, /* from a to b, evenly on log paper */
    RFY_LAW_NORMAL,   /* mean a, standard deviation b */
    RFY_LAW_FACTOR    /* median a; 5 % of the values lie below a/b and 5 % above a b (log-normal) */
} rfy_law;

/* The value below which the part u (0 to 1) of the values lies. */
double rfy_law_quantile(rfy_law law, double a, double b, double u);

/* Materials whose amounts are uncertain, each one input: walls and seals of one material give off
 * more or less together, for what is uncertain is the published figure. */
typedef struct rfy_walls {
    size_t n;
    const char **material;
    double *spread; /* the largest of the material's; 5 % to 95 % lie within it, up and down */
} rfy_walls;

/* Those with a spread above 1, in the order of the network; lives in the arena. */
rfy_walls rfy_walls_of(rfy_arena *arena, const rfy_network *net);
/* Exponents for rfy_sim_options.wall_scales from a part u of each material. */
double *rfy_walls_scales(rfy_arena *arena, const rfy_walls *walls, const rfy_network *net,
                         const double *u);

#endif
