/* What all live sessions stand on: the sound system, source and recording; and what is told of them. */
#include "live/session_ground.h"

#include "evenspool/base/text.h"
#include "live/desk.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define CHANNELS_MOST 64
#define AT_ONCE_S 0.25 /* of the source, before others are looked after */

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

int64_t es_session_now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
}

/* --- opening ---------------------------------------------------------------------------- */

static es_status open_device(es_session_line *l, const char *name, int unpaced, es_error *error)
{
    es_status status = ES_OK;
    if (unpaced)
        return es_fail(error, ES_ERR_ARG, "unpaced",
                       "A device can't go faster than it does; leave out --unpaced.");
    if (!l->sound)
        status = l->ground.borrow(l->ground.who, &l->sound, error);
    return status == ES_OK ? es_source_device(l->sound, name, &l->source, error) : status;
}

es_status es_session_line_open(es_session_line *l, const char *source, int unpaced, es_error *error)
{
    const char *name;
    if (l->ground.source)
        return l->ground.source(l->ground.who, &l->source, error);
    if ((name = es_source_after(source, "device:")))
        return open_device(l, name, unpaced, error);
    if ((name = es_source_after(source, "file:")) && name[0])
        return es_source_file(name, &l->source, error);
    return es_fail(error, ES_ERR_ARG, "bad-source",
                   "A source is device:NAME, file:PATH or rehearse:SCENARIO, not "
                   "\"%.60s\".",
                   source);
}

es_status es_session_line_begin(es_session_line *l, const char *path, int replace, int unpaced,
                                es_error *error)
{
    es_keeper_config c = {.path = path,
                          .rate_hz = l->source.rate_hz,
                          .channels = l->source.channels,
                          .replace = replace,
                          .patient = unpaced};
    es_status status = path[0] ? es_keeper_create(&c, &l->keeper, error) : ES_OK;
    if (status != ES_OK)
        return status;
    l->frames = calloc((size_t)ES_SESSION_BLOCK * CHANNELS_MOST, sizeof *l->frames);
    if (!l->frames)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to listen.");
    l->level = es_level_watch_of(l->source.rate_hz);
    l->begun_ns = es_session_now_ns();
    return ES_OK;
}

void es_session_line_close(es_session_line *l)
{
    if (l->source.close)
        l->source.close(l->source.self);
    if (l->sound)
        l->ground.give_back(l->ground.who, l->sound);
    l->sound = NULL;
    free(l->frames);
    l->frames = NULL;
}

/* --- what the source has ------------------------------------------------------------------- */

int64_t es_session_line_due(const es_session_line *l, uint64_t heard)
{
    int64_t most = (int64_t)(AT_ONCE_S * l->source.rate_hz);
    if (l->source.paces_itself)
        return most;
    double since_s = (double)(es_session_now_ns() - l->begun_ns) * 1e-9;
    int64_t late = (int64_t)(since_s * l->source.rate_hz) - (int64_t)heard;
    return late < most ? late : most;
}

static void hand_on(es_session_line *l, const es_taken *taken, const es_session_taker *taker)
{
    if (taken->gap && l->keeper)
        es_keeper_gap(l->keeper, taken->lost);
    if (taken->gap)
        taker->gap(taker->who, taken->lost);
    if (taken->count == 0)
        return;
    if (l->keeper)
        es_keeper_push(l->keeper, l->frames, taken->count);
    es_level_watch_push(&l->level, l->frames, taken->count, l->source.channels, l->channel);
    taker->frames(taker->who, l->frames, taken->count);
}

es_source_state es_session_line_pull(es_session_line *l, int64_t most,
                                     const es_session_taker *taker, es_error *error)
{
    es_source_state state = ES_SOURCE_RUNNING;
    size_t got = 1;
    while (most > 0 && got > 0 && state == ES_SOURCE_RUNNING) {
        es_taken taken = {0};
        size_t room = most < ES_SESSION_BLOCK ? (size_t)most : ES_SESSION_BLOCK;
        state = l->source.take(l->source.self, l->frames, room, &taken, error);
        hand_on(l, &taken, taker);
        got = taken.count;
        most -= (int64_t)got;
    }
    return state;
}

es_status es_session_line_watch(es_session_line *l, es_error *error)
{
    if (!l->keeper || !es_keeper_trouble(l->keeper, error))
        return ES_OK;
    es_status status = es_keeper_finish(l->keeper, NULL);
    l->keeper = NULL;
    return status == ES_OK ? error->status : status;
}

/* --- what is told of it -------------------------------------------------------------------- */

static void set(char *room, size_t size, const char *words)
{
    es_text text = es_text_over(room, size);
    es_text_add(&text, "%s", words);
}

es_session_standing es_session_standing_of(const char *source, const char *record_path)
{
    es_session_standing s = {.rate_hz = (double)NAN};
    set(s.source, sizeof s.source, source);
    set(s.record_path, sizeof s.record_path, record_path);
    return s;
}

void es_session_standing_opened(es_session_standing *s, const es_source *source)
{
    s->rate_hz = source->rate_hz;
    s->channels = source->channels;
    set(s->device, sizeof s->device, source->name);
}

void es_session_standing_level(es_session_standing *s, const char *words)
{
    set(s->level_words, sizeof s->level_words, words);
}

void es_session_standing_say(es_session_standing *s, es_session_phase phase, es_status status,
                             const char *sentence)
{
    s->phase = phase;
    s->status = status;
    set(s->sentence, sizeof s->sentence, sentence);
}

void es_session_standing_over(es_session_standing *s)
{
    if (s->phase != ES_SESSION_FAILED)
        es_session_standing_say(s, ES_SESSION_ENDED, ES_OK, "");
}

void es_session_standing_unkept(es_session_standing *s, const es_error *error)
{
    set(s->record_sentence, sizeof s->record_sentence, error->text);
}

void es_session_gone_words(const es_source *source, char *room, size_t size)
{
    es_text text = es_text_over(room, size);
    es_text_add(&text,
                "The input \"%.80s\" is gone: see that it is connected and switched on. Listening "
                "goes on when it is back.",
                source->name);
}
