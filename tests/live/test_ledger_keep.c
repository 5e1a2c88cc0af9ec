/* The ledger: readings and jobs, the file itself, and what happens when memory is short. */
#include "ledger_help.h"

#include "live/ledger_jobs.h"

#include <stdlib.h>

#include "alloc_probe.h"

/* --- readings and jobs ---------------------------------------------------------------------------- */

static void a_reading_is_kept_with_the_captures_hash(void **state)
{
    const test_place *place = *state;
    es_ledger *l = open_ledger(place, ES_LEDGER_CREATE);
    char document[] = "{\"schema\": \"evenspool.check/1\",  \"x\": 1}", *kept;
    const char *capture = in_folder(place, "capture.wav");
    int64_t id;
    es_history *h;
    write_bytes(capture, "abc", 3);
    add_deck(l, "A");
    es_reading_entry entry = {.deck = "A",
                              .schema = "evenspool.check/1",
                              .document = document,
                              .capture = capture,
                              .error_percent = -0.65,
                              .u95_percent = 0.02,
                              .weighted_quasi_peak_percent = (double)NAN};
    assert_ok(es_ledger_keep_reading(l, &entry, &id, &error));
    assert_ok(es_ledger_document(l, id, &kept, &error));
    assert_string_equal(kept, document);
    free(kept);
    assert_ok(es_ledger_history(l, "A", &h, &error));
    assert_int_equal(h->reading_count, 1);
    /* FIPS 180-2, B.1 */
    assert_string_equal(h->readings->capture_sha256,
                        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    es_history_destroy(h);
    entry.capture = "-";
    assert_ok(es_ledger_keep_reading(l, &entry, NULL, &error));
    entry.capture = in_folder(place, "nothing.wav");
    assert_refused(es_ledger_keep_reading(l, &entry, NULL, &error), ES_ERR_IO, "no-permission");
    entry.capture = NULL;
    entry.document = "no json";
    assert_refused(es_ledger_keep_reading(l, &entry, NULL, &error), ES_ERR_INPUT, "bad-value");
    es_ledger_close(l);
}

static es_trim_session turned_session(void)
{
    es_trim_session s;
    memset(&s, 0, sizeof s);
    s.as_found = (es_trim_reading){4.0, -0.84, 0.05, 2.0};
    s.as_left = (es_trim_reading){60.0, 0.01, 0.03, 4.0};
    s.nudge_count = 2;
    s.nudges[0] = (es_nudge){.time_s = 10.0, .size_percent = 1.0, .overshoot = 0.1};
    s.nudges[1] = (es_nudge){.time_s = 20.0, .size_percent = -0.15};
    return s;
}

static void a_job_begins_an_epoch_when_something_was_turned(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_trim_session session = turned_session();
    es_job_entry entry = {.deck = "A",
                          .opened_at = "2026-01-10T10:00:00Z",
                          .closed_at = "2026-01-10T10:05:00Z",
                          .session = &session,
                          .found_schema = "evenspool.reading/1",
                          .found_document = "{\"a\":1}",
                          .left_schema = "evenspool.session/1",
                          .left_document = "{\"a\":2}"};
    es_history *h;
    add_deck(l, "A");
    assert_ok(es_ledger_keep_job(l, &entry, NULL, &error));
    assert_ok(es_ledger_history(l, "A", &h, &error));
    assert_int_equal(h->epoch_count, 2);
    assert_string_equal(h->epochs[1].why, "trimmed with the coach, 2 turns");
    assert_string_equal(h->epochs[1].began, "2026-01-10T10:05:00Z");
    assert_int_equal(h->job_count, 1);
    assert_int_equal(h->nudge_count, 2);
    assert_near(h->nudges[1].size_percent, -0.15, 0.0);
    assert_int_equal(h->reading_count, 2);
    assert_int_equal(h->jobs->as_found, h->readings[0].id);
    assert_int_equal(h->jobs->as_left, h->readings[1].id);
    assert_int_equal(h->readings[0].epoch, h->epochs[0].id); /* the deck as it came */
    assert_int_equal(h->readings[1].epoch, h->epochs[1].id); /* the deck as it goes */
    assert_near(h->readings[0].error_percent, -0.84, 0.0);
    es_history_destroy(h);
    es_ledger_close(l);
}

static void a_job_without_turns_leaves_the_epoch(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_trim_session session = turned_session();
    double unknown = (double)NAN;
    session.nudge_count = 0;
    session.as_found = (es_trim_reading){unknown, unknown, unknown, unknown};
    es_job_entry entry = {.deck = "A",
                          .session = &session,
                          .left_schema = "evenspool.session/1",
                          .left_document = "{\"a\":2}"};
    es_history *h;
    add_deck(l, "A");
    assert_ok(es_ledger_keep_job(l, &entry, NULL, &error));
    assert_ok(es_ledger_history(l, "A", &h, &error));
    assert_int_equal(h->epoch_count, 1);
    assert_int_equal(h->reading_count, 1);
    assert_int_equal(h->jobs->as_left, h->readings->id);
    assert_int_equal(h->jobs->as_found, h->jobs->as_left); /* nothing lies between */
    es_history_destroy(h);
    entry.left_document = "rubbish"; /* then nothing of it is kept */
    assert_refused(es_ledger_keep_job(l, &entry, NULL, &error), ES_ERR_INPUT, "bad-value");
    assert_ok(es_ledger_history(l, "A", &h, &error));
    assert_int_equal(h->job_count, 1);
    es_history_destroy(h);
    es_ledger_close(l);
}

/* Each quantity's figures in its own unit and in no other; the deck's speed is as well known as before. */
static void a_job_with_another_screw_leaves_the_epoch_and_the_speed(void **state)
{
    const struct {
        es_adjust adjust;
        const char *name;
    } cases[] = {
        {ES_ADJUST_AZIMUTH, "azimuth"}, {ES_ADJUST_LEVEL, "level"}, {ES_ADJUST_BALANCE, "balance"}};
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    add_anchor_on(l, "A", "tape-length", 0.40, 0.08, "2026-01-02");
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        es_trim_session session = turned_session();
        es_told_job *jobs;
        es_history *h;
        size_t count;
        session.adjust = cases[i].adjust;
        session.as_found.error_percent = -180.0; /* as no speed can be */
        es_job_entry entry = {.deck = "A",
                              .session = &session,
                              .found_schema = "evenspool.align-reading/1",
                              .found_document = "{\"a\":1}",
                              .left_schema = "evenspool.align-session/1",
                              .left_document = "{\"a\":2}"};
        assert_ok(es_ledger_keep_job(l, &entry, NULL, &error));
        assert_ok(es_ledger_history(l, "A", &h, &error));
        assert_int_equal(h->epoch_count, 1);
        assert_int_equal(h->job_count, i + 1);
        assert_string_equal(h->jobs[i].adjust, cases[i].name);
        es_reading_record *found = &h->readings[2 * i], *left = &h->readings[2 * i + 1];
        es_nudge_record *nudge = &h->nudges[2 * i];
        assert_int_equal(h->jobs[i].as_found, found->id);
        assert_int_equal(h->jobs[i].as_left, left->id);
        assert_true(isnan(found->error_percent) && isnan(found->u95_percent));
        assert_true(isnan(left->error_percent) && isnan(nudge->size_percent));
        int us = cases[i].adjust == ES_ADJUST_AZIMUTH;
        assert_near(us ? found->error_us : found->error_db, -180.0, 0.0);
        assert_near(us ? found->u95_us : found->u95_db, 0.05, 0.0);
        assert_near(us ? left->error_us : left->error_db, 0.01, 0.0);
        assert_near(us ? nudge->size_us : nudge->size_db, 1.0, 0.0);
        assert_true(isnan(us ? found->error_db : found->error_us));
        assert_true(isnan(us ? nudge->size_db : nudge->size_us));
        es_history_destroy(h);
        assert_ok(es_ledger_jobs(l, &jobs, &count, &error));
        assert_near(jobs[i].found, -180.0, 0.0);
        assert_near(jobs[i].left, 0.01, 0.0);
        assert_near(jobs[i].left_u95, 0.03, 0.0);
        free(jobs);
    }
    es_trust_result *trust = solve_for(l, "A");
    assert_int_equal(trust->deck_count, 1); /* one stretch of its life, still tied */
    assert_near(trust->decks->error_percent, 0.40, 1e-9);
    es_trust_result_destroy(trust);
    es_ledger_close(l);
}

