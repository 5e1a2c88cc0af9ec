/*
 * Hush: keeps what sound libraries print on standard error off the terminal, and nothing else.
 *
 *   how     standard error leads into a file while the library is at work; afterwards every line
 *           in it that is not known chatter is passed on. What other threads print meanwhile is
 *           late by that time, not lost
 *   thread  one hush at a time in a program
 */
#ifndef ES_DEVICE_HUSH_H
#define ES_DEVICE_HUSH_H

#include <stdio.h>

typedef struct es_hush {
    int kept; /* where standard error led to; -1: nothing was changed */
    FILE *into;
} es_hush;

void es_hush_begin(es_hush *hush);
void es_hush_end(es_hush *hush);

/* 1: a line that a sound library prints about itself. */
int es_hush_is_chatter(const char *line);

#endif
