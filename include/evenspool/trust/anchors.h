/*
 * Anchors: ways to tie a deck to true speed from outside, each as a few questions that a person
 * can answer and a budget that follows from the answers.
 *
 *   in       one answer per question, in the question's unit; NaN where the default will do
 *   out      the deck's speed error [fraction], + fast, its standard uncertainty and budget
 *   signals  A frequency on a tape (mains hum, a television line whistle, a stereo pilot, music)
 *            is no better than the machine that recorded it: if that was the deck itself its
 *            error cancels. Those methods ask who recorded, carry that machine's doubt in the
 *            budget, and also give the apparent error heard, which is a play (network.h) if the
 *            recording machine is one of the decks.
 *   thread   no state; nothing allocates
 *   Definitions, formulas and sources: docs/trust.md
 */
#ifndef ES_TRUST_ANCHORS_H
#define ES_TRUST_ANCHORS_H

#include "evenspool/base/anchor_form.h"
#include "evenspool/base/error.h"
#include "evenspool/trust/uncertainty.h"

#include <stddef.h>

/* Stored by key, never by number. */
typedef enum es_anchor_method {
    ES_ANCHOR_TAPE_LENGTH,
    ES_ANCHOR_COUNTER,
    ES_ANCHOR_CAPSTAN,
    ES_ANCHOR_TEST_TAPE,
    ES_ANCHOR_MAINS_HUM,
    ES_ANCHOR_LINE_WHISTLE,
    ES_ANCHOR_STEREO_PILOT,
    ES_ANCHOR_MUSIC,
    ES_ANCHOR_OTHER,
    ES_ANCHOR_METHOD_COUNT
} es_anchor_method;

typedef struct es_anchor {
    es_estimate estimate; /* the deck's speed error [fraction], 95 %                 */
    es_budget budget;     /* parts [fraction]                                        */
    double u95_by_shape;  /* with rectangular parts taken as such; NaN: see estimate */
    es_estimate heard;    /* apparent error of the signal [fraction]: value, u, dof as a play;
                             all NaN if the method has no recorded signal            */
    char caution[200];    /* one sentence, "" if there is nothing to say             */
} es_anchor;

/* All methods in a sensible order, ES_ANCHOR_METHOD_COUNT of them. */
const es_anchor_about *es_anchor_methods(void);

/* ES_ERR_ARG: no method has this key; *out is left alone. */
es_status es_anchor_find(const char *key, es_anchor_method *out);

/* The questions of a method; NULL and *count = 0 if there is no such method. */
const es_anchor_question *es_anchor_questions(es_anchor_method method, size_t *count);

/*
 * answers: `count` of them, as many as the method has questions.
 * ES_ERR_ARG: wrong method or count. ES_ERR_INPUT: an answer is missing, out of range or can't be
 * true. *error says which and what to do (may be NULL). On error all of *out is unknown.
 */
es_status es_anchor_evaluate(es_anchor_method method, const double *answers, size_t count,
                             es_anchor *out, es_error *error);

#endif
