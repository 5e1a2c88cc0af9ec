/* Inside of the clock watch, for its files and tests. Private to the floor. */
#ifndef ES_LIVE_CLOCK_WATCH_INSIDE_H
#define ES_LIVE_CLOCK_WATCH_INSIDE_H

#include "device/device.h"
#include "live/clock_watch.h"

/* What it stands on: a sound system, time, and the state of the clock. */
typedef struct es_clock_ground {
    es_sound *sound;
    void *who;
    double (*now_s)(void *who);
    void (*wait)(void *who, double seconds);
    /* The first call begins, the second ends; then *out is filled in. */
    void (*reference)(void *who, es_clock_reference *out);
} es_clock_ground;

es_status es_clock_watch_on(const es_clock_ground *ground, const es_clock_wish *wish,
                            es_clock_result *out, es_error *error);

/* --- the computer's clock (system_clock.c) ---------------------------------------------------- */

typedef struct es_system_clock {
    int begun;
    double steady_s, raw_s; /* both clocks at one moment */
} es_system_clock;

/* who: es_system_clock *, zeroed before the first call. */
void es_system_clock_look(void *who, es_clock_reference *out);
double es_system_clock_now_s(void *who);

/* --- words (clock_words.c) -------------------------------------------------------------------- */

/* Fills in clock_ppm and the notes from all else. */
void es_clock_say(es_clock_result *result);

#endif
