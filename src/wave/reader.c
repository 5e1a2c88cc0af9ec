#include "wave/reader.h"

#include "wave/bytes.h"
#include "wave/coding.h"
#include "wave/pcm.h"
#include "wave/riff.h"

#include <sndfile.h>

#include <stdlib.h>
#include <string.h>

#define PCM_ROOM 24576 /* bytes converted at a time: they stay near the processor */

struct es_wave_reader {
    SNDFILE *file;
    es_wave_facts facts;
    int64_t frames_read;
    int ended;
    es_notes warnings;
    es_wave_bytes bytes;
    size_t pcm_bytes; /* of a sample that we convert; 0: the library does it */
    unsigned char pcm[PCM_ROOM];
};

/* --- the library's view of the bytes ---------------------------------------------- */

static sf_count_t vio_size(void *who)
{
    return ((es_wave_bytes *)who)->size;
}

static sf_count_t vio_seek(sf_count_t offset, int whence, void *who)
{
    es_wave_bytes *bytes = who;
    int64_t from = whence == SEEK_SET ? 0 : whence == SEEK_CUR ? bytes->at : bytes->size;
    if (offset > ES_WAVE_ENDLESS || offset < -ES_WAVE_ENDLESS || from + offset < 0)
        return -1;
    bytes->at = from + offset;
    return bytes->at;
}

static sf_count_t vio_read(void *out, sf_count_t count, void *who)
{
    es_wave_bytes *bytes = who;
    if (count <= 0)
        return 0;
    size_t got = es_wave_bytes_read(bytes, bytes->at, out, (size_t)count);
    bytes->at += (int64_t)got;
    return (sf_count_t)got;
}

static sf_count_t vio_tell(void *who)
{
    return ((es_wave_bytes *)who)->at;
}

static SNDFILE *open_with_library(es_wave_reader *reader, SF_INFO *info)
{
    static SF_VIRTUAL_IO io = {vio_size, vio_seek, vio_read, NULL, vio_tell};
    reader->bytes.at = 0;
    reader->file = sf_open_virtual(&io, SFM_READ, info, &reader->bytes);
    reader->pcm_bytes = reader->file ? es_pcm_bytes(info->format) : 0;
    return reader->file;
}

/* --- what it is -------------------------------------------------------------------- */

static es_status check_rate(double rate_hz, es_error *error)
{
    if (rate_hz >= ES_WAVE_RATE_MIN_HZ && rate_hz <= ES_WAVE_RATE_MAX_HZ)
        return ES_OK;
    return es_fail(
        error, ES_ERR_INPUT, "sample-rate",
        "Its sample rate of %.0f Hz can't be used; it must be from %d to %d Hz, so record "
        "or convert it at 44100 or 48000 Hz.",
        rate_hz, ES_WAVE_RATE_MIN_HZ, ES_WAVE_RATE_MAX_HZ);
}

static es_status check_channels(int channels, es_error *error)
{
    if (channels >= 1 && channels <= ES_WAVE_CHANNELS_MOST)
        return ES_OK;
    return es_fail(error, ES_ERR_INPUT, channels < 1 ? "bad-header" : "too-many-channels",
                   "It has %d channels, where 1 to %d can be used; export the two channels of the "
                   "deck alone.",
                   channels, ES_WAVE_CHANNELS_MOST);
}

static es_status say_empty(es_error *error)
{
    return es_fail(error, ES_ERR_INPUT, "empty",
                   "It holds no sound at all; record it again and check that it plays.");
}

/* Beginnings by which a person would call a file audio, even when the rest is broken. */
static const char *kind_by_beginning(es_wave_bytes *bytes)
{
    static const struct {
        const char *beginning, *kind;
    } kinds[] = {{"RIFF", "a WAV"}, {"RF64", "an RF64"}, {"RIFX", "a WAV"},  {"FORM", "an AIFF"},
                 {"riff", "a W64"}, {"fLaC", "a FLAC"},  {"OggS", "an Ogg"}, {".snd", "an AU"},
                 {"caff", "a CAF"}, {"ID3", "an MPEG"}};
    char head[4] = {0};
    size_t got = es_wave_bytes_read(bytes, 0, head, sizeof head);
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        size_t length = strlen(kinds[i].beginning);
        if (got >= length && memcmp(head, kinds[i].beginning, length) == 0)
            return kinds[i].kind;
    }
    return NULL;
}

