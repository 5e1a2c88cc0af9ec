/*
 * Hands: one thread that does what takes a while, one errand after another, in the order in which
 * they came. Whoever asked is told when it is done; nobody has to wait.
 *
 *   thread   take from any; start and end on one thread
 *   signals  the thread takes none
 */
#ifndef ES_SERVE_HANDS_H
#define ES_SERVE_HANDS_H

#include "evenspool/base/error.h"

typedef struct es_hands es_hands;
typedef struct es_errand es_errand;

struct es_errand {
    void (*run)(es_errand *errand);  /* on the hands' thread                                    */
    void (*hold)(es_errand *errand); /* before take() returns, under the hands' lock; may be NULL */
    void (*done)(es_errand *errand); /* after run, likewise; the errand is the caller's again    */
    es_errand *next;                 /* the hands' own                                          */
};

/* idle(who) is called on the hands' thread every idle_s, unless an errand takes longer.
 * ES_ERR_NOMEM, ES_ERR_INTERNAL "no-thread"; *out is NULL on error. */
es_status es_hands_start(double idle_s, void (*idle)(void *who), void *who, es_hands **out,
                         es_error *error);

/* 1: taken, done() will be called; 0: the hands have ended. */
int es_hands_take(es_hands *hands, es_errand *errand);

/* Returns when nothing is left to be done. */
void es_hands_wait(es_hands *hands);

/* Takes no more; returns when all that was taken is done. */
void es_hands_end(es_hands *hands);
/* Ends them first. NULL is fine. */
void es_hands_destroy(es_hands *hands);

#endif
