#include "serve/answer.h"

#include "json/check_json.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const headers[][2] = {
    {"Content-Security-Policy",
     "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self' "
     "data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
    {"X-Content-Type-Options", "nosniff"},
    {"X-Frame-Options", "DENY"},
    {"Referrer-Policy", "no-referrer"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
    {"Cross-Origin-Opener-Policy", "same-origin"},
    {"Permissions-Policy", "camera=(), microphone=(), geolocation=()"},
};

enum MHD_Result es_answer_with(struct MHD_Connection *to, unsigned code, struct MHD_Response *with,
                               const char *type, int no_store)
{
    if (!with)
        return MHD_NO;
    for (size_t i = 0; i < sizeof headers / sizeof *headers; i++)
        MHD_add_response_header(with, headers[i][0], headers[i][1]);
    if (type)
        MHD_add_response_header(with, "Content-Type", type);
    MHD_add_response_header(with, "Cache-Control", no_store ? "no-store" : "no-cache");
    enum MHD_Result result = MHD_queue_response(to, code, with);
    MHD_destroy_response(with);
    return result;
}

enum MHD_Result es_answer_sentence(struct MHD_Connection *to, unsigned code, const char *sentence,
                                   const char *header, const char *value)
{
    struct MHD_Response *with = MHD_create_response_from_buffer(
        strlen(sentence), (void *)(uintptr_t)sentence, MHD_RESPMEM_MUST_COPY);
    if (with && header)
        MHD_add_response_header(with, header, value);
    return es_answer_with(to, code, with, "text/plain; charset=utf-8", 1);
}

enum MHD_Result es_answer_json(struct MHD_Connection *to, unsigned code, char *text)
{
    if (!text)
        return es_answer_sentence(to, MHD_HTTP_INTERNAL_SERVER_ERROR,
                                  "There is not enough memory.\n", NULL, NULL);
    struct MHD_Response *with =
        MHD_create_response_from_buffer(strlen(text), text, MHD_RESPMEM_MUST_FREE);
    if (!with)
        free(text);
    return es_answer_with(to, code, with, "application/json", 1);
}

static unsigned code_of(es_status status)
{
    switch (status) {
    case ES_ERR_ARG:
        return MHD_HTTP_BAD_REQUEST;
    case ES_ERR_INPUT:
        return MHD_HTTP_UNPROCESSABLE_CONTENT;
    case ES_ERR_IO:
    case ES_ERR_DEVICE:
        return MHD_HTTP_SERVICE_UNAVAILABLE;
    default:
        return MHD_HTTP_INTERNAL_SERVER_ERROR;
    }
}

enum MHD_Result es_answer_error(struct MHD_Connection *to, unsigned code, const es_error *error)
{
    char *text;
    es_error_to_json(error, NULL, 0, &text);
    return es_answer_json(to, code ? code : code_of(error->status), text);
}

enum MHD_Result es_answer_file(struct MHD_Connection *to, const es_page_file *file)
{
    const char *has = MHD_lookup_connection_value(to, MHD_HEADER_KIND, "If-None-Match");
    int same = has && strcmp(has, file->tag) == 0;
    struct MHD_Response *with = MHD_create_response_from_buffer(
        same ? 0 : file->size, (void *)(uintptr_t)file->data, MHD_RESPMEM_PERSISTENT);
    if (with)
        MHD_add_response_header(with, "ETag", file->tag);
    return es_answer_with(to, same ? MHD_HTTP_NOT_MODIFIED : MHD_HTTP_OK, with, file->type, 0);
}

enum MHD_Result es_answer_paired(struct MHD_Connection *to, const char *key)
{
    char cookie[160];
    snprintf(cookie, sizeof cookie, ES_KEY_COOKIE "=%s; Path=/; HttpOnly; SameSite=Lax", key);
    struct MHD_Response *with = MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT);
    if (with) {
        MHD_add_response_header(with, "Set-Cookie", cookie);
        MHD_add_response_header(with, "Location", "/");
    }
    return es_answer_with(to, MHD_HTTP_SEE_OTHER, with, NULL, 1);
}
