#include "live/inputs.h"

#include "live/desk.h"

#include <math.h>
#include <string.h>

static void describe(const es_place *from, int with_inputs, es_live_place *to)
{
    *to = (es_live_place){.channels = with_inputs ? from->inputs : from->outputs,
                          .listed_rate_hz = from->listed_rate_hz,
                          .preferred = with_inputs ? from->first_in : from->first_out,
                          .rate_hz = (double)NAN};
    memcpy(to->name, from->name, sizeof to->name);
    memcpy(to->system, from->system, sizeof to->system);
    for (int c = 0; c < ES_INPUT_CHANNELS_MOST; c++)
        to->peak_fs[c] = to->rms_fs[c] = (double)NAN;
}

static void add(es_live_places *out, const es_place *place)
{
    if (place->inputs > 0 && out->input_count < ES_INPUTS_MOST)
        describe(place, 1, &out->inputs[out->input_count++]);
    if (place->outputs > 0 && out->output_count < ES_INPUTS_MOST)
        describe(place, 0, &out->outputs[out->output_count++]);
}

static void listen_to(es_sound *sound, double seconds, es_live_place *to)
{
    es_level level;
    es_status status = es_sound_listen(sound, to->name, seconds, &level, &to->trouble);
    to->trouble.status = status;
    if (status != ES_OK)
        return;
    to->heard = 1;
    to->rate_hz = level.rate_hz;
    to->heard_channels = level.channels;
    for (int c = 0; c < level.channels && c < ES_INPUT_CHANNELS_MOST; c++) {
        to->peak_fs[c] = level.peak_fs[c];
        to->rms_fs[c] = level.rms_fs[c];
    }
}

static es_status look(es_sound *sound, const char *only, es_live_places *out, es_error *error)
{
    const es_place *place;
    if (!only) {
        for (size_t i = 0; (place = es_sound_place(sound, i)); i++)
            add(out, place);
        return ES_OK;
    }
    es_status status = es_sound_find(sound, only, 1, &place, error);
    if (status == ES_OK)
        describe(place, 1, &out->inputs[out->input_count++]);
    return status;
}

/* From the list that was kept when the sound system was lent. */
static es_status look_from_outside(const es_place *places, size_t count, const char *only,
                                   es_live_places *out, es_error *error)
{
    for (size_t i = 0; i < count; i++)
        if (!only || (places[i].inputs > 0 && strcasestr(places[i].name, only)))
            add(out, &places[i]);
    if (only)
        out->output_count = 0;
    if (only && out->input_count == 0)
        return es_fail(error, ES_ERR_DEVICE, "no-such-device",
                       "No sound input is called \"%.60s\".", only);
    return ES_OK;
}

es_status es_inputs_look(const char *only, double listen_s, es_live_places *out, es_error *error)
{
    es_place lent[ES_DESK_PLACES];
    size_t count;
    out->input_count = out->output_count = 0;
    if (es_desk_look(lent, &count))
        return look_from_outside(lent, count, only, out, error);
    es_sound *sound;
    es_status status = es_desk_borrow(&sound, error);
    if (status != ES_OK)
        return status;
    status = look(sound, only, out, error);
    for (size_t i = 0; i < out->input_count && listen_s > 0.0; i++)
        listen_to(sound, listen_s, &out->inputs[i]);
    es_desk_return(sound);
    return status;
}

const char *es_inputs_level_word(double peak_fs)
{
    if (!(peak_fs >= 0.0005))
        return "nothing";
    if (peak_fs < 0.032)
        return "quiet";
    if (peak_fs < 0.89)
        return "good";
    return peak_fs < 0.9999 ? "loud" : "clipped";
}
