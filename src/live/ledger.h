/*
 * Ledger: the one door to the records for the faces. It knows decks and tapes by their names, ties
 * plays and anchors to the right stretch of a deck's life, and solves the trust network.
 *
 *   names    are what people use; one that is not there is answered with the nearest that is
 *   days     "2026-05-03" or "2026-05-03T14:05:00Z", UTC; NULL or "": now
 *   epochs   a deck is a new unknown after each adjustment. Where a number of an epoch is asked for, 0
 *            means: the one that the deck was in on that day
 *   kept     as store/store.h says: acknowledged means on the disk, an error means nothing changed
 *   thread   one ledger, one thread at a time
 *   error    what store/store.h says for all, and of its own:
 *            ES_ERR_INPUT "unknown": no deck, tape, play or anchor of that name or number;
 *            "name-taken", "bad-value", "still-used", "contradiction" as the store says;
 *            ES_ERR_ARG: what the caller could have known beforehand is wrong (a class, a method, an
 *            uncertainty that is not above zero); ES_ERR_NOMEM.
 *            On error out-parameters are NULL, 0 or blank
 */
#ifndef ES_LIVE_LEDGER_H
#define ES_LIVE_LEDGER_H

#include "evenspool/base/anchor_form.h"
#include "evenspool/base/check_result.h"
#include "evenspool/base/error.h"
#include "evenspool/base/history.h"
#include "evenspool/base/records.h"
#include "evenspool/base/trim_session.h"
#include "evenspool/base/trust_result.h"

#define ES_LEDGER_PATH_ROOM 4096

typedef struct es_ledger es_ledger;

typedef enum es_ledger_mode {
    ES_LEDGER_READ,
    ES_LEDGER_WRITE, /* the file must be there                      */
    ES_LEDGER_CREATE /* made with its folders when it is not there  */
} es_ledger_mode;

/* Now, as records write it. */
void es_ledger_now(char out[ES_TIME_ROOM]);

/* Where the records are: path itself, or for NULL the usual place. ES_ERR_INPUT "no-home". */
es_status es_ledger_where(const char *path, char *out, size_t room, es_error *error);

/* path NULL: the usual place. ES_ERR_IO as es_store_open(): "no-records", "not-records" ... */
es_status es_ledger_open(const char *path, es_ledger_mode mode, es_ledger **out, es_error *error);
void es_ledger_close(es_ledger *ledger); /* NULL is fine */

/*
 * Several changes as one: begin, the changes, and end with the worst of their statuses. ES_OK keeps them
 * all, anything else none. end returns that status, or what went wrong with the keeping. May be nested.
 */
es_status es_ledger_begin(es_ledger *ledger, es_error *error);
es_status es_ledger_end(es_ledger *ledger, es_status status, es_error *error);

/* --- decks ---------------------------------------------------------------------------------- */

/* Nothing said; class "cassette". */
es_deck_record es_ledger_blank_deck(void);

/* id is given by the records. began: since when it runs as it does; NULL: not known. */
es_status es_ledger_add_deck(es_ledger *ledger, const es_deck_record *deck, const char *began,
                             es_error *error);
es_status es_ledger_deck(es_ledger *ledger, const char *name, es_deck_record *out, es_error *error);
/* In the order in which they were added; *out is the caller's to free. */
es_status es_ledger_decks(es_ledger *ledger, es_deck_record **out, size_t *count, es_error *error);
/* All fields of the deck with deck->id become these: also its name. */
es_status es_ledger_edit_deck(es_ledger *ledger, const es_deck_record *deck, es_error *error);
/* ES_ERR_INPUT "still-used" unless with_history. */
es_status es_ledger_remove_deck(es_ledger *ledger, const char *name, int with_history,
                                es_error *error);

/*
 * The deck was adjusted then: what was known of its speed holds no longer. Plays, anchors and tapes that
 * were entered for later days go over to the new epoch; what was done on the day itself stays. ES_ERR_INPUT
 * "contradiction": there is a later adjustment.
 */
es_status es_ledger_adjusted(es_ledger *ledger, const char *name, const char *when, const char *why,
                             es_error *error);
