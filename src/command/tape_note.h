/*
 * The bench note of a test tape that was read: verdicts first, in words, then the figures.
 * At most ES_LINE columns, ASCII; what can't be known is a dash.
 */
#ifndef ES_COMMAND_TAPE_NOTE_H
#define ES_COMMAND_TAPE_NOTE_H

#include "command/paint.h"
#include "evenspool/base/tape_result.h"

void es_tape_note_print(const es_paint *paint, const char *file, const es_tape_result *result);

/* Several captures of one deck's own recordings, each with another bias (result.bias): side by side. */
void es_tape_note_bias(const es_paint *paint, const es_tape_result *const *results, size_t count);

#endif
