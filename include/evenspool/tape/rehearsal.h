/*
 * The rehearsal deck: an imaginary machine with faults and a trimmer that plays a test tape, for
 * practice, demonstration and tests.
 *
 *   in      a scenario (tape/scenario.h) and a sample rate; with a recording, what stands on the tape
 *           in place of the scenario's tone
 *   out     stereo frames, full scale +-1.0; the exact truth about what was played
 *   how     the speed is made frame by frame from the parts of the machine; the tone's phase is the
 *           sum of those speeds, so that every mean speed is known exactly (docs/methods.md)
 *   same    a seed means the same frames whatever the block size, bit for bit
 *   goes on beyond the scenario's length with the deck standing still; the imaginary tape does not
 *           run out: its packs stay as at its end
 *   thread  one deck, one thread at a time; no shared state
 *   rt      only _create allocates
 */
#ifndef ES_TAPE_REHEARSAL_H
#define ES_TAPE_REHEARSAL_H

#include "evenspool/base/status.h"
#include "evenspool/tape/scenario.h"

#include <stddef.h>
#include <stdint.h>

#define ES_REHEARSAL_COMPONENTS_MOST                                                               \
    ((ES_SCENARIO_PARTS - 1) * ES_SCENARIO_HARMONICS + ES_SCENARIO_WOBBLES)

typedef struct es_rehearsal es_rehearsal;

/*
 * What stands on the tape. Its frames are asked for in order, a few hundred at a time, from the thread
 * that renders; the same frames must come whenever it is played. The scenario's level is that of a sine at
 * reference level in the left channel, before head losses, and snr is against it.
 */
#define ES_RECORDING_RATE_HZ 96000.0 /* at nominal speed */
typedef struct es_recording {
    void *self;
    void (*render)(void *self, float *stereo, size_t frames); /* the next; silence after its end */
    double reference_fs; /* peak of a sine at reference level in these frames, > 0 */
} es_recording;

/* One sinusoid of the speed. Rates per second of the capture (the sound card's clock). */
typedef struct es_rehearsal_component {
    es_part part;                 /* ES_PART_NONE: a wobble                                 */
    int harmonic;                 /* 1 .. 3                                                 */
    double rate_hz;               /* mean while at speed; NaN: never at speed               */
    double rate_slope_hz_per_min; /* from the first moment at speed to the last             */
    double peak;                  /* fraction of the speed of the moment                    */
} es_rehearsal_component;

/*
 * Truth about the frames rendered so far. "At speed" leaves out standing still and both ramps.
 * Errors are fractions; NaN where there is nothing to tell.
 */
typedef struct es_rehearsal_truth {
    int64_t frames;
    double duration_s; /* of the capture                                                 */
    double at_speed_s;
    double start_s, steady_s, stopping_s, still_s; /* of the capture, by the scenario     */

    double deck_error;    /* mean of the deck's speed error while at speed                */
    double heard_error;   /* the same with the tape's and the clock's left in             */
    double heard_hz;      /* mean frequency of the tone in the capture while at speed     */
    double settled_error; /* where the deck is heading as it stands now                   */
    double drift_per_min; /* straight line through the speed error while at speed         */
    double tape_error, clock_error;

    double flutter_rms;            /* everything fast, as rendered, while at speed */
    double random_rms, scrape_rms; /* the two bands of noise in it      */
    size_t component_count;
    es_rehearsal_component components[ES_REHEARSAL_COMPONENTS_MOST];

    double tone_hz; /* as recorded on the tape's label                            */
    /* Levels and delay are those of now, as the screws stand. */
    int recording;              /* 1: a recording is played; levels are of a sine at its reference
                                   level, before head losses                                  */
    double level_fs[2];         /* peak of the tone's fundamental; left, right                */
    double snr_db[2];           /* fundamental over white noise; HUGE_VAL: no noise           */
    double clipped[2];          /* share of frames at the limit                               */
    double level_difference_db; /* right minus left; NaN: a channel is dead             */
    int opposed;
    double delay_us;        /* + right later; whole, not within a period; NaN: one dead */
    double delay_period_us; /* of the tone as heard; NaN: a recording                   */
    int64_t dropouts;       /* begun                                                    */
} es_rehearsal_truth;

/* ES_ERR_ARG: es_scenario_check(scenario, rate_hz, ) says why. ES_ERR_NOMEM. *out is NULL on
 * error. */
es_status es_rehearsal_create(const es_scenario *scenario, double rate_hz, es_rehearsal **out);
/* The same with a recording on the tape (copied, but not what it points at); NULL: none. ES_ERR_ARG also: no
 * render, no reference. The scenario's third harmonic is that at reference level, grows with the square of the level and takes from
 * loud sounds what it adds; its tone, second harmonic and `carries` then count for nothing. */
es_status es_rehearsal_create_playing(const es_scenario *scenario, double rate_hz,
                                      const es_recording *recording, es_rehearsal **out);
/* NULL is fine. */
void es_rehearsal_destroy(es_rehearsal *deck);

/* Frames of the whole capture, as the scenario sets it. */
int64_t es_rehearsal_length(const es_rehearsal *deck);

/* Writes 2 x frames samples, left first. */
void es_rehearsal_render(es_rehearsal *deck, float *stereo, size_t frames);

/* The same; also writes the deck's instantaneous speed error after each frame (NaN while it stands
 * still) to error[0 .. frames), and the share of it that is flutter to flutter[]; NULL is fine. */
void es_rehearsal_render_with_truth(es_rehearsal *deck, float *stereo, double *error,
                                    double *flutter, size_t frames);

/* Turns the trimmer's slot, + clockwise. Play, sense, gain and stops as in the scenario; the motor
 * follows with its time constant from the next 64 frames on. Not finite: nothing happens. */
void es_rehearsal_turn_trimmer(es_rehearsal *deck, double turns);

typedef enum es_screw {
    ES_SCREW_SPEED,
    ES_SCREW_AZIMUTH,    /* the head leans by another angle: delay, and treble lost */
    ES_SCREW_LEVEL_LEFT, /* playback level of a channel                             */
    ES_SCREW_LEVEL_RIGHT
} es_screw;

/* The same for any of the deck's screws; head and levels follow at once, within 64 frames. */
void es_rehearsal_turn(es_rehearsal *deck, es_screw screw, double turns);

/* Speed error of the deck at the last rendered frame; NaN: standing still, nothing rendered. */
double es_rehearsal_speed_now(const es_rehearsal *deck);

/* Exact mean of the deck's speed error over the frames rendered so far at speed; NaN: none. */
double es_rehearsal_mean_error(const es_rehearsal *deck);

/* Error towards which the deck is heading: no flutter, the trimmer followed. */
double es_rehearsal_settled_error(const es_rehearsal *deck);

/* Way of the tape so far, in seconds of nominal speed, and true time so far [s]: the mean error
 * over any span is the difference of the first over the difference of the second, minus one,
 * exactly. */
double es_rehearsal_way_s(const es_rehearsal *deck);
double es_rehearsal_time_s(const es_rehearsal *deck);

/* What is true of the frames rendered so far; cheap, may be asked at any time. */
es_rehearsal_truth es_rehearsal_truth_of(const es_rehearsal *deck);

#endif
