/*
 * Practice tape: one side of a programme, recorded without fault, for the rehearsal deck to play.
 *
 *   level   reference level is the scenario's level (tape/rehearsal.h)
 *   length  the scenario's is made to fit the side at the scenario's speed, unless its length is kept
 */
#ifndef ES_LIVE_PRACTICE_TAPE_H
#define ES_LIVE_PRACTICE_TAPE_H

#include "evenspool/base/error.h"
#include "evenspool/base/programme.h"
#include "evenspool/tape/rehearsal.h"

typedef struct es_practice_tape es_practice_tape;

/*
 * programme NULL: the built-in one for the deck's class. side: 0 .. . Sets scenario->length_s, unless
 * keep_length. ES_ERR_INPUT: "programme" (it is not in order, or there is none for the class, or it is for
 * another class of machine, or it has no such side). ES_ERR_NOMEM. *out is NULL on error.
 */
es_status es_practice_tape_create(const es_programme *programme, size_t side, int keep_length,
                                  es_scenario *scenario, es_practice_tape **out, es_error *error);
/* After the deck that plays it. NULL is fine. */
void es_practice_tape_destroy(es_practice_tape *tape);

/* A deck that plays the tape from its beginning. ES_ERR_ARG, ES_ERR_NOMEM: as es_rehearsal_create_playing(). */
es_status es_practice_tape_play(es_practice_tape *tape, const es_scenario *scenario, double rate_hz,
                                es_rehearsal **out);

#endif