/* --- the file --------------------------------------------------------------------------------------- */

static void there_are_no_records_until_they_are_begun(void **state)
{
    const test_place *place = *state;
    es_ledger *l;
    assert_refused(es_ledger_open(place->path, ES_LEDGER_READ, &l, &error), ES_ERR_IO,
                   "no-records");
    assert_refused(es_ledger_open(place->path, ES_LEDGER_WRITE, &l, &error), ES_ERR_IO,
                   "no-records");
    assert_null(l);
    assert_int_equal(folder_entries(place->folder), 0);
    es_ledger_close(open_ledger(place, ES_LEDGER_CREATE));
    es_ledger_close(open_ledger(place, ES_LEDGER_READ));
}

static void what_is_opened_for_reading_stays_as_it_is(void **state)
{
    const test_place *place = *state;
    es_ledger *l = open_ledger(place, ES_LEDGER_CREATE);
    es_tape_record tape;
    add_deck(l, "A");
    home_made(l, "T1", "A", "2026-01-01");
    es_ledger_close(l);
    size_t size;
    unsigned char *before = file_bytes(place->path, &size);
    l = open_ledger(place, ES_LEDGER_READ);
    assert_ok(es_ledger_tape(l, "T1", &tape, &error));
    assert_refused(es_ledger_remove_deck(l, "A", 1, &error), ES_ERR_IO, "read-only");
    assert_refused(es_ledger_add_tape(l, &tape, NULL, &error), ES_ERR_IO, "read-only");
    es_ledger_close(l);
    assert_true(file_is(place->path, before, size));
    free(before);
}

