/*
 * A rehearsal deck, the coach that listens to it, and a hand that does as it is told, for azimuth,
 * level and balance. The delays and levels are the scenario's own: track spacing x tan(angle) / speed
 * of the tape, and decibels put in.
 */
#ifndef ES_TESTS_ALIGN_BENCH_H
#define ES_TESTS_ALIGN_BENCH_H

#include "evenspool/tape/rehearsal.h"
#include "evenspool/task/trim.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#define ALIGN_RATE 48000.0
#define ALIGN_BLOCK 2400 /* the time of a snapshot */
/* Of a cassette: 0.9 mm between the tracks, 47.625 mm/s: us of delay for a minute of arc
 * (0.9e-3 x tan(1') / 0.047625 = 5.4971 us, worked by hand). */
#define ALIGN_US_PER_ARCMIN 5.4971

typedef struct align_bench {
    es_scenario scenario;
    es_rehearsal *deck;
    es_trim *trim;
    es_screw screw;
    es_trim_snapshot now;
    double last_turn, first_turn, busy_s; /* the hand's */
    int turns, waits;
    uint64_t chance;
} align_bench;

static inline double align_uniform(uint64_t *chance)
{
    *chance = *chance * 6364136223846793005u + 1442695040888963407u;
    return (double)(*chance >> 11) * 0x1p-53;
}

/* A healthy cassette deck with broadband sound on the tape; noise per channel, full band. */
static inline es_scenario align_scenario(double delay_us, double snr_db, uint64_t seed)
{
    es_scenario s = es_scenario_defaults();
    s.seed = seed;
    s.length_s = 3600.0;
    s.carries = ES_CARRIES_BROADBAND;
    s.snr_db = snr_db;
    s.azimuth_arcmin = delay_us / ALIGN_US_PER_ARCMIN;
    s.flutter[ES_PART_CAPSTAN][0] = 5e-4;
    s.random.rms = 4e-4;
    s.azimuth_screw.anticlockwise_is_more = (int)(seed % 2);
    s.level_trimmer.anticlockwise_is_more = (int)(seed % 2);
    return s;
}

/* 0: no memory or a wrong configuration. */
static inline int align_start(align_bench *b, const es_scenario *s, const es_trim_config *c)
{
    memset(b, 0, sizeof *b);
    b->scenario = *s;
    b->chance = s->seed * 977 + 5;
    b->screw = c->adjust == ES_ADJUST_AZIMUTH                    ? ES_SCREW_AZIMUTH
               : c->adjust == ES_ADJUST_LEVEL && c->channel != 2 ? ES_SCREW_LEVEL_LEFT
                                                                 : ES_SCREW_LEVEL_RIGHT;
    return es_rehearsal_create(s, c->rate_hz, &b->deck) == ES_OK &&
           es_trim_create(c, &b->trim, NULL) == ES_OK;
}

static inline void align_stop(align_bench *b)
{
    es_trim_destroy(b->trim);
    es_rehearsal_destroy(b->deck);
    b->trim = NULL;
    b->deck = NULL;
}

/* The next snapshot's time. */
static inline void align_step(align_bench *b)
{
    static float frames[2 * ALIGN_BLOCK];
    es_rehearsal_render(b->deck, frames, ALIGN_BLOCK);
    es_trim_push(b->trim, frames, ALIGN_BLOCK);
    while (es_trim_take(b->trim, &b->now))
        ;
}

static inline void align_run(align_bench *b, double seconds)
{
    for (double from = b->now.time_s; b->now.time_s < from + seconds - 0.001;)
        align_step(b);
}

/* Seconds until that state, or NaN: it did not come. */
static inline double align_until(align_bench *b, es_trim_state state, double most_s)
{
    for (double from = b->now.time_s; b->now.time_s < from + most_s;) {
        align_step(b);
        if (b->now.state == state)
            return b->now.time_s - from;
    }
    return (double)NAN;
}

static inline void align_turn(align_bench *b, double turns)
{
    b->last_turn = turns;
    if (b->turns++ == 0)
        b->first_turn = turns;
    /* a hand trembles by a tenth of what it means to do, and by a degree and a half at least */
    double tremble = (align_uniform(&b->chance) - 0.5) * (0.2 * fabs(turns) + 0.008);
    es_rehearsal_turn(b->deck, b->screw, turns + tremble);
}

/* Does as the words say, half a second to a second after they came. a_little: of the first turn. */
static inline void align_obey(align_bench *b, double a_little)
{
    const es_trim_snapshot *s = &b->now;
    int asked =
        s->state == ES_TRIM_READING && (!isnan(s->move_factor) || strstr(s->advice, "a little"));
    if (!asked) {
        b->busy_s = s->time_s + 0.5 + 0.5 * align_uniform(&b->chance);
        b->waits = 0;
        return;
    }
    if (s->time_s < b->busy_s || (b->waits && isnan(s->unseen_factor)))
        return;
    double measure = s->move_of_first ? copysign(b->first_turn, b->last_turn) : b->last_turn;
    if (b->waits && b->turns)
        align_turn(b, b->last_turn * s->unseen_factor);
    else if (isnan(s->move_factor))
        align_turn(b, align_uniform(&b->chance) < 0.5 ? -a_little : a_little);
    else
        align_turn(b, measure * s->move_factor);
    b->busy_s = s->time_s + (b->waits ? 4.0 : 0.7);
    b->waits = 1;
}

/* The whole way, until the final reading stands. 1: it did. */
static inline int align_coached(align_bench *b, double a_little, double most_s)
{
    while (b->now.time_s < most_s && !b->now.final) {
        align_step(b);
        align_obey(b, a_little);
    }
    return b->now.final;
}

#endif
