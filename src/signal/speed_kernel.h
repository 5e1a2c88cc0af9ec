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

#define ES_KERNEL_WEIGHTS (512 * 160) /* room for all rows */

typedef struct es_speed_kernel {
    size_t taps; /* weights in a row, a multiple of ES_FIR_LANES */
    size_t rows;
    float *weights; /* ES_KERNEL_WEIGHTS, the owner's memory */
} es_speed_kernel;

/* Flat to pass_hz, closed at stop_hz, for phase steps at hop_hz. */
void es_speed_kernel_fill(es_speed_kernel *kernel, double hop_hz, double pass_hz, double stop_hz);

/* The row for an instant `fraction` (0 .. 1) of a hop past phasor n; its weights belong to the
 * steps that end at phasors n - taps/2 + 1 .. n + taps/2. */
const float *es_speed_kernel_row(const es_speed_kernel *kernel, double fraction);

#endif
