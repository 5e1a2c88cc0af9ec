/*
 * Record of a solved trust network: how far each deck and each tape can be believed, what was
 * compared with what, what disagrees, and what to measure next. Made by the ledger (live/ledger.h)
 * out of the records; shown by the command, the page and JSON.
 *
 *   percent  of nominal speed, + fast; u is a standard uncertainty, u95 an expanded one
 *   NaN      not known, never 0: the error of a deck that nothing ties to true speed
 *   index    decks are named by their place in `decks`; ES_NO_DECK: none
 *   memory   the arrays belong to the record; one destroy frees all
 *   Definitions and formulas: docs/trust.md
 */
#ifndef ES_BASE_TRUST_RESULT_H
#define ES_BASE_TRUST_RESULT_H

#include "evenspool/base/records.h"

#define ES_NO_DECK SIZE_MAX
#define ES_TIED_ROOM 800

/* A deck from one adjustment to the next. */
typedef struct es_trust_deck {
    int64_t deck, epoch; /* ids of their records                                              */
    int64_t number;      /* of the epoch within the deck                                      */
    char name[ES_NAME_ROOM];
    char transport[ES_KEY_ROOM];
    int latest;   /* 1: the deck as it is now                                                 */
    int tied;     /* 1: an anchor reaches it                                                  */
    size_t group; /* decks of one group know their differences                                */
    double error_percent, u_percent, dof, u95_percent; /* NaN if not tied                     */
    char day[ES_TIME_ROOM];     /* for which that holds: today, or when the epoch ended        */
    char tied_to[ES_TIED_ROOM]; /* clause: "tied to timed tape length on 2026-05-03 and to
                                   deck C by 3 plays", "not tied to true speed"                */
} es_trust_deck;

typedef struct es_trust_tape {
    int64_t tape; /* id */
    char name[ES_NAME_ROOM];
    int tied; /* 1: its error is known, by the network or as stated by its maker             */
    double error_percent, u_percent, dof, u95_percent;
    char path[ES_PATH_ROOM]; /* clause: where that comes from                                  */
    size_t deck;             /* that recorded it; ES_NO_DECK: a bought tape                    */
} es_trust_tape;

typedef enum es_trust_kind { ES_TRUST_PLAY, ES_TRUST_ANCHOR } es_trust_kind;

typedef enum es_trust_role {
    ES_TRUST_USED,
    ES_TRUST_DRIFT_CHECK, /* played on the deck that recorded it: no word about speed          */
    ES_TRUST_REMOVED      /* taken out by the robust solution; its figures are against the rest */
} es_trust_role;

/* A line of the picture: a play from one deck to another, or an anchor from outside to a deck. */
typedef struct es_trust_link {
    es_trust_kind kind;
    int64_t id;                 /* of its record                                              */
    size_t from, to;            /* recorded on (ES_NO_DECK: an anchor), played on or anchored */
    char method[ES_KEY_ROOM];   /* anchor: key, "tape-length"                                 */
    char name[ES_KEY_ROOM];     /* anchor: "timed tape length"                                */
    char tape[ES_NAME_ROOM];    /* play: "" not known by name                                 */
    char day[ES_TIME_ROOM];     /* of the playing or the anchor; "" not known                 */
    double value_percent;       /* heard, or the deck's error                                 */
    double u_percent;           /* of that                                                    */
    es_trust_role role;         /*                                                            */
    double weight;              /* 1 as stated; less when softened; 0 when it takes no part   */
    double residual_percent;    /* observed minus adjusted                                    */
    double normalised;          /* residual by its standard deviation; NaN: nothing checks it */
    double gross_error_percent; /* if it alone is wrong: by so much                           */
    int suspect;                /* 1: disagrees most, and beyond chance                       */
    double share;               /* 0 .. 1 in the uncertainty of the deck `shares_of`          */
} es_trust_link;

typedef enum es_trust_consistency {
    ES_TRUST_UNTESTED, /* no observation too many: nothing that could contradict */
    ES_TRUST_CONSISTENT,
    ES_TRUST_CONTRADICTORY
} es_trust_consistency;

/* An observation that disagrees with the rest. */
typedef struct es_trust_suspect {
    size_t link;
    char text[2 * ES_LINE_ROOM]; /* sentences: what it is, how far off, and what to do          */
} es_trust_suspect;

/* A measurement that would help, and how much. */
typedef struct es_trust_next {
    es_trust_kind kind;
    size_t deck;                    /* whose uncertainty it would shrink                         */
    size_t other;                   /* play: the other deck                                      */
    char method[ES_KEY_ROOM];       /* anchor: its key                                           */
    char measurement[ES_LINE_ROOM]; /* a sentence: what to do                                  */
    double u_percent;               /* that such a measurement usually has                       */
    double now_u95_percent;         /* of the deck; NaN: not tied                                */
    double predicted_u95_percent;   /* after it                                                  */
} es_trust_next;

typedef struct es_trust_result {
    size_t deck_count, tape_count, link_count, suspect_count, next_count;
    es_trust_deck *decks; /* by name as added, each deck's epochs in order                     */
    es_trust_tape *tapes;
    es_trust_link *links; /* plays, then anchors, each in order of id                          */
    es_trust_suspect *suspects;
    es_trust_next *next; /* best first                                                         */

    char asked_day[ES_TIME_ROOM]; /* today                                                     */
    double level;                 /* of all that is called u95                                 */
    double chi_square;
    size_t degrees_of_freedom;
    double p; /* probability of a chi-square at least so large; NaN: untested                  */
    es_trust_consistency consistency;
    double critical; /* |normalised| beyond which one is a suspect; NaN: none is checked       */
    size_t removed, groups, untied_decks; /* untied_decks: of those that are as they are now   */
    size_t shares_of;  /* the deck whose shares the links tell; ES_NO_DECK: none was asked for */
    double walk_share; /* of its drift since it was observed, 0 .. 1                           */
} es_trust_result;

/* Frees it with its arrays. NULL is fine. */
void es_trust_result_destroy(es_trust_result *result);

#endif
