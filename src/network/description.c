#include <stdint.h>
#include "network/description.h"
#include "flow/piece.h"
#include "pump/pump.h"

const char *const rfy_on_off[] = {"on", "off", NULL};
static const char *const gauge_kinds[] = {"thermal", "hot cathode", "cold cathode", "capacitance",
                                          NULL};

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))
#define RECORD(var, label, type, fields)                                                           \
    static const rfy_record var = {.name = (label), .size = sizeof(type), .field = (fields),       \
                                   .n = COUNT(fields)}

/* Ranges are wide on purpose: they catch a slip of a unit, not an unusual bench. */
static const rfy_field ambient_fields[] = {
    {.key = "pressure", .type = RFY_F_QUANTITY, .dim = RFY_DIM_PRESSURE,
     .offset = offsetof(rfy_ambient_desc, pressure), .min = 1e3, .max = 2e5,
     .assumed = "101325 Pa", .help = "pressure of the surrounding air"},
    {.key = "temperature", .type = RFY_F_QUANTITY, .dim = RFY_DIM_TEMPERATURE,
     .offset = offsetof(rfy_ambient_desc, temperature), .min = 200, .max = 350,
     .assumed = "20 degC", .help = "temperature of the room and of every part not given one"},
    {.key = "relative_humidity", .type = RFY_F_NUMBER,
     .offset = offsetof(rfy_ambient_desc, relative_humidity), .min = 0, .max = 1,
     .assumed = "0.5", .help = "relative humidity of the surrounding air, 0 to 1"},
};
RECORD(ambient_record, "ambient", rfy_ambient_desc, ambient_fields);

static const rfy_field wall_fields[] = {
    {.key = "name", .type = RFY_F_NAME, .offset = offsetof(rfy_wall_desc, name),
     .help = "a name for this wall in the answers"},
    {.key = "material", .type = RFY_F_TEXT, .offset = offsetof(rfy_wall_desc, material),
     .help = "what it is made of, see `rarefy list materials`"},
    {.key = "condition", .type = RFY_F_TEXT, .offset = offsetof(rfy_wall_desc, condition),
     .assumed = "the default row of the material", .help = "surface condition, as listed"},
    {.key = "area", .type = RFY_F_QUANTITY, .dim = RFY_DIM_AREA, .required = true,
     .offset = offsetof(rfy_wall_desc, area), .min = 0, .max = 1e4, .help = "surface seen by the vacuum"},
    {.key = "rate", .type = RFY_F_QUANTITY, .dim = RFY_DIM_AREA_RATE,
     .offset = offsetof(rfy_wall_desc, rate), .min = 0, .max = 1e3,
     .help = "outgassing rate in place of the material's, at 1 h"},
    {.key = "exponent", .type = RFY_F_NUMBER, .offset = offsetof(rfy_wall_desc, exponent),
     .min = 0, .max = 3, .assumed = "0 (constant) with a given rate",
     .help = "with `rate`: the rate falls as time to the power -exponent"},
    {.key = "gas", .type = RFY_F_TEXT, .offset = offsetof(rfy_wall_desc, gas),
     .assumed = "the main gas of the material, H2O for a given rate", .help = "gas given off"},
    {.key = "pumped_for", .type = RFY_F_QUANTITY, .dim = RFY_DIM_TIME,
     .offset = offsetof(rfy_wall_desc, pumped_for), .min = 0, .max = 1e9,
     .assumed = "0 s", .help = "time under vacuum before the run begins"},
};
RECORD(wall_record, "wall", rfy_wall_desc, wall_fields);

static const rfy_field seal_fields[] = {
    {.key = "name", .type = RFY_F_NAME, .offset = offsetof(rfy_seal_desc, name),
     .help = "a name for this seal in the answers"},
    {.key = "material", .type = RFY_F_TEXT, .offset = offsetof(rfy_seal_desc, material),
     .required = true, .help = "elastomer, see `rarefy list materials`"},
    {.key = "length", .type = RFY_F_QUANTITY, .dim = RFY_DIM_LENGTH, .required = true,
     .offset = offsetof(rfy_seal_desc, length), .min = 0, .max = 1e3, .above_min = true,
     .help = "length along the cord (the circumference of a ring)"},
    {.key = "cord", .type = RFY_F_QUANTITY, .dim = RFY_DIM_LENGTH, .required = true,
     .offset = offsetof(rfy_seal_desc, cord), .min = 0, .max = 0.1, .above_min = true,
     .help = "thickness of the cord"},
    {.key = "exposed_width", .type = RFY_F_QUANTITY, .dim = RFY_DIM_LENGTH,
     .offset = offsetof(rfy_seal_desc, exposed_width), .min = 0, .max = 0.1,
     .assumed = "a fifth of the cord", .help = "width of the strip that faces the vacuum"},
};
RECORD(seal_record, "seal", rfy_seal_desc, seal_fields);

