#include "device/portaudio_backend.h"

#include "device/hush.h"
#include "evenspool/base/text.h"

#include <portaudio.h>

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define BLOCKS_A_SECOND 100.0

typedef struct system_state {
    int started;
} system_state;

typedef struct stream_state {
    PaStream *stream;
    es_stream_wish wish;
    char name[128];
} stream_state;

/* --- what went wrong -------------------------------------------------------------------- */

static es_status no_memory(es_error *error)
{
    return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory for sound.");
}

static es_status say_gone(const char *name, es_error *error)
{
    return es_fail(error, ES_ERR_DEVICE, "device-gone",
                   "%s does not answer; see that it is connected and switched on.", name);
}

static es_status say_why(PaError why, const es_stream_wish *wish, const char *name, es_error *error)
{
    int host = why == paUnanticipatedHostError ? (int)Pa_GetLastHostErrorInfo()->errorCode : 0;
    if (why == paInsufficientMemory)
        return no_memory(error);
    if (why == paDeviceUnavailable || host == -EBUSY)
        return es_fail(error, ES_ERR_DEVICE, "device-busy",
                       "%s is in use by another program; close that program and try again.", name);
    if (why == paInvalidSampleRate)
        return es_fail(error, ES_ERR_DEVICE, "device-rate",
                       "%s can't be used at %.0f samples a second; choose another rate or device.",
                       name, wish->rate_hz);
    if (why == paInvalidChannelCount)
        return es_fail(error, ES_ERR_DEVICE, "device-channels",
                       "%s can't be used with %d channels; choose another device.", name,
                       wish->channels);
    if (why == paInvalidDevice || host == -EIO || host == -ENODEV || host == -ENOENT ||
        host == -ENXIO || host == -ECONNREFUSED)
        return say_gone(name, error);
    return es_fail(error, ES_ERR_DEVICE, "device-failed",
                   "%s can't be used (%s%s%s); connect it anew or choose another device.", name,
                   Pa_GetErrorText(why), host ? ": " : "", host ? strerror(abs(host)) : "");
}

/* --- list ---------------------------------------------------------------------------------- */

static void describe(PaDeviceIndex index, es_place *place)
{
    const PaDeviceInfo *info = Pa_GetDeviceInfo(index);
    const PaHostApiInfo *system = Pa_GetHostApiInfo(info->hostApi);
    es_text name = es_text_over(place->name, sizeof place->name);
    es_text_add(&name, "%s", info->name);
    es_text host = es_text_over(place->system, sizeof place->system);
    es_text_add(&host, "%s", system ? system->name : "");
    place->inputs = info->maxInputChannels;
    place->outputs = info->maxOutputChannels;
    place->listed_rate_hz = info->defaultSampleRate;
    place->first_in = index == Pa_GetDefaultInputDevice();
    place->first_out = index == Pa_GetDefaultOutputDevice();
}

static es_status start_anew(system_state *s, es_error *error)
{
    es_hush hush;
    es_hush_begin(&hush);
    if (s->started)
        Pa_Terminate();
    PaError why = Pa_Initialize();
    es_hush_end(&hush);
    s->started = why == paNoError;
    if (s->started)
        return ES_OK;
    return es_fail(error, ES_ERR_DEVICE, "no-sound-system",
                   "The computer's sound system can't be started (%s); see whether other programs "
                   "can play sound.",
                   Pa_GetErrorText(why));
}

static es_status list(void *self, es_place **places, size_t *count, es_error *error)
{
    *places = NULL;
    *count = 0;
    es_status status = start_anew(self, error);
    if (status != ES_OK)
        return status;
    PaDeviceIndex most = Pa_GetDeviceCount();
    if (most <= 0)
        return ES_OK;
    *places = calloc((size_t)most, sizeof **places);
    if (!*places)
        return no_memory(error);
    for (PaDeviceIndex i = 0; i < most; i++)
        describe(i, &(*places)[i]);
    *count = (size_t)most;
    return ES_OK;
}

