#include "live/clock_watch_inside.h"

#include <math.h>
#include <sys/timex.h>
#include <time.h>

#define TRIES 10
#define LIMIT_KEPT_PPM 1.0  /* of a rate that a time server keeps: common practice, no source */
#define LIMIT_FREE_PPM 50.0 /* of a computer's quartz: common practice, no source            */
#define TICK_US 10000       /* nominal: 100 a second                                          */
#define FREQUENCY_UNIT 65536.0

static double seconds_of(clockid_t which)
{
    struct timespec now;
    clock_gettime(which, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

double es_system_clock_now_s(void *who)
{
    (void)who;
    return seconds_of(CLOCK_MONOTONIC);
}

/* Both clocks at one moment: of some tries the one that took least time. */
static void look_at_both(double *steady_s, double *raw_s)
{
    double least = (double)INFINITY;
    for (int i = 0; i < TRIES; i++) {
        double before = seconds_of(CLOCK_MONOTONIC);
        double raw = seconds_of(CLOCK_MONOTONIC_RAW);
        double after = seconds_of(CLOCK_MONOTONIC);
        if (after - before < least) {
            least = after - before;
            *steady_s = 0.5 * (before + after);
            *raw_s = raw;
        }
    }
}

/* adjtimex(2): asks only, so it needs no rights; where it is forbidden nothing is known. */
static void ask_the_system(es_clock_reference *out)
{
    struct timex kept = {.modes = 0};
    int state = adjtimex(&kept);
    if (state < 0)
        return;
    int adrift = state == TIME_ERROR || (kept.status & STA_UNSYNC);
    out->discipline = adrift ? ES_CLOCK_FREE : ES_CLOCK_DISCIPLINED;
    out->correction_ppm =
        (double)kept.freq / FREQUENCY_UNIT + 1e6 * (double)(kept.tick - TICK_US) / TICK_US;
    if (!adrift)
        out->estimated_error_s = 1e-6 * (double)kept.esterror;
}

void es_system_clock_look(void *who, es_clock_reference *out)
{
    es_system_clock *clock = who;
    double steady_s = 0.0, raw_s = 0.0;
    look_at_both(&steady_s, &raw_s);
    *out = (es_clock_reference){.limit_ppm = LIMIT_FREE_PPM,
                                .correction_ppm = (double)NAN,
                                .in_force_ppm = (double)NAN,
                                .estimated_error_s = (double)NAN};
    ask_the_system(out);
    if (clock->begun && raw_s > clock->raw_s)
        out->in_force_ppm = 1e6 * ((steady_s - clock->steady_s) / (raw_s - clock->raw_s) - 1.0);
    /* what is in force beyond the lasting correction sets the time right, and the rate wrong */
    if (out->discipline == ES_CLOCK_DISCIPLINED)
        out->limit_ppm = LIMIT_KEPT_PPM + fmax(0.0, fabs(out->in_force_ppm - out->correction_ppm));
    *clock = (es_system_clock){.begun = 1, .steady_s = steady_s, .raw_s = raw_s};
}
