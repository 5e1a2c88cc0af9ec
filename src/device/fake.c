#include "device/fake.h"

#include "device/backend.h"
#include "device/fake_script.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define STEP_NS 10000000
#define BLOCK 480
#define TWO_PI 6.283185307179586476925286766559
#define COUNTER 8388608 /* 2^23: exact in a float */

typedef struct fake_stream {
    es_fake *fake;
    struct fake_stream *next;
    es_stream_wish wish;
    size_t place; /* in the script */
    int running;
    int64_t begin_frame; /* time x rate when it started */
    int64_t moved;       /* frames delivered or lost     */
    int ended;
} fake_stream;

struct es_fake {
    es_fake_script script;
    int gone[ES_FAKE_PLACES], silent[ES_FAKE_PLACES], busy[ES_FAKE_PLACES];
    int overflowed[ES_FAKE_PLACES];
    int64_t stalled_to_ns[ES_FAKE_PLACES];
    size_t listed[ES_FAKE_PLACES]; /* index in the list -> in the script */
    size_t listed_count;
    size_t next_event;
    int64_t now_ns;
    fake_stream *streams;
    float *raw; /* stereo; NULL: the tone */
    size_t raw_frames;
    void (*heard)(void *who, const float *frames, size_t count, int channels);
    void *hearer;
};

/* At which the stream's place samples in truth. */
static double true_rate_hz(const fake_stream *s)
{
    return s->wish.rate_hz * (1.0 + 1e-6 * s->fake->script.clock_ppm[s->place]);
}

/* --- sound --------------------------------------------------------------------------------- */

static void sample_at(const es_fake *f, int64_t frame, double rate_hz, float two[2])
{
    if (f->raw) {
        int there = frame >= 0 && (size_t)frame < f->raw_frames;
        two[0] = there ? f->raw[2 * frame] : 0.0f;
        two[1] = there ? f->raw[2 * frame + 1] : 0.0f;
        return;
    }
    double cycles = fmod((double)frame * f->script.tone_hz / rate_hz, 1.0);
    two[0] = (float)(f->script.peak * sin(TWO_PI * cycles));
    two[1] = (float)(frame % COUNTER) / (float)COUNTER;
}

static void play(fake_stream *s, size_t count)
{
    es_fake *f = s->fake;
    float frames[BLOCK * ES_PLACE_CHANNELS_MOST] = {0};
    size_t channels = (size_t)s->wish.channels;
    int overflowed = f->overflowed[s->place];
    f->overflowed[s->place] = 0;
    if (s->wish.fill) {
        s->wish.fill(s->wish.who, frames, count, overflowed);
        if (f->heard)
            f->heard(f->hearer, frames, count, s->wish.channels);
        return;
    }
    for (size_t i = 0; i < count; i++) {
        float two[2];
        sample_at(f, s->begin_frame + s->moved + (int64_t)i, true_rate_hz(s), two);
        for (size_t c = 0; c < channels && c < 2; c++)
            frames[i * channels + c] = two[c];
    }
    s->wish.take(s->wish.who, frames, count, overflowed);
}

static int64_t frame_of(const fake_stream *s)
{
    return (int64_t)floor((double)s->fake->now_ns * 1e-9 * true_rate_hz(s) + 1e-6);
}

static void catch_up(fake_stream *s)
{
    es_fake *f = s->fake;
    if (!s->running || f->gone[s->place] || f->silent[s->place] ||
        f->now_ns < f->stalled_to_ns[s->place])
        return;
    int64_t due = frame_of(s) - s->begin_frame - s->moved;
    while (due > 0) {
        size_t count = due < BLOCK ? (size_t)due : BLOCK;
        play(s, count);
        s->moved += (int64_t)count;
        due -= (int64_t)count;
    }
}

/* --- events -------------------------------------------------------------------------------- */

static void end_streams(es_fake *f, size_t place)
{
    for (fake_stream *s = f->streams; s; s = s->next)
        if (s->place == place && s->running && !s->ended) {
            s->running = 0;
            s->ended = 1;
            s->wish.ended(s->wish.who);
        }
}

static void lose_frames(es_fake *f, const es_fake_event *e)
{
    for (fake_stream *s = f->streams; s; s = s->next)
        if (s->place == e->place && s->running)
            s->moved += (int64_t)e->amount;
}

static void happen(es_fake *f, const es_fake_event *e)
{
    switch (e->what) {
    case ES_FAKE_OVERFLOW:
        f->overflowed[e->place] = 1;
        break;
    case ES_FAKE_LOSE:
        lose_frames(f, e);
        break;
    case ES_FAKE_STALL:
        f->stalled_to_ns[e->place] = e->at_ns + (int64_t)(e->amount * 1e9);
        break;
    case ES_FAKE_SILENT:
        f->silent[e->place] = 1;
        break;
    case ES_FAKE_UNPLUG:
        f->gone[e->place] = 1;
        end_streams(f, e->place);
        break;
    case ES_FAKE_PLUG:
        f->gone[e->place] = f->silent[e->place] = 0;
        break;
    case ES_FAKE_BUSY:
    case ES_FAKE_FREE:
        f->busy[e->place] = e->what == ES_FAKE_BUSY;
        break;
    case ES_FAKE_WHATS:
        break;
    }
}

static void step(es_fake *f, int64_t to_ns)
{
    while (f->next_event < f->script.event_count &&
           f->script.events[f->next_event].at_ns <= to_ns) {
        const es_fake_event *e = &f->script.events[f->next_event++];
        if (e->at_ns > f->now_ns)
            f->now_ns = e->at_ns;
        for (fake_stream *s = f->streams; s; s = s->next)
            catch_up(s);
        happen(f, e);
    }
    f->now_ns = to_ns;
    for (fake_stream *s = f->streams; s; s = s->next)
        catch_up(s);
}

