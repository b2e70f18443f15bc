/* From steps, rules and faults to programs: waits, acts and loops. What single orders become is in
 * compile_orders.c. */
#include <limits.h>
#include <math.h>
#include <string.h>
#include "network/compile.h"
#include "network/network.h"

/* ---- operations ---- */

int rfy_op_add(rfy_compiler *c, rfy_op op) {
    rfy_program *p = c->program;
    if (p->n_ops == p->cap_ops) {
        int more = p->cap_ops ? 2 * p->cap_ops : 16;
        p->op = rfy_arena_grow(c->arena, p->op, (size_t)p->cap_ops, (size_t)more, sizeof *p->op);
        p->cap_ops = more;
    }
    if (!(op.within > 0))
        op.within = INFINITY;
    op.step = p->n_steps - 1;
    p->op[p->n_ops] = op;
    return p->n_ops++;
}

int rfy_op_wait(rfy_compiler *c, rfy_condition *when, const char *text) {
    return rfy_op_add(c, (rfy_op){.kind = RFY_OP_WAIT, .when = when, .text = text, .silent = true});
}

void rfy_op_act(rfy_compiler *c, rfy_verb verb, int index, double value, const char *text) {
    const bool fault = c->program->kind == RFY_FAULT;
    rfy_op_add(c, (rfy_op){.kind = RFY_OP_ACT,
                           .action = {.verb = verb,
                                      .index = index,
                                      .gas = -1,
                                      .counter = -1,
                                      .value = value,
                                      .lasting = verb == RFY_VERB_SEIZE || verb == RFY_VERB_SLOW ||
                                                 verb == RFY_VERB_STICK || verb == RFY_VERB_SEAL ||
                                                 (fault && verb == RFY_VERB_STOP),
                                      .silent = text == NULL,
                                      .text = text}});
}

static const char *joined(rfy_arena *arena, const rfy_texts *list) {
    const char *text = "";
    for (size_t i = 0; i < list->n; i++)
        if (list->item[i])
            text = rfy_arena_printf(arena, "%s%s%s", text, *text ? ", " : "", list->item[i]);
    return text;
}

static rfy_condition *condition(rfy_compiler *c, const char *text, rfy_place at) {
    return rfy_condition_parse(c->arena, c->net->catalog->units, c->names, text, at, c->problems);
}

/* ---- steps ---- */

static void add_step(rfy_compiler *c, const char *label, const rfy_step_desc *d) {
    rfy_program *p = c->program;
    if (p->n_steps == p->cap_steps) {
        int more = p->cap_steps ? 2 * p->cap_steps : 8;
        p->step =
            rfy_arena_grow(c->arena, p->step, (size_t)p->cap_steps, (size_t)more, sizeof *p->step);
        p->cap_steps = more;
    }
    p->step[p->n_steps++] = (rfy_step){label, d->when, joined(c->arena, &d->actions)};
}

static void compile_steps(rfy_compiler *c, const rfy_list *list, const char *outer, int depth);

/* "steps" with "repeat" and "until". */
static void compile_group(rfy_compiler *c, const rfy_step_desc *d, const char *label, int depth) {
    rfy_condition *until = NULL;
    if (d->until) {
        rfy_place at = rfy_place_of(&d->origin, "until");
        until = condition(c, d->until, at);
        if (until && until->kind == RFY_COND_ELAPSED)
            rfy_problem_add(c->problems, RFY_WARNING, &at, NULL, NULL,
                            "\"elapsed\" begins anew with every step of the group");
    }
    int begin = c->program->n_ops;
    compile_steps(c, &d->steps, label, depth + 1);
    if (d->repeat > 0 || d->until)
        rfy_op_add(c, (rfy_op){.kind = RFY_OP_LOOP,
                               .counter = c->program->n_counters++,
                               .when = until,
                               .text = d->until,
                               .at = rfy_place_of(&d->origin, d->until ? "until" : "repeat"),
                               .times = d->repeat > 0 ? d->repeat : INT_MAX,
                               .target = begin});
}

static void check_step(rfy_compiler *c, const rfy_step_desc *d) {
    rfy_place at = d->origin.at;
    const bool group = d->steps.n > 0, acts = d->actions.n > 0;
    if (!group && !acts) {
        rfy_place list = rfy_place_of(&d->origin, d->actions.item ? "do" : "steps");
        const bool given = list.line != at.line || list.column != at.column;
        rfy_problem_add(c->problems, RFY_ERROR, &list, given ? "at least one element" : NULL, NULL,
                        given ? "the list is empty (%s)" : "\"do\" is missing (%s)",
                        "actions one after the other, see `rarefy list actions`; or \"steps\"");
    }
    if (group && acts)
        rfy_problem_add(c->problems, RFY_ERROR, &at, "\"do\", or \"steps\"", NULL,
                        "the step has both \"do\" and \"steps\"");
    if (!group && (d->repeat > 0 || d->until))
        rfy_problem_add(c->problems, RFY_ERROR, &at, "\"steps\": [{…}, …] in place of \"do\"", NULL,
                        "only a group of steps can be repeated");
    if (d->otherwise.n > 0 && isnan(d->within))
        rfy_problem_add(c->problems, RFY_ERROR, &at, "\"within\" beside \"otherwise\"", NULL,
                        "\"otherwise\" without a time after which it is done");
    if (group && !isnan(d->within))
        rfy_problem_add(c->problems, RFY_ERROR, &at, "\"within\" in the steps of the group", NULL,
                        "\"within\" stands at a group of steps");
}

