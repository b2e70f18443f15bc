#include "fault.h"
#include "common.h"

rfy_status cli_read_fault(const cli_call *call, const rfy_system *system, rfy_fault **fault) {
    const char *text = cli_value(call, "fault");
    *fault = NULL;
    if (!text)
        return RFY_OK;
    rfy_problems *problems = rfy_problems_new(call->operand[0]);
    rfy_status status = rfy_fault_read(fault, system, text, problems);
    cli_tell_problems("--fault", problems);
    rfy_problems_free(problems);
    return status;
}
