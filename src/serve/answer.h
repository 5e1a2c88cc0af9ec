/*
 * Answers: every one of them carries the headers that keep the page to itself (nothing inline,
 * nothing from anywhere else, not in a frame).
 */
#ifndef ES_SERVE_ANSWER_H
#define ES_SERVE_ANSWER_H

#include "evenspool/base/error.h"
#include "serve/files.h"

#include <microhttpd.h>

/* text becomes the answer's own (freed), or is answered as 500 when NULL. */
enum MHD_Result es_answer_json(struct MHD_Connection *to, unsigned code, char *text);

/* An evenspool.error/1 document; its status gives the code unless `code` is not 0. */
enum MHD_Result es_answer_error(struct MHD_Connection *to, unsigned code, const es_error *error);

/* One plain sentence for a person; header (may be NULL) with its value goes along. */
enum MHD_Result es_answer_sentence(struct MHD_Connection *to, unsigned code, const char *sentence,
                                   const char *header, const char *value);

/* A file of the page, or "not modified" when the browser has it. */
enum MHD_Result es_answer_file(struct MHD_Connection *to, const es_page_file *file);

/* Sends the browser to the page, with the key as a cookie. */
enum MHD_Result es_answer_paired(struct MHD_Connection *to, const char *key);

/* Any response, with the headers; takes it over. no_store: it must not be kept by the browser. */
enum MHD_Result es_answer_with(struct MHD_Connection *to, unsigned code, struct MHD_Response *with,
                               const char *type, int no_store);

#define ES_KEY_COOKIE "evenspool_key"

#endif
