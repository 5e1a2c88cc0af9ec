/*
 * Listening to a test tape while it plays: a line for each section as it ends and, on a terminal, one below
 * that tells where the tape stands. Ends with the side, with q or Ctrl-C.
 */
#ifndef ES_COMMAND_TAPE_LISTEN_H
#define ES_COMMAND_TAPE_LISTEN_H

#include "evenspool/base/tape_result.h"
#include "live/tape_session.h"

/*
 * json 1: everything goes to standard error, since a document follows. *around is set to the exit code
 * that recording or the source deserve; ES_EXIT_DONE when nothing went wrong with them. *about: the file
 * or source that an error speaks of, NULL: the command line.
 * Errors as es_tape_session_open() and, with what is known in *result, es_tape_session_result().
 */
es_status es_tape_listen(const es_tape_session_config *config, int json, es_tape_result *result,
                         int *around, const char **about, es_error *error);

#endif
