/*
 * A sound system that is not there: plays a script behind the same interface as the real one, with
 * every fault at its appointed time. For tests.
 *
 *   time    stands still except in es_fake_run (and where the device floor waits); begins at 0
 *   thread  take and fill run on the thread that calls es_fake_run
 *
 * The script, one entry a line, # begins a remark:
 *
 *   place IN OUT RATE NAME    a place: channels in and out, listed rate [Hz], name (may have spaces)
 *   only RATE                 the place above refuses every other rate
 *   clock PPM                 the place above samples that many millionths fast
 *   tone HZ PEAK              what is heard: channel 1 a sine, channel 2 (frame mod 2^23) / 2^23,
 *                             frame = time x true rate; a frame that was lost is not heard again
 *   raw PATH                  instead: stereo float frames from a file, then silence
 *   at SECONDS WHAT [NAME]    for the place NAME, without one the first:
 *      overflow               the next block is told to come after a loss (of an output: after it
 *                             ran dry)
 *      lose FRAMES            that many frames vanish without a word
 *      stall TIME             nothing comes for TIME seconds, then all of it at once
 *      silent                 nothing comes any more, without a word, until `plug`
 *      unplug                 the streams end by themselves; it can't be opened, and is not listed
 *      plug                   it is there again
 *      busy, free             it is in use by another program, or not any more
 */
#ifndef ES_DEVICE_FAKE_H
#define ES_DEVICE_FAKE_H

#include "device/device.h"

typedef struct es_fake es_fake;

/*
 * The es_sound owns the fake. ES_ERR_ARG "script": the sentence names the line. ES_ERR_IO: the raw
 * file can't be read. ES_ERR_NOMEM. *sound and *fake are NULL on error.
 */
es_status es_fake_open(const char *script, es_sound **sound, es_fake **fake, es_error *error);

/* Lets time go by. */
void es_fake_run(es_fake *fake, double seconds);
double es_fake_now_s(const es_fake *fake);

/* Whoever wants to hear what the outputs play. */
void es_fake_hear(es_fake *fake,
                  void (*heard)(void *who, const float *frames, size_t count, int channels),
                  void *who);

/* Streams that are open. */
size_t es_fake_streams(const es_fake *fake);

#endif
