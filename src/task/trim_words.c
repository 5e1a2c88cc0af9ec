#include "task/trim_words.h"

#include <math.h>
#include <string.h>

typedef struct share {
    double share;
    const char *words;
} share;

/* Steps of a fifth or so: finer is nothing a hand could do. */
static const share shares[] = {
    {1.0 / 40.0, "a fortieth of"},
    {1.0 / 30.0, "a thirtieth of"},
    {1.0 / 20.0, "a twentieth of"},
    {1.0 / 15.0, "a fifteenth of"},
    {1.0 / 12.0, "a twelfth of"},
    {1.0 / 10.0, "a tenth of"},
    {1.0 / 8.0, "an eighth of"},
    {1.0 / 6.0, "a sixth of"},
    {1.0 / 5.0, "a fifth of"},
    {1.0 / 4.0, "a quarter of"},
    {1.0 / 3.0, "a third of"},
    {2.0 / 5.0, "two fifths of"},
    {1.0 / 2.0, "half of"},
    {3.0 / 5.0, "three fifths of"},
    {2.0 / 3.0, "two thirds of"},
    {3.0 / 4.0, "three quarters of"},
    {7.0 / 8.0, "a little less than"},
    {1.0, "as much as"},
    {1.25, "a quarter more than"},
    {1.5, "one and a half times"},
    {1.75, "one and three quarter times"},
    {2.0, "twice"},
    {2.5, "two and a half times"},
    {3.0, "three times"},
    {3.5, "three and a half times"},
    {4.0, "four times"},
    {5.0, "five times"},
    {6.0, "six times"},
    {7.0, "seven times"},
    {8.0, "eight times"},
    {9.0, "nine times"},
    {10.0, "ten times"},
};
#define SHARES (sizeof shares / sizeof *shares)

static const share *nearest(double factor)
{
    const share *best = &shares[0];
    for (size_t i = 1; i < SHARES; i++)
        if (fabs(log(fabs(factor) / shares[i].share)) < fabs(log(fabs(factor) / best->share)))
            best = &shares[i];
    return best;
}

double es_share_of_turn(double factor)
{
    return isnan(factor) ? factor : copysign(nearest(factor)->share, factor);
}

const char *es_share_words(double factor)
{
    return nearest(factor)->words;
}

/* --- sentences -------------------------------------------------------------------------- */

/* What differs from quantity to quantity. %s in the sides and ways: the channel that is followed. */
typedef struct phrases {
    const char *name;  /* of the quantity                        */
    const char *sound; /* what is listened to                    */
    const char *wants; /* what to play, when there is nothing    */
    const char *low, *high;
    const char *rising, *falling;
    const char *turn, *will_tell; /* the first turn                  */
    const char *screw, *object;   /* what is turned, what it is of   */
    const char *wavers, *drifts;  /* what to look for then           */
} phrases;

static const phrases in_words[] = {
    [ES_ADJUST_SPEED] = {"speed", "tone", "play the test tape, and check cable and input",
                         "Too slow", "Too fast", "Getting faster", "Getting slower",
                         "turn a little either way", "which way is faster", "trimmer", "deck",
                         "find what wavers first, roller, capstan or belt",
                         "let the deck warm up, and if it still drifts, look at belt, motor and "
                         "regulator"},
    [ES_ADJUST_AZIMUTH] =
        {"delay", "sound", "play the test tape's azimuth section, and check cable and input",
         "Right early", "Right late", "Right getting later", "Right getting earlier",
         "turn the azimuth screw a little either way", "which way brings them together", "screw",
         "head", "look first at the tape's guides, the pressure pad and the cassette itself",
         "look at the head's mount and screws, and at the cassette"},
    [ES_ADJUST_LEVEL] = {"level", "sound",
                         "play the test tape's reference level, and check cable and input",
                         "%s too soft", "%s too loud", "%s getting louder", "%s getting softer",
                         "turn that channel's playback level a little either way",
                         "which way is louder", "trimmer", "level",
                         "clean the head, and look at the tape and its pressure",
                         "let the deck warm up, and clean the head"},
    [ES_ADJUST_BALANCE] = {"balance", "sound",
                           "play the test tape's reference level, and check cable and input",
                           "Right too soft", "Right too loud", "Right getting louder",
                           "Right getting softer",
                           "turn the right channel's playback level a little either way",
                           "which way is louder", "trimmer", "balance",
                           "clean the head, and look at the tape's guides and pressure",
                           "let the deck warm up, and clean the head"},
};
_Static_assert(sizeof in_words / sizeof *in_words == ES_ADJUST_COUNT, "phrases for each quantity");

static const phrases *words_for(const es_trim_snapshot *s)
{
    return &in_words[s->adjust];
}

