/* The bench of align_bench.h in cmocka's words: one at a time. */
#ifndef ES_TESTS_ALIGN_PLAY_H
#define ES_TESTS_ALIGN_PLAY_H

#include "cm.h"

#include "align_bench.h"

static align_bench bench;

static inline void begin(const es_scenario *s, es_adjust adjust, int channel, double reference_dbfs)
{
    es_trim_config c = es_trim_defaults_for(adjust, ALIGN_RATE, 2);
    c.channel = channel;
    c.reference_dbfs = reference_dbfs;
    assert_true(align_start(&bench, s, &c));
}

static inline void azimuth(const es_scenario *s)
{
    begin(s, ES_ADJUST_AZIMUTH, 0, (double)NAN);
}

static inline void says(const char *words)
{
    if (!strstr(bench.now.advice, words) && !strstr(bench.now.note, words))
        fail_msg("\"%s\" is not in: %s %s", words, bench.now.advice, bench.now.note);
}

static inline void comes(es_trim_state state, double most_s)
{
    double took = align_until(&bench, state, most_s);
    if (isnan(took))
        fail_msg("state %d did not come in %g s; now %d, %s: %s", (int)state, most_s,
                 (int)bench.now.state, bench.now.reason, bench.now.advice);
}

static inline es_scenario tone_scenario(double hz, double delay_us)
{
    es_scenario s = align_scenario(delay_us, 40.0, 5);
    s.carries = ES_CARRIES_TONE;
    s.tone_hz = hz;
    return s;
}

static inline void stays_listening(const char *reason, const char *words, double seconds)
{
    align_run(&bench, seconds);
    assert_int_equal(bench.now.state, ES_TRIM_LISTENING);
    assert_string_equal(bench.now.reason, reason);
    assert_true(isnan(bench.now.error_percent));
    says(words);
    align_stop(&bench);
}

#endif
