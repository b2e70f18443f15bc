/* Pieces with a section of their own, a bundle of channels or a given curve: what each says of
 * itself, how it stands in a line, and what must hold for its flow whatever its size. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "flow/kinetic.h"
#include "flow/piece.h"
#include "flow/stretch.h"
#include "flow/tables.h"
#include "io/read_piece.h"
#include "network/edges.h"
#include "support/sketch.h"

#define PI 3.14159265358979323846

static rfy_arena *catalog_arena, *arena;
static const rfy_catalog *catalog;
static const double temperature = 293.15;

static int setup(void **state) {
    (void)state;
    catalog_arena = rfy_arena_new();
    catalog = rfy_catalog_new(catalog_arena);
    arena = rfy_arena_new();
    return 0;
}

static int teardown(void **state) {
    (void)state;
    rfy_arena_free(catalog_arena);
    rfy_arena_free(arena);
    return 0;
}

static uint64_t seed;

static double uniform(void) { /* splitmix64 (Steele, Lea and Flood 2014) */
    uint64_t z = seed += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

static double log_uniform(double low, double high) {
    return low * pow(high / low, uniform());
}

static int below(int n) {
    return (int)(uniform() * n);
}

static rfy_piece_shape read_shape(const char *text, const rfy_setting *settings, size_t n) {
    rfy_problems *problems = rfy_problems_new("piece");
    rfy_piece_read read;
    rfy_piece_shape shape = {.seat_leak = NAN};
    if (rfy_read_piece(arena, catalog, text, settings, n, problems, &read) != RFY_OK)
        fail_msg("%s is not read", text);
    const rfy_piece_kind *kind = read.piece.variant->kind;
    char label[160];
    kind->shape(read.piece.values, &shape);
    kind->label(read.piece.values, label, sizeof label);
    assert_true(strlen(label) > 3);
    if (!rfy_piece_is_sound(&shape, read.piece.values, problems))
        fail_msg("%s: %s", text, shape.fault.what);
    rfy_problems_free(problems);
    shape.own.temperature[0] = shape.own.temperature[1] = temperature;
    return shape;
}

static rfy_piece_shape shape_of(const char *format, ...) {
    char text[200];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    return read_shape(text, NULL, 0);
}

static const char *const own_kinds[] = {"reducer", "duct", "slit", "annulus",
                                        "mesh",    "bed",  "plug", "capillary"};
enum { OWN = sizeof own_kinds / sizeof *own_kinds };

/* A drawn piece of a kind in its short form; length is scaled by `longer`, every cross dimension by
 * `wider`. */
static void draw_text(int kind, uint64_t from, double wider, double longer, char *text,
                      size_t size) {
    seed = from;
    double a = log_uniform(2, 200), b = a * log_uniform(0.02, 1),
           length = a * log_uniform(0.02, 100);
    double share = 0.05 + 0.6 * uniform();
    a *= wider, b *= wider, length *= longer;
    switch (kind) {
    case 0: /* either way round */
        snprintf(text, size, "reducer %.15g mm x %.15g mm x %.15g mm", share < 0.35 ? a : b,
                 share < 0.35 ? b : a, length);
        break;
    case 1:
        snprintf(text, size, "duct %.15g mm x %.15g mm x %.15g mm", a, b, length);
        break;
    case 2:
        snprintf(text, size, "slit %.15g mm x %.15g mm x %.15g mm", a, b / 10, length / 10);
        break;
    case 3:
        snprintf(text, size, "annulus %.15g mm x %.15g mm x %.15g mm", a, 0.98 * b, length);
        break;
    case 4:
        snprintf(text, size, "mesh %.15g mm x %.15g x %.15g mm x %.15g mm", a, share,
                 b * sqrt(share) / 2, length / 20);
        break;
    case 5:
        snprintf(text, size, "bed %.15g mm x %.15g mm x %.15g mm", a, length, b / 3);
        break;
    case 6:
        snprintf(text, size, "plug %.15g mm x %.15g mm x %.15g um x %.15g", a, length / 5, b,
                 share);
        break;
    default:
        snprintf(text, size, "capillary %.15g um x %.15g mm", 10 * b, length);
    }
}

