/* The keys of the text form of scenarios: one table for reading, writing and checking. */
#ifndef ES_TAPE_SCENARIO_KEYS_H
#define ES_TAPE_SCENARIO_KEYS_H

#include "evenspool/base/text.h"
#include "evenspool/tape/scenario.h"

typedef enum es_key_kind {
    ES_KEY_LIKE,   /* name of a built-in scenario to start from            */
    ES_KEY_NAME,   /* lower-case words with hyphens                        */
    ES_KEY_ABOUT,  /* a line of text                                       */
    ES_KEY_SEED,   /* whole number                                         */
    ES_KEY_CLASS,  /* transport class; sets the sizes to the class's usual */
    ES_KEY_WORD,   /* one of some words; a field of the size of an int     */
    ES_KEY_NUMBER, /* a double                                             */
    ES_KEY_LEVEL   /* a double, or "none"                                  */
} es_key_kind;

typedef struct es_scenario_key {
    const char *name;
    es_key_kind kind;
    size_t offset;        /* of the field in es_scenario                             */
    const char *unit;     /* "" for none                                              */
    int shift;            /* field = number in the text * 10^shift                    */
    double low, high;     /* range of the number in the text                          */
    double none;          /* the field's value for "none"                             */
    const char *words[3]; /* of ES_KEY_WORD, in the order of the field's values       */
    int size;             /* 1: one of the sizes that `class` sets                    */
} es_scenario_key;

#define ES_SEED_MOST 9007199254740992u /* 2^53 */

size_t es_scenario_key_count(void);
const es_scenario_key *es_scenario_key_at(size_t index);

double *es_scenario_number(es_scenario *scenario, const es_scenario_key *key);
unsigned *es_scenario_word(es_scenario *scenario, const es_scenario_key *key);

/* Is the field's value one that the text form can hold? */
int es_scenario_key_holds(const es_scenario *scenario, const es_scenario_key *key);

/* Appends what the text form wants at this key, e.g. "a number from -30 to 30 with the unit %". */
void es_scenario_key_wants(es_text *text, const es_scenario_key *key);

/* Class, its usual sizes, its tracks. */
void es_scenario_set_class(es_scenario *scenario, es_transport_class transport);

/* The size settings that a part's rate needs, for people. */
const char *es_scenario_part_needs(es_part part);

int es_scenario_name_is_sound(const char *name, size_t length);
int es_scenario_about_is_sound(const char *about, size_t length);

#endif
