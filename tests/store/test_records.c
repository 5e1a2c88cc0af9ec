/* Tapes, jobs, readings, plays and anchors. */
#include "place.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A deck with two epochs, for what refers to one. */
typedef struct two_epochs {
    int64_t deck, first, later;
} two_epochs;

static two_epochs add_deck(es_store *store, int n)
{
    two_epochs ids;
    es_deck_record deck = sample_deck(n);
    es_epoch_record first, later;
    assert_ok(es_store_add_deck(store, &deck, "", &ids.deck, &error));
    assert_ok(es_store_latest_epoch(store, ids.deck, &first, &error));
    ids.first = first.id;
    es_record_blank(ES_RECORD_EPOCH, &later);
    later.deck = ids.deck;
    assert_ok(es_store_start_epoch(store, &later, &ids.later, &error));
    return ids;
}

/* --- tapes ------------------------------------------------------------------------------------ */

static void keeps_a_tape_and_its_certificate(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    two_epochs ids = add_deck(store, 1);
    es_tape_record tape = sample_tape(1), kept, *all;
    tape.recorded_epoch = ids.first;
    assert_ok(es_store_add_tape(store, &tape, &tape.id, &error));
    assert_ok(es_store_show_tape(store, tape.id, &kept, &error));
    assert_same_record(ES_RECORD_TAPE, &kept, &tape);
    tape.certificate_percent = -0.25;
    tape.certificate_dof = 12.5;
    strcpy(tape.certificate_path, "bought");
    assert_ok(es_store_edit_tape(store, &tape, &error));
    assert_ok(es_store_tape_named(store, "tape 1", &kept, &error));
    assert_same_record(ES_RECORD_TAPE, &kept, &tape);
    size_t count;
    assert_ok(es_store_list_tapes(store, &all, &count, &error));
    assert_int_equal(count, 1);
    free(all);
}

static void refuses_tapes_that_cannot_be(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_tape_record tape = sample_tape(1);
    tape.recorded_epoch = 5;
    assert_refused(es_store_add_tape(store, &tape, NULL, &error), ES_ERR_INPUT, "unknown");
    tape.recorded_epoch = 0;
    assert_ok(es_store_add_tape(store, &tape, NULL, &error));
    assert_refused(es_store_add_tape(store, &tape, NULL, &error), ES_ERR_INPUT, "name-taken");
    assert_refused(es_store_tape_named(store, "tape 9", &tape, &error), ES_ERR_INPUT, "unknown");
}

static void removes_a_tape_and_leaves_its_plays(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    fill_store(store, 1);
    es_tape_record tape;
    es_play_record *plays;
    size_t count;
    assert_ok(es_store_tape_named(store, "tape 1", &tape, &error));
    assert_refused(es_store_remove_tape(store, tape.id, ES_REMOVE_UNUSED, &error), ES_ERR_INPUT,
                   "still-used");
    assert_ok(es_store_remove_tape(store, tape.id, ES_REMOVE_WITH_HISTORY, &error));
    assert_ok(es_store_list_plays(store, &plays, &count, &error));
    assert_int_equal(count, 1);
    assert_int_equal(plays[0].tape, 0);
    free(plays);
}

/* --- jobs and readings ------------------------------------------------------------------------ */

static void keeps_a_reading_byte_for_byte(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    two_epochs ids = add_deck(store, 1);
    es_reading_record reading = sample_reading(ids.deck), kept;
    char *document;
    assert_ok(es_store_add_reading(store, &reading, &reading.id, &error));
    assert_ok(es_store_show_reading(store, reading.id, &kept, &document, &error));
    reading.epoch = ids.later; /* the epoch the deck is in */
    assert_same_record(ES_RECORD_READING, &kept, &reading);
    assert_ptr_equal(kept.document, document);
    free(document);
}

static void lists_readings_without_their_documents(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    fill_store(store, 1);
    int64_t other = fill_store(store, 2);
    es_reading_record *readings;
    size_t count;
    assert_ok(es_store_list_readings(store, 0, &readings, &count, &error));
    assert_int_equal(count, 2);
    assert_null(readings[0].document);
    free(readings);
    assert_ok(es_store_list_readings(store, other, &readings, &count, &error));
    assert_int_equal(count, 1);
    assert_int_equal(readings[0].deck, other);
    int64_t job = readings[0].job;
    free(readings);
    assert_ok(es_store_list_job_readings(store, job, &readings, &count, &error));
    assert_int_equal(count, 1);
    free(readings);
}

