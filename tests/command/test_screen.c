#include "cm.h"

#include "command/big.h"
#include "command/screen.h"
#include "command/trim_text.h"

#include <math.h>
#include <string.h>

static es_trim_snapshot snapshot(es_trim_state state, double error_percent)
{
    es_trim_snapshot s = {.state = state,
                          .time_s = 65.0,
                          .error_percent = error_percent,
                          .u95_percent = isnan(error_percent) ? (double)NAN : 0.031,
                          .live_percent = 1.23,
                          .tolerance_percent = 0.1,
                          .nominal_hz = 3150.0,
                          .heard_hz = 3190.0,
                          .tape_error_percent = (double)NAN};
    strcpy(s.advice, "A third of your last turn, the other way.");
    return s;
}

static es_session_facts facts(void)
{
    es_session_facts f = {.standing.phase = ES_SESSION_RUNNING, .has_trimmer = 1};
    strcpy(f.standing.source, "rehearse:touchy-trimmer");
    return f;
}

static void compose(es_screen *out, const es_trim_snapshot *now, const es_session_facts *f,
                    int columns, int lines, int utf8)
{
    es_screen_view view = {
        .now = now, .facts = f, .remark = "", .columns = columns, .lines = lines, .utf8 = utf8};
    es_screen_compose(&view, out);
}

/* The lines below each other. */
static const char *whole(const es_screen *screen)
{
    static char room[ES_SCREEN_LINES * ES_SCREEN_ROOM];
    es_text text = es_text_over(room, sizeof room);
    for (int i = 0; i < screen->count; i++)
        es_text_add(&text, "%s\n", screen->at[i].text);
    return room;
}

static int columns_of(const char *text)
{
    int count = 0;
    for (; *text; text++)
        count += ((unsigned char)*text & 0xC0) != 0x80;
    return count;
}

static void assert_has(const es_screen *screen, const char *part)
{
    if (!strstr(whole(screen), part))
        fail_msg("no \"%s\" in\n%s", part, whole(screen));
}

static void assert_lacks(const es_screen *screen, const char *part)
{
    if (strstr(whole(screen), part))
        fail_msg("\"%s\" in\n%s", part, whole(screen));
}

static void direction_is_in_words_and_as_an_arrow(void **state)
{
    (void)state;
    es_screen screen;
    es_session_facts f = facts();
    es_trim_snapshot fast = snapshot(ES_TRIM_READING, 1.352);
    compose(&screen, &fast, &f, 80, 24, 0);
    assert_has(&screen, "^^^ fast by 1.35 %, give or take 0.031 %");
    es_trim_snapshot slow = snapshot(ES_TRIM_READING, -1.352);
    compose(&screen, &slow, &f, 80, 24, 0);
    assert_has(&screen, "vvv slow by 1.35 %");
    es_trim_snapshot there = snapshot(ES_TRIM_THERE, 0.04);
    compose(&screen, &there, &f, 80, 24, 0);
    assert_has(&screen, "=== on target: fast by 0.04 %");
    es_trim_snapshot right = snapshot(ES_TRIM_THERE, -0.001);
    compose(&screen, &right, &f, 80, 24, 0);
    assert_has(&screen, "neither fast nor slow");
    assert_lacks(&screen, "-0.00");
    compose(&screen, &slow, &f, 80, 24, 1);
    assert_has(&screen, "\xE2\x96\xBC"); /* a triangle pointing down */
}

/* A coach must not show a number that it does not stand by. */
static void shows_no_figure_where_there_is_none(void **state)
{
    (void)state;
    static const es_trim_state states[] = {ES_TRIM_LISTENING, ES_TRIM_UNSTEADY, ES_TRIM_TURNING,
                                           ES_TRIM_SETTLING, ES_TRIM_LOOK_FIRST};
    es_screen screen;
    es_session_facts f = facts();
    for (size_t i = 0; i < COUNT(states); i++) {
        es_trim_snapshot now = snapshot(states[i], (double)NAN);
        compose(&screen, &now, &f, 80, 24, 0);
        assert_lacks(&screen, "fast by");
        assert_lacks(&screen, "slow by");
        assert_lacks(&screen, "1.23");
        assert_lacks(&screen, "nan");
        assert_null(strchr(strstr(whole(&screen), " slow -"), 'O')); /* no mark on the scale */
    }
    es_trim_snapshot now = snapshot(ES_TRIM_READING, 1.352);
    f.standing.phase = ES_SESSION_WAITING; /* the session then says so by its snapshots as well */
    now.state = ES_TRIM_LISTENING;
    compose(&screen, &now, &f, 80, 24, 0);
    assert_has(&screen, "no input");
    assert_lacks(&screen, "1.35");
}

static void the_cautions_stand_before_the_first_turn(void **state)
{
    (void)state;
    es_screen screen;
    es_session_facts f = facts();
    es_trim_snapshot now = snapshot(ES_TRIM_READING, 1.352);
    compose(&screen, &now, &f, 80, 24, 0);
    for (int i = 0; es_trim_caution(i); i++)
        assert_has(&screen, es_trim_caution(i));
    now.nudge_count = 2;
    now.nudges[0] = (es_nudge){.size_percent = 0.52, .overshoot = 0.1};
    now.nudges[1] = (es_nudge){.size_percent = -0.21};
    compose(&screen, &now, &f, 80, 24, 0);
    assert_lacks(&screen, "mains");
    assert_has(&screen, "Turns so far 2: +0.52 % (went 0.05 % too far on the way), then -0.21 %");
}

