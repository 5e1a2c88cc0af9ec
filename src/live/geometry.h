/* A machine's sizes from what is kept of it, for naming the part behind a swing. */
#ifndef ES_LIVE_GEOMETRY_H
#define ES_LIVE_GEOMETRY_H

#include "evenspool/base/error.h"
#include "evenspool/base/records.h"
#include "evenspool/tape/transport.h"

#include <stddef.h>

/*
 * The class's usual sizes, and over them what is known of deck and tape (NULL: nothing).
 * transport NULL: the deck's, or cassette. ES_ERR_ARG "class": there is no such class.
 */
es_status es_geometry_of(const char *transport, const es_deck_record *deck,
                         const es_tape_record *tape, es_geometry *out, es_error *error);

/* Every class of machine by its name, index 0 ..; NULL beyond the last. */
const char *es_class_of_machine(size_t index);

#endif