/* How far it wanders [% per square root of a year] from now on; 0 stands still, NaN the usual. */
es_status es_ledger_set_drift(es_ledger *ledger, const char *name, double walk_percent,
                              es_error *error);
#define ES_USUAL_DRIFT_PERCENT 0.1

/* All that is kept of a deck; name NULL: plays and anchors of all decks. */
es_status es_ledger_history(es_ledger *ledger, const char *name, es_history **out, es_error *error);

/* The result of a reading as it was given out; the caller's to free. */
es_status es_ledger_document(es_ledger *ledger, int64_t reading, char **out, es_error *error);

/* --- tapes ---------------------------------------------------------------------------------- */

/* Nothing said; class "cassette". */
es_tape_record es_ledger_blank_tape(void);

/* Which deck recorded a home-made tape, and when. */
typedef struct es_recording {
    const char *deck; /* NULL: a bought tape */
    int64_t epoch;    /* number; 0: by the day */
    const char *at;
} es_recording;

/*
 * A bought tape brings its certificate with it: certificate_percent and certificate_u95_percent
 * (both or neither). A home-made one has its certificate from the network.
 */
es_status es_ledger_add_tape(es_ledger *ledger, const es_tape_record *tape,
                             const es_recording *recording, es_error *error);
/* recording NULL: as before. */
es_status es_ledger_edit_tape(es_ledger *ledger, const es_tape_record *tape,
                              const es_recording *recording, es_error *error);
/* As kept, with the certificate as it is now; certificate_percent NaN: not known. */
es_status es_ledger_tape(es_ledger *ledger, const char *name, es_tape_record *out, es_error *error);
/* All of them, likewise; nothing is kept. *out is the caller's to free. */
es_status es_ledger_tapes(es_ledger *ledger, es_tape_record **out, size_t *count, es_error *error);
es_status es_ledger_remove_tape(es_ledger *ledger, const char *name, int with_history,
                                es_error *error);

/*
 * What correcting with a tape takes, in one call: opens the records, finds the tape's certificate as it
 * is now, closes them. ES_ERR_INPUT "not-tied": its error is not known; the sentence says what to do.
 */
es_status es_ledger_tape_certificate(const char *path, const char *name, es_tape_record *out,
                                     es_error *error);

/* --- plays and anchors ---------------------------------------------------------------------- */

/* The standard uncertainty that belongs to an expanded one (95 %, very many degrees of freedom). */
double es_ledger_u_of(double u95_percent);

typedef struct es_play_entry {
    const char *recorded_on, *played_on; /* names of decks; recorded_on NULL: the tape's deck */
    int64_t recorded_epoch, played_epoch;
    const char *tape; /* NULL: not known by name */
    const char *recorded_at, *played_at;
    double heard_percent, u_percent, dof; /* u > 0; dof >= 1, infinite if well known */
    int64_t reading;                      /* it was heard by; 0: none kept          */
    const char *note;                     /* NULL: none                             */
} es_play_entry;

es_play_entry es_ledger_blank_play(void);

/*
 * heard_percent and u_percent from a measured capture: what was heard as it is, without the tape's
 * error, which is the recording deck's. ES_ERR_INPUT "no-tone": neither is known.
 */
es_status es_ledger_take_heard(const es_check_result *measured, es_play_entry *entry,
                               es_error *error);

/*
 * *same_deck says in one sentence what a play on the deck that recorded it is good for; NULL: two decks.
 * id and same_deck may be NULL.
 */
es_status es_ledger_add_play(es_ledger *ledger, const es_play_entry *entry, int64_t *id,
                             const char **same_deck, es_error *error);
es_status es_ledger_remove_play(es_ledger *ledger, int64_t id, es_error *error);

/* Every method: index 0 .. ; 0 is returned beyond the last. */
int es_ledger_anchor_form(size_t index, es_anchor_form *out);
/* ES_ERR_ARG "no-method": the sentence lists them. */
es_status es_ledger_anchor_form_named(const char *method, es_anchor_form *out, es_error *error);

