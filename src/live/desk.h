/*
 * The desk where the computer's sound system is lent out, to one at a time: there is only one in a
 * program. While it is out, its list of places can still be read here.
 *
 *   thread  any; what is lent is used by the borrower's thread alone
 */
#ifndef ES_LIVE_DESK_H
#define ES_LIVE_DESK_H

#include "device/device.h"
#include "evenspool/base/error.h"

#include <stddef.h>

#define ES_DESK_PLACES 64

/* ES_ERR_DEVICE "sound-lent" when it is not back within two seconds, or as es_sound_open(). */
es_status es_desk_borrow(es_sound **out, es_error *error);
/* NULL is fine. */
void es_desk_return(es_sound *sound);

/* 1: it is out, and out[0 .. *count) are its places as they were when it was lent; 0: it is not. */
int es_desk_look(es_place out[ES_DESK_PLACES], size_t *count);

#endif
