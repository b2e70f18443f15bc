/* Molecular transmission of sections other than a circular tube, between open chambers, diffuse
 * walls, all dimensionless. Every function is exact in the limits of short and long ducts. The
 * numbers behind them were computed from the radiosity equation (tables of tests/published). */
#ifndef RFY_FLOW_TABLES_H
#define RFY_FLOW_TABLES_H

/* Infinitely wide slit, l = length/gap >= 0. On the table's nodes exactly; within 0.3 % beyond l =
 * 1000. */
double rfy_slit_transmission(double l);

/* Rectangular duct, ratio = long side/short side >= 1, l = length/short side >= 0. Within 0.2 %,
 * 0.8 % for ratios above 10. */
double rfy_duct_transmission(double ratio, double l);

/* What a long concentric annulus passes, relative to the tube formula: C = K (pi/12) vbar (D0 -
 * Di)^2 (D0 + Di)/L, ratio = Di/D0 in [0, 1). */
double rfy_annulus_factor(double ratio);

/* Concentric annulus, l = length/half the difference of the diameters >= 0. Within 0.5 %. */
double rfy_annulus_transmission(double ratio, double l);

/* Cone, ratio = large/small diameter >= 1, l = length/small radius >= 0; from the small end and
 * referred to it. From the large end it is W/ratio^2 (reciprocity). Solved, not tabulated: within
 * 0.01 % where the cone is shorter than some 24 local radii, 0.5 % beyond. */
double rfy_cone_transmission(double ratio, double l);

#endif
