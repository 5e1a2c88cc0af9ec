/*
 * A deck made sample by sample in double for the coach's tests: its speed heads for `heading` with
 * the time constant motor_s (0: at once), three swings ride on it, and the tone is the integral of
 * it. Also keeps every snapshot of the coach that listens.
 */
#ifndef ES_TESTS_TRIM_PLAYER_H
#define ES_TESTS_TRIM_PLAYER_H

#include "cm.h"
#include "evenspool/task/trim.h"
#include "tone.h"

#include <string.h>

#define PLAYER_RATE 16000.0
#define PLAYER_BLOCK 800
#define PLAYER_SNAPSHOTS 4000

typedef struct player {
    double tone_hz, level, noise_rms;
    double speed, heading, motor_s; /* errors, fraction; speed -1: standing still */
    double swing[3], swing_hz[3];
    double phase, time_s;
    uint64_t seed;
    es_trim *trim;
    size_t count;
    es_trim_snapshot shot[PLAYER_SNAPSHOTS];
} player;

static player deck; /* one at a time */

static inline es_trim_config player_config(void)
{
    es_trim_config c = es_trim_defaults(PLAYER_RATE, 1);
    c.nominal_hz = 3150.0;
    return c;
}

/* 40 dB, 0.05 % of capstan, 0.03 % of roller, 0.02 % of reel. */
static inline void player_start(const es_trim_config *config, double error)
{
    memset(&deck, 0, sizeof deck);
    deck.tone_hz = 3150.0;
    deck.level = 0.3;
    deck.noise_rms = 0.3 / sqrt(2.0) / 100.0;
    deck.speed = deck.heading = error;
    double swing[3] = {5e-4, 3e-4, 2e-4}, hz[3] = {7.51, 1.52, 0.69};
    memcpy(deck.swing, swing, sizeof swing);
    memcpy(deck.swing_hz, hz, sizeof hz);
    deck.seed = 4711;
    assert_int_equal(es_trim_create(config, &deck.trim, NULL), ES_OK);
}

static inline void player_stop(void)
{
    es_trim_destroy(deck.trim);
    deck.trim = NULL;
}

static inline void player_fill(float *out, size_t frames)
{
    for (size_t i = 0; i < frames; i++) {
        double keep = deck.motor_s > 0.0 ? exp(-1.0 / (deck.motor_s * PLAYER_RATE)) : 0.0;
        deck.speed = deck.heading + keep * (deck.speed - deck.heading);
        double swing = 0.0;
        for (int k = 0; k < 3; k++)
            swing += deck.swing[k] * sin(TONE_TWO_PI * deck.swing_hz[k] * deck.time_s);
        double runs = 1.0 + deck.speed;
        deck.phase += deck.tone_hz * runs * (1.0 + swing) / PLAYER_RATE;
        deck.phase -= floor(deck.phase);
        double tone = runs > 0.3 ? deck.level * sin(TONE_TWO_PI * deck.phase) : 0.0;
        out[i] = (float)(tone + deck.noise_rms * test_gauss(&deck.seed));
        deck.time_s += 1.0 / PLAYER_RATE;
    }
}

static inline void player_keep(void)
{
    while (deck.count < PLAYER_SNAPSHOTS && es_trim_take(deck.trim, &deck.shot[deck.count]))
        deck.count++;
}

static inline void player_run(double seconds)
{
    static float frames[PLAYER_BLOCK];
    for (size_t left = (size_t)(seconds * PLAYER_RATE + 0.5); left > 0;) {
        size_t take = left < PLAYER_BLOCK ? left : PLAYER_BLOCK;
        player_fill(frames, take);
        es_trim_push(deck.trim, frames, take);
        player_keep();
        left -= take;
    }
}

static inline const es_trim_snapshot *player_now(void)
{
    assert_true(deck.count > 0);
    return &deck.shot[deck.count - 1];
}

/* Runs until a snapshot with that state comes; fails after `most_s`. Returns the time it took. */
static inline double player_until(es_trim_state state, double most_s)
{
    double from = deck.time_s;
    while (deck.time_s < from + most_s) {
        player_run(0.05);
        if (deck.count && player_now()->state == state)
            return deck.time_s - from;
    }
    fail_msg("state %d did not come within %g s; now %d: %s", (int)state, most_s,
             (int)player_now()->state, player_now()->advice);
    return 0.0;
}

/* Was that state shown in the snapshots since number `from`? */
static inline int player_saw(es_trim_state state, size_t from)
{
    for (size_t i = from; i < deck.count; i++)
        if (deck.shot[i].state == state)
            return 1;
    return 0;
}

/* Rules that hold for every snapshot whatever happens. */
static inline void player_check_rules(void)
{
    for (size_t i = 0; i < deck.count; i++) {
        const es_trim_snapshot *s = &deck.shot[i];
        int shown = s->state == ES_TRIM_READING || s->state == ES_TRIM_THERE;
        assert_int_equal(shown, !isnan(s->error_percent));
        assert_int_equal(shown, !isnan(s->u95_percent));
        assert_int_equal(shown, !isnan(s->averaged_s));
        if (shown)
            assert_true(s->u95_percent > 0.0 && s->averaged_s > 0.0);
        if (s->state == ES_TRIM_THERE && !s->final)
            assert_true(fabs(s->error_percent - s->target_percent) + s->u95_percent <=
                        s->tolerance_percent * (1.0 + 1e-9));
        if (s->state != ES_TRIM_READING)
            assert_true(isnan(s->move_factor) && isnan(s->unseen_factor));
        assert_int_equal(s->final, !isnan(s->final_percent));
        assert_true(s->advice[0] && s->advice[strlen(s->advice) - 1] != ' ');
        assert_true(strlen(s->advice) < ES_ADVICE_ROOM - 1); /* not cut */
        char last = s->advice[strlen(s->advice) - 1];
        assert_true(last == '.' || last == '?');
        assert_near(s->time_s, 0.05 * (double)(i + 1), 1.0 / PLAYER_RATE);
    }
}

#endif
