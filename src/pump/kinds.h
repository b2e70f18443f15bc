/* The pump kinds; only pump.c and the kinds themselves need this. */
#ifndef RFY_PUMP_KINDS_H
#define RFY_PUMP_KINDS_H

#include "pump/pump.h"

extern const rfy_record rfy_displacement_record; /* rotary vane, diaphragm, scroll, piston */
extern const rfy_pump_kind rfy_rotary_vane, rfy_diaphragm, rfy_scroll, rfy_piston;
extern const rfy_record rfy_kinetic_record; /* turbomolecular, diffusion */
extern const rfy_pump_kind rfy_turbomolecular, rfy_diffusion;
extern const rfy_record rfy_ideal_record;
extern const rfy_pump_kind rfy_ideal;

/* Value for one gas of a by-gas table: its own, else the common one, else NaN. */
double rfy_by_gas_value(const rfy_by_gas *table, int species);

/* "turbo: run-up time 120 s" and the like to the list of what was assumed. */
void rfy_pump_assume(const rfy_pump_site *site, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 2, 3)))
#endif
    ;

#endif
