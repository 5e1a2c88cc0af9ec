/* A programme that was named on the command line: a built-in one, or a file in the text form. */
#ifndef ES_COMMAND_PROGRAMME_OPTION_H
#define ES_COMMAND_PROGRAMME_OPTION_H

#include "evenspool/base/error.h"
#include "evenspool/base/programme.h"

/* What the shells complete for it. tests/command compare it with the list of what is built in. */
#define ES_PROGRAMME_CHOICES                                                                       \
    "cassette|cassette-c90|cassette-70|cassette-short|reel-9.5|reel-19|reel-38"

/* A whole programme, in order. ES_ERR_INPUT: it is not; with line and column when it is a file's.
 * ES_ERR_IO: the file can't be read. ES_ERR_NOMEM. */
es_status es_programme_named(const char *name, es_programme *out, es_error *error);

#endif
