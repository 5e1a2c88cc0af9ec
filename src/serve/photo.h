/*
 * The picture of a deck: GET /api/photo?deck=NAME. Only what is a picture is handed out, whatever path
 * the records name: they may have been imported.
 */
#ifndef ES_SERVE_PHOTO_H
#define ES_SERVE_PHOTO_H

#include "serve/inside.h"

/*
 * On the clerk's thread; the picture is in request->text then. ES_ERR_INPUT "unknown" (the deck, or it
 * has no picture), "not-a-picture" (neither PNG, JPEG, GIF nor WebP); else as es_small_file_read().
 */
es_status es_photo_load(es_request *request, es_error *error);
enum MHD_Result es_photo_answer(es_request *request);

#endif
