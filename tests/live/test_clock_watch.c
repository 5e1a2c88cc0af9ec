/* A device with a known clock error, on a sound system that is a script, in a time that stands still. */
#include "cm.h"

#include "device/fake.h"
#include "live/clock_watch_inside.h"

#include <math.h>
#include <string.h>

static es_fake *fake;

typedef struct scene {
    es_clock_reference reference; /* what the system tells of its clock */
    int looks;
} scene;

static double now_s(void *who)
{
    (void)who;
    return es_fake_now_s(fake);
}

static void wait_for(void *who, double seconds)
{
    (void)who;
    es_fake_run(fake, seconds);
}

static void look(void *who, es_clock_reference *out)
{
    scene *s = who;
    s->looks++;
    *out = s->reference;
}

static const es_clock_reference kept = {.discipline = ES_CLOCK_DISCIPLINED,
                                        .limit_ppm = 1.0,
                                        .correction_ppm = -12.5,
                                        .in_force_ppm = -12.5,
                                        .estimated_error_s = 0.0005};
static const es_clock_reference unkept = {.discipline = ES_CLOCK_FREE,
                                          .limit_ppm = 50.0,
                                          .correction_ppm = 0.0,
                                          .in_force_ppm = 0.0,
                                          .estimated_error_s = (double)NAN};

static es_status watch(const char *script, const es_clock_reference *reference, es_clock_wish wish,
                       es_clock_result *out, es_error *error)
{
    scene s = {.reference = *reference};
    es_clock_ground ground = {.who = &s, .now_s = now_s, .wait = wait_for, .reference = look};
    if (es_fake_open(script, &ground.sound, &fake, error) != ES_OK)
        fail_msg("%s", error->text);
    es_status status = es_clock_watch_on(&ground, &wish, out, error);
    assert_int_equal(es_fake_streams(fake), 0);
    es_sound_close(ground.sound);
    if (status == ES_OK)
        assert_int_equal(s.looks, 2);
    return status;
}

static es_clock_result measured(const char *script, const es_clock_reference *reference,
                                double seconds)
{
    es_clock_result r;
    es_error error = {0};
    if (watch(script, reference, (es_clock_wish){.input = "line", .seconds = seconds}, &r,
              &error) != ES_OK)
        fail_msg("%s: %s", error.code, error.text);
    for (size_t i = 0; i < r.notes.count; i++) {
        size_t length = strlen(r.notes.at[i].text);
        assert_true(length < sizeof r.notes.at[i].text - 1);
        assert_int_equal(r.notes.at[i].text[length - 1], '.');
    }
    return r;
}

static void finds_the_error_of_a_clock(void **state)
{
    (void)state;
    static const struct {
        const char *script;
        double ppm;
    } cases[] = {{"place 2 0 48000 line\nclock 37\n", 37.0},
                 {"place 2 0 48000 line\nclock -80.5\n", -80.5},
                 {"place 1 0 48000 line\n", 0.0},
                 {"place 2 0 44100 line\nonly 44100\nclock 200\n", 200.0}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        es_clock_result r = measured(cases[i].script, &kept, 60.0);
        assert_near(r.figures.error_ppm, cases[i].ppm, r.line_u95_ppm);
        assert_true(r.line_u95_ppm < 0.5);
        assert_true(r.u95_ppm > r.line_u95_ppm && r.u95_ppm < 1.5);
        assert_near(r.clock_ppm, r.figures.error_ppm, 0.0);
        assert_true(es_notes_find(&r.notes, "use") != NULL);
        assert_true(es_notes_find(&r.notes, "clock-disciplined") != NULL);
        assert_int_equal(r.figures.interruptions, 0);
        assert_near(r.listened_s, 61.0, 0.1);
        assert_string_equal(r.input, "line");
    }
}

static void a_clock_that_nobody_keeps_is_no_reference(void **state)
{
    (void)state;
    es_clock_result r = measured("place 2 0 48000 line\nclock 37\n", &unkept, 60.0);
    assert_near(r.figures.error_ppm, 37.0, r.line_u95_ppm);
    assert_near(r.u95_ppm, 47.5, 0.5); /* 95 % of a rectangle of +-50 */
    assert_true(isnan(r.clock_ppm));
    assert_null(es_notes_find(&r.notes, "use"));
    assert_non_null(es_notes_find(&r.notes, "needs-time-server"));
    const es_note *note = es_notes_find(&r.notes, "clock-free");
    assert_non_null(strstr(note->text, "not disciplined by a time server"));
    assert_non_null(strstr(note->text, "+-50 ppm"));
}

static void says_when_the_time_was_being_set_right(void **state)
{
    (void)state;
    es_clock_reference steered = kept;
    steered.in_force_ppm = 187.5;
    steered.limit_ppm = 201.0;
    es_clock_result r = measured("place 2 0 48000 line\n", &steered, 20.0);
    assert_non_null(strstr(es_notes_find(&r.notes, "clock-steered")->text, "200.0 ppm"));
    assert_true(isnan(r.clock_ppm));
}