static const char *channel_of(const es_trim_scene *scene)
{
    return scene->right ? "Right" : "Left";
}

static int reason_is(const es_trim_snapshot *s, const char *reason)
{
    return strcmp(s->reason, reason) == 0;
}

/* 1: a reason that only a test tone has, or only two channels; it is said. */
static int say_own_reason(const es_trim_snapshot *s, const es_trim_scene *scene, es_text *to)
{
    if (reason_is(s, "two-tones"))
        es_text_add(to, "More than one tone is heard at once: play a single test tone.");
    else if (reason_is(s, "wrong-tone"))
        es_text_add(to,
                    "A tone of %.0f Hz is heard, not one near %.0f Hz: play the right part of the "
                    "tape, or name its tone.",
                    scene->other_hz, s->nominal_hz);
    else if (reason_is(s, "unusual-tone"))
        es_text_add(to,
                    "A tone of %.0f Hz is heard, which is no usual test tone: say which tone was "
                    "recorded.",
                    scene->other_hz);
    else if (reason_is(s, "tone-unsure"))
        es_text_add(to,
                    "A tone of %.0f Hz is heard: it may be one test tone too fast or another too "
                    "slow. Don't turn yet: say which tone was recorded.",
                    scene->other_hz);
    else if (reason_is(s, "other-sound"))
        es_text_add(to, "No steady tone is heard: play the part of the tape with the test tone.");
    else if (reason_is(s, "left-dead") || reason_is(s, "right-dead"))
        es_text_add(to,
                    "Only the %s channel is heard: check the cable, and whether the tape is "
                    "recorded in both, before you turn anything.",
                    reason_is(s, "left-dead") ? "right" : "left");
    else if (reason_is(s, "same-sound"))
        es_text_add(to, "Both channels carry the very same samples: the input or the cable is "
                        "mono; connect it in stereo.");
    else if (reason_is(s, "nothing-common"))
        es_text_add(to, "The two channels have nothing in common: play a part of the tape that was "
                        "recorded alike in both.");
    else
        return 0;
    return 1;
}

static void say_listening(const es_trim_snapshot *s, const es_trim_scene *scene, es_text *to)
{
    const phrases *w = words_for(s);
    if (say_own_reason(s, scene, to))
        return;
    if (reason_is(s, "gone"))
        es_text_add(to, "The %s is gone: is the tape still running?", w->sound);
    else if (reason_is(s, "dropout"))
        es_text_add(to, "The %s dropped out; hands off until it is back.", w->sound);
    else if (reason_is(s, ""))
        es_text_add(to, s->adjust == ES_ADJUST_SPEED ? "A tone: listening whether it is steady."
                                                     : "Something is heard: listening to it.");
    else
        es_text_add(to, "Nothing is heard: %s.", w->wants);
}

/* "Left too soft", "Too fast": a phrase that may name the channel. */
static void say_phrase(es_text *to, const char *phrase, const es_trim_scene *scene)
{
    const char *gap = strstr(phrase, "%s");
    if (gap)
        es_text_add(to, "%.*s%s%s", (int)(gap - phrase), phrase, channel_of(scene), gap + 2);
    else
        es_text_add(to, "%s", phrase);
}

static void say_turning(const es_trim_snapshot *s, const es_trim_scene *scene, es_text *to)
{
    const phrases *w = words_for(s);
    if (scene->speeding == 0)
        es_text_add(to, "The %s is moving", w->name);
    else
        say_phrase(to, scene->speeding > 0 ? w->rising : w->falling, scene);
    es_text_add(to, ": let go, then I will read it.");
}

static void say_side(const es_trim_snapshot *s, const es_trim_scene *scene, es_text *to)
{
    const phrases *w = words_for(s);
    say_phrase(to, s->error_percent < s->target_percent ? w->low : w->high, scene);
}

static const char *way(double factor)
{
    return factor < 0.0 ? "the other way" : "the same way";
}

static const char *which(const es_trim_snapshot *s)
{
    return s->move_of_first ? "very first" : "last";
}

static void say_unseen(const es_trim_snapshot *s, const es_trim_scene *scene, es_text *to)
{
    char side[48];
    es_text text = es_text_over(side, sizeof side);
    say_side(s, scene, &text);
    side[0] = (char)(side[0] - 'A' + 'a'); /* within the sentence */
    es_text_add(to, "Still %s, and no change seen: if you did turn, ", side);
    if (isnan(s->move_factor))
        es_text_add(to, "turn on a little more; that is play, or the end of its way.");
    else if (scene->reversal_asked)
        es_text_add(to, "that was play: as much again; if not, %s your %s turn, %s.",
                    es_share_words(s->move_factor), which(s), way(s->move_factor));
    else
        es_text_add(to, "as much again; if not, %s your %s turn, %s.",
                    es_share_words(s->move_factor), which(s), way(s->move_factor));
}

