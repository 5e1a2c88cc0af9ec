/* How samples are coded, in the words of the audio library, of WAV files, and ours. */
#ifndef ES_WAVE_CODING_H
#define ES_WAVE_CODING_H

#include "wave/raw.h"
#include "wave/riff.h"

/* The library's sub-format and byte order; 0 for ES_CODING_NONE. */
int es_wave_sf_coding(es_wave_coding coding);

/* Bits per sample of the library's format; 0: a lossy coding that has none. */
int es_wave_sf_bits(int format);

/* ES_CODING_NONE: a coding that we don't read by ourselves. */
es_wave_coding es_wave_coding_of_riff(const es_riff *riff);

#endif
