#include "published/radiosity.h"
#include <gsl/gsl_integration.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#define PI 3.14159265358979323846
enum { MOST_PANELS = 80, MOST_BREAKS = 400, MOST_ORDER = 24 };

/* ---- one coordinate ---- */

typedef struct panels {
    int n, order;
    double edge[MOST_PANELS + 1];
    double node[MOST_ORDER];   /* on (-1, 1) */
    double weight[MOST_ORDER]; /* of Gauss */
    double bary[MOST_ORDER];   /* of Lagrange interpolation through the nodes */
} panels;

static void build_panels(panels *p, const duct *d, int order) {
    /* panels that double from each end to the middle */
    double left[MOST_PANELS], right[MOST_PANELS], middle = 0.5 * d->length, at;
    int nl = 0, nr = 0;
    double width = d->scale(d, 0);
    for (at = width; at < 0.8 * middle; width *= 2, at += width)
        left[nl++] = at;
    width = d->scale(d, d->length);
    for (at = width; at < 0.8 * middle; width *= 2, at += width)
        right[nr++] = d->length - at;
    p->n = 0;
    p->order = order;
    p->edge[0] = 0;
    for (int i = 0; i < nl; i++)
        p->edge[++p->n] = left[i];
    p->edge[++p->n] = middle;
    while (nr-- > 0)
        p->edge[++p->n] = right[nr];
    p->edge[++p->n] = d->length;
    gsl_integration_glfixed_table *t = gsl_integration_glfixed_table_alloc((size_t)order);
    for (int i = 0; i < order; i++)
        gsl_integration_glfixed_point(-1, 1, (size_t)i, &p->node[i], &p->weight[i], t);
    gsl_integration_glfixed_table_free(t);
    for (int i = 0; i < order; i++) {
        p->bary[i] = 1;
        for (int j = 0; j < order; j++)
            if (j != i)
                p->bary[i] /= p->node[i] - p->node[j];
    }
}

/* Values at x in (-1, 1) of the Lagrange polynomials through the nodes. */
static void lagrange(const panels *p, double x, double *value) {
    double sum = 0;
    for (int i = 0; i < p->order; i++) {
        double off = x - p->node[i];
        if (off == 0) {
            for (int j = 0; j < p->order; j++)
                value[j] = j == i;
            return;
        }
        value[i] = p->bary[i] / off;
        sum += value[i];
    }
    for (int i = 0; i < p->order; i++)
        value[i] /= sum;
}

