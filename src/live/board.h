/*
 * Board: where the worker puts snapshots up and any number of listeners read them, each with a
 * cursor of its own. Who is slow misses the oldest and is told how many.
 *
 *   thread  all under the lock of whoever owns the board
 *   memory  the last ES_BOARD_ROOM snapshots
 */
#ifndef ES_LIVE_BOARD_H
#define ES_LIVE_BOARD_H

#include "evenspool/base/trim_snapshot.h"

#include <stdint.h>

#define ES_BOARD_ROOM 128 /* 6.4 s */

typedef struct es_board {
    uint64_t newest; /* snapshots put up so far                                    */
    uint64_t wanted; /* number of the newest one that anybody has asked for so far */
    es_trim_snapshot *at;
} es_board;

/* 0: no memory. */
int es_board_create(es_board *board);
void es_board_destroy(es_board *board);

/* Not when it is no later than the one before. 1: it was put up. */
int es_board_put(es_board *board, const es_trim_snapshot *snapshot);

/* 1: *out holds the one after *cursor, or the oldest that is left; 0: there is none. */
int es_board_read(es_board *board, uint64_t *cursor, es_trim_snapshot *out, uint64_t *skipped);

#endif
