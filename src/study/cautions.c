/* Short safety cautions, each once and only where it applies. */
#include <string.h>
#include "study/answers.h"

static bool mentions(const rfy_network *net, const char *word) {
    for (int i = 0; i < net->n_emitters; i++)
        if (strstr(net->emitter[i].material, word))
            return true;
    for (int i = 0; i < net->n_stores; i++)
        if (strstr(net->store[i].material, word))
            return true;
    return false;
}

static bool has_kind(const rfy_network *net, const char *kind) {
    for (int i = 0; i < net->n_pumps; i++)
        if (strcmp(net->pump[i].kind->name, kind) == 0)
            return true;
    return false;
}

static bool starts_rich_in_oxygen(const rfy_network *net) {
    for (int i = 0; i < net->mixture.n; i++)
        if (strcmp(net->mixture.name[i], "O2") == 0)
            for (int k = 0; k < net->n_nodes; k++) {
                double total = 0;
                for (int j = 0; j < net->mixture.n; j++)
                    total += net->node[k].start[j];
                if (total > 100 && net->node[k].start[i] > 0.25 * total)
                    return true;
            }
    return false;
}

void rfy_answer_cautions(rfy_arena *arena, const rfy_network *net, const char *const **out,
                         size_t *n) {
    const char **list = RFY_NEW(arena, 12, const char *);
    *n = 0;
    list[(*n)++] =
        "All of this is an estimate: published outgassing rates scatter by 3 to 10 times. "
        "Local rules, the makers' manuals and trained people come first.";
    if (mentions(net, "glass") || mentions(net, "silica") || mentions(net, "acrylic") ||
        mentions(net, "poly") || mentions(net, "PVC"))
        list[(*n)++] =
            "Evacuated glass and plastic vessels can implode at any time: shield them and "
            "wear eye protection; never let a glass line go above the pressure outside "
            "when venting.";
    if (net->n_gauges > 0)
        for (int i = 0; i < net->n_gauges; i++)
            if (net->gauge[i].kind == RFY_GAUGE_HOT_CATHODE ||
                net->gauge[i].kind == RFY_GAUGE_COLD_CATHODE) {
                list[(*n)++] = "Supplies of ionisation gauges and of bombarders can kill; X-rays "
                               "begin to matter above about 10 kV.";
                break;
            }
    if (starts_rich_in_oxygen(net) && has_kind(net, "rotary vane"))
        list[(*n)++] = "Gas rich in oxygen and pumps filled with mineral oil do not go together: "
                       "fire and explosion.";
    if (has_kind(net, "diffusion"))
        list[(*n)++] = "A diffusion pump is hot and its oil burns: never let air onto it hot.";
    if (has_kind(net, "rotary vane"))
        list[(*n)++] = "The exhaust of an oil-sealed pump carries oil mist: filter it or lead it "
                       "outdoors.";
    for (int i = 0; i < net->n_edges; i++)
        if (net->edge[i].role == RFY_EDGE_TUBING && strstr(net->edge[i].name, "trap")) {
            list[(*n)++] = "A trap cooled with liquid nitrogen and open to air condenses oxygen; "
                           "nitrogen boiling off displaces the air you breathe.";
            break;
        }
    bool hot = false;
    for (int k = 0; k < net->n_free; k++)
        hot = hot || net->node[k].heated;
    if (hot)
        list[(*n)++] = "Ovens and hot glass burn; glass under vacuum grows weaker as it nears its "
                       "strain point; heat meets air only after the pressure is low.";
    if (mentions(net, "barium"))
        list[(*n)++] =
            "Barium of a getter is poisonous and reacts with water: do not break it open.";
    for (int i = 0; i < net->n_stores; i++)
        if (net->store[i].temperature < 91) {
            list[(*n)++] = "A surface colder than 90 K condenses oxygen from air: warm it under "
                           "vacuum, never shut in; boiling nitrogen displaces the air you breathe.";
            break;
        }
    *out = list;
}