/* ---- what a kind says of itself ---- */

static void kinds_are_complete(void **state) {
    (void)state;
    int found = 0;
    for (size_t i = 0; i < rfy_piece_kinds.n; i++) {
        const rfy_variant *v = &rfy_piece_kinds.item[i];
        bool needle = strcmp(v->name, "needle") == 0, ours = needle;
        for (int k = 0; k < OWN; k++)
            ours = ours || strcmp(v->name, own_kinds[k]) == 0;
        if (!ours)
            continue;
        found++;
        assert_string_equal(((const rfy_piece_kind *)v->kind)->name, v->name);
        assert_string_equal(v->record->name, v->name);
        assert_true(strlen(v->help) > 10);
        for (size_t f = 0; f < v->record->n; f++) {
            const rfy_field *field = &v->record->field[f];
            assert_true(field->help && strlen(field->help) > 5);
            bool free_text = field->type == RFY_F_NAME || field->type == RFY_F_TEXT ||
                             field->type == RFY_F_CHOICE;
            assert_true(free_text || field->max > field->min);
            assert_true(field->required || field->assumed || field->type == RFY_F_NAME);
            for (size_t g = 0; g < f; g++)
                assert_string_not_equal(v->record->field[g].key, field->key);
        }
        assert_true(needle == (v->short_keys == NULL)); /* a curve has no short form */
        for (size_t s = 0; v->short_keys && v->short_keys[s]; s++) {
            bool known = false;
            for (size_t f = 0; f < v->record->n; f++)
                known = known || strcmp(v->record->field[f].key, v->short_keys[s]) == 0;
            assert_true(known);
        }
    }
    assert_int_equal(found, OWN + 1);
}

static void shapes_are_sound(void **state) {
    (void)state;
    for (int kind = 0; kind < OWN; kind++)
        for (uint64_t i = 0; i < 200; i++) {
            char text[200];
            draw_text(kind, 1000 * i + 7, 1, 1, text, sizeof text);
            rfy_piece_shape s = shape_of("%s", text);
            const rfy_stretch_geometry *g = &s.own;
            bool sound = s.role == RFY_PIECE_OWN && s.volume > 0 && s.wall_area > 0 &&
                         g->area > 0 && g->radius > 0 && g->length > 0 && g->viscous_length > 0 &&
                         g->body >= 0 && isfinite(g->body) && g->loss >= 0 &&
                         g->area <= g->end_area[0] * (1 + 1e-12) &&
                         g->area <= g->end_area[1] * (1 + 1e-12) &&
                         fmin(g->end_area[0], g->end_area[1]) <= g->area * (1 + 1e-12);
            if (s.bore > 0)
                sound = sound && g->area < PI * s.bore * s.bore / 4;
            if (!sound)
                fail_msg("%s: unsound shape", text);
            /* no piece passes more than its narrowest opening: W <= 1 */
            double ends = 0.5 * (g->area / g->end_area[0] + g->area / g->end_area[1]);
            assert_true(g->body + ends > 1 - 1e-9);
        }
}

static void volumes_and_walls(void **state) {
    (void)state;
    rfy_piece_shape s = shape_of("duct 20 mm x 5 mm x 100 mm");
    assert_close(s.volume, 1e-5, 1e-12, 0, "duct");
    assert_close(s.wall_area, 5e-3, 1e-12, 0, "wall of a duct");
    s = shape_of("annulus 40 mm x 20 mm x 100 mm");
    assert_close(s.volume, PI * (4e-4 - 1e-4) * 0.1, 1e-12, 0, "annulus");
    assert_close(s.wall_area, PI * 0.06 * 0.1, 1e-12, 0, "both walls of an annulus");
    s = shape_of(
        "reducer 30 mm x 60 mm x 20 mm"); /* whole cones: (40 mm high, 60 mm) - (20 mm, 30 mm) */
    assert_close(s.volume, PI / 3 * (0.04 * 9e-4 - 0.02 * 2.25e-4), 1e-12, 0, "cone");
    assert_close(s.wall_area, PI * (0.03 * 0.05 - 0.015 * 0.025), 1e-12, 0, "wall of a cone");
    s = shape_of("bed 40 mm x 100 mm x 3 mm");
    assert_close(s.volume, 0.4 * PI * 4e-4 * 0.1, 1e-12, 0, "voids of a bed");
    assert_true(s.assumed && strstr(s.assumed, "0.4"));
    s = shape_of("slit 100 mm x 1 mm x 10 mm");
    assert_close(s.volume, 1e-6, 1e-12, 0, "slit");
    s = shape_of("plug 10 mm x 3 mm x 2 um x 0.3");
    assert_close(s.volume, 0.3 * PI * 25e-6 * 3e-3, 1e-12, 0, "pores");
    const rfy_setting count = {"count", "50"};
    s = read_shape("capillary 0.1 mm x 20 mm", &count, 1);
    assert_close(s.volume, 50 * PI * 25e-10 * 0.02, 1e-12, 0, "a bundle of capillaries");
    assert_close(s.own.area, 50 * PI * 25e-10, 1e-12, 0, "its section");
}

