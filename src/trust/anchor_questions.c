#include "trust/anchor_inside.h"

#include <math.h>
#include <string.h>

#define OPEN ((double)NAN) /* no default */

static const es_anchor_about abouts[ES_ANCHOR_METHOD_COUNT] = {
    [ES_ANCHOR_TAPE_LENGTH] = {"tape-length", "timed tape length",
                               "Mark a measured length of tape, play it on the deck and time it "
                               "from mark to mark. The best "
                               "that can be done at home.",
                               "length / (time * nominal speed) - 1", 0.0004},
    [ES_ANCHOR_COUNTER] =
        {"counter", "real-time counter against a watch",
         "Let the deck's counter of minutes and seconds run against a watch. A rough "
         "check only.",
         "counter time / watch time - 1", 0.006},
    [ES_ANCHOR_CAPSTAN] =
        {"capstan", "capstan diameter and turning rate",
         "Measure the capstan with a micrometer and its turning rate with an optical tachometer.",
         "pi * rate * (diameter + tape thickness) / nominal speed - 1", 0.0015},
    [ES_ANCHOR_TEST_TAPE] = {"test-tape", "bought test tape",
                             "Play a test tape whose maker states how true its tone is.",
                             "(1 + heard) * (1 + stated) - 1", 0.0012},
    [ES_ANCHOR_MAINS_HUM] = {"mains-hum", "mains hum on a recording",
                             "Measure the mains hum that a machine of known speed left on a tape.",
                             "heard / (harmonic * mains frequency) * (1 + recorder) - 1", 0.0013},
    [ES_ANCHOR_LINE_WHISTLE] =
        {"line-whistle", "television line whistle on a recording",
         "Measure the whistle of a television's line frequency that a machine of known speed left "
         "on a tape.",
         "heard / line frequency * (1 + recorder) - 1", 0.0012},
    [ES_ANCHOR_STEREO_PILOT] = {"stereo-pilot", "stereo pilot on a recording",
                                "Measure the rest of a stereo broadcast's pilot tone that a "
                                "machine of known speed left on "
                                "a tape.",
                                "heard / 19 kHz * (1 + recorder) - 1", 0.0012},
    [ES_ANCHOR_MUSIC] = {"music", "music against a digital copy",
                         "Play a bought cassette and compare it with a digital copy of the same "
                         "recording.",
                         "(1 + heard) * (1 + recorder) - 1", 0.006},
    [ES_ANCHOR_OTHER] = {"other", "another measurement",
                         "Any other measurement of this deck's speed whose uncertainty is known.",
                         "as stated", 0.001},
};

/* A number within low .. high; limits are meant as +-. */
#define NUMBER(key_, text_, unit_, standard_, needed_, low_, high_)                                \
    {                                                                                              \
        .key = (key_), .text = (text_), .unit = (unit_), .standard = (standard_),                  \
        .needed = (needed_), .low = (low_), .high = (high_)                                        \
    }

/* One of two answers. */
#define PICK(key_, text_, standard_, needed_, text_a, value_a, text_b, value_b)                    \
    {                                                                                              \
        .key = (key_), .text = (text_), .unit = "", .standard = (standard_), .needed = (needed_),  \
        .low = (value_a) < (value_b) ? (value_a) : (value_b),                                      \
        .high = (value_a) < (value_b) ? (value_b) : (value_a), .only = 1, .choice = {              \
            {(text_a), (value_a)},                                                                 \
            {(text_b), (value_b)}                                                                  \
        }                                                                                          \
    }

#define NOMINAL_QUESTION                                                                           \
    {                                                                                              \
        .key = "nominal_cm_s", .text = "Which speed should the tape run at?", .unit = "cm/s",      \
        .standard = 4.7625, .low = 1.0, .high = 80.0, .choice = {                                  \
            {"1 7/8 in/s (cassette)", 4.7625},                                                     \
            {"3 3/4 in/s", 9.525},                                                                 \
            {"7 1/2 in/s", 19.05},                                                                 \
            {"15 in/s", 38.1}                                                                      \
        }                                                                                          \
    }