static es_status say_unreadable(es_wave_reader *reader, es_error *error)
{
    if (reader->bytes.fault)
        return es_fail(error, ES_ERR_IO, "read-failed",
                       "It can't be read (%s); check the disk and copy it to another.",
                       strerror(reader->bytes.fault));
    const char *kind = kind_by_beginning(&reader->bytes);
    if (kind)
        return es_fail(
            error, ES_ERR_INPUT, "bad-header",
            "It begins like %s file, but its head is cut short, damaged or of a kind that "
            "is not known; export it again as WAV or FLAC.",
            kind);
    return es_fail(error, ES_ERR_INPUT, "not-audio",
                   "It is not an audio file of a known kind; export it as WAV or FLAC, or describe "
                   "raw samples with --raw.");
}

/* --- ways to open ------------------------------------------------------------------ */

static es_status open_raw(es_wave_reader *reader, const es_wave_raw *raw, es_error *error)
{
    SF_INFO info = {.samplerate = raw->rate_hz,
                    .channels = raw->channels,
                    .format = SF_FORMAT_RAW | es_wave_sf_coding(raw->coding)};
    if (!open_with_library(reader, &info))
        return say_unreadable(reader, error);
    int64_t frame_bytes = (int64_t)es_wave_coding_bits(raw->coding) / 8 * raw->channels;
    int endless = reader->bytes.size == ES_WAVE_ENDLESS;
    reader->facts = (es_wave_facts){.rate_hz = raw->rate_hz,
                                    .channels = raw->channels,
                                    .bits = es_wave_coding_bits(raw->coding),
                                    .frames = endless ? -1 : reader->bytes.size / frame_bytes};
    return ES_OK;
}

static es_status open_any(es_wave_reader *reader, es_error *error)
{
    SF_INFO info = {0};
    if (!open_with_library(reader, &info))
        return say_unreadable(reader, error);
    reader->facts = (es_wave_facts){.rate_hz = info.samplerate,
                                    .channels = info.channels,
                                    .bits = es_wave_sf_bits(info.format),
                                    .frames = info.frames < ES_WAVE_ENDLESS ? info.frames : -1};
    es_status status = check_rate(info.samplerate, error);
    return status == ES_OK ? check_channels(info.channels, error) : status;
}

/* Samples of a WAV file from where its head says that they are, by our own account. */
static es_status open_wave_body(es_wave_reader *reader, const es_riff *riff, int64_t size,
                                es_error *error)
{
    es_wave_raw raw = {es_wave_coding_of_riff(riff), (int)riff->rate_hz, riff->channels};
    if (raw.coding == ES_CODING_NONE)
        return es_fail(error, ES_ERR_INPUT, "coding",
                       "Its samples are coded in a way that can't be read from a pipe or from an "
                       "unfinished file; export it as plain WAV of 16 or 24 bit.");
    es_wave_bytes_frame(&reader->bytes, riff->data_at, size);
    return open_raw(reader, &raw, error);
}

/* A file whose recorder was stopped before it could write the lengths. */
static int never_closed(const es_riff *riff, int64_t size)
{
    return riff->data_bytes == 0 && size > riff->data_at && riff->riff_bytes + 8 < size;
}

static void warn_if_shorter(es_wave_reader *reader, const es_riff *riff)
{
    if (!riff->endless && riff->data_bytes > reader->bytes.size - riff->data_at)
        es_notes_add(
            &reader->warnings, "cut-short",
            "The file is shorter than its head says: a copy or recording was cut off; what "
            "is there was measured.");
}

static es_status open_wave(es_wave_reader *reader, es_error *error)
{
    es_riff riff = es_riff_read(&reader->bytes);
    if (!riff.format_seen || !riff.data_seen)
        return say_unreadable(reader, error);
    es_status status = check_rate((double)riff.rate_hz, error);
    if (status == ES_OK)
        status = check_channels(riff.channels, error);
    if (status != ES_OK)
        return status;
    if (reader->bytes.piped)
        return open_wave_body(
            reader, &riff, riff.endless || riff.data_bytes == 0 ? ES_WAVE_ENDLESS : riff.data_bytes,
            error);
    if (never_closed(&riff, reader->bytes.size)) {
        es_notes_add(&reader->warnings, "not-closed",
                     "The recording was never closed properly (its head lacks the length); "
                     "everything up to the end of the file was measured.");
        return open_wave_body(reader, &riff, reader->bytes.size - riff.data_at, error);
    }
    warn_if_shorter(reader, &riff);
    return open_any(reader, error);
}

static es_status open_by_beginning(es_wave_reader *reader, es_error *error)
{
    unsigned char head[4];
    size_t got = es_wave_bytes_read(&reader->bytes, 0, head, sizeof head);
    if (got == 0 && !reader->bytes.fault)
        return say_empty(error);
    if (got == sizeof head && (memcmp(head, "RIFF", 4) == 0 || memcmp(head, "RF64", 4) == 0))
        return open_wave(reader, error);
    if (reader->bytes.piped && kind_by_beginning(&reader->bytes))
        return es_fail(error, ES_ERR_INPUT, "pipe-format",
                       "Through a pipe only WAV and raw samples can be read, and this is %s file; "
                       "name the file itself, or redirect it.",
                       kind_by_beginning(&reader->bytes));
    return reader->bytes.piped ? say_unreadable(reader, error) : open_any(reader, error);
}

