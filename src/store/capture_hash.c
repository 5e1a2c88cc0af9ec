#include "store/capture_hash.h"

#include <nettle/sha2.h>

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define BLOCK_BYTES 65536

struct es_capture_hash {
    struct sha256_ctx state;
    unsigned char block[BLOCK_BYTES];
};

es_status es_capture_hash_create(es_capture_hash **out)
{
    *out = calloc(1, sizeof **out);
    if (!*out)
        return ES_ERR_NOMEM;
    sha256_init(&(*out)->state);
    return ES_OK;
}

void es_capture_hash_destroy(es_capture_hash *hash)
{
    free(hash);
}

void es_capture_hash_push(es_capture_hash *hash, const void *bytes, size_t count)
{
    sha256_update(&hash->state, count, bytes);
}

void es_capture_hash_finish(es_capture_hash *hash, char out[ES_SHA256_ROOM])
{
    uint8_t digest[SHA256_DIGEST_SIZE];
    sha256_digest(&hash->state, sizeof digest, digest);
    for (size_t i = 0; i < sizeof digest; i++)
        snprintf(out + 2 * i, 3, "%02x", digest[i]);
}

static es_status hash_stream(es_capture_hash *hash, FILE *stream, char out[ES_SHA256_ROOM],
                             es_error *error)
{
    size_t count;
    while ((count = fread(hash->block, 1, sizeof hash->block, stream)) > 0)
        es_capture_hash_push(hash, hash->block, count);
    if (ferror(stream))
        return es_fail(error, ES_ERR_IO, "disk-failed", "The capture can't be read: %s.",
                       strerror(errno));
    es_capture_hash_finish(hash, out);
    return ES_OK;
}

es_status es_capture_hash_file(const char *path, char out[ES_SHA256_ROOM], es_error *error)
{
    out[0] = '\0';
    es_capture_hash *hash;
    if (es_capture_hash_create(&hash) != ES_OK)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    FILE *stream = fopen(path, "rb");
    es_status status = stream ? hash_stream(hash, stream, out, error)
                              : es_fail(error, ES_ERR_IO, "no-permission",
                                        "The capture can't be opened: %s.", strerror(errno));
    if (stream)
        fclose(stream);
    es_capture_hash_destroy(hash);
    return status;
}