/* ---- flow whatever the size ---- */

typedef struct draw {
    char text[200];
    rfy_piece_shape shape;
    const rfy_stretch *run;
    rfy_mixture mix;
    double a[3], b[3], opening;
} draw;

static void draw_case(draw *d, int kind, uint64_t i) {
    if (i % 300 == 0) {
        rfy_arena_free(arena);
        arena = rfy_arena_new();
    }
    draw_text(kind, 977 * i + 31, 1, 1, d->text, sizeof d->text);
    d->shape = shape_of("%s", d->text);
    for (int e = 0; e < 2; e++) /* open, as wide, wider, narrower than the end */
        d->shape.own.inverse_area[e] =
            below(2) ? 0 : log_uniform(0.1, 3) / d->shape.own.end_area[e];
    d->run = rfy_stretch_new(arena, &d->shape.own);
    const int species[3] = {below(3), 3 + below(3), 6 + below(2)};
    rfy_mixture_init(&d->mix, catalog, species, 3, temperature);
    double level = log_uniform(1e-6, 1e5);
    for (int g = 0; g < 3; g++) {
        d->a[g] = level * log_uniform(0.01, 1);
        d->b[g] = level * log_uniform(0.01, 1);
    }
    d->opening = below(3) ? 1 : log_uniform(1e-3, 1);
}

static void turned_round_it_flows_back(void **state) {
    (void)state;
    for (int kind = 0; kind < OWN; kind++)
        for (uint64_t i = 0; i < 150; i++) {
            draw d;
            draw_case(&d, kind, i);
            rfy_stretch_geometry g = d.shape.own;
            if (kind == 0) { /* the words in the other order */
                double from, to, length;
                assert_int_equal(
                    sscanf(d.text, "reducer %lf mm x %lf mm x %lf mm", &from, &to, &length), 3);
                g = shape_of("reducer %.15g mm x %.15g mm x %.15g mm", to, from, length).own;
            }
            g.inverse_area[0] = d.shape.own.inverse_area[1];
            g.inverse_area[1] = d.shape.own.inverse_area[0];
            const rfy_stretch *back = rfy_stretch_new(arena, &g);
            double there[3], again[3], most = 0;
            rfy_stretch_flow(d.run, &d.mix, d.opening, d.a, d.b, there, NULL, NULL);
            rfy_stretch_flow(back, &d.mix, d.opening, d.b, d.a, again, NULL, NULL);
            for (int k = 0; k < 3; k++)
                most = fmax(most, fabs(there[k]));
            for (int k = 0; k < 3; k++)
                assert_close(again[k], -there[k], 1e-9, 1e-11 * most, "%s turned round", d.text);
        }
}

