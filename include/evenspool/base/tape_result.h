/*
 * Record of one side of the home-made test tape, read: everything that `tape read` says, as plain data
 * without pointers. A figure that can't be known is NaN (JSON: null; on paper: a dash), never 0.
 *
 *   channels  0 left, 1 right, as they arrived in the capture; in a mono capture only 0
 *   levels    dB; "re reference level" is against the reference level as this capture carries it
 *   u95       expanded uncertainty (k = 2), in the unit of the figure beside it; NaN: can't be given
 *   times     seconds of the capture
 * Definitions, formulas and sources: docs/methods.md.
 */
#ifndef ES_BASE_TAPE_RESULT_H
#define ES_BASE_TAPE_RESULT_H

#include "evenspool/base/check_result.h"
#include "evenspool/base/notes.h"
#include "evenspool/base/programme.h"

#include <stddef.h>

#define ES_TAPE_CHANNELS 2
#define ES_TAPE_POINTS ES_PROGRAMME_STEPS
#define ES_TAPE_HUM_MOST 12
#define ES_TAPE_VERDICTS_MOST 12

/* --- sections ------------------------------------------------------------------------- */

/* A section of the side that was played, in the programme's order. */
typedef struct es_tape_section {
    char name[ES_PROGRAMME_NAME];
    es_section_kind kind;
    double start_s, end_s; /* of its body; NaN: not in the capture                          */
    int found;             /* 1: measured, at least in part                                 */
    int marker;            /* 1: its own marker was heard; 0: its time follows from others  */
    size_t step_count;     /* steps of the programme                                        */
    size_t steps_heard;    /* of them measured                                              */
    double error_percent;  /* of a section for speed: the deck's while it lasted; NaN: not known */
} es_tape_section;

/* --- figures -------------------------------------------------------------------------- */

/* A tone's level. */
typedef struct es_tape_point {
    double hz; /* as the programme has it                                       */
    double db; /* NaN: not heard                                                */
    double u95_db;
    int limit; /* 1: only the noise was heard there: db is what it is at least  */
} es_tape_point;

/* Third harmonic of one stepped level. */
typedef struct es_tape_harmonic {
    double level_db;      /* as the programme has it, re reference level        */
    double heard_db;      /* as it was heard, re reference level                */
    double percent;       /* third harmonic of the fundamental                  */
    double floor_percent; /* what the noise there would look like               */
} es_tape_harmonic;

/* Re reference level of the same channel. */
typedef struct es_tape_noise {
    double unweighted;  /* rms, 20 Hz .. 20 kHz                                      */
    double a;           /* rms, IEC 61672-1                                          */
    double itu468;      /* rms, ITU-R BS.468-4                                       */
    double itu468_peak; /* its quasi-peak meter                                      */
    double u95_db;
} es_tape_noise;

typedef struct es_tape_hum {
    double hz, db;   /* re reference level                                        */
    double mains_hz; /* 50 or 60, of which it is ...                              */
    int multiple;    /* ... this multiple                                         */
} es_tape_hum;

typedef struct es_tape_dropouts {
    double seconds; /* of tone that were listened to; 0: none, the rest is NaN   */
    double count;
    double deepest_db; /* under the level around it, positive; NaN: none            */
    double longest_ms; /* NaN: none                                                 */
} es_tape_dropouts;

typedef struct es_tape_channel {
    int heard;       /* 0: nothing of the programme came through it               */
    double level_db; /* reference level, peak of the sine re full scale           */
    double level_u95_db;
    double level_error_db; /* against where it should read; NaN: not known              */
    size_t response_count; /* re the first of them                                      */
    es_tape_point response[ES_TAPE_POINTS];
    es_tape_noise noise;
    size_t hum_count; /* largest first                                             */
    es_tape_hum hum[ES_TAPE_HUM_MOST];
    size_t third_harmonic_count;
    es_tape_harmonic third_harmonic[ES_TAPE_POINTS];
    double level_3_percent_db; /* re reference level; NaN: not reached, or not known        */
    size_t separation_count;   /* this channel's tone over what the other one hears of it   */
    es_tape_point separation[ES_TAPE_POINTS];
    double clipped_percent; /* samples of the capture at full scale                      */
    es_tape_dropouts dropouts;
} es_tape_channel;

typedef struct es_tape_azimuth {
    int known;       /* 0: one channel, or neither section heard; the rest is NaN */
    double delay_us; /* + right later than left                                   */
    double u95_us;
    int sure;            /* 0: it may be whole turns of a tone off                    */
    double angle_arcmin; /* of a usual head of this class; NaN: no such head is usual */
    double u95_arcmin;
    double phase_10k_deg;   /* right behind left at 10 kHz, whole turns kept             */
    double loss_10k_db;     /* treble that this angle costs each track, never positive   */
    double sum_loss_10k_db; /* ... and the sum of both, as a mono listener hears it       */
} es_tape_azimuth;

typedef enum es_tape_polarity {
    ES_POLARITY_UNKNOWN,
    ES_POLARITY_SAME,
    ES_POLARITY_OPPOSED
} es_tape_polarity;

/* What the sections near the side's end say that are there twice: later minus first. */
typedef struct es_tape_again {
    double level_db[ES_TAPE_CHANNELS];
    double treble_db[ES_TAPE_CHANNELS]; /* 10 kHz, or the highest tone below, re the first tone */
    double delay_us;
} es_tape_again;

/* --- what to do ------------------------------------------------------------------------ */

/* One line for one adjustment. */
typedef struct es_tape_verdict {
    char what[24]; /* "speed", "azimuth", "level", "balance", "response", "noise", "distortion",
                      "separation", "polarity", "record-level", "bias"                     */
    es_verdict verdict;
    char text[280];  /* one sentence                                              */
    char source[96]; /* of the limit it was held against; "" when none was needed */
} es_tape_verdict;

typedef struct es_tape_result {
    es_capture_facts capture;
    char programme[ES_PROGRAMME_NAME];
    char transport[ES_PROGRAMME_KEY];
    char equalisation[ES_PROGRAMME_KEY];
    unsigned programme_id;
    int side; /* 1, 2; 0: no marker was heard                              */
    size_t section_count;
    es_tape_section sections[ES_PROGRAMME_SECTIONS];

    int speed_known;       /* 0: no section for speed was heard; check is then blank    */
    es_check_result check; /* of all sections for speed; times are the capture's        */
    double played_speed;   /* heard / nominal, as the markers and tones tell            */

    es_tape_azimuth azimuth;
    double balance_db; /* right minus left, of the reference level                  */
    double balance_u95_db;
    es_tape_polarity polarity;
    int swapped; /* 1: left-only was heard on the right                       */
    size_t channel_count;
    es_tape_channel channels[ES_TAPE_CHANNELS];
    es_tape_again again;

    int recorded_here;    /* 1: the same deck recorded it: figures are record and replay together */
    int tape_share_known; /* 1: what the recording deck did to the tape is taken off */
    char tape_share[320]; /* in a sentence                                             */
    char equalisation_hint[280]; /* "": none                                             */
    char bias[32];               /* label of the bias this was recorded with; "": none given  */
    double treble_db[ES_TAPE_CHANNELS]; /* 10 kHz (or the highest below) re the first tone */

    char limits[48]; /* name of the set of limits                                 */
    size_t verdict_count;
    es_tape_verdict verdicts[ES_TAPE_VERDICTS_MOST];
    es_notes warnings;
} es_tape_result;

#endif
