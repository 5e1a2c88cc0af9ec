/*
 * Record of a history: what is kept of one deck, or plays and anchors of all, with names in place of
 * numbers where a person reads them. Made by the ledger (live/ledger.h).
 */
#ifndef ES_BASE_HISTORY_H
#define ES_BASE_HISTORY_H

#include "evenspool/base/records.h"

typedef struct es_told_play {
    es_play_record play;
    char recorded_deck[ES_NAME_ROOM], played_deck[ES_NAME_ROOM];
    int64_t recorded_number, played_number; /* of the epochs within their decks */
    char tape[ES_NAME_ROOM];                /* "": not known by name            */
} es_told_play;

typedef struct es_told_anchor {
    es_anchor_record anchor;
    char deck[ES_NAME_ROOM];
    int64_t number;         /* of the epoch within the deck */
    char name[ES_KEY_ROOM]; /* "timed tape length"          */
} es_told_anchor;

/* Each array in order of id; a part names the record it belongs to (nudge.job, answer.anchor). */
typedef struct es_history {
    es_deck_record deck; /* blank: of all decks; then only plays and anchors are filled in */
    size_t epoch_count, job_count, nudge_count, remark_count, reading_count;
    size_t play_count, anchor_count, answer_count, budget_count;
    es_epoch_record *epochs;
    es_job_record *jobs;
    es_nudge_record *nudges;
    es_remark_record *remarks;
    es_reading_record *readings; /* without their documents */
    es_told_play *plays;
    es_told_anchor *anchors;
    es_answer_record *answers;
    es_budget_record *budget;
} es_history;

/* Frees it with its arrays. NULL is fine. */
void es_history_destroy(es_history *history);

#endif
