#include "serve/photo.h"

#include "serve/answer.h"

#include "live/ledger.h"
#include "live/small_file.h"

#include <string.h>

#define PHOTO_MOST (16u * 1024u * 1024u) /* bytes */

/* By the first bytes of each format: PNG (ISO/IEC 15948), JPEG (ISO/IEC 10918-1), GIF89a, WebP. */
static const char *type_of(const char *data, size_t size)
{
    static const struct {
        const char *first;
        size_t length;
        const char *type;
    } known[] = {{"\x89PNG\r\n\x1a\n", 8, "image/png"},
                 {"\xff\xd8\xff", 3, "image/jpeg"},
                 {"GIF87a", 6, "image/gif"},
                 {"GIF89a", 6, "image/gif"}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (size >= known[i].length && memcmp(data, known[i].first, known[i].length) == 0)
            return known[i].type;
    if (size >= 12 && memcmp(data, "RIFF", 4) == 0 && memcmp(data + 8, "WEBP", 4) == 0)
        return "image/webp";
    return NULL;
}

static es_status find_photo(es_request *r, es_deck_record *deck, es_error *error)
{
    es_ledger *ledger;
    es_status status = es_ledger_open(r->serve->config.records, ES_LEDGER_READ, &ledger, error);
    if (status != ES_OK)
        return status;
    status = es_ledger_deck(ledger, r->query[0], deck, error);
    es_ledger_close(ledger);
    if (status == ES_OK && !deck->photo[0])
        status = es_fail(error, ES_ERR_INPUT, "unknown", "There is no picture of this deck.");
    return status;
}

es_status es_photo_load(es_request *r, es_error *error)
{
    es_deck_record deck;
    es_status status = find_photo(r, &deck, error);
    if (status == ES_OK)
        status = es_small_file_read(deck.photo, PHOTO_MOST, &r->text, &r->size, error);
    if (status == ES_OK && !type_of(r->text, r->size))
        status = es_fail(error, ES_ERR_INPUT, "not-a-picture",
                         "What the records name as a picture of this deck is none.");
    return status;
}

enum MHD_Result es_photo_answer(es_request *r)
{
    const char *type = type_of(r->text, r->size);
    struct MHD_Response *with =
        MHD_create_response_from_buffer(r->size, r->text, MHD_RESPMEM_MUST_FREE);
    if (with)
        r->text = NULL;
    return es_answer_with(r->connection, MHD_HTTP_OK, with, type, 1);
}
