/* Outcome of any call that can fail. Values are stored in records: never renumber. */
#ifndef ES_BASE_STATUS_H
#define ES_BASE_STATUS_H

typedef enum es_status {
    ES_OK = 0,
    ES_ERR_ARG = 1,      /* caller left the documented range; fix the call         */
    ES_ERR_NOMEM = 2,    /* no memory; nothing was changed                         */
    ES_ERR_SPACE = 3,    /* output array too short; nothing was consumed           */
    ES_ERR_INPUT = 4,    /* the input can't be used: not audio, malformed, no tone */
    ES_ERR_IO = 5,       /* file, socket or database refused                       */
    ES_ERR_DEVICE = 6,   /* audio device missing, busy or unplugged                */
    ES_ERR_INTERNAL = 7, /* a fault of ours                                        */
    ES_STATUS_COUNT
} es_status;

/* One lower-case English line without full stop; never NULL, static storage. */
const char *es_status_text(es_status status);

#endif
