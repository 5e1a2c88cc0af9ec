#include "evenspool/base/programme.h"

#include <string.h>

static const es_section_rule rules[] = {
    [ES_SECTION_LEADER] = {"leader", "silence, while the deck gets up to speed", 0, 0, 1},
    [ES_SECTION_SPEED] = {"speed", "speed, drift, wow and flutter", 1, 1, 1},
    [ES_SECTION_LEVEL] = {"level", "playback level and balance", 1, 1, 1},
    [ES_SECTION_AZIMUTH_TONES] = {"azimuth-tones", "azimuth, fine: phase of stepped tones", 1, 1,
                                  ES_PROGRAMME_STEPS},
    [ES_SECTION_AZIMUTH_BROADBAND] = {"azimuth-broadband", "azimuth, which whole turn of phase", 0,
                                      1, 1},
    [ES_SECTION_RESPONSE] = {"response", "frequency response", 1, 1, ES_PROGRAMME_STEPS},
    [ES_SECTION_LEFT_ONLY] = {"left-only", "what the left channel leaves in the right", 1, 1,
                              ES_PROGRAMME_STEPS},
    [ES_SECTION_RIGHT_ONLY] = {"right-only", "what the right channel leaves in the left", 1, 1,
                               ES_PROGRAMME_STEPS},
    [ES_SECTION_SILENCE] = {"silence", "noise and hum", 0, 0, 1},
    [ES_SECTION_DISTORTION] = {"distortion", "third harmonic at rising levels", 1, 1,
                               ES_PROGRAMME_STEPS},
    [ES_SECTION_END] = {"end", "the end of the side", 0, 0, 0},
};
_Static_assert(sizeof rules / sizeof *rules == ES_SECTION_KIND_COUNT, "one rule per kind");

const es_section_rule *es_section_rule_of(es_section_kind kind)
{
    return (unsigned)kind < ES_SECTION_KIND_COUNT ? &rules[kind] : NULL;
}

const char *es_section_kind_name(es_section_kind kind)
{
    const es_section_rule *rule = es_section_rule_of(kind);
    return rule ? rule->name : "";
}

es_status es_section_kind_from_name(const char *name, es_section_kind *out)
{
    *out = ES_SECTION_LEADER;
    for (int k = 0; k < ES_SECTION_KIND_COUNT; k++)
        if (strcmp(rules[k].name, name) == 0) {
            *out = (es_section_kind)k;
            return ES_OK;
        }
    return ES_ERR_ARG;
}
