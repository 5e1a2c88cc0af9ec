/* The cue sheet as text of at most ES_LINE columns. */
#ifndef ES_COMMAND_CUE_TEXT_H
#define ES_COMMAND_CUE_TEXT_H

#include "evenspool/base/cue_sheet.h"

#include <stdio.h>

void es_cue_text_print(FILE *out, const es_cue_sheet *sheet);

#endif
