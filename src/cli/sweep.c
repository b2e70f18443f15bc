/* Sweeps: lines go straight to their file, so that a sweep that was ended can be taken up again. */
#define _POSIX_C_SOURCE 200809L
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>
#include "busy.h"
#include "common.h"

typedef struct target {
    FILE *stream;
    const char *name;
    bool resumes; /* lines that are there are being compared */
    off_t kept;   /* bytes of whole lines that belong to the sweep */
    size_t n_kept, n_new, n_bad;
    char *line; /* last one read */
    size_t room;
    bool progress, lines; /* told at all; as lines of their own */
    struct timespec told;
} target;

/* ---- the file that grows ---- */

static rfy_status cannot(const char *name, const char *what) {
    cli_complain("%s: cannot be %s: %s", name, what, strerror(errno));
    return RFY_IO_FAILED;
}

static rfy_status open_target(const cli_call *call, target *t) {
    t->name = cli_value(call, "output");
    t->stream = stdout;
    if (!t->name || strcmp(t->name, "-") == 0) {
        t->name = "standard output";
        return cli_has(call, "resume")
                   ? cli_misuse(call->command, "--resume needs the file to go on with: -o FILE")
                   : RFY_OK;
    }
    t->resumes = cli_has(call, "resume");
    t->stream = fopen(t->name, t->resumes ? "rb+" : "wb");
    if (!t->stream && t->resumes && errno == ENOENT) {
        t->resumes = false;
        t->stream = fopen(t->name, "wb");
    }
    return t->stream ? RFY_OK : cannot(t->name, "written");
}

/* The lines that are kept end here: what follows, part of a line, is cut off. */
static bool end_of_kept(target *t) {
    t->resumes = false;
    return fflush(t->stream) == 0 && ftruncate(fileno(t->stream), t->kept) == 0 &&
           fseeko(t->stream, t->kept, SEEK_SET) == 0;
}

static int have(void *context, const char *head) {
    target *t = context;
    if (!t->resumes)
        return 0;
    ssize_t n = getline(&t->line, &t->room, t->stream);
    size_t length = strlen(head);
    if (n <= 0 || t->line[n - 1] != '\n')
        return end_of_kept(t) ? 0 : -1;
    if ((size_t)n < length || strncmp(t->line, head, length) != 0 || t->line[length] != ',') {
        cli_complain("%s: line %zu belongs to another sweep (another description, other values or "
                     "options); give another file, or leave out --resume to begin anew",
                     t->name, t->n_kept + 1);
        return -1;
    }
    t->kept += n;
    t->n_kept++;
    t->n_bad += !strstr(t->line, "\"status\": \"done\"");
    return 1;
}

static bool take(void *context, const char *line, size_t length) {
    target *t = context;
    t->n_new++;
    t->n_bad += !strstr(line, "\"status\": \"done\"");
    return fwrite(line, 1, length, t->stream) == length && fflush(t->stream) == 0;
}

static void show_progress(void *context, size_t done, size_t all) {
    target *t = context;
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    double since =
        (double)(now.tv_sec - t->told.tv_sec) + 1e-9 * (double)(now.tv_nsec - t->told.tv_nsec);
    if (since < (t->lines ? 10 : 0.15) && done != all)
        return;
    t->told = now;
    fprintf(stderr, t->lines ? "%zu" : "\r%zu", done);
    if (all)
        fprintf(stderr, " of %zu", all);
    fputs(t->lines ? " points\n" : " points ", stderr);
}

/* ---- descriptions, one a line ---- */

typedef struct source {
    FILE *file;
    char *line;
    size_t room, at, from, to; /* lines from `from` below `to` are wanted */
} source;

static char *next_description(void *context, size_t *length) {
    source *s = context;
    for (;;) {
        ssize_t n = s->at < s->to ? getline(&s->line, &s->room, s->file) : -1;
        if (n <= 0)
            return NULL;
        if (strspn(s->line, " \t\r\n") == (size_t)n || s->at++ < s->from)
            continue;
        *length = (size_t)n - (s->line[n - 1] == '\n');
        char *copy = malloc((size_t)n + 1);
        if (copy)
            memcpy(copy, s->line, (size_t)n + 1);
        return copy;
    }
}

