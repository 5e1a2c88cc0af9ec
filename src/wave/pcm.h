/*
 * Plain whole-number samples to floats, faster than the audio library and with the same bits.
 *
 *   in      little-endian samples of 16, 24 or 32 bit, as they lie in WAV files
 *   out     value / full scale, rounded once to float: -1.0 .. 1.0
 *   thread  any
 *   rt      never allocates, locks or calls the system
 */
#ifndef ES_WAVE_PCM_H
#define ES_WAVE_PCM_H

#include <stddef.h>

/* Bytes of a sample when a file of this library format can be converted here; 0: it can't. */
size_t es_pcm_bytes(int sf_format);

/* sample_bytes 2, 3 or 4. The memories must not overlap. */
void es_pcm_to_float(const unsigned char *bytes, size_t sample_bytes, size_t count, float *out);

#endif
