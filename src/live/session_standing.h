/* Where a live session stands, of whatever kind: what it listens to, how that goes, and what is kept of it. */
#ifndef ES_LIVE_SESSION_STANDING_H
#define ES_LIVE_SESSION_STANDING_H

#include "evenspool/base/status.h"

#include <stdint.h>

typedef enum es_session_phase {
    ES_SESSION_RUNNING,
    ES_SESSION_WAITING, /* the device is gone; it is waited for     */
    ES_SESSION_ENDED,   /* the source is over, or the session stopped */
    ES_SESSION_FAILED
} es_session_phase;

typedef struct es_session_standing {
    es_session_phase phase;
    char source[512];
    char device[128];     /* whole name of the input in use; "": no device                     */
    char sentence[240];   /* what is the matter, "" when nothing                               */
    es_status status;     /* failed: of what kind the failure is; else ES_OK                    */
    char level_words[80]; /* "The input is clipped: turn it down." ...; "" when right          */
    double rate_hz;
    int channels;
    uint64_t frames;      /* heard                                                             */
    uint64_t lost_frames; /* known to be missing                                               */
    uint64_t gaps;        /* of known length or not                                            */
    char record_path[1024];
    char record_sentence[240]; /* why recording stopped; "": it goes on, ended well, or is not asked
                                  for */
} es_session_standing;

#endif
