/* Clausing's integral equation for the round tube. */
#ifndef RFY_TESTS_CLAUSING_H
#define RFY_TESTS_CLAUSING_H

/* Transmission probability of a tube of length/radius l with diffuse walls and a cosine inlet. */
double clausing_transmission(double l, int order);

#endif
