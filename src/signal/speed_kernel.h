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
    size_t taps;    /* weights in a row, a multiple of ES_FIR_LANES */
    size_t rows;    /* steps of the fraction; one row more than that */
    float *weights; /* ES_KERNEL_WEIGHTS, the owner's memory */
} es_speed_kernel;

/* Flat to pass_hz, closed at stop_hz, for phase steps at hop_hz. */
void es_speed_kernel_fill(es_speed_kernel *kernel, double hop_hz, double pass_hz, double stop_hz);

/*
 * Weights for an instant `fraction` (0 .. 1) of a hop past phasor n lie between *low and *high, which
 * follow each other, at *part (0 .. 1) of the way; they belong to the steps that end at phasors
 * n - taps/2 + 1 .. n + taps/2.
 */
void es_speed_kernel_rows(const es_speed_kernel *kernel, double fraction, const float **low,
                          const float **high, double *part);

#endif