static const es_anchor_question length_questions[LENGTH_COUNT] = {
    [LENGTH_M] = NUMBER("length_m", "How long is the tape from the first mark to the last?", "m",
                        OPEN, 1, 0.05, 1000.0),
    [LENGTH_TIME_S] =
        NUMBER("time_s", "How long does it take from mark to mark (the mean of your runs)?", "s",
               OPEN, 1, 0.5, 36000.0),
    [LENGTH_NOMINAL_CM_S] = NOMINAL_QUESTION,
    [LENGTH_RULE_MM] = NUMBER(
        "rule_mm", "How far can the rule be wrong over that length? Left open: a class II rule.",
        "mm", OPEN, 0, 1e-3, 1e4),
    [LENGTH_MARKS_MM] = NUMBER("marks_mm", "How far can the marks be off, taken together?", "mm",
                               0.5, 0, 1e-3, 100.0),
    [LENGTH_TIMER] = PICK("timer", "How was the time taken?", TIMER_CLICKS, 0,
                          "clicks recorded and counted by the computer", TIMER_CLICKS,
                          "by hand with a watch", TIMER_WATCH),
    [LENGTH_CLOCK_PPM] =
        NUMBER("clock_ppm", "How far can the timing clock be wrong?", "ppm", 100.0, 0, 1e-3, 1e4),
    [LENGTH_REACTION_S] = NUMBER(
        "reaction_s", "How closely do you press the watch, each time (a standard deviation)?", "s",
        0.1, 0, 1e-3, 5.0),
    [LENGTH_STRETCH_PERCENT] =
        NUMBER("stretch_percent",
               "How uncertain is the tape's length under the deck's pull (a standard uncertainty)?",
               "%", 0.03, 0, 1e-4, 5.0),
    [LENGTH_RUNS] = NUMBER("runs", "How many runs did you time?", "", 1.0, 0, 1.0, 1000.0),
    [LENGTH_SPREAD_PERCENT] =
        NUMBER("spread_percent",
               "What is the standard deviation between the runs? Left open: a usual one.", "%",
               OPEN, 0, 1e-4, 10.0),
};

static const es_anchor_question counter_questions[COUNTER_COUNT] = {
    [COUNTER_S] = NUMBER("counter_s", "How much time did the deck's counter show?", "s", OPEN, 1,
                         10.0, 36000.0),
    [COUNTER_WATCH_S] =
        NUMBER("watch_s", "How much time did the watch show?", "s", OPEN, 1, 10.0, 36000.0),
    [COUNTER_LIMIT_PERCENT] =
        NUMBER("counter_limit_percent", "How far can the counter's own reckoning be wrong?", "%",
               1.0, 0, 0.1, 20.0),
    [COUNTER_READING_S] =
        NUMBER("reading_s", "How finely can the counter be read?", "s", 0.5, 0, 1e-3, 60.0),
    [COUNTER_REACTION_S] = NUMBER(
        "reaction_s", "How closely do you press the watch, each time (a standard deviation)?", "s",
        0.1, 0, 1e-3, 5.0),
};

static const es_anchor_question capstan_questions[CAPSTAN_COUNT] = {
    [CAPSTAN_DIAMETER_MM] = NUMBER("diameter_mm", "How thick is the capstan where the tape runs?",
                                   "mm", OPEN, 1, 0.5, 60.0),
    [CAPSTAN_RATE_RPM] = NUMBER("rate_rpm", "How fast does it turn while a tape plays?",
                                "turns/min", OPEN, 1, 5.0, 20000.0),
    [CAPSTAN_THICKNESS_UM] = {.key = "thickness_um",
                              .text = "How thick is the tape?",
                              .unit = "um",
                              .standard = 18.0,
                              .low = 4.0,
                              .high = 80.0,
                              .choice = {{"C60 or shorter", 18.0}, {"C90", 12.0}, {"C120", 9.0}}},
    [CAPSTAN_NOMINAL_CM_S] = NOMINAL_QUESTION,
    [CAPSTAN_DIAMETER_LIMIT_UM] =
        NUMBER("diameter_limit_um", "How far can the diameter be wrong (micrometer 2, caliper 20)?",
               "um", 2.0, 0, 0.1, 1000.0),
    [CAPSTAN_THICKNESS_LIMIT_UM] = NUMBER(
        "thickness_limit_um", "How far can the thickness be wrong?", "um", 2.0, 0, 0.1, 50.0),
    [CAPSTAN_RATE_LIMIT_PERCENT] = NUMBER(
        "rate_limit_percent", "How far can the turning rate be wrong?", "%", 0.02, 0, 1e-4, 10.0),
    [CAPSTAN_CREEP_PERCENT] =
        NUMBER("creep_percent",
               "How uncertain is the tape's slip on the capstan (a standard uncertainty)?", "%",
               0.12, 0, 1e-3, 5.0),
};

