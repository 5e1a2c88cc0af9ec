#include "signal/twin.h"

#include "evenspool/base/units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

int es_twin_suits(size_t frame)
{
    static const size_t primes[] = {2, 3, 5};
    for (size_t i = 0; frame > 0 && i < sizeof primes / sizeof *primes; i++)
        while (frame % primes[i] == 0)
            frame /= primes[i];
    return frame == 1;
}

/* Hann, or four terms with side lobes 92 dB down (Harris 1978, Proc. IEEE 66; from memory). */
static double window_at(es_twin_window window, double x)
{
    if (window == ES_TWIN_HANN)
        return 0.5 - 0.5 * cos(x);
    return 0.35875 - 0.48829 * cos(x) + 0.14128 * cos(2.0 * x) - 0.01168 * cos(3.0 * x);
}

static int take_memory(es_twin *t)
{
    size_t fft_bytes = 0; /* the plan lives in memory of ours */
    t->window = calloc(t->frame, sizeof *t->window);
    t->samples = calloc(t->frame, sizeof *t->samples);
    t->windowed = calloc(t->frame, sizeof *t->windowed);
    t->spectrum = calloc(t->frame, sizeof *t->spectrum);
    (void)kiss_fft_alloc((int)t->frame, 0, NULL, &fft_bytes);
    t->fft_memory = calloc(1, fft_bytes);
    if (t->fft_memory)
        t->fft = kiss_fft_alloc((int)t->frame, 0, t->fft_memory, &fft_bytes);
    return t->window && t->samples && t->windowed && t->spectrum && t->fft;
}

es_status es_twin_start(es_twin *t, size_t frame, size_t hop, es_twin_window window)
{
    *t = (es_twin){.frame = frame, .hop = hop, .bins = frame / 2 + 1};
    if (!take_memory(t))
        return ES_ERR_NOMEM;
    double power = 0.0;
    for (size_t i = 0; i < frame; i++) {
        double w = window_at(window, ES_TWO_PI * (double)i / (double)frame);
        t->window[i] = (float)w;
        power += w * w;
    }
    t->power_scale = 2.0 / ((double)frame * power);
    return ES_OK;
}

void es_twin_stop(es_twin *t)
{
    free(t->window);
    free(t->samples);
    free(t->windowed);
    free(t->spectrum);
    free(t->fft_memory);
    *t = (es_twin){0};
}

void es_twin_reset(es_twin *t)
{
    t->filled = 0;
}

static float finite_or_zero(float x)
{
    return isfinite(x) ? x : 0.0f;
}

size_t es_twin_push(es_twin *t, const float *left, const float *right, size_t stride, size_t frames)
{
    size_t room = t->frame - t->filled, count = frames < room ? frames : room;
    kiss_fft_cpx *to = t->samples + t->filled;
    for (size_t i = 0; i < count; i++) {
        to[i].r = finite_or_zero(left[i * stride]);
        to[i].i = right ? finite_or_zero(right[i * stride]) : 0.0f;
    }
    t->filled += count;
    return count;
}

int es_twin_is_full(const es_twin *t)
{
    return t->filled == t->frame;
}

void es_twin_transform(es_twin *t)
{
    for (size_t i = 0; i < t->frame; i++) {
        t->windowed[i].r = t->samples[i].r * t->window[i];
        t->windowed[i].i = t->samples[i].i * t->window[i];
    }
    kiss_fft(t->fft, t->windowed, t->spectrum);
    es_twin_pass(t);
}

void es_twin_pass(es_twin *t)
{
    t->filled = t->frame - t->hop;
    memmove(t->samples, t->samples + t->hop, t->filled * sizeof *t->samples);
}