static const rfy_field leak_fields[] = {
    {.key = "name", .type = RFY_F_NAME, .offset = offsetof(rfy_leak_desc, name),
     .help = "a name for this leak in the answers"},
    {.key = "rate", .type = RFY_F_QUANTITY, .dim = RFY_DIM_THROUGHPUT, .required = true,
     .offset = offsetof(rfy_leak_desc, rate), .min = 0, .max = 1e6,
     .help = "throughput with one atmosphere outside and vacuum inside"},
    {.key = "gas", .type = RFY_F_TEXT, .offset = offsetof(rfy_leak_desc, gas),
     .assumed = "ambient air", .help = "gas outside the leak"},
};
RECORD(leak_record, "leak", rfy_leak_desc, leak_fields);

static const rfy_field chamber_fields[] = {
    {.key = "name", .type = RFY_F_NAME, .offset = offsetof(rfy_chamber_desc, name),
     .required = true, .help = "unique in the file"},
    {.key = "volume", .type = RFY_F_QUANTITY, .dim = RFY_DIM_VOLUME,
     .offset = offsetof(rfy_chamber_desc, volume), .min = 0, .max = 1e5, .above_min = true,
     .help = "inner volume"},
    {.key = "reservoir", .type = RFY_F_QUANTITY_BY_GAS, .dim = RFY_DIM_PRESSURE,
     .offset = offsetof(rfy_chamber_desc, reservoir), .min = 0, .max = 1e7,
     .help = "in place of a volume: held at these partial pressures for ever"},
    {.key = "bore", .type = RFY_F_QUANTITY, .dim = RFY_DIM_LENGTH,
     .offset = offsetof(rfy_chamber_desc, bore), .min = 0, .max = 10, .above_min = true,
     .assumed = "an open chamber: every mouth counts its aperture",
     .help = "bore at this place, where a pump's mouth or a line has the same bore"},
    {.key = "temperature", .type = RFY_F_QUANTITY, .dim = RFY_DIM_TEMPERATURE,
     .offset = offsetof(rfy_chamber_desc, temperature), .min = 50, .max = 1500,
     .assumed = "the ambient temperature", .help = "gas temperature"},
    {.key = "start", .type = RFY_F_QUANTITY_BY_GAS, .dim = RFY_DIM_PRESSURE,
     .offset = offsetof(rfy_chamber_desc, start), .min = 0, .max = 1e7,
     .assumed = "ambient air", .help = "partial pressures at the beginning, missing gases are zero"},
    {.key = "walls", .type = RFY_F_RECORDS, .record = &wall_record,
     .offset = offsetof(rfy_chamber_desc, walls), .help = "surfaces that give off gas"},
    {.key = "seals", .type = RFY_F_RECORDS, .record = &seal_record,
     .offset = offsetof(rfy_chamber_desc, seals), .help = "elastomer seals to ambient"},
    {.key = "leaks", .type = RFY_F_RECORDS, .record = &leak_record,
     .offset = offsetof(rfy_chamber_desc, leaks), .help = "leaks from outside"},
    {.key = "count", .type = RFY_F_INTEGER, .offset = offsetof(rfy_chamber_desc, count),
     .min = 1, .max = 10000, .assumed = "1", .help = "equal parallel copies, each with its lines"},
};
RECORD(chamber_record, "chamber", rfy_chamber_desc, chamber_fields);

static const rfy_field line_fields[] = {
    {.key = "name", .type = RFY_F_NAME, .offset = offsetof(rfy_line_desc, name), .required = true,
     .help = "unique in the file"},
    {.key = "between", .type = RFY_F_TEXTS, .offset = offsetof(rfy_line_desc, between),
     .required = true, .help = "the two chambers or junctions it joins; one may be \"ambient\""},
    {.key = "pieces", .type = RFY_F_PIECES, .variants = &rfy_piece_kinds,
     .offset = offsetof(rfy_line_desc, pieces), .required = true,
     .help = "pieces in order from the first end to the second"},
    {.key = "cells", .type = RFY_F_INTEGER, .offset = offsetof(rfy_line_desc, cells), .min = 1,
     .max = 100000, .assumed = "1",
     .help = "cells that every stretch of the line is cut into, each with its own volume and wall"},
};
RECORD(line_record, "line", rfy_line_desc, line_fields);

