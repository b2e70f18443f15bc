/* What stands behind the public rfy_system: one description and its network, constant after
 * reading. */
#ifndef RFY_STUDY_SYSTEM_H
#define RFY_STUDY_SYSTEM_H

#include "network/network.h"

struct rfy_system {
    rfy_arena *arena;
    const rfy_catalog *catalog;
    const rfy_description *description;
    const rfy_network *network;
    const char *file, *text; /* what it was read from, for studies that change it */
    size_t length, n_settings;
    const rfy_setting *setting;
};

#endif
