/* What the files of a fit share: the unknowns, the readings, what was found. */
#ifndef RFY_STUDY_FIT_PARTS_H
#define RFY_STUDY_FIT_PARTS_H

#include "rarefy/rarefy.h"
#include "study/log_points.h"
#include "study/valley.h"

/* An unknown counts as told when the 95 % interval reaches no further than this factor up and down,
 * or as far apart. The data of outgassing scatter by 3 to 10: what is known to 5 is worth saying.
 */
#define RFY_LEAST_FACTOR 5.0

typedef struct rfy_fitting {
    rfy_arena *arena;
    const rfy_system *system;
    const rfy_fit_options *options;
    rfy_problems *problems;
    size_t n;
    rfy_unknown unknown[RFY_MOST_UNKNOWNS];
    rfy_varied what[RFY_MOST_UNKNOWNS];
    double factor[RFY_MOST_UNKNOWNS]; /* of the prior */
    const char *path[RFY_MOST_UNKNOWNS];
    size_t n_paths;
    rfy_log_points points;
    rfy_predictor predictor;
    rfy_squares squares;
    rfy_valley valley;
} rfy_fitting;

/* Path, or "start". */
const char *rfy_fit_name(const rfy_fitting *f, size_t i);
/* What counts as much as 1 in ln of another: for the time, a fiftieth of the record. */
double rfy_fit_scale(const rfy_fitting *f, size_t i);
/* Whether all are told; if not, why, and what would tell. */
void rfy_fit_judge(rfy_fitting *f, rfy_fit_result *out);

#endif