static void keeps_a_large_result(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    two_epochs ids = add_deck(store, 1);
    size_t room = 3000000;
    char *large = malloc(room), *document;
    assert_non_null(large);
    memset(large, ' ', room);
    large[0] = '{';
    large[room - 2] = '}';
    large[room - 1] = '\0';
    es_reading_record reading = sample_reading(ids.deck), kept;
    reading.document = large;
    int64_t id;
    assert_ok(es_store_add_reading(store, &reading, &id, &error));
    assert_ok(es_store_show_reading(store, id, &kept, &document, &error));
    assert_string_equal(document, large);
    free(document);
    free(large);
}

static void refuses_a_reading_of_two_decks(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    two_epochs one = add_deck(store, 1), two = add_deck(store, 2);
    es_reading_record reading = sample_reading(one.deck);
    reading.epoch = two.first;
    assert_refused(es_store_add_reading(store, &reading, NULL, &error), ES_ERR_INPUT,
                   "contradiction");
    es_job_record job = sample_job(two.deck);
    assert_ok(es_store_add_job(store, &job, &job.id, &error));
    reading.epoch = 0;
    reading.job = job.id;
    assert_refused(es_store_add_reading(store, &reading, NULL, &error), ES_ERR_INPUT,
                   "contradiction");
    reading.job = 0;
    assert_ok(es_store_add_reading(store, &reading, &job.as_found, &error));
    assert_refused(es_store_edit_job(store, &job, &error), ES_ERR_INPUT, "contradiction");
    reading.tape = -1;
    assert_refused(es_store_add_reading(store, &reading, NULL, &error), ES_ERR_INPUT, "bad-value");
    reading.tape = 0;
    reading.document = "{not json";
    assert_refused(es_store_add_reading(store, &reading, NULL, &error), ES_ERR_INPUT, "bad-value");
}

static void keeps_a_job_with_nudges_and_remarks(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    int64_t deck = fill_store(store, 1);
    es_job_record *jobs;
    es_nudge_record *nudges;
    es_remark_record *remarks, remark;
    size_t count;
    assert_ok(es_store_list_jobs(store, deck, &jobs, &count, &error));
    assert_int_equal(count, 1);
    assert_true(jobs[0].as_found > 0 && jobs[0].as_left == jobs[0].as_found);
    es_nudge_record more = sample_nudge(3), wanted = sample_nudge(3);
    assert_ok(es_store_add_nudges(store, jobs[0].id, &more, 1, &error));
    assert_ok(es_store_list_nudges(store, jobs[0].id, &nudges, &count, &error));
    assert_int_equal(count, 3);
    wanted.id = nudges[2].id;
    wanted.job = jobs[0].id;
    wanted.place = 3;
    assert_same_record(ES_RECORD_NUDGE, &nudges[2], &wanted);
    assert_ok(es_store_remove_nudge(store, nudges[0].id, &error));
    free(nudges);
    assert_ok(es_store_list_remarks(store, jobs[0].id, &remarks, &count, &error));
    assert_int_equal(count, 1);
    remark = remarks[0];
    strcpy(remark.text, "Belt is old after all.");
    assert_ok(es_store_edit_remark(store, &remark, &error));
    assert_ok(es_store_show_remark(store, remark.id, remarks, &error));
    assert_same_record(ES_RECORD_REMARK, remarks, &remark);
    assert_ok(es_store_remove_remark(store, remark.id, &error));
    free(remarks);
    free(jobs);
}

/* A head can lean further than a speed can be wrong: -180 us, where -100 % would be a stopped tape. */
static void keeps_a_job_with_the_azimuth_in_microseconds(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    two_epochs ids = add_deck(store, 1);
    es_job_record job = sample_job(ids.deck), kept;
    es_nudge_record nudge, *nudges;
    es_reading_record reading = sample_reading(ids.deck), found;
    size_t count;
    strcpy(job.adjust, "azimuth");
    assert_ok(es_store_add_job(store, &job, &job.id, &error));
    assert_ok(es_store_show_job(store, job.id, &kept, &error));
    assert_same_record(ES_RECORD_JOB, &kept, &job);
    reading.job = job.id;
    reading.error_percent = reading.u95_percent = reading.weighted_quasi_peak_percent = (double)NAN;
    reading.error_us = -180.25;
    reading.u95_us = 0.5;
    assert_ok(es_store_add_reading(store, &reading, &reading.id, &error));
    assert_ok(es_store_show_reading(store, reading.id, &found, NULL, &error));
    assert_true(found.error_us == -180.25 && found.u95_us == 0.5 && isnan(found.error_percent));
    es_record_blank(ES_RECORD_NUDGE, &nudge);
    nudge.size_us = 181.5;
    assert_ok(es_store_add_nudges(store, job.id, &nudge, 1, &error));
    assert_ok(es_store_list_nudges(store, job.id, &nudges, &count, &error));
    assert_true(count == 1 && nudges->size_us == 181.5 && isnan(nudges->size_percent));
    free(nudges);
}

