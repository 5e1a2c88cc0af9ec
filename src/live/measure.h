/*
 * Measure: one capture from its file, or from standard input, to its result.
 *
 *   in      settings, most of them as the user gave them
 *   out     es_check_result, with warnings of the reader's among the check's
 *   how     one thread decodes and hears the tone, the calling thread weighs (live/stage.h)
 *   same    the result does not depend on timing
 *   memory  below 32 MiB whatever the length
 *   thread  one measurement a call; calls don't share anything
 *   rt      never: reads files and waits
 */
#ifndef ES_LIVE_MEASURE_H
#define ES_LIVE_MEASURE_H

#include "evenspool/base/check_result.h"
#include "evenspool/base/error.h"
#include "evenspool/base/records.h"

#include <stddef.h>

/* What the caller is told on the way; every function may be NULL. All on the calling thread. */
typedef struct es_measure_watch {
    void *who; /* handed to the functions */
    /* After each block: seconds of the capture done; share of the whole, NaN when not known. */
    void (*progress)(void *who, double done_s, double share);
    /* Each instant of the deck's speed error [%], in order; NaN: no good tone. 0: stop. */
    int (*speed)(void *who, double time_s, double error_percent);
} es_measure_watch;

typedef struct es_measure_settings {
    const char *raw;            /* "s16le,48000,2"; NULL: the file says itself what it is      */
    int channel;                /* 0: the better one; else 1 .. 64                             */
    double tone_hz;             /* NaN: the test tone nearest to what is heard                 */
    double tape_percent;        /* speed error of the tape's recording deck; NaN: not known,   */
                                /* or taken as 0 when tape_u95_percent is known                */
    double tape_u95_percent;    /* its expanded uncertainty (k = 2); NaN: not known           */
    double clock_ppm;           /* NaN: not known                                              */
    double start_s, end_s;      /* part of the capture; end_s NaN: to its end                  */
    const char *transport;      /* class of machine, "cassette" ...; NULL: cassette            */
    double capstan_mm;          /* NaN: not known                                              */
    const es_deck_record *deck; /* its class and sizes, unless given above; NULL: not known       */
    const es_tape_record *tape; /* its certificate, unless one of the two above is known, test tone
                                   and sizes. NULL: not known                                   */
    double tolerance_percent;   /* for the gate; NaN: the usual one                          */
    es_measure_watch watch;
} es_measure_settings;

es_measure_settings es_measure_defaults(void);

/*
 * Is everything in range that can be judged without the capture? ES_ERR_ARG with "raw", "class",
 * "start-end": the sentence says what to write instead.
 */
es_status es_measure_check(const es_measure_settings *settings, es_error *error);

/*
 * path "-": standard input. *result tells something only when ES_OK is returned.
 * ES_ERR_ARG: as es_measure_check(), and "no-channel", "bad-tone" that this capture can't have.
 * ES_ERR_INPUT, ES_ERR_IO: as es_wave_reader_open() and es_check_finish(). ES_ERR_NOMEM.
 * ES_ERR_INTERNAL "no-thread". ES_ERR_IO "stopped": watch.speed asked for it.
 */
es_status es_measure(const char *path, const es_measure_settings *settings, es_check_result *result,
                     es_error *error);

#endif