static void derivatives_meet_differences(void **state) {
    (void)state;
    int compared = 0;
    for (int kind = 0; kind < OWN; kind++)
        for (uint64_t i = 0; i < 150; i++) {
            draw d;
            draw_case(&d, kind, i);
            double flow[3], by[2][9], scale = 0;
            rfy_stretch_flow(d.run, &d.mix, d.opening, d.a, d.b, flow, by[0], by[1]);
            for (int k = 0; k < 9; k++)
                scale = fmax(scale, fmax(fabs(by[0][k]), fabs(by[1][k])));
            for (int side = 0; side < 2; side++)
                for (int j = 0; j < 3; j++) {
                    double *p = side ? d.b : d.a, was = p[j], found[2][2][3];
                    for (int fine = 0; fine < 2; fine++) {
                        double h = was * (fine ? 1e-5 : 1e-4);
                        p[j] = was + h;
                        rfy_stretch_flow(d.run, &d.mix, d.opening, d.a, d.b, found[fine][1], NULL,
                                         NULL);
                        p[j] = was - h;
                        rfy_stretch_flow(d.run, &d.mix, d.opening, d.a, d.b, found[fine][0], NULL,
                                         NULL);
                        for (int k = 0; k < 3; k++)
                            found[fine][0][k] = (found[fine][1][k] - found[fine][0][k]) / (2 * h);
                    }
                    p[j] = was;
                    for (int k = 0; k < 3; k++) {
                        double coarse = found[0][0][k], fine = found[1][0][k];
                        /* at a kink (the critical ratio, a cell's edge) the two differences
                         * disagree */
                        if (fabs(coarse - fine) > 1e-4 * fabs(fine) + 1e-6 * scale)
                            continue;
                        compared++;
                        assert_close(by[side][3 * k + j], fine, 2e-4, 3e-6 * scale,
                                     "%s: flow %d by pressure %d of side %d", d.text, k, j, side);
                    }
                }
        }
    assert_true(compared > OWN * 150 * 18 * 9 / 10);
}

/* One gas: more through a wider piece, less through a longer one, at any pressure. */
static void wider_passes_more_and_longer_less(void **state) {
    (void)state;
    const rfy_mixture_state gas = {17.6e-6, 0.028014, 1.4};
    for (int kind = 0; kind < OWN; kind++)
        for (uint64_t i = 0; i < 150; i++) {
            if (i % 100 == 0) {
                rfy_arena_free(arena);
                arena = rfy_arena_new();
            }
            char text[3][200];
            const rfy_stretch *run[3];
            double level = 0, ratio = 0;
            for (int k = 0; k < 3; k++) {
                draw_text(kind, 613 * i + 3, k == 1 ? 1.3 : 1, k == 2 ? 1.3 : 1, text[k],
                          sizeof text[k]);
                rfy_piece_shape s = shape_of("%s", text[k]);
                run[k] = rfy_stretch_new(arena, &s.own);
            }
            level = log_uniform(1e-6, 1e5);
            ratio = below(2) ? 0 : uniform();
            double flow[3];
            for (int k = 0; k < 3; k++)
                flow[k] = rfy_stretch_total(run[k], &gas, 1, level, ratio * level);
            bool right = flow[1] > flow[0] && flow[2] <= flow[0] * (1 + 1e-9);
            if (!right)
                fail_msg("%s at %g and %g Pa: %g, wider %g, longer %g", text[0], level,
                         ratio * level, flow[0], flow[1], flow[2]);
        }
}

/* ---- in a line --------------------------------------------------------------------------------
 */

/* Net speed at a chamber behind a line of pieces that ends at an ideal pump, in molecular flow:
 * what flows in from a steady supply over the pressure that it keeps up. */
static double behind_pump(const char *pieces, double speed) {
    rfy_system *system =
        test_sketch("{'rarefy': 1, 'gases': ['N2'], 'chambers': ["
                    "{'name': 'source', 'reservoir': {'N2': '1e-6 Pa'}}, {'name': 'end', 'volume': "
                    "'1 L', 'start': "
                    "{'N2': '0 Pa'}}],"
                    " 'lines': [{'name': 'line', 'between': ['source', 'end'], 'pieces': [%s]}],"
                    " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'end', 'to': 'ambient', "
                    "'speed': '%g L/s'}],"
                    " 'run': {'until': '100 s'}}",
                    pieces, speed);
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.tolerance = 1e-7;
    rfy_result *result = test_run(system, &options, RFY_OK);
    double p = test_pressure(result, result->n_times - 1, "end");
    rfy_result_free(result);
    rfy_system_free(system);
    return speed * 1e-3 * p / (1e-6 - p); /* conductance of the line */
}

