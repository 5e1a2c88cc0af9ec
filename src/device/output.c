#include "device/device.h"

#include "device/line.h"
#include "device/sound.h"

#include <math.h>
#include <stdlib.h>

#define FADE_S 0.003 /* time constant of what breaks off or sets in         */
#define AT_ONCE 256  /* frames fetched from the ring at a time              */
#define SOUNDS_MOST 2

struct es_output {
    es_line line;
    es_ring *ring; /* one channel, or two */
    size_t sounds; /* 1: for all channels; 2: left and right */
    size_t ahead;  /* frames that may wait in it */

    /* the sound system's thread's */
    float last[SOUNDS_MOST];   /* sample played last                                     */
    float fading[SOUNDS_MOST]; /* what the next one lies beside its own value, fading out */
    float fade;                /* factor of one sample                                    */
    int playing;               /* samples come from the ring                              */
    _Atomic int64_t missed, ran_dry;
};

es_output_settings es_output_defaults(void)
{
    return (es_output_settings){.latency_s = 0.05, .ahead_s = 0.1};
}

static int settings_are_sound(const es_output_settings *s)
{
    return (s->rate_hz == 0.0 || (s->rate_hz >= 8000.0 && s->rate_hz <= 384000.0)) &&
           s->latency_s >= 0.005 && s->latency_s <= 1.0 && s->ahead_s >= 0.02 && s->ahead_s <= 10.0;
}

/* --- on the sound system's thread ------------------------------------------------------- */

/* The next sample of one sound. At a break the step is taken back and fades out instead. */
static float smooth(es_output *o, size_t sound, float sample, int breaks)
{
    float *fading = &o->fading[sound], *last = &o->last[sound];
    *fading = breaks ? *last - sample : *fading * o->fade;
    if (fabsf(*fading) < 1e-6f)
        *fading = 0.0f;
    *last = sample + *fading;
    return *last;
}

/* One frame to all channels; samples: one of each sound. */
static void put(es_output *o, const float *samples, int breaks, float *frame)
{
    float now[SOUNDS_MOST];
    for (size_t k = 0; k < o->sounds; k++)
        now[k] = smooth(o, k, samples[k], breaks);
    for (size_t c = 0; c < (size_t)o->line.channels; c++)
        frame[c] = now[c < o->sounds ? c : 0];
}

static void fill_block(void *who, float *frames, size_t count, int ran_dry)
{
    es_output *o = who;
    if (ran_dry)
        atomic_fetch_add_explicit(&o->ran_dry, 1, memory_order_relaxed);
    static const float silence[SOUNDS_MOST] = {0.0f, 0.0f};
    float samples[AT_ONCE * SOUNDS_MOST];
    size_t channels = (size_t)o->line.channels;
    for (size_t done = 0; done < count;) {
        size_t want = count - done < AT_ONCE ? count - done : AT_ONCE;
        es_gap gap;
        size_t got = es_ring_read(o->ring, samples, want, &gap);
        for (size_t i = 0; i < got; i++)
            put(o, samples + i * o->sounds, i == 0 && !o->playing, frames + (done + i) * channels);
        o->playing |= got > 0;
        for (size_t i = got; i < want; i++)
            put(o, silence, i == got && o->playing, frames + (done + i) * channels);
        if (got < want) {
            if (o->playing || atomic_load_explicit(&o->missed, memory_order_relaxed) > 0)
                atomic_fetch_add_explicit(&o->missed, (int64_t)(want - got), memory_order_relaxed);
            o->playing = 0;
        }
        done += want;
    }
}

static void begin(void *who, int64_t away_ns)
{
    es_output *o = who;
    float old[AT_ONCE * SOUNDS_MOST];
    es_gap gap;
    while (away_ns >= 0 && es_ring_read(o->ring, old, AT_ONCE, &gap) > 0)
        ; /* nobody wants to hear what was meant for a while ago */
    for (size_t k = 0; k < SOUNDS_MOST; k++)
        o->last[k] = o->fading[k] = 0.0f;
    o->playing = 0;
    o->fade = (float)exp(-1.0 / (FADE_S * o->line.rate_hz));
}

/* --- life ---------------------------------------------------------------------------------- */

static es_status make_ring(es_output *o, double ahead_s, es_error *error)
{
    o->ahead = (size_t)(ahead_s * o->line.rate_hz);
    if (es_ring_create((int)o->sounds, o->ahead, &o->ring) == ES_OK)
        return ES_OK;
    return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory for sound.");
}

es_status es_output_open(es_sound *sound, const char *name, const es_output_settings *settings,
                         es_output **out, es_error *error)
{
    *out = NULL;
    es_output_settings usual = es_output_defaults();
    const es_output_settings *s = settings ? settings : &usual;
    if (!settings_are_sound(s))
        return es_fail(error, ES_ERR_ARG, "output-settings",
                       "The settings of the sound output are out of range.");
    es_output *o = calloc(1, sizeof *o);
    if (!o)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory for sound.");
    o->sounds = s->stereo ? 2 : 1;
    o->line = (es_line){.channels = s->stereo ? 2 : 0,
                        .rate_hz = s->rate_hz,
                        .latency_s = s->latency_s,
                        .who = o,
                        .fill = fill_block,
                        .begin = begin};
    es_status status = es_line_open(&o->line, sound, name, error);
    if (status == ES_OK)
        status = make_ring(o, s->ahead_s, error);
    if (status == ES_OK)
        *out = o;
    else
        es_output_close(o);
    return status;
}

void es_output_close(es_output *o)
{
    if (!o)
        return;
    es_line_close(&o->line);
    es_ring_destroy(o->ring);
    free(o);
}

es_status es_output_start(es_output *o, es_error *error)
{
    return es_line_start(&o->line, error);
}

void es_output_stop(es_output *o)
{
    es_line_stop(&o->line);
}

es_line_state es_output_watch(es_output *o)
{
    return es_line_watch(&o->line);
}

/* --- what is played ------------------------------------------------------------------------ */

size_t es_output_room(const es_output *o)
{
    size_t waiting = es_ring_waiting(o->ring);
    return waiting < o->ahead ? o->ahead - waiting : 0;
}

size_t es_output_waiting(const es_output *o)
{
    return es_ring_waiting(o->ring);
}

size_t es_output_write(es_output *o, const float *frames, size_t count)
{
    size_t room = es_output_room(o);
    return es_ring_write(o->ring, frames, count < room ? count : room);
}

es_line_facts es_output_facts(const es_output *o)
{
    return es_line_facts_of(&o->line);
}

int64_t es_output_missed(const es_output *o)
{
    return atomic_load_explicit(&o->missed, memory_order_relaxed);
}

int64_t es_output_ran_dry(const es_output *o)
{
    return atomic_load_explicit(&o->ran_dry, memory_order_relaxed);
}
