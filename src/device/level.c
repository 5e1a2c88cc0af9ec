/* Listens to an input for a moment. */
#include "device/device.h"

#include "device/sound.h"

#include <math.h>

#define LATE_S 1.2 /* an input that gives nothing for so long is silent */
#define STEP_S 0.02
#define ROOM 512

typedef struct tally {
    int64_t frames;
    double peak[ES_PLACE_CHANNELS_MOST], squares[ES_PLACE_CHANNELS_MOST];
} tally;

static void add(tally *t, const float *frames, size_t count, int channels)
{
    for (size_t i = 0; i < count; i++)
        for (int c = 0; c < channels; c++) {
            double x = fabs((double)frames[i * (size_t)channels + (size_t)c]);
            t->peak[c] = fmax(t->peak[c], x);
            t->squares[c] += x * x;
        }
    t->frames += (int64_t)count;
}

static void listen_for(es_sound *sound, es_input *in, double seconds, tally *t)
{
    float frames[ROOM * ES_PLACE_CHANNELS_MOST];
    es_line_facts facts = es_input_facts(in);
    int64_t wanted = llround(seconds * facts.rate_hz);
    double waited = 0.0;
    es_gap gap;
    while (t->frames < wanted && waited < seconds + LATE_S) {
        int64_t left = wanted - t->frames;
        size_t got = es_input_take(in, frames, left < ROOM ? (size_t)left : ROOM, &gap);
        add(t, frames, got, facts.channels);
        if (got > 0)
            continue;
        sound->backend.wait(sound->backend.self, STEP_S);
        waited += STEP_S;
        if (es_input_watch(in) != ES_LINE_RUNNING)
            return;
    }
}

static es_level level_of(const tally *t, es_line_facts facts)
{
    es_level level = {.channels = facts.channels,
                      .rate_hz = facts.rate_hz,
                      .seconds = (double)t->frames / facts.rate_hz};
    for (int c = 0; c < ES_PLACE_CHANNELS_MOST; c++) {
        int heard = t->frames > 0 && c < facts.channels;
        level.peak_fs[c] = heard ? t->peak[c] : (double)NAN;
        level.rms_fs[c] = heard ? sqrt(t->squares[c] / (double)t->frames) : (double)NAN;
    }
    return level;
}

es_status es_sound_listen(es_sound *sound, const char *name, double seconds, es_level *out,
                          es_error *error)
{
    tally t = {0};
    *out = level_of(&t, (es_line_facts){.rate_hz = (double)NAN});
    if (!(seconds >= 0.05 && seconds <= 10.0))
        return es_fail(error, ES_ERR_ARG, "listen-seconds",
                       "An input can be listened to for 0.05 to 10 s.");
    es_input *in;
    es_status status = es_input_open(sound, name, NULL, &in, error);
    if (status == ES_OK)
        status = es_input_start(in, error);
    if (status == ES_OK) {
        listen_for(sound, in, seconds, &t);
        *out = level_of(&t, es_input_facts(in));
    }
    es_input_close(in);
    return status;
}
