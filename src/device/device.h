/*
 * Live inputs and outputs by name, behind a small interface of our own.
 *
 *   system   es_sound: the list of places where sound goes in and out, and whatever is open on it.
 *            Over the computer's sound system (one at a time in a program), or played from a
 *            script for tests (device/fake.h)
 *   names    the whole name, or any part of it that only one place has; capitals don't matter.
 *            "" means the one that the computer's settings prefer
 *   rate     48000 Hz is asked for first, whatever the list tells: a sound server lists a rate of
 *            its own and converts without a word
 *   channels two are opened where there are two and the caller picks one: a single one would be
 *            the mean of both
 *   lost     a device that vanishes is noticed within 2 s (es_input_watch, es_output_watch, called
 *            at least ten times a second), tried again every second and goes on when it is back
 *   missing  every frame that is known or feared to be lost makes a gap with its frame number
 *   thread   all calls on one es_sound and what is open on it by one thread; only es_input_take,
 *            _waiting, es_output_write and _room may be called by one other thread each
 *   rt       es_input_take, es_output_write and _room never allocate, lock or call the system; the
 *            device's own callback only copies into a ring, counts and reads the clock
 */
#ifndef ES_DEVICE_DEVICE_H
#define ES_DEVICE_DEVICE_H

#include "device/ring.h"
#include "evenspool/base/error.h"

#include <stddef.h>
#include <stdint.h>

#define ES_PLACE_CHANNELS_MOST 8 /* opened at once */

typedef struct es_sound es_sound;
typedef struct es_input es_input;
typedef struct es_output es_output;

/* A place where sound goes in or out. */
typedef struct es_place {
    char name[128];
    char system[32];         /* "ALSA", "JACK" ...                                       */
    int inputs, outputs;     /* channels; a sound server may tell 32 whatever there is   */
    double listed_rate_hz;   /* as listed; a sound server may tell 44100 whatever it is  */
    int first_in, first_out; /* 1: what "" means                                         */
} es_place;

/* What an input hears. */
typedef struct es_level {
    int channels;
    double rate_hz;
    double seconds;                         /* listened to                             */
    double peak_fs[ES_PLACE_CHANNELS_MOST]; /* largest sample; NaN: nothing came       */
    double rms_fs[ES_PLACE_CHANNELS_MOST];  /* NaN: nothing came                       */
} es_level;

/* --- system ------------------------------------------------------------------------------ */

/*
 * Starts the computer's sound system and lists the places; none at all is no error.
 * ES_ERR_DEVICE "no-sound-system", ES_ERR_NOMEM; *out is NULL on error.
 */
es_status es_sound_open(es_sound **out, es_error *error);
/* Inputs and outputs must have been closed. NULL is fine. */
void es_sound_close(es_sound *sound);

/* The list as it was at _open or at the last _look_again. NULL beyond the last. */
const es_place *es_sound_place(const es_sound *sound, size_t index);

/*
 * Lists the places anew. What is open is interrupted for about 0.1 s (its gap says so), so don't
 * do it while somebody measures. ES_ERR_DEVICE, ES_ERR_NOMEM: the list is empty then.
 */
es_status es_sound_look_again(es_sound *sound, es_error *error);

/*
 * The place of that name that has inputs (with_inputs 1) or outputs (0). ES_ERR_DEVICE: "no-input"
 * or "no-output": there is none at all; "no-such-device", "several-devices": the sentence lists
 * the names. *out is NULL on error.
 */
es_status es_sound_find(const es_sound *sound, const char *name, int with_inputs,
                        const es_place **out, es_error *error);

/*
 * Opens the input, listens for `seconds` (0.05 .. 10; 0.3 is good) and closes it. Returns after
 * at most seconds + 1.5 s. Errors: as es_input_open().
 */
es_status es_sound_listen(es_sound *sound, const char *name, double seconds, es_level *out,
                          es_error *error);

/* --- state of an input or output ----------------------------------------------------------- */

typedef enum es_line_state {
    ES_LINE_STOPPED,
    ES_LINE_RUNNING,
    ES_LINE_LOST /* vanished; tried again every second */
} es_line_state;

typedef struct es_line_facts {
    char name[128]; /* of the place, whole */
    double rate_hz;
    int channels;
    int64_t losses; /* times it vanished                                       */
    double lost_s;  /* for how long it is lost by now; 0 when it is not        */
} es_line_facts;

