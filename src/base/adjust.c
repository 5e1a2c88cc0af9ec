#include "evenspool/base/adjust.h"

#include <string.h>

/* Tolerances: speed, level and balance as usual in service; azimuth: 5 us are 18 degrees at 10 kHz,
 * where 45 count as good (common practice, no source). */
static const es_adjust_facts facts[] = {
    [ES_ADJUST_SPEED] = {"speed", "%", 2, 0.1, 0.01, 5.0, 10.0, "slow", "fast", "slow", "fast",
                         "neither fast nor slow", "true speed"},
    [ES_ADJUST_AZIMUTH] = {"azimuth", "us", 1, 5.0, 0.5, 100.0, 200.0, "right early", "right late",
                           "early", "late", "both at once", "no delay"},
    [ES_ADJUST_LEVEL] = {"level", "dB", 2, 0.5, 0.05, 6.0, 20.0, "soft", "loud", "soft", "loud",
                         "neither loud nor soft", "the reference"},
    [ES_ADJUST_BALANCE] = {"balance", "dB", 2, 0.5, 0.05, 6.0, 20.0, "right softer", "right louder",
                           "softer", "louder", "both alike", "the same level"},
};
_Static_assert(sizeof facts / sizeof *facts == ES_ADJUST_COUNT, "facts for each quantity");

const es_adjust_facts *es_adjust_facts_of(es_adjust adjust)
{
    return &facts[(unsigned)adjust < ES_ADJUST_COUNT ? adjust : ES_ADJUST_SPEED];
}

double es_adjust_scale(es_adjust adjust)
{
    static const double scale[] = {100.0, 5000.0, 500.0, 500.0};
    return scale[(unsigned)adjust < ES_ADJUST_COUNT ? adjust : ES_ADJUST_SPEED];
}

es_status es_adjust_from_name(const char *name, es_adjust *out)
{
    *out = ES_ADJUST_SPEED;
    for (unsigned i = 0; i < ES_ADJUST_COUNT; i++)
        if (strcmp(name, facts[i].name) == 0) {
            *out = (es_adjust)i;
            return ES_OK;
        }
    return ES_ERR_ARG;
}
