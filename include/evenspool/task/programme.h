/*
 * Programmes: the plan of the sections on a home-made test tape, as plain data.
 *
 *   layout   a section is: marker, gap, body, gap; the leader has no marker and no gap. The marker's code
 *            carries the programme's id, the side (1, 2) and the section's index
 *   body     the steps one after the other, each with its own soft edges inside its time
 *   levels   dB against the reference level (a sine's peak; for the broadband sound its rms against the
 *            rms of a sine at reference level)
 *   times    seconds of nominal speed from the beginning of the side
 *   thread   no shared state
 *   rt       nothing here allocates
 */
#ifndef ES_TASK_PROGRAMME_H
#define ES_TASK_PROGRAMME_H

#include "evenspool/base/error.h"
#include "evenspool/base/status.h"
#include "evenspool/signal/marker.h"
#include "evenspool/tape/equalisation.h"
#include "evenspool/tape/transport.h"

#include <stddef.h>

#define ES_PROGRAMME_NAME 32
#define ES_PROGRAMME_ABOUT 128
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
    es_transport_class transport;
    char equalisation[16];              /* see es_equalisation_from_name()                    */
    double reference_nwb_m;             /* flux of the reference level, rms [nWb/m], 50 .. 1000 */
    double marker_db;                   /* level of the markers                                */
    double broad_low_hz, broad_high_hz; /* of the broadband sections; whole numbers of Hz */
    double side_most_s;                 /* tape of one side at nominal speed                   */
    size_t side_count;                  /* 1 or 2                                              */
    es_programme_side side[ES_PROGRAMME_SIDES];
} es_programme;

/* Everything within its range and fitting together? ES_ERR_INPUT, code "programme", and a sentence
 * that names side, section and step. */
es_status es_programme_check(const es_programme *programme, es_error *error);

/* What the markers carry: made from all the content but `about`; a changed programme has another id. */
unsigned es_programme_id(const es_programme *programme);

/* "leader", "speed", "level", "azimuth-tones", "azimuth-broadband", "response", "left-only",
 * "right-only", "silence", "distortion", "end". ES_ERR_ARG: no such kind. */
const char *es_section_kind_name(es_section_kind kind);
es_status es_section_kind_from_name(const char *name, es_section_kind *out);

/* --- built in -------------------------------------------------------------------------- */

size_t es_programme_builtin_count(void);
const char *es_programme_builtin_name(size_t index); /* "" beyond the count */
const char *es_programme_builtin_about(size_t index);
/* ES_ERR_ARG: no such programme; *out is then the first. */
es_status es_programme_builtin(size_t index, es_programme *out);
es_status es_programme_find(const char *name, es_programme *out);
/* The built-in programme a marker speaks of, by its id. ES_ERR_ARG: none. */
es_status es_programme_of_id(unsigned id, es_programme *out);

/* --- times ------------------------------------------------------------------------------ */

typedef struct es_section_times {
    double start_s;  /* of the section                                 */
    double marker_s; /* where the marker begins; NaN: it has none      */
    double body_s;   /* where the body begins                          */
    double end_s;    /* where the body ends                            */
    double next_s;   /* where the next section begins                  */
} es_section_times;

es_section_times es_programme_times(const es_programme *programme, size_t side, size_t section);
/* Where a step begins; it lasts step[].seconds. */
double es_programme_step_s(const es_programme *programme, size_t side, size_t section, size_t step);
double es_programme_side_s(const es_programme *programme, size_t side);

typedef enum es_programme_part {
    ES_PART_OF_MARKER,
    ES_PART_OF_GAP,
    ES_PART_OF_BODY,
    ES_PART_OF_NOTHING /* before the side or after its end */
} es_programme_part;

typedef struct es_programme_place {
    es_programme_part part;
    size_t section, step;
    double left_s; /* until that part is over */
} es_programme_place;

es_programme_place es_programme_at(const es_programme *programme, size_t side, double time_s);

#endif
