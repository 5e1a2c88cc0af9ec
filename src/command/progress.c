#include "command/progress.h"

#include "command/say.h"

#include <math.h>
#include <stdio.h>
#include <unistd.h>

#define PATIENCE_S 1.0
#define EVERY_S 0.2

static double since(const struct timespec *then, const struct timespec *now)
{
    return (double)(now->tv_sec - then->tv_sec) + 1e-9 * (double)(now->tv_nsec - then->tv_nsec);
}

es_progress es_progress_of(const char *about)
{
    es_progress p = {.about = about, .wanted = isatty(STDERR_FILENO)};
    if (p.wanted)
        clock_gettime(CLOCK_MONOTONIC, &p.begun);
    p.last = p.begun;
    return p;
}

void es_progress_tell(void *who, double done_s, double share)
{
    es_progress *p = who;
    struct timespec now;
    if (!p->wanted)
        return;
    clock_gettime(CLOCK_MONOTONIC, &now);
    if (since(&p->begun, &now) < PATIENCE_S || since(&p->last, &now) < EVERY_S)
        return;
    p->last = now;
    p->shown = 1;
    char shown[51];
    es_shown(p->about, shown, sizeof shown);
    if (isnan(share))
        fprintf(stderr, "\r%s: %.0f s\033[K", shown, done_s);
    else
        fprintf(stderr, "\r%s: %.0f s, %3.0f %%\033[K", shown, done_s, 100.0 * share);
    fflush(stderr);
}

void es_progress_end(es_progress *p)
{
    if (p->shown)
        fputs("\r\033[K", stderr);
    p->shown = 0;
}
