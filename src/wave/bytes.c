#include "wave/bytes.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define STRAIGHT_LEAST 8192 /* bytes */

static es_status cannot_open(es_error *error, int reason)
{
    if (reason == ENOENT || reason == ENOTDIR)
        return es_fail(error, ES_ERR_IO, "missing",
                       "There is no such file; check the name and the folder.");
    if (reason == EACCES || reason == EPERM)
        return es_fail(error, ES_ERR_IO, "no-permission",
                       "It may not be read; give yourself permission to read it, or copy it to a "
                       "place where you have it.");
    return es_fail(error, ES_ERR_IO, "read-failed", "It can't be opened (%s); check the disk.",
                   strerror(reason));
}

static es_status look_at_kind(es_wave_bytes *bytes, es_error *error)
{
    struct stat facts;
    if (fstat(bytes->fd, &facts) != 0)
        return cannot_open(error, errno);
    if (S_ISDIR(facts.st_mode))
        return es_fail(error, ES_ERR_INPUT, "directory",
                       "It is a folder, not an audio file; name the captures in it one by one.");
    bytes->piped = !S_ISREG(facts.st_mode);
    bytes->size = ES_WAVE_ENDLESS;
    if (!bytes->piped) {
        off_t here = lseek(bytes->fd, 0, SEEK_CUR); /* standard input may be part read already */
        bytes->base = here > 0 ? here : 0;
        bytes->size = facts.st_size > bytes->base ? facts.st_size - bytes->base : 0;
    }
    bytes->window_at = bytes->base;
    return ES_OK;
}

es_status es_wave_bytes_open(es_wave_bytes *bytes, const char *path, es_error *error)
{
    bytes->memory = NULL;
    bytes->base = bytes->size = bytes->at = bytes->window_at = 0;
    bytes->window_count = 0;
    bytes->fault = 0;
    bytes->ours = strcmp(path, "-") != 0;
    bytes->fd = bytes->ours ? open(path, O_RDONLY | O_CLOEXEC) : STDIN_FILENO;
    if (bytes->fd < 0)
        return cannot_open(error, errno);
    es_status status = look_at_kind(bytes, error);
    if (status != ES_OK)
        es_wave_bytes_close(bytes);
    return status;
}

void es_wave_bytes_of_memory(es_wave_bytes *bytes, const void *memory, size_t size)
{
    bytes->fd = -1;
    bytes->ours = bytes->piped = bytes->fault = 0;
    bytes->memory = memory;
    bytes->base = bytes->at = bytes->window_at = 0;
    bytes->window_count = 0;
    bytes->size = (int64_t)size;
}

void es_wave_bytes_close(es_wave_bytes *bytes)
{
    if (bytes->ours && bytes->fd >= 0)
        close(bytes->fd);
    bytes->fd = -1;
    bytes->ours = 0;
}

void es_wave_bytes_frame(es_wave_bytes *bytes, int64_t base, int64_t size)
{
    bytes->base += base;
    bytes->size = size;
    bytes->at = 0;
}

/* Slides the window on by one read; 0 at the end or after a fault. */
static int slide(es_wave_bytes *bytes, int64_t place)
{
    int64_t from = bytes->piped ? bytes->window_at + (int64_t)bytes->window_count : place;
    ssize_t got;
    do {
        got = bytes->piped ? read(bytes->fd, bytes->window, ES_WAVE_WINDOW)
                           : pread(bytes->fd, bytes->window, ES_WAVE_WINDOW, from);
    } while (got < 0 && errno == EINTR);
    if (got < 0)
        bytes->fault = errno;
    if (got <= 0)
        return 0;
    bytes->window_at = from;
    bytes->window_count = (size_t)got;
    return 1;
}

/* Bytes of the window from `place` on; 0: not reachable any more. */
static size_t reach(es_wave_bytes *bytes, int64_t place)
{
    for (;;) {
        int64_t into = place - bytes->window_at;
        if (into >= 0 && into < (int64_t)bytes->window_count)
            return bytes->window_count - (size_t)into;
        if ((bytes->piped && into < 0) || bytes->fault || !slide(bytes, place))
            return 0;
    }
}

/* A large piece of a file that is not in the window goes past it, which saves a copy; 0: it can't. */
static size_t read_straight(es_wave_bytes *bytes, int64_t place, void *out, size_t count)
{
    int64_t into = place - bytes->window_at;
    int in_window = into >= 0 && into < (int64_t)bytes->window_count;
    if (bytes->piped || bytes->fault || in_window || count < STRAIGHT_LEAST)
        return 0;
    ssize_t got;
    do {
        got = pread(bytes->fd, out, count, place);
    } while (got < 0 && errno == EINTR);
    if (got < 0)
        bytes->fault = errno;
    return got > 0 ? (size_t)got : 0;
}

static size_t read_by_window(es_wave_bytes *bytes, int64_t place, void *out, size_t count)
{
    size_t here = reach(bytes, place);
    if (here > count)
        here = count;
    if (here > 0)
        memcpy(out, bytes->window + (place - bytes->window_at), here);
    return here;
}

size_t es_wave_bytes_read(es_wave_bytes *bytes, int64_t at, void *out, size_t count)
{
    if (at < 0 || at >= bytes->size)
        return 0;
    if ((int64_t)count > bytes->size - at)
        count = (size_t)(bytes->size - at);
    int64_t place = bytes->base + at;
    if (bytes->memory) {
        memcpy(out, bytes->memory + place, count);
        return count;
    }
    size_t done = 0, here = 1;
    while (done < count && here > 0) {
        unsigned char *to = (unsigned char *)out + done;
        here = read_straight(bytes, place + (int64_t)done, to, count - done);
        if (here == 0)
            here = read_by_window(bytes, place + (int64_t)done, to, count - done);
        done += here;
    }
    return done;
}