static int by_size(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Where the integrand about `centre` is to be cut: panel edges, the centre, and doubling distances
 * from it. */
static int cut(const panels *p, const duct *d, double centre, double *cuts) {
    int n = 0;
    for (int i = 0; i <= p->n; i++)
        cuts[n++] = p->edge[i];
    if (centre > 0 && centre < d->length)
        cuts[n++] = centre;
    for (double off = 0.5 * d->scale(d, centre); off < d->length; off *= 2)
        for (int side = -1; side <= 1; side += 2)
            if (centre + side * off > 0 && centre + side * off < d->length)
                cuts[n++] = centre + side * off;
    qsort(cuts, (size_t)n, sizeof *cuts, by_size);
    return n;
}

/* sum[k] += integral of g(y) times the k-th Lagrange polynomial, over the whole duct. */
static void moments(const panels *p, const duct *d, double centre, bool outlet, double *sum) {
    double cuts[MOST_BREAKS], l[MOST_ORDER];
    int n = cut(p, d, centre, cuts), panel = 0;
    for (int c = 0; c + 1 < n; c++) {
        double low = cuts[c], high = cuts[c + 1], half = 0.5 * (high - low);
        if (!(half > 0))
            continue;
        while (panel + 1 < p->n && 0.5 * (low + high) > p->edge[panel + 1])
            panel++;
        double a = p->edge[panel], b = p->edge[panel + 1];
        for (int q = 0; q < p->order; q++) {
            double y = 0.5 * (low + high) + half * p->node[q];
            double g = outlet ? d->to_outlet(d, y) : d->exchange(d, centre, y);
            lagrange(p, (2 * y - a - b) / (b - a), l);
            for (int k = 0; k < p->order; k++)
                sum[panel * p->order + k] += half * p->weight[q] * g * l[k];
        }
    }
}

double duct_transmission(const duct *d, int order) {
    panels p;
    build_panels(&p, d, order);
    const size_t n = (size_t)(p.n * order);
    gsl_matrix *m = gsl_matrix_calloc(n, n);
    gsl_vector *eta = gsl_vector_alloc(n), *rhs = gsl_vector_alloc(n), *out = gsl_vector_calloc(n);
    for (size_t i = 0; i < n; i++) {
        size_t panel = i / (size_t)order;
        double z = 0.5 * (p.edge[panel] + p.edge[panel + 1]) +
                   0.5 * (p.edge[panel + 1] - p.edge[panel]) * p.node[i % (size_t)order];
        double *row = gsl_matrix_ptr(m, i, 0);
        moments(&p, d, z, false, row);
        for (size_t j = 0; j < n; j++)
            row[j] = -row[j];
        row[i] += d->area(d, z);
        gsl_vector_set(rhs, i, d->from_inlet(d, z));
    }
    gsl_permutation *swaps = gsl_permutation_alloc(n);
    int sign;
    gsl_linalg_LU_decomp(m, swaps, &sign);
    gsl_linalg_LU_solve(m, swaps, rhs, eta);
    moments(&p, d, d->length, true, out->data);
    double through = d->direct;
    for (size_t i = 0; i < n; i++)
        through += gsl_vector_get(eta, i) * gsl_vector_get(out, i);
    gsl_permutation_free(swaps);
    gsl_vector_free(out);
    gsl_vector_free(rhs);
    gsl_vector_free(eta);
    gsl_matrix_free(m);
    return through / d->inlet;
}

static double unit(const duct *d, double z) {
    (void)d;
    (void)z;
    return 1;
}

/* ---- slit: crossed strings (Hottel 1954) gives every factor of two-dimensional ducts ---- */

static double slit_end(double z) { /* a strip of wall sees the end at distance z */
    return 0.5 * (1 - z / sqrt(1 + z * z));
}
static double slit_in(const duct *d, double z) {
    (void)d;
    return slit_end(z);
}
static double slit_out(const duct *d, double z) {
    return 2 * slit_end(d->length - z); /* of both walls, which are alike */
}
static double slit_across(const duct *d, double z, double y) {
    (void)d;
    double s = 1 + (z - y) * (z - y);
    return 0.5 / (s * sqrt(s));
}

double slit_transmission(double length, int order) {
    duct d = {.length = length,
              .inlet = 1,
              .direct = 1 / (sqrt(1 + length * length) + length),
              .area = unit,
              .from_inlet = slit_in,
              .to_outlet = slit_out,
              .exchange = slit_across,
              .scale = unit};
    return duct_transmission(&d, order);
}

/* ---- cone: everything from the exchange area of two coaxial disks ---- */

/* (pi/2) [S - sqrt(S^2 - 4 r^2 q^2)], S = r^2 + q^2 + h^2 (Walsh 1920; in every table of view
 * factors). */
static double disks(double r, double q, double h) {
    double far = (r + q) * (r + q) + h * h, near = (r - q) * (r - q) + h * h;
    return 2 * PI * r * r * q * q / (r * r + q * q + h * h + sqrt(far * near));
}

static double radius(const duct *d, double z) {
    return d->r1 + (d->r2 - d->r1) * z / d->length;
}
static double cone_slope(const duct *d) {
    return (d->r2 - d->r1) / d->length;
}
static double cone_area(const duct *d, double z) {
    double k = cone_slope(d);
    return 2 * PI * radius(d, z) * sqrt(1 + k * k);
}

/* d/dz of disks(r(z), q, |z - end|). */
static double disks_slope(const duct *d, double z, double q, double end) {
    double r = radius(d, z), k = cone_slope(d), h = z - end, s = r * r + q * q + h * h;
    double root = sqrt(((r + q) * (r + q) + h * h) * ((r - q) * (r - q) + h * h));
    double ds = 2 * r * k + 2 * h;
    return 0.5 * PI * (ds - (s * ds - 4 * r * k * q * q) / root);
}
static double cone_in(const duct *d, double z) {
    return -disks_slope(d, z, d->r1, 0);
}
static double cone_out(const duct *d, double z) {
    return disks_slope(d, z, d->r2, d->length);
}

/* -d2/dz dy of disks(r(z), r(y), |z - y|): what one ring sends to another. */
static double cone_across(const duct *d, double z, double y) {
    double r = radius(d, z), q = radius(d, y), k = cone_slope(d), h = z - y;
    double s = r * r + q * q + h * h,
           root2 = ((r + q) * (r + q) + h * h) * ((r - q) * (r - q) + h * h);
    double root = sqrt(root2), sz = 2 * (r * k + h), sy = 2 * (q * k - h);
    double tz = 2 * s * sz - 8 * r * k * q * q, ty = 2 * s * sy - 8 * r * r * q * k;
    double tzy = 2 * sz * sy - 4 * s - 16 * r * q * k * k;
    return 0.5 * PI * (2 + tzy / (2 * root) - tz * ty / (4 * root * root2));
}

double cone_transmission(double r1, double r2, double length, int order) {
    duct d = {.length = length,
              .inlet = PI * r1 * r1,
              .direct = disks(r1, r2, length),
              .area = cone_area,
              .from_inlet = cone_in,
              .to_outlet = cone_out,
              .exchange = cone_across,
              .scale = radius,
              .r1 = r1,
              .r2 = r2};
    return duct_transmission(&d, order);
}

/* ---- rectangular duct ---- */

/* Exchange areas of rectangles are differences of these at the corners (Gross, Spindler and Hahne
 * 1981, in tables of view factors): parallel ones a distance z apart, and perpendicular ones at
 * distances y and z from the line in which their planes meet. */
static double parallel(double x, double y, double z) {
    x = fabs(x);
    y = fabs(y);
    double sx = sqrt(x * x + z * z), sy = sqrt(y * y + z * z);
    return (y * sx * atan(y / sx) + x * sy * atan(x / sy) -
            0.5 * z * z * log(x * x + y * y + z * z)) /
           (2 * PI);
}
static double perpendicular(double x, double y, double z) {
    double q2 = y * y + z * z, q = sqrt(q2), all = x * x + q2;
    double t = q > 0 ? x * q * atan(x / q) : 0, l = all > 0 ? 0.25 * (x * x - q2) * log(all) : 0;
    return (t + l) / (2 * PI);
}

typedef struct patch { /* of the wall y = gap/2 or z = ..., u across, x along */
    double x1, x2, u1, u2;
} patch;

static double between_parallel(const patch *p, const patch *q, double gap) {
    double sum = 0;
    for (int i = 0; i < 16; i++) {
        double x = (i & 1 ? p->x2 : p->x1) - (i & 2 ? q->x2 : q->x1);
        double u = (i & 4 ? p->u2 : p->u1) - (i & 8 ? q->u2 : q->u1);
        int sign = ((i & 1) + (i >> 1 & 1) + (i >> 2 & 1) + (i >> 3 & 1)) % 2 ? -1 : 1;
        sum += sign * parallel(x, u, gap);
    }
    return sum;
}
/* u counted from the common edge in both */
static double between_perpendicular(const patch *p, const patch *q) {
    double sum = 0;
    for (int i = 0; i < 16; i++) {
        double x = (i & 1 ? p->x2 : p->x1) - (i & 2 ? q->x2 : q->x1);
        double y = i & 4 ? p->u2 : p->u1, z = i & 8 ? q->u2 : q->u1;
        int sign = ((i & 1) + (i >> 1 & 1) + (i >> 2 & 1) + (i >> 3 & 1)) % 2 ? -1 : 1;
        sum += sign * perpendicular(x, y, z);
    }
    return sum;
}

/* What patch p (and it alone) exchanges with all four mirror images of q. */
static double with_images(const patch *p, int wall_p, const patch *q, int wall_q, double a,
                          double b) {
    double width[2] = {a, b}, gap[2] = {b, a};
    patch mirror = {q->x1, q->x2, width[wall_q] - q->u2, width[wall_q] - q->u1};
    if (wall_p == wall_q)
        return between_parallel(p, q, gap[wall_p]) + between_parallel(p, &mirror, gap[wall_p]);
    /* both walls beside it, both halves of each */
    patch far = {p->x1, p->x2, width[wall_p] - p->u2, width[wall_p] - p->u1};
    return between_perpendicular(p, q) + between_perpendicular(p, &mirror) +
           between_perpendicular(&far, q) + between_perpendicular(&far, &mirror);
}

/* eta(x) + eta(L - x) = 1 by symmetry, so that only the first half along x is unknown. */
static double rectangle_once(double a, double length, int nx, int ny) {
    const double b = 1, width[2] = {a, b};
    const int n = 2 * nx * ny;
    patch *p = calloc((size_t)n, sizeof *p);
    gsl_matrix *m = gsl_matrix_alloc((size_t)n, (size_t)n);
    gsl_vector *rhs = gsl_vector_alloc((size_t)n), *out = gsl_vector_alloc((size_t)n);
    for (int wall = 0; wall < 2; wall++)
        for (int i = 0; i < nx; i++)
            for (int j = 0; j < ny; j++)
                /* finer towards the end and the corner */
                p[(wall * nx + i) * ny + j] =
                    (patch){0.5 * length * (1 - cos(PI / 2 * i / nx)),
                            0.5 * length * (1 - cos(PI / 2 * (i + 1) / nx)),
                            0.5 * width[wall] * (1 - cos(PI / 2 * j / ny)),
                            0.5 * width[wall] * (1 - cos(PI / 2 * (j + 1) / ny))};
    double through = 0;
    gsl_vector_set_zero(rhs);
    for (int i = 0; i < n; i++) {
        int wall = i / (nx * ny);
        double area = (p[i].x2 - p[i].x1) * (p[i].u2 - p[i].u1);
        for (int j = i; j < n; j++) { /* exchange is mutual */
            int other = j / (nx * ny);
            patch turned = p[j];
            turned.x1 = length - p[j].x2;
            turned.x2 = length - p[j].x1;
            double same = with_images(&p[i], wall, &p[j], other, a, b);
            double mirror = with_images(&p[i], wall, &turned, other, a, b);
            *gsl_vector_ptr(rhs, (size_t)i) += mirror;
            if (j > i)
                *gsl_vector_ptr(rhs, (size_t)j) += mirror;
            gsl_matrix_set(m, (size_t)i, (size_t)j, mirror - same + (i == j ? area : 0));
            gsl_matrix_set(m, (size_t)j, (size_t)i, mirror - same + (i == j ? area : 0));
        }
        /* ends: rectangles perpendicular to the wall, `across` from it */
        patch ends = {0, width[wall], 0, width[1 - wall]};
        patch near = {p[i].u1, p[i].u2, p[i].x1, p[i].x2};
        patch far = {p[i].u1, p[i].u2, length - p[i].x2, length - p[i].x1};
        double in = between_perpendicular(&near, &ends), back = between_perpendicular(&far, &ends);
        *gsl_vector_ptr(rhs, (size_t)i) += in;
        /* this patch and its mirror: eta back + (1 - eta) in, four of them */
        gsl_vector_set(out, (size_t)i, 4 * (back - in));
        through += 4 * in;
    }
    patch inlet = {0, a, 0, b};
    through += between_parallel(&inlet, &inlet, length);
    gsl_linalg_cholesky_decomp1(m);
    gsl_linalg_cholesky_svx(m, rhs);
    for (int i = 0; i < n; i++)
        through += gsl_vector_get(rhs, (size_t)i) * gsl_vector_get(out, (size_t)i);
    gsl_vector_free(out);
    gsl_vector_free(rhs);
    gsl_matrix_free(m);
    free(p);
    return through / (a * b);
}

double rectangle_transmission(double a, double length, int nx, int ny) {
    double once = rectangle_once(a, length, nx, ny);
    double twice = rectangle_once(a, length, 2 * nx, 2 * ny);
    double thrice = rectangle_once(a, length, 3 * nx, 3 * ny);
    /* w + c2/k^2 + c4/k^4 through k = 1, 2, 3 */
    double low = (4 * twice - once) / 3, high = (9 * thrice - 4 * twice) / 5;
    return (9 * high - low) / 8;
}

/* ---- long annulus -----------------------------------------------------------------------------
 */

/* Smoluchowski 1910: conductance of a long duct is proportional to the integral over its section
 * and over all directions in it of the chord from that point to the wall. */
typedef struct rule {
    int n;
    double x[64], w[64];
} rule;

static double chords(double k, double r, const rule *g) {
    /* angles from the outward radius; the inner wall hides behind those above pi - asin(k/r) */
    double tangent = k > 0 ? PI - asin(k / r) : PI, sum = 0;
    const double part[4] = {0, PI / 2, tangent, PI};
    for (int s = 0; s < 3; s++) {
        double width = part[s + 1] - part[s];
        for (int i = 0; i < g->n && width > 0; i++) {
            double phi = part[s] + width * g->x[i], cross = r * sin(phi);
            double reach = (s == 2 ? k * k : 1) - cross * cross;
            double chord = -r * cos(phi) + (s == 2 ? -1 : 1) * sqrt(reach > 0 ? reach : 0);
            sum += width * g->w[i] * chord;
        }
    }
    return 2 * sum; /* both sides of the radius */
}

static double section(double k, const rule *g) {
    double sum = 0;
    for (int i = 0; i < g->n; i++) {
        double r = k + (1 - k) * g->x[i];
        sum += (1 - k) * g->w[i] * 2 * PI * r * chords(k, r, g);
    }
    return sum;
}

double annulus_factor(double k, int order) {
    rule g = {.n = order};
    gsl_integration_glfixed_table *t = gsl_integration_glfixed_table_alloc((size_t)order);
    for (int i = 0; i < order; i++) {
        double v, w;
        gsl_integration_glfixed_point(0, 1, (size_t)i, &v, &w, t);
        g.x[i] = v * v * (3 - 2 * v); /* denser at both ends, where roots end */
        g.w[i] = w * 6 * v * (1 - v);
    }
    gsl_integration_glfixed_table_free(t);
    return section(k, &g) / section(0, &g) / ((1 - k) * (1 - k) * (1 + k));
}
