/*
 * Rehearse: renders a capture of the rehearsal deck to a file, and tells its truth.
 *
 *   in      a built-in scenario's name, or a scenario file (tape/scenario.h); a programme to play a side of
 *           in place of the scenario's tone
 *   out     an audio file that appears whole or not at all (wave/writer.h); the truth
 *   same    the same settings give the same bytes
 *   memory  bounded, whatever the length
 */
#ifndef ES_LIVE_REHEARSE_H
#define ES_LIVE_REHEARSE_H

#include "evenspool/base/error.h"
#include "evenspool/base/programme.h"
#include "evenspool/tape/rehearsal.h"

typedef struct es_rehearse_settings {
    const char *scenario;
    const char *path;              /* of the audio file                              */
    double rate_hz;                /* 8000 .. 384000, whole                          */
    double seconds;                /* NaN: as long as the scenario says, or the side takes */
    const es_programme *programme; /* NULL: the scenario's tone         */
    size_t side;                   /* 0 ..                                           */
    double seed;                   /* NaN: the scenario's                            */
    int as_float;                  /* 1: 32 bit float samples, else 24 bit           */
    int replace;                   /* 1: a file of that name may be replaced         */
    void *who;                     /* handed to progress, which may be NULL          */
    void (*progress)(void *who, double done_s, double share);
} es_rehearse_settings;

es_rehearse_settings es_rehearse_defaults(void);

typedef struct es_rehearsed {
    es_scenario scenario; /* as rendered */
    es_rehearsal_truth truth;
    char programme[ES_PROGRAMME_NAME]; /* "": the scenario's tone */
    size_t side;
} es_rehearsed;

/*
 * ES_ERR_INPUT: "no-scenario", "scenario", "scenario-text", "directory", "programme". ES_ERR_IO: the scenario
 * file can't be read ("no-permission", "read-failed"), or as es_wave_writer_open() and _keep().
 * ES_ERR_ARG: "wave-kind". ES_ERR_NOMEM.
 */
es_status es_rehearse(const es_rehearse_settings *settings, es_rehearsed *out, es_error *error);

/* Built-in scenarios: name and one line about it; NULL beyond the last. */
const char *es_rehearse_name(size_t index, const char **about);

#endif
