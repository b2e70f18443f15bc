/* Pieces of tubing: what each kind contributes to a line, long and short form. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include "flow/kinetic.h"
#include "flow/piece.h"
#include "study/system.h"
#include "support/sketch.h"

#define PI 3.14159265358979323846

typedef struct one {
    rfy_system *system;
    rfy_piece_shape shape;
    char label[200];
} one;

/* The only piece of a line, from its JSON. */
static one piece(const char *json) {
    one p;
    p.system =
        test_sketch("{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'a', 'volume': '1 L'},"
                    " {'name': 'b', 'volume': '1 L'}], 'lines': [{'name': 'line', 'between':"
                    " ['a', 'b'], 'pieces': [%s]}], 'pumps': [{'name': 'p', 'kind': 'ideal',"
                    " 'from': 'b', 'to': 'ambient', 'speed': '1 L/s'}], 'run': {'until': '1 s'}}",
                    json);
    const rfy_line_desc *line = p.system->description->lines.item;
    const rfy_piece_desc *desc = line->pieces.item;
    const rfy_piece_kind *kind = desc->variant->kind;
    memset(&p.shape, 0, sizeof p.shape);
    p.shape.seat_leak = NAN;
    kind->shape(desc->values, &p.shape);
    kind->label(desc->values, p.label, sizeof p.label);
    return p;
}

static bool assumes(const one *p, const char *part) {
    for (size_t i = 0; i < p->system->network->n_assumed; i++)
        if (strstr(p->system->network->assumed[i], part))
            return true;
    return false;
}

static void registry_is_complete(void **state) {
    (void)state;
    assert_true(rfy_piece_kinds.n >= 6);
    for (size_t i = 0; i < rfy_piece_kinds.n; i++) {
        const rfy_variant *v = &rfy_piece_kinds.item[i];
        const rfy_piece_kind *kind = v->kind;
        assert_string_equal(kind->name, v->name);
        assert_non_null(kind->shape);
        assert_non_null(kind->label);
        assert_true(v->help && strlen(v->help) > 0);
        for (size_t j = 0; j < i; j++)
            assert_string_not_equal(v->name, rfy_piece_kinds.item[j].name);
        for (size_t f = 0; f < v->record->n; f++) {
            const rfy_field *field = &v->record->field[f];
            if (!field->key || !*field->key || !field->help || !*field->help ||
                !(field->min <= field->max) || !isfinite(field->min) || !isfinite(field->max) ||
                field->offset >= v->record->size || (field->required && field->assumed) ||
                (field->type == RFY_F_CHOICE && !field->choices))
                fail_msg("%s: field %zu is not sound", v->name, f);
            for (size_t g = 0; g < f; g++)
                assert_string_not_equal(field->key, v->record->field[g].key);
        }
        for (const char *const *key = v->short_keys; key && *key; key++) {
            bool known = false;
            for (size_t f = 0; f < v->record->n; f++)
                known = known || strcmp(v->record->field[f].key, *key) == 0;
            if (!known)
                fail_msg("%s: short form names no field %s", v->name, *key);
        }
    }
}

static void tube(void **state) {
    (void)state;
    one p = piece("{'tube': {'bore': '16 mm', 'length': '1.2 m', 'roughness': '0.1 mm'}}");
    const rfy_piece_shape *s = &p.shape;
    assert_int_equal(s->role, RFY_PIECE_BORE);
    assert_close(s->bore, 0.016, 1e-14, 0, "bore");
    assert_close(s->molecular_length, 1.2, 1e-14, 0, "molecular length");
    assert_close(s->viscous_length, 1.2, 1e-14, 0, "viscous length");
    assert_close(s->volume, PI * 64e-6 * 1.2, 1e-13, 0, "volume");
    assert_close(s->wall_area, PI * 0.016 * 1.2, 1e-13, 0, "wall");
    assert_close(s->roughness, 1e-4, 1e-13, 0, "roughness");
    assert_true(s->loss == 0 && !s->is_valve && !s->material);
    assert_string_equal(p.label, "tube 16 mm x 1.2 m");
    rfy_system_free(p.system);
    /* the short form is the same piece */
    p = piece("'tube 16 mm x 1.2 m'");
    assert_close(p.shape.volume, PI * 64e-6 * 1.2, 1e-13, 0, "short form");
    assert_true(p.shape.roughness == 0);
    rfy_system_free(p.system);
}

