/* Any bytes are a programme or are refused with a sentence that tells line and column; what is read can
 * be written and read back to the same text, and what the check refuses can be pointed at. */
#include "evenspool/task/programme.h"
#include "json/programme_json.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(int holds)
{
    if (!holds)
        abort();
}

static void must_be_a_sentence(const es_error *error)
{
    size_t length = strlen(error->text);
    must(error->status == ES_ERR_INPUT && length > 10 && error->text[length - 1] == '.');
    must(strncmp(error->text, "Line ", 5) == 0 && strstr(error->text, ", column "));
}

static void check(const es_programme *programme, const char *text, size_t size)
{
    es_error found = {0}, error = {0};
    es_programme_spot spot;
    if (es_programme_check(programme, &spot, &found) == ES_OK)
        return;
    must(es_programme_json_point(text, size, &spot, &found, &error) == ES_ERR_INPUT);
    must_be_a_sentence(&error);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static es_programme programme, back;
    const char *text = (const char *)data;
    char *once, *twice;
    es_error error = {0};
    if (es_programme_from_json(text, size, &programme, &error) != ES_OK) {
        must_be_a_sentence(&error);
        return 0;
    }
    check(&programme, text, size);
    must(es_programme_to_json(&programme, &once) == ES_OK);
    must(es_programme_from_json(once, strlen(once), &back, &error) == ES_OK);
    must(es_programme_to_json(&back, &twice) == ES_OK);
    must(strcmp(once, twice) == 0);
    free(once);
    free(twice);
    return 0;
}
