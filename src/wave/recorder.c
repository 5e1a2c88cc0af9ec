#include "wave/recorder.h"

#include "wave/new_file.h"

#include <sndfile.h>

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct es_recorder {
    SNDFILE *file;
    int fd; /* the file's, closed with it */
    int channels, rate_hz;
    int failed; /* and told */
    int64_t frames, flushed;
};

/* --- opening --------------------------------------------------------------------------------- */

static int has_ending(const char *path, const char *ending)
{
    size_t length = strlen(path), its = strlen(ending);
    return length > its && strcasecmp(path + length - its, ending) == 0;
}

static es_status choose_format(const char *path, const es_recorder_settings *settings,
                               SF_INFO *info, es_error *error)
{
    *info = (SF_INFO){.samplerate = settings->rate_hz, .channels = settings->channels};
    if (has_ending(path, ".wav"))
        info->format = SF_FORMAT_RF64 | SF_FORMAT_FLOAT; /* plain WAV while below 4 GiB */
    else if (has_ending(path, ".flac"))
        info->format = SF_FORMAT_FLAC | SF_FORMAT_PCM_24;
    else
        return es_fail(error, ES_ERR_ARG, "wave-kind",
                       "The ending of the name says how it is recorded: .flac or .wav.");
    if (sf_format_check(info))
        return ES_OK;
    return es_fail(error, ES_ERR_ARG, "wave-kind",
                   "A file of that kind can't hold %d channels at %d Hz; record a .wav file.",
                   settings->channels, settings->rate_hz);
}

/* The head is written at once: a file without one can't be opened. */
static es_status begin_file(es_recorder *r, SF_INFO *info, es_error *error)
{
    errno = 0;
    r->file = sf_open_fd(r->fd, SFM_WRITE, info, SF_FALSE);
    if (!r->file)
        return es_new_file_refused(errno, error);
    sf_command(r->file, SFC_SET_CLIPPING, NULL, SF_TRUE);
    sf_command(r->file, SFC_RF64_AUTO_DOWNGRADE, NULL, SF_TRUE);
    sf_command(r->file, SFC_UPDATE_HEADER_NOW, NULL, 0);
    return sf_error(r->file) == SF_ERR_NO_ERROR ? ES_OK : es_new_file_refused(errno, error);
}

/* The file gets its name when it has a head, not when it is done. */
static es_status open_named(es_recorder *r, const char *path, int replace, SF_INFO *info,
                            es_error *error)
{
    es_new_file place;
    es_status status = es_new_file_open(&place, path, replace, error);
    if (status != ES_OK)
        return status;
    r->fd = dup(place.fd);
    status = r->fd < 0 ? es_new_file_refused(errno, error) : begin_file(r, info, error);
    if (status == ES_OK)
        return es_new_file_keep(&place, error);
    es_new_file_drop(&place);
    return status;
}

static void forget(es_recorder *r)
{
    if (r->file)
        sf_close(r->file);
    if (r->fd >= 0)
        close(r->fd);
    free(r);
}

es_status es_recorder_open(const char *path, const es_recorder_settings *settings,
                           es_recorder **out, es_error *error)
{
    *out = NULL;
    SF_INFO info;
    es_status status = choose_format(path, settings, &info, error);
    if (status != ES_OK)
        return status;
    es_recorder *r = calloc(1, sizeof *r);
    if (!r)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to record.");
    *r = (es_recorder){.fd = -1, .channels = settings->channels, .rate_hz = settings->rate_hz};
    status = open_named(r, path, settings->replace, &info, error);
    if (status == ES_OK)
        *out = r;
    else
        forget(r);
    return status;
}

/* --- recording --------------------------------------------------------------------------------- */

static es_status fail_once(es_recorder *r, int reason, es_error *error)
{
    r->failed = 1;
    return es_new_file_refused(reason, error);
}

/* The lengths in the head first, so that head and sound are on the disk together. */
es_status es_recorder_flush(es_recorder *r, es_error *error)
{
    if (r->failed)
        return ES_OK;
    r->flushed = r->frames;
    errno = 0;
    sf_command(r->file, SFC_UPDATE_HEADER_NOW, NULL, 0);
    if (sf_error(r->file) != SF_ERR_NO_ERROR)
        return fail_once(r, errno, error);
    if (fsync(r->fd) != 0 && errno != EINVAL && errno != EROFS) /* a device has nothing to flush */
        return fail_once(r, errno, error);
    return ES_OK;
}

es_status es_recorder_write(es_recorder *r, const float *frames, size_t count, es_error *error)
{
    es_status status = ES_OK;
    while (count > 0 && !r->failed && status == ES_OK) {
        int64_t until_flush = r->flushed + r->rate_hz - r->frames;
        size_t now = (int64_t)count < until_flush ? count : (size_t)until_flush;
        errno = 0;
        if (sf_writef_float(r->file, frames, (sf_count_t)now) != (sf_count_t)now)
            return fail_once(r, errno, error);
        r->frames += (int64_t)now;
        frames += now * (size_t)r->channels;
        count -= now;
        if (r->frames - r->flushed >= r->rate_hz)
            status = es_recorder_flush(r, error);
    }
    return status;
}

int64_t es_recorder_frames(const es_recorder *r)
{
    return r->frames;
}

int es_recorder_goes_on(const es_recorder *r)
{
    return !r->failed;
}

es_status es_recorder_close(es_recorder *r, es_error *error)
{
    if (!r)
        return ES_OK;
    int failed = r->failed;
    errno = 0;
    int fault = sf_close(r->file) != 0;
    int reason = errno;
    r->file = NULL;
    if (!fault && fsync(r->fd) != 0 && errno != EINVAL && errno != EROFS) {
        fault = 1;
        reason = errno;
    }
    forget(r);
    return fault && !failed ? es_new_file_refused(reason, error) : ES_OK;
}