static const es_anchor_question tape_questions[TAPE_COUNT] = {
    [TAPE_HEARD_PERCENT] =
        NUMBER("heard_percent", "What speed error is heard with the tape on this deck?", "%", OPEN,
               1, -50.0, 100.0),
    [TAPE_STATED_PERCENT] =
        NUMBER("stated_percent", "What error does the tape's certificate state?", "%", 0.0, 0,
               -20.0, 20.0),
    [TAPE_TOLERANCE_PERCENT] = NUMBER(
        "tolerance_percent", "Within what limits does the maker hold it?", "%", 0.2, 0, 1e-3, 10.0),
    [TAPE_AGE_YEARS] = NUMBER("age_years", "How old is the tape?", "years", 0.0, 0, 0.0, 80.0),
    [TAPE_HISTORY] =
        PICK("history", "How has the tape been kept?", HISTORY_KNOWN, 0, "bought new and kept well",
             HISTORY_KNOWN, "used, or its past is not known", HISTORY_UNKNOWN),
    [TAPE_AGEING_PERCENT] =
        NUMBER("ageing_percent",
               "How much may it have stretched or shrunk in a year (a standard uncertainty)?", "%",
               0.015, 0, 0.0, 1.0),
    [TAPE_READING_PERCENT] =
        NUMBER("reading_percent", "How uncertain is what was heard (a standard uncertainty)?", "%",
               0.01, 0, 1e-5, 10.0),
};

#define RECORDER_QUESTION                                                                          \
    PICK("recorder", "Which machine recorded it?", OPEN, 1, "another machine", RECORDER_ANOTHER,   \
         "this same deck", RECORDER_THIS)

#define RECORDER_ERROR_QUESTION                                                                    \
    NUMBER("recorder_percent", "What was that machine's speed error, if known?", "%", 0.0, 0,      \
           -20.0, 20.0)

#define RECORDER_LIMIT_QUESTION(standard, needed)                                                  \
    NUMBER("recorder_limit_percent",                                                               \
           "How far may that machine have been off (studio 0.2, home deck 2)?", "%", standard,     \
           needed, 1e-3, 20.0)

#define READING_QUESTION                                                                           \
    NUMBER("reading_percent", "How uncertain is what was heard (a standard uncertainty)?", "%",    \
           0.01, 0, 1e-5, 10.0)

#define CLOCK_QUESTION                                                                             \
    NUMBER("clock_ppm", "How far can the computer's sound clock be wrong?", "ppm", 100.0, 0, 1e-3, \
           1e4)

#define SIGNAL_QUESTIONS(limit, needed)                                                            \
    [SIGNAL_RECORDER] = RECORDER_QUESTION, [SIGNAL_RECORDER_PERCENT] = RECORDER_ERROR_QUESTION,    \
    [SIGNAL_RECORDER_LIMIT_PERCENT] = RECORDER_LIMIT_QUESTION(limit, needed),                      \
    [SIGNAL_READING_PERCENT] = READING_QUESTION, [SIGNAL_CLOCK_PPM] = CLOCK_QUESTION

static const es_anchor_question hum_questions[HUM_COUNT] = {
    SIGNAL_QUESTIONS(OPEN, 1),
    [SIGNAL_HEARD] =
        NUMBER("heard_hz", "At what frequency is the hum heard?", "Hz", OPEN, 1, 5.0, 5000.0),
    [HUM_MAINS_HZ] = PICK("mains_hz", "Which mains was it?", OPEN, 1, "50 Hz, Europe", 50.0,
                          "60 Hz, North America", 60.0),
    [HUM_HARMONIC] = NUMBER("harmonic", "Which multiple of the mains frequency was measured?", "",
                            1.0, 0, 1.0, 40.0),
    [HUM_YEAR] = NUMBER("year", "In which year was it recorded?", "", OPEN, 0, 1930.0, 2200.0),
};

