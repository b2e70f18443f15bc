#include "io/read_description.h"
#include "study/system.h"

rfy_status rfy_system_read(rfy_system **out, const char *text, size_t length,
                           const rfy_setting *settings, size_t n_settings, rfy_problems *problems) {
    return rfy_system_read_sharing(out, NULL, text, length, settings, n_settings, problems);
}

rfy_status rfy_system_read_sharing(rfy_system **out, const rfy_catalog *catalog, const char *text,
                                   size_t length, const rfy_setting *settings, size_t n_settings,
                                   rfy_problems *problems) {
    rfy_arena *arena = rfy_arena_new();
    rfy_system *system = RFY_NEW(arena, 1, rfy_system);
    rfy_description *description = NULL;
    *out = NULL;
    system->arena = arena;
    system->catalog = catalog ? catalog : rfy_catalog_new(arena);
    rfy_catalog_tell(system->catalog, problems);
    if (!system->catalog->trouble &&
        rfy_read_description(arena, system->catalog, text, length, settings, n_settings, problems,
                             &description)) {
        system->description = description;
        system->network = rfy_network_new(arena, system->catalog, description, problems);
    }
    if (!system->network || rfy_problems_errors(problems) > 0) {
        rfy_arena_free(arena);
        return RFY_BAD_INPUT;
    }
    system->file = rfy_arena_strdup(arena, problems->file);
    system->text = rfy_arena_strndup(arena, text, length);
    system->length = length;
    rfy_setting *kept = RFY_NEW(arena, n_settings, rfy_setting);
    for (size_t i = 0; i < n_settings; i++)
        kept[i] = (rfy_setting){rfy_arena_strdup(arena, settings[i].path),
                                rfy_arena_strdup(arena, settings[i].value)};
    system->setting = kept;
    system->n_settings = n_settings;
    *out = system;
    return RFY_OK;
}
