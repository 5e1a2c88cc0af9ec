/*
 * Level and third harmonic of a tone as a tape gives it back: 2.4 s of it, speed off by up to 3 % and known to
 * 0.3 %, 0.2 % of flutter, noise 40 dB under it over the whole band. The promise: level within 0.05 dB,
 * third harmonic within 0.1 dB at 1 % and 3 %.
 */
#include "evenspool/signal/level.h"
#include "tone.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define RATE_HZ 48000.0
#define FRAMES ((size_t)(2.4 * RATE_HZ))
#define TRIALS 100

static float sound[115200];

static double uniform(uint64_t *seed, double low, double high)
{
    return low + (high - low) * test_uniform(seed);
}

typedef struct tally {
    double worst_db, square_db, worst_third_db;
    int covered, unknown;
} tally;

static void run(es_level *l, double hz, double third, double flutter, tally *sum)
{
    for (unsigned n = 0; n < TRIALS; n++) {
        uint64_t seed = 97 * n + (uint64_t)hz;
        double amplitude = uniform(&seed, 0.01, 0.5);
        test_tone t = {.rate_hz = RATE_HZ,
                       .tone_hz = hz,
                       .amplitude = amplitude,
                       .error = uniform(&seed, -0.03, 0.03),
                       .depth = flutter,
                       .flutter_hz = uniform(&seed, 0.5, 12.0),
                       .noise_rms = amplitude / sqrt(2.0) * 0.01,
                       .seed = seed};
        test_tone h = t;
        h.tone_hz *= 3.0;
        h.amplitude *= third;
        h.noise_rms = 0.0;
        for (size_t i = 0; i < FRAMES; i++)
            sound[i] = (float)(test_tone_sample(&t, i) + test_tone_sample(&h, i));
        if (es_level_tune(l, hz * (1.0 + t.error + uniform(&seed, -0.003, 0.003))) != ES_OK)
            exit(1);
        es_level_push(l, sound, NULL, 1, FRAMES);
        es_level_figures f = es_level_figures_of(l, 0);
        double off = 20.0 * log10(f.amplitude_fs / amplitude);
        sum->unknown += !f.known;
        sum->covered += fabs(off) < 2.0 * f.u_db;
        sum->square_db += off * off;
        sum->worst_db = fmax(sum->worst_db, fabs(off));
        if (third > 0.0) {
            double wrong = fabs(20.0 * log10(f.harmonic[3] / third));
            sum->worst_third_db = isnan(wrong) ? HUGE_VAL : fmax(sum->worst_third_db, wrong);
        }
    }
}

int main(void)
{
    static const struct {
        double hz, third;
    } cases[] = {{31.5, 0},    {63, 0},   {315, 0.01}, {315, 0.03}, {1000, 0.01},
                 {1000, 0.03}, {3150, 0}, {10000, 0},  {16000, 0},  {20000, 0}};
    es_level *l;
    int kept = 1;
    if (es_level_create(RATE_HZ, &l) != ES_OK)
        return 1;
    printf("Level of a tone in 2.4 s at 40 dB SNR, %d captures a line\n", TRIALS);
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        tally s = {0};
        run(l, cases[k].hz, cases[k].third, 0.002, &s);
        printf("  %7.1f Hz: rms %.4f dB, worst %.4f dB, truth within 2 u in %d %%", cases[k].hz,
               sqrt(s.square_db / TRIALS), s.worst_db, 100 * s.covered / TRIALS);
        if (cases[k].third > 0.0)
            printf("; third harmonic of %.0f %%: worst %.3f dB", 100.0 * cases[k].third,
                   s.worst_third_db);
        printf("\n");
        kept &= s.worst_db <= 0.05 && s.worst_third_db <= 0.1 && s.unknown == 0;
    }
    es_level_destroy(l);
    printf("  promise: level 0.05 dB, third harmonic 0.1 dB: %s\n", kept ? "kept" : "BROKEN");
    return !kept;
}
