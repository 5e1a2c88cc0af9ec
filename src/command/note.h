/*
 * The bench note: one capture's result as text, the verdict first, in words.
 * At most ES_LINE columns, ASCII; direction is in words; what can't be known is a dash with the
 * reason beside it.
 */
#ifndef ES_COMMAND_NOTE_H
#define ES_COMMAND_NOTE_H

#include "command/paint.h"
#include "evenspool/base/check_result.h"

void es_note_print(const es_paint *paint, const char *file, const es_check_result *result);

#endif
