#define _XOPEN_SOURCE 700
#include "support/patience.h"
#include <signal.h>
#include <stddef.h>
#include <sys/time.h>

volatile int test_out_of_time;

static void on_alarm(int number) {
    (void)number;
    test_out_of_time = 1;
}

void test_allow(int seconds) {
    struct itimerval timer = {.it_value = {.tv_sec = seconds}};
    signal(SIGVTALRM, on_alarm);
    test_out_of_time = 0;
    setitimer(ITIMER_VIRTUAL, &timer, NULL);
}
