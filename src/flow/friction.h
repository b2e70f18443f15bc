/* Wall friction above the laminar regime, tabulated so that the inner loop needs no powers. */
#ifndef RFY_FLOW_FRICTION_H
#define RFY_FLOW_FRICTION_H

#define RFY_FRICTION_POINTS 56

/* For one relative roughness: G = f Re^2/64, the Reynolds number that laminar flow would have under
 * the same pressures, against the one that really flows; both as logarithms. */
typedef struct rfy_friction {
    double real[RFY_FRICTION_POINTS];    /* ln Re, rising */
    double laminar[RFY_FRICTION_POINTS]; /* ln G */
    double
        slope[RFY_FRICTION_POINTS]; /* d ln G/d ln Re: 1 in laminar flow, about 1.8 in turbulent */
} rfy_friction;

/* Darcy friction factor, laminar to turbulent in one curve (Churchill 1977, Chem. Eng. 84(24), 91).
 */
double rfy_darcy_friction(double reynolds, double relative_roughness);

void rfy_friction_build(rfy_friction *table, double relative_roughness);

/* ln G at ln Re and its slope. Below Re = 1000 the flow is laminar (the identity; Churchill's curve
 * differs by less than 1e-12 there). */
double rfy_friction_laminar(const rfy_friction *table, double ln_reynolds, double *slope);
/* The inverse: ln Re that flows where laminar flow would have ln G; the slope is still d ln G/d ln
 * Re. */
double rfy_friction_real(const rfy_friction *table, double ln_laminar, double *slope);

#endif
