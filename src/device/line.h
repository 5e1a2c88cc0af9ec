/*
 * Line: what an input and an output have in common: a stream on a place that starts, stops, is
 * lost, and is opened again. Private to the floor.
 */
#ifndef ES_DEVICE_LINE_H
#define ES_DEVICE_LINE_H

#include "device/backend.h"

#include <stdatomic.h>

typedef struct es_line es_line;

struct es_line {
    es_sound *sound;
    es_line *next; /* in the sound's list of lines */

    /* set by the owner before es_line_open */
    int channels;
    double rate_hz, latency_s;
    void *who; /* handed to the functions */
    void (*take)(void *who, const float *frames, size_t count, int overflowed, int64_t now_ns);
    void (*fill)(void *who, float *frames, size_t count, int ran_dry);
    /* Just before it starts; away: time since the last block or the last start, -1: the first. */
    void (*begin)(void *who, int64_t away_ns);

    char name[128];
    char system[32];
    void *stream; /* NULL: not open */
    es_line_state state;
    int64_t losses;
    int64_t lost_ns, tried_ns; /* when it was lost and tried last   */
    int64_t begun_ns;          /* when the stream was started last  */
    int64_t watched_ns;        /* last watch                        */
    int64_t silent_ns;         /* without a block, while watched    */
    int64_t blocks_seen;

    /* the sound system's thread writes these */
    _Atomic int64_t blocks;  /* since _open                         */
    _Atomic int64_t last_ns; /* when the last one came              */
    atomic_int ended;        /* the stream has ended, asked or not  */
};

/* Finds the place and opens a stream there. rate_hz 0 and channels 0 are settled here. */
es_status es_line_open(es_line *line, es_sound *sound, const char *name, es_error *error);
void es_line_close(es_line *line);
es_status es_line_start(es_line *line, es_error *error);
void es_line_stop(es_line *line);
es_line_state es_line_watch(es_line *line);
es_line_facts es_line_facts_of(const es_line *line);

/* For es_sound. Closes what is open. Then opens and starts what was running; 1: done, or it was
 * not running. */
void es_line_suspend(es_line *line);
int es_line_resume(es_line *line);

#endif