/* --- memory ----------------------------------------------------------------------------------------- */

static es_status try_solve(es_ledger *l, es_error *error)
{
    es_trust_asked asked = es_trust_asked_defaults();
    es_trust_result *result;
    asked.deck = "B";
    es_status status = es_ledger_solve(l, &asked, &result, error);
    es_trust_result_destroy(result);
    return status;
}

static es_status try_history(es_ledger *l, es_error *error)
{
    es_history *history;
    es_status status = es_ledger_history(l, "A", &history, error);
    es_history_destroy(history);
    return status;
}

static es_status try_tapes(es_ledger *l, es_error *error)
{
    es_tape_record *tapes;
    size_t count;
    es_status status = es_ledger_tapes(l, &tapes, &count, error);
    free(tapes);
    return status;
}

static es_status try_adjusted(es_ledger *l, es_error *error)
{
    return es_ledger_adjusted(l, "A", "2026-01-11", "", error);
}

/* Every allocation of ours refused in turn: said as such, nothing leaks. Returns how many there are. */
static long sweep(es_ledger *l, es_status (*work)(es_ledger *, es_error *))
{
    for (long n = 0;; n++) {
        es_error error = {0};
        alloc_probe_fail_after(n);
        es_status status = work(l, &error);
        long left = alloc_probe_live();
        alloc_probe_reset();
        assert_int_equal(left, 0);
        if (status == ES_OK)
            return n;
        assert_int_equal(status, ES_ERR_NOMEM);
    }
}

static void says_when_memory_is_short(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_history *h;
    add_deck(l, "A");
    add_deck(l, "B");
    add_play(l, "A", "B", 0.1, 0.01);
    add_anchor_on(l, "A", "tape-length", 0.40, 0.08, "2026-01-10");
    home_made(l, "T1", "A", "2026-01-12");
    assert_true(sweep(l, try_solve) > 20);
    assert_true(sweep(l, try_history) > 5);
    assert_true(sweep(l, try_tapes) > 10);
    assert_true(sweep(l, try_adjusted) > 2);
    assert_ok(es_ledger_history(l, "A", &h, &error));
    assert_int_equal(h->epoch_count, 2); /* what failed half way was taken back each time */
    es_history_destroy(h);
    es_ledger_close(l);
}

#define PLACE(test) cmocka_unit_test_setup_teardown(test, place_setup, place_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE(a_reading_is_kept_with_the_captures_hash),
        PLACE(a_job_begins_an_epoch_when_something_was_turned),
        PLACE(a_job_without_turns_leaves_the_epoch),
        PLACE(a_job_with_another_screw_leaves_the_epoch_and_the_speed),
        PLACE(there_are_no_records_until_they_are_begun),
        PLACE(what_is_opened_for_reading_stays_as_it_is),
        PLACE(says_when_memory_is_short),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