static const rfy_field pump_fields[] = {
    {.key = "name", .type = RFY_F_NAME, .offset = offsetof(rfy_pump_desc, name), .required = true,
     .help = "unique in the file"},
    {.key = "kind", .type = RFY_F_TEXT, .offset = SIZE_MAX, .required = true,
     .help = "kind of pump, see `rarefy list pumps`"},
    {.key = "from", .type = RFY_F_TEXT, .offset = offsetof(rfy_pump_desc, from), .required = true,
     .help = "chamber or junction at its inlet"},
    {.key = "to", .type = RFY_F_TEXT, .offset = offsetof(rfy_pump_desc, to), .required = true,
     .help = "chamber or junction at its outlet, or \"ambient\""},
    {.key = "state", .type = RFY_F_CHOICE, .offset = offsetof(rfy_pump_desc, state),
     .choices = rfy_on_off, .assumed = "on", .help = "at the beginning"},
};
RECORD(pump_record, "pump", rfy_pump_desc, pump_fields);

static const rfy_field gauge_fields[] = {
    {.key = "name", .type = RFY_F_NAME, .offset = offsetof(rfy_gauge_desc, name), .required = true,
     .help = "unique in the file"},
    {.key = "at", .type = RFY_F_TEXT, .offset = offsetof(rfy_gauge_desc, at), .required = true,
     .help = "chamber or junction it reads"},
    {.key = "kind", .type = RFY_F_CHOICE, .offset = offsetof(rfy_gauge_desc, kind),
     .choices = gauge_kinds, .required = true, .help = "how it measures"},
    {.key = "range", .type = RFY_F_RANGE, .dim = RFY_DIM_PRESSURE,
     .offset = offsetof(rfy_gauge_desc, range), .min = 0, .max = 1e7,
     .assumed = "no bounds", .help = "lowest and highest reading"},
    {.key = "state", .type = RFY_F_CHOICE, .offset = offsetof(rfy_gauge_desc, state),
     .choices = rfy_on_off, .assumed = "on", .help = "at the beginning"},
};
RECORD(gauge_record, "gauge", rfy_gauge_desc, gauge_fields);

static const rfy_field source_fields[] = {
    {.key = "name", .type = RFY_F_NAME, .offset = offsetof(rfy_source_desc, name),
     .help = "a name for this burst in the answers"},
    {.key = "gas", .type = RFY_F_TEXT, .offset = offsetof(rfy_source_desc, gas), .required = true,
     .help = "gas set free"},
    {.key = "at", .type = RFY_F_TEXT, .offset = offsetof(rfy_source_desc, at), .required = true,
     .help = "chamber or junction"},
    {.key = "amount", .type = RFY_F_QUANTITY, .dim = RFY_DIM_GAS_AMOUNT, .required = true,
     .offset = offsetof(rfy_source_desc, amount), .min = 0, .max = 1e8,
     .help = "whole amount, spread evenly over `during`"},
    {.key = "during", .type = RFY_F_RANGE, .dim = RFY_DIM_TIME, .required = true,
     .offset = offsetof(rfy_source_desc, during), .min = 0, .max = 1e10, .help = "from when to when"},
};
RECORD(source_record, "source", rfy_source_desc, source_fields);

static const rfy_field step_fields[] = {
    {.key = "when", .type = RFY_F_TEXT, .offset = offsetof(rfy_step_desc, when), .required = true,
     .help = "condition, e.g. \"port < 10 Pa\", \"turbo > 90 %\", \"time > 5 min\", "
             "\"elapsed > 30 s\"; joined by and, or, not"},
    {.key = "do", .type = RFY_F_TEXTS, .offset = offsetof(rfy_step_desc, actions), .required = true,
     .help = "actions: start, stop, open, close, switch on, switch off, followed by a name"},
};
RECORD(step_record, "step", rfy_step_desc, step_fields);

static const rfy_field limit_fields[] = {
    {.key = "name", .type = RFY_F_NAME, .offset = offsetof(rfy_limit_desc, name), .required = true,
     .help = "unique in the file"},
    {.key = "watch", .type = RFY_F_TEXT, .offset = offsetof(rfy_limit_desc, watch),
     .required = true, .help = "chamber or junction whose pressure is watched"},
    {.key = "while", .type = RFY_F_TEXT, .offset = offsetof(rfy_limit_desc, while_),
     .assumed = "always", .help = "condition under which the limit applies"},
    {.key = "max", .type = RFY_F_QUANTITY, .dim = RFY_DIM_PRESSURE, .required = true,
     .offset = offsetof(rfy_limit_desc, max), .min = 0, .max = 1e7, .above_min = true,
     .help = "highest pressure allowed"},
    {.key = "for", .type = RFY_F_QUANTITY, .dim = RFY_DIM_TIME,
     .offset = offsetof(rfy_limit_desc, duration), .min = 0, .max = 1e9, .assumed = "0 s",
     .help = "a spike no longer than this is tolerated"},
};
RECORD(limit_record, "limit", rfy_limit_desc, limit_fields);

