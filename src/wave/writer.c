#include "wave/writer.h"

#include "wave/new_file.h"

#include <sndfile.h>

#include <errno.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define WAV_MOST 4290000000 /* bytes of samples that a plain WAV file can hold, head and all */

#define BLOCK 2048 /* samples rounded at once */

struct es_wave_writer {
    SNDFILE *file;
    int as_float;
    size_t channels;
    int64_t bytes_left, frame_bytes;
    es_new_file place;
};

/*
 * RF64 that is not needed turns into plain WAV when closed (SFC_RF64_AUTO_DOWNGRADE). Float samples
 * go into plain WAV: into RF64 the library would write the time of day (its PEAK chunk).
 */
static int container_of(const char *path, int as_float)
{
    static const struct {
        const char *ending;
        int container;
    } kinds[] = {{".wav", SF_FORMAT_RF64},
                 {".w64", SF_FORMAT_W64},
                 {".aiff", SF_FORMAT_AIFF},
                 {".aif", SF_FORMAT_AIFF},
                 {".flac", SF_FORMAT_FLAC}};
    size_t length = strlen(path);
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        size_t ending = strlen(kinds[i].ending);
        if (length > ending && strcasecmp(path + length - ending, kinds[i].ending) == 0)
            return as_float && kinds[i].container == SF_FORMAT_RF64 ? SF_FORMAT_WAV
                                                                    : kinds[i].container;
    }
    return 0;
}

static es_status choose_format(const char *path, const es_wave_writer_settings *settings,
                               SF_INFO *info, es_error *error)
{
    int container = container_of(path, settings->as_float);
    *info =
        (SF_INFO){.samplerate = settings->rate_hz,
                  .channels = settings->channels,
                  .format = container | (settings->as_float ? SF_FORMAT_FLOAT : SF_FORMAT_PCM_24)};
    if (container == 0)
        return es_fail(error, ES_ERR_ARG, "wave-kind",
                       "The ending of the name says what is written: .wav, .flac, .aiff or .w64.");
    if (!sf_format_check(info))
        return es_fail(error, ES_ERR_ARG, "wave-kind",
                       "A file of that kind can't hold %d channels of %s samples at %d Hz; write a "
                       ".wav file.",
                       settings->channels, settings->as_float ? "float" : "24 bit",
                       settings->rate_hz);
    return ES_OK;
}

static es_status open_file(es_wave_writer *writer, SF_INFO *info, es_error *error)
{
    errno = 0;
    writer->file = sf_open_fd(writer->place.fd, SFM_WRITE, info, SF_FALSE);
    if (!writer->file && errno == ENOSPC)
        return es_new_file_refused(errno, error);
    if (!writer->file)
        return es_fail(error, ES_ERR_IO, "write-failed",
                       "It can't be written (%s); name another place.", sf_strerror(NULL));
    sf_command(writer->file, SFC_SET_CLIPPING, NULL, SF_TRUE);
    sf_command(writer->file, SFC_SET_ADD_PEAK_CHUNK, NULL, SF_FALSE); /* it holds the time of day */
    sf_command(writer->file, SFC_RF64_AUTO_DOWNGRADE, NULL, SF_TRUE);
    return ES_OK;
}

es_status es_wave_writer_open(const char *path, const es_wave_writer_settings *settings,
                              es_wave_writer **out, es_error *error)
{
    *out = NULL;
    SF_INFO info;
    es_status status = choose_format(path, settings, &info, error);
    if (status != ES_OK)
        return status;
    es_wave_writer *writer = calloc(1, sizeof *writer);
    if (!writer)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to write it.");
    int plain = (info.format & SF_FORMAT_TYPEMASK) == SF_FORMAT_WAV;
    writer->bytes_left = plain ? WAV_MOST : INT64_MAX;
    writer->as_float = settings->as_float;
    writer->channels = (size_t)settings->channels;
    writer->frame_bytes = (int64_t)settings->channels * (settings->as_float ? 4 : 3);
    status = es_new_file_open(&writer->place, path, settings->replace, error);
    if (status == ES_OK)
        status = open_file(writer, &info, error);
    if (status == ES_OK)
        *out = writer;
    else
        es_wave_writer_drop(writer);
    return status;
}

/* To the nearest step of 24 bit, the same in every kind of file: the library would round down in some. */
static int whole_of(float sample)
{
    double steps = (double)sample * 0x1p23;
    double held = steps > 0x1p23 - 1.0 ? 0x1p23 - 1.0 : steps > -0x1p23 ? steps : -0x1p23;
    return (int)lrint(held) * 256;
}

/* 0: not all of it. */
static int write_samples(es_wave_writer *writer, const float *samples, size_t count)
{
    int whole[BLOCK];
    if (writer->as_float)
        return sf_write_float(writer->file, samples, (sf_count_t)count) == (sf_count_t)count;
    for (size_t done = 0; done < count;) {
        size_t now = count - done < BLOCK ? count - done : BLOCK;
        for (size_t i = 0; i < now; i++)
            whole[i] = whole_of(samples[done + i]);
        if (sf_write_int(writer->file, whole, (sf_count_t)now) != (sf_count_t)now)
            return 0;
        done += now;
    }
    return 1;
}

es_status es_wave_writer_write(es_wave_writer *writer, const float *frames, size_t count,
                               es_error *error)
{
    int64_t bytes = (int64_t)count * writer->frame_bytes;
    if (bytes > writer->bytes_left)
        return es_fail(
            error, ES_ERR_IO, "too-long",
            "A WAV file of float samples can't be longer than 4 GiB; write a .w64 file.");
    writer->bytes_left -= bytes;
    errno = 0;
    if (write_samples(writer, frames, count * writer->channels))
        return ES_OK;
    return es_new_file_refused(errno, error);
}

es_status es_wave_writer_keep(es_wave_writer *writer, es_error *error)
{
    errno = 0;
    int fault = sf_close(writer->file);
    writer->file = NULL;
    if (fault != 0) {
        es_status status = es_new_file_refused(errno, error);
        es_wave_writer_drop(writer);
        return status;
    }
    es_status status = es_new_file_keep(&writer->place, error);
    free(writer);
    return status;
}

void es_wave_writer_drop(es_wave_writer *writer)
{
    if (!writer)
        return;
    if (writer->file)
        sf_close(writer->file);
    es_new_file_drop(&writer->place);
    free(writer);
}
