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

static int reason_is(const es_trim_snapshot *s, const char *reason)
{
    return strcmp(s->reason, reason) == 0;
}

static void say_listening(const es_trim_snapshot *s, const es_trim_scene *scene, es_text *to)
{
    if (reason_is(s, "gone"))
        es_text_add(to, "The tone is gone: is the tape still running?");
    else if (reason_is(s, "dropout"))
        es_text_add(to, "The tone dropped out; hands off until it is back.");
    else if (reason_is(s, "two-tones"))
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
    else if (reason_is(s, "other-sound"))
        es_text_add(to, "No steady tone is heard: play the part of the tape with the test tone.");
    else if (reason_is(s, ""))
        es_text_add(to, "A tone: listening whether it is steady.");
    else
        es_text_add(to, "Nothing is heard: play the test tape, and check cable and input.");
}

static void say_turning(const es_trim_scene *scene, es_text *to)
{
    if (scene->speeding == 0)
        es_text_add(to, "The speed is moving: let go, then I will read it.");
    else
        es_text_add(to, "Getting %s: let go, then I will read it.",
                    scene->speeding > 0 ? "faster" : "slower");
}

static const char *side(const es_trim_snapshot *s)
{
    return s->error_percent < s->target_percent ? "slow" : "fast";
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
    es_text_add(to, "Still too %s, and no change seen: if you did turn, ", side(s));
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
    if (scene->meeting)
        es_text_add(to, "Too %s; hands off for some seconds, until I know how this deck wavers.",
                    side(s));
    else if (scene->making_sure)
        es_text_add(to, "Looks right: hands off while I make sure.");
    else if (!isnan(s->unseen_factor))
        say_unseen(s, scene, to);
    else if (isnan(s->move_factor))
        es_text_add(to,
                    "Too %s: turn a little either way, then let go: I will tell which way is "
                    "faster.",
                    side(s));
    else
        es_text_add(to, "Too %s: about %s your %s turn, %s.", side(s),
                    es_share_words(s->move_factor), which(s), way(s->move_factor));
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
    es_text_add(to, "Done: %+.2f %%, give or take %.2f %%", s->final_percent, s->final_u95_percent);
    if (!isnan(s->tape_error_percent))
        es_text_add(to, ", the tape's own %+.2f %% taken off", s->tape_error_percent);
    es_text_add(to, ".");
}

static void say_look_first(const es_trim_snapshot *s, const es_trim_scene *scene, es_text *to)
{
    if (reason_is(s, "range"))
        es_text_add(to,
                    "Stop: the trimmer seems to be at the end of its way; look for what makes the "
                    "deck so wrong before turning on.");
    else if (reason_is(s, "flutter"))
        es_text_add(to,
                    "Stop: the speed wavers too much to be set to %.2f %%; find what wavers first, "
                    "roller, capstan or belt.",
                    s->tolerance_percent);
    else if (reason_is(s, "drift"))
        es_text_add(to,
                    "Stop: the speed drifts by %+.1f %% a minute; let the deck warm up, and if it "
                    "still drifts, look at belt, motor and regulator.",
                    scene->drift_per_min);
    else
        es_text_add(to,
                    "Stop: many turns and still not there; the trimmer may be dirty or too coarse, "
                    "so look at it before turning on.");
}

void es_trim_say(es_trim_snapshot *s, const es_trim_scene *scene)
{
    es_text to = es_text_over(s->advice, sizeof s->advice);
    switch (s->state) {
    case ES_TRIM_LISTENING:
        say_listening(s, scene, &to);
        break;
    case ES_TRIM_UNSTEADY:
        es_text_add(&to, "The speed has not settled yet: hands off and wait.");
        break;
    case ES_TRIM_TURNING:
        say_turning(scene, &to);
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