/* --- input --------------------------------------------------------------------------------- */

typedef struct es_input_settings {
    double rate_hz;   /* 0: 48000, else what it can; other: this rate or none         */
    int channels;     /* 0: two where there are two; else 1 .. ES_PLACE_CHANNELS_MOST  */
    double latency_s; /* asked of the sound system, 0.005 .. 1                        */
    double ring_s;    /* how long the reader may tarry before frames are lost, 0.1 .. 60 */
} es_input_settings;

typedef struct es_input_counts {
    int64_t frames;    /* that came                                              */
    int64_t gaps;      /* told so far, of all kinds                              */
    int64_t overflows; /* times the sound system said that it lost input         */
    int64_t dropped;   /* frames lost because the reader was too slow            */
    int64_t silent;    /* frames found missing by the clock                      */
} es_input_counts;

/* 48000 Hz first, two channels, latency 0.05 s, ring 10 s. */
es_input_settings es_input_defaults(void);

/*
 * settings NULL: the defaults. *out is NULL on error. ES_ERR_ARG: a setting out of range.
 * ES_ERR_DEVICE: as es_sound_find(), and "device-busy", "device-rate", "device-channels",
 * "device-gone", "device-failed". ES_ERR_NOMEM.
 */
es_status es_input_open(es_sound *sound, const char *name, const es_input_settings *settings,
                        es_input **out, es_error *error);
/* Stops it first. NULL is fine. */
void es_input_close(es_input *input);

/* ES_ERR_DEVICE: as _open. What was not taken before a stop can still be taken. */
es_status es_input_start(es_input *input, es_error *error);
void es_input_stop(es_input *input);

/* Looks whether it is still there, and after it when it is not. */
es_line_state es_input_watch(es_input *input);

/*
 * Takes up to room frames (of facts.channels samples) that came, at once; 0: none now. A gap that
 * lies just before the first of them is told in *gap, once; else gap->reasons is 0.
 */
size_t es_input_take(es_input *input, float *frames, size_t room, es_gap *gap);
size_t es_input_waiting(const es_input *input);
/* The number of the next frame to be taken, counted since _open. */
int64_t es_input_frame(const es_input *input);

/*
 * The last block that came: by when_ns [ns of a steady clock that the system may steer, CLOCK_MONOTONIC]
 * `frames` had come in all since _open, those not counted that were lost. 0: none came yet. Look before
 * taking: a gap of that time is then found by the taking.
 */
int es_input_stamp(const es_input *input, int64_t *frames, int64_t *when_ns);

es_line_facts es_input_facts(const es_input *input);
es_input_counts es_input_counts_now(const es_input *input);

/* --- output -------------------------------------------------------------------------------- */

/*
 * One sound for all channels (at most two are opened), or left and right. Frames that are missing are
 * played as silence; what breaks off or sets in fades within some milliseconds, so it does not click.
 */
typedef struct es_output_settings {
    double rate_hz;   /* 0: 48000, else what it can; other: this rate or none      */
    double latency_s; /* asked of the sound system, 0.005 .. 1                     */
    double ahead_s;   /* how much may be written ahead, 0.02 .. 10                 */
    int stereo;       /* 1: left and right, on an output that has both; 0: one sound */
} es_output_settings;

/* 48000 Hz first, latency 0.05 s, 0.1 s ahead, one sound. */
es_output_settings es_output_defaults(void);

/* As es_input_open(). */
es_status es_output_open(es_sound *sound, const char *name, const es_output_settings *settings,
                         es_output **out, es_error *error);
/* NULL is fine. */
void es_output_close(es_output *output);
es_status es_output_start(es_output *output, es_error *error);
void es_output_stop(es_output *output);
es_line_state es_output_watch(es_output *output);

/* Frames that may be written now. While it is lost the room fills up; what waits by then is thrown
 * away when it is back. */
size_t es_output_room(const es_output *output);
/* Returns how many frames (of one sample, or of left and right) were taken over; at most _room. */
size_t es_output_write(es_output *output, const float *frames, size_t count);
/* Frames written that are not played yet. */
size_t es_output_waiting(const es_output *output);

es_line_facts es_output_facts(const es_output *output);
/* Frames of silence put in because nothing was there to play, not counting before the first. */
int64_t es_output_missed(const es_output *output);
/* Times the sound system says that it had nothing to play, since we were called too late. */
int64_t es_output_ran_dry(const es_output *output);

#endif