void es_fake_run(es_fake *f, double seconds)
{
    int64_t end = f->now_ns + llround(seconds * 1e9);
    while (f->now_ns < end) {
        int64_t to = (f->now_ns / STEP_NS + 1) * STEP_NS;
        step(f, to < end ? to : end);
    }
}

double es_fake_now_s(const es_fake *f)
{
    return (double)f->now_ns * 1e-9;
}

void es_fake_hear(es_fake *f,
                  void (*heard)(void *who, const float *frames, size_t count, int channels),
                  void *who)
{
    f->heard = heard;
    f->hearer = who;
}

size_t es_fake_streams(const es_fake *f)
{
    size_t count = 0;
    for (const fake_stream *s = f->streams; s; s = s->next)
        count++;
    return count;
}

/* --- as a backend -------------------------------------------------------------------------- */

static es_status no_memory(es_error *error)
{
    return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory for sound.");
}

static es_status list(void *self, es_place **places, size_t *count, es_error *error)
{
    es_fake *f = self;
    *places = NULL;
    *count = 0;
    f->listed_count = 0;
    if (f->script.place_count == 0)
        return ES_OK;
    *places = calloc(f->script.place_count, sizeof **places);
    if (!*places)
        return no_memory(error);
    for (size_t i = 0; i < f->script.place_count; i++)
        if (!f->gone[i]) {
            (*places)[f->listed_count] = f->script.places[i];
            f->listed[f->listed_count++] = i;
        }
    *count = f->listed_count;
    return ES_OK;
}

static es_status open_it(void *self, const es_stream_wish *wish, void **stream, es_error *error)
{
    es_fake *f = self;
    *stream = NULL;
    size_t place = f->listed[wish->place];
    const char *name = f->script.places[place].name;
    double only_hz = f->script.only_hz[place];
    if (f->gone[place])
        return es_fail(error, ES_ERR_DEVICE, "device-gone", "%s does not answer.", name);
    if (f->busy[place])
        return es_fail(error, ES_ERR_DEVICE, "device-busy", "%s is in use.", name);
    if (only_hz > 0.0 && fabs(only_hz - wish->rate_hz) > 0.5)
        return es_fail(error, ES_ERR_DEVICE, "device-rate", "%s refuses %.0f Hz.", name,
                       wish->rate_hz);
    fake_stream *s = calloc(1, sizeof *s);
    if (!s)
        return no_memory(error);
    *s = (fake_stream){.fake = f, .next = f->streams, .wish = *wish, .place = place};
    f->streams = s;
    *stream = s;
    return ES_OK;
}

static es_status start(void *self, void *stream, es_error *error)
{
    es_fake *f = self;
    fake_stream *s = stream;
    if (f->gone[s->place])
        return es_fail(error, ES_ERR_DEVICE, "device-gone", "%s does not answer.",
                       f->script.places[s->place].name);
    s->begin_frame = frame_of(s);
    s->moved = 0;
    s->running = 1;
    return ES_OK;
}

static void close_it(void *self, void *stream)
{
    es_fake *f = self;
    fake_stream *s = stream;
    for (fake_stream **at = &f->streams; *at; at = &(*at)->next)
        if (*at == s) {
            *at = s->next;
            break;
        }
    if (s->running && !s->ended)
        s->wish.ended(s->wish.who); /* as a real one does, asked or not */
    free(s);
}

static int64_t now_ns(void *self)
{
    const es_fake *f = self;
    return f->now_ns;
}

static void wait_for(void *self, double seconds)
{
    es_fake_run(self, seconds);
}

static void destroy(void *self)
{
    es_fake *f = self;
    free(f->raw);
    free(f);
}

/* --- life ---------------------------------------------------------------------------------- */

static es_status read_raw(es_fake *f, es_error *error)
{
    FILE *file = fopen(f->script.raw, "rb");
    if (!file)
        return es_fail(error, ES_ERR_IO, "raw-file", "%s: %s.", f->script.raw, strerror(errno));
    long size = fseek(file, 0, SEEK_END) == 0 ? ftell(file) : -1;
    f->raw_frames = size > 0 ? (size_t)size / (2 * sizeof *f->raw) : 0;
    f->raw = calloc(f->raw_frames + 1, 2 * sizeof *f->raw);
    rewind(file);
    int whole = f->raw && fread(f->raw, 2 * sizeof *f->raw, f->raw_frames, file) == f->raw_frames;
    fclose(file);
    if (!f->raw)
        return no_memory(error);
    return whole ? ES_OK
                 : es_fail(error, ES_ERR_IO, "raw-file", "%s can't be read.", f->script.raw);
}

es_status es_fake_open(const char *script, es_sound **sound, es_fake **fake, es_error *error)
{
    *sound = NULL;
    *fake = NULL;
    es_fake *f = calloc(1, sizeof *f);
    if (!f)
        return no_memory(error);
    es_status status = es_fake_script_read(script, &f->script, error);
    if (status == ES_OK && f->script.raw[0])
        status = read_raw(f, error);
    if (status != ES_OK) {
        destroy(f);
        return status;
    }
    es_backend backend = {.self = f,
                          .list = list,
                          .open = open_it,
                          .start = start,
                          .close = close_it,
                          .now_ns = now_ns,
                          .wait = wait_for,
                          .destroy = destroy};
    status = es_sound_over(backend, sound, error);
    if (status == ES_OK)
        *fake = f;
    return status;
}
