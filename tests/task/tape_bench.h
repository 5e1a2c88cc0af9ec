/* The tape machine of tape_player.h in cmocka's words: both sides of one programme, and what came of a play. */
#ifndef ES_TESTS_TAPE_BENCH_H
#define ES_TESTS_TAPE_BENCH_H

#include "tape_player.h"

static es_programme programme;
static tape_player *side_a, *side_b;
static es_tape_result result;
static es_error error;

static int load(void **state)
{
    (void)state;
    play_build(&programme);
    side_a = play_load(&programme, 0);
    side_b = play_load(&programme, 1);
    return 0;
}

static int unload(void **state)
{
    (void)state;
    play_unload(side_a);
    play_unload(side_b);
    return 0;
}

static es_tape_read_config defaults(void)
{
    es_tape_read_config config = es_tape_read_defaults(PLAY_RATE, 2);
    config.programme = &programme;
    return config;
}

#endif
