/*
 * Record of one moment of the coach: what the screen, the phone, the terminal and the ear show.
 * Plain data without pointers. NaN: not known, never 0.
 *
 * Speed: percent of nominal speed; + fast. When another quantity is adjusted, the fields named
 * _percent carry that one in its own unit, us or dB (base/adjust.h); only tape_error_percent does not.
 */
#ifndef ES_BASE_TRIM_SNAPSHOT_H
#define ES_BASE_TRIM_SNAPSHOT_H

#include "evenspool/base/adjust.h"
#include "evenspool/base/pair_view.h"

#include <stddef.h>

#define ES_NUDGES_MOST 64
#define ES_ADVICE_ROOM 200
#define ES_TRIM_REASON_ROOM 24
#define ES_TRIM_NOTE_ROOM 280

typedef enum es_trim_state {
    ES_TRIM_LISTENING, /* no tone yet, or it went away: silence, a dropout, a stopped tape, a wrong tone */
    ES_TRIM_UNSTEADY,  /* a tone, but its speed has not settled since start                  */
    ES_TRIM_TURNING,   /* a hand is on the trimmer                                           */
    ES_TRIM_SETTLING,  /* the hand let go; the average is being gathered                     */
    ES_TRIM_READING,   /* a figure that can be believed, not yet at the target               */
    ES_TRIM_THERE,     /* inside the tolerance and sure of it                                */
    ES_TRIM_LOOK_FIRST /* can't be reached by turning: stop and look for the fault           */
} es_trim_state;

typedef struct es_nudge {
    double time_s;       /* when the hand began                                              */
    double size_percent; /* settled speed after less before                                  */
    double overshoot;    /* how far beyond the plateau the speed went, part of the size; 0: not */
    double asked;        /* the advice that stood before it, as in move_factor; NaN: none    */
    int reversal;        /* 1: went the other way than the one before                        */
} es_nudge;

typedef struct es_trim_snapshot {
    es_adjust adjust; /* what is adjusted                                          */
    double time_s;    /* of the source's own frames                                */
    es_trim_state state;
    double error_percent; /* certificate and clock taken off; NaN unless reading or there */
    double u95_percent;   /* likewise                                                     */
    double live_percent;  /* unaveraged trace (last 50 ms), for the curve; NaN: no tone   */
    double target_percent;
    double tolerance_percent;
    double held_s;               /* there: how long it has held since the tool was taken away    */
    int final;                   /* 1: the final reading has been taken and stands               */
    double input_peak_fs;        /* largest sample of the last snapshot's time                   */
    double snr_db;               /* NaN: no tone                                                 */
    double nominal_hz, heard_hz; /* heard NaN: no tone                                       */
    double tape_error_percent;   /* taken off; NaN: none given                               */
    size_t overruns;             /* gaps in the input so far                                     */
    size_t nudge_count;          /* all nudges so far; the last ES_NUDGES_MOST are kept          */
    es_nudge nudges[ES_NUDGES_MOST]; /* oldest first                                         */
    char advice[ES_ADVICE_ROOM];     /* one sentence in the hand's own terms                     */

    /* the same for programs; and what stands behind the figure */
    double move_factor;   /* next turn as a share of the last, - : the other way; NaN: no turn is
                             asked for, or none is known to compare it with                  */
    int move_of_first;    /* 1: it is a share of the very first turn instead (the last was a hair's
                             breadth); its sign still speaks of the last                     */
    double unseen_factor; /* the same for a hand that has turned as asked and nothing was seen to
                             change; NaN: not said                                           */
    double averaged_s;    /* time that the error is the mean of; NaN: no error shown         */
    double scatter_percent;  /* standard deviation of the mean speed over one turn of the capstan
                               (about 0.13 s where its rate is not known); NaN: not known yet */
    double turn_s;           /* that time                                                       */
    double reference_hz;     /* what this tape would read at the target, certificate and clock
                             included: the tone to beat against; NaN: tone not known         */
    double backlash_percent; /* speed that a reversal loses to play, as learned; NaN: not yet */
    double final_percent, final_u95_percent; /* the final reading; NaN: none stands          */
    char reason[ES_TRIM_REASON_ROOM];        /* why there is no reading: "silence", "other-sound",
                             "two-tones", "wrong-tone", "unusual-tone", "tone-unsure",
                             "dropout", "gone"; or why to
                             look first: "range", "flutter", "drift", "no-progress"; else ""  */
    es_pair_view pair;                       /* both channels; speed: nothing is known of them */
    char note[ES_TRIM_NOTE_ROOM]; /* a sentence to be kept in mind: the tone could be taken for
                             another; "": none                                               */
} es_trim_snapshot;

#endif
