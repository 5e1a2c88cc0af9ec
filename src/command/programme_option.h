/* A programme that was named on the command line: a built-in one, or a file in the text form. */
#ifndef ES_COMMAND_PROGRAMME_OPTION_H
#define ES_COMMAND_PROGRAMME_OPTION_H

#include "serve/programme_named.h"

/* What the shells complete for it. tests/command compare it with the list of what is built in. */
#define ES_PROGRAMME_CHOICES                                                                       \
    "cassette|cassette-c90|cassette-70|cassette-short|reel-9.5|reel-19|reel-38"

#endif
