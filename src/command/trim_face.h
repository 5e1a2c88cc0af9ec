/* The faces that `trim` can have: a screen, plain lines, JSON lines. One at a time. */
#ifndef ES_COMMAND_TRIM_FACE_H
#define ES_COMMAND_TRIM_FACE_H

#include "command/paint.h"
#include "live/session.h"

typedef struct es_trim_face {
    es_session *session;
    es_adjust adjust;
    const char *colour; /* --color, or NULL                 */
    int sound;          /* what the screen's key s goes on from */
    double sound_level_db;
    const char *output;
    int leaving; /* set by the face: the person wants to end */

    /* The face's own. */
    void *self;
    int (*begin)(struct es_trim_face *face); /* 0: no memory */
    void (*show)(struct es_trim_face *face, const es_trim_snapshot *now,
                 const es_session_facts *facts, uint64_t skipped);
    /* Called at least twenty times a second, with or without news. */
    void (*idle)(struct es_trim_face *face);
    void (*end)(struct es_trim_face *face);
} es_trim_face;

es_trim_face es_trim_screen(void);
es_trim_face es_trim_lines(void);
es_trim_face es_trim_json_lines(void);

#endif