static void refuses_a_job_with_what_no_hand_adjusts(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    two_epochs ids = add_deck(store, 1);
    const char *const words[] = {"", "Azimuth", "height", "speed "};
    for (size_t i = 0; i < COUNT(words); i++) {
        es_job_record job = sample_job(ids.deck);
        strcpy(job.adjust, words[i]);
        assert_refused(es_store_add_job(store, &job, NULL, &error), ES_ERR_INPUT, "bad-value");
    }
    es_reading_record reading = sample_reading(ids.deck);
    reading.u95_db = -0.1;
    assert_refused(es_store_add_reading(store, &reading, NULL, &error), ES_ERR_INPUT, "bad-value");
}

static void adds_all_nudges_or_none(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    two_epochs ids = add_deck(store, 1);
    es_job_record job = sample_job(ids.deck);
    assert_ok(es_store_add_job(store, &job, &job.id, &error));
    es_nudge_record nudges[] = {sample_nudge(1), sample_nudge(2), sample_nudge(3)}, *kept;
    nudges[2].time_s = -1.0;
    assert_refused(es_store_add_nudges(store, job.id, nudges, 3, &error), ES_ERR_INPUT,
                   "bad-value");
    assert_refused(es_store_add_nudges(store, 99, nudges, 1, &error), ES_ERR_INPUT, "unknown");
    size_t count;
    assert_ok(es_store_list_nudges(store, job.id, &kept, &count, &error));
    assert_int_equal(count, 0);
}

static void removes_a_job_and_leaves_its_readings(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    int64_t deck = fill_store(store, 1);
    es_job_record *jobs;
    es_reading_record *readings;
    size_t count;
    assert_ok(es_store_list_jobs(store, 0, &jobs, &count, &error));
    assert_refused(es_store_remove_job(store, jobs[0].id, ES_REMOVE_UNUSED, &error), ES_ERR_INPUT,
                   "still-used");
    assert_ok(es_store_remove_job(store, jobs[0].id, ES_REMOVE_WITH_HISTORY, &error));
    free(jobs);
    assert_ok(es_store_list_readings(store, deck, &readings, &count, &error));
    assert_int_equal(count, 1);
    assert_int_equal(readings[0].job, 0);
    assert_refused(es_store_remove_reading(store, readings[0].id, ES_REMOVE_UNUSED, &error),
                   ES_ERR_INPUT, "still-used"); /* by the play */
    assert_ok(es_store_remove_reading(store, readings[0].id, ES_REMOVE_WITH_HISTORY, &error));
    free(readings);
}

/* --- plays and anchors ------------------------------------------------------------------------ */

static void keeps_a_play(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    two_epochs one = add_deck(store, 1), two = add_deck(store, 2);
    es_play_record play = sample_play(one.first, two.first), kept;
    assert_ok(es_store_add_play(store, &play, &play.id, &error));
    assert_ok(es_store_show_play(store, play.id, &kept, &error));
    assert_same_record(ES_RECORD_PLAY, &kept, &play);
    play.played_on = one.first; /* on the deck that recorded it: a check for drift */
    play.dof = (double)INFINITY;
    assert_ok(es_store_edit_play(store, &play, &error));
    assert_ok(es_store_show_play(store, play.id, &kept, &error));
    assert_same_record(ES_RECORD_PLAY, &kept, &play);
    assert_ok(es_store_remove_play(store, play.id, &error));
    assert_refused(es_store_remove_play(store, play.id, &error), ES_ERR_INPUT, "unknown");
}

