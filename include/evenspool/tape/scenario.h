/*
 * Scenarios: every setting of the rehearsal deck, as plain data, and their text form.
 * The text form, every key with its unit and range: docs/scenarios.md.
 *
 *   defaults   a flawless cassette deck playing a clean 3150 Hz tone for a minute
 *   signs      speed errors + fast; azimuth + : the right channel is late; trimmer + clockwise
 *   units      in the names; speeds, errors and modulations without a unit are fractions
 *   flutter    peak of a sinusoid, or rms for noise, as a fraction of the speed of the moment
 *   thread     no shared state
 *   rt         nothing here allocates
 */
#ifndef ES_TAPE_SCENARIO_H
#define ES_TAPE_SCENARIO_H

#include "evenspool/base/error.h"
#include "evenspool/base/status.h"
#include "evenspool/tape/transport.h"

#include <stddef.h>
#include <stdint.h>

#define ES_SCENARIO_NAME 32
#define ES_SCENARIO_ABOUT 128
#define ES_SCENARIO_HARMONICS 3
#define ES_SCENARIO_WOBBLES 4
/* The deck's own turning parts, capstan to idler, are those below this one. */
#define ES_SCENARIO_PARTS ES_PART_REEL
/* Room that es_scenario_write() never needs more than [bytes]. */
#define ES_SCENARIO_TEXT 8192

#define ES_REHEARSAL_RATE_MIN_HZ 8000.0
#define ES_REHEARSAL_RATE_MAX_HZ 384000.0

typedef struct es_scenario_trimmer {
    double per_turn;             /* speed change per turn; 0: the deck has no trimmer */
    int anticlockwise_is_faster; /* sense: 0 = clockwise is faster                    */
    double backlash_deg;         /* play when the direction changes                   */
    double range_turns;          /* from stop to stop                                 */
    double start;                /* share of the range below where it stands, 0 .. 1  */
} es_scenario_trimmer;

typedef struct es_scenario_screw { /* of the head's tilt, or of a channel's playback level */
    double per_turn;               /* [arcmin] or [dB]; 0: it can't be turned                    */
    int anticlockwise_is_more;     /* sense: 0 = clockwise makes the right channel later, louder */
    double backlash_deg, range_turns, start; /* as es_scenario_trimmer                           */
} es_scenario_screw;

/* What the tape carries; broadband: sound of all frequencies (tape/wideband.h in the sources). */
typedef enum es_tape_sound { ES_CARRIES_TONE, ES_CARRIES_BROADBAND } es_tape_sound;

typedef struct es_scenario_band {
    double rms;             /* fraction */
    double low_hz, high_hz; /* -3 dB    */
} es_scenario_band;

typedef struct es_scenario_wobble {
    double rate_hz; /* does not follow the speed */
    double peak;
} es_scenario_wobble;

typedef enum es_dead_channel { ES_DEAD_NONE, ES_DEAD_LEFT, ES_DEAD_RIGHT } es_dead_channel;

typedef struct es_scenario {
    char name[ES_SCENARIO_NAME];   /* lower-case words with hyphens          */
    char about[ES_SCENARIO_ABOUT]; /* one line for people; may be empty      */
    uint64_t seed;                 /* of everything random, 0 .. 2^53        */

    /* the course of the capture */
    double length_s;                  /* whole capture                                  */
    double lead_in_s, lead_out_s;     /* deck stopped before and after                  */
    double start_ramp_s, stop_ramp_s; /* getting up to speed, running down             */

    /* the machine and its tape */
    es_geometry geometry;
    double tape_position_min; /* already on the take-up, in minutes at nominal speed   */
    double track_spacing_m;   /* between the middles of the left and right track       */
    double track_width_m;

    /* the speed */
    double speed_error;   /* of the deck as found                                      */
    double tape_error;    /* of the deck that recorded the tape                        */
    double clock_error;   /* of the sound card, + samples fast                         */
    double drift_per_min; /* straight                                                  */
    double warm_up;       /* extra error when cold, dying away ...                     */
    double warm_up_min;   /* ... with this time constant                               */
    es_scenario_trimmer trimmer;
    double motor_s; /* time constant with which the motor follows the trimmer          */

    /* the flutter: by part and harmonic of its turning rate, free sinusoids, noise     */
    double flutter[ES_SCENARIO_PARTS][ES_SCENARIO_HARMONICS];
    es_scenario_wobble wobble[ES_SCENARIO_WOBBLES];
    es_scenario_band random, scrape;

    /* the tone */
    es_tape_sound carries; /* broadband: with the power that the tone would have            */
    double tone_hz;
    double second, third;         /* harmonics, as shares of the fundamental              */
    double level_dbfs;            /* peak of the left channel's tone, ideal head          */
    double balance_db;            /* right minus left                                     */
    double tone_on_s, tone_off_s; /* off 0: not intermittent                            */

    /* heads and electronics */
    double azimuth_arcmin;
    es_scenario_screw azimuth_screw;
    es_scenario_screw level_trimmer; /* one in each channel                              */
    double head_spacing_m; /* dirt between head and tape: dulls                          */
    int opposed;           /* right channel's polarity reversed                          */
    es_dead_channel dead;  /* a channel without tone                                     */
    double snr_db;         /* left tone's power with an ideal head over the power of the white
                              noise, full band; HUGE_VAL: no noise                       */
    double hum_hz;
    double hum_dbfs, buzz_dbfs; /* at the mains frequency, at twice it; -HUGE_VAL: none  */
    double dropouts_per_min, dropout_db, dropout_s;
    double clip_dbfs; /* nothing gets louder than this; at most 0                        */
    double dc_fs;     /* offset, share of full scale                                     */
} es_scenario;

es_scenario es_scenario_defaults(void);

/*
 * Is every setting within its range, and do they fit together at this sample rate
 * (0: whatever the rate)? ES_ERR_INPUT with code "scenario" and a sentence that names the key.
 */
es_status es_scenario_check(const es_scenario *scenario, double rate_hz, es_error *error);

/* --- built-in scenarios ---------------------------------------------------------- */

size_t es_scenario_builtin_count(void);
/* Names and lines for people; "" beyond the count. */
const char *es_scenario_builtin_name(size_t index);
const char *es_scenario_builtin_about(size_t index);
/* ES_ERR_ARG: beyond the count; *out then holds the defaults. */
es_status es_scenario_builtin(size_t index, es_scenario *out);
/* ES_ERR_ARG: no built-in scenario of that name; *out then holds the defaults. */
es_status es_scenario_find(const char *name, es_scenario *out);

/* --- text form -------------------------------------------------------------------- */

/*
 * Reads length bytes of text (no terminator needed). What is not mentioned keeps its default, or
 * the value of the scenario named by `like`. The result has passed es_scenario_check(, 0,).
 * ES_ERR_INPUT with code "scenario-text" (line and column, what was expected) or "scenario"
 * (settings that don't fit together); *out then holds the defaults.
 */
es_status es_scenario_parse(const char *text, size_t length, es_scenario *out, es_error *error);

/*
 * Writes the text form, terminated; parsing it gives back every setting to the last bit.
 * ES_ERR_SPACE: size is too small (ES_SCENARIO_TEXT always does); room[0] is then '\0'.
 * ES_ERR_ARG: the scenario does not pass es_scenario_check().
 */
es_status es_scenario_write(const es_scenario *scenario, char *room, size_t size);

#endif