/* --- streams ------------------------------------------------------------------------------- */

static int on_block(const void *in, void *out, unsigned long count,
                    const PaStreamCallbackTimeInfo *when, PaStreamCallbackFlags flags, void *who)
{
    stream_state *s = who;
    (void)when;
    if (s->wish.take && in)
        s->wish.take(s->wish.who, in, count, (flags & paInputOverflow) != 0);
    if (s->wish.fill && out)
        s->wish.fill(s->wish.who, out, count, (flags & paOutputUnderflow) != 0);
    return paContinue;
}

static void on_finished(void *who)
{
    stream_state *s = who;
    s->wish.ended(s->wish.who);
}

static PaError open_stream(stream_state *s)
{
    PaStreamParameters way = {.device = (PaDeviceIndex)s->wish.place,
                              .channelCount = s->wish.channels,
                              .sampleFormat = paFloat32,
                              .suggestedLatency = s->wish.latency_s};
    es_hush hush;
    es_hush_begin(&hush);
    PaError why = Pa_OpenStream(&s->stream, s->wish.take ? &way : NULL, s->wish.fill ? &way : NULL,
                                s->wish.rate_hz, (unsigned long)(s->wish.rate_hz / BLOCKS_A_SECOND),
                                paNoFlag, on_block, s);
    es_hush_end(&hush);
    if (why == paNoError)
        Pa_SetStreamFinishedCallback(s->stream, on_finished);
    return why;
}

static es_status open_it(void *self, const es_stream_wish *wish, void **stream, es_error *error)
{
    (void)self;
    *stream = NULL;
    stream_state *s = calloc(1, sizeof *s);
    if (!s)
        return no_memory(error);
    s->wish = *wish;
    const PaDeviceInfo *info = Pa_GetDeviceInfo((PaDeviceIndex)wish->place);
    es_text name = es_text_over(s->name, sizeof s->name);
    es_text_add(&name, "%s", info ? info->name : "The device");
    PaError why = open_stream(s);
    if (why == paNoError) {
        *stream = s;
        return ES_OK;
    }
    es_status status = say_why(why, wish, s->name, error);
    free(s);
    return status;
}

static es_status start(void *self, void *stream, es_error *error)
{
    (void)self;
    stream_state *s = stream;
    es_hush hush;
    es_hush_begin(&hush);
    PaError why = Pa_StartStream(s->stream);
    es_hush_end(&hush);
    return why == paNoError ? ES_OK : say_why(why, &s->wish, s->name, error);
}

static void close_it(void *self, void *stream)
{
    (void)self;
    stream_state *s = stream;
    es_hush hush;
    es_hush_begin(&hush);
    Pa_AbortStream(s->stream);
    Pa_CloseStream(s->stream);
    es_hush_end(&hush);
    free(s);
}

/* --- the rest ------------------------------------------------------------------------------ */

static int64_t now_ns(void *self)
{
    (void)self;
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
}

static void wait_for(void *self, double seconds)
{
    (void)self;
    struct timespec left = {.tv_sec = (time_t)seconds};
    left.tv_nsec = (long)((seconds - (double)left.tv_sec) * 1e9);
    while (nanosleep(&left, &left) != 0 && errno == EINTR)
        ;
}

static void destroy(void *self)
{
    system_state *s = self;
    es_hush hush;
    es_hush_begin(&hush);
    if (s->started)
        Pa_Terminate();
    es_hush_end(&hush);
    free(s);
}

es_status es_portaudio_backend(es_backend *out, es_error *error)
{
    system_state *s = calloc(1, sizeof *s);
    if (!s)
        return no_memory(error);
    *out = (es_backend){.self = s,
                        .list = list,
                        .open = open_it,
                        .start = start,
                        .close = close_it,
                        .now_ns = now_ns,
                        .wait = wait_for,
                        .destroy = destroy};
    return ES_OK;
}