static void series_follow_the_published_rule(void **state) {
    (void)state;
    /* (1/A1)(1/W - 1) = sum of (1/Ai)(1/Wi - 1) + sum over contractions of (1/A' - 1/A) (Oatley
     * 1957; Haefer 1980, M) */
    const double v = rfy_mean_speed(0.0280134, temperature), tube40 = PI * 4e-4,
                 tube16 = PI * 64e-6;
    double w1 = rfy_tube_transmission(0.2 / 0.02), w3 = rfy_tube_transmission(0.1 / 0.008);
    double cone =
        rfy_cone_transmission(2.5, 0.06 / 0.008) * tube16 / tube40; /* from the large end */
    double sum =
        1 / tube40 + (1 / w1 - 1) / tube40 + (1 / cone - 1) / tube40 + (1 / w3 - 1) / tube16;
    assert_close(
        behind_pump("'tube 40 mm x 0.2 m', 'reducer 40 mm x 16 mm x 60 mm', 'tube 16 mm x 0.1 m'",
                    5),
        v / 4 / sum, 1e-3, 0, "through a reducer");
    /* the same line the other way round passes as much */
    assert_close(
        behind_pump("'tube 16 mm x 0.1 m', 'reducer 16 mm x 40 mm x 60 mm', 'tube 40 mm x 0.2 m'",
                    5),
        v / 4 / sum, 1e-3, 0, "the other way round");
    double hole = rfy_tube_transmission(0.5 / 0.5);
    sum = 1 / tube40 + 2 * (1 / w1 - 1) / tube40 + (1 / hole - 1) / (0.4 * tube40) +
          (1 / (0.4 * tube40) - 1 / tube40);
    assert_close(
        behind_pump(
            "'tube 40 mm x 0.2 m', 'mesh 40 mm x 0.4 x 1 mm x 0.5 mm', 'tube 40 mm x 0.2 m'", 5),
        v / 4 / sum, 1e-3, 0, "through a mesh");
    /* alone between chambers: W A v/4 */
    assert_close(behind_pump("'duct 30 mm x 10 mm x 50 mm'", 5),
                 rfy_duct_transmission(3, 5) * 3e-4 * v / 4, 1e-3, 0, "a duct alone");
}

static void every_kind_runs_in_a_line(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'H2O', 'He'], 'chambers': [{'name': 'jar', 'volume': '5 L'},"
        " {'name': 'tank', 'volume': '2 L'}],"
        " 'lines': [{'name': 'line', 'between': ['jar', 'tank'], 'pieces': ["
        "'tube 40 mm x 0.2 m', 'reducer 40 mm x 25 mm x 40 mm', 'elbow 25 mm x 90 deg x 0 mm x 50 "
        "mm',"
        "{'valve': {'bore': '25 mm', 'length': '60 mm', 'form': 'angle'}},"
        "'mesh 25 mm x 50 %% x 2 mm x 0.5 mm', 'duct 40 mm x 10 mm x 60 mm', 'slit 80 mm x 5 mm x "
        "20 mm',"
        "'annulus 40 mm x 20 mm x 50 mm', 'bed 40 mm x 50 mm x 3 mm', 'plug 40 mm x 2 mm x 200 um "
        "x 0.4',"
        "{'capillary': {'bore': '2 mm', 'length': '30 mm', 'count': 60}},"
        "{'needle': {'name': 'trim', 'bore': '25 mm', 'length': '60 mm', 'moves_in': '1 s',"
        "            'curve': [['1 Pa', '2 L/s'], ['100 Pa', '3 L/s'], ['1e4 Pa', '20 L/s']]}},"
        "{'trap': {'volume': '0.1 L', 'curve': [['1e3 Pa', '40 L/s'], ['1 Pa', '10 L/s']]}}]}],"
        " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'tank', 'to': 'ambient', 'speed': '4 "
        "L/s'}],"
        " 'run': {'until': '10 min'}}");
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    rfy_result *result = test_run(system, &options, RFY_OK);
    size_t last = result->n_times - 1;
    assert_true(test_pressure(result, last, "jar") < 1);
    assert_true(test_pressure(result, last, "jar") > test_pressure(result, last, "tank"));
    for (size_t g = 0; g < result->n_gases; g++)
        assert_true(test_partial(result, last, "jar", result->gas[g]) >= 0);
    bool bed = false, curve = false;
    for (size_t i = 0; i < result->n_assumed; i++) {
        bed = bed || strstr(result->assumed[i], "voids");
        curve = curve || strstr(result->assumed[i], "beyond the ends of its curve");
    }
    assert_true(bed && curve);
    rfy_result_free(result);
    rfy_system_free(system);
}

