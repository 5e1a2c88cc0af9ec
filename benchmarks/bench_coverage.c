/*
 * Does the uncertainty tell the truth? 1000 seeded rehearsal decks of random speed, at 20 dB SNR,
 * with 0.3 % of flutter and a sound clock somewhere within +-100 ppm: how often does the true speed lie
 * within u95 of the figure? The promise is 94 to 97 %.
 */
#include "evenspool/tape/rehearsal.h"
#include "evenspool/task/check.h"
#include "tone.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define RUNS 1000
#define RATE_HZ 16000.0
#define SECONDS 20.0
#define BLOCK 4000

static es_scenario deck(uint64_t *seed, uint64_t run)
{
    es_scenario s = es_scenario_defaults();
    s.seed = run + 1;
    s.length_s = SECONDS;
    s.speed_error = 0.04 * (test_uniform(seed) - 0.5);
    s.clock_error = 2e-4 * (test_uniform(seed) - 0.5);
    s.snr_db = 20.0;
    /* about 0.3 % weighted: noise, and the rates of capstan, roller and reel */
    s.geometry.capstan_m = 0.0019 + 0.0006 * test_uniform(seed);
    s.geometry.pinch_roller_m = 0.009 + 0.002 * test_uniform(seed);
    s.tape_position_min = 5.0 + 20.0 * test_uniform(seed);
    s.random = (es_scenario_band){.rms = 0.002, .low_hz = 0.0, .high_hz = 20.0};
    s.flutter[ES_PART_CAPSTAN][0] = 0.001;
    s.flutter[ES_PART_PINCH_ROLLER][0] = 0.0006;
    s.flutter[ES_PART_TAKE_UP][0] = 0.0004;
    return s;
}

int main(void)
{
    static float frames[2 * BLOCK];
    static es_check_result result;
    uint64_t seed = 20261125;
    int inside = 0, refused = 0;
    double u95 = 0.0, square = 0.0, flutter = 0.0;
    for (uint64_t run = 0; run < RUNS; run++) {
        es_scenario s = deck(&seed, run);
        es_check_config config = es_check_defaults(RATE_HZ, 2);
        es_rehearsal *r;
        es_check *check;
        es_error error = {0};
        config.nominal_hz = 3150.0;
        if (es_rehearsal_create(&s, RATE_HZ, &r) != ES_OK ||
            es_check_create(&config, &check, &error) != ES_OK)
            return 1;
        for (size_t at = 0; at < (size_t)(SECONDS * RATE_HZ); at += BLOCK) {
            es_rehearsal_render(r, frames, BLOCK);
            es_check_push(check, frames, BLOCK);
        }
        if (es_check_finish(check, &result, &error) != ES_OK) {
            refused++;
        } else {
            double off = result.speed.error_percent - 100.0 * s.speed_error;
            inside += fabs(off) <= result.speed.u95_percent;
            u95 += result.speed.u95_percent;
            square += off * off;
            flutter += result.flutter.weighted_two_sigma_percent;
        }
        es_check_destroy(check);
        es_rehearsal_destroy(r);
    }
    int measured = RUNS - refused;
    double share = 100.0 * inside / measured;
    printf("Speed at 20 dB SNR with flutter, %d seeded decks of %.0f s:\n", RUNS, SECONDS);
    printf(
        "  truth inside u95 in %.1f %% (94 .. 97 promised); mean u95 %.4f %%, rms error %.4f %%, "
        "weighted flutter %.2f %%, refused %d\n",
        share, u95 / measured, sqrt(square / measured), flutter / measured, refused);
    return refused > 0 || share < 94.0 || share > 97.0;
}
