#define _XOPEN_SOURCE   700
#define _DEFAULT_SOURCE /* struct winsize */
#include <errno.h>
#include <limits.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <unistd.h>
#include "files.h"
#include "busy.h"
#include "options.h"

/* ---- reading ---- */

static rfy_status read_stream(FILE *file, const char *name, char **text, size_t *length) {
    size_t room = 1 << 16, n = 0;
    char *block = malloc(room);
    while (block) {
        n += fread(block + n, 1, room - 1 - n, file);
        if (n < room - 1 || n > CLI_LARGEST_FILE)
            break;
        char *larger = realloc(block, room * 2);
        if (!larger) {
            free(block);
            block = NULL;
            break;
        }
        block = larger;
        room *= 2;
    }
    if (!block) {
        cli_complain("%s: out of memory", name);
        return RFY_IO_FAILED;
    }
    if (ferror(file)) {
        cli_complain("%s: cannot be read: %s", name, strerror(errno));
        free(block);
        return RFY_IO_FAILED;
    }
    if (n > CLI_LARGEST_FILE) {
        cli_complain("%s: larger than %zu MB; that is no description", name,
                     CLI_LARGEST_FILE >> 20);
        free(block);
        return RFY_IO_FAILED;
    }
    block[n] = '\0';
    *text = block;
    *length = n;
    return RFY_OK;
}

rfy_status cli_read_file(const char *path, char **text, size_t *length) {
    *text = NULL;
    *length = 0;
    if (strcmp(path, "-") == 0)
        return read_stream(stdin, "standard input", text, length);
    FILE *file = fopen(path, "rb");
    if (!file) {
        cli_complain("%s: cannot be opened: %s", path, strerror(errno));
        return RFY_IO_FAILED;
    }
    struct stat about;
    if (fstat(fileno(file), &about) == 0 && S_ISDIR(about.st_mode)) {
        cli_complain("%s: is a directory", path);
        fclose(file);
        return RFY_IO_FAILED;
    }
    rfy_status status = read_stream(file, path, text, length);
    fclose(file);
    return status;
}

/* ---- signals ---- */

volatile int cli_stop = 0;
static char draft_path[PATH_MAX]; /* removed when the program is ended by a signal; "" = none */

static void on_signal(int number) {
    if (number == SIGINT && !cli_stop) {
        cli_stop = 1;
        return;
    }
    if (draft_path[0])
        unlink(draft_path);
    signal(number, SIG_DFL);
    raise(number);
}

/* A signal already ignored by whoever started the program (nohup) stays ignored. */
static void watch(int number) {
    struct sigaction action = {.sa_handler = on_signal, .sa_flags = SA_RESTART}, old;
    sigemptyset(&action.sa_mask);
    if (sigaction(number, NULL, &old) == 0 && old.sa_handler != SIG_IGN)
        sigaction(number, &action, NULL);
}

void cli_watch_signals(void) {
    watch(SIGTERM);
    watch(SIGHUP);
    signal(SIGPIPE, SIG_IGN);
}

void cli_watch_interrupt(void) {
    watch(SIGINT);
    cli_busy_begin();
}

/* ---- writing ---- */

static rfy_status cannot(const char *name, const char *what) {
    cli_complain("%s: cannot be %s: %s", name, what, strerror(errno));
    return RFY_IO_FAILED;
}

/* A new file beside `target`, so that the rename stays within one file system. */
static rfy_status open_draft(cli_output *output, mode_t mode) {
    size_t size = strlen(output->target) + 16;
    output->draft = malloc(size);
    if (!output->draft || size > sizeof draft_path) {
        errno = output->draft ? ENAMETOOLONG : ENOMEM;
        return cannot(output->name, "written");
    }
    const char *slash = strrchr(output->target, '/');
    int folder = slash ? (int)(slash - output->target + 1) : 0;
    snprintf(output->draft, size, "%.*s.%s.XXXXXX", folder, output->target,
             output->target + folder);
    int fd = mkstemp(output->draft);
    if (fd < 0) {
        free(output->draft);
        output->draft = NULL;
        return cannot(output->name, "written");
    }
    memcpy(draft_path, output->draft, strlen(output->draft) + 1);
    if (fchmod(fd, mode) != 0 || !(output->stream = fdopen(fd, "wb"))) {
        rfy_status status = cannot(output->name, "written");
        close(fd);
        cli_output_abandon(output);
        return status;
    }
    return RFY_OK;
}

