/*
 * Voice: what the ear is given, from the coach's snapshots to an output of the sound system.
 *
 *   how     the sound is made by task/sound.h; here it is written ahead to the output as there is room
 *   thread  one voice, one thread at a time, the one that owns the es_sound
 */
#ifndef ES_LIVE_VOICE_H
#define ES_LIVE_VOICE_H

#include "device/device.h"
#include "evenspool/base/trim_snapshot.h"
#include "evenspool/task/sound.h"

typedef struct es_voice es_voice;

/* output: name, "" the preferred one. Silent until _set. Errors as es_output_open(), ES_ERR_NOMEM.
 * *out is NULL on error. */
es_status es_voice_create(es_sound *sound, const char *output, es_voice **out, es_error *error);
/* NULL is fine. */
void es_voice_destroy(es_voice *voice);

/* 1: it speaks where that name leads. */
int es_voice_is_at(const es_voice *voice, const char *output);

/* level: dB re full scale, peak. */
void es_voice_set(es_voice *voice, es_sounder_kind kind, double level_db);

/* Whole name of the output. */
const char *es_voice_output(const es_voice *voice);

/* Writes as much as there is room for, the latest snapshot in mind. At least ten times a second. */
void es_voice_feed(es_voice *voice, const es_trim_snapshot *now);

/* 1: the output is there; 0: it has vanished and is looked for. */
int es_voice_is_heard(es_voice *voice);

#endif
