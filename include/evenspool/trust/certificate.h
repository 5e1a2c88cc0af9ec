/*
 * Certificate of a tape: the speed error of the deck that recorded it, on the day it did, and how
 * that is known, in words.
 *
 *   in      a solved network, the epoch and day of the recording, and names for the sentences
 *   out     error and uncertainty [fraction], + fast; path, one clause without full stop:
 *           "recorded on deck B, which was tied to timed tape length on 3 May and to deck C by
 *           3 plays; deck C was tied to bought test tape on 2 May"
 *   how     named are the anchors and plays through which at least a twentieth of the value came
 *   thread  as the network; nothing allocates
 */
#ifndef ES_TRUST_CERTIFICATE_H
#define ES_TRUST_CERTIFICATE_H

#include "evenspool/trust/network.h"

/* Texts in the order of the network's epochs and observations. */
typedef struct es_certificate_names {
    const char *const *epoch;  /* "deck B"; every epoch                                     */
    const char *const *anchor; /* per observation: the method's name; plays are not looked at */
    const char *const *day;    /* per observation: of an anchor; NULL: not known             */
} es_certificate_names;

typedef struct es_certificate {
    int tied;             /* 0: the deck is not tied to true speed, the estimate is unknown */
    es_estimate estimate; /* the tape's speed error [fraction]                              */
    char path[800];
} es_certificate;

/* ES_ERR_ARG: not solved, or epoch or day out of range; *out says nothing is known. */
es_status es_certificate_make(es_network *network, const es_certificate_names *names, size_t epoch,
                              double day, es_certificate *out);

#endif
