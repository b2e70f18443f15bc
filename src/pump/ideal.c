#include <string.h>
#include "pump/kinds.h"

typedef struct ideal_values {
    rfy_origin origin;
    double speed;
} ideal_values;

static const rfy_field fields[] = {
    {.key = "speed",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_FLOW,
     .required = true,
     .offset = offsetof(ideal_values, speed),
     .min = 0,
     .max = 1e4,
     .above_min = true,
     .help = "pumping speed for every gas at every pressure"},
};
const rfy_record rfy_ideal_record = {.name = "ideal pump",
                                     .size = sizeof(ideal_values),
                                     .field = fields,
                                     .n = sizeof fields / sizeof *fields};

typedef struct ideal_pump {
    int n;
    double moles; /* S/RT, mol/s/Pa */
} ideal_pump;

static const void *build(const void *values, const rfy_origin *origin, const rfy_pump_site *site) {
    (void)origin;
    ideal_pump *pump = RFY_NEW(site->arena, 1, ideal_pump);
    pump->n = site->mixture->n;
    pump->moles = ((const ideal_values *)values)->speed / (RFY_R * site->temperature);
    return pump;
}

static void flow(const void *data, double turn, const double *p_in, const double *p_out,
                 double *moved, double *by_in, double *by_out) {
    const ideal_pump *pump = data;
    const int n = pump->n;
    (void)p_out;
    for (int i = 0; i < n; i++)
        moved[i] = turn * pump->moles * p_in[i];
    if (!by_in)
        return;
    memset(by_in, 0, (size_t)(n * n) * sizeof *by_in);
    memset(by_out, 0, (size_t)(n * n) * sizeof *by_out);
    for (int i = 0; i < n; i++)
        by_in[i * n + i] = turn * pump->moles;
}

static void inertia(const void *pump, double *run_up, double *coast_down) {
    (void)pump;
    *run_up = *coast_down = 0;
}

const rfy_pump_kind rfy_ideal = {.name = "ideal", .build = build, .flow = flow, .inertia = inertia};
