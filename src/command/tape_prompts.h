/*
 * Prompts: leads a person through the recording of one side, on standard error, while it is played: the
 * level tone until Enter is pressed, the count-down, then section by section.
 */
#ifndef ES_COMMAND_TAPE_PROMPTS_H
#define ES_COMMAND_TAPE_PROMPTS_H

#include "evenspool/base/cue_sheet.h"
#include "live/tape_play.h"

/*
 * Of the sheet's first side. ready 1: without the level tone. ES_EXIT_DONE: all of the side was played;
 * ES_EXIT_AROUND: it was not, and the reason was said; ES_EXIT_USAGE: nobody can press Enter.
 */
int es_tape_prompt(const es_cue_sheet *sheet, es_tape_play *play, int ready);

#endif
