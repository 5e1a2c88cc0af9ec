/*
 * The coach for azimuth, level and balance: how many hands end within the tolerance, with how many nudges,
 * in what time; how soon a first figure comes, and how often its uncertainty holds.
 *
 *   hands    100 that tremble, screws of either sense with 4 degrees of play (levels 3 degrees)
 *   decks    the rehearsal deck, broadband at 20 dB SNR from 15 to 80 us off, or a tone from 2 to 6 dB off
 */
#include "align_bench.h"

#include <stdio.h>
#include <stdlib.h>

#define HANDS 100

static align_bench bench;

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double percentile(double *at, int count, double share)
{
    qsort(at, (size_t)count, sizeof *at, by_size);
    return at[(int)(share * (count - 1))];
}

/* What the deck is off by, in the quantity's unit. */
static double left_over(es_adjust adjust)
{
    es_rehearsal_truth t = es_rehearsal_truth_of(bench.deck);
    if (adjust == ES_ADJUST_AZIMUTH)
        return t.delay_us;
    return adjust == ES_ADJUST_BALANCE ? t.level_difference_db : 20.0 * log10(t.level_fs[1]) + 10.0;
}

static es_scenario deck_for(es_adjust adjust, uint64_t seed)
{
    double share = (double)seed / HANDS, sign = seed % 3 ? 1.0 : -1.0;
    es_scenario s = align_scenario(sign * (15.0 + 65.0 * share), 20.0, seed);
    if (adjust == ES_ADJUST_AZIMUTH)
        return s;
    s.azimuth_arcmin = 0.0;
    s.carries = ES_CARRIES_TONE;
    s.tone_hz = 315.0;
    s.level_dbfs = -10.0 - (adjust == ES_ADJUST_LEVEL ? sign * (2.0 + 4.0 * share) : 0.0);
    s.balance_db = adjust == ES_ADJUST_BALANCE ? sign * (2.0 + 4.0 * share) : 0.0;
    return s;
}

static int measure(es_adjust adjust)
{
    const es_adjust_facts *f = es_adjust_facts_of(adjust);
    int within = 0, done = 0, shown = 0, covered = 0;
    double nudges[HANDS], times[HANDS], firsts[HANDS];
    for (int i = 0; i < HANDS; i++) {
        es_scenario s = deck_for(adjust, (uint64_t)i + 1);
        es_trim_config c = es_trim_defaults_for(adjust, ALIGN_RATE, 2);
        c.channel = adjust == ES_ADJUST_LEVEL ? 2 : 0;
        c.reference_dbfs = adjust == ES_ADJUST_LEVEL ? -10.0 : (double)NAN;
        if (!align_start(&bench, &s, &c))
            return 0;
        firsts[i] = align_until(&bench, ES_TRIM_READING, 20.0);
        align_run(&bench, 0.5);
        shown += !isnan(bench.now.error_percent);
        covered += fabs(bench.now.error_percent - left_over(adjust)) <= bench.now.u95_percent;
        done += align_coached(&bench, 0.06, 120.0);
        within += fabs(left_over(adjust)) <= f->tolerance;
        nudges[i] = (double)bench.now.nudge_count;
        times[i] = bench.now.time_s;
        align_stop(&bench);
    }
    printf("%-8s done %d, within %g %s: %d of %d; nudges median %.0f, most %.0f; time median %.1f "
           "s, 95 %% "
           "%.1f s; first figure %.2f s, 95 %% %.2f s; covered %d of %d\n",
           f->name, done, f->tolerance, f->unit, within, HANDS, percentile(nudges, HANDS, 0.5),
           percentile(nudges, HANDS, 1.0), percentile(times, HANDS, 0.5),
           percentile(times, HANDS, 0.95), percentile(firsts, HANDS, 0.5),
           percentile(firsts, HANDS, 0.95), covered, shown);
    return within >= 95 && covered >= 0.95 * shown;
}

int main(void)
{
    int good = measure(ES_ADJUST_AZIMUTH);
    good &= measure(ES_ADJUST_LEVEL);
    good &= measure(ES_ADJUST_BALANCE);
    return good ? 0 : 1;
}
