/*
 * A capture of any bytes: through the reader, as a file in memory or as raw samples, and the
 * beginning of it through the check. What may not happen: a crash, a hang, a sample count that
 * does not agree with itself, a figure where there is an error.
 */
#include "evenspool/task/check.h"
#include "wave/reader.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define BLOCK 512
#define FRAMES_MOST 100000 /* an input of some bytes may claim, and hold, hours */

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);
__attribute__((visibility("default"))) const char *__lsan_default_suppressions(void);

/* libsndfile 1.2.0 forgets a Vorbis description when it refuses a broken Ogg file. */
const char *__lsan_default_suppressions(void)
{
    return "leak:vorbis_info_init\n";
}

static void demand(int condition)
{
    if (!condition)
        abort();
}

static void finish(es_check *check)
{
    static es_check_result result;
    es_error error = {0};
    es_status status = es_check_finish(check, &result, &error);
    demand(status == ES_OK || (status == ES_ERR_INPUT && error.code[0] && error.text[0]));
    es_check_destroy(check);
}

static void measure(es_wave_reader *reader)
{
    es_wave_facts facts = es_wave_reader_facts(reader);
    demand(facts.channels >= 1 && facts.channels <= ES_WAVE_CHANNELS_MOST);
    demand(facts.rate_hz >= ES_WAVE_RATE_MIN_HZ && facts.rate_hz <= ES_WAVE_RATE_MAX_HZ);
    es_check_config config = es_check_defaults(facts.rate_hz, facts.channels);
    es_check *check;
    demand(es_check_create(&config, &check, NULL) == ES_OK);
    float *frames = malloc(BLOCK * (size_t)facts.channels * sizeof *frames);
    demand(frames != NULL);
    size_t total = 0, count = 1;
    es_status status = ES_OK;
    while (status == ES_OK && count > 0 && total < FRAMES_MOST) {
        es_error error = {0};
        status = es_wave_reader_read(reader, frames, BLOCK, &count, &error);
        demand(status == ES_OK || (count == 0 && error.code[0]));
        demand(count <= BLOCK);
        es_check_push(check, frames, count);
        total += count;
    }
    demand(facts.frames < 0 || (int64_t)total <= facts.frames);
    free(frames);
    finish(check);
}

static void read_as(const uint8_t *data, size_t size, const es_wave_raw *raw)
{
    es_wave_reader *reader;
    es_error error = {0};
    es_status status = es_wave_reader_open_memory(data, size, raw, &reader, &error);
    demand((status == ES_OK) == (reader != NULL));
    demand(status == ES_OK || (error.code[0] && error.text[0]));
    if (reader)
        measure(reader);
    es_wave_reader_close(reader);
}

/* A first byte that begins no known kind of file says how the rest is coded. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size > 2 && data[0] > ES_CODING_NONE && data[0] < ES_CODING_COUNT) {
        es_wave_raw raw = {(es_wave_coding)data[0], 48000, 1 + data[1] % ES_WAVE_CHANNELS_MOST};
        read_as(data + 2, size - 2, &raw);
    } else {
        read_as(data, size, NULL);
    }
    return 0;
}
