/* Live sessions on the sound system of the tests (device/fake.h), with faults at their appointed
 * time. The time is the script's, not the clock's. */
#include "session_help.h"

#include "device/fake.h"
#include "live/session_inside.h"

/* The worker lets the script's time go by, as far as the test allows. */
#define HEARD_MOST 480000

typedef struct stage {
    const char *script;
    es_fake *fake;
    pthread_mutex_t lock;
    pthread_cond_t change;
    double now_s, until_s;
    int released; /* 1: time goes by without bounds */
    size_t heard; /* samples that the output played  */
    float sound[HEARD_MOST];
} stage;

static void hear(void *who, const float *frames, size_t count, int channels)
{
    stage *t = who;
    for (size_t i = 0; i < count && t->heard < HEARD_MOST; i++)
        t->sound[t->heard++] = frames[i * (size_t)channels];
}

static es_status borrow(void *who, es_sound **out, es_error *error)
{
    stage *t = who;
    es_status status = es_fake_open(t->script, out, &t->fake, error);
    if (status != ES_OK)
        return status;
    es_fake_hear(t->fake, hear, t);
    es_fake_run(t->fake, 0.001); /* what is to happen at 0 has happened */
    return ES_OK;
}

static void give_back(void *who, es_sound *sound)
{
    (void)who;
    es_sound_close(sound);
}

static void wait_a_little(void *who, double seconds)
{
    stage *t = who;
    pthread_mutex_lock(&t->lock);
    t->now_s = es_fake_now_s(t->fake);
    pthread_cond_broadcast(&t->change);
    while (t->now_s >= t->until_s && !t->released)
        pthread_cond_wait(&t->change, &t->lock);
    pthread_mutex_unlock(&t->lock);
    es_fake_run(t->fake, seconds);
}

/* The same without waiting for it: the worker is free meanwhile. */
static void let_time_run(stage *t, double seconds)
{
    pthread_mutex_lock(&t->lock);
    t->until_s = seconds;
    pthread_cond_broadcast(&t->change);
    pthread_mutex_unlock(&t->lock);
}

/* Returns when the script's time has come to that, and all until then has been worked on. */
static void let_go_until(stage *t, double seconds)
{
    pthread_mutex_lock(&t->lock);
    t->until_s = seconds;
    pthread_cond_broadcast(&t->change);
    while (t->now_s < t->until_s)
        pthread_cond_wait(&t->change, &t->lock);
    pthread_mutex_unlock(&t->lock);
}

static es_status open_on(stage *t, const char *script, const char *source, const char *record,
                         es_session **out, es_error *error)
{
    memset(t, 0, sizeof *t);
    t->script = script;
    pthread_mutex_init(&t->lock, NULL);
    pthread_cond_init(&t->change, NULL);
    es_session_ground ground = {
        .who = t, .borrow = borrow, .give_back = give_back, .wait = wait_a_little};
    es_session_config c = config_for(source, 0);
    es_text path = es_text_over(c.record_path, sizeof c.record_path);
    es_text_add(&path, "%s", record);
    c.record_replace = 1;
    return es_session_open_on(&ground, &c, out, error);
}

static es_session *on_stage(stage *t, const char *script)
{
    es_session *s;
    es_error error = {0};
    if (open_on(t, script, "device:line", "", &s, &error) != ES_OK)
        fail_msg("%s", error.text);
    return s;
}

static void close_on(stage *t, es_session *s)
{
    pthread_mutex_lock(&t->lock);
    t->released = 1;
    pthread_cond_broadcast(&t->change);
    pthread_mutex_unlock(&t->lock);
    es_session_close(s);
    pthread_mutex_destroy(&t->lock);
    pthread_cond_destroy(&t->change);
}

/* The newest that there is; all that came must be in order of time. */
static es_trim_snapshot newest(es_session *s, uint64_t *cursor)
{
    es_trim_snapshot now = {.time_s = -1.0};
    uint64_t skipped;
    for (double before = -1.0; es_session_next(s, cursor, 0.0, &now, &skipped) > 0;) {
        assert_true(now.time_s > before);
        before = now.time_s;
    }
    return now;
}

#define LINE "place 2 0 48000 Line in\ntone 3162.6 0.5\n" /* 0.4 % fast */

static void hears_the_device_by_a_part_of_its_name(void **state)
{
    (void)state;
    static stage t;
    es_session *s = on_stage(&t, LINE);
    uint64_t cursor = 0;
    let_go_until(&t, 6.0);
    es_trim_snapshot now = newest(s, &cursor);
    assert_int_equal(now.state, ES_TRIM_READING);
    assert_near(now.error_percent, 0.4, 0.002);
    es_session_facts facts = es_session_facts_of(s);
    assert_int_equal(facts.standing.phase, ES_SESSION_RUNNING);
    assert_string_equal(facts.standing.device, "Line in");
    assert_int_equal(facts.standing.channels, 2);
    assert_near(facts.standing.rate_hz, 48000.0, 0.0);
    assert_int_equal(facts.standing.gaps, 0);
    assert_int_equal(facts.has_trimmer, 0);
    assert_true(facts.standing.frames >= 280000);
    assert_int_equal(es_session_turn(s, 0.1), ES_ERR_ARG);
    close_on(&t, s);
}

