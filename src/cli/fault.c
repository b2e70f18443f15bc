#include "fault.h"

rfy_status cli_read_fault(const cli_call *call, const rfy_system *system, rfy_fault **fault) {
    const char *text = cli_value(call, "fault");
    *fault = NULL;
    if (!text)
        return RFY_OK;
    rfy_problems *problems = rfy_problems_new(call->operand[0]);
    rfy_status status = rfy_fault_read(fault, system, text, problems);
    for (size_t i = 0; i < rfy_problems_kept(problems); i++) {
        const rfy_problem *p = rfy_problems_at(problems, i);
        cli_complain("--fault: %s%s%s%s%s", p->what, p->allowed ? "; allowed: " : "",
                     p->allowed ? p->allowed : "", p->hint ? "; " : "", p->hint ? p->hint : "");
    }
    rfy_problems_free(problems);
    return status;
}
