#include "wave/riff.h"

#include <string.h>

#define EXTENSIBLE 0xFFFE
#define FORMAT_LEAST 16      /* bytes of the shortest format chunk               */
#define SUB_FORMAT_AT 24     /* in an extensible one                             */
#define UNKNOWN32 0xFFFFFFFF /* "see elsewhere" in RF64, "not known" in a stream */

static int64_t number(const unsigned char *at, int bytes)
{
    uint64_t value = 0;
    for (int i = bytes; i-- > 0;)
        value = value << 8 | at[i];
    return value > INT64_MAX ? INT64_MAX : (int64_t)value;
}

static void take_format(es_riff *riff, const unsigned char *chunk, size_t size)
{
    if (size < FORMAT_LEAST)
        return;
    riff->tag = (int)number(chunk, 2);
    riff->channels = (int)number(chunk + 2, 2);
    riff->rate_hz = number(chunk + 4, 4);
    if (riff->channels > 0) /* the container's, which may be wider than the samples */
        riff->bits = 8 * (int)number(chunk + 12, 2) / riff->channels;
    if (riff->tag == EXTENSIBLE && size >= SUB_FORMAT_AT + 2)
        riff->tag = (int)number(chunk + SUB_FORMAT_AT, 2);
    riff->format_seen = 1;
}

/*
 * Lengths that programs write into a stream's head: all ones, or just below 2 GiB or 4 GiB
 * (common practice, no source).
 */
static int is_marker(int64_t bytes)
{
    return bytes >= 0xFFFFFF00 || (bytes >= 0x7FFFF000 && bytes <= 0x7FFFFFFF);
}

static void take_data(es_riff *riff, int64_t at, int64_t bytes, int64_t bytes64)
{
    riff->data_seen = 1;
    riff->data_at = at;
    riff->data_bytes = bytes64 >= 0 && bytes == UNKNOWN32 ? bytes64 : bytes;
    riff->endless = bytes64 < 0 && is_marker(bytes);
}

es_riff es_riff_read(es_wave_bytes *bytes)
{
    es_riff riff = {0};
    unsigned char head[12];
    if (es_wave_bytes_read(bytes, 0, head, sizeof head) < sizeof head)
        return riff;
    riff.wave = (memcmp(head, "RIFF", 4) == 0 || memcmp(head, "RF64", 4) == 0) &&
                memcmp(head + 8, "WAVE", 4) == 0;
    riff.riff_bytes = number(head + 4, 4);
    int64_t at = sizeof head, bytes64 = -1;
    while (riff.wave && !riff.data_seen) {
        unsigned char chunk[8 + 40] = {0};
        size_t got = es_wave_bytes_read(bytes, at, chunk, sizeof chunk);
        if (got < 8)
            break;
        int64_t size = number(chunk + 4, 4);
        size_t here = size < (int64_t)(got - 8) ? (size_t)size : got - 8;
        if (memcmp(chunk, "ds64", 4) == 0 && here >= 16) {
            riff.riff_bytes = number(chunk + 8, 8);
            bytes64 = number(chunk + 16, 8);
        } else if (memcmp(chunk, "fmt ", 4) == 0) {
            take_format(&riff, chunk + 8, here);
        } else if (memcmp(chunk, "data", 4) == 0) {
            take_data(&riff, at + 8, size, bytes64);
        }
        at += 8 + size + (size & 1);
    }
    return riff;
}