static rfy_status open_source(const cli_call *call, const rfy_sweep_options *o, source *s) {
    const char *path = call->operand[0];
    *s = (source){.file = stdin, .to = (size_t)-1};
    if (strcmp(path, "-") != 0)
        s->file = fopen(path, "rb");
    if (!s->file)
        return cannot(path, "opened");
    if (o->shards == 0)
        return RFY_OK;
    if (strcmp(path, "-") == 0)
        return cli_misuse(call->command, "a part of standard input cannot be chosen, for nobody "
                                         "knows how long it is; give --shard a file");
    size_t n = 0, length;
    for (char *line; (line = next_description(s, &length)); n++)
        free(line);
    size_t share = n / o->shards, more = n % o->shards, part = o->shard - 1;
    rewind(s->file);
    s->at = 0;
    s->from = share * part + (part < more ? part : more);
    s->to = s->from + share + (part < more);
    return RFY_OK;
}

static void close_source(source *s) {
    if (s->file && s->file != stdin)
        fclose(s->file);
    free(s->line);
}

/* ---- options ---- */

static rfy_status read_shard(const cli_call *call, rfy_sweep_options *o) {
    const char *text = cli_value(call, "shard");
    char *slash = NULL, *end = NULL;
    if (!text)
        return RFY_OK;
    unsigned long long k = strtoull(text, &slash, 10), n = 0;
    if (slash != text && *slash == '/')
        n = strtoull(slash + 1, &end, 10);
    if (!end || end == slash + 1 || *end || strchr(text, '-') || k < 1 || k > n || n > 1000000)
        return cli_misuse(call->command, "--shard \"%s\": a part and of how many, such as 3/100",
                          text);
    o->shard = (size_t)k;
    o->shards = (size_t)n;
    return RFY_OK;
}

static rfy_status read_options(const cli_call *call, const char **over, rfy_sweep_options *o) {
    *o = (rfy_sweep_options)RFY_SWEEP_OPTIONS_INIT;
    for (size_t i = 0; i < call->n_given; i++)
        if (strcmp(call->given[i].option->name, "over") == 0)
            over[o->n_over++] = call->given[i].value;
    o->over = over;
    o->spreads = cli_has(call, "spreads");
    o->ultimate = cli_has(call, "ultimate");
    o->stop = &cli_stop;
    size_t jobs = 0;
    rfy_status status = cli_read_count(call, "jobs", 64, &jobs);
    o->jobs = (int)jobs;
    if (status == RFY_OK)
        status = cli_read_count(call, "samples", 100000000, &o->samples);
    if (status == RFY_OK)
        status = read_shard(call, o);
    if (status == RFY_OK)
        status = cli_read_tolerance(call, &o->tolerance);
    if (status == RFY_OK && cli_has(call, "lines") && (o->n_over || o->samples || o->spreads))
        status = cli_misuse(call->command, "--lines brings its own points: without --over, "
                                           "--samples and --spreads");
    return status;
}

/* What is said at the end; the exit code. */
static rfy_status finish(target *t, rfy_status status) {
    if (t->progress && !t->lines)
        fputs("\r                              \r", stderr);
    if (status == RFY_OK && t->resumes) { /* all there already: and nothing more? */
        if (getline(&t->line, &t->room, t->stream) > 0) {
            cli_complain("%s: holds more lines than this sweep has", t->name);
            status = RFY_USAGE;
        }
    }
    const bool unread = t->stream && cli_reader_left(t->stream);
    errno = 0;
    if (t->stream && (fflush(t->stream) != 0 || ferror(t->stream)) && status != RFY_USAGE)
        status = RFY_IO_FAILED;
    int why = errno;
    if (status == RFY_IO_FAILED && !why && !unread && t->stream && ferror(t->stream))
        why = cli_why_not(t->stream);
    if (t->stream && t->stream != stdout && fclose(t->stream) != 0 && status != RFY_IO_FAILED) {
        status = RFY_IO_FAILED;
        why = errno;
    }
    if (status == RFY_IO_FAILED && !unread)
        cli_complain("%s: cannot be written%s%s", t->name, why ? ": " : "",
                     why ? strerror(why) : "");
    if (status == RFY_INTERRUPTED)
        cli_complain("interrupted after %zu points%s", t->n_kept + t->n_new,
                     t->stream != stdout ? "; --resume goes on from there" : "");
    if (t->n_bad > 0)
        cli_complain("%zu of %zu points came to no result; their lines say why", t->n_bad,
                     t->n_kept + t->n_new);
    free(t->line);
    return status;
}

