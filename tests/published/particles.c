#include "published/particles.h"
#include <math.h>
#include <stdbool.h>

#define PI 3.14159265358979323846
static const double hair = 1e-9;
enum { MOST_BOUNCES = 1000000 };

typedef struct vec {
    double x, y, z;
} vec;

static double uniform(uint64_t *seed) { /* splitmix64 (Steele, Lea and Flood 2014) */
    uint64_t z = *seed += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

static vec along(vec p, vec d, double t) {
    return (vec){p.x + t * d.x, p.y + t * d.y, p.z + t * d.z};
}

/* A point of the unit circle, without sines. */
static void on_circle(uint64_t *seed, double *c, double *s) {
    double a, b, q;
    do {
        a = 2 * uniform(seed) - 1;
        b = 2 * uniform(seed) - 1;
        q = a * a + b * b;
    } while (q > 1 || q < 1e-12);
    *c = (a * a - b * b) / q;
    *s = 2 * a * b / q;
}

/* Cosine law about the unit normal n. */
static vec leave(vec n, uint64_t *seed) {
    vec side = fabs(n.x) < 0.6 ? (vec){0, n.z, -n.y} : (vec){-n.z, 0, n.x}; /* n x a unit axis */
    double norm = 1 / sqrt(side.x * side.x + side.y * side.y + side.z * side.z);
    side = (vec){side.x * norm, side.y * norm, side.z * norm};
    vec up = {n.y * side.z - n.z * side.y, n.z * side.x - n.x * side.z,
              n.x * side.y - n.y * side.x};
    double c, s, q = uniform(seed), t = sqrt(q), h = sqrt(1 - q);
    on_circle(seed, &c, &s);
    c *= t;
    s *= t;
    return (vec){h * n.x + c * side.x + s * up.x, h * n.y + c * side.y + s * up.y,
                 h * n.z + c * side.z + s * up.z};
}

static passed result(long through, long particles, long lost) {
    double w = (double)through / (double)particles;
    return (passed){w, sqrt(w * (1 - w) / (double)particles), lost};
}

/* ---- round lines ---- */

/* Flight to a wall, or infinity. */
static double flight(const round_wall *w, vec p, vec d) {
    if (w->z1 == w->z2) {
        double t = (w->z1 - p.z) / d.z;
        if (!(t > hair) || d.z * w->facing >= 0)
            return HUGE_VAL;
        vec at = along(p, d, t);
        double r2 = at.x * at.x + at.y * at.y, low = fmin(w->r1, w->r2), high = fmax(w->r1, w->r2);
        return r2 >= low * low && r2 <= high * high ? t : HUGE_VAL;
    }
    double k = (w->r2 - w->r1) / (w->z2 - w->z1), r = w->r1 + k * (p.z - w->z1), dr = k * d.z;
    double a = d.x * d.x + d.y * d.y - dr * dr, b = p.x * d.x + p.y * d.y - r * dr;
    double c = p.x * p.x + p.y * p.y - r * r, root = b * b - a * c;
    if (root < 0)
        return HUGE_VAL;
    root = sqrt(root);
    /* both roots, the nearer first, without cancellation */
    double q = b > 0 ? -b - root : -b + root, t[2] = {q / a, c / q};
    if (t[0] > t[1]) {
        double swap = t[0];
        t[0] = t[1];
        t[1] = swap;
    }
    for (int i = 0; i < 2; i++) {
        double z = p.z + t[i] * d.z;
        if (t[i] > hair && z >= w->z1 && z <= w->z2 && w->r1 + k * (z - w->z1) >= 0)
            return t[i];
    }
    return HUGE_VAL;
}

static vec normal(const round_wall *w, vec p) {
    if (w->z1 == w->z2)
        return (vec){0, 0, w->facing};
    double k = (w->r2 - w->r1) / (w->z2 - w->z1),
           norm = 1 / sqrt((1 + k * k) * (p.x * p.x + p.y * p.y));
    vec n = {-p.x * norm, -p.y * norm, k / sqrt(1 + k * k)};
    return w->outside ? (vec){-n.x, -n.y, -n.z} : n;
}

passed round_transmission(const round_wall *wall, int n, double inlet, double inner, double length,
                          long particles, uint64_t seed) {
    long through = 0, lost = 0;
    for (long i = 0; i < particles; i++) {
        double c, s, r = sqrt(inner * inner + (inlet * inlet - inner * inner) * uniform(&seed));
        on_circle(&seed, &c, &s);
        vec p = {r * c, r * s, 0}, d = leave((vec){0, 0, 1}, &seed);
        int last = -1;
        for (int bounce = 0;; bounce++) {
            double best = d.z > 0 ? (length - p.z) / d.z : d.z < 0 ? -p.z / d.z : HUGE_VAL;
            int hit = -1;
            for (int k = 0; k < n; k++) {
                /* a wall that bulges towards the gas is not met again at once, nor is a flat one */
                if (k == last && (wall[k].outside || wall[k].z1 == wall[k].z2))
                    continue;
                double t = flight(&wall[k], p, d);
                if (t < best) {
                    best = t;
                    hit = k;
                }
            }
            if (!isfinite(best) || bounce > MOST_BOUNCES) {
                lost++;
                break;
            }
            if (hit < 0) {
                through += d.z > 0;
                break;
            }
            p = along(p, d, best);
            d = leave(normal(&wall[hit], p), &seed);
            last = hit;
        }
    }
    return result(through, particles, lost);
}

/* ---- mitre ------------------------------------------------------------------------------------
 */

/* Two cylinders of radius 1: the first about the z axis up to the plane x + z = 0, the second about
 * the x axis from there on. The inlet is z = -leg1, the outlet x = leg2. */
passed mitre_transmission(double leg1, double leg2, long particles, uint64_t seed) {
    long through = 0, lost = 0;
    for (long i = 0; i < particles; i++) {
        double c, s, r = sqrt(uniform(&seed));
        on_circle(&seed, &c, &s);
        vec p = {r * c, r * s, -leg1}, d = leave((vec){0, 0, 1}, &seed);
        bool second = p.x + p.z > 0;
        for (int steps = 0;; steps++) {
            double u = second ? p.z : p.x, du = second ? d.z : d.x; /* across, with y */
            double t_end = second ? (d.x > 0 ? (leg2 - p.x) / d.x : HUGE_VAL)
                                  : (d.z < 0 ? (-leg1 - p.z) / d.z : HUGE_VAL);
            double rate = second ? -d.x - d.z : d.x + d.z, to_go = second ? p.x + p.z : -p.x - p.z;
            double t_joint = rate > 0 ? fmax(0, to_go) / rate : HUGE_VAL;
            double a = du * du + d.y * d.y, b = u * du + p.y * d.y, k = u * u + p.y * p.y - 1;
            double t_wall = a > 0 ? (sqrt(fmax(0, b * b - a * k)) - b) / a : HUGE_VAL;
            double best = fmin(fmin(t_end, t_joint), t_wall);
            if (steps > MOST_BOUNCES || !isfinite(best)) {
                lost++;
                break;
            }
            if (best == t_end) {
                through += second;
                break;
            }
            p = along(p, d, best);
            if (best == t_joint) {
                second = !second;
                continue;
            }
            u = second ? p.z : p.x;
            double norm = -1 / sqrt(u * u + p.y * p.y);
            d = leave(second ? (vec){0, p.y * norm, u * norm} : (vec){u * norm, p.y * norm, 0},
                      &seed);
        }
    }
    return result(through, particles, lost);
}
