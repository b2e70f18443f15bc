/* How long until a chamber is at a pressure: the library in a program of its own.
 *   cc time_to_pressure.c $(pkg-config --cflags --libs rarefy) -o time_to_pressure
 *   ./time_to_pressure photocell-bulb.json "bake-out may start" */
#include <gsl/gsl_errno.h>
#include <rarefy/rarefy.h>
#include <stdlib.h>
#include <string.h>

int main(int argc, char **argv) {
    static char text[1 << 20];
    FILE *file = argc == 3 ? fopen(argv[1], "rb") : NULL;
    if (!file) {
        fprintf(stderr, "use: time_to_pressure FILE \"NAME OF A TARGET\"\n");
        return RFY_USAGE;
    }
    size_t length = fread(text, 1, sizeof text, file);
    fclose(file);
    gsl_set_error_handler_off(); /* the library leaves handlers to its host */

    rfy_problems *problems = rfy_problems_new(argv[1]);
    rfy_system *system = NULL;
    rfy_status status = rfy_system_read(&system, text, length, NULL, 0, problems);
    rfy_write_problems(stderr, problems);
    if (status == RFY_OK) {
        rfy_run_options options = RFY_RUN_OPTIONS_INIT;
        rfy_result *result = NULL;
        status = rfy_run(&result, system, &options);
        for (size_t i = 0; i < result->n_targets; i++) {
            const rfy_target_result *t = &result->target[i];
            if (strcmp(t->name, argv[2]) == 0 && t->reached)
                printf("%s falls below %g Pa after %.0f s\n", t->chamber, t->pressure, t->time);
        }
        rfy_result_free(result);
    }
    rfy_system_free(system);
    rfy_problems_free(problems);
    return (int)status;
}
