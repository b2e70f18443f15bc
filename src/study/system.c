#include "study/system.h"

void rfy_system_free(rfy_system *system) {
    if (system)
        rfy_arena_free(system->arena);
}

const char *rfy_system_title(const rfy_system *system) {
    return system->description->title ? system->description->title : "";
}

void rfy_system_summary(const rfy_system *system, rfy_summary *out) {
    const rfy_network *net = system->network;
    *out = (rfy_summary){.n_chambers = system->description->chambers.n,
                         .n_lines = (size_t)net->n_lines,
                         .n_pumps = (size_t)net->n_pumps,
                         .n_nodes = (size_t)net->n_free,
                         .n_gases = (size_t)net->mixture.n,
                         .n_states = (size_t)rfy_network_states(net),
                         .n_assumed = net->n_assumed,
                         .assumed = net->assumed};
    for (int k = 0; k < net->n_free; k++)
        out->volume += net->node[k].volume;
}
