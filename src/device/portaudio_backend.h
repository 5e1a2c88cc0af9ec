/*
 * The computer's sound system, through PortAudio. Private to the floor. One at a time in a
 * program: PortAudio itself has but one list.
 */
#ifndef ES_DEVICE_PORTAUDIO_BACKEND_H
#define ES_DEVICE_PORTAUDIO_BACKEND_H

#include "device/backend.h"

/* ES_ERR_NOMEM. The sound system is started by the first list. */
es_status es_portaudio_backend(es_backend *out, es_error *error);

#endif