static rfy_status run_sweep(const cli_call *call) {
    const char **over = calloc(call->n_given + 1, sizeof *over);
    rfy_sweep_options o;
    rfy_system *system = NULL;
    cli_settings settings = {0};
    source from = {0};
    target t = {0};
    bool lines = cli_has(call, "lines");
    rfy_status status = over ? read_options(call, over, &o) : RFY_RUN_FAILED;
    if (status == RFY_OK)
        status =
            lines ? cli_settings_read(call, &settings) : cli_read_system(call, 0, &system, NULL);
    if (status == RFY_OK && lines)
        status = open_source(call, &o, &from);
    cli_watch_interrupt();
    cli_busy_end(); /* it tells its own progress, and writes as it goes */
    if (status == RFY_OK)
        status = open_target(call, &t);
    if (status == RFY_OK) {
        t.lines = cli_has(call, "progress");
        t.progress = t.lines || isatty(STDERR_FILENO) == 1;
        clock_gettime(CLOCK_MONOTONIC, &t.told);
        o.have = have;
        o.take = take;
        o.progress = t.progress ? show_progress : NULL;
        o.context = &t;
        if (lines) {
            o.first = from.from;
            status = rfy_sweep_lines(next_description, &from, settings.setting, settings.n, &o);
        } else {
            rfy_problems *problems = rfy_problems_new(call->operand[0]);
            status = rfy_sweep(system, &o, problems);
            cli_tell_problems(NULL, problems);
            rfy_problems_free(problems);
        }
        status = finish(&t, status);
    }
    close_source(&from);
    cli_settings_free(&settings);
    rfy_system_free(system);
    free(over);
    return status;
}

static const cli_option options[] = {
    {"over", 0, "PATH=VALUES", true,
     "What to change: a path as in --set, and values: \"5 mm,6 mm,8 mm\"; even(5 mm, 8 mm, 4); "
     "log(1e-9 mbar L/s, 1e-6 mbar L/s, 7). Several make a grid, the last one going fastest. Or "
     "sampled: between(a, b), logbetween(a, b), normal(mean, deviation), spread(median, factor), "
     "or the word spread for the factor that the description states there."},
    {"samples", 0, "NUMBER", false,
     "How many samples at each point of the grid (a Sobol sequence, the same every time)."},
    {"spreads", 0, NULL, false,
     "Sample everything that has a stated spread: values with a factor, and what walls and seals "
     "give off, by material."},
    {"ultimate", 0, NULL, false,
     "Go on to the end of the run and tell the steady pressures there too."},
    {"lines", 0, NULL, false,
     "FILE (or standard input) holds descriptions, one on each line; no --over then."},
    {"jobs", 'j', "NUMBER", false,
     "Threads to compute with, from 1 to 64; without it, one for each core. The lines and their "
     "order are the same."},
    {"shard", 0, "K/N", false, "Only part K of N; the parts one behind the other are the whole."},
    {"resume", 0, NULL, false,
     "Go on where the file of -o ends; its lines are checked to be of the same sweep, half a line "
     "at its end is cut off."},
    {"progress", 0, NULL, false,
     "Say how far it is every ten seconds, where standard error is no terminal."},
    CLI_OPTION_SET,
    CLI_OPTION_TOLERANCE,
    {"output", 'o', "FILE", false, "Write the lines to FILE, each as soon as it is due."},
    {0}};

const cli_command cli_sweep = {
    "sweep",
    "FILE",
    1,
    1,
    "many runs over a grid or a sample of values, one line of JSON each",
    "Runs FILE to its last target for every combination of values; limits are not watched. One "
    "JSON object a line, in order, whatever the number of threads; a point that cannot be is told "
    "in its place. A sweep can be cut into parts for many machines and taken up again after an "
    "end.",
    options,
    "  rarefy sweep examples/photocell-bulb.json --over \"stem/0/bore=even(4 mm, 10 mm, 7)\" \\\n"
    "      --over \"port/leaks/0/rate=log(1e-9 mbar L/s, 1e-6 mbar L/s, 4)\" -o lines.jsonl\n"
    "  rarefy sweep bench.json --spreads --samples 1024 --shard 3/100 -o part3.jsonl --resume\n"
    "  make-descriptions | rarefy sweep --lines - -j 2",
    run_sweep};
