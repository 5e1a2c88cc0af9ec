/* What all live sessions stand on: the sound system, source and recording. */
#include "live/session_inside.h"

#include "evenspool/base/text.h"
#include "live/desk.h"

#include <string.h>

static es_status borrow_from_desk(void *who, es_sound **out, es_error *error)
{
    (void)who;
    return es_desk_borrow(out, error);
}

static void return_to_desk(void *who, es_sound *sound)
{
    (void)who;
    es_desk_return(sound);
}

es_session_ground es_session_ground_of(const es_session_ground *ground)
{
    es_session_ground full = {0};
    if (ground)
        full = *ground;
    if (!full.borrow) {
        full.borrow = borrow_from_desk;
        full.give_back = return_to_desk;
    }
    return full;
}

const char *es_source_after(const char *source, const char *word)
{
    size_t length = strlen(word);
    return strncmp(source, word, length) == 0 ? source + length : NULL;
}

static es_status open_device(const es_session_ground *ground, const char *name, int unpaced,
                             es_sound **sound, es_source *out, es_error *error)
{
    es_status status = ES_OK;
    if (unpaced)
        return es_fail(error, ES_ERR_ARG, "unpaced",
                       "A device can't go faster than it does; leave out --unpaced.");
    if (!*sound)
        status = ground->borrow(ground->who, sound, error);
    return status == ES_OK ? es_source_device(*sound, name, out, error) : status;
}

es_status es_session_source(const es_session_ground *ground, const char *source, int unpaced,
                            es_sound **sound, es_source *out, es_error *error)
{
    const char *name;
    if (ground->source)
        return ground->source(ground->who, out, error);
    if ((name = es_source_after(source, "device:")))
        return open_device(ground, name, unpaced, sound, out, error);
    if ((name = es_source_after(source, "file:")) && name[0])
        return es_source_file(name, out, error);
    return es_fail(error, ES_ERR_ARG, "bad-source",
                   "A source is device:NAME, file:PATH or, for the coach, rehearse:SCENARIO, not "
                   "\"%.60s\".",
                   source);
}

es_status es_session_keeper(const es_source *source, const char *path, int replace, int unpaced,
                            es_keeper **out, es_error *error)
{
    *out = NULL;
    if (!path[0])
        return ES_OK;
    es_keeper_config c = {.path = path,
                          .rate_hz = source->rate_hz,
                          .channels = source->channels,
                          .replace = replace,
                          .patient = unpaced};
    return es_keeper_create(&c, out, error);
}

void es_session_gone_words(const es_source *source, char *room, size_t size)
{
    es_text text = es_text_over(room, size);
    es_text_add(&text,
                "The input \"%.80s\" is gone: see that it is connected and switched on. Listening "
                "goes on when it is back.",
                source->name);
}
