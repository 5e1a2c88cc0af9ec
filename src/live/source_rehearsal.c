/* Frames from the rehearsal deck, with a trimmer to turn. */
#include "live/source.h"

#include "evenspool/tape/rehearsal.h"
#include "live/scenario_file.h"

#include <math.h>
#include <stdlib.h>

#define RATE_HZ 48000.0

typedef struct rehearsal {
    es_rehearsal *deck;
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
    es_rehearsal_turn_trimmer(r->deck, turns);
    r->stands = fmin(fmax(r->stands + turns, r->low), r->high);
    return r->stands;
}

/* The slot goes on by half the play beyond the stops. */
static void find_stops(rehearsal *r, const es_scenario_trimmer *t)
{
    double slack = 0.5 * t->backlash_deg / 360.0;
    r->low = -t->start * t->range_turns - slack;
    r->high = (1.0 - t->start) * t->range_turns + slack;
}

static void close_it(void *self)
{
    rehearsal *r = self;
    if (!r)
        return;
    es_rehearsal_destroy(r->deck);
    free(r);
}

static es_status load(const char *name, double least_s, es_scenario *out, es_error *error)
{
    es_error why = {0};
    es_status status = es_scenario_load(name, out, &why);
    if (status != ES_OK)
        return es_fail(error, status == ES_ERR_NOMEM ? status : ES_ERR_INPUT, why.code, "%s",
                       why.text);
    out->length_s = fmax(out->length_s, least_s);
    return es_scenario_check(out, RATE_HZ, error);
}

es_status es_source_rehearsal(const char *name, double least_s, es_source *out, es_error *error)
{
    es_scenario scenario;
    *out = (es_source){0};
    es_status status = load(name, least_s, &scenario, error);
    if (status != ES_OK)
        return status;
    rehearsal *r = calloc(1, sizeof *r);
    status = r ? es_rehearsal_create(&scenario, RATE_HZ, &r->deck) : ES_ERR_NOMEM;
    if (status != ES_OK) {
        close_it(r);
        return es_fail(error, ES_ERR_NOMEM, "no-memory",
                       "There is not enough memory for the deck.");
    }
    r->left = es_rehearsal_length(r->deck);
    find_stops(r, &scenario.trimmer);
    *out = (es_source){.self = r,
                       .rate_hz = RATE_HZ,
                       .channels = 2,
                       .take = take,
                       .turn = scenario.trimmer.per_turn != 0.0 ? turn : NULL,
                       .close = close_it};
    return ES_OK;
}