static void refuses_uncertainties_that_cannot_be(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    two_epochs one = add_deck(store, 1);
    const double bad[] = {0.0, -0.1, (double)NAN, (double)INFINITY};
    for (size_t i = 0; i < COUNT(bad); i++) {
        es_play_record play = sample_play(one.first, one.later);
        play.u_percent = bad[i];
        assert_refused(es_store_add_play(store, &play, NULL, &error), ES_ERR_INPUT, "bad-value");
        es_anchor_record anchor = sample_anchor(one.first);
        anchor.u_percent = bad[i];
        assert_refused(es_store_add_anchor(store, &anchor, NULL, NULL, &error), ES_ERR_INPUT,
                       "bad-value");
    }
    es_play_record play = sample_play(one.first, 99);
    assert_refused(es_store_add_play(store, &play, NULL, &error), ES_ERR_INPUT, "unknown");
}

static void keeps_an_anchor_with_answers_and_budget(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    two_epochs one = add_deck(store, 1);
    es_anchor_record anchor = sample_anchor(one.later), kept;
    es_answer_record answers[] = {sample_answer(1), sample_answer(2)}, *kept_answers;
    es_budget_record budget[] = {sample_budget(1), sample_budget(2), sample_budget(3)};
    es_budget_record *kept_budget;
    es_anchor_parts parts = {answers, 2, budget, 3};
    size_t count;
    assert_ok(es_store_add_anchor(store, &anchor, &parts, &anchor.id, &error));
    assert_ok(es_store_show_anchor(store, anchor.id, &kept, &error));
    assert_same_record(ES_RECORD_ANCHOR, &kept, &anchor);
    assert_ok(es_store_list_answers(store, anchor.id, &kept_answers, &count, &error));
    assert_int_equal(count, 2);
    assert_true(isnan(kept_answers[0].value) && kept_answers[1].value == 44.0);
    free(kept_answers);
    assert_ok(es_store_list_budget(store, anchor.id, &kept_budget, &count, &error));
    assert_int_equal(count, 3);
    budget[2].id = kept_budget[2].id;
    budget[2].anchor = anchor.id;
    budget[2].place = 3;
    assert_same_record(ES_RECORD_BUDGET, &kept_budget[2], &budget[2]);
    free(kept_budget);
}

static void replaces_the_parts_of_an_anchor(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    two_epochs one = add_deck(store, 1);
    es_anchor_record anchor = sample_anchor(one.first), *all;
    es_answer_record answers[] = {sample_answer(1), sample_answer(2)}, *kept;
    es_anchor_parts two = {answers, 2, NULL, 0}, other = {answers + 1, 1, NULL, 0};
    size_t count;
    assert_ok(es_store_add_anchor(store, &anchor, &two, &anchor.id, &error));
    anchor.error_percent = -2.0;
    assert_ok(es_store_edit_anchor(store, &anchor, &other, &error));
    assert_ok(es_store_list_answers(store, anchor.id, &kept, &count, &error));
    assert_int_equal(count, 1);
    assert_string_equal(kept[0].key, "question_2");
    free(kept);
    assert_ok(es_store_edit_anchor(store, &anchor, NULL, &error));
    assert_ok(es_store_list_answers(store, anchor.id, &kept, &count, &error));
    assert_int_equal(count, 1);
    free(kept);
    answers[0] = answers[1]; /* one question twice */
    assert_refused(es_store_edit_anchor(store, &anchor, &two, &error), ES_ERR_INPUT,
                   "contradiction");
    assert_ok(es_store_list_anchors(store, &all, &count, &error));
    assert_int_equal(count, 1);
    free(all);
    assert_ok(es_store_remove_anchor(store, anchor.id, &error));
    assert_ok(es_store_list_answers(store, anchor.id, &kept, &count, &error));
    assert_int_equal(count, 0);
}

#define WITH(test) cmocka_unit_test_setup_teardown(test, place_setup_with_store, place_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(keeps_a_tape_and_its_certificate),
        WITH(refuses_tapes_that_cannot_be),
        WITH(removes_a_tape_and_leaves_its_plays),
        WITH(keeps_a_reading_byte_for_byte),
        WITH(lists_readings_without_their_documents),
        WITH(keeps_a_large_result),
        WITH(refuses_a_reading_of_two_decks),
        WITH(keeps_a_job_with_nudges_and_remarks),
        WITH(keeps_a_job_with_the_azimuth_in_microseconds),
        WITH(refuses_a_job_with_what_no_hand_adjusts),
        WITH(adds_all_nudges_or_none),
        WITH(removes_a_job_and_leaves_its_readings),
        WITH(keeps_a_play),
        WITH(refuses_uncertainties_that_cannot_be),
        WITH(keeps_an_anchor_with_answers_and_budget),
        WITH(replaces_the_parts_of_an_anchor),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
