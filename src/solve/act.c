#include <math.h>
#include <stdarg.h>
#include "solve/simulate_parts.h"

void rfy_sim_tell(rfy_sim *sim, double time, const double *y, rfy_event_kind kind,
                  const char *format, ...) {
    const rfy_observer *o = sim->observer;
    if (!o || !o->event || sim->options.targets_only)
        return;
    va_list args;
    va_start(args, format);
    const char *text = rfy_arena_vprintf(sim->arena, format, args);
    va_end(args);
    o->event(o->context, sim, time, y, kind, text);
}

/* Sends a valve or rotor towards `to` from where it is, at the pace of its full travel. */
static void move(rfy_motion *m, double to, double travel, double now) {
    double from = rfy_motion_at(m, now);
    *m = (rfy_motion){from, to, now, now + travel * fabs(to - from)};
    if (m->end == now)
        m->from = to;
}

static void act(rfy_sim *sim, const rfy_action *action) {
    const rfy_network *net = sim->net;
    int i = action->index;
    switch (action->verb) {
    case RFY_VERB_START:
        move(&sim->pump[i], 1, net->pump[i].run_up, sim->time);
        break;
    case RFY_VERB_STOP:
        move(&sim->pump[i], 0, net->pump[i].coast_down, sim->time);
        break;
    case RFY_VERB_OPEN:
        move(&sim->valve[i], 1, net->valve[i].moves_in, sim->time);
        break;
    case RFY_VERB_CLOSE:
        move(&sim->valve[i], 0, net->valve[i].moves_in, sim->time);
        break;
    case RFY_VERB_SWITCH_ON:
    case RFY_VERB_SWITCH_OFF:
        sim->gauge_on[i] = action->verb == RFY_VERB_SWITCH_ON;
        break;
    }
    rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_ACTION, "%s", action->text);
}

rfy_status rfy_sim_fire(rfy_sim *sim) {
    const rfy_procedure *p = &sim->net->procedure;
    while (sim->step_index < p->n_steps) {
        const rfy_step *step = &p->step[sim->step_index];
        if (!sim->step_due) {
            rfy_sim_look(sim, sim->time, sim->y);
            if (rfy_condition_guard(step->when, &sim->sight.view) < 0)
                break;
        }
        sim->step_due = false;
        sim->step_index++;
        sim->step_time = sim->time;
        for (int k = 0; k < step->n_actions; k++)
            act(sim, &step->action[k]);
    }
    return RFY_OK;
}

void rfy_sim_machine_events(rfy_sim *sim) {
    const rfy_network *net = sim->net;
    for (int i = 0; i < net->n_valves; i++)
        if (sim->valve[i].end == sim->time && sim->valve[i].start < sim->time)
            rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_MACHINE, "%s is %s", net->valve[i].name,
                         sim->valve[i].to > 0 ? "fully open" : "shut");
    for (int i = 0; i < net->n_pumps; i++)
        if (sim->pump[i].end == sim->time && sim->pump[i].start < sim->time)
            rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_MACHINE, "%s is %s", net->pump[i].name,
                         sim->pump[i].to > 0 ? "at full speed" : "at rest");
    for (int i = 0; i < net->n_bursts; i++) {
        if (net->burst[i].from == sim->time)
            rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_SOURCE, "%s begins", net->burst[i].name);
        if (net->burst[i].to == sim->time)
            rfy_sim_tell(sim, sim->time, sim->y, RFY_EVENT_SOURCE, "%s ends", net->burst[i].name);
    }
}
