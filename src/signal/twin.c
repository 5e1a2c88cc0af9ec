#include "signal/twin.h"

#include "evenspool/base/units.h"
#include "signal/wide.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Hann, or four terms with side lobes 92 dB down (Harris 1978, Proc. IEEE 66; from memory). */
static double window_at(es_twin_window window, double x)
{
    if (window == ES_TWIN_HANN)
        return 0.5 - 0.5 * cos(x);
    return 0.35875 - 0.48829 * cos(x) + 0.14128 * cos(2.0 * x) - 0.01168 * cos(3.0 * x);
}

static int take_memory(es_twin *t)
{
    t->window = calloc(t->frame, sizeof *t->window);
    t->left = calloc(t->frame, sizeof *t->left);
    t->right = calloc(t->frame, sizeof *t->right);
    es_status status = es_fourier_start(&t->fourier, t->frame);
    return t->window && t->left && t->right && status == ES_OK;
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
    free(t->left);
    free(t->right);
    es_fourier_stop(&t->fourier);
    *t = (es_twin){0};
}

void es_twin_reset(es_twin *t)
{
    t->filled = 0;
}

static inline float finite_or_zero(float x)
{
    return isfinite(x) ? x : 0.0f;
}

/* The usual strides by name, since they are much faster. */
WIDE void es_twin_copy(float *restrict to, const float *restrict from, size_t stride, size_t count)
{
    if (!from)
        memset(to, 0, count * sizeof *to);
    else if (stride == 1)
        for (size_t i = 0; i < count; i++)
            to[i] = finite_or_zero(from[i]);
    else if (stride == 2)
        for (size_t i = 0; i < count; i++)
            to[i] = finite_or_zero(from[2 * i]);
    else
        for (size_t i = 0; i < count; i++)
            to[i] = finite_or_zero(from[i * stride]);
}

size_t es_twin_push(es_twin *t, const float *left, const float *right, size_t stride, size_t frames)
{
    size_t room = t->frame - t->filled, count = frames < room ? frames : room;
    es_twin_copy(t->left + t->filled, left, stride, count);
    es_twin_copy(t->right + t->filled, right, stride, count);
    t->filled += count;
    return count;
}

int es_twin_is_full(const es_twin *t)
{
    return t->filled == t->frame;
}

static void weigh(float *restrict to, const float *restrict from, const float *restrict by,
                  size_t count)
{
    for (size_t i = 0; i < count; i++)
        to[i] = from[i] * by[i];
}

void es_twin_transform(es_twin *t)
{
    weigh(t->fourier.re, t->left, t->window, t->frame);
    weigh(t->fourier.im, t->right, t->window, t->frame);
    es_fourier_run(&t->fourier);
    es_twin_pass(t);
}

void es_twin_pass(es_twin *t)
{
    t->filled = t->frame - t->hop;
    memmove(t->left, t->left + t->hop, t->filled * sizeof *t->left);
    memmove(t->right, t->right + t->hop, t->filled * sizeof *t->right);
}
