/* Any bytes are an export or are refused with a sentence; what is read can be written and read back to the
 * same text. */
#include "json/records_json.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(int holds)
{
    if (!holds)
        abort();
}

static es_status write_one(void *user, const es_record_kind *kind, const void *record,
                           es_error *error)
{
    return es_records_add(user, kind, record, error);
}

static char *written(const es_records_document *document, size_t *length)
{
    char *text = NULL;
    FILE *to = open_memstream(&text, length);
    es_records_writer writer;
    must(to != NULL);
    es_records_begin(&writer, to, "2026-11-25");
    must(es_records_give(document, write_one, &writer, NULL) == ES_OK);
    es_records_end(&writer);
    must(fclose(to) == 0);
    return text;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    es_records_document *document, *back;
    es_error error = {0};
    if (es_records_read((const char *)data, size, &document, &error) != ES_OK) {
        size_t length = strlen(error.text);
        must(error.status == ES_ERR_INPUT && length > 10 && error.text[length - 1] == '.');
        must(document == NULL);
        return 0;
    }
    size_t length, again_length;
    char *once = written(document, &length);
    must(es_records_read(once, length, &back, &error) == ES_OK);
    char *twice = written(back, &again_length);
    must(length == again_length && memcmp(once, twice, length) == 0);
    free(once);
    free(twice);
    es_records_destroy(document);
    es_records_destroy(back);
    return 0;
}
