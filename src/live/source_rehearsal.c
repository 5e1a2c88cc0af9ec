/* Frames from the rehearsal deck, with a trimmer to turn. */
#include "live/source.h"

#include "live/practice_tape.h"
#include "live/scenario_file.h"

#include <math.h>
#include <stdlib.h>

#define RATE_HZ 48000.0

typedef struct rehearsal {
    es_rehearsal *deck;
    es_practice_tape *tape; /* NULL: the scenario's tone */
    es_screw screw;
    int64_t left;             /* frames to come                                   */
    double stands, low, high; /* the trimmer's slot, and its stops [turns]        */
} rehearsal;

static es_source_state take(void *self, float *frames, size_t room, es_taken *out, es_error *error)
{
    rehearsal *r = self;
    (void)error;
    out->count = r->left < (int64_t)room ? (size_t)r->left : room;
    if (out->count == 0)
        return ES_SOURCE_ENDED;
    es_rehearsal_render(r->deck, frames, out->count);
    r->left -= (int64_t)out->count;
    return ES_SOURCE_RUNNING;
}

static double turn(void *self, double turns)
{
    rehearsal *r = self;
    es_rehearsal_turn(r->deck, r->screw, turns);
    r->stands = fmin(fmax(r->stands + turns, r->low), r->high);
    return r->stands;
}

/* The slot goes on by half the play beyond the stops. 0: it has no effect. */
static int find_stops(rehearsal *r, double per_turn, double backlash_deg, double range,
                      double start)
{
    double slack = 0.5 * backlash_deg / 360.0;
    r->low = -start * range - slack;
    r->high = (1.0 - start) * range + slack;
    return per_turn != 0.0;
}

static int find_screw(rehearsal *r, const es_scenario *s)
{
    const es_scenario_trimmer *t = &s->trimmer;
    const es_scenario_screw *screw =
        r->screw == ES_SCREW_AZIMUTH ? &s->azimuth_screw : &s->level_trimmer;
    if (r->screw == ES_SCREW_SPEED)
        return find_stops(r, t->per_turn, t->backlash_deg, t->range_turns, t->start);
    return find_stops(r, screw->per_turn, screw->backlash_deg, screw->range_turns, screw->start);
}

static void close_it(void *self)
{
    rehearsal *r = self;
    if (!r)
        return;
    es_rehearsal_destroy(r->deck);
    es_practice_tape_destroy(r->tape);
    free(r);
}

/* The scenario, and room for its deck. */
static es_status prepare(const char *name, es_scenario *scenario, rehearsal **out, es_error *error)
{
    es_error why = {0};
    es_status status = es_scenario_load(name, scenario, &why);
    *out = NULL;
    if (status != ES_OK)
        return es_fail(error, status == ES_ERR_NOMEM ? status : ES_ERR_INPUT, why.code, "%s",
                       why.text);
    *out = calloc(1, sizeof **out);
    return *out ? ES_OK
                : es_fail(error, ES_ERR_NOMEM, "no-memory",
                          "There is not enough memory for the deck.");
}

/* The deck, with r->tape when there is one. */
static es_status begin(rehearsal *r, const es_scenario *scenario, es_error *error)
{
    es_status status = es_scenario_check(scenario, RATE_HZ, error);
    if (status != ES_OK)
        return status;
    status = r->tape ? es_practice_tape_play(r->tape, scenario, RATE_HZ, &r->deck)
                     : es_rehearsal_create(scenario, RATE_HZ, &r->deck);
    if (status != ES_OK)
        return es_fail(error, ES_ERR_NOMEM, "no-memory",
                       "There is not enough memory for the deck.");
    r->left = es_rehearsal_length(r->deck);
    return ES_OK;
}

/* Gives it away, or up. */
static es_status hand_over(rehearsal *r, es_status status, es_source *out)
{
    if (status != ES_OK) {
        close_it(r);
        return status;
    }
    *out =
        (es_source){.self = r, .rate_hz = RATE_HZ, .channels = 2, .take = take, .close = close_it};
    return ES_OK;
}

es_status es_source_rehearsal(const char *name, double least_s, es_screw screw, es_source *out,
                              es_error *error)
{
    es_scenario scenario;
    rehearsal *r;
    *out = (es_source){0};
    es_status status = prepare(name, &scenario, &r, error);
    if (status != ES_OK)
        return status;
    scenario.length_s = fmax(scenario.length_s, least_s);
    r->screw = screw;
    int turns = find_screw(r, &scenario);
    status = hand_over(r, begin(r, &scenario, error), out);
    if (status == ES_OK && turns)
        out->turn = turn;
    return status;
}

es_status es_source_rehearsal_tape(const char *name, const es_programme *programme, size_t side,
                                   es_source *out, es_error *error)
{
    es_scenario scenario;
    rehearsal *r;
    *out = (es_source){0};
    es_status status = prepare(name, &scenario, &r, error);
    if (status == ES_OK)
        status = es_practice_tape_create(programme, side, 0, &scenario, &r->tape, error);
    if (status == ES_OK)
        status = begin(r, &scenario, error);
    return hand_over(r, status, out);
}
