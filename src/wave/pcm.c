#include "wave/pcm.h"

#include <sndfile.h>

#include <stdint.h>
#include <string.h>

#if defined(__x86_64__) && defined(__GNUC__)
#define HAS_SHUFFLE 1
#else
#define HAS_SHUFFLE 0
#endif

static size_t bytes_of_coding(int sf_format)
{
    switch (sf_format & SF_FORMAT_SUBMASK) {
    case SF_FORMAT_PCM_16:
        return 2;
    case SF_FORMAT_PCM_24:
        return 3;
    case SF_FORMAT_PCM_32:
        return 4;
    default:
        return 0;
    }
}

size_t es_pcm_bytes(int sf_format)
{
    int order = sf_format & SF_FORMAT_ENDMASK, known = 0;
    switch (sf_format & SF_FORMAT_TYPEMASK) {
    case SF_FORMAT_WAV:
    case SF_FORMAT_WAVEX:
    case SF_FORMAT_RF64:
    case SF_FORMAT_W64:
        known = order == SF_ENDIAN_FILE || order == SF_ENDIAN_LITTLE;
        break;
    case SF_FORMAT_RAW:
        known = order == SF_ENDIAN_LITTLE;
        break;
    default:
        break;
    }
    int one = 1, little_machine = *(const char *)&one;
    return known && little_machine ? bytes_of_coding(sf_format) : 0;
}

static void from_16(const unsigned char *restrict bytes, size_t count, float *restrict out)
{
    for (size_t i = 0; i < count; i++) {
        int16_t value;
        memcpy(&value, bytes + 2 * i, sizeof value);
        out[i] = (float)value * 0x1p-15f;
    }
}

static void from_24(const unsigned char *restrict bytes, size_t count, float *restrict out)
{
    for (size_t i = 0; i < count; i++) {
        const unsigned char *b = bytes + 3 * i;
        uint32_t value = (uint32_t)b[0] << 8 | (uint32_t)b[1] << 16 | (uint32_t)b[2] << 24;
        out[i] = (float)(int32_t)value * 0x1p-31f;
    }
}

static void from_32(const unsigned char *restrict bytes, size_t count, float *restrict out)
{
    for (size_t i = 0; i < count; i++) {
        int32_t value;
        memcpy(&value, bytes + 4 * i, sizeof value);
        out[i] = (float)value * 0x1p-31f;
    }
}

#if HAS_SHUFFLE
/* Eight samples at a time, out of two times sixteen bytes; returns how many it did. */
__attribute__((target("avx2"))) static size_t from_24_shuffled(const unsigned char *restrict bytes,
                                                               size_t count, float *restrict out)
{
    typedef uint8_t half __attribute__((vector_size(16)));
    typedef uint8_t vector __attribute__((vector_size(32)));
    typedef int32_t whole __attribute__((vector_size(32)));
    typedef float real __attribute__((vector_size(32)));
    size_t i = 0;
    for (; 3 * i + 28 <= 3 * count; i += 8) {
        half low, high;
        memcpy(&low, bytes + 3 * i, sizeof low);
        memcpy(&high, bytes + 3 * i + 12, sizeof high);
        vector x =
            __builtin_shufflevector(low, high, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15,
                                    16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31);
        x = __builtin_shufflevector(x, x, 0, 0, 1, 2, 3, 3, 4, 5, 6, 6, 7, 8, 9, 9, 10, 11, /**/
                                    16, 16, 17, 18, 19, 19, 20, 21, 22, 22, 23, 24, 25, 25, 26, 27);
        whole value = (whole)x & -256; /* the lowest byte was a stopgap */
        real y = __builtin_convertvector(value, real) * 0x1p-31f;
        memcpy(out + i, &y, sizeof y);
    }
    return i;
}
#endif

void es_pcm_to_float(const unsigned char *bytes, size_t sample_bytes, size_t count, float *out)
{
    size_t done = 0;
    if (sample_bytes == 2)
        from_16(bytes, count, out);
    else if (sample_bytes == 4)
        from_32(bytes, count, out);
    else {
#if HAS_SHUFFLE
        if (__builtin_cpu_supports("avx2"))
            done = from_24_shuffled(bytes, count, out);
#endif
        from_24(bytes + 3 * done, count - done, out + done);
    }
}
