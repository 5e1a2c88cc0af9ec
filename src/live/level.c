#include "live/level.h"

#include <math.h>

#define BACK_S 2.0
#define LIMIT 0.9999f /* a 16 bit converter at its limit gives 0.99997 */
#define CLOSE 0.89f
#define QUIET 0.032f
#define NOTHING 0.0005f

es_level_watch es_level_watch_of(double rate_hz)
{
    return (es_level_watch){.part_frames = (size_t)lround(BACK_S * rate_hz / ES_LEVEL_PARTS)};
}

static void turn_over(es_level_watch *w)
{
    w->at = 0;
    w->part = (w->part + 1) % ES_LEVEL_PARTS;
    w->full |= w->part == 0;
    w->peak[w->part] = 0.0f;
    w->clipped[w->part] = 0;
}

static void take(es_level_watch *w, const float *frame, int from, int to)
{
    for (int c = from; c < to; c++) {
        float size = fabsf(frame[c]);
        if (size > w->peak[w->part])
            w->peak[w->part] = size;
        w->clipped[w->part] |= size >= LIMIT;
    }
}

void es_level_watch_push(es_level_watch *w, const float *frames, size_t count, int channels,
                         int channel)
{
    int from = channel ? channel - 1 : 0, to = channel ? channel : channels;
    for (size_t i = 0; i < count; i++) {
        take(w, frames + i * (size_t)channels, from, to);
        if (++w->at == w->part_frames)
            turn_over(w);
    }
}

const char *es_level_words(const es_level_watch *w)
{
    float peak = 0.0f;
    int clipped = 0;
    for (int i = 0; i < ES_LEVEL_PARTS; i++) {
        peak = fmaxf(peak, w->peak[i]);
        clipped |= w->clipped[i];
    }
    if (clipped)
        return "The input is clipped: turn it down.";
    if (peak > CLOSE)
        return "The input is almost clipped: turn it down a little.";
    if (!w->full || peak >= QUIET)
        return "";
    if (peak < NOTHING)
        return "Nothing is heard: check the cable, and that the tape plays.";
    return "The input is very quiet: turn it up.";
}
