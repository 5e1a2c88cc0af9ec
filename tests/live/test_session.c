#include "session_help.h"

#include "alloc_probe.h"
#include "evenspool/tape/rehearsal.h"

#include <pthread.h>
#include <time.h>

/* --- figures -------------------------------------------------------------------------- */

/* The truth is the rehearsal deck's own: where the deck is heading, flutter left out. */
static void reads_the_rehearsal_deck_within_its_uncertainty(void **state)
{
    (void)state;
    static const char *const names[] = {"slow-but-steady", "fast-but-steady", "touchy-trimmer"};
    for (size_t i = 0; i < COUNT(names); i++) {
        es_scenario scenario;
        es_rehearsal *deck;
        es_trim_snapshot last;
        assert_int_equal(es_scenario_find(names[i], &scenario), ES_OK);
        assert_int_equal(es_rehearsal_create(&scenario, 48000.0, &deck), ES_OK);
        char source[64];
        es_text text = es_text_over(source, sizeof source);
        es_text_add(&text, "rehearse:%s", names[i]);
        es_session_config c = config_for(source, 1);
        c.seconds = 20.0;
        es_session *s = opened(&c);
        uint64_t cursor = 0, skipped;
        while (es_session_next(s, &cursor, 30.0, &last, &skipped) > 0)
            if (last.state == ES_TRIM_READING && last.time_s > 15.0)
                break;
        assert_int_equal(last.state, ES_TRIM_READING);
        assert_true(last.u95_percent < 0.1);
        assert_near(last.error_percent, 100.0 * es_rehearsal_settled_error(deck),
                    1.5 * last.u95_percent);
        es_session_close(s);
        es_rehearsal_destroy(deck);
    }
}

static void turns_reach_the_deck_and_the_coach(void **state)
{
    (void)state;
    es_session_config c = config_for("rehearse:touchy-trimmer", 1);
    c.seconds = 20.0;
    es_session *s = opened(&c);
    es_trim_snapshot now = {0};
    uint64_t cursor = 0, skipped;
    while (now.time_s < 8.0)
        assert_int_equal(es_session_next(s, &cursor, 30.0, &now, &skipped), 1);
    double before = now.error_percent;
    assert_int_equal(es_session_turn(s, -0.5), ES_OK); /* 3 % a turn; half the play of 5 degrees */
    while (now.time_s < 15.0)
        assert_int_equal(es_session_next(s, &cursor, 30.0, &now, &skipped), 1);
    double moved = -(0.5 - 2.5 / 360.0) * 3.0;
    assert_int_equal(now.state, ES_TRIM_READING);
    assert_near(now.error_percent - before, moved, 0.05);
    assert_int_equal(now.nudge_count, 1);
    assert_near(now.nudges[0].size_percent, moved, 0.05);
    assert_near(es_session_facts_of(s).trimmer_turns, -0.5, 1e-12);
    static es_trim_session record;
    es_session_record(s, &record);
    assert_int_equal(record.nudge_count, 1);
    assert_near(record.as_found.error_percent, before, 0.05);
    assert_int_equal(es_session_turn(s, (double)NAN), ES_ERR_ARG);
    assert_int_equal(es_session_turn(s, 21.0), ES_ERR_ARG);
    es_session_close(s);
}

/* The stops hold it: 4 turns of range, half of them below, and half the play of 5 degrees. */
static void the_trimmer_stands_at_its_stop(void **state)
{
    (void)state;
    es_session_config c = config_for("rehearse:touchy-trimmer", 1);
    c.seconds = 1.0;
    es_session *s = opened(&c);
    es_trim_snapshot last;
    es_session_turn(s, 15.0);
    follow_to_end(s, &last);
    assert_near(es_session_facts_of(s).trimmer_turns, 2.0 + 2.5 / 360.0, 1e-12);
    es_session_close(s);
}

/* Runs one and the same session, turning after snapshot 100. */
static void run_once(es_trim_snapshot *kept, size_t count)
{
    es_session_config c = config_for("rehearse:touchy-trimmer", 1);
    c.seconds = 15.0;
    es_session *s = opened(&c);
    uint64_t cursor = 0, skipped;
    for (size_t i = 0; i < count; i++) {
        memset(&kept[i], 0, sizeof kept[i]);
        assert_int_equal(es_session_next(s, &cursor, 30.0, &kept[i], &skipped), 1);
        if (i == 100)
            es_session_turn(s, 0.1);
    }
    es_session_close(s);
}

