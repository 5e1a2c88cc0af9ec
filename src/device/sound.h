/* Inside of es_sound, for the lines. Private to the floor. */
#ifndef ES_DEVICE_SOUND_H
#define ES_DEVICE_SOUND_H

#include "device/backend.h"
#include "device/line.h"

struct es_sound {
    es_backend backend;
    es_place *places;
    size_t count;
    es_line *lines;
    int64_t listed_ns; /* when the list was made */
};

size_t es_sound_index(const es_sound *sound, const es_place *place);

/* The place of exactly that name and system, or NULL. */
const es_place *es_sound_same_place(const es_sound *sound, const es_line *line);

#endif