static void lost_input_is_counted_and_shown(void **state)
{
    (void)state;
    static stage t;
    es_session *s = on_stage(&t, LINE "at 5 overflow\nat 7 lose 24000\n");
    uint64_t cursor = 0;
    let_go_until(&t, 4.9);
    assert_int_equal(es_session_facts_of(s).standing.gaps, 0);
    let_go_until(&t, 5.5);
    assert_int_equal(es_session_facts_of(s).standing.gaps, 1);
    newest(s, &cursor);
    let_go_until(&t, 10.0); /* found 0.5 to 1.5 s after sound flows again: device/pace.h */
    es_session_facts facts = es_session_facts_of(s);
    assert_int_equal(facts.standing.gaps, 2);
    assert_near((double)facts.standing.lost_frames, 24000.0, 1000.0);
    let_go_until(&t, 14.0);
    es_trim_snapshot now = newest(s, &cursor);
    assert_int_equal(now.overruns, 2);
    assert_int_equal(now.state, ES_TRIM_READING);
    assert_near(now.error_percent, 0.4, 0.002);
    close_on(&t, s);
}

static void a_device_that_vanishes_is_told_and_waited_for(void **state)
{
    (void)state;
    static const char *const ways[] = {LINE "at 6 unplug\nat 12 plug\n",
                                       LINE "at 6 silent\nat 12 plug\n"};
    for (size_t i = 0; i < COUNT(ways); i++) {
        static stage t;
        es_session *s = on_stage(&t, ways[i]);
        uint64_t cursor = 0;
        let_go_until(&t, 5.9);
        assert_int_equal(newest(s, &cursor).state, ES_TRIM_READING);
        let_go_until(&t, 8.0); /* within two seconds */
        es_session_facts facts = es_session_facts_of(s);
        assert_int_equal(facts.standing.phase, ES_SESSION_WAITING);
        assert_non_null(strstr(facts.standing.sentence, "\"Line in\" is gone"));
        es_trim_snapshot now = newest(s, &cursor);
        assert_int_equal(now.state, ES_TRIM_LISTENING);
        assert_true(isnan(now.error_percent) && isnan(now.live_percent));
        assert_string_equal(now.reason, "no-input");
        let_go_until(&t, 20.0);
        facts = es_session_facts_of(s);
        assert_int_equal(facts.standing.phase, ES_SESSION_RUNNING);
        assert_string_equal(facts.standing.sentence, "");
        assert_true(facts.standing.gaps >= 1);
        now = newest(s, &cursor);
        assert_int_equal(now.state, ES_TRIM_READING);
        assert_near(now.error_percent, 0.4, 0.002);
        close_on(&t, s);
    }
}

/* Rising crossings of zero in the last second, and the largest sample in it. */
static int crossings(const stage *t, float *peak)
{
    int count = 0;
    *peak = 0.0f;
    for (size_t i = t->heard - 48000; i < t->heard; i++) {
        count += t->sound[i - 1] < 0.0f && t->sound[i] >= 0.0f;
        *peak = fmaxf(*peak, fabsf(t->sound[i]));
    }
    return count;
}

/* A true deck would give 3150 Hz from a tape without a certificate. */
static void gives_the_ear_the_reference_tone(void **state)
{
    (void)state;
    static stage t;
    float peak;
    es_error error = {0};
    es_session *s = on_stage(&t, LINE "place 0 2 48000 Phones\n");
    let_go_until(&t, 5.0);
    let_time_run(&t, 8.0);
    assert_int_equal(es_session_sound(s, 1, -20.0, "phones", &error), ES_OK);
    es_session_facts facts = es_session_facts_of(s);
    assert_int_equal(facts.sound, 1);
    assert_string_equal(facts.output, "Phones");
    let_go_until(&t, 8.0);
    assert_near(crossings(&t, &peak), 3150, 2);
    assert_near((double)peak, 0.1, 0.005); /* -20 dB */
    let_time_run(&t, 10.0);
    assert_int_equal(es_session_sound(s, 0, -20.0, "", &error), ES_OK);
    assert_int_equal(es_session_facts_of(s).sound, 0);
    let_go_until(&t, 10.0);
    close_on(&t, s);
}

