/* Test tones whose speed curve is known exactly, made sample by sample in double. */
#ifndef ES_TESTS_TONE_H
#define ES_TESTS_TONE_H

#include <math.h>
#include <stddef.h>
#include <stdint.h>

#define TONE_TWO_PI 6.283185307179586476925286766559

/* Speed 1 + error + depth sin(2 pi rate t); the phase is its exact integral. */
typedef struct test_tone {
    double rate_hz, tone_hz, amplitude, error, depth, flutter_hz, delay_s, noise_rms;
    uint64_t seed;
} test_tone;

static inline double test_tone_phase(const test_tone *t, double time_s)
{
    double at = time_s - t->delay_s, wobble = 0.0;
    if (t->flutter_hz > 0.0)
        wobble = t->depth * (1.0 - cos(TONE_TWO_PI * t->flutter_hz * at)) /
                 (TONE_TWO_PI * t->flutter_hz);
    return t->tone_hz * ((1.0 + t->error) * at + wobble); /* cycles */
}

static inline double test_uniform(uint64_t *seed) /* 0 .. 1; Knuth's MMIX constants */
{
    *seed = *seed * 6364136223846793005u + 1442695040888963407u;
    return ((double)(*seed >> 11) + 0.5) / 9007199254740992.0;
}

static inline double test_gauss(uint64_t *seed) /* Box and Muller 1958 */
{
    double radius = sqrt(-2.0 * log(test_uniform(seed)));
    return radius * cos(TONE_TWO_PI * test_uniform(seed));
}

static inline double test_tone_sample(test_tone *t, size_t i)
{
    double phase = test_tone_phase(t, (double)i / t->rate_hz);
    double x = t->amplitude * sin(TONE_TWO_PI * (phase - floor(phase)));
    return t->noise_rms > 0.0 ? x + t->noise_rms * test_gauss(&t->seed) : x;
}

/* Frames from .. from + count of it into one channel of interleaved frames. */
static inline void test_tone_fill(test_tone *t, size_t from, float *out, size_t stride,
                                  size_t count)
{
    for (size_t i = 0; i < count; i++)
        out[i * stride] = (float)test_tone_sample(t, from + i);
}

#endif
