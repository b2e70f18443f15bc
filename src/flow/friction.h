/* Wall friction above the laminar regime, tabulated in reverse so that no iteration is needed later. */
#ifndef RFY_FLOW_FRICTION_H
#define RFY_FLOW_FRICTION_H

#define RFY_FRICTION_POINTS 56

/* For one relative roughness: the Reynolds number that really flows against the one that laminar flow would
 * have under the same pressures, both as logarithms. */
typedef struct rfy_friction {
    double laminar[RFY_FRICTION_POINTS]; /* ln Re_lam, rising */
    double real[RFY_FRICTION_POINTS];    /* ln Re */
    double slope[RFY_FRICTION_POINTS];   /* d ln Re / d ln Re_lam */
} rfy_friction;

/* Darcy friction factor, laminar to turbulent in one curve (Churchill 1977, Chem. Eng. 84(24), 91). */
double rfy_darcy_friction(double reynolds, double relative_roughness);

void rfy_friction_build(rfy_friction *table, double relative_roughness);

/* ln Re from ln Re_lam with first and second derivative. Below Re_lam = 1000 the flow is laminar (the identity;
 * Churchill's curve differs by less than 1e-12 there). */
double rfy_friction_real(const rfy_friction *table, double ln_laminar, double *first,
                         double *second);

#endif
