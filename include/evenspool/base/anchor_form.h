/*
 * The forms of the anchors, as a person fills them in, and what an answered form came to: plain
 * records between trust/ (which knows the methods) and the faces.
 */
#ifndef ES_BASE_ANCHOR_FORM_H
#define ES_BASE_ANCHOR_FORM_H

#include "evenspool/base/records.h"

#define ES_QUESTIONS_MOST 12
#define ES_CHOICES_MOST 4
#define ES_BUDGET_PARTS_MOST 12

typedef struct es_anchor_choice {
    const char *text;
    double value;
} es_anchor_choice;

/* Texts are static. */
typedef struct es_anchor_question {
    const char *key;  /* lower case with underscores, unique within the method  */
    const char *text; /* the question, one sentence                             */
    const char *unit; /* "mm"; "" for a plain number or a choice                */
    double standard;  /* default in that unit; NaN: see `needed`                */
    int needed;       /* 1: must be answered; 0 with NaN: may stay open         */
    double low, high; /* what is accepted                                       */
    int only;         /* 1: nothing but the choices; 0: choices, if any, are suggestions */
    es_anchor_choice choice[ES_CHOICES_MOST]; /* a text of NULL ends them early */
} es_anchor_question;

typedef struct es_anchor_about {
    const char *key;     /* "tape-length"                                       */
    const char *name;    /* "timed tape length"; fits after "tied to"            */
    const char *text;    /* what is done, one or two sentences                   */
    const char *formula; /* of the value                                         */
    double usual_u; /* standard uncertainty to expect [fraction], for planning what to do next */
} es_anchor_about;

/* One method as a form. */
typedef struct es_anchor_form {
    const es_anchor_about *about;
    size_t question_count;
    const es_anchor_question *questions;
} es_anchor_form;

/* What an answered form came to. Percent; ids are 0 until it is kept. */
typedef struct es_anchor_outcome {
    es_anchor_record anchor;
    size_t answer_count, budget_count;
    es_answer_record answers[ES_QUESTIONS_MOST]; /* one a question; NaN: left open, the default  */
    es_budget_record budget[ES_BUDGET_PARTS_MOST];
    char caution[200]; /* one sentence; "": nothing to say                                   */

    /* The apparent error of a recorded signal: what to enter as a play if one of the decks of the
     * records made the recording. NaN: the method has none. */
    double heard_percent, heard_u95_percent;
} es_anchor_outcome;

#endif
