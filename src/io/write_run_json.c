#include <math.h>
#include "io/write_log.h"

static const char *kind_word(rfy_event_kind kind) {
    static const char *const word[] = {
        [RFY_EVENT_START] = "start",     [RFY_EVENT_ACTION] = "action",
        [RFY_EVENT_MACHINE] = "machine", [RFY_EVENT_TARGET] = "target",
        [RFY_EVENT_REGIME] = "regime",   [RFY_EVENT_WALL] = "wall",
        [RFY_EVENT_SOURCE] = "source",   [RFY_EVENT_LIMIT] = "limit",
        [RFY_EVENT_END] = "end",         [RFY_EVENT_RULE] = "rule",
        [RFY_EVENT_FAULT] = "fault"};
    size_t i = (size_t)kind;
    return i < sizeof word / sizeof word[0] ? word[i] : "other";
}

static void write_series(rfy_json *json, const rfy_result *r) {
    rfy_json_object(json, "series");
    rfy_json_numbers(json, "time_s", r->time, r->n_times, 1);
    rfy_json_object(json, "pressure_Pa");
    for (size_t c = 0; c < r->n_chambers; c++)
        rfy_json_numbers(json, r->chamber[c], r->pressure ? r->pressure + c : NULL,
                         r->pressure ? r->n_times : 0, r->n_chambers);
    rfy_json_close(json);
    rfy_json_object(json, "partial_Pa");
    for (size_t c = 0; c < r->n_chambers; c++) {
        rfy_json_object(json, r->chamber[c]);
        for (size_t g = 0; g < r->n_gases; g++)
            rfy_json_numbers(json, r->gas[g], r->partial ? r->partial + c * r->n_gases + g : NULL,
                             r->partial ? r->n_times : 0, r->n_chambers * r->n_gases);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_object(json, "gauge_Pa");
    for (size_t g = 0; g < r->n_gauges; g++)
        rfy_json_numbers(json, r->gauge[g], r->gauge_reading ? r->gauge_reading + g : NULL,
                         r->gauge_reading ? r->n_times : 0, r->n_gauges);
    rfy_json_close(json);
    rfy_json_close(json);
}

/* An infinite late time means "not within the run"; JSON has no infinity, so a flag says it. */
static void write_edge(rfy_json *json, const char *key, const char *flag, double time) {
    rfy_json_number(json, key, time);
    if (isnan(time))
        rfy_json_null(json, flag);
    else
        rfy_json_flag(json, flag, isfinite(time));
}

static void write_targets(rfy_json *json, const rfy_result *r) {
    rfy_json_array(json, "targets");
    for (size_t i = 0; i < r->n_targets; i++) {
        const rfy_target_result *t = &r->target[i];
        rfy_json_object(json, NULL);
        rfy_json_text(json, "name", t->name);
        rfy_json_text(json, "chamber", t->chamber);
        rfy_json_number(json, "pressure_Pa", t->pressure);
        rfy_json_flag(json, "reached", t->reached);
        rfy_json_number(json, "time_s", t->reached ? t->time : (double)NAN);
        write_edge(json, "time_early_s", "early_within_run", t->time_early);
        write_edge(json, "time_late_s", "late_within_run", t->time_late);
        rfy_json_by_name(json, "partial_Pa", r->gas, t->partial, r->n_gases);
        rfy_json_number(json, "speed_m3_s", t->speed);
        rfy_json_text(json, "speed_gas", t->speed_gas);
        rfy_json_number(json, "gas_load_Pa_m3_s", t->gas_load);
        rfy_json_text(json, "gauge", t->gauge);
        rfy_json_number(json, "gauge_reading_Pa", t->gauge ? t->gauge_reading : (double)NAN);
        rfy_json_close(json);
    }
    rfy_json_close(json);
}

static void write_events(rfy_json *json, const rfy_result *r) {
    rfy_json_array(json, "events");
    for (size_t i = 0; i < r->n_events; i++) {
        const rfy_event *e = &r->event[i];
        rfy_json_object(json, NULL);
        rfy_json_number(json, "time_s", e->time);
        rfy_json_text(json, "kind", kind_word(e->kind));
        rfy_json_text(json, "what", e->what);
        rfy_json_by_name(json, "pressure_Pa", r->chamber, e->pressure, r->n_chambers);
        rfy_json_close(json);
    }
    rfy_json_close(json);
}

typedef struct limit_keys {
    const char *peak, *allowed;
} limit_keys;

static const limit_keys keys_of[] = {[RFY_LIMIT_MAX] = {"peak_Pa", "max_Pa"},
                                     [RFY_LIMIT_MIN] = {"lowest_Pa", "min_Pa"},
                                     [RFY_LIMIT_RATE] = {"fastest_Pa_s", "max_rate_Pa_s"}};

static void write_limits(rfy_json *json, const rfy_result *r) {
    rfy_json_array(json, "limits");
    for (size_t i = 0; i < r->n_limits; i++) {
        const rfy_limit_result *l = &r->limit[i];
        rfy_json_object(json, NULL);
        rfy_json_text(json, "name", l->name);
        rfy_json_text(json, "watch", l->watch);
        rfy_json_flag(json, "broken", l->broken);
        rfy_json_number(json, "time_s", l->broken ? l->time : (double)NAN);
        const limit_keys *keys = &keys_of[l->kind];
        rfy_json_number(json, keys->peak, l->peak);
        rfy_json_number(json, "peak_time_s", l->peak_time);
        rfy_json_number(json, keys->allowed, l->max);
        rfy_json_number(json, "for_s", l->duration);
        rfy_json_text(json, "ready_made", l->ready);
        rfy_json_text(json, "path", l->path);
        rfy_json_close(json);
    }
    rfy_json_close(json);
}

/* Without the braces around it. */
static void write_bottleneck(rfy_json *json, const rfy_bottleneck *b) {
    rfy_json_text(json, "chamber", b->chamber);
    rfy_json_text(json, "gas", b->gas);
    rfy_json_number(json, "time_s", b->time);
    rfy_json_number(json, "speed_m3_s", b->speed);
    rfy_json_array(json, "parts");
    for (size_t k = 0; k < b->n; k++) {
        rfy_json_object(json, NULL);
        rfy_json_text(json, "part", b->resistance[k].part);
        rfy_json_number(json, "share", b->resistance[k].share);
        rfy_json_close(json);
    }
    rfy_json_close(json);
}

static void write_bottlenecks(rfy_json *json, const rfy_result *r) {
    rfy_json_array(json, "bottleneck");
    for (size_t i = 0; i < r->n_bottlenecks; i++) {
        rfy_json_object(json, NULL);
        rfy_json_text(json, "target", r->bottleneck[i].target);
        write_bottleneck(json, &r->bottleneck[i]);
        rfy_json_close(json);
    }
    rfy_json_close(json);
}

static void write_splits(rfy_json *json, const rfy_result *r) {
    rfy_json_array(json, "over_time");
    for (size_t i = 0; i < r->n_splits; i++) {
        const rfy_split *s = &r->split[i];
        rfy_json_object(json, NULL);
        rfy_json_text(json, "what", s->what);
        write_bottleneck(json, &s->at);
        rfy_json_number(json, "gas_load_Pa_m3_s", s->gas_load);
        rfy_json_array(json, "sources");
        for (size_t k = 0; k < s->n_sources; k++) {
            rfy_json_object(json, NULL);
            rfy_json_text(json, "source", s->source[k].source);
            rfy_json_text(json, "gas", r->gas[s->source[k].gas]);
            rfy_json_number(json, "throughput_Pa_m3_s", s->source[k].throughput);
            rfy_json_close(json);
        }
        rfy_json_close(json);
        rfy_json_close(json);
    }
    rfy_json_close(json);
}

static void write_sensitivities(rfy_json *json, const rfy_result *r) {
    rfy_json_array(json, "sensitivities");
    for (size_t k = 0; k < r->n_sensitivities; k++) {
        const rfy_sensitivity *s = &r->sensitivity[k];
        rfy_json_object(json, NULL);
        rfy_json_text(json, "name", s->name);
        rfy_json_texts(json, "paths", s->path, s->n_paths);
        rfy_json_number(json, "value", s->value);
        rfy_json_text(json, "unit", s->unit);
        rfy_json_text(json, "unsuited", s->unsuited);
        rfy_json_array(json, "targets");
        for (size_t i = 0; i < r->n_targets; i++) {
            rfy_json_object(json, NULL);
            rfy_json_text(json, "name", r->target[i].name);
            rfy_json_number(json, "time_exponent", s->time[i]);
            rfy_json_close(json);
        }
        rfy_json_close(json);
        rfy_json_by_name(json, "ultimate_exponent", r->chamber, s->ultimate, r->n_chambers);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_array(json, "changes");
    for (size_t k = 0; k < r->n_changes; k++) {
        const rfy_gain *c = &r->change[k];
        rfy_json_object(json, NULL);
        rfy_json_text(json, "target", r->target[c->target].name);
        rfy_json_text(json, "name", r->sensitivity[c->sensitivity].name);
        rfy_json_number(json, "factor", c->factor);
        rfy_json_number(json, "time_estimate_s", c->estimate);
        write_edge(json, "time_s", "within_run", c->time);
        rfy_json_close(json);
    }
    rfy_json_close(json);
}

static void write_balance(rfy_json *json, const rfy_result *r) {
    rfy_json_object(json, "balance");
    for (size_t g = 0; r->balance && g < r->n_gases; g++) {
        const rfy_balance_row *b = &r->balance[g];
        rfy_json_object(json, r->gas[g]);
        rfy_json_number(json, "start_mol", b->start);
        rfy_json_number(json, "from_walls_mol", b->from_walls);
        rfy_json_number(json, "admitted_mol", b->admitted);
        rfy_json_number(json, "pumped_mol", b->pumped);
        rfy_json_number(json, "to_walls_mol", b->to_walls);
        rfy_json_number(json, "left_mol", b->left);
        rfy_json_number(json, "handled_mol", b->handled);
        rfy_json_number(json, "residue", b->residue);
        rfy_json_close(json);
    }
    rfy_json_close(json);
}

static void write_held(rfy_json *json, const rfy_result *r) {
    rfy_json_array(json, "held");
    for (size_t i = 0; i < r->n_held; i++) {
        rfy_json_object(json, NULL);
        rfy_json_text(json, "name", r->held[i].name);
        rfy_json_text(json, "gas", r->gas[r->held[i].gas]);
        rfy_json_number(json, "start_mol", r->held[i].start);
        rfy_json_number(json, "end_mol", r->held[i].end);
        rfy_json_close(json);
    }
    rfy_json_close(json);
}

rfy_status rfy_write_run_json(FILE *out, const rfy_result *result,
                              const rfy_write_options *options) {
    (void)options; /* JSON is always in SI, as its keys say */
    rfy_json json;
    rfy_json_begin(&json, out);
    rfy_json_opening(&json, result);
    rfy_json_number(&json, "end_s", result->end);
    rfy_json_texts(&json, "gases", result->gas, result->n_gases);
    rfy_json_texts(&json, "chambers", result->chamber, result->n_chambers);
    rfy_json_array(&json, "chambers_inside_lines");
    for (size_t c = 0; c < result->n_chambers; c++)
        if (rfy_is_inside(result, c))
            rfy_json_text(&json, NULL, result->chamber[c]);
    rfy_json_close(&json);
    write_targets(&json, result);
    rfy_json_band(&json, result);
    write_events(&json, result);
    write_limits(&json, result);
    rfy_json_creep(&json, result);
    rfy_json_strike(&json, result);
    write_bottlenecks(&json, result);
    if (result->n_splits > 0)
        write_splits(&json, result);
    if (result->n_sensitivities > 0)
        write_sensitivities(&json, result);
    rfy_json_ultimate(&json, result);
    write_balance(&json, result);
    write_held(&json, result);
    write_series(&json, result);
    if (result->measured)
        rfy_json_overlay(&json, result->measured);
    rfy_json_closing(&json, result);
    return rfy_json_end(&json);
}
