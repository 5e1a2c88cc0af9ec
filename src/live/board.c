#include "live/board.h"

#include <stdlib.h>

int es_board_create(es_board *board)
{
    *board = (es_board){.at = calloc(ES_BOARD_ROOM, sizeof *board->at)};
    return board->at != NULL;
}

void es_board_destroy(es_board *board)
{
    free(board->at);
    *board = (es_board){0};
}

int es_board_put(es_board *board, const es_trim_snapshot *snapshot)
{
    const es_trim_snapshot *last = &board->at[(board->newest + ES_BOARD_ROOM - 1) % ES_BOARD_ROOM];
    if (board->newest > 0 && snapshot->time_s <= last->time_s)
        return 0;
    board->at[board->newest++ % ES_BOARD_ROOM] = *snapshot;
    return 1;
}

int es_board_read(es_board *board, uint64_t *cursor, es_trim_snapshot *out, uint64_t *skipped)
{
    *skipped = 0;
    if (*cursor + 1 > board->wanted)
        board->wanted = *cursor + 1;
    if (*cursor >= board->newest)
        return 0;
    uint64_t oldest = board->newest > ES_BOARD_ROOM ? board->newest - ES_BOARD_ROOM : 0;
    if (*cursor < oldest) {
        *skipped = *cursor > 0 ? oldest - *cursor : 0; /* who comes new has missed nothing */
        *cursor = oldest;
    }
    *out = board->at[(*cursor)++ % ES_BOARD_ROOM];
    return 1;
}
