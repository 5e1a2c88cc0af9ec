/* Frames from an input of the computer's sound system. */
#include "live/source.h"

#include <string.h>

static es_source_state take(void *self, float *frames, size_t room, es_taken *out, es_error *error)
{
    es_input *in = self;
    es_gap gap;
    (void)error;
    es_line_state line = es_input_watch(in);
    out->count = es_input_take(in, frames, room, &gap);
    out->gap = gap.reasons != 0;
    out->lost = out->gap ? gap.lost : 0;
    return line == ES_LINE_LOST && out->count == 0 ? ES_SOURCE_WAITING : ES_SOURCE_RUNNING;
}

static void close_it(void *self)
{
    es_input_close(self);
}

es_status es_source_device(es_sound *sound, const char *name, es_source *out, es_error *error)
{
    es_input *in;
    *out = (es_source){0};
    es_status status = es_input_open(sound, name, NULL, &in, error);
    if (status != ES_OK)
        return status;
    status = es_input_start(in, error);
    if (status != ES_OK) {
        es_input_close(in);
        return status;
    }
    es_line_facts facts = es_input_facts(in);
    *out = (es_source){.self = in,
                       .rate_hz = facts.rate_hz,
                       .channels = facts.channels,
                       .paces_itself = 1,
                       .take = take,
                       .close = close_it};
    memcpy(out->name, facts.name, sizeof out->name);
    return ES_OK;
}
