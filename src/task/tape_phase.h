/*
 * Phase of a tone in the right channel against the left, with its uncertainty from the scatter of looks.
 *
 *   in      both channels, tuned to the tone
 *   out     phase [rad] of the whole, its standard uncertainty: the larger of what single looks of a
 *           quarter second and what means of four of them say, since heads and tape wander slowly
 *   range   300 Hz .. 0.4 rate
 *   rt      only _create allocates
 */
#ifndef ES_TASK_TAPE_PHASE_H
#define ES_TASK_TAPE_PHASE_H

#include "evenspool/base/status.h"

#include <stddef.h>

typedef struct es_tape_phase es_tape_phase;

typedef struct es_tape_phase_figures {
    int known; /* 0: no common tone, or under a second of it */
    double phase_rad, u_rad;
} es_tape_phase_figures;

es_status es_tape_phase_create(double rate_hz, es_tape_phase **out);
void es_tape_phase_destroy(es_tape_phase *phase);
/* Forgets all. ES_ERR_ARG: out of range; then _push takes nothing. */
es_status es_tape_phase_tune(es_tape_phase *phase, double tone_hz);
/* left[0], left[stride] ...; at most 1024 frames. */
#define ES_TAPE_PHASE_BLOCK 1024
void es_tape_phase_push(es_tape_phase *phase, const float *left, const float *right, size_t stride,
                        size_t frames);
es_tape_phase_figures es_tape_phase_of(const es_tape_phase *phase);

#endif
