/*
 * How near the frequency estimate comes to the Cramer-Rao bound: variance over many windows of a
 * steady tone in white noise, divided by the bound for the window's length. 1 is perfect; the promise is
 * at most 1.1 from 15 to 60 dB SNR and 0.1 to 10 s.
 *
 * The window is T seconds of readings. The tracker's filters look a little beyond its ends (2 x 18 ms
 * with the quick kernel), as they do in a running stream.
 */
#include "evenspool/signal/tone_fit.h"
#include "evenspool/signal/tone_tracker.h"
#include "tone.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define RATE_HZ 48000.0
#define SECONDS 2000
#define BLOCK 4800

static const double windows_s[] = {0.1, 1.0, 10.0};
#define WINDOWS (sizeof windows_s / sizeof *windows_s)

typedef struct tally {
    es_tone_fit fit;
    double square, fourth;
    size_t count;
} tally;

static void finish_window(tally *t)
{
    double e = es_tone_fit_value(&t->fit), e2 = e * e;
    t->square += e2;
    t->fourth += e2 * e2;
    t->count++;
    t->fit = (es_tone_fit){0};
}

static void run(double snr_db, tally *tallies)
{
    double amplitude = 0.3, true_hz = 3150.0 * 1.004;
    test_tone tone = {.rate_hz = RATE_HZ,
                      .tone_hz = 3150,
                      .amplitude = amplitude,
                      .error = 0.004,
                      .noise_rms = amplitude / sqrt(2.0) * pow(10.0, -snr_db / 20.0),
                      .seed = (uint64_t)(snr_db * 1000.0)};
    static float sound[BLOCK];
    static es_tone_reading readings[BLOCK];
    es_tone_tracker *tracker;
    if (es_tone_tracker_create(RATE_HZ, ES_TRACKER_QUICK, &tracker) != ES_OK ||
        es_tone_tracker_tune(tracker, 3160.0, amplitude) != ES_OK)
        exit(1);
    for (size_t at = 0; at < (size_t)(SECONDS * RATE_HZ); at += BLOCK) {
        size_t count;
        test_tone_fill(&tone, at, sound, 1, BLOCK);
        es_tone_tracker_process(tracker, sound, 1, BLOCK, readings, BLOCK, &count);
        for (size_t i = 0; i < count; i++)
            for (size_t w = 0; w < WINDOWS; w++) {
                es_tone_fit_push(&tallies[w].fit, readings[i].hz - true_hz);
                if (tallies[w].fit.count >= (size_t)(windows_s[w] * ES_READINGS_HZ + 0.5))
                    finish_window(&tallies[w]);
            }
    }
    es_tone_tracker_destroy(tracker);
}

int main(void)
{
    static const double snrs_db[] = {15.0, 20.0, 40.0, 60.0};
    int within = 1;
    printf("Frequency of a steady 3150 Hz tone, 48 kHz: variance over Cramer-Rao bound (+- its own "
           "standard error)\n");
    for (size_t s = 0; s < sizeof snrs_db / sizeof *snrs_db; s++) {
        tally tallies[WINDOWS] = {0};
        run(snrs_db[s], tallies);
        printf("  %2.0f dB:", snrs_db[s]);
        for (size_t w = 0; w < WINDOWS; w++) {
            double n = (double)tallies[w].count, mean = tallies[w].square / n;
            double spread = sqrt((tallies[w].fourth / n - mean * mean) / n);
            double bound =
                es_frequency_bound_hz(RATE_HZ, windows_s[w], pow(10.0, snrs_db[s] / 10.0));
            double ratio = mean / (bound * bound), error = spread / (bound * bound);
            printf("  %4.1f s %.3f +- %.3f (%zu)", windows_s[w], ratio, error, tallies[w].count);
            within &= ratio - 2.0 * error <= 1.1;
        }
        printf("\n");
    }
    printf("  promise: at most 1.1: %s\n", within ? "kept" : "BROKEN");
    return !within;
}
