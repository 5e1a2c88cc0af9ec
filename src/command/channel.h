/* The option --channel, which several verbs have. */
#ifndef ES_COMMAND_CHANNEL_H
#define ES_COMMAND_CHANNEL_H

#include "evenspool/base/error.h"

/* left, right, a number from 1 to 64; auto or NULL: 0, the better one. ES_ERR_ARG "usage". */
es_status es_channel_read(const char *text, int *out, es_error *error);

#endif
