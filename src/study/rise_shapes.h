/* Curves of a rate-of-rise test as a family that is linear but for its shape:
 *
 *   p(t) = background + slope t + amount h(t), slope >= 0, amount >= 0,
 *
 * with h(t) = 1 - exp(-t/tau) (outgassing that levels) or a power law. For each of a row of shapes
 * the weighted sums of squares are kept, so that any minimum or profile costs a few flops a shape.
 */
#ifndef RFY_STUDY_RISE_SHAPES_H
#define RFY_STUDY_RISE_SHAPES_H

#include <stdbool.h>
#include <stddef.h>

enum { RFY_RISE_MOST_SHAPES = 160 };

typedef enum rfy_rise_law {
    RFY_RISE_LEVELS, /* 1 - exp(-t/tau) */
    RFY_RISE_LOG,    /* ln(1 + t/tau): the flow falls as 1/t */
    RFY_RISE_ROOT    /* sqrt(1 + t/tau) - 1: the flow falls as 1/sqrt(t) */
} rfy_rise_law;

typedef struct rfy_rise_shape {
    rfy_rise_law law;
    double tau;
    double initial; /* h'(0) */
    double final;   /* h at the last reading */
    double s[3][3]; /* sums of weight basis basis for 1, t, h */
    double v[3];    /* of weight basis reading */
} rfy_rise_shape;

typedef struct rfy_rise_data {
    size_t n;
    const double *t, *y, *w; /* s from the first, Pa, 1/variance */
} rfy_rise_data;

typedef struct rfy_rise_shapes {
    size_t n;
    double last, yy;
    rfy_rise_shape shape[RFY_RISE_MOST_SHAPES];
} rfy_rise_shapes;

/* Which parts a curve may have. */
enum { RFY_RISE_HAS_LEAK = 1, RFY_RISE_HAS_OUTGASSING = 2 };

typedef struct rfy_rise_curve {
    int parts;
    double chi2;
    double background, slope, amount;
    const rfy_rise_shape *shape; /* NULL without outgassing */
} rfy_rise_curve;

/* Shapes with tau evenly spaced in the logarithm. */
void rfy_rise_shapes_make(rfy_rise_shapes *out, const rfy_rise_data *data, rfy_rise_law law,
                          double tau_least, double tau_most, size_t n);
/* The best curve with these parts at most. */
rfy_rise_curve rfy_rise_best(const rfy_rise_shapes *shapes, int parts);
double rfy_rise_h(const rfy_rise_shape *shape, double t);
double rfy_rise_at(const rfy_rise_curve *curve, double t);

/* The least chi2 with both parts where the slope, or a multiple of the amount (its initial rate
 * amount h'(0), or its share amount h(last), or itself), has the value. */
typedef enum rfy_rise_of { RFY_OF_SLOPE, RFY_OF_INITIAL, RFY_OF_SHARE, RFY_OF_AMOUNT } rfy_rise_of;
double rfy_rise_profile(const rfy_rise_shapes *shapes, rfy_rise_of of, double value);
double rfy_rise_value(const rfy_rise_curve *curve, rfy_rise_of of);

/* The 95 % interval by the profile: chi2 (in units of the variance) rises by no more than what it
 * does with 95 % chance when the value is true and cannot be negative (Feldman and Cousins 1998,
 * Phys. Rev. D 57, 3873, with the profile in place of the likelihood); widened for `freedom`
 * degrees of freedom by Student's t. `wider` multiplies the threshold at zero, where shapes are
 * free. */
void rfy_rise_interval(const rfy_rise_shapes *shapes, rfy_rise_of of, double chi2_least,
                       double best, double variance, double freedom, double wider, double *low,
                       double *high);
/* Threshold for a mean mu standard deviations above zero. */
double rfy_rise_threshold(double mu);

#endif
