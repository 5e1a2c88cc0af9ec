#include "live/text_file.h"

#include "wave/new_file.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

struct es_text_file {
    FILE *stream;
    int standard; /* 1: standard output */
    es_new_file place;
};

static es_status open_stream(es_text_file *file, const char *path, int replace, es_error *error)
{
    file->standard = strcmp(path, "-") == 0;
    file->place.fd = -1;
    if (file->standard) {
        file->stream = stdout;
        return ES_OK;
    }
    es_status status = es_new_file_open(&file->place, path, replace, error);
    if (status != ES_OK)
        return status;
    int own = dup(file->place.fd); /* the stream closes its own, the place keeps its */
    file->stream = own >= 0 ? fdopen(own, "w") : NULL;
    if (file->stream)
        return ES_OK;
    int reason = errno;
    if (own >= 0)
        close(own);
    return es_new_file_refused(reason, error);
}

es_status es_text_file_open(const char *path, int replace, es_text_file **out, es_error *error)
{
    *out = NULL;
    es_text_file *file = calloc(1, sizeof *file);
    if (!file)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to write it.");
    es_status status = open_stream(file, path, replace, error);
    if (status == ES_OK)
        *out = file;
    else
        es_text_file_drop(file);
    return status;
}

FILE *es_text_file_stream(es_text_file *file)
{
    return file->stream;
}

es_status es_text_file_keep(es_text_file *file, es_error *error)
{
    errno = 0;
    int broken = ferror(file->stream);
    int failed = fflush(file->stream) != 0 || broken;
    int reason = errno;
    es_status status = ES_OK;
    if (!failed && !file->standard) {
        status = es_new_file_keep(&file->place, error);
    } else if (failed) {
        status = es_new_file_refused(reason, error);
    }
    es_text_file_drop(file);
    return status;
}

void es_text_file_drop(es_text_file *file)
{
    if (!file)
        return;
    if (file->stream && !file->standard)
        fclose(file->stream);
    es_new_file_drop(&file->place);
    free(file);
}

int es_same_file(const char *a, const char *b)
{
    struct stat one, two;
    return stat(a, &one) == 0 && stat(b, &two) == 0 && one.st_dev == two.st_dev &&
           one.st_ino == two.st_ino;
}
