#include "wave/new_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define NAMES_TRIED 100

es_status es_new_file_refused(int reason, es_error *error)
{
    switch (reason) {
    case EEXIST:
        return es_fail(error, ES_ERR_IO, "exists",
                       "A file of that name is there already and stays as it is; name another, or "
                       "add --force to replace it.");
    case ENOSPC:
    case EDQUOT:
        return es_fail(error, ES_ERR_IO, "disk-full",
                       "It can't be written because the disk is full; free some space or name "
                       "another place.");
    case ENOENT:
    case ENOTDIR:
        return es_fail(error, ES_ERR_IO, "no-folder",
                       "It can't be written because its folder does not exist; make the folder or "
                       "name another.");
    case EACCES:
    case EPERM:
    case EROFS:
        return es_fail(error, ES_ERR_IO, "no-permission",
                       "It may not be written there; name a folder that you may write to.");
    case EISDIR:
        return es_fail(error, ES_ERR_IO, "directory",
                       "It can't be written because a folder has that name; name a file.");
    case ENAMETOOLONG:
        return es_fail(error, ES_ERR_IO, "name-too-long",
                       "It can't be written because its name is too long; give it a shorter one.");
    default:
        return es_fail(error, ES_ERR_IO, "write-failed",
                       "It can't be written (%s); name another place.",
                       reason ? strerror(reason) : "no reason was given");
    }
}

static void forget(es_new_file *file)
{
    free(file->target);
    free(file->beside);
    *file = (es_new_file){.fd = -1};
}

static es_status no_memory(es_error *error)
{
    return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to write it.");
}

static es_status open_beside(es_new_file *file, es_error *error)
{
    size_t room = strlen(file->target) + 24;
    file->beside = malloc(room);
    if (!file->beside)
        return no_memory(error);
    for (int i = 0; i < NAMES_TRIED && file->fd < 0; i++) {
        snprintf(file->beside, room, "%s.part-%d", file->target, i);
        file->fd = open(file->beside, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (file->fd < 0 && errno != EEXIST)
            break;
    }
    return file->fd >= 0 ? ES_OK : es_new_file_refused(errno, error);
}

static es_status open_directly(es_new_file *file, const char *path, es_error *error)
{
    file->fd = open(path, O_WRONLY | O_CLOEXEC);
    return file->fd >= 0 ? ES_OK : es_new_file_refused(errno, error);
}

static es_status open_as(es_new_file *file, const char *path, es_error *error)
{
    struct stat there;
    int exists = stat(path, &there) == 0;
    if (!exists && errno != ENOENT)
        return es_new_file_refused(errno, error);
    if (exists && S_ISDIR(there.st_mode))
        return es_new_file_refused(EISDIR, error);
    if (exists && !S_ISREG(there.st_mode))
        return open_directly(file, path, error);
    if (exists && !file->replace)
        return es_new_file_refused(EEXIST, error);
    if (exists && access(path, W_OK) != 0)
        return es_new_file_refused(errno, error);
    file->target = exists ? realpath(path, NULL) : strdup(path);
    return file->target ? open_beside(file, error) : no_memory(error);
}

es_status es_new_file_open(es_new_file *file, const char *path, int replace, es_error *error)
{
    *file = (es_new_file){.fd = -1, .replace = replace};
    es_status status = open_as(file, path, error);
    if (status != ES_OK)
        forget(file);
    return status;
}

/* Gives the file its name; link() refuses when somebody else took it meanwhile. */
static int appear(const es_new_file *file)
{
    if (file->replace)
        return rename(file->beside, file->target);
    if (link(file->beside, file->target) == 0)
        return unlink(file->beside);
    int no_links_here = errno == EPERM || errno == EOPNOTSUPP || errno == ENOSYS;
    if (!no_links_here || access(file->target, F_OK) == 0)
        return -1;
    return rename(file->beside, file->target);
}

es_status es_new_file_keep(es_new_file *file, es_error *error)
{
    int reason = 0;
    if (file->beside && fsync(file->fd) != 0 && errno != EINVAL)
        reason = errno;
    if (close(file->fd) != 0 && !reason)
        reason = errno;
    if (file->beside && !reason && appear(file) != 0)
        reason = errno;
    if (file->beside && reason)
        unlink(file->beside);
    forget(file);
    return reason ? es_new_file_refused(reason, error) : ES_OK;
}

void es_new_file_drop(es_new_file *file)
{
    if (file->fd < 0)
        return;
    close(file->fd);
    if (file->beside)
        unlink(file->beside);
    forget(file);
}