static void compile_step(rfy_compiler *c, const rfy_step_desc *d, const char *label, int depth) {
    check_step(c, d);
    add_step(c, label, d);
    rfy_condition *when = NULL;
    if (d->when)
        when = condition(c, d->when, rfy_place_of(&d->origin, "when"));
    int first = rfy_op_add(c, (rfy_op){.kind = RFY_OP_WAIT, .when = when, .text = d->when});
    c->program->op[first].begins = true;
    c->program->op[first].at = rfy_place_of(&d->origin, "when");
    if (d->steps.n > 0) {
        compile_group(c, d, label, depth);
        return;
    }
    rfy_compile_orders(c, &d->actions);
    if (isnan(d->within))
        return;
    int last = c->program->n_ops;
    int jump = rfy_op_add(c, (rfy_op){.kind = RFY_OP_JUMP});
    for (int i = first; i < last; i++) {
        c->program->op[i].within = d->within;
        c->program->op[i].otherwise = jump + 1;
    }
    /* valves that a back-fill left open when its time was over */
    for (int i = first; i < last; i++) {
        const rfy_op *op = &c->program->op[i];
        if (op->kind == RFY_OP_ACT && op->action.verb == RFY_VERB_OPEN && i + 1 < last &&
            c->program->op[i + 1].kind == RFY_OP_WAIT &&
            c->program->op[i + 1].text == op->action.text)
            rfy_op_act(
                c, RFY_VERB_CLOSE, op->action.index, 0,
                rfy_arena_printf(c->arena, "close %s", c->net->valve[op->action.index].name));
    }
    /* a place left on its way: nothing would hold it by its pressure any more */
    for (int i = first; i < last; i++)
        if (c->program->op[i].kind == RFY_OP_ACT &&
            c->program->op[i].action.verb == RFY_VERB_HEAT && c->program->op[i].action.text)
            rfy_op_act(c, RFY_VERB_HOLD, c->program->op[i].action.index, 0, NULL);
    if (d->otherwise.n > 0)
        rfy_compile_orders(c, &d->otherwise);
    else
        rfy_op_add(c, (rfy_op){.kind = RFY_OP_END, .text = "its time was over"});
    c->program->op[jump].target = c->program->n_ops;
}

static void compile_steps(rfy_compiler *c, const rfy_list *list, const char *outer, int depth) {
    const rfy_step_desc *steps = list->item;
    for (size_t i = 0; i < list->n; i++) {
        if (depth > 8) {
            rfy_problem_add(c->problems, RFY_ERROR, &steps[i].origin.at, "at most 8 levels", NULL,
                            "groups of steps are nested too deeply");
            return;
        }
        const char *label = outer ? rfy_arena_printf(c->arena, "%s.%zu", outer, i + 1)
                                  : rfy_arena_printf(c->arena, "%zu", i + 1);
        compile_step(c, &steps[i], label, depth);
    }
}

void rfy_compile_procedure(rfy_compiler *c, const rfy_list *steps) {
    c->program->kind = RFY_PROCEDURE;
    compile_steps(c, steps, NULL, 0);
}

/* ---- rules ---- */

void rfy_compile_rule(rfy_compiler *c, const rfy_rule_desc *d) {
    rfy_program *p = c->program;
    *p = (rfy_program){.kind = RFY_RULE,
                       .name = d->name,
                       .text = d->whenever,
                       .on_battery = d->battery > 0,
                       .at = d->origin.at};
    rfy_condition *when = condition(c, d->whenever, rfy_place_of(&d->origin, "whenever"));
    rfy_op_add(c, (rfy_op){.kind = RFY_OP_WAIT, .when = when, .text = d->whenever, .begins = true});
    p->op[0].at = rfy_place_of(&d->origin, "whenever");
    if (d->delay > 0)
        rfy_op_wait(c, rfy_condition_new(c->arena, RFY_COND_WAITED, 0, false, d->delay), NULL);
    rfy_compile_orders(c, &d->then);
    if (!when)
        return;
    rfy_condition *over = rfy_condition_new(c->arena, RFY_COND_REARM, 0, false, 0);
    over->left = when;
    rfy_op_wait(c, over, NULL);
    rfy_op_add(c, (rfy_op){.kind = RFY_OP_JUMP, .target = 0});
}