static void say_reading(const es_trim_snapshot *s, const es_trim_scene *scene, es_text *to)
{
    const phrases *w = words_for(s);
    if (scene->making_sure) {
        es_text_add(to, "Looks right: hands off while I make sure.");
        return;
    }
    if (!scene->meeting && !isnan(s->unseen_factor)) {
        say_unseen(s, scene, to);
        return;
    }
    say_side(s, scene, to);
    if (scene->meeting)
        es_text_add(to, "; hands off for some seconds, until I know how this deck wavers.");
    else if (isnan(s->move_factor))
        es_text_add(to, ": %s, then let go: I will tell %s.", w->turn, w->will_tell);
    else
        es_text_add(to, ": about %s your %s turn, %s.", es_share_words(s->move_factor), which(s),
                    way(s->move_factor));
}

/* A deck has a trimmer for each channel: what the other one wants. */
static void say_other_channel(const es_trim_snapshot *s, const es_trim_scene *scene, es_text *to)
{
    const es_pair_view *p = &s->pair;
    double off_db = p->level_dbfs[!scene->right] - p->reference_dbfs - s->target_percent;
    if (s->adjust == ES_ADJUST_LEVEL && isfinite(off_db) && fabs(off_db) > s->tolerance_percent)
        es_text_add(to, " Next the %s: %.1f dB too %s.", scene->right ? "left" : "right",
                    fabs(off_db), off_db < 0.0 ? "soft" : "loud");
}

static void say_there(const es_trim_snapshot *s, const es_trim_scene *scene, es_text *to)
{
    if (!s->final) {
        es_text_add(to,
                    "There: take the tool away and keep your hands off; the final reading takes "
                    "%.0f s.",
                    scene->hold_s);
        return;
    }
    const es_adjust_facts *f = es_adjust_facts_of(s->adjust);
    es_text_add(to, "Done: %+.*f %s, give or take %.*f %s", f->decimals, s->final_percent, f->unit,
                f->decimals, s->final_u95_percent, f->unit);
    if (!isnan(s->tape_error_percent))
        es_text_add(to, ", the tape's own %+.2f %% taken off", s->tape_error_percent);
    es_text_add(to, s->adjust == ES_ADJUST_AZIMUTH ? ". Seal the screw and read again." : ".");
    say_other_channel(s, scene, to);
}

static void say_look_first(const es_trim_snapshot *s, const es_trim_scene *scene, es_text *to)
{
    const phrases *w = words_for(s);
    const es_adjust_facts *f = es_adjust_facts_of(s->adjust);
    es_text_add(to, "Stop: ");
    if (reason_is(s, "range"))
        es_text_add(to,
                    "the %s seems to be at the end of its way; look for what makes the %s so wrong "
                    "before turning on.",
                    w->screw, w->object);
    else if (reason_is(s, "opposed"))
        es_text_add(to, "the right channel's polarity is reversed; put the wires of head and cable "
                        "right first.");
    else if (reason_is(s, "flutter"))
        es_text_add(to, "the %s wavers too much to be set to %.*f %s; %s.", w->name, f->decimals,
                    s->tolerance_percent, f->unit, w->wavers);
    else if (reason_is(s, "drift"))
        es_text_add(to, "the %s drifts by %+.*f %s a minute; %s.", w->name, f->decimals - 1,
                    scene->drift_per_min, f->unit, w->drifts);
    else
        es_text_add(to,
                    "many turns and still not there; the %s may be dirty or too coarse, so look at "
                    "it before turning on.",
                    w->screw);
}

void es_trim_say(es_trim_snapshot *s, const es_trim_scene *scene)
{
    es_text to = es_text_over(s->advice, sizeof s->advice);
    switch (s->state) {
    case ES_TRIM_LISTENING:
        say_listening(s, scene, &to);
        break;
    case ES_TRIM_UNSTEADY:
        es_text_add(&to, "The %s has not settled yet: hands off and wait.", words_for(s)->name);
        break;
    case ES_TRIM_TURNING:
        say_turning(s, scene, &to);
        break;
    case ES_TRIM_SETTLING:
        es_text_add(&to, "Hands off: reading.");
        break;
    case ES_TRIM_READING:
        say_reading(s, scene, &to);
        break;
    case ES_TRIM_THERE:
        say_there(s, scene, &to);
        break;
    case ES_TRIM_LOOK_FIRST:
        say_look_first(s, scene, &to);
        break;
    }
}
