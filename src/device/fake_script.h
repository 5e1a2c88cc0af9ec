/* Reads the script of the fake sound system (device/fake.h). Private to the floor. */
#ifndef ES_DEVICE_FAKE_SCRIPT_H
#define ES_DEVICE_FAKE_SCRIPT_H

#include "device/device.h"

#define ES_FAKE_PLACES 8
#define ES_FAKE_EVENTS 64

typedef enum es_fake_what {
    ES_FAKE_OVERFLOW,
    ES_FAKE_LOSE,
    ES_FAKE_STALL,
    ES_FAKE_SILENT,
    ES_FAKE_UNPLUG,
    ES_FAKE_PLUG,
    ES_FAKE_BUSY,
    ES_FAKE_FREE,
    ES_FAKE_WHATS
} es_fake_what;

typedef struct es_fake_event {
    int64_t at_ns;
    es_fake_what what;
    double amount; /* frames or seconds */
    size_t place;
} es_fake_event;

typedef struct es_fake_script {
    es_place places[ES_FAKE_PLACES];
    double only_hz[ES_FAKE_PLACES]; /* 0: any */
    double clock_ppm[ES_FAKE_PLACES];
    size_t place_count;
    es_fake_event events[ES_FAKE_EVENTS]; /* in order of time */
    size_t event_count;
    double tone_hz, peak;
    char raw[256]; /* path; "": the tone */
} es_fake_script;

/* ES_ERR_ARG "script". */
es_status es_fake_script_read(const char *text, es_fake_script *out, es_error *error);

#endif