typedef struct es_anchor_entry {
    const char *method; /* key                                                             */
    /* Either a figure as stated, with any method's key or a word of one's own ... */
    double error_percent, u95_percent; /* NaN: from the answers                            */
    /* ... or the answers to the method's questions; what is not answered takes the default. */
    size_t answer_count;
    const char *keys[ES_QUESTIONS_MOST];
    double values[ES_QUESTIONS_MOST];
} es_anchor_entry;

es_anchor_entry es_ledger_blank_anchor(void);

/* Value, uncertainty and budget, without any records. ES_ERR_ARG, ES_ERR_INPUT with a sentence. */
es_status es_ledger_reckon_anchor(const es_anchor_entry *entry, es_anchor_outcome *out,
                                  es_error *error);
/* The same, kept for a deck: out->anchor.id says under which number. epoch 0: by the day. */
es_status es_ledger_add_anchor(es_ledger *ledger, const es_anchor_entry *entry, const char *deck,
                               int64_t epoch, const char *made_at, const char *note,
                               es_anchor_outcome *out, es_error *error);
es_status es_ledger_remove_anchor(es_ledger *ledger, int64_t id, es_error *error);

/* --- trust ---------------------------------------------------------------------------------- */

typedef enum es_trust_robust {
    ES_TRUST_AS_STATED,
    ES_TRUST_REMOVE, /* the observation that disagrees most is taken out, and again            */
    ES_TRUST_SOFTEN  /* those that disagree count less                                         */
} es_trust_robust;

typedef struct es_trust_asked {
    es_trust_robust robust;
    double level;          /* of expanded uncertainties, 0.5 .. 0.9999                          */
    const char *deck;      /* whose shares and next measurements are wanted; NULL: for `next` all */
                           /* decks, the least known first, each with what helps it most        */
    double play_u_percent; /* that a play made next would have; NaN: the usual                  */
} es_trust_asked;
#define ES_USUAL_PLAY_U_PERCENT 0.02

es_trust_asked es_trust_asked_defaults(void);

/* No decks at all: an empty result. *out is for es_trust_result_destroy(). */
es_status es_ledger_solve(es_ledger *ledger, const es_trust_asked *asked, es_trust_result **out,
                          es_error *error);

/* --- readings and jobs ------------------------------------------------------------------------ */

typedef struct es_reading_entry {
    const char *deck;
    int64_t epoch;        /* number; 0: by the day                                             */
    const char *tape;     /* NULL: not known by name                                           */
    const char *taken_at; /* NULL: now                                                         */
    const char *schema;   /* of the document: "evenspool.check/1"                              */
    const char *document; /* the result exactly as it was given out                            */
    const char *capture;  /* path of the file it was made from, hashed here; NULL or "-": none */
    double error_percent, u95_percent, weighted_quasi_peak_percent;
} es_reading_entry;

/* id may be NULL. ES_ERR_IO: also when the capture can't be read again. */
es_status es_ledger_keep_reading(es_ledger *ledger, const es_reading_entry *entry, int64_t *id,
                                 es_error *error);

/* A visit to the bench with the coach. Readings that were not had are left out. */
typedef struct es_job_entry {
    const char *deck, *tape; /* tape NULL: not known by name                                    */
    const char *opened_at, *closed_at;
    const char *asked; /* what the deck came for; NULL: nothing said                           */
    const es_trim_session *session;
    const char *found_schema, *found_document; /* of the reading as found                      */
    const char *left_schema, *left_document;   /* of that as left; NULL as document: not kept  */
} es_job_entry;

/*
 * Keeps as found, nudges and as left in the unit of what the session adjusts. The speed was turned: the deck
 * begins a new epoch; azimuth, level and balance leave its speed alone. Nothing was turned: the reading as left
 * is the one as found.
 */
es_status es_ledger_keep_job(es_ledger *ledger, const es_job_entry *entry, int64_t *id,
                             es_error *error);

/*
 * What was noticed in a job, now. job 0: the deck's last one. ES_ERR_INPUT "unknown": the deck has no such
 * job; "bad-value": nothing is said. ES_ERR_ARG "too-long".
 */
es_status es_ledger_add_remark(es_ledger *ledger, const char *deck, int64_t job, const char *text,
                               es_error *error);

#endif
