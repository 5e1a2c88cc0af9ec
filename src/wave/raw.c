#include "wave/raw.h"

#include "wave/limits.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

static const struct {
    const char *name;
    int bits;
} codings[] = {
    [ES_CODING_NONE] = {"", 0},        [ES_CODING_S8] = {"s8", 8},
    [ES_CODING_U8] = {"u8", 8},        [ES_CODING_S16LE] = {"s16le", 16},
    [ES_CODING_S16BE] = {"s16be", 16}, [ES_CODING_S24LE] = {"s24le", 24},
    [ES_CODING_S24BE] = {"s24be", 24}, [ES_CODING_S32LE] = {"s32le", 32},
    [ES_CODING_S32BE] = {"s32be", 32}, [ES_CODING_F32LE] = {"f32le", 32},
    [ES_CODING_F32BE] = {"f32be", 32}, [ES_CODING_F64LE] = {"f64le", 64},
    [ES_CODING_F64BE] = {"f64be", 64}, [ES_CODING_ALAW] = {"alaw", 8},
    [ES_CODING_ULAW] = {"ulaw", 8},
};
_Static_assert(sizeof codings / sizeof *codings == ES_CODING_COUNT, "one row per coding");

int es_wave_coding_bits(es_wave_coding coding)
{
    return (unsigned)coding < ES_CODING_COUNT ? codings[coding].bits : 0;
}

const char *es_wave_coding_name(es_wave_coding coding)
{
    return (unsigned)coding < ES_CODING_COUNT ? codings[coding].name : "";
}

/* A whole number up to `end`, or -1. */
static long whole_number(const char *text, char end, const char **after)
{
    char *stop = NULL;
    errno = 0;
    long value = *text >= '0' && *text <= '9' ? strtol(text, &stop, 10) : -1;
    if (value < 0 || errno || *stop != end)
        return -1;
    *after = stop + (end != '\0');
    return value;
}

static es_wave_coding coding_named(const char *name, size_t length)
{
    for (int i = 1; i < ES_CODING_COUNT; i++)
        if (strlen(codings[i].name) == length && strncmp(codings[i].name, name, length) == 0)
            return (es_wave_coding)i;
    return ES_CODING_NONE;
}

es_status es_wave_raw_parse(const char *text, es_wave_raw *out, es_error *error)
{
    *out = (es_wave_raw){0};
    size_t length = strcspn(text, ",");
    es_wave_coding coding = coding_named(text, length);
    if (coding == ES_CODING_NONE || text[length] != ',')
        return es_fail(error, ES_ERR_ARG, "raw",
                       "Raw samples are described as CODING,RATE,CHANNELS, for example "
                       "s16le,48000,2; codings are s8 u8 s16le s16be s24le s24be s32le s32be "
                       "f32le f32be f64le f64be alaw ulaw.");
    const char *rest = text + length + 1;
    long rate = whole_number(rest, ',', &rest);
    if (rate < ES_WAVE_RATE_MIN_HZ || rate > ES_WAVE_RATE_MAX_HZ)
        return es_fail(error, ES_ERR_ARG, "raw",
                       "The second part of a raw description is the sample rate, %d to %d Hz.",
                       ES_WAVE_RATE_MIN_HZ, ES_WAVE_RATE_MAX_HZ);
    long channels = whole_number(rest, '\0', &rest);
    if (channels < 1 || channels > ES_WAVE_CHANNELS_MOST)
        return es_fail(error, ES_ERR_ARG, "raw",
                       "The third part of a raw description is the number of channels, 1 to %d.",
                       ES_WAVE_CHANNELS_MOST);
    *out = (es_wave_raw){coding, (int)rate, (int)channels};
    return ES_OK;
}