rfy_status cli_output_open(cli_output *output, const char *path) {
    *output = (cli_output){.stream = stdout, .name = "standard output"};
    if (!path || strcmp(path, "-") == 0)
        return RFY_OK;
    output->name = path;
    struct stat about;
    bool there = stat(path, &about) == 0;
    if (there && !S_ISREG(about.st_mode)) { /* a device or a pipe: nothing to put in place later */
        output->stream = fopen(path, "wb");
        return output->stream ? RFY_OK : cannot(path, "written");
    }
    if (there && access(path, W_OK) != 0)
        return cannot(path, "written");
    /* A symbolic link stays one: the file it leads to is replaced. */
    char *real = there ? realpath(path, NULL) : NULL;
    output->target = real ? real : strdup(path);
    if (!output->target)
        return cannot(path, "written");
    mode_t mask = umask(0);
    umask(mask);
    rfy_status status = open_draft(output, there ? about.st_mode & 07777 : 0666 & ~mask);
    if (status != RFY_OK) {
        output->stream = NULL;
        cli_output_abandon(output);
    }
    return status;
}

void cli_output_abandon(cli_output *output) {
    if (output->stream && output->stream != stdout)
        fclose(output->stream);
    if (output->draft)
        unlink(output->draft);
    draft_path[0] = '\0';
    free(output->draft);
    free(output->target);
    *output = (cli_output){0};
}

rfy_status cli_output_without_result(cli_output *output, rfy_status status) {
    cli_output_abandon(output);
    cli_complain("no result");
    return status == RFY_OK ? RFY_RUN_FAILED : status;
}

/* Whoever read the pipe has seen enough and left, as "| head" does: no one is there to complain to.
 */
bool cli_reader_left(FILE *stream) {
    struct pollfd pipe = {.fd = fileno(stream), .events = POLLOUT};
    return poll(&pipe, 1, 0) == 1 && (pipe.revents & POLLERR) && !(pipe.revents & POLLNVAL);
}

int cli_why_not(FILE *stream) {
    clearerr(stream);
    errno = 0;
    return fputc('\n', stream) == EOF || fflush(stream) != 0 ? errno : 0;
}

rfy_status cli_output_close(cli_output *output, rfy_status status) {
    cli_busy_end();
    errno = 0;
    bool bad = fflush(output->stream) != 0 || ferror(output->stream) || status == RFY_IO_FAILED;
    int why = errno;
    /* Quota and network file systems report a full disk only here. */
    if (!bad && output->draft && fsync(fileno(output->stream)) != 0 && errno != EINVAL) {
        bad = true;
        why = errno;
    }
    FILE *stream = output->stream;
    const bool unread = bad && cli_reader_left(stream);
    output->stream = NULL;
    if (bad && !why && !unread && ferror(stream))
        why = cli_why_not(stream);
    if (fclose(stream) != 0 && !bad) {
        bad = true;
        why = errno;
    }
    if (!bad && status == RFY_OK && output->draft && rename(output->draft, output->target) != 0) {
        bad = true;
        why = errno;
    }
    if (!bad && status == RFY_OK && output->draft) {
        free(output->draft);
        output->draft = NULL;
    }
    if (bad && !unread)
        cli_complain("%s: cannot be written%s%s", output->name, why ? ": " : "",
                     why ? strerror(why) : "");
    cli_output_abandon(output);
    return bad ? RFY_IO_FAILED : status;
}

rfy_write_options cli_write_options(FILE *stream, const char *pressure_unit) {
    cli_busy_end(); /* the text is about to be written */
    rfy_write_options options = RFY_WRITE_OPTIONS_INIT;
    options.pressure_unit = pressure_unit;
    const char *no_color = getenv("NO_COLOR"), *term = getenv("TERM"), *columns = getenv("COLUMNS");
    int fd = fileno(stream);
    bool terminal = isatty(fd) == 1;
    options.color = terminal && !(no_color && no_color[0]) && term && strcmp(term, "dumb") != 0;
    int width = columns ? atoi(columns) : 0;
    struct winsize size;
    if (width <= 0 && terminal && ioctl(fd, TIOCGWINSZ, &size) == 0)
        width = size.ws_col;
    if (width > 0)
        options.width = width < 60 ? 60 : width > 100 ? 100 : width;
    return options;
}
