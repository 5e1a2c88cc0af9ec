#include "serve/inputs.h"

#include "evenspool/base/text.h"
#include "live/inputs.h"

#include <math.h>
#include <stdlib.h>

#define LISTEN_S 0.15 /* to each input: long enough to tell a playing deck from a dead cable */

static double loudest(const es_live_place *place)
{
    double peak = (double)NAN;
    for (int i = 0; i < place->heard_channels; i++)
        peak = fmax(peak, place->peak_fs[i]); /* fmax passes over NaN */
    return peak;
}

static void describe(const es_live_place *place, es_serve_input *out)
{
    es_text name = es_text_over(out->name, sizeof out->name);
    es_text about = es_text_over(out->about, sizeof out->about);
    es_text_add(&name, "%s", place->name);
    if (place->preferred)
        es_text_add(&about, "the usual one, ");
    if (place->trouble.status != ES_OK)
        es_text_add(&about, "can't be opened now");
    else if (place->heard)
        es_text_add(&about, "level: %s", es_inputs_level_word(loudest(place)));
    else
        es_text_add(&about, "not listened to");
}

es_status es_serve_list_inputs(void *who, es_serve_input *list, size_t room, size_t *count,
                               es_error *error)
{
    (void)who;
    *count = 0;
    es_live_places *places = malloc(sizeof *places);
    if (!places)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    es_status status = es_inputs_look(NULL, LISTEN_S, places, error);
    if (status == ES_OK) {
        *count = places->input_count < room ? places->input_count : room;
        for (size_t i = 0; i < *count; i++)
            describe(&places->inputs[i], &list[i]);
    }
    free(places);
    return status;
}
