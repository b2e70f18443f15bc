#include <string.h>
#include "common.h"

static rfy_status run_list(const cli_call *call) {
    const char *const *topics = rfy_list_topics();
    const char *topic = call->operand[0];
    size_t n = 0, at = 0;
    while (topics[n])
        n++;
    while (at < n && strcmp(topics[at], topic) != 0)
        at++;
    if (at == n) {
        const char *near = cli_nearest(topic, topics, n);
        char all[256] = "";
        for (size_t i = 0; i < n; i++)
            snprintf(all + strlen(all), sizeof all - strlen(all), "%s%s", i ? ", " : "", topics[i]);
        return cli_misuse(call->command, "there is no list of \"%s\"; there are %s%s%s%s", topic,
                          all, near ? "; did you mean " : "", near ? near : "", near ? "?" : "");
    }
    cli_output output;
    rfy_status status = cli_output_open(&output, cli_value(call, "output"));
    if (status == RFY_OK)
        status =
            cli_output_close(&output, rfy_write_list(output.stream, topic, cli_has(call, "json")));
    return status;
}

static const cli_option options[] = {CLI_OPTION_JSON, CLI_OPTION_OUTPUT, {0}};

const cli_command cli_list = {
    "list",
    "TOPIC",
    1,
    1,
    "what is built in: gases, materials, bores, units, pieces, pumps or actions",
    "Shows a built-in table with the source of every value and how sure it is. TOPIC is gases, "
    "materials, bores, units, pieces, pumps or actions.",
    options,
    "  rarefy list materials",
    run_list};
