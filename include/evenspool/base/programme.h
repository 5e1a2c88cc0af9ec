/*
 * Programmes as plain data: the plan of the sections on a home-made test tape. What is done with one
 * stands in task/programme.h, its text form in json/programme_json.h.
 *
 *   layout   a section is: marker, gap, body, gap; the leader has no marker and no gap
 *   body     the steps one after the other, each with its own soft edges inside its time
 *   levels   dB against the reference level (a sine's peak; for the broadband sound its rms against the
 *            rms of a sine at reference level)
 *   words    class of machine and equalisation are kept by their key ("cassette", "120"), as in records
 *   thread   no shared state
 */
#ifndef ES_BASE_PROGRAMME_H
#define ES_BASE_PROGRAMME_H

#include "evenspool/base/status.h"

#include <stddef.h>

#define ES_PROGRAMME_NAME 32
#define ES_PROGRAMME_ABOUT 128
#define ES_PROGRAMME_KEY 16
#define ES_PROGRAMME_SIDES 2
#define ES_PROGRAMME_SECTIONS 32
#define ES_PROGRAMME_STEPS 24
#define ES_PROGRAMME_GAP_S 0.4
#define ES_PROGRAMME_EDGE_S 0.005 /* soft edges of steps and markers */

typedef enum es_section_kind {
    ES_SECTION_LEADER,        /* silence, no marker; for the transparent leader and the start-up */
    ES_SECTION_SPEED,         /* one tone for speed, wow and flutter                            */
    ES_SECTION_LEVEL,         /* one tone at reference level                                    */
    ES_SECTION_AZIMUTH_TONES, /* the same tones in both channels, low to high                   */
    ES_SECTION_AZIMUTH_BROADBAND, /* the same many frequencies in both channels                     */
    ES_SECTION_RESPONSE,  /* tones in both channels; the first is the one the others refer to */
    ES_SECTION_LEFT_ONLY, /* tones in one channel                                           */
    ES_SECTION_RIGHT_ONLY,
    ES_SECTION_SILENCE,
    ES_SECTION_DISTORTION, /* one tone at rising levels                                      */
    ES_SECTION_END,        /* marker only                                                    */
    ES_SECTION_KIND_COUNT
} es_section_kind;

typedef struct es_programme_step {
    double hz;       /* 0 where the kind has no tone             */
    double level_db; /* re reference level; 0 where it has none  */
    double seconds;
} es_programme_step;

typedef struct es_programme_section {
    es_section_kind kind;
    char name[ES_PROGRAMME_NAME]; /* lower-case words with hyphens, unlike any other of the side */
    size_t step_count;            /* 1 for kinds with one body, 0 for the end                     */
    es_programme_step step[ES_PROGRAMME_STEPS];
} es_programme_section;

typedef struct es_programme_side {
    size_t section_count;
    es_programme_section section[ES_PROGRAMME_SECTIONS];
} es_programme_side;

typedef struct es_programme {
    char name[ES_PROGRAMME_NAME];
    char about[ES_PROGRAMME_ABOUT];
    char transport[ES_PROGRAMME_KEY];    /* class: "cassette" (tape/transport.h)               */
    char equalisation[ES_PROGRAMME_KEY]; /* see es_equalisation_from_name()                    */
    double reference_nwb_m;              /* flux of the reference level, rms [nWb/m], 50 .. 1000 */
    double marker_db;                    /* level of the markers                                */
    double broad_low_hz, broad_high_hz;  /* of the broadband sections; whole numbers of Hz */
    double side_most_s;                  /* tape of one side at nominal speed                   */
    size_t side_count;                   /* 1 or 2                                              */
    es_programme_side side[ES_PROGRAMME_SIDES];
} es_programme;

/* What a kind of section holds. */
typedef struct es_section_rule {
    const char *name;  /* "azimuth-tones"                                            */
    const char *about; /* what it is there for, a few words for people               */
    int tone, level;   /* 1: its steps have frequencies; levels                      */
    size_t steps_most; /* at least one, unless it is 0                               */
} es_section_rule;

/* NULL: no such kind. */
const es_section_rule *es_section_rule_of(es_section_kind kind);

/* "leader", "speed", "level", "azimuth-tones", "azimuth-broadband", "response", "left-only",
 * "right-only", "silence", "distortion", "end"; "": no such kind. */
const char *es_section_kind_name(es_section_kind kind);
/* ES_ERR_ARG: no such kind. */
es_status es_section_kind_from_name(const char *name, es_section_kind *out);

/* Seconds of nominal speed from the beginning of the side. */
typedef struct es_section_times {
    double start_s;  /* of the section                                 */
    double marker_s; /* where the marker begins; NaN: it has none      */
    double body_s;   /* where the body begins                          */
    double end_s;    /* where the body ends                            */
    double next_s;   /* where the next section begins                  */
} es_section_times;

/* A place in a programme: what a sentence of refusal is about. */
#define ES_SPOT_NONE ((size_t)-1)
typedef struct es_programme_spot {
    size_t side, section, step; /* ES_SPOT_NONE: not within one                             */
    const char *field;          /* name of the member, also in the text form; NULL: all of it */
} es_programme_spot;

#endif
