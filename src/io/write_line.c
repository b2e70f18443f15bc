#include "study/line.h"
#include <math.h>
#include "io/write_common.h"

const char *rfy_line_head(rfy_arena *arena, size_t point, unsigned long long sweep) {
    return rfy_arena_printf(arena, "{\"point\": %zu, \"sweep\": \"%016llx\"", point, sweep);
}

static void by_chamber(rfy_json *json, const char *key, const rfy_network *net,
                       const double *value) {
    rfy_json_object(json, key);
    for (int k = 0; k < net->n_free && value; k++)
        if (!net->node[k].internal)
            rfy_json_number(json, net->node[k].name, value[k]);
    rfy_json_close(json);
}

static void write_problem(rfy_json *json, const rfy_problems *problems) {
    rfy_json_text(json, "status", "bad");
    rfy_json_object(json, "problem");
    if (rfy_problems_kept(problems) > 0) {
        const rfy_problem *p = rfy_problems_at(problems, 0);
        if (p->line > 0)
            rfy_json_count(json, "column", (size_t)p->column);
        rfy_json_text(json, "path", p->path);
        rfy_json_text(json, "what", p->what);
        if (p->allowed)
            rfy_json_text(json, "allowed", p->allowed);
        if (p->hint)
            rfy_json_text(json, "hint", p->hint);
    }
    rfy_json_close(json);
}

static void write_point(rfy_json *json, const rfy_network *net, const rfy_point *p) {
    rfy_json_text(json, "status", p->status == RFY_OK ? "done" : "failed");
    if (p->trouble)
        rfy_json_text(json, "trouble", p->trouble);
    rfy_json_array(json, "targets");
    for (int i = 0; i < net->n_targets; i++) {
        rfy_json_object(json, NULL);
        rfy_json_text(json, "name", net->target[i].name);
        rfy_json_flag(json, "reached", !isnan(p->time[i]));
        rfy_json_number(json, "time_s", p->time[i]);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    /* with every target reached the run ends just after the last one, at no special instant */
    bool whole = p->status != RFY_OK || net->n_targets == 0;
    for (int i = 0; i < net->n_targets; i++)
        whole = whole || isnan(p->time[i]);
    if (whole || p->ultimate) {
        rfy_json_number(json, "end_s", p->end);
        by_chamber(json, "pressure_Pa", net, p->pressure);
    }
    if (p->ultimate)
        by_chamber(json, "ultimate_Pa", net, p->ultimate);
}

bool rfy_line_write(FILE *out, const rfy_line_of *line) {
    rfy_json json;
    rfy_json_begin_line(&json, out);
    fputs(line->head + 1, out); /* the bracket stands there already */
    json.filled[json.depth] = true;
    if (line->n > 0) {
        rfy_json_object(&json, "set");
        for (size_t i = 0; i < line->n; i++)
            rfy_json_text(&json, line->path[i], line->value[i]);
        rfy_json_close(&json);
    }
    if (line->walls && line->walls->n > 0) {
        rfy_json_object(&json, "walls_times");
        for (size_t i = 0; i < line->walls->n; i++)
            rfy_json_number(
                &json, line->walls->material[i],
                rfy_law_quantile(RFY_LAW_FACTOR, 1, line->walls->spread[i], line->u[i]));
        rfy_json_close(&json);
    }
    if (line->net)
        write_point(&json, line->net, line->point);
    else
        write_problem(&json, line->problems);
    return rfy_json_end(&json) == RFY_OK;
}