static const rfy_field target_fields[] = {
    {.key = "name", .type = RFY_F_NAME, .offset = offsetof(rfy_target_desc, name), .required = true,
     .help = "what is possible from then on: \"bake-out may start\""},
    {.key = "chamber", .type = RFY_F_TEXT, .offset = offsetof(rfy_target_desc, chamber),
     .required = true, .help = "chamber or junction"},
    {.key = "pressure", .type = RFY_F_QUANTITY, .dim = RFY_DIM_PRESSURE, .required = true,
     .offset = offsetof(rfy_target_desc, pressure), .min = 0, .max = 1e7, .above_min = true,
     .help = "reached when the total pressure falls below this"},
};
RECORD(target_record, "target", rfy_target_desc, target_fields);

static const rfy_field run_fields[] = {
    {.key = "until", .type = RFY_F_QUANTITY, .dim = RFY_DIM_TIME, .required = true,
     .offset = offsetof(rfy_run_desc, until), .min = 0, .max = 1e10, .above_min = true,
     .help = "length of the run"},
    {.key = "tolerance", .type = RFY_F_NUMBER, .offset = offsetof(rfy_run_desc, tolerance),
     .min = 1e-12, .max = 1e-3, .assumed = "1e-4", .help = "relative error allowed per step"},
};
RECORD(run_record, "run", rfy_run_desc, run_fields);

static const rfy_field description_fields[] = {
    {.key = "rarefy", .type = RFY_F_INTEGER, .offset = offsetof(rfy_description, version),
     .required = true, .min = 1, .max = 1, .help = "version of the format: 1"},
    {.key = "title", .type = RFY_F_TEXT, .offset = offsetof(rfy_description, title),
     .help = "one line for people"},
    {.key = "gases", .type = RFY_F_TEXTS, .offset = offsetof(rfy_description, gases),
     .assumed = "N2, O2, Ar, H2O and every gas the file names",
     .help = "gases to follow; \"air\" alone treats air as one gas"},
    {.key = "ambient", .type = RFY_F_RECORD, .record = &ambient_record,
     .offset = offsetof(rfy_description, ambient), .help = "the surroundings"},
    {.key = "chambers", .type = RFY_F_RECORDS, .record = &chamber_record, .required = true,
     .offset = offsetof(rfy_description, chambers), .help = "volumes"},
    {.key = "junctions", .type = RFY_F_TEXTS, .offset = offsetof(rfy_description, junctions),
     .help = "names of branch points whose only volume is their share of the tubing"},
    {.key = "lines", .type = RFY_F_RECORDS, .record = &line_record,
     .offset = offsetof(rfy_description, lines), .help = "what joins the chambers"},
    {.key = "pumps", .type = RFY_F_VARIANTS, .record = &pump_record, .variants = &rfy_pump_kinds,
     .selector = "kind", .offset = offsetof(rfy_description, pumps), .help = "pumps"},
    {.key = "gauges", .type = RFY_F_RECORDS, .record = &gauge_record,
     .offset = offsetof(rfy_description, gauges), .help = "gauges"},
    {.key = "sources", .type = RFY_F_RECORDS, .record = &source_record,
     .offset = offsetof(rfy_description, sources), .help = "bursts of gas"},
    {.key = "procedure", .type = RFY_F_RECORDS, .record = &step_record,
     .offset = offsetof(rfy_description, procedure), .help = "steps, taken in order"},
    {.key = "limits", .type = RFY_F_RECORDS, .record = &limit_record,
     .offset = offsetof(rfy_description, limits), .help = "what must not happen"},
    {.key = "targets", .type = RFY_F_RECORDS, .record = &target_record,
     .offset = offsetof(rfy_description, targets), .help = "pressures to be reached"},
    {.key = "run", .type = RFY_F_RECORD, .record = &run_record, .required = true,
     .offset = offsetof(rfy_description, run), .help = "how long to compute"},
};
const rfy_record rfy_description_record = {.name = "description",
                                           .size = sizeof(rfy_description),
                                           .field = description_fields,
                                           .n = COUNT(description_fields)};
