#include "evenspool/tape/scenario.h"

#include <string.h>

typedef struct builtin {
    const char *name, *about;
    const char *text; /* settings in the text form */
} builtin;

/* Flutter and noise of a deck in good order: common practice, no source. */
#define HEALTHY                                                                                    \
    "random-flutter = 0.03 %\nrandom-low = 0.5 Hz\nrandom-high = 60 Hz\n"                          \
    "scrape-flutter = 0.02 %\ncapstan-flutter = 0.03 %\npinch-roller-flutter = 0.02 %\n"           \
    "motor-flutter = 0.01 %\ntake-up-flutter = 0.015 %\nsupply-flutter = 0.01 %\n"                 \
    "snr = 50 dB\nlead-in = 0.5 s\nlead-out = 0.5 s\nstart-ramp = 0.4 s\nstop-ramp = 0.2 s\n"

/* The same without what a scenario sets itself. */
#define COURSE "lead-in = 0.5 s\nlead-out = 0.5 s\nstart-ramp = 0.4 s\nstop-ramp = 0.2 s\n"

static const builtin builtins[] = {
    {"right-on-speed", "A good deck that is where it should be: nothing to do.",
     HEALTHY "speed-error = 0.03 %\n"},
    {"slow-but-steady", "Slow by more than a per cent, otherwise in good order: the trimmer's job.",
     HEALTHY "speed-error = -1.35 %\ntrimmer-gain = 6 %/turn\ntrimmer-backlash = 3 deg\n"},
    {"fast-but-steady", "Fast by most of a per cent, otherwise in good order.",
     HEALTHY "speed-error = 0.85 %\ntrimmer-gain = 4 %/turn\ntrimmer-backlash = 2 deg\n"
             "trimmer-sense = anticlockwise\n"},
    {"warming-governor",
     "Runs fast while cold and sinks for minutes: the governor, not the trimmer.",
     HEALTHY "speed-error = -1.1 %\nwarm-up = 2.2 %\nwarm-up-time = 1.5 min\nlength = 120 s\n"},
    {"slipping-belt", "A stretched belt: slow, restless, and a swell at every turn of the belt.",
     COURSE "speed-error = -2.4 %\nbelt-flutter = 0.25 %\nbelt-flutter-2 = 0.09 %\n"
            "random-flutter = 0.16 %\nrandom-low = 0.2 Hz\nrandom-high = 6 Hz\n"
            "capstan-flutter = 0.03 %\nsnr = 48 dB\ndrift = -0.12 %/min\n"},
    {"shorted-winding", "A motor with a dead winding: weak, slow, and a jerk at every turn of it.",
     COURSE "speed-error = -3.2 %\nmotor-flutter = 0.35 %\nmotor-flutter-2 = 0.12 %\n"
            "motor-flutter-3 = 0.18 %\nrandom-flutter = 0.12 %\nrandom-low = 0.1 Hz\n"
            "random-high = 4 Hz\ncapstan-flutter = 0.03 %\nsnr = 48 dB\n"},
    {"dirty-pinch-roller", "Oxide caked on the pinch roller: a lump at every turn of it.",
     COURSE "speed-error = 0.2 %\npinch-roller-flutter = 0.22 %\npinch-roller-flutter-2 = 0.1 %\n"
            "pinch-roller-flutter-3 = 0.05 %\nrandom-flutter = 0.06 %\nscrape-flutter = 0.05 %\n"
            "capstan-flutter = 0.03 %\nsnr = 46 dB\n"},
    {"worn-take-up",
     "A worn clutch under the take-up reel: a slow pull with every turn of the reel.",
     COURSE "speed-error = -0.5 %\ntake-up-flutter = 0.24 %\ntake-up-flutter-2 = 0.06 %\n"
            "random-flutter = 0.05 %\ncapstan-flutter = 0.03 %\nsnr = 48 dB\nlength = 120 s\n"
            "tape-position = 4 min\n"},
    {"bent-capstan", "A capstan knocked out of true: flutter at its own rate, speed right.",
     COURSE "speed-error = -0.06 %\ncapstan-flutter = 0.3 %\ncapstan-flutter-2 = 0.04 %\n"
            "random-flutter = 0.04 %\nsnr = 50 dB\n"},
    {"dull-with-dropouts", "A tired tape on a dirty head: dull, and the tone keeps vanishing.",
     COURSE
     "speed-error = -0.7 %\nhead-spacing = 2.5 um\ndropouts = 40 /min\ndropout-depth = 26 dB\n"
     "dropout-length = 45 ms\nrandom-flutter = 0.05 %\ncapstan-flutter = 0.03 %\nsnr = 42 dB\n"},
    {"quiet-and-hissy", "Recorded far too low: the tone barely stands out of the hiss.",
     COURSE "speed-error = -0.9 %\nlevel = -38 dBFS\nsnr = 16 dB\nrandom-flutter = 0.06 %\n"
            "capstan-flutter = 0.03 %\n"},
    {"ridden-by-hum", "Mains hum over everything, from a bad lead: the speed is right.",
     COURSE "speed-error = -0.05 %\nhum = -22 dBFS\nbuzz = -30 dBFS\nrandom-flutter = 0.04 %\n"
            "capstan-flutter = 0.03 %\nsnr = 46 dB\n"},
    {"skewed-head", "The head leans: the right channel comes late and the treble is gone.",
     HEALTHY "speed-error = 0.25 %\nazimuth = 9 arcmin\nbalance = -1.5 dB\n"},
    {"one-ear", "The right channel is dead; the left one is good and a little fast.",
     HEALTHY "speed-error = 0.45 %\ndead-channel = right\n"},
    {"overdriven", "The input is turned up too far: clipped, with an offset, but steady.",
     HEALTHY "speed-error = -0.6 %\nlevel = 5 dBFS\ndc-offset = 2 %FS\nthird-harmonic = 3 %\n"},
    {"reel-19", "A reel deck at 19 cm/s, well kept and a trifle slow.",
     "class = reel-19\ncapstan-diameter = 6 mm\npinch-roller-diameter = 32 mm\n"
     "flywheel-diameter = 90 mm\nmotor-pulley-diameter = 36 mm\nbelt-length = 420 mm\n" COURSE
     "speed-error = -0.22 %\nrandom-flutter = 0.02 %\nscrape-flutter = 0.02 %\n"
     "capstan-flutter = 0.02 %\nsupply-flutter = 0.015 %\ntake-up-flutter = 0.01 %\nsnr = 58 dB\n"},
    {"microcassette", "A pocket dictating machine: fast, restless and noisy, as they are.",
     "class = microcassette\ncapstan-diameter = 1.5 mm\npinch-roller-diameter = 7 mm\n"
     "flywheel-diameter = 24 mm\nmotor-pulley-diameter = 4 mm\nbelt-length = 110 mm\n" COURSE
     "speed-error = 2.1 %\nrandom-flutter = 0.2 %\nrandom-high = 30 Hz\ncapstan-flutter = 0.2 %\n"
     "belt-flutter = 0.1 %\nmotor-flutter = 0.05 %\nsnr = 32 dB\ntone = 1000 Hz\n"
     "trimmer-gain = 8 %/turn\n"},
    {"touchy-trimmer",
     "For practice: 2.6 per cent fast, and a hair's turn of the trimmer is too much.",
     "speed-error = 2.6 %\ntrimmer-gain = 3 %/turn\ntrimmer-backlash = 5 deg\n"
     "trimmer-range = 4 turns\nmotor-time = 0.2 s\nrandom-flutter = 0.06 %\n"
     "capstan-flutter = 0.05 %\npinch-roller-flutter = 0.04 %\nmotor-flutter = 0.01 %\n"
     "snr = 45 dB\nlength = 3600 s\nstart-ramp = 0.4 s\n"},
    {"leaning-head",
     "For practice: the right channel is 50 us late, and the azimuth screw has a little play.",
     HEALTHY "azimuth = 9.1 arcmin\ncarries = broadband\nlevel = -14 dBFS\nlength = 3600 s\n"},
    {"uneven-levels", "For practice: both channels too soft, the right one more so.",
     HEALTHY "tone = 315 Hz\nlevel = -13.4 dBFS\nbalance = -2.2 dB\nlength = 3600 s\n"},
};

enum { BUILTINS = sizeof builtins / sizeof *builtins };

size_t es_scenario_builtin_count(void)
{
    return BUILTINS;
}

const char *es_scenario_builtin_name(size_t index)
{
    return index < BUILTINS ? builtins[index].name : "";
}

const char *es_scenario_builtin_about(size_t index)
{
    return index < BUILTINS ? builtins[index].about : "";
}

es_status es_scenario_builtin(size_t index, es_scenario *out)
{
    *out = es_scenario_defaults();
    if (index >= BUILTINS)
        return ES_ERR_ARG;
    const builtin *b = &builtins[index];
    es_status status = es_scenario_parse(b->text, strlen(b->text), out, NULL);
    if (status != ES_OK)
        return ES_ERR_INTERNAL; /* tests parse them all */
    memcpy(out->name, b->name, strlen(b->name) + 1);
    memcpy(out->about, b->about, strlen(b->about) + 1);
    return ES_OK;
}

es_status es_scenario_find(const char *name, es_scenario *out)
{
    for (size_t i = 0; i < BUILTINS; i++)
        if (strcmp(name, builtins[i].name) == 0)
            return es_scenario_builtin(i, out);
    *out = es_scenario_defaults();
    return ES_ERR_ARG;
}
