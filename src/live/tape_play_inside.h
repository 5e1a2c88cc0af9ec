/* A tape played on a sound system of the caller's: for tests. */
#ifndef ES_LIVE_TAPE_PLAY_INSIDE_H
#define ES_LIVE_TAPE_PLAY_INSIDE_H

#include "device/device.h"
#include "live/tape_play.h"

/* As es_tape_play_open(); the sound stays the caller's. */
es_status es_tape_play_on(es_sound *sound, const es_programme *programme,
                          const es_tape_play_config *config, es_tape_play **out, es_error *error);

#endif
