/* Runs a command several times and prints its best wall time, the processor time of that run (s)
 * and the peak memory of all (kB): the whole process, from exec to exit.
 *
 * usage: measure REPEATS COMMAND [ARGUMENT ...]     Ends with the command's status when it fails.
 */
#define _DEFAULT_SOURCE
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static double seconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static double of(struct timeval t) {
    return (double)t.tv_sec + 1e-6 * (double)t.tv_usec;
}

int main(int argc, char **argv) {
    int repeats = argc > 2 ? atoi(argv[1]) : 0;
    if (repeats < 1) {
        fputs("usage: measure REPEATS COMMAND [ARGUMENT ...]\n", stderr);
        return 2;
    }
    double wall = 0, processor = 0;
    long memory = 0;
    for (int i = 0; i < repeats; i++) {
        double start = seconds();
        pid_t child = fork();
        if (child == 0) {
            int null = open("/dev/null", O_WRONLY);
            if (null >= 0)
                dup2(null, STDOUT_FILENO);
            execvp(argv[2], argv + 2);
            perror(argv[2]);
            _exit(126);
        }
        int status;
        struct rusage used;
        if (child < 0 || wait4(child, &status, 0, &used) < 0) {
            perror("measure");
            return 1;
        }
        double now = seconds() - start;
        if (!WIFEXITED(status) || WEXITSTATUS(status) != 0)
            return WIFEXITED(status) ? WEXITSTATUS(status) : 1;
        if (i == 0 || now < wall) {
            wall = now;
            processor = of(used.ru_utime) + of(used.ru_stime);
        }
        if (used.ru_maxrss > memory)
            memory = used.ru_maxrss;
    }
    printf("%.6f %.6f %ld\n", wall, processor, memory);
    return 0;
}