static void elbow(void **state) {
    (void)state;
    /* Molecular flow: the axis and 1.33 (angle/180 deg) bores (Davis 1960, M): 0.665 bores at 90
     * deg. */
    one p = piece("{'elbow': {'bore': '20 mm', 'angle': '90 deg', 'radius': '30 mm'}}");
    double axis = 0.03 * PI / 2;
    assert_close(p.shape.viscous_length, axis, 1e-13, 0, "axis");
    assert_close(p.shape.molecular_length, axis + 0.665 * 0.02, 1e-13, 0, "molecular length");
    assert_close(p.shape.volume, PI * 1e-4 * axis, 1e-13, 0, "volume");
    assert_true(p.shape.loss > 0.1 && p.shape.loss < 0.5);
    double wide = p.shape.loss;
    rfy_system_free(p.system);
    p = piece("'elbow 20 mm 90 deg'"); /* centre line of one bore */
    assert_close(p.shape.viscous_length, 0.02 * PI / 2, 1e-13, 0, "axis, one bore");
    assert_true(p.shape.loss > wide); /* a tighter bend loses more */
    double right = p.shape.loss;
    rfy_system_free(p.system);
    p = piece("'elbow 20 mm 45 deg'");
    assert_close(p.shape.loss, right / 2, 1e-12, 0, "half the angle");
    assert_close(p.shape.molecular_length, 0.02 * PI / 4 + 1.33 / 4 * 0.02, 1e-13, 0,
                 "half the angle");
    rfy_system_free(p.system);
}

static void orifice(void **state) {
    (void)state;
    one p = piece("'orifice 5 mm'");
    assert_true(p.shape.volume == 0);
    double area = PI * 6.25e-6;
    rfy_mixture_state nitrogen = {17.6e-6, 28.014e-3, 1.4};
    const rfy_edge *hole = NULL;
    for (int i = 0; i < p.system->network->n_edges; i++)
        if (p.system->network->edge[i].role == RFY_EDGE_TUBING)
            hole = &p.system->network->edge[i];
    assert_non_null(hole);
    double aperture = area * rfy_mean_speed(28.014e-3, 293.15) / 4;
    assert_close(rfy_stretch_molecular_conductance(hole->stretch, 28.014e-3), aperture, 1e-9, 0,
                 "A vbar/4 (exact)");
    /* choked: 0.84 of a lossless nozzle (Perry 1949, M), 0.68473 A p sqrt(RT/M) for diatomic gas
     * (exact) */
    double p1 = 1e9, q = rfy_stretch_total(hole->stretch, &nitrogen, 1, p1, 0);
    assert_close(q, 0.84 * 0.68473 * area * p1 / sqrt(28.014e-3 * RFY_R * 293.15), 1e-3, 0,
                 "choked");
    rfy_system_free(p.system);
    /* a thick plate is a short tube */
    p = piece("{'orifice': {'bore': '5 mm', 'thickness': '5 mm'}}");
    for (int i = 0; i < p.system->network->n_edges; i++)
        if (p.system->network->edge[i].role == RFY_EDGE_TUBING)
            hole = &p.system->network->edge[i];
    assert_close(rfy_stretch_molecular_conductance(hole->stretch, 28.014e-3), 0.5142305 * aperture,
                 1e-4, 0, "W(L/R = 2)");
    assert_close(p.shape.volume, area * 0.005, 1e-12, 0, "volume of the hole");
    rfy_system_free(p.system);
}

static void valve(void **state) {
    (void)state;
    one p = piece(
        "{'valve': {'bore': '40 mm', 'length': '60 mm', 'state': 'closed', 'moves_in': '0.5 s',"
        " 'seat_leak': '1e-9 Pa m3/s', 'name': 'gate'}}");
    assert_true(p.shape.is_valve);
    assert_int_equal(p.shape.state, RFY_CLOSED);
    assert_close(p.shape.moves_in, 0.5, 1e-14, 0, "moves in");
    assert_close(p.shape.seat_leak, 1e-9, 1e-12, 0, "seat leak");
    assert_close(p.shape.molecular_length, 0.06, 1e-14, 0, "a tube of its bore when open");
    assert_string_equal(p.label, "gate");
    assert_string_equal(p.shape.name, "gate");
    rfy_system_free(p.system);
    p = piece("'valve 40 mm x 60 mm'");
    assert_int_equal(p.shape.state, RFY_OPEN);
    assert_true(p.shape.moves_in == 0 && isnan(p.shape.seat_leak));
    rfy_system_free(p.system);
}

