/*
 * Measure a test tape: one capture of one side, from its file or from standard input, to its result.
 *
 *   in      settings, most of them as the user gave them
 *   out     es_tape_result, with warnings of the reader's among its own
 *   how     one thread decodes and listens for markers, the calling thread measures (live/stage.h)
 *   same    the result does not depend on timing
 *   memory  below 32 MiB whatever the length
 *   thread  one measurement a call; calls don't share anything
 *   rt      never: reads files and waits
 */
#ifndef ES_LIVE_MEASURE_TAPE_H
#define ES_LIVE_MEASURE_TAPE_H

#include "evenspool/base/programme.h"
#include "evenspool/base/records.h"
#include "evenspool/base/tape_result.h"
#include "evenspool/tape/transport.h"
#include "evenspool/task/tape_limits.h"
#include "live/measure.h"

typedef struct es_measure_tape_settings {
    const char *raw;                /* "s16le,48000,2"; NULL: the file says itself what it is     */
    const es_tape_record *tape;     /* its certificate, unless one of the next two is known. NULL:
                                      not known                                                  */
    double tape_percent;            /* speed error of the tape's recording deck; NaN: not known,
                                      or taken as 0 when tape_u95_percent is known               */
    double tape_u95_percent;        /* its expanded uncertainty (k = 2); NaN: not known           */
    double clock_ppm;               /* NaN: not known                                             */
    const es_programme *programme;  /* beside the built-in ones; NULL: none                       */
    const es_tape_limits *limits;   /* NULL: what is usual for the class                          */
    const es_geometry *geometry;    /* of the deck, for naming suspects; NULL: the class's usual */
    double level_dbfs;              /* what the reference level should read; NaN: not known       */
    const es_tape_result *recorded; /* the same tape on a deck that is flat; NULL: not known      */
    int recorded_here;              /* 1: the deck under test recorded it                         */
    es_measure_watch watch;         /* its speed is not called                                    */
} es_measure_tape_settings;

es_measure_tape_settings es_measure_tape_defaults(void);

/* A built-in set of limits, or a file's. ES_ERR_INPUT: "no-limits", "limits" with line and column,
 * "too-long", "directory". ES_ERR_IO: "no-permission", "read-failed". ES_ERR_NOMEM. */
es_status es_limits_load(const char *name, es_tape_limits *out, es_error *error);

/*
 * path "-": standard input. On ES_ERR_INPUT of es_tape_read_finish() *result holds what is known all
 * the same; on other errors it is blank.
 * ES_ERR_ARG "raw". ES_ERR_INPUT, ES_ERR_IO: as es_wave_reader_open() and es_tape_read_finish().
 * ES_ERR_NOMEM. ES_ERR_INTERNAL "no-thread".
 */
es_status es_measure_tape(const char *path, const es_measure_tape_settings *settings,
                          es_tape_result *result, es_error *error);

#endif
