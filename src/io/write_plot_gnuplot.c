/* A script for gnuplot 5 that holds its own data, for those who want their own figure. */
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "io/chart.h"

/* Within double quotes; what would be taken for markup of the enhanced mode is not, since that is
 * off. */
static void put_text(FILE *out, const char *text) {
    putc('"', out);
    for (const char *c = text; *c; c++) {
        if (*c == '"' || *c == '\\' || *c == '`')
            fprintf(out, "\\%03o", (unsigned)(unsigned char)*c);
        else
            putc((unsigned char)*c < 0x20 || *c == 0x7F ? ' ' : *c, out);
    }
    putc('"', out);
}

static void put_number(FILE *out, double value) {
    char number[32];
    fputs(isfinite(value) ? rfy_write_number(number, value) : "NaN", out);
}

rfy_status rfy_write_plot_gnuplot(FILE *out, const rfy_result *result,
                                  const rfy_plot_options *options) {
    rfy_arena *arena = rfy_arena_new();
    rfy_chart chart;
    char number[32];
    rfy_status status = rfy_chart_new(arena, result, options, &chart);
    if (status != RFY_OK) {
        rfy_arena_free(arena);
        return status;
    }
    fputs("# Made by rarefy plot --gnuplot. Use: gnuplot FILE > curve.svg\n", out);
    for (size_t k = 0; k < chart.n_curves; k++) {
        const rfy_chart_curve *c = &chart.curve[k];
        fprintf(out, "$curve%zu << EOD\n", k);
        for (size_t i = 0; i < c->n; i++) {
            put_number(out, c->x[i]);
            putc(' ', out);
            put_number(out, c->y[i]);
            putc('\n', out);
        }
        fputs("EOD\n", out);
    }
    fputs("set terminal svg size 960,600 noenhanced\nset key outside right noenhanced\nset grid\n"
          "set logscale y\n",
          out);
    if (chart.x.log)
        fputs("set logscale x\n", out);
    fprintf(out, "set xrange [%s:", rfy_write_number(number, chart.x.low));
    fprintf(out, "%s]\n", rfy_write_number(number, chart.x.high));
    fprintf(out, "set yrange [%s:", rfy_write_number(number, chart.y.low));
    fprintf(out, "%s]\n", rfy_write_number(number, chart.y.high));
    fputs("set format y \"%.0e\"\nset title ", out);
    put_text(out, chart.title ? chart.title : "");
    fputs(" noenhanced\nset xlabel \"time, s\"\nset ylabel ", out);
    char label[64];
    snprintf(label, sizeof label, "pressure, %s", chart.page.unit);
    put_text(out, label);
    fputs(" noenhanced\n", out);
    for (size_t i = 0; i < chart.n_marks; i++) {
        if (chart.x.log && !(chart.mark[i].time > 0))
            continue;
        fprintf(out, "set arrow from %s, graph 0 ", rfy_write_number(number, chart.mark[i].time));
        fprintf(out, "to %s, graph 1 nohead dt 3 lc rgb \"#999999\" # ",
                rfy_write_number(number, chart.mark[i].time));
        for (const char *c = chart.mark[i].what; *c; c++)
            putc((unsigned char)*c < 0x20 ? ' ' : *c, out);
        putc('\n', out);
    }
    fputs("plot \\\n", out);
    for (size_t k = 0; k < chart.n_curves; k++) {
        fprintf(out, "    $curve%zu using 1:2 with %s title ", k,
                chart.curve[k].measured ? "points pt 6 ps 0.4" : "lines lw 2");
        put_text(out, chart.curve[k].name);
        fputs(k + 1 < chart.n_curves || chart.n_levels ? ", \\\n" : "\n", out);
    }
    for (size_t i = 0; i < chart.n_levels; i++) {
        fprintf(out, "    %s with lines dt %d title ",
                rfy_write_number(number, chart.level[i].value),
                chart.level[i].kind == RFY_LEVEL_TARGET ? 2 : 4);
        put_text(out, chart.level[i].name);
        fputs(i + 1 < chart.n_levels ? ", \\\n" : "\n", out);
    }
    rfy_arena_free(arena);
    return ferror(out) || fflush(out) != 0 ? RFY_IO_FAILED : RFY_OK;
}
