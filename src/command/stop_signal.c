#include "command/stop_signal.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stddef.h>
#include <unistd.h>

/* A signal has nowhere else to leave word. */
static volatile sig_atomic_t asked;
static void (*before_end)(void);
static int bell[2] = {-1, -1}; /* a pipe: any thread may be the one that is interrupted */

static void on_stop(int number)
{
    int kept = errno;
    if (asked) {
        if (before_end)
            before_end();
        _exit(128 + number);
    }
    asked = 1;
    ssize_t rung = write(bell[1], "", 1);
    (void)rung;
    errno = kept;
}

void es_stop_watch(void (*at_once)(void))
{
    static const int stops[] = {SIGINT, SIGTERM, SIGHUP};
    struct sigaction act = {.sa_handler = on_stop};
    sigemptyset(&act.sa_mask);
    before_end = at_once;
    if (bell[0] < 0 && pipe2(bell, O_CLOEXEC) != 0)
        bell[0] = bell[1] = -1;
    for (size_t i = 0; i < sizeof stops / sizeof *stops; i++)
        sigaction(stops[i], &act, NULL);
    signal(SIGPIPE, SIG_IGN);
}

int es_stop_asked(void)
{
    return asked != 0;
}

void es_stop_wait(void)
{
    struct pollfd from = {.fd = bell[0], .events = POLLIN}; /* without a pipe: looks now and then */
    while (!asked)
        poll(&from, 1, 200);
}
