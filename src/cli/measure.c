#include "measure.h"
#include "files.h"

rfy_status cli_read_measured(const cli_call *call, rfy_log **log) {
    const char *path = cli_value(call, "measured");
    *log = NULL;
    if (!path)
        return RFY_OK;
    FILE *in = fopen(path, "rb");
    if (!in) {
        cli_complain("%s: cannot be read", path);
        return RFY_IO_FAILED;
    }
    rfy_log_options options = RFY_LOG_OPTIONS_INIT;
    options.stop = &cli_stop;
    rfy_problems *problems = rfy_problems_new(path);
    rfy_status status = rfy_log_read(log, in, path, &options, problems);
    if (rfy_problems_kept(problems) > 0)
        rfy_write_problems(stderr, problems);
    rfy_problems_free(problems);
    fclose(in);
    return status;
}
