/* Made-up results to draw: plausible, broken, empty and overcrowded ones. Fixed seeds. */
#ifndef ES_TESTS_SAMPLES_H
#define ES_TESTS_SAMPLES_H

#include "evenspool/base/check_result.h"

typedef enum sample {
    SAMPLE_SLOW,    /* steady and slow: adjust                        */
    SAMPLE_FAULT,   /* fast, drifting, a bad roller, gaps: look first */
    SAMPLE_GOOD,    /* on speed: leave; mono                          */
    SAMPLE_UNKNOWN, /* every figure NaN, no trace, no spectrum        */
    SAMPLE_CROWDED, /* 12 components within two octaves               */
    SAMPLE_WORDY,   /* every text as long as its room                 */
    SAMPLE_RAMP,    /* three hours, start-up ramp, 440 Hz band        */
    SAMPLE_COUNT
} sample;

const char *sample_name(sample which);
void sample_fill(sample which, es_check_result *result);

#endif