static void the_same_turns_give_the_same_snapshots(void **state)
{
    (void)state;
    static es_trim_snapshot one[250], other[250];
    run_once(one, COUNT(one));
    run_once(other, COUNT(other));
    for (size_t i = 0; i < COUNT(one); i++) {
        assert_int_equal(one[i].state, other[i].state);
        assert_memory_equal(&one[i].error_percent, &other[i].error_percent, sizeof(double));
        assert_memory_equal(&one[i].live_percent, &other[i].live_percent, sizeof(double));
        assert_string_equal(one[i].advice, other[i].advice);
    }
}

/* 20 a second of the source's own time, none missing. */
static void every_snapshot_comes_in_order(void **state)
{
    (void)state;
    es_session_config c = config_for("rehearse:right-on-speed", 1);
    c.seconds = 10.0;
    es_session *s = opened(&c);
    es_trim_snapshot now;
    uint64_t cursor = 0, skipped;
    for (int i = 1; i <= 200; i++) {
        assert_int_equal(es_session_next(s, &cursor, 30.0, &now, &skipped), 1);
        assert_near(now.time_s, 0.05 * i, 1e-9);
        assert_int_equal(cursor, i);
    }
    assert_int_equal(es_session_next(s, &cursor, 30.0, &now, &skipped), -1);
    es_session_facts facts = es_session_facts_of(s);
    assert_int_equal(facts.standing.phase, ES_SESSION_ENDED);
    assert_int_equal(facts.standing.frames, 480000);
    assert_int_equal(facts.snapshots, 200);
    es_session_close(s);
}

static void an_aim_can_be_changed(void **state)
{
    (void)state;
    es_session_config c = config_for("rehearse:right-on-speed", 1);
    es_session *s = opened(&c);
    es_trim_snapshot now;
    uint64_t cursor = 0, skipped;
    es_session_next(s, &cursor, 30.0, &now, &skipped);
    assert_near(now.tolerance_percent, 0.1, 1e-12);
    assert_int_equal(es_session_aim(s, 0.5, 0.2), ES_OK);
    assert_int_equal(es_session_aim(s, 50.0, 0.2), ES_ERR_ARG);
    es_session_next(s, &cursor, 30.0, &now, &skipped);
    es_session_next(s, &cursor, 30.0, &now, &skipped);
    assert_near(now.target_percent, 0.5, 1e-12);
    assert_near(now.tolerance_percent, 0.2, 1e-12);
    es_session_close(s);
}

/* --- listeners ------------------------------------------------------------------------ */

static void a_slow_listener_is_told_how_many_it_missed(void **state)
{
    (void)state;
    es_session_config c = config_for("rehearse:right-on-speed", 1);
    c.seconds = 20.0;
    es_session *s = opened(&c);
    es_trim_snapshot now;
    uint64_t quick = 0, slow = 0, skipped, got_slow = 0, missed = 0;
    assert_int_equal(es_session_next(s, &slow, 30.0, &now, &skipped), 1);
    got_slow++;
    assert_int_equal(follow_to_end(s, &now), 400); /* the quick one misses nothing */
    while (es_session_next(s, &slow, 30.0, &now, &skipped) > 0) {
        got_slow++;
        missed += skipped;
    }
    assert_true(missed > 0);
    assert_int_equal(got_slow + missed, 400);
    /* Who comes new has missed nothing, and gets the oldest that is left. */
    assert_int_equal(es_session_next(s, &quick, 0.0, &now, &skipped), 1);
    assert_int_equal(skipped, 0);
    assert_true(now.time_s > 1.0);
    es_session_close(s);
}

typedef struct listener {
    es_session *session;
    uint64_t got, missed;
    int last;
} listener;

static void *listen(void *who)
{
    listener *l = who;
    es_trim_snapshot now;
    uint64_t cursor = 0, skipped;
    while ((l->last = es_session_next(l->session, &cursor, 60.0, &now, &skipped)) > 0) {
        l->got++;
        l->missed += skipped;
    }
    return NULL;
}

static void twenty_listeners_get_all_of_a_live_source(void **state)
{
    (void)state;
    es_session_config c = config_for("rehearse:right-on-speed", 0);
    c.seconds = 1.5;
    es_session *s = opened(&c);
    listener who[20];
    pthread_t threads[COUNT(who)];
    for (size_t i = 0; i < COUNT(who); i++) {
        who[i] = (listener){.session = s};
        assert_int_equal(pthread_create(&threads[i], NULL, listen, &who[i]), 0);
    }
    for (size_t i = 0; i < COUNT(who); i++) {
        pthread_join(threads[i], NULL);
        assert_int_equal(who[i].last, -1);
        assert_int_equal(who[i].got, 30);
        assert_int_equal(who[i].missed, 0);
    }
    es_session_close(s);
}

