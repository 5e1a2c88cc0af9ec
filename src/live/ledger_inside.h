/* What the files ledger*.c and exchange.c share. Private to them. */
#ifndef ES_LIVE_LEDGER_INSIDE_H
#define ES_LIVE_LEDGER_INSIDE_H

#include "evenspool/base/day.h"
#include "evenspool/trust/network.h"
#include "live/ledger.h"
#include "store/store.h"

struct es_ledger {
    es_store *store;
    es_ledger_mode mode;
    int depth; /* of es_ledger_begin() */
};

/* --- times and texts (ledger_words.c) -------------------------------------------------------- */

double es_ledger_today(void); /* base/day.h's number */

/*
 * A time as a person gave it; NULL or "": `otherwise`. ES_ERR_ARG "bad-day": not one, or not come
 * yet.
 */
es_status es_ledger_time(const char *given, const char *otherwise, char out[ES_TIME_ROOM],
                         es_error *error);

/* Copies all of it (NULL: ""). ES_ERR_ARG "too-long": `what` names it for the sentence. */
es_status es_ledger_text(const char *what, const char *from, char *to, size_t room,
                         es_error *error);

/* The day of a time within a sentence: its first ten characters. */
void es_ledger_day_text(const char *time, char out[ES_TIME_ROOM]);

/* ES_ERR_ARG "class": no class of machine is called so. */
es_status es_ledger_class(const char *transport, es_error *error);

es_status es_ledger_no_memory(es_error *error);

/* --- names (ledger.c) ------------------------------------------------------------------------- */

es_status es_ledger_tape_named(es_ledger *ledger, const char *name, es_tape_record *out,
                               es_error *error);

/*
 * The epoch with that number of the deck with that name; 0: the one it was in at that time, NULL or "":
 * the latest.
 */
es_status es_ledger_epoch_of(es_ledger *ledger, const char *deck, int64_t number, const char *at,
                             es_epoch_record *out, es_error *error);

/* --- the network of all that is kept (ledger_network.c) --------------------------------------- */

typedef struct es_ledger_id {
    int64_t id;
    size_t at;
} es_ledger_id;

typedef char es_ledger_line[ES_NAME_ROOM + 64];

/* Epochs stand in the order of their decks, each deck's in the order of their numbers; observations
 * are the plays and then the anchors. */
typedef struct es_ledger_net {
    size_t deck_count, epoch_count, play_count, anchor_count;
    es_deck_record *decks;
    es_epoch_record *epochs;
    es_play_record *plays;
    es_anchor_record *anchors;
    es_ledger_id *epoch_ids; /* sorted by id */

    size_t *deck_of;        /* epoch -> decks                                            */
    char *latest;           /* epoch: 1 if the deck is still in it                       */
    es_epoch *unknowns;     /* of epochs                                                 */
    es_observation *values; /* of plays and anchors                                      */
    es_network *network;    /* NULL: there is no deck                                    */

    es_ledger_line *epoch_text;     /* "deck B", "deck B until 2026-05-03"                */
    char (*day_text)[ES_TIME_ROOM]; /* of an observation                                 */
    const char **epoch_name, **method_name, **day_name; /* for es_certificate_names      */
} es_ledger_net;

/* Reads the records and solves. The caller clears it, also on error. */
es_status es_ledger_net_make(es_ledger *ledger, const es_trust_asked *asked, es_ledger_net *out,
                             es_error *error);
void es_ledger_net_clear(es_ledger_net *net);

/* ES_NONE: not there. */
size_t es_ledger_net_epoch(const es_ledger_net *net, int64_t id);
/* The epoch that a deck is in; the deck is there. */
size_t es_ledger_net_latest(const es_ledger_net *net, int64_t deck);

/* The tape's certificate from the solved network, into its record; a bought tape's stays. */
es_status es_ledger_certify(es_ledger_net *net, es_tape_record *tape, es_error *error);

/* Measurements that would help, into result->next (ledger_next.c). */
es_status es_ledger_next(es_ledger_net *net, const es_trust_asked *asked, es_trust_result *result,
                         es_error *error);

#endif
