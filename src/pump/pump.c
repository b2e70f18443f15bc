#include <math.h>
#include <stdarg.h>
#include "pump/kinds.h"

/* One line a kind. */
static const rfy_variant kinds[] = {
    {.name = "rotary vane",
     .help = "oil-sealed rotary vane pump",
     .record = &rfy_displacement_record,
     .kind = &rfy_rotary_vane},
    {.name = "diaphragm",
     .help = "dry diaphragm pump",
     .record = &rfy_displacement_record,
     .kind = &rfy_diaphragm},
    {.name = "scroll",
     .help = "dry scroll pump",
     .record = &rfy_displacement_record,
     .kind = &rfy_scroll},
    {.name = "piston",
     .help = "piston pump",
     .record = &rfy_displacement_record,
     .kind = &rfy_piston},
    {.name = "turbomolecular",
     .help = "turbomolecular pump, with or without a drag stage",
     .record = &rfy_kinetic_record,
     .kind = &rfy_turbomolecular},
    {.name = "diffusion",
     .help = "oil diffusion pump",
     .record = &rfy_kinetic_record,
     .kind = &rfy_diffusion},
    {.name = "ideal",
     .help = "one constant speed for every gas at every pressure",
     .record = &rfy_ideal_record,
     .kind = &rfy_ideal},
};

const rfy_variants rfy_pump_kinds = {kinds, sizeof kinds / sizeof *kinds};

double rfy_by_gas_value(const rfy_by_gas *table, int species) {
    return isnan(table->of[species]) ? table->all : table->of[species];
}

void rfy_pump_assume(const rfy_pump_site *site, const char *format, ...) {
    if (!site->assume)
        return;
    va_list args;
    va_start(args, format);
    const char *text = rfy_arena_vprintf(site->arena, format, args);
    va_end(args);
    site->assume(site->context, text);
}
