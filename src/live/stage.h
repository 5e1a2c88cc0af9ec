/*
 * Stage: one link of a chain of threads. It fills blocks on a thread of its own, a few ahead, and hands
 * them to the caller in order.
 *
 *   blocks  a fixed set, small enough to stay in a core's own cache; filled in place, never copied
 *   same    the blocks are the same whatever the timing
 *   thread  create, take and destroy on one thread
 */
#ifndef ES_LIVE_STAGE_H
#define ES_LIVE_STAGE_H

#include "evenspool/base/error.h"

#include <stddef.h>

typedef struct es_stage es_stage;

/* Fills a block and says how much is in it; *count 0: the end. Runs on the stage's thread. */
typedef es_status es_stage_fill(void *who, void *block, size_t *count, es_error *error);

/*
 * Starts filling. `who` must live as long as the stage and belongs to its thread until then.
 * ES_ERR_NOMEM, ES_ERR_INTERNAL ("no-thread"); *out is NULL on error.
 */
es_status es_stage_create(es_stage_fill *fill, void *who, size_t block_bytes, es_stage **out,
                          es_error *error);

/* Stops the thread, whether it is done or not, after the block it is filling. NULL is fine. */
void es_stage_destroy(es_stage *stage);

/*
 * The next block, valid until the next call; NULL with *count = 0: the end, or an error that
 * *status and error then tell.
 */
const void *es_stage_take(es_stage *stage, size_t *count, es_status *status, es_error *error);

#endif
