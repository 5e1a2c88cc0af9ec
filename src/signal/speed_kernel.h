/*
 * Speed kernel: frequency at any instant out of evenly spaced phase steps.
 *
 * A row holds the weights for one fraction of a hop; weights of a row sum to 1. The kernel is the
 * derivative of a windowed-sinc low pass, summed by parts, so that the averaging which a phase
 * step does over its hop is undone exactly inside the pass band.
 */
#ifndef ES_SIGNAL_SPEED_KERNEL_H
#define ES_SIGNAL_SPEED_KERNEL_H

#include <stddef.h>

#define ES_KERNEL_ROWS 25
#define ES_KERNEL_TAPS 3200
#define ES_KERNEL_WEIGHTS ((size_t)ES_KERNEL_ROWS * ES_KERNEL_TAPS) /* room for all rows */

typedef struct es_speed_kernel {
    size_t taps; /* weights in a row, a multiple of ES_FIR_LANES */
    float *
        weights; /* ES_KERNEL_WEIGHTS, the owner's memory; few enough in use for the nearest cache */
} es_speed_kernel;

/* Flat to pass_hz, closed at stop_hz, for phase steps at hop_hz. */
void es_speed_kernel_fill(es_speed_kernel *kernel, double hop_hz, double pass_hz, double stop_hz);

/* An instant `fraction` (0 .. 1) of a hop past a phasor, worked out before it is needed. */
typedef struct es_speed_spot {
    size_t row;  /* the first of four */
    float by[4]; /* their shares      */
} es_speed_spot;

void es_speed_kernel_spot(double fraction, es_speed_spot *spot);

/*
 * Phase step per hop at a spot past phasor n, from the `taps` steps that end at phasors
 * n - taps/2 + 1 .. n + taps/2.
 */
double es_speed_kernel_at(const es_speed_kernel *kernel, const es_speed_spot *spot,
                          const float *steps);

#endif