static es_status open_as(es_wave_reader *reader, const es_wave_raw *raw, es_error *error)
{
    es_status status = raw && raw->coding != ES_CODING_NONE ? open_raw(reader, raw, error)
                                                            : open_by_beginning(reader, error);
    if (status == ES_OK && reader->facts.frames == 0)
        status = say_empty(error);
    return status;
}

static es_wave_reader *new_reader(es_error *error)
{
    es_wave_reader *reader = calloc(1, sizeof *reader);
    if (!reader)
        es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to open it.");
    return reader;
}

static es_status hand_over(es_wave_reader *reader, es_status status, es_wave_reader **out)
{
    if (status == ES_OK)
        *out = reader;
    else
        es_wave_reader_close(reader);
    return status;
}

es_status es_wave_reader_open(const char *path, const es_wave_raw *raw, es_wave_reader **out,
                              es_error *error)
{
    *out = NULL;
    es_wave_reader *reader = new_reader(error);
    if (!reader)
        return ES_ERR_NOMEM;
    es_status status = es_wave_bytes_open(&reader->bytes, path, error);
    if (status == ES_OK)
        status = open_as(reader, raw, error);
    return hand_over(reader, status, out);
}

es_status es_wave_reader_open_memory(const void *bytes, size_t size, const es_wave_raw *raw,
                                     es_wave_reader **out, es_error *error)
{
    *out = NULL;
    es_wave_reader *reader = new_reader(error);
    if (!reader)
        return ES_ERR_NOMEM;
    es_wave_bytes_of_memory(&reader->bytes, bytes, size);
    return hand_over(reader, open_as(reader, raw, error), out);
}

void es_wave_reader_close(es_wave_reader *reader)
{
    if (!reader)
        return;
    if (reader->file)
        sf_close(reader->file);
    es_wave_bytes_close(&reader->bytes);
    free(reader);
}

/* --- reading ----------------------------------------------------------------------- */

es_wave_facts es_wave_reader_facts(const es_wave_reader *reader)
{
    return reader->facts;
}

const es_notes *es_wave_reader_warnings(const es_wave_reader *reader)
{
    return &reader->warnings;
}

/* The library has no more frames: was that the end, or did something break off? */
static es_status finish(es_wave_reader *reader, es_error *error)
{
    reader->ended = 1;
    if (reader->bytes.fault)
        return say_unreadable(reader, error);
    int broken = sf_error(reader->file) != SF_ERR_NO_ERROR;
    if (reader->frames_read == 0 && !broken && reader->facts.frames < 0 && reader->bytes.piped)
        return say_empty(error);
    if (reader->frames_read == 0)
        return es_fail(error, ES_ERR_INPUT, "damaged",
                       "No sound could be decoded from it; it is damaged, so copy or export it "
                       "again.");
    if (broken || reader->frames_read < reader->facts.frames)
        es_notes_add(&reader->warnings, "cut-short",
                     "The file is damaged or cut short after %.2f s; what comes before was "
                     "measured.",
                     (double)reader->frames_read / reader->facts.rate_hz);
    return ES_OK;
}

/* Frames of plain samples, converted here. */
static sf_count_t read_pcm(es_wave_reader *reader, float *frames, size_t room)
{
    size_t channels = (size_t)reader->facts.channels, frame_bytes = channels * reader->pcm_bytes;
    size_t most = PCM_ROOM / frame_bytes, done = 0, want, got;
    do {
        want = room - done < most ? room - done : most;
        sf_count_t bytes = sf_read_raw(reader->file, reader->pcm, (sf_count_t)(want * frame_bytes));
        got = bytes > 0 ? (size_t)bytes / frame_bytes : 0;
        es_pcm_to_float(reader->pcm, reader->pcm_bytes, got * channels, frames + done * channels);
        done += got;
    } while (got == want && done < room);
    return (sf_count_t)done;
}

es_status es_wave_reader_read(es_wave_reader *reader, float *frames, size_t room, size_t *count,
                              es_error *error)
{
    *count = 0;
    if (reader->ended)
        return ES_OK;
    sf_count_t got = reader->pcm_bytes ? read_pcm(reader, frames, room)
                                       : sf_readf_float(reader->file, frames, (sf_count_t)room);
    if (got <= 0)
        return finish(reader, error);
    reader->frames_read += got;
    *count = (size_t)got;
    return ES_OK;
}
