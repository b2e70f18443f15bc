/* One piece between two open chambers, from molecular flow to choked flow. */
#ifndef RFY_STUDY_CONDUCTANCE_H
#define RFY_STUDY_CONDUCTANCE_H

#include "core/problem.h"
#include "flow/piece.h"
#include "gas/mixture.h"

/* What is asked, read and in SI. */
typedef struct rfy_conductance_question {
    const rfy_catalog *catalog;
    rfy_piece_shape shape;
    int n_gases;
    int species[RFY_MAX_GASES];
    double fraction[RFY_MAX_GASES]; /* above zero, adding up to 1 */
    double temperature;
    double from, to; /* pressures, 0 < from <= to */
    double unit;     /* Pa; rows stand at its whole decades, and at both ends */
    rfy_behind behind;
    double drop, downstream; /* as in rfy_conductance_result */
    double pump_speed;       /* NaN without a pump */
} rfy_conductance_question;

/* Fills everything of *out but its names and `assumed`. RFY_RUN_FAILED with a problem when the flow
 * balance with the pump is not found. */
rfy_status rfy_conductance_answer(rfy_arena *arena, const rfy_conductance_question *question,
                                  rfy_problems *problems, rfy_conductance_result *out);

#endif