static void says_when_it_can_not_be_told(void **state)
{
    (void)state;
    es_clock_reference silent = unkept;
    silent.discipline = ES_CLOCK_UNKNOWN;
    es_clock_result r = measured("place 2 0 48000 line\n", &silent, 20.0);
    assert_non_null(es_notes_find(&r.notes, "clock-unknown"));
}

static void never_averages_across_an_interruption(void **state)
{
    (void)state;
    static const struct {
        const char *what;
        double least_s, most_s; /* of the stretch that counts */
    } cases[] = {{"at 20 overflow", 39.0, 41.0},
                 {"at 20 lose 24000", 37.0, 41.0}, /* half a second, without a word */
                 {"at 20 lose 2400", 39.0, 41.0},  /* 50 ms: nobody notices but the line */
                 {"at 40 unplug\nat 43 plug", 36.0, 40.0}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        char script[128] = "place 2 0 48000 line\nclock 25\n";
        strcat(script, cases[i].what);
        es_clock_result r = measured(script, &kept, 60.0);
        assert_int_equal(r.figures.interruptions, 1);
        assert_near(r.figures.error_ppm, 25.0, 0.6);
        assert_in_range((unsigned)r.figures.used_s, cases[i].least_s, cases[i].most_s);
        assert_non_null(strstr(es_notes_find(&r.notes, "interrupted")->text, "1 time;"));
    }
}

static void stalls_are_only_late(void **state)
{
    (void)state;
    es_clock_result r =
        measured("place 2 0 48000 line\nclock 25\nat 20 stall 0.2\nat 30 stall 0.7\n", &kept, 60.0);
    assert_int_equal(r.figures.interruptions, 0);
    assert_near(r.figures.error_ppm, 25.0, r.line_u95_ppm);
}

static void refused(const char *script, const char *input, double seconds, es_status status,
                    const char *code)
{
    es_clock_result r;
    es_error error = {0};
    assert_int_equal(
        watch(script, &kept, (es_clock_wish){.input = input, .seconds = seconds}, &r, &error),
        status);
    assert_string_equal(error.code, code);
    assert_int_equal(error.text[strlen(error.text) - 1], '.');
    assert_true(isnan(r.u95_ppm) && isnan(r.clock_ppm));
}

static void says_why_it_can_not(void **state)
{
    (void)state;
    const char *line = "place 2 0 48000 line\n";
    refused(line, "gramophone", 10.0, ES_ERR_DEVICE, "no-such-device");
    refused("place 0 2 48000 line\n", "", 10.0, ES_ERR_DEVICE, "no-input");
    refused(line, "line", 2.0, ES_ERR_ARG, "seconds");
    refused(line, "line", (double)NAN, ES_ERR_ARG, "seconds");
    refused("place 2 0 48000 line\nat 5 unplug\n", "line", 60.0, ES_ERR_DEVICE, "device-gone");
    refused("place 2 0 48000 line\nat 2 overflow\nat 3 overflow\nat 4 overflow\n", "line", 4.0,
            ES_ERR_DEVICE, "too-little");
}

static int stop_at_ten(void *who)
{
    (void)who;
    return es_fake_now_s(fake) >= 10.0;
}

static void note_share(void *who, double done_s, double share)
{
    (void)done_s;
    *(double *)who = share;
}

static void ends_when_asked_with_what_there_is(void **state)
{
    (void)state;
    double share = 0.0;
    es_clock_wish wish = {
        .input = "", .seconds = 99.0, .who = &share, .stop = stop_at_ten, .progress = note_share};
    es_clock_result r;
    assert_int_equal(watch("place 2 0 48000 line\nclock 25\n", &kept, wish, &r, NULL), ES_OK);
    assert_near(r.figures.error_ppm, 25.0, r.line_u95_ppm);
    assert_near(r.listened_s, 10.0, 0.1);
    assert_near(share, 0.1, 0.001);
    assert_non_null(es_notes_find(&r.notes, "stopped"));
}

/* The computer that this runs on: whatever its clock is, what is told of it has to make sense. */
static void asks_the_system(void **state)
{
    (void)state;
    es_system_clock clock = {0};
    es_clock_reference first, second;
    es_system_clock_look(&clock, &first);
    assert_true(isnan(first.in_force_ppm));
    double until = es_system_clock_now_s(NULL) + 0.2;
    while (es_system_clock_now_s(NULL) < until)
        ;
    es_system_clock_look(&clock, &second);
    assert_int_equal(first.discipline, second.discipline);
    assert_true(fabs(second.in_force_ppm) < 1000.0); /* 500 is the most that is applied */
    assert_true(second.limit_ppm >= 1.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_the_error_of_a_clock),
        cmocka_unit_test(a_clock_that_nobody_keeps_is_no_reference),
        cmocka_unit_test(says_when_the_time_was_being_set_right),
        cmocka_unit_test(says_when_it_can_not_be_told),
        cmocka_unit_test(never_averages_across_an_interruption),
        cmocka_unit_test(stalls_are_only_late),
        cmocka_unit_test(says_why_it_can_not),
        cmocka_unit_test(ends_when_asked_with_what_there_is),
        cmocka_unit_test(asks_the_system),
    };
    return cmocka_run_group_tests_name("live/clock_watch", tests, NULL, NULL);
}
