/* Plays frames made by a function into a check, block by block. */
#ifndef ES_TESTS_PLAY_H
#define ES_TESTS_PLAY_H

#include "cm.h"

#include <stdlib.h>

#include "evenspool/task/check.h"

/* One frame: fills out[0 .. channels). */
typedef void frame_maker(void *who, size_t i, float *out);

static inline es_status play_frames(const es_check_config *config, frame_maker *make, void *who,
                                    size_t frames, size_t block, es_check_result *result,
                                    es_error *error)
{
    es_check *check;
    size_t channels = (size_t)config->channels;
    assert_int_equal(es_check_create(config, &check, error), ES_OK);
    float *room = malloc(block * channels * sizeof *room);
    for (size_t at = 0; at < frames; at += block) {
        size_t take = block < frames - at ? block : frames - at;
        for (size_t i = 0; i < take; i++)
            make(who, at + i, room + i * channels);
        es_check_push(check, room, take);
    }
    es_status status = es_check_finish(check, result, error);
    es_check_destroy(check);
    free(room);
    return status;
}

#endif
