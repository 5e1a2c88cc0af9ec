#include "wave/coding.h"

#include <sndfile.h>

int es_wave_sf_coding(es_wave_coding coding)
{
    static const int of[ES_CODING_COUNT] = {
        [ES_CODING_S8] = SF_FORMAT_PCM_S8,
        [ES_CODING_U8] = SF_FORMAT_PCM_U8,
        [ES_CODING_S16LE] = SF_FORMAT_PCM_16 | SF_ENDIAN_LITTLE,
        [ES_CODING_S16BE] = SF_FORMAT_PCM_16 | SF_ENDIAN_BIG,
        [ES_CODING_S24LE] = SF_FORMAT_PCM_24 | SF_ENDIAN_LITTLE,
        [ES_CODING_S24BE] = SF_FORMAT_PCM_24 | SF_ENDIAN_BIG,
        [ES_CODING_S32LE] = SF_FORMAT_PCM_32 | SF_ENDIAN_LITTLE,
        [ES_CODING_S32BE] = SF_FORMAT_PCM_32 | SF_ENDIAN_BIG,
        [ES_CODING_F32LE] = SF_FORMAT_FLOAT | SF_ENDIAN_LITTLE,
        [ES_CODING_F32BE] = SF_FORMAT_FLOAT | SF_ENDIAN_BIG,
        [ES_CODING_F64LE] = SF_FORMAT_DOUBLE | SF_ENDIAN_LITTLE,
        [ES_CODING_F64BE] = SF_FORMAT_DOUBLE | SF_ENDIAN_BIG,
        [ES_CODING_ALAW] = SF_FORMAT_ALAW,
        [ES_CODING_ULAW] = SF_FORMAT_ULAW,
    };
    return (unsigned)coding < ES_CODING_COUNT ? of[coding] : 0;
}

int es_wave_sf_bits(int format)
{
    switch (format & SF_FORMAT_SUBMASK) {
    case SF_FORMAT_PCM_S8:
    case SF_FORMAT_PCM_U8:
    case SF_FORMAT_DPCM_8:
    case SF_FORMAT_ULAW:
    case SF_FORMAT_ALAW:
        return 8;
    case SF_FORMAT_DWVW_12:
        return 12;
    case SF_FORMAT_PCM_16:
    case SF_FORMAT_ALAC_16:
    case SF_FORMAT_DPCM_16:
    case SF_FORMAT_DWVW_16:
        return 16;
    case SF_FORMAT_ALAC_20:
        return 20;
    case SF_FORMAT_PCM_24:
    case SF_FORMAT_ALAC_24:
    case SF_FORMAT_DWVW_24:
        return 24;
    case SF_FORMAT_PCM_32:
    case SF_FORMAT_ALAC_32:
    case SF_FORMAT_FLOAT:
        return 32;
    case SF_FORMAT_DOUBLE:
        return 64;
    default:
        return 0;
    }
}

static es_wave_coding whole_numbers(int bits)
{
    switch (bits) {
    case 8:
        return ES_CODING_U8; /* WAV: up to 8 bit without a sign */
    case 16:
        return ES_CODING_S16LE;
    case 24:
        return ES_CODING_S24LE;
    case 32:
        return ES_CODING_S32LE;
    default:
        return ES_CODING_NONE;
    }
}

es_wave_coding es_wave_coding_of_riff(const es_riff *riff)
{
    switch (riff->tag) {
    case ES_RIFF_PCM:
        return whole_numbers(riff->bits);
    case ES_RIFF_FLOAT:
        return riff->bits == 32   ? ES_CODING_F32LE
               : riff->bits == 64 ? ES_CODING_F64LE
                                  : ES_CODING_NONE;
    case ES_RIFF_ALAW:
        return riff->bits == 8 ? ES_CODING_ALAW : ES_CODING_NONE;
    case ES_RIFF_ULAW:
        return riff->bits == 8 ? ES_CODING_ULAW : ES_CODING_NONE;
    default:
        return ES_CODING_NONE;
    }
}
