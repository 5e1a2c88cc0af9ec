/* Back from the document to what a later reading of the same tape is compared with. */
#include "json/strict.h"
#include "json/tape_json.h"

#include <math.h>
#include <string.h>

static double number_of(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    return json_is_number(value) ? json_number_value(value) : (double)NAN;
}

static void copy_text(const json_t *object, const char *key, char *out, size_t room)
{
    const char *text = json_string_value(json_object_get(object, key));
    if (text && strlen(text) < room)
        memcpy(out, text, strlen(text) + 1);
}

static void read_channel(const json_t *from, es_tape_channel *to)
{
    const json_t *list = json_object_get(from, "response");
    to->level_db = number_of(from, "level_db");
    for (size_t i = 0; i < json_array_size(list) && i < ES_TAPE_POINTS; i++) {
        const json_t *point = json_array_get(list, i);
        to->response[to->response_count++] = (es_tape_point){
            number_of(point, "hz"), number_of(point, "db"), number_of(point, "u95_db"), 0};
    }
}

static es_status read_document(es_strict *reader, json_t *root, es_tape_result *out)
{
    const char *schema = json_string_value(json_object_get(root, "schema"));
    const json_t *channels = json_object_get(root, "channels");
    if (!schema || strcmp(schema, ES_TAPE_SCHEMA) != 0)
        return es_fail(reader->error, ES_ERR_INPUT, reader->code,
                       "It is no document of tape read (schema %s): keep one with --json first.",
                       ES_TAPE_SCHEMA);
    copy_text(root, "programme", out->programme, sizeof out->programme);
    out->channel_count = json_array_size(channels);
    if (out->channel_count < 1 || out->channel_count > ES_TAPE_CHANNELS)
        return es_fail(reader->error, ES_ERR_INPUT, reader->code,
                       "It tells nothing of any channel: read that tape again.");
    for (size_t c = 0; c < out->channel_count; c++)
        read_channel(json_array_get(channels, c), &out->channels[c]);
    if (out->channels[0].response_count == 0)
        return es_fail(reader->error, ES_ERR_INPUT, reader->code,
                       "It tells no response: that section was not heard.");
    return ES_OK;
}

es_status es_tape_from_json(const char *text, size_t length, es_tape_result *out, es_error *error)
{
    es_strict reader = {.text = text, .length = length, .code = "not-tape-json", .error = error};
    json_t *root;
    memset(out, 0, sizeof *out);
    es_status status = es_strict_load(&reader, &root);
    if (status == ES_OK)
        status = read_document(&reader, root, out);
    json_decref(root);
    if (status != ES_OK)
        memset(out, 0, sizeof *out);
    return status;
}
