/* Coefficients of a Rosenbrock-Wanner method in the form that needs no product with the Jacobian
 * (Hairer and Wanner 1996, section IV.7):
 *     (1/(h gamma) I - J) u_s = f(t + at_s h, y + sum a_sk u_k) + sum c_sk/h u_k + h in_time_s
 * df/dt , the last stage value plus its u is the solution. */
#ifndef RFY_SOLVE_RODAS_METHOD_H
#define RFY_SOLVE_RODAS_METHOD_H

enum { RFY_MOST_STAGES = 8 };

typedef struct rfy_rodas_method {
    int stages;
    unsigned order; /* of the error estimate: the step grows with its root of order + 1 */
    double gamma;
    double a[RFY_MOST_STAGES][RFY_MOST_STAGES - 1], c[RFY_MOST_STAGES][RFY_MOST_STAGES - 1];
    double at[RFY_MOST_STAGES], in_time[RFY_MOST_STAGES];
    double dense[3][RFY_MOST_STAGES]; /* y(s) = (1-s) y0 + s y1 + s (1-s) (d0 + s (d1 + s d2)) */
} rfy_rodas_method;

/* RODASP: of order 4 for what is driven in time, like RODAS5P but with two stages less. */
extern const rfy_rodas_method *const rfy_rodas_linear;

#endif
