#include "paper/out_file.h"

#include "evenspool/base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define NAMES_TRIED 100

static es_status refused(es_error *error, int reason)
{
    switch (reason) {
    case ENOSPC:
    case EDQUOT:
        return es_fail(error, ES_ERR_IO, "disk-full",
                       "The picture could not be written because the disk is full; free some space "
                       "or name another folder.");
    case ENOENT:
    case ENOTDIR:
        return es_fail(error, ES_ERR_IO, "no-folder",
                       "The picture could not be written because its folder does not exist; make "
                       "the folder or name another.");
    case EACCES:
    case EPERM:
    case EROFS:
        return es_fail(error, ES_ERR_IO, "no-permission",
                       "The picture could not be written there for want of permission; name a "
                       "folder that you may write to.");
    case ENAMETOOLONG:
        return es_fail(error, ES_ERR_IO, "name-too-long",
                       "The picture could not be written because its name is too long; give it a "
                       "shorter one.");
    default:
        return es_fail(error, ES_ERR_IO, "write-failed",
                       "The picture could not be written (%s); try another folder.",
                       strerror(reason));
    }
}

/* A device, folder or pipe must not be replaced by a file, nor a file that is write-protected. */
static es_status look_at_target(es_out_file *file, const char *path, es_error *error)
{
    struct stat there;
    if (stat(path, &there) != 0) {
        if (errno != ENOENT)
            return refused(error, errno);
        file->target = strdup(path);
        return file->target ? ES_OK : es_fail(error, ES_ERR_NOMEM, "no-memory", "Out of memory.");
    }
    if (!S_ISREG(there.st_mode))
        return es_fail(error, ES_ERR_IO, "not-a-file",
                       "Something that is not a plain file has that name already; give the picture "
                       "another.");
    if (access(path, W_OK) != 0)
        return refused(error, errno);
    file->target = realpath(path, NULL);
    return file->target ? ES_OK : refused(error, errno);
}

static es_status open_beside(es_out_file *file, es_error *error)
{
    size_t room = strlen(file->target) + 24;
    file->beside = malloc(room);
    if (!file->beside)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "Out of memory.");
    int handle = -1;
    errno = EEXIST;
    for (int i = 0; i < NAMES_TRIED && handle < 0 && errno == EEXIST; i++) {
        es_text name = es_text_over(file->beside, room);
        es_text_add(&name, "%s.part-%d", file->target, i);
        handle = open(file->beside, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    }
    int reason = errno;
    file->stream = handle >= 0 ? fdopen(handle, "wb") : NULL;
    if (file->stream)
        return ES_OK;
    if (handle >= 0) {
        reason = errno;
        close(handle);
        unlink(file->beside);
    }
    return refused(error, reason);
}

static void forget(es_out_file *file)
{
    free(file->target);
    free(file->beside);
    *file = (es_out_file){0};
}

es_status es_out_file_open(es_out_file *file, const char *path, es_error *error)
{
    *file = (es_out_file){0};
    es_status status = look_at_target(file, path, error);
    if (status == ES_OK)
        status = open_beside(file, error);
    if (status != ES_OK)
        forget(file);
    return status;
}

static void note_fault(es_out_file *file)
{
    if (!file->fault)
        file->fault = errno ? errno : EIO;
}

int es_out_file_write(es_out_file *file, const unsigned char *bytes, size_t count)
{
    errno = 0;
    if (!file->fault && fwrite(bytes, 1, count, file->stream) != count)
        note_fault(file);
    return !file->fault;
}

es_status es_out_file_keep(es_out_file *file, es_error *error)
{
    errno = 0;
    if (fflush(file->stream) != 0 || fsync(fileno(file->stream)) != 0)
        note_fault(file);
    errno = 0;
    if (fclose(file->stream) != 0)
        note_fault(file);
    errno = 0;
    if (!file->fault && rename(file->beside, file->target) != 0)
        note_fault(file);
    int fault = file->fault;
    if (fault)
        unlink(file->beside);
    forget(file);
    return fault ? refused(error, fault) : ES_OK;
}

void es_out_file_drop(es_out_file *file)
{
    if (file->stream) {
        fclose(file->stream);
        unlink(file->beside);
    }
    forget(file);
}
