/* Frames from an audio file. */
#include "live/source.h"

#include "wave/reader.h"

#include <sys/stat.h>

static es_source_state take(void *self, float *frames, size_t room, es_taken *out, es_error *error)
{
    es_status status = es_wave_reader_read(self, frames, room, &out->count, error);
    if (status != ES_OK)
        return ES_SOURCE_FAILED;
    return out->count > 0 ? ES_SOURCE_RUNNING : ES_SOURCE_ENDED;
}

static void close_it(void *self)
{
    es_wave_reader_close(self);
}

/* A pipe could keep the worker waiting for ever. */
static es_status judge(const char *path, es_error *error)
{
    struct stat facts;
    if (stat(path, &facts) != 0 || S_ISREG(facts.st_mode) || S_ISDIR(facts.st_mode))
        return ES_OK; /* the reader says what is wrong */
    return es_fail(error, ES_ERR_INPUT, "not-a-file",
                   "It is no ordinary file; name an audio file, or a device as device:NAME.");
}

es_status es_source_file(const char *path, es_source *out, es_error *error)
{
    es_wave_reader *reader;
    es_error why = {0};
    *out = (es_source){0};
    es_status status = judge(path, error);
    if (status != ES_OK)
        return status;
    status = es_wave_reader_open(path, NULL, &reader, &why);
    if (status != ES_OK)
        return es_fail(error, status == ES_ERR_NOMEM ? status : ES_ERR_INPUT, why.code, "%s",
                       why.text);
    es_wave_facts facts = es_wave_reader_facts(reader);
    *out = (es_source){.self = reader,
                       .rate_hz = (double)facts.rate_hz,
                       .channels = facts.channels,
                       .take = take,
                       .close = close_it};
    return ES_OK;
}