/* ---- faults ---- */

void rfy_compile_fault(rfy_compiler *c, const char *name, const rfy_texts *actions, double at,
                       const char *when, rfy_place place) {
    rfy_program *p = c->program;
    *p = (rfy_program){.kind = RFY_FAULT,
                       .name = name,
                       .text = joined(c->arena, actions),
                       .on_battery = true,
                       .at = place,
                       .timed = !isnan(at) || when};
    rfy_condition *strikes = NULL;
    if (when)
        strikes = condition(c, when, place);
    else if (!isnan(at))
        strikes = rfy_condition_new(c->arena, RFY_COND_TIME, 0, false, at);
    rfy_op_add(c, (rfy_op){.kind = RFY_OP_WAIT, .when = strikes, .text = when, .begins = true});
    p->op[0].at = place;
    rfy_compile_orders(c, actions);
    rfy_op_add(c, (rfy_op){.kind = RFY_OP_END});
}

static char *trimmed(rfy_arena *arena, const char *text, size_t n) {
    while (n > 0 && (*text == ' ' || *text == '\t'))
        text++, n--;
    while (n > 0 && (text[n - 1] == ' ' || text[n - 1] == '\t'))
        n--;
    return rfy_arena_strndup(arena, text, n);
}

/* The last place where `word` stands between blanks, NULL if none. */
static const char *last_word(const char *text, const char *word) {
    const char *found = NULL;
    for (const char *at = text; (at = strstr(at, word)); at++)
        if (at > text && at[-1] == ' ' && at[strlen(word)] == ' ')
            found = at;
    return found;
}

static const rfy_program *named_fault(const rfy_network *net, const char *name) {
    for (int i = 0; i < net->n_faults; i++)
        if (net->fault[i].name && strcmp(net->fault[i].name, name) == 0)
            return &net->fault[i];
    return NULL;
}

void rfy_compile_fault_text(rfy_compiler *c, const char *text, rfy_place place) {
    const char *first = text, *when = NULL;
    size_t length = strlen(text);
    double at = NAN;
    const rfy_program *whole = named_fault(c->net, trimmed(c->arena, text, length));
    if (!whole) {
        const char *at_word = last_word(text, "at"), *when_word = last_word(text, "when");
        rfy_quantity_error error;
        if (when_word) {
            when = trimmed(c->arena, when_word + 4, strlen(when_word + 4));
            length = (size_t)(when_word - text);
        } else if (at_word) {
            char *time = trimmed(c->arena, at_word + 2, strlen(at_word + 2));
            if (!rfy_parse_quantity(c->net->catalog->units, time, RFY_DIM_TIME, &at, &error)) {
                rfy_problem_add(c->problems, RFY_ERROR, &place, "\"at\" and a time: \"at 40 min\"",
                                *error.hint ? error.hint : NULL, "%s", error.what);
                return;
            }
            length = (size_t)(at_word - text);
        }
    }
    char *what = trimmed(c->arena, first, length);
    const rfy_program *named = named_fault(c->net, what);
    if (named) {
        if (isnan(at) && !when && !named->timed) {
            rfy_problem_add(
                c->problems, RFY_ERROR, &place,
                rfy_arena_printf(c->arena, "\"%s at 40 min\", or \"%s when …\"", what, what), NULL,
                "the fault \"%s\" does not say when it strikes", what);
            return;
        }
        *c->program = *named;
        if (isnan(at) && !when)
            return;
        c->program->op = rfy_arena_grow(c->arena, named->op, (size_t)named->n_ops,
                                        (size_t)named->n_ops, sizeof *named->op);
        c->program->op[0].text = when;
        c->program->op[0].when = when ? condition(c, when, place)
                                      : rfy_condition_new(c->arena, RFY_COND_TIME, 0, false, at);
        c->program->timed = true;
        return;
    }
    if (isnan(at) && !when) {
        rfy_problem_add(c->problems, RFY_ERROR, &place,
                        "\"at\" and a time or \"when\" and a condition behind the fault: \"stop "
                        "vane at 40 min\"; or the name of one under \"faults\"",
                        NULL, "\"%s\" does not say when the fault strikes", text);
        return;
    }
    size_t n = 1, k = 0;
    for (const char *s = what; *s; s++)
        n += *s == ';';
    rfy_texts actions = {n, RFY_NEW(c->arena, n, const char *), RFY_NEW(c->arena, n, rfy_place)};
    for (const char *s = what;; s++) {
        size_t l = strcspn(s, ";");
        actions.item[k] = trimmed(c->arena, s, l);
        actions.at[k++] = place;
        s += l;
        if (!*s)
            break;
    }
    rfy_compile_fault(c, what, &actions, at, when, place);
}
