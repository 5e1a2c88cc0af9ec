/*
 * The computer's sound inputs and outputs, as lists for people and programs, with what the inputs
 * hear at the moment.
 *
 *   busy    while a session of this program holds the sound system (live/desk.h) the lists are those
 *           from when it was taken, and nothing is listened to
 *   thread  any; takes as long as it listens
 */
#ifndef ES_LIVE_INPUTS_H
#define ES_LIVE_INPUTS_H

#include "evenspool/base/error.h"

#include <stddef.h>

#define ES_INPUTS_MOST 64
#define ES_INPUT_CHANNELS_MOST 8

typedef struct es_live_place {
    char name[128];
    char system[32];
    int channels;          /* a sound server may tell 32 whatever there is   */
    double listed_rate_hz; /* as listed; it may run at another               */
    int preferred;         /* what is taken when no name is given            */

    int heard;      /* 1: it was listened to, and what follows is known */
    double rate_hz; /* that it was opened at                          */
    int heard_channels;
    double peak_fs[ES_INPUT_CHANNELS_MOST]; /* NaN: nothing came             */
    double rms_fs[ES_INPUT_CHANNELS_MOST];
    es_error trouble; /* why it could not be listened to; status ES_OK: none */
} es_live_place;

typedef struct es_live_places {
    size_t input_count, output_count;
    es_live_place inputs[ES_INPUTS_MOST], outputs[ES_INPUTS_MOST];
} es_live_places;

/*
 * only: name of a single input, or the part of one; NULL: all of them, none at all being no error.
 * listen_s: how long to listen to each, 0.05 .. 10; 0: not at all.
 * ES_ERR_DEVICE: no sound system; only: as es_sound_find(). ES_ERR_NOMEM.
 */
es_status es_inputs_look(const char *only, double listen_s, es_live_places *out, es_error *error);

/* Of a level, in words: "nothing", "quiet", "good", "loud", "clipped". */
const char *es_inputs_level_word(double peak_fs);

#endif