static void values_that_do_not_go_together_are_refused(void **state) {
    (void)state;
    const struct {
        const char *piece, *path, *what;
    } wrong[] = {
        {"'annulus 20 mm x 20 mm x 1 m'", "inner", "fills the outer tube"},
        {"'slit 20 mm x 3 mm x 1 m'", "width", "less than ten gaps"},
        {"'mesh 20 mm x 0.1 x 10 mm x 1 mm'", "hole", "less than one hole"},
        {"'bed 20 mm x 0.1 m x 20 mm'", "grain", "as wide as the bore"},
        {"'plug 1 mm x 1 mm x 2 mm x 0.3'", "pore", "as wide as the plug"},
        {"'elbow 20 mm x 90 deg x 0 mm'", "0", "no length"},
        {"'elbow 20 mm x 90 deg x 30 mm x 30 mm'", "length", "angle times radius"},
        {"{'trap': {'volume': '1 L'}}", "0", "conductance is missing"},
        {"{'trap': {'volume': '1 L', 'conductance': '1 L/s', 'curve': [['1 Pa', '1 L/s'], ['2 Pa', "
         "'2 L/s']]}}",
         "conductance", "both"},
        {"{'needle': {'bore': '1 mm', 'length': '1 mm', 'curve': [['1 Pa', '1 L/s'], ['1 Pa', '2 "
         "L/s']]}}",
         "curve", "run evenly"},
        {"{'needle': {'bore': '1 mm', 'length': '1 mm', 'curve': [['1 Pa', '1 L/s'], ['3 Pa', '2 "
         "L/s'],"
         " ['2 Pa', '3 L/s']]}}",
         "curve", "run evenly"},
        {"{'needle': {'bore': '1 mm', 'length': '1 mm', 'curve': [['0 Pa', '1 L/s'], ['3 Pa', '2 "
         "L/s']]}}",
         "curve", "run evenly"},
    };
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        rfy_problems *problems = test_refused(
            "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'a', 'volume': '1 L'}, {'name': "
            "'b', "
            "'volume': '1 L'}], 'lines': [{'name': 'line', 'between': ['a', 'b'], 'pieces': [%s]}],"
            " 'run': {'until': '1 s'}}",
            wrong[i].piece);
        assert_int_equal(rfy_problems_errors(problems), 1);
        const rfy_problem *p = NULL; /* the error; the chambers it leaves alone are warnings */
        for (size_t k = 0; k < rfy_problems_kept(problems); k++)
            if (rfy_problems_at(problems, k)->severity == RFY_ERROR)
                p = rfy_problems_at(problems, k);
        assert_non_null(p);
        if (!strstr(p->what, wrong[i].what) || !strstr(p->path, wrong[i].path) || p->line != 1)
            fail_msg("%s: %s: %s", wrong[i].piece, p->path, p->what);
        rfy_problems_free(problems);
    }
}

/* ---- bends and valves -------------------------------------------------------------------------
 */

