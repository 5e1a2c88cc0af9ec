/* Any bytes are a scenario or are refused with a sentence; what is read can be written, read back
 * to the same text, and played. */
#include "evenspool/tape/rehearsal.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define FRAMES 200

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(int holds)
{
    if (!holds)
        abort();
}

static void play(const es_scenario *scenario)
{
    float frames[2 * FRAMES];
    es_rehearsal *deck;
    es_error error = {0};
    if (es_scenario_check(scenario, 96000.0, &error) != ES_OK) {
        must(es_rehearsal_create(scenario, 96000.0, &deck) == ES_ERR_ARG);
        return;
    }
    must(es_rehearsal_create(scenario, 96000.0, &deck) == ES_OK);
    es_rehearsal_turn_trimmer(deck, 0.1);
    es_rehearsal_render(deck, frames, FRAMES);
    for (size_t i = 0; i < 2 * FRAMES; i++)
        must(frames[i] >= -1.0f && frames[i] <= 1.0f);
    must(es_rehearsal_truth_of(deck).frames == FRAMES);
    es_rehearsal_destroy(deck);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char once[ES_SCENARIO_TEXT], again[ES_SCENARIO_TEXT];
    es_scenario scenario, back;
    es_error error = {0};
    if (es_scenario_parse((const char *)data, size, &scenario, &error) != ES_OK) {
        must(error.status == ES_ERR_INPUT && strlen(error.text) > 10);
        must(error.text[strlen(error.text) - 1] == '.');
        return 0;
    }
    must(es_scenario_write(&scenario, once, sizeof once) == ES_OK);
    must(es_scenario_parse(once, strlen(once), &back, &error) == ES_OK);
    must(es_scenario_write(&back, again, sizeof again) == ES_OK);
    must(strcmp(once, again) == 0);
    play(&scenario);
    return 0;
}