static void a_sound_beside_a_rehearsal_comes_and_goes(void **state)
{
    (void)state;
    static stage t;
    es_session *s;
    es_error error = {0};
    memset(&t, 0, sizeof t);
    t.script = "place 0 2 48000 Phones\n";
    es_session_ground ground = {.who = &t, .borrow = borrow, .give_back = give_back};
    es_session_config c = config_for("rehearse:right-on-speed", 0);
    assert_int_equal(es_session_open_on(&ground, &c, &s, &error), ES_OK);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(es_session_sound(s, 1 + i, -20.0, "", &error), ES_OK);
        assert_string_equal(es_session_facts_of(s).output, "Phones");
        assert_int_equal(es_session_sound(s, 0, -20.0, "", &error), ES_OK);
        assert_string_equal(es_session_facts_of(s).output, "");
    }
    es_session_close(s);
}

static void goes_on_without_an_output(void **state)
{
    (void)state;
    static stage t;
    es_error error = {0};
    es_session *s = on_stage(&t, LINE);
    let_time_run(&t, 3.0);
    assert_int_equal(es_session_sound(s, 3, -20.0, "", &error), ES_ERR_DEVICE);
    assert_string_equal(error.code, "no-output");
    assert_int_equal(es_session_sound(s, 9, -20.0, "", NULL), ES_ERR_ARG);
    assert_int_equal(es_session_sound(s, 1, 3.0, "", NULL), ES_ERR_ARG);
    let_go_until(&t, 6.0);
    assert_int_equal(es_session_facts_of(s).sound, 0);
    uint64_t cursor = 0;
    assert_int_equal(newest(s, &cursor).state, ES_TRIM_READING);
    close_on(&t, s);
}

static void can_be_stopped_while_the_device_is_gone(void **state)
{
    (void)state;
    static stage t;
    es_session *s = on_stage(&t, LINE "at 1 unplug\n");
    let_go_until(&t, 4.0);
    assert_int_equal(es_session_facts_of(s).standing.phase, ES_SESSION_WAITING);
    close_on(&t, s);
}

static void the_level_is_told_in_words(void **state)
{
    (void)state;
    static const struct {
        const char *script, *words;
    } cases[] = {
        {"place 2 0 48000 Line in\ntone 3150 1.0\n", "The input is clipped: turn it down."},
        {"place 2 0 48000 Line in\ntone 3150 0.95\n", "The input is almost clipped: turn it down a "
                                                      "little."},
        {"place 1 0 48000 Line in\ntone 3150 0.5\n", ""},
        {"place 1 0 48000 Line in\ntone 3150 0.01\n", "The input is very quiet: turn it up."},
        {"place 1 0 48000 Line in\ntone 3150 0\n",
         "Nothing is heard: check the cable, and that the tape plays."}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        static stage t;
        es_session *s = on_stage(&t, cases[i].script);
        let_go_until(&t, 3.0);
        const char *words = es_session_facts_of(s).standing.level_words;
        char kept[80];
        es_text text = es_text_over(kept, sizeof kept);
        es_text_add(&text, "%s", words);
        close_on(&t, s);
        assert_string_equal(kept, cases[i].words);
    }
}

static void says_why_a_device_cannot_be_opened(void **state)
{
    (void)state;
    static const struct {
        const char *script, *source, *code;
    } cases[] = {{"place 0 2 48000 Speakers\n", "device:", "no-input"},
                 {LINE, "device:microphone", "no-such-device"},
                 {LINE "place 2 0 48000 Line two\n", "device:line", "several-devices"},
                 {LINE "at 0 busy\n", "device:line", "device-busy"},
                 {LINE "at 0 unplug\n", "device:line", "device-gone"}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        static stage t;
        es_session *s;
        es_error error = {0};
        es_status status = open_on(&t, cases[i].script, cases[i].source, "", &s, &error);
        if (strcmp(error.code, cases[i].code) != 0)
            fail_msg("%s: %s (%s)", cases[i].source, error.code, error.text);
        assert_int_equal(status, ES_ERR_DEVICE);
        assert_null(s);
        assert_true(error.text[0]);
    }
}

static void a_device_cannot_be_hurried(void **state)
{
    (void)state;
    es_session *s;
    es_error error = {0};
    es_session_config c = config_for("device:", 1);
    assert_int_equal(es_session_open(&c, &s, &error), ES_ERR_ARG);
    assert_string_equal(error.code, "unpaced");
    assert_null(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hears_the_device_by_a_part_of_its_name),
        cmocka_unit_test(lost_input_is_counted_and_shown),
        cmocka_unit_test(a_device_that_vanishes_is_told_and_waited_for),
        cmocka_unit_test(gives_the_ear_the_reference_tone),
        cmocka_unit_test(a_sound_beside_a_rehearsal_comes_and_goes),
        cmocka_unit_test(goes_on_without_an_output),
        cmocka_unit_test(can_be_stopped_while_the_device_is_gone),
        cmocka_unit_test(the_level_is_told_in_words),
        cmocka_unit_test(says_why_a_device_cannot_be_opened),
        cmocka_unit_test(a_device_cannot_be_hurried),
    };
    return cmocka_run_group_tests_name("live/session_device", tests, NULL, NULL);
}
