#include "live/practice_tape.h"

#include "evenspool/base/cue_sheet.h"
#include "evenspool/base/units.h"
#include "evenspool/task/programme_sound.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define REFERENCE_DBFS (-30.0) /* leaves room for any step; the deck sets the level */
#define SLOWER_MOST 0.01       /* than its speed error says: drift, warming up      */
#define AFTER_S 1.5            /* of the end marker                                 */

struct es_practice_tape {
    es_programme programme;
    es_programme_sound *sound;
};

static es_status choose(const es_programme *programme, size_t side, const es_scenario *scenario,
                        es_programme *out, es_error *error)
{
    const char *transport = es_transport_name(scenario->geometry.transport);
    if (programme)
        *out = *programme;
    else if (es_programme_find(transport, out) != ES_OK)
        return es_fail(error, ES_ERR_INPUT, "programme",
                       "No programme is built in for the scenario's %s deck; name one.", transport);
    if (strcmp(out->transport, transport) != 0)
        return es_fail(error, ES_ERR_INPUT, "programme",
                       "The programme %s is for %s, the scenario's deck is %s; choose one for the "
                       "other.",
                       out->name, out->transport, transport);
    if (side >= out->side_count)
        return es_fail(error, ES_ERR_INPUT, "programme", "The programme %s has no side %c.",
                       out->name, es_side_letter(side));
    return ES_OK;
}

/* Until the side is over for sure, and no longer than a scenario may be. */
static double length_for(const es_scenario *s, double side_s)
{
    double around_s = s->lead_in_s + s->start_ramp_s + s->stop_ramp_s + s->lead_out_s;
    double speed = (1.0 + s->speed_error) / (1.0 + s->tape_error) - SLOWER_MOST;
    return around_s + AFTER_S + side_s / fmax(speed, 0.1);
}

static void render(void *self, float *stereo, size_t frames)
{
    es_programme_sound_render(self, stereo, frames);
}

es_status es_practice_tape_create(const es_programme *programme, size_t side, int keep_length,
                                  es_scenario *scenario, es_practice_tape **out, es_error *error)
{
    es_programme_sound_config config = {
        .rate_hz = ES_RECORDING_RATE_HZ, .side = side, .reference_dbfs = REFERENCE_DBFS};
    *out = NULL;
    es_practice_tape *tape = calloc(1, sizeof *tape);
    if (!tape)
        return es_fail(error, ES_ERR_NOMEM, "no-memory",
                       "There is not enough memory for the tape.");
    es_status status = choose(programme, side, scenario, &tape->programme, error);
    if (status == ES_OK)
        status = es_programme_sound_create(&tape->programme, &config, &tape->sound, error);
    if (status != ES_OK) {
        es_practice_tape_destroy(tape);
        return status;
    }
    if (!keep_length)
        scenario->length_s = length_for(scenario, es_programme_side_s(&tape->programme, side));
    *out = tape;
    return ES_OK;
}

void es_practice_tape_destroy(es_practice_tape *tape)
{
    if (!tape)
        return;
    es_programme_sound_destroy(tape->sound);
    free(tape);
}

es_status es_practice_tape_play(es_practice_tape *tape, const es_scenario *scenario, double rate_hz,
                                es_rehearsal **out)
{
    es_recording recording = {
        .self = tape->sound, .render = render, .reference_fs = es_amplitude(REFERENCE_DBFS)};
    es_programme_sound_seek(tape->sound, 0);
    return es_rehearsal_create_playing(scenario, rate_hz, &recording, out);
}
