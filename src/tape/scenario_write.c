#include "evenspool/base/text.h"
#include "evenspool/tape/scenario.h"

#include "tape/number.h"
#include "tape/scenario_keys.h"

#include <string.h>

/* What a text that says nothing about this key would mean: the defaults, with the class's sizes. */
static es_scenario unsaid(const es_scenario *s)
{
    es_scenario d = es_scenario_defaults();
    if (s->geometry.transport != d.geometry.transport)
        es_scenario_set_class(&d, s->geometry.transport);
    return d;
}

static void write_number(es_text *text, es_scenario *s, es_scenario *d, const es_scenario_key *key)
{
    double value = *es_scenario_number(s, key);
    if (memcmp(&value, es_scenario_number(d, key), sizeof value) == 0)
        return;
    es_text_add(text, "%s = ", key->name);
    if (key->kind == ES_KEY_LEVEL && value == key->none) {
        es_text_add(text, "none\n");
        return;
    }
    es_decimal_write(text, value, key->shift);
    es_text_add(text, " %s\n", key->unit);
}

static void write_key(es_text *text, es_scenario *s, es_scenario *d, const es_scenario_key *key)
{
    switch (key->kind) {
    case ES_KEY_LIKE:
        break;
    case ES_KEY_NAME:
        es_text_add(text, "name = %s\n", s->name);
        break;
    case ES_KEY_ABOUT:
        if (s->about[0])
            es_text_add(text, "about = %s\n", s->about);
        break;
    case ES_KEY_SEED:
        es_text_add(text, "seed = %llu\n", (unsigned long long)s->seed);
        break;
    case ES_KEY_CLASS:
        if (s->geometry.transport != es_scenario_defaults().geometry.transport)
            es_text_add(text, "class = %s\n", es_transport_name(s->geometry.transport));
        break;
    case ES_KEY_WORD:
        if (*es_scenario_word(s, key) != *es_scenario_word(d, key))
            es_text_add(text, "%s = %s\n", key->name, key->words[*es_scenario_word(s, key)]);
        break;
    case ES_KEY_NUMBER:
    case ES_KEY_LEVEL:
        write_number(text, s, d, key);
        break;
    }
}

es_status es_scenario_write(const es_scenario *scenario, char *room, size_t size)
{
    if (size == 0)
        return ES_ERR_SPACE;
    es_text text = es_text_over(room, size);
    if (es_scenario_check(scenario, 0.0, NULL) != ES_OK)
        return ES_ERR_ARG;
    es_scenario s = *scenario, d = unsaid(scenario);
    for (size_t i = 0; i < es_scenario_key_count(); i++)
        write_key(&text, &s, &d, es_scenario_key_at(i));
    if (!text.cut)
        return ES_OK;
    room[0] = '\0';
    return ES_ERR_SPACE;
}