static const es_anchor_question whistle_questions[WHISTLE_COUNT] = {
    SIGNAL_QUESTIONS(OPEN, 1),
    [SIGNAL_HEARD] = NUMBER("heard_hz", "At what frequency is the whistle heard?", "Hz", OPEN, 1,
                            5000.0, 40000.0),
    [WHISTLE_LINES] = PICK("lines", "Which television system was it?", OPEN, 1,
                           "625 lines (15 625 Hz)", 625.0, "525 lines (15 734.27 Hz)", 525.0),
    [WHISTLE_DRIVEN] =
        PICK("driven", "What drove the television?", OPEN, 1, "a broadcast", DRIVEN_BROADCAST,
             "no station, a recorder or a home computer", DRIVEN_FREE),
};

static const es_anchor_question pilot_questions[PILOT_COUNT] = {
    SIGNAL_QUESTIONS(OPEN, 1),
    [SIGNAL_HEARD] =
        NUMBER("heard_hz", "At what frequency is the pilot heard?", "Hz", OPEN, 1, 5000.0, 40000.0),
    [PILOT_LIMIT_HZ] = NUMBER("limit_hz", "How far can the station's pilot have been off?", "Hz",
                              2.0, 0, 1e-3, 500.0),
};

static const es_anchor_question music_questions[MUSIC_COUNT] = {
    SIGNAL_QUESTIONS(1.0, 0),
    [SIGNAL_HEARD] =
        NUMBER("heard_percent", "How much faster than the copy does the cassette sound?", "%", OPEN,
               1, -50.0, 100.0),
    [MUSIC_COPY_LIMIT_PERCENT] =
        NUMBER("copy_limit_percent", "How far may the copy itself differ from the master's speed?",
               "%", 0.3, 0, 1e-3, 20.0),
};

static const es_anchor_question other_questions[OTHER_COUNT] = {
    [OTHER_ERROR_PERCENT] =
        NUMBER("error_percent", "What is the deck's speed error?", "%", OPEN, 1, -50.0, 100.0),
    [OTHER_U95_PERCENT] = NUMBER("u95_percent", "What is its expanded uncertainty (95 %)?", "%",
                                 OPEN, 1, 1e-6, 100.0),
    [OTHER_K] = NUMBER("k", "With which coverage factor?", "", 2.0, 0, 1.0, 14.0),
    [OTHER_DOF] = NUMBER("dof", "With how many degrees of freedom? Left open: very many.", "", OPEN,
                         0, 1.0, 1e9),
};

typedef struct form {
    const es_anchor_question *question;
    size_t count;
} form;

static const form forms[ES_ANCHOR_METHOD_COUNT] = {
    [ES_ANCHOR_TAPE_LENGTH] = {length_questions, LENGTH_COUNT},
    [ES_ANCHOR_COUNTER] = {counter_questions, COUNTER_COUNT},
    [ES_ANCHOR_CAPSTAN] = {capstan_questions, CAPSTAN_COUNT},
    [ES_ANCHOR_TEST_TAPE] = {tape_questions, TAPE_COUNT},
    [ES_ANCHOR_MAINS_HUM] = {hum_questions, HUM_COUNT},
    [ES_ANCHOR_LINE_WHISTLE] = {whistle_questions, WHISTLE_COUNT},
    [ES_ANCHOR_STEREO_PILOT] = {pilot_questions, PILOT_COUNT},
    [ES_ANCHOR_MUSIC] = {music_questions, MUSIC_COUNT},
    [ES_ANCHOR_OTHER] = {other_questions, OTHER_COUNT},
};

_Static_assert(LENGTH_COUNT <= ES_QUESTIONS_MOST && HUM_COUNT <= ES_QUESTIONS_MOST,
               "the longest forms fit");

const es_anchor_about *es_anchor_methods(void)
{
    return abouts;
}

es_status es_anchor_find(const char *key, es_anchor_method *out)
{
    for (size_t i = 0; i < ES_ANCHOR_METHOD_COUNT; i++)
        if (key && strcmp(key, abouts[i].key) == 0) {
            *out = (es_anchor_method)i;
            return ES_OK;
        }
    return ES_ERR_ARG;
}

const es_anchor_question *es_anchor_questions(es_anchor_method method, size_t *count)
{
    *count = 0;
    if ((unsigned)method >= ES_ANCHOR_METHOD_COUNT)
        return NULL;
    *count = forms[method].count;
    return forms[method].question;
}