static void trap(void **state) {
    (void)state;
    one p = piece("{'trap': {'conductance': '5 L/s', 'volume': '0.3 L', 'name': 'cold trap'}}");
    assert_int_equal(p.shape.role, RFY_PIECE_GIVEN);
    assert_close(p.shape.conductance, 5e-3, 1e-13, 0, "conductance");
    assert_close(p.shape.volume, 3e-4, 1e-13, 0, "volume");
    /* for air; nitrogen by the root of its mass (Graham) */
    const rfy_network *net = p.system->network;
    double one_pascal = 1, none = 0, flow;
    for (int i = 0; i < net->n_edges; i++)
        if (net->edge[i].role == RFY_EDGE_TUBING && !net->edge[i].stretch) {
            net->edge[i].flow(&net->edge[i], &net->mixture, 1, &one_pascal, &none, &flow, NULL,
                              NULL);
            assert_close(flow * RFY_R * 293.15, 5e-3 * sqrt(28.9655 / 28.014), 1e-3, 0, "nitrogen");
        }
    rfy_system_free(p.system);
}

static void bellows(void **state) {
    (void)state;
    /* factor 1.5, three times the wall, a fifth more volume (common practice, no source) */
    one p = piece("'bellows 25 mm x 0.5 m'");
    assert_close(p.shape.molecular_length, 0.75, 1e-13, 0, "molecular length");
    assert_close(p.shape.viscous_length, 0.75, 1e-13, 0, "viscous length");
    assert_close(p.shape.wall_area, 3 * PI * 0.025 * 0.5, 1e-13, 0, "wall");
    assert_close(p.shape.volume, 1.2 * PI * 0.025 * 0.025 / 4 * 0.5, 1e-13, 0, "volume");
    rfy_system_free(p.system);
    p = piece("{'bellows': {'bore': '25 mm', 'length': '0.5 m', 'factor': 2}}");
    assert_close(p.shape.viscous_length, 1, 1e-13, 0, "factor given");
    rfy_system_free(p.system);
}

static void what_is_left_out_is_told(void **state) {
    (void)state;
    /* never a silent default: what is assumed stands in every answer */
    one p = piece("'bellows 25 mm x 0.5 m'");
    if (!assumes(&p, "1.5"))
        fail_msg("the bellows' factor is assumed without a word");
    rfy_system_free(p.system);
    p = piece("'elbow 25 mm 90 deg'");
    if (!assumes(&p, "radius") && !assumes(&p, "centre line"))
        fail_msg("the elbow's radius is assumed without a word");
    rfy_system_free(p.system);
    p = piece("'valve 25 mm x 50 mm'");
    if (!assumes(&p, "open"))
        fail_msg("the valve's position is assumed without a word");
    rfy_system_free(p.system);
}

/* The longest and shortest, widest and narrowest that the limits allow still give a sound shape. */
static void limits_are_sound(void **state) {
    (void)state;
    static const char *const extreme[] = {"'tube 0.01 mm x 10 m'", "'tube 10 m x 1 mm'",
                                          "'elbow 10 m 180 deg'",  "'elbow 0.1 mm 1 deg'",
                                          "'orifice 0.01 mm'",     "'bellows 10 m x 10 m'",
                                          "'valve 1 mm x 0.01 mm'"};
    for (size_t i = 0; i < sizeof extreme / sizeof *extreme; i++) {
        one p = piece(extreme[i]);
        const rfy_network *net = p.system->network;
        for (int k = 0; k < net->n_edges; k++) {
            if (!net->edge[k].stretch)
                continue;
            for (double level = 1e-9; level < 2e5; level *= 100) {
                double low = 1e-6 * level, flow, by_a, by_b;
                net->edge[k].flow(&net->edge[k], &net->mixture, 1, &level, &low, &flow, &by_a,
                                  &by_b);
                assert_true(isfinite(flow) && flow > 0 && isfinite(by_a) && by_a > 0 && by_b <= 0);
            }
        }
        rfy_system_free(p.system);
    }
    rfy_problems_free(
        test_refused("{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'a', 'volume': '1 "
                     "L'}], 'lines': [{'name': 'l', 'between': ['a', 'ambient'], "
                     "'pieces': ['tube 0 mm x 1 m']}], 'run': {'until': '1 s'}}"));
    rfy_problems_free(
        test_refused("{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'a', 'volume': '1 "
                     "L'}], 'lines': [{'name': 'l', 'between': ['a', 'ambient'], "
                     "'pieces': ['elbow 16 mm 190 deg']}], 'run': {'until': '1 s'}}"));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(registry_is_complete),
        cmocka_unit_test(tube),
        cmocka_unit_test(elbow),
        cmocka_unit_test(orifice),
        cmocka_unit_test(valve),
        cmocka_unit_test(trap),
        cmocka_unit_test(bellows),
        cmocka_unit_test(limits_are_sound),
        cmocka_unit_test(what_is_left_out_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
