/* What a programme for tests has but its sections: one side for a cassette deck. */
#ifndef ES_TESTS_TINY_PROGRAMME_H
#define ES_TESTS_TINY_PROGRAMME_H

#include "evenspool/base/programme.h"

/* First in an initialiser, before .side. */
#define TINY_PROGRAMME                                                                             \
    .name = "tiny", .transport = "cassette", .equalisation = "120", .reference_nwb_m = 250.0,      \
    .marker_db = -10.0, .broad_low_hz = 200.0, .broad_high_hz = 16000.0, .side_most_s = 1800.0,    \
    .side_count = 1

#endif
