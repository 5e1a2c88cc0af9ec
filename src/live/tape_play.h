/*
 * Tape, played to an output in real time for a deck to record: the level tone until it is told to go on,
 * a count-down, then one side of a programme.
 *
 *   times   what is heard now: what waits to be played is taken off; the sound system's own delay
 *           (a fifth of a second) is not
 *   broken  a device that vanished, or a moment without sound, spoils the side: it ends there, and has
 *           to be recorded again from the start
 *   thread  one at a time
 */
#ifndef ES_LIVE_TAPE_PLAY_H
#define ES_LIVE_TAPE_PLAY_H

#include "evenspool/base/error.h"
#include "evenspool/base/programme.h"

#define ES_TAPE_COUNT_S 5.0

typedef struct es_tape_play es_tape_play;

typedef struct es_tape_play_config {
    char output[128]; /* name; "": the preferred one                                    */
    size_t side;
    double rate_hz; /* 0: 48000, else what it can                                      */
    double reference_dbfs;
} es_tape_play_config;

/* Side a, reference level -12 dBFS, the preferred output. */
es_tape_play_config es_tape_play_defaults(void);

typedef enum es_tape_act {
    ES_TAPE_LEVEL, /* the level tone                              */
    ES_TAPE_COUNT, /* silence                                     */
    ES_TAPE_SIDE,
    ES_TAPE_DONE,
    ES_TAPE_BROKEN
} es_tape_act;

typedef struct es_tape_play_now {
    es_tape_act act;
    double left_s;         /* of the count-down, or of the side; NaN: of neither             */
    double side_s;         /* of the side so far; 0 before it                                */
    size_t section;        /* of the side                                                    */
    double section_left_s; /* until the next one                                             */
    es_error trouble;      /* broken: why                                                    */
} es_tape_play_now;

/*
 * Begins with the level tone at once. ES_ERR_INPUT, ES_ERR_ARG: as es_programme_sound_create().
 * ES_ERR_DEVICE: as es_output_open() and es_desk_borrow(). ES_ERR_NOMEM. *out is NULL on error.
 */
es_status es_tape_play_open(const es_programme *programme, const es_tape_play_config *config,
                            es_tape_play **out, es_error *error);
/* Stops what is heard. NULL is fine. */
void es_tape_play_close(es_tape_play *play);

const char *es_tape_play_output(const es_tape_play *play); /* whole name */
double es_tape_play_rate(const es_tape_play *play);
double es_tape_play_level_hz(const es_tape_play *play); /* of the level tone */

/* Ends the level tone: the count-down begins. */
void es_tape_play_go(es_tape_play *play);

/* To be called ten times a second at least: writes what there is room for. */
es_tape_play_now es_tape_play_feed(es_tape_play *play);

#endif