static void bends_and_valves(void **state) {
    (void)state;
    /* a turn of 90 deg adds 2/3 of a bore of tube in molecular flow (Davis 1960, M) whatever makes
     * it */
    const rfy_setting straight[] = {{"form", "gate"}}, angle[] = {{"form", "angle"}};
    rfy_piece_shape gate = read_shape("valve 40 mm x 100 mm", straight, 1),
                    turn = read_shape("valve 40 mm x 100 mm", angle, 1),
                    silent = shape_of("valve 40 mm x 100 mm"),
                    mitred = shape_of("elbow 40 mm x 90 deg x 0 mm x 100 mm"),
                    smooth = shape_of("elbow 40 mm x 90 deg");
    assert_close(turn.molecular_length - gate.molecular_length, 2 * 0.04 / 3, 3e-3, 0,
                 "angle valve");
    assert_close(mitred.molecular_length, turn.molecular_length, 1e-12, 0, "mitred elbow");
    assert_true(silent.molecular_length == gate.molecular_length && gate.loss == 0);
    assert_close(mitred.viscous_length, 0.1, 1e-12, 0, "mitred: its length is what is given");
    assert_close(smooth.viscous_length, 0.04 * PI / 2, 1e-12, 0, "smooth: angle times radius");
    /* order of magnitude, M: 1.1 velocity heads in a mitre, 1 in an angle valve, 0.3 in a smooth
     * bend */
    assert_close(mitred.loss, 1.1, 0.01, 0, "loss of a mitre");
    assert_close(turn.loss, 1.0, 0.3, 0, "loss of an angle valve");
    assert_close(smooth.loss, 0.3, 0.1, 0, "loss of a smooth bend");
    rfy_piece_shape half = shape_of("elbow 40 mm x 45 deg x 0 mm x 100 mm");
    assert_close(half.loss, 0.35, 0.15, 0, "loss of a mitre at 45 deg");
}

/* ---- a given curve ----------------------------------------------------------------------------
 */

static void needle_follows_its_curve(void **state) {
    (void)state;
    double x[] = {1000, 100, 1, 0.1}, y[] = {9e-3, 2e-3, 1e-3, 1e-3};
    const rfy_curve curve = {4, x, y};
    rfy_mixture mix;
    const int species[3] = {0, 3, 5};
    rfy_mixture_init(&mix, catalog, species, 3, temperature);
    rfy_edge edge = {.flow = rfy_edge_given_curve,
                     .data = rfy_given_curve_new(arena, &mix, &curve, temperature)};
    for (int k = 0; k < 4; k++) { /* at each point: C (air) times the root of the masses */
        double p = x[k], a[3] = {1.5 * p, 0, 0}, b[3] = {0.5 * p, 0, 0}, flow[3];
        rfy_edge_given_curve(&edge, &mix, 1, a, b, flow, NULL, NULL);
        double m = catalog->species[species[0]].molar_mass;
        assert_close(flow[0], y[k] * sqrt(0.0289647 / m) * p / (RFY_R * temperature), 1e-4, 0,
                     "point %d", k);
        assert_true(flow[1] == 0 && flow[2] == 0);
    }
    double last = 0;
    for (double p = 1e-3; p < 1e6; p *= 1.1) { /* even between the points, constant beyond */
        double a[3] = {1.2 * p, 0, 0}, b[3] = {0.8 * p, 0, 0}, flow[3];
        rfy_edge_given_curve(&edge, &mix, 1, a, b, flow, NULL, NULL);
        double c = flow[0] / (0.4 * p);
        assert_true(c >= last * (1 - 1e-12));
        last = c;
    }
    seed = 5;
    for (int i = 0; i < 500; i++) {
        double a[3], b[3], flow[3], by[2][9], level = log_uniform(1e-2, 1e4), opening = uniform();
        for (int k = 0; k < 3; k++) {
            a[k] = level * uniform();
            b[k] = level * uniform();
        }
        rfy_edge_given_curve(&edge, &mix, opening, a, b, flow, by[0], by[1]);
        double scale = fabs(by[0][0]) + fabs(by[0][4]) + fabs(by[0][8]);
        for (int side = 0; side < 2; side++)
            for (int j = 0; j < 3; j++) {
                double *p = side ? b : a, was = p[j], h = 1e-5 * level, up[3], down[3];
                p[j] = was + h;
                rfy_edge_given_curve(&edge, &mix, opening, a, b, up, NULL, NULL);
                p[j] = was - h;
                rfy_edge_given_curve(&edge, &mix, opening, a, b, down, NULL, NULL);
                p[j] = was;
                for (int k = 0; k < 3; k++)
                    assert_close(by[side][3 * k + j], (up[k] - down[k]) / (2 * h), 1e-4,
                                 1e-4 * scale, "slope of the curve's flow");
            }
        double back[3]; /* turned round */
        rfy_edge_given_curve(&edge, &mix, opening, b, a, back, NULL, NULL);
        for (int k = 0; k < 3; k++)
            assert_true(back[k] == -flow[k]);
    }
    const double none[3] = {0}, some[3] = {1, 2, 3};
    double flow[3], by[2][9];
    rfy_edge_given_curve(&edge, &mix, 1, none, none, flow, by[0], by[1]);
    assert_true(flow[0] == 0 && by[0][0] > 0 && by[1][0] == -by[0][0] && by[0][1] == 0);
    rfy_edge_given_curve(&edge, &mix, 0, some, none, flow, by[0], by[1]);
    assert_true(flow[0] == 0 && by[0][0] == 0);
}

