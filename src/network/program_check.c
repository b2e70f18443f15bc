/* What can be seen of procedures and rules before anything runs: conditions that contradict
 * themselves, conditions that nothing in the file brings about, times after the end of the run. */
#include <math.h>
#include "network/network.h"

enum { MOST_LEAVES = 64, MOST_CASES = 256 };

/* One comparison, turned round when a "not" stands before it. */
typedef struct leaf {
    const rfy_condition *c;
    bool turned;
} leaf;

typedef struct cases { /* conditions that must hold together, one list a case */
    leaf leaf[MOST_LEAVES];
    int n;
    int tried;
    bool possible;
} cases;

static bool wants_below(const leaf *l) {
    return l->c->below != l->turned;
}

/* Two comparisons of one thing that leave nothing between them. */
static bool exclude(const leaf *a, const leaf *b) {
    if (a->c->kind != b->c->kind || a->c->index != b->c->index || wants_below(a) == wants_below(b))
        return false;
    if (a->c->kind == RFY_COND_DRIVEN || a->c->kind == RFY_COND_SWITCHED)
        return true;
    const leaf *low = wants_below(a) ? b : a, *high = wants_below(a) ? a : b;
    return low->c->value >= high->c->value;
}

static bool holds_together(const cases *s) {
    for (int i = 0; i < s->n; i++)
        for (int j = i + 1; j < s->n; j++)
            if (exclude(&s->leaf[i], &s->leaf[j]))
                return false;
    return true;
}

typedef struct rest { /* what is still to be added to a case */
    const rfy_condition *c;
    bool turned;
    const struct rest *next;
} rest;

/* Every way of choosing one side of each "or", until one is without contradiction. */
static void expand(cases *s, const rest *r) {
    if (s->possible || ++s->tried > MOST_CASES) {
        s->possible = true; /* too many to look at: no complaint */
        return;
    }
    if (!r) {
        s->possible = holds_together(s);
        return;
    }
    const rfy_condition *c = r->c;
    if (c->kind == RFY_COND_NOT) {
        rest one = {c->left, !r->turned, r->next};
        expand(s, &one);
        return;
    }
    if (c->kind == RFY_COND_AND || c->kind == RFY_COND_OR) {
        if ((c->kind == RFY_COND_AND) != r->turned) {
            rest right = {c->right, r->turned, r->next}, left = {c->left, r->turned, &right};
            expand(s, &left);
            return;
        }
        rest left = {c->left, r->turned, r->next}, right = {c->right, r->turned, r->next};
        int n = s->n;
        expand(s, &left);
        s->n = n;
        expand(s, &right);
        return;
    }
    if (s->n == MOST_LEAVES) {
        s->possible = true;
        return;
    }
    s->leaf[s->n++] = (leaf){c, r->turned};
    expand(s, r->next);
}

bool rfy_condition_possible(const rfy_condition *c) {
    cases s = {.n = 0};
    rest all = {c, false, NULL};
    expand(&s, &all);
    return s.possible;
}

/* ---- what the file can bring about ---- */

static bool acts_on(const rfy_program *p, rfy_verb verb, int index) {
    for (int i = 0; i < p->n_ops; i++)
        if (p->op[i].kind == RFY_OP_ACT && p->op[i].action.verb == verb &&
            p->op[i].action.index == index)
            return true;
    return false;
}

static bool anything_acts(const rfy_network *net, rfy_verb verb, int index) {
    bool any = acts_on(&net->procedure, verb, index);
    for (int i = 0; i < net->n_rules; i++)
        any = any || acts_on(&net->rule[i], verb, index);
    return any;
}

static void widen(const rfy_program *p, int node, double *range) {
    for (int i = 0; i < p->n_ops; i++) {
        const rfy_action *a = &p->op[i].action;
        if (p->op[i].kind != RFY_OP_ACT || a->verb != RFY_VERB_HEAT || a->index != node)
            continue;
        range[0] = fmin(range[0], a->value);
        range[1] = fmax(range[1], a->value);
    }
}

/* Whether nothing brings a place above or below a temperature. */
static bool too_far(const rfy_network *net, int node, bool below, double temperature) {
    double range[2] = {net->node[node].temperature, net->node[node].temperature};
    for (int i = 0; i < net->n_bakes; i++)
        for (int k = 0; k < net->bake[i].n && net->bake[i].node == node; k++) {
            range[0] = fmin(range[0], net->bake[i].temperature[k]);
            range[1] = fmax(range[1], net->bake[i].temperature[k]);
        }
    widen(&net->procedure, node, range);
    for (int i = 0; i < net->n_rules; i++)
        widen(&net->rule[i], node, range);
    for (int i = 0; i < net->n_faults; i++)
        widen(&net->fault[i], node, range);
    return below ? temperature < range[0] * (1 - 1e-12) : temperature > range[1] * (1 + 1e-12);
}