/* Everything at once, at every size. */
static void fits_every_terminal(void **state)
{
    (void)state;
    es_screen screen;
    es_session_facts f = facts();
    es_trim_snapshot now = snapshot(ES_TRIM_READING, -12.3456);
    memset(now.advice, 'a', sizeof now.advice - 1);
    memset(now.note, 'b', sizeof now.note - 1);
    memset(f.standing.sentence, 'c', sizeof f.standing.sentence - 1);
    memset(f.standing.record_sentence, 'd', sizeof f.standing.record_sentence - 1);
    strcpy(f.standing.level_words, "The input is almost clipped: turn it down a little.");
    f.standing.gaps = 12;
    for (int utf8 = 0; utf8 < 2; utf8++)
        for (int columns = 20; columns <= 130; columns += 5)
            for (int lines = 1; lines <= 30; lines++) {
                compose(&screen, &now, &f, columns, lines, utf8);
                assert_true(screen.count >= 1 && screen.count <= lines);
                for (int i = 0; i < screen.count; i++)
                    assert_true(columns_of(screen.at[i].text) <= columns);
            }
}

static void the_mark_stands_within_the_zone_when_the_speed_does(void **state)
{
    (void)state;
    es_screen screen;
    es_session_facts f = facts();
    for (double off = -3.0; off <= 3.0; off += 0.0371) {
        es_trim_snapshot now = snapshot(ES_TRIM_READING, off);
        compose(&screen, &now, &f, 80, 24, 0);
        const char *scale = strstr(whole(&screen), "  slow ");
        const char *low = strchr(scale, '['), *high = strchr(scale, ']');
        const char *mark = strchr(scale, 'O');
        assert_non_null(mark);
        if (fabs(off) < 0.085)
            assert_true(mark > low && mark < high);
        if (fabs(off) > 0.12)
            assert_true(off < 0.0 ? mark < low : mark > high);
    }
}

/* Seven lines, each as wide as it says, narrower where it must. */
static void big_letters_keep_their_size(void **state)
{
    (void)state;
    static const char *const texts[] = {"+12.34", "-0.05", "LOOK", "NO INPUT", "TURNING"};
    for (size_t i = 0; i < COUNT(texts); i++)
        for (int columns = 10; columns < 100; columns += 7) {
            int wide = es_big_columns(texts[i], columns);
            assert_true(wide <= columns);
            for (int line = 0; wide > 0 && line < ES_BIG_LINES; line++) {
                char room[600];
                es_text text = es_text_over(room, sizeof room);
                es_big_line(&text, texts[i], line, columns, "#");
                assert_int_equal(text.length, wide);
            }
        }
}

static es_trim_snapshot azimuth(double error_us)
{
    es_trim_snapshot s = snapshot(ES_TRIM_READING, error_us);
    s.adjust = ES_ADJUST_AZIMUTH;
    s.u95_percent = 0.48;
    s.tolerance_percent = 5.0;
    s.nominal_hz = (double)NAN;
    s.pair = (es_pair_view){.known = 1,
                            .level_dbfs = {-10.5, -12.0},
                            .delay_us = error_us,
                            .angle_arcmin = 9.1,
                            .phase_10k_deg = 180.0,
                            .sum_db = -3.0,
                            .reference_dbfs = (double)NAN};
    return s;
}

/* 80 columns and 24 lines hold the figure, both channels, mains and head cautions, and the keys. */
static void azimuth_has_its_unit_its_channels_and_its_cautions(void **state)
{
    (void)state;
    es_screen screen;
    es_session_facts f = facts();
    es_trim_snapshot now = azimuth(50.0);
    strcpy(now.advice,
           "Right late: turn the azimuth screw a little either way, then let go: I will "
           "tell which way brings them together.");
    compose(&screen, &now, &f, 80, 24, 0);
    assert_true(screen.count <= 24);
    for (int i = 0; i < screen.count; i++)
        assert_true(columns_of(screen.at[i].text) <= 80);
    assert_has(&screen, "^^^ right late by 50.0 us, give or take 0.48 us");
    assert_has(&screen, "within 5 us of no delay");
    assert_has(&screen,
               "Head +9.1 arcmin, +180 deg at 10 kHz, mono -3.0 dB; L -10.5 dBFS, R -12.0 dBFS");
    assert_has(&screen, es_trim_caution(0));
    for (int i = 0; es_trim_head_caution(ES_ADJUST_AZIMUTH, i); i++)
        assert_has(&screen, es_trim_head_caution(ES_ADJUST_AZIMUTH, i));
    assert_null(es_trim_head_caution(ES_ADJUST_SPEED, 0));
    assert_has(&screen, "q ends");
    assert_lacks(&screen, " %");
    now = azimuth(-12.3);
    compose(&screen, &now, &f, 80, 24, 0);
    assert_has(&screen, "vvv right early by 12.3 us");
    now = azimuth(0.01);
    compose(&screen, &now, &f, 80, 24, 0);
    assert_has(&screen, "=== on target: both at once");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(direction_is_in_words_and_as_an_arrow),
        cmocka_unit_test(shows_no_figure_where_there_is_none),
        cmocka_unit_test(the_cautions_stand_before_the_first_turn),
        cmocka_unit_test(azimuth_has_its_unit_its_channels_and_its_cautions),
        cmocka_unit_test(fits_every_terminal),
        cmocka_unit_test(the_mark_stands_within_the_zone_when_the_speed_does),
        cmocka_unit_test(big_letters_keep_their_size),
    };
    return cmocka_run_group_tests_name("command/screen", tests, NULL, NULL);
}
