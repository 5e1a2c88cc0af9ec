#include "live/voice.h"

#include "evenspool/base/units.h"

#include <stdlib.h>
#include <string.h>

#define BLOCK 480

struct es_voice {
    es_output *output;
    es_sounder *sounder;
    char asked[128]; /* as the output was asked for */
    es_line_facts facts;
};

static es_status open_output(es_voice *v, es_sound *sound, const char *name, es_error *error)
{
    es_status status = es_output_open(sound, name, NULL, &v->output, error);
    if (status != ES_OK)
        return status;
    v->facts = es_output_facts(v->output);
    if (es_sounder_create(v->facts.rate_hz, &v->sounder) != ES_OK)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory for sound.");
    return es_output_start(v->output, error);
}

es_status es_voice_create(es_sound *sound, const char *name, es_voice **out, es_error *error)
{
    *out = NULL;
    es_voice *v = calloc(1, sizeof *v);
    if (!v)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory for sound.");
    strncpy(v->asked, name, sizeof v->asked - 1);
    es_status status = open_output(v, sound, name, error);
    if (status == ES_OK)
        *out = v;
    else
        es_voice_destroy(v);
    return status;
}

void es_voice_destroy(es_voice *v)
{
    if (!v)
        return;
    es_output_close(v->output);
    es_sounder_destroy(v->sounder);
    free(v);
}

int es_voice_is_at(const es_voice *v, const char *name)
{
    return v && strcmp(v->asked, name) == 0;
}

void es_voice_set(es_voice *v, es_sounder_kind kind, double level_db)
{
    es_sounder_set(v->sounder, kind, es_amplitude(level_db));
}

const char *es_voice_output(const es_voice *v)
{
    return v->facts.name;
}

void es_voice_feed(es_voice *v, const es_trim_snapshot *now)
{
    float mono[BLOCK];
    es_sounder_steer(v->sounder, now);
    for (size_t room = es_output_room(v->output); room > 0;) {
        size_t count = room < BLOCK ? room : BLOCK;
        es_sounder_render(v->sounder, mono, count);
        es_output_write(v->output, mono, count);
        room -= count;
    }
}

int es_voice_is_heard(es_voice *v)
{
    return es_output_watch(v->output) != ES_LINE_LOST;
}
