/*
 * Noise: a small generator of our own, so that a seed means the same samples on every machine.
 *
 *   es_rng    xoshiro256++ seeded through splitmix64 (Blackman and Vigna, "Scrambled linear
 *             pseudorandom number generators", 2018/2021: the published definitions)
 *   es_gauss  standard normal numbers by the ziggurat of Marsaglia and Tsang (2000) with the
 *             128 layers of Doornik (2005)
 *   es_band   band-shaped Gaussian noise of exactly known rms: second-order high pass and low pass,
 *             begun in their steady state
 *   thread    no shared state; the tables are the caller's
 *   rt        nothing here allocates
 */
#ifndef ES_TAPE_NOISE_H
#define ES_TAPE_NOISE_H

#include <stddef.h>
#include <stdint.h>

typedef struct es_rng {
    uint64_t state[4];
} es_rng;

/* Streams of one seed are independent of each other. */
es_rng es_rng_seeded(uint64_t seed, uint64_t stream);
uint64_t es_rng_next(es_rng *rng);
double es_rng_uniform(es_rng *rng); /* 0 <= u < 1, steps of 2^-53 */

#define ES_GAUSS_LAYERS 128

typedef struct es_gauss {
    double edge[ES_GAUSS_LAYERS + 1]; /* right edges of the layers, widest first */
    double share[ES_GAUSS_LAYERS];    /* of a layer that needs no further test   */
} es_gauss;

void es_gauss_prepare(es_gauss *table);
double es_gauss_next(const es_gauss *table, es_rng *rng); /* mean 0, variance 1 */

typedef struct es_band {
    double high_pass[5], low_pass[5]; /* b0 b1 b2 a1 a2                        */
    double state[4];
    double gain; /* makes the output's rms what was asked for        */
    es_rng rng;
} es_band;

/* Noise of rms between low_hz and high_hz (-3 dB, 12 dB per octave outside);
 * 0 <= low_hz < high_hz < rate_hz / 2. rms 0 gives zeros. */
void es_band_start(es_band *band, double rms, double low_hz, double high_hz, double rate_hz,
                   es_rng rng, const es_gauss *table);
void es_band_fill(es_band *band, const es_gauss *table, double *out, size_t count);

#endif