static double now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* Never faster than the tape: the lower bound holds on any machine. */
static void a_paced_source_keeps_time(void **state)
{
    (void)state;
    es_session_config c = config_for("rehearse:right-on-speed", 0);
    c.seconds = 0.5;
    es_trim_snapshot last;
    double begun = now_s();
    es_session *s = opened(&c);
    assert_int_equal(follow_to_end(s, &last), 10);
    assert_true(now_s() - begun >= 0.499);
    es_session_close(s);
}

/* --- life ----------------------------------------------------------------------------- */

static void closing_sets_waiting_listeners_free(void **state)
{
    (void)state;
    for (int unpaced = 0; unpaced < 2; unpaced++) {
        es_session_config c = config_for("rehearse:touchy-trimmer", unpaced);
        es_session *s = opened(&c);
        listener who = {.session = s};
        pthread_t thread;
        es_trim_snapshot now;
        uint64_t cursor = 0, skipped;
        assert_int_equal(pthread_create(&thread, NULL, listen, &who), 0);
        es_session_next(s, &cursor, 30.0, &now, &skipped);
        es_session_stop(s);
        pthread_join(thread, NULL);
        assert_int_equal(who.last, -1);
        assert_true(who.got >= 1);
        es_session_close(s);
    }
}

static void can_be_stopped_twice_and_read_afterwards(void **state)
{
    (void)state;
    es_session_config c = config_for("rehearse:touchy-trimmer", 1);
    es_session *s = opened(&c);
    es_trim_snapshot now;
    uint64_t cursor = 0, skipped;
    es_session_next(s, &cursor, 30.0, &now, &skipped);
    es_session_stop(s);
    es_session_stop(s);
    assert_int_equal(es_session_facts_of(s).standing.phase, ES_SESSION_ENDED);
    static es_trim_session record;
    es_session_record(s, &record);
    assert_true(record.duration_s >= 0.05);
    es_error error = {0};
    assert_int_equal(es_session_sound(s, 0, -20.0, "", &error), ES_ERR_ARG);
    assert_string_equal(error.code, "over");
    assert_int_equal(es_session_turn(s, 0.1), ES_OK); /* nobody is harmed */
    es_session_close(s);
    es_session_stop(NULL);
    es_session_close(NULL);
}

static void closing_at_once_is_fine(void **state)
{
    (void)state;
    for (int i = 0; i < 20; i++) {
        es_session_config c = config_for("rehearse:touchy-trimmer", i % 2);
        es_session_close(opened(&c));
    }
}

/* Let 0, 1, 2 ... allocations succeed until opening works; each failure must leave no trace. */
static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_session_config c = config_for("rehearse:right-on-speed", 1);
    es_session *s = NULL;
    es_error error;
    long n = 0;
    for (;; n++) {
        error = (es_error){0};
        alloc_probe_fail_after(n);
        es_status status = es_session_open(&c, &s, &error);
        if (status == ES_OK)
            break;
        assert_int_equal(status, ES_ERR_NOMEM);
        assert_null(s);
        assert_int_equal(alloc_probe_live(), 0);
        assert_true(n < 200);
    }
    assert_true(n > 5);
    es_session_close(s);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_the_rehearsal_deck_within_its_uncertainty),
        cmocka_unit_test(turns_reach_the_deck_and_the_coach),
        cmocka_unit_test(the_trimmer_stands_at_its_stop),
        cmocka_unit_test(the_same_turns_give_the_same_snapshots),
        cmocka_unit_test(every_snapshot_comes_in_order),
        cmocka_unit_test(an_aim_can_be_changed),
        cmocka_unit_test(a_slow_listener_is_told_how_many_it_missed),
        cmocka_unit_test(twenty_listeners_get_all_of_a_live_source),
        cmocka_unit_test(a_paced_source_keeps_time),
        cmocka_unit_test(closing_sets_waiting_listeners_free),
        cmocka_unit_test(can_be_stopped_twice_and_read_afterwards),
        cmocka_unit_test(closing_at_once_is_fine),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("live/session", tests, NULL, NULL);
}
