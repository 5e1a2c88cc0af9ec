#include "live/clock_watch_inside.h"

#include <math.h>

#define STEERED_PPM 1.0 /* beyond the lasting correction: worth a word */
#define SHORT_S 30.0

static void say_reference(es_clock_result *r)
{
    const es_clock_reference *ref = &r->reference;
    if (ref->discipline == ES_CLOCK_FREE)
        es_notes_add(
            &r->notes, "clock-free",
            "The clock of this computer is not disciplined by a time server: the figure is "
            "against an undisciplined quartz, of +-%.0f ppm (common practice, no source).",
            ref->limit_ppm);
    else if (ref->discipline == ES_CLOCK_UNKNOWN)
        es_notes_add(&r->notes, "clock-unknown",
                     "The system does not tell whether a time server disciplines its clock: the "
                     "figure is reckoned as against a quartz of +-%.0f ppm (common practice, no "
                     "source).",
                     ref->limit_ppm);
    else
        es_notes_add(
            &r->notes, "clock-disciplined",
            "The clock of this computer is disciplined by a time server; its rate is taken "
            "as right within +-%.1f ppm (common practice, no source).",
            ref->limit_ppm);
    if (ref->discipline == ES_CLOCK_DISCIPLINED &&
        fabs(ref->in_force_ppm - ref->correction_ppm) > STEERED_PPM)
        es_notes_add(&r->notes, "clock-steered",
                     "The time was being set right while measuring, by %.1f ppm of rate; measure "
                     "again in a quarter of an hour.",
                     ref->in_force_ppm - ref->correction_ppm);
}

static void say_interruptions(es_clock_result *r)
{
    if (r->figures.interruptions > 0)
        es_notes_add(
            &r->notes, "interrupted",
            "The input was interrupted %lld time%s; the figure is from the longest stretch "
            "without, %.0f s.",
            (long long)r->figures.interruptions, r->figures.interruptions == 1 ? "" : "s",
            r->figures.used_s);
    if (r->stopped)
        es_notes_add(&r->notes, "stopped", "It was ended before the time that was asked for.");
}

static void say_use(es_clock_result *r)
{
    if (!isnan(r->clock_ppm))
        es_notes_add(&r->notes, "use",
                     "Give --clock-ppm %.1f to check and trim for captures made with this input; "
                     "they then reckon with +-%.0f ppm that may be left.",
                     r->clock_ppm, ES_CLOCK_GOOD_PPM);
    else if (r->line_u95_ppm > ES_CLOCK_GOOD_PPM)
        es_notes_add(&r->notes, "measure-longer",
                     "Not sure enough for --clock-ppm, which wants +-%.0f ppm: measure longer "
                     "(--seconds), with nothing else at work.",
                     ES_CLOCK_GOOD_PPM);
    else
        es_notes_add(&r->notes, "needs-time-server",
                     "Not sure enough for --clock-ppm, which wants +-%.0f ppm: let a time server "
                     "set this computer's clock for some hours, and measure again.",
                     ES_CLOCK_GOOD_PPM);
}

void es_clock_say(es_clock_result *r)
{
    int good = r->u95_ppm <= ES_CLOCK_GOOD_PPM; /* NaN is not */
    r->clock_ppm = good ? r->figures.error_ppm : (double)NAN;
    say_use(r);
    say_interruptions(r);
    say_reference(r);
    if (!r->direct)
        es_notes_add(&r->notes, "sound-server",
                     "Unless this input is the device itself, a sound server stands between: it "
                     "may keep a clock of its own and resample, and the figure is then that "
                     "clock's. What is captured the same way has the same error.");
}
