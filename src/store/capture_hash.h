/*
 * SHA-256 of a capture's bytes (FIPS 180-4): says which file a reading was made from.
 *
 *   use     create, push ..., finish, destroy; or _file for a file that is at rest
 *   thread  one hash, one thread at a time
 *   rt      _push never allocates
 */
#ifndef ES_STORE_CAPTURE_HASH_H
#define ES_STORE_CAPTURE_HASH_H

#include "evenspool/base/error.h"
#include "evenspool/base/records.h"

typedef struct es_capture_hash es_capture_hash;

/* ES_ERR_NOMEM; *out is NULL on error. */
es_status es_capture_hash_create(es_capture_hash **out);
void es_capture_hash_destroy(es_capture_hash *hash);
void es_capture_hash_push(es_capture_hash *hash, const void *bytes, size_t count);
/* 64 lower-case hex digits; the hash is as new afterwards. */
void es_capture_hash_finish(es_capture_hash *hash, char out[ES_SHA256_ROOM]);

/* ES_ERR_IO "no-permission", "disk-failed". out is "" on error. */
es_status es_capture_hash_file(const char *path, char out[ES_SHA256_ROOM], es_error *error);

#endif
