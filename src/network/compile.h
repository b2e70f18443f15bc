/* Shared by the files that compile programs; nobody else needs it. */
#ifndef RFY_NETWORK_COMPILE_H
#define RFY_NETWORK_COMPILE_H

#include "network/program.h"

/* Each adds one operation to the program; the first two give its number. */
int rfy_op_add(rfy_compiler *c, rfy_op op);
int rfy_op_wait(rfy_compiler *c, rfy_condition *when, const char *text);
/* text NULL: a part of a larger action, not told on its own. */
void rfy_op_act(rfy_compiler *c, rfy_verb verb, int index, double value, const char *text);

/* compile_heat.c: "heat" until the place is there. */
void rfy_compile_heating(rfy_compiler *c, const rfy_order *order);

/* Actions as they are written, one after the other; two that contradict each other are refused. */
void rfy_compile_orders(rfy_compiler *c, const rfy_texts *list);

#endif
