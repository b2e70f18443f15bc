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

/* rfy_system_read with data that are read already and outlive it. */
rfy_status rfy_system_read_sharing(rfy_system **out, const rfy_catalog *catalog, const char *text,
                                   size_t length, const rfy_setting *settings, size_t n_settings,
                                   rfy_problems *problems);

#endif