/* The part of a condition that must hold and that nothing brings about; NULL when there is none. */
static const char *never(const rfy_compiler *c, const rfy_condition *cond, bool turned) {
    const rfy_network *net = c->net;
    if (!cond || cond->kind == RFY_COND_OR)
        return NULL;
    if (cond->kind == RFY_COND_AND && !turned) {
        const char *left = never(c, cond->left, false);
        return left ? left : never(c, cond->right, false);
    }
    if (cond->kind == RFY_COND_NOT)
        return never(c, cond->left, !turned);
    const int i = cond->index;
    const bool below = cond->below != turned;
    switch (cond->kind) {
    case RFY_COND_TURN:
    case RFY_COND_DRIVEN:
        if (!below && !net->pump[i].on && !anything_acts(net, RFY_VERB_START, i))
            return rfy_arena_printf(c->arena, "nothing starts \"%s\"", net->pump[i].name);
        return NULL;
    case RFY_COND_OPENING:
        if (!below && !net->valve[i].open && !anything_acts(net, RFY_VERB_OPEN, i))
            return rfy_arena_printf(c->arena, "nothing opens \"%s\"", net->valve[i].name);
        if (below && cond->value < 1e-3 && net->valve[i].open &&
            !anything_acts(net, RFY_VERB_CLOSE, i))
            return rfy_arena_printf(c->arena, "nothing closes \"%s\"", net->valve[i].name);
        return NULL;
    case RFY_COND_READING:
    case RFY_COND_SWITCHED:
        if (!below || cond->kind == RFY_COND_READING)
            if (!net->gauge[i].on && !anything_acts(net, RFY_VERB_SWITCH_ON, i))
                return rfy_arena_printf(c->arena, "nothing switches on \"%s\"", net->gauge[i].name);
        return NULL;
    case RFY_COND_TEMPERATURE:
        if (too_far(net, i, below, cond->value))
            return rfy_arena_printf(c->arena, "nothing %s \"%s\" that far",
                                    below ? "cools" : "heats", net->node[i].name);
        return NULL;
    case RFY_COND_TIME:
    case RFY_COND_ELAPSED:
        if (!below && cond->value > net->until)
            return "the run ends before";
        return NULL;
    default:
        return NULL;
    }
}

static void check_program(const rfy_compiler *c, const rfy_program *p) {
    for (int i = 0; i < p->n_ops; i++) {
        const rfy_op *op = &p->op[i];
        if (!op->when || !op->text || op->when->kind == RFY_COND_REARM)
            continue;
        if (!rfy_condition_possible(op->when)) {
            rfy_problem_add(c->problems, RFY_ERROR, &op->at, "comparisons that can hold together",
                            NULL, "\"%s\" can never come true: it contradicts itself", op->text);
            continue;
        }
        if (c->parse_only || op->silent)
            continue;
        const char *why = never(c, op->when, false);
        if (why && p->kind != RFY_FAULT)
            rfy_problem_add(c->problems, RFY_WARNING, &op->at, NULL, NULL,
                            "\"%s\" cannot come true: %s", op->text, why);
    }
}

/* A group that repeats without end, in which nothing waits and no action takes time. */
static void check_loops(const rfy_compiler *c, const rfy_program *p) {
    for (int i = 0; i < p->n_ops; i++) {
        const rfy_op *loop = &p->op[i];
        if (loop->kind != RFY_OP_LOOP || loop->times < 1000000 || !loop->when)
            continue;
        bool waits = false;
        for (int k = loop->target; k < i; k++)
            waits = waits || (p->op[k].kind == RFY_OP_WAIT && p->op[k].when);
        if (!waits)
            rfy_problem_add(c->problems, RFY_ERROR, &loop->at,
                            "\"repeat\" and a number, or a step that waits", NULL,
                            "the group repeats without end and without waiting: no time passes in "
                            "it");
    }
}

void rfy_program_check(const rfy_compiler *c) {
    const rfy_network *net = c->net;
    check_program(c, &net->procedure);
    check_loops(c, &net->procedure);
    for (int i = 0; i < net->n_rules; i++)
        check_program(c, &net->rule[i]);
    for (int i = 0; i < net->n_faults; i++)
        check_program(c, &net->fault[i]);
}
