/* A line on standard error that tells how far a long work is; silent unless it is a terminal. */
#ifndef ES_COMMAND_PROGRESS_H
#define ES_COMMAND_PROGRESS_H

#include <time.h>

typedef struct es_progress {
    const char *about;
    int wanted, shown;
    struct timespec begun, last;
} es_progress;

es_progress es_progress_of(const char *about);

/* who: es_progress *. Shows after a second, then five times a second. share NaN: not known. */
void es_progress_tell(void *who, double done_s, double share);

/* Takes the line away. */
void es_progress_end(es_progress *progress);

#endif