static void bundles_are_many_tubes(void **state) {
    (void)state;
    /* n capillaries between open chambers pass n times one of them, and one passes what a tube does
     */
    const rfy_mixture_state gas = {17.6e-6, 0.028014, 1.4};
    const rfy_setting count = {"count", "37"};
    rfy_piece_shape one = shape_of("capillary 0.2 mm x 30 mm"),
                    many = read_shape("capillary 0.2 mm x 30 mm", &count, 1);
    rfy_stretch_geometry tube = rfy_tube_geometry(0.2e-3, 0.03, 0.03);
    tube.temperature[0] = tube.temperature[1] = temperature;
    for (double p = 1e-3; p < 2e5; p *= 10) {
        double single = rfy_stretch_total(rfy_stretch_new(arena, &one.own), &gas, 1, p, p / 3);
        assert_close(rfy_stretch_total(rfy_stretch_new(arena, &many.own), &gas, 1, p, p / 3),
                     37 * single, 1e-9, 0, "37 capillaries at %g Pa", p);
        assert_close(rfy_stretch_total(rfy_stretch_new(arena, &tube), &gas, 1, p, p / 3), single,
                     1e-12, 0, "one at %g Pa", p);
    }
    /* a plug's pores in molecular flow: (porosity/tortuosity^2) A (2/3) r v/L for fine pores
     * (Knudsen 1909) */
    rfy_piece_shape plug = shape_of("plug 10 mm x 3 mm x 1 um x 0.3");
    double v = rfy_mean_speed(0.028014, temperature);
    assert_close(rfy_stretch_molecular_conductance(rfy_stretch_new(arena, &plug.own), 0.028014),
                 0.3 / 2.25 * PI * 25e-6 * 2.0 / 3 * 0.5e-6 * v / 3e-3, 2e-3, 0, "plug");
    /* a bed of balls at speed: Ergun 1952 (M), dp = 150 (1-e)^2 mu U L/(e^3 d^2) + 1.75 (1-e) rho
       U^2 L/(e^3 d); our laminar part has Carman's 180 for 150, so the two are held together to 20
       % */
    rfy_piece_shape bed = shape_of("bed 40 mm x 0.2 m x 3 mm");
    const double p = 1e5, e = 0.4, d = 3e-3, rho = p * gas.mass / (RFY_R * temperature);
    for (double dp = 100; dp < 1e4; dp *= 2) {
        double q =
            rfy_stretch_total(rfy_stretch_new(arena, &bed.own), &gas, 1, p + dp / 2, p - dp / 2);
        double u = q * RFY_R * temperature / p / (PI * 4e-4);
        double ergun = 150 * pow((1 - e) / d, 2) / pow(e, 3) * gas.viscosity * u * 0.2 +
                       1.75 * (1 - e) / (pow(e, 3) * d) * rho * u * u * 0.2;
        assert_close(dp, ergun, 0.2, 0, "bed at %g m/s", u);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(kinds_are_complete),
        cmocka_unit_test(shapes_are_sound),
        cmocka_unit_test(volumes_and_walls),
        cmocka_unit_test(turned_round_it_flows_back),
        cmocka_unit_test(derivatives_meet_differences),
        cmocka_unit_test(wider_passes_more_and_longer_less),
        cmocka_unit_test(series_follow_the_published_rule),
        cmocka_unit_test(every_kind_runs_in_a_line),
        cmocka_unit_test(values_that_do_not_go_together_are_refused),
        cmocka_unit_test(bends_and_valves),
        cmocka_unit_test(needle_follows_its_curve),
        cmocka_unit_test(bundles_are_many_tubes),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
