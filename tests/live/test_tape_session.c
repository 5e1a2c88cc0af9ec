/* A test tape read while it plays: from a source with faults at their appointed time, from a file, and
 * from the sound system of the tests (device/fake.h). What is right is the programme's own plan: its
 * levels, times and names (docs/programmes.md). */
#include "session_help.h"

#include "alloc_probe.h"
#include "device/fake.h"
#include "evenspool/task/programme_sound.h"
#include "live/tape_session_inside.h"
#include "live/tape_write.h"
#include "near.h"
#include "wave/reader.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#define RATE 48000
#define NEVER INT64_MAX

/* Bodies: speed 3.608 .. 12.608 s, level 15.616 .. 17.616, azimuth 20.624 .. 23.624, silence 26.632 ..
 * 29.632, end marker 30.032 .. 32.240, over at 32.640: markers 2.208 s, gaps 0.4 s. */
static es_programme programme = {
    .name = "tiny",
    .transport = "cassette",
    .equalisation = "120",
    .reference_nwb_m = 250.0,
    .marker_db = -10.0,
    .broad_low_hz = 200.0,
    .broad_high_hz = 16000.0,
    .side_most_s = 1800.0,
    .side_count = 1,
    .side = {{.section_count = 6,
              .section = {{ES_SECTION_LEADER, "leader", 1, {{0, 0, 1}}},
                          {ES_SECTION_SPEED, "speed", 1, {{3000, -6, 9}}},
                          {ES_SECTION_LEVEL, "level", 1, {{400, 0, 2}}},
                          {ES_SECTION_AZIMUTH_BROADBAND, "azimuth", 1, {{0, -10, 3}}},
                          {ES_SECTION_SILENCE, "silence", 1, {{0, 0, 3}}},
                          {ES_SECTION_END, "end", 0, {{0, 0, 0}}}}}}};
enum { LEADER, SPEED, LEVEL, AZIMUTH, SILENCE, END };

/* --- a tape with faults ------------------------------------------------------------------ */

typedef struct tape {
    es_programme_sound *sound;
    int64_t at, cut_at, over_at; /* silent from there; nothing comes any more */
    int64_t gap_at, gap, lost;   /* frames that nobody hears, and what is told of them */
    int64_t away_at;
    int away_takes, fails;
    pthread_mutex_t lock;
    pthread_cond_t change;
    int64_t until; /* as far as the test lets it play; NEVER: without bounds */
    int hold_at;   /* it stands there too, when so many takes without the device are left; 0: not */
    int waits;     /* 1: it stands there */
} tape;

static es_source_state take(void *self, float *frames, size_t room, es_taken *out, es_error *error)
{
    tape *t = self;
    if (t->at >= t->away_at && t->away_takes > 0) {
        t->away_takes--;
        return ES_SOURCE_WAITING;
    }
    if (t->at >= t->over_at)
        return t->fails ? (es_fail(error, ES_ERR_INPUT, "broken", "The file is broken."),
                           ES_SOURCE_FAILED)
                        : ES_SOURCE_ENDED;
    if (t->at >= t->gap_at) {
        t->at += t->gap;
        t->gap_at = NEVER;
        *out = (es_taken){.gap = 1, .lost = t->lost};
    }
    out->count = room;
    es_programme_sound_seek(t->sound, t->at);
    es_programme_sound_render(t->sound, frames, room);
    for (size_t i = 0; i < room; i++)
        if (t->at + (int64_t)i >= t->cut_at)
            frames[2 * i] = frames[2 * i + 1] = 0.0f;
    t->at += (int64_t)room;
    return ES_SOURCE_RUNNING;
}

static es_status give_source(void *who, es_source *out, es_error *error)
{
    (void)error;
    *out = (es_source){.self = who,
                       .rate_hz = RATE,
                       .channels = 2,
                       .paces_itself = 1,
                       .take = take,
                       .name = "Line in"};
    return ES_OK;
}

static void wait_for_test(void *who, double seconds)
{
    tape *t = who;
    (void)seconds;
    pthread_mutex_lock(&t->lock);
    t->waits = 1;
    pthread_cond_broadcast(&t->change);
    while (t->at >= t->until || (t->hold_at > 0 && t->away_takes == t->hold_at))
        pthread_cond_wait(&t->change, &t->lock);
    t->waits = 0;
    pthread_mutex_unlock(&t->lock);
}

/* Returns when the tape has come there, and all until then has been worked on. */
static void let_play_until(tape *t, double seconds)
{
    pthread_mutex_lock(&t->lock);
    t->until = (int64_t)(seconds * RATE);
    pthread_cond_broadcast(&t->change);
    while (t->at < t->until || !t->waits)
        pthread_cond_wait(&t->change, &t->lock);
    pthread_mutex_unlock(&t->lock);
}

static void let_play(tape *t)
{
    pthread_mutex_lock(&t->lock);
    t->until = NEVER;
    pthread_cond_broadcast(&t->change);
    pthread_mutex_unlock(&t->lock);
}

static tape tape_of(const es_programme *of)
{
    tape t = {.cut_at = NEVER, .over_at = NEVER, .gap_at = NEVER, .away_at = NEVER, .until = NEVER};
    es_programme_sound_config config = es_programme_sound_defaults();
    assert_int_equal(es_programme_sound_create(of, &config, &t.sound, NULL), ES_OK);
    pthread_mutex_init(&t.lock, NULL);
    pthread_cond_init(&t.change, NULL);
    return t;
}

static es_tape_session *open_tape(tape *t, const es_programme *known)
{
    es_session_ground ground = {.who = t, .wait = wait_for_test, .source = give_source};
    es_tape_session_config config = es_tape_session_defaults();
    es_error error = {0};
    es_tape_session *s;
    config.reading.programme = known;
    if (es_tape_session_open_on(&ground, &config, &s, &error) != ES_OK)
        fail_msg("%s", error.text);
    return s;
}

static void let_go(tape *t, es_tape_session *s)
{
    es_tape_session_close(s);
    es_programme_sound_destroy(t->sound);
    pthread_mutex_destroy(&t->lock);
    pthread_cond_destroy(&t->change);
}

static es_tape_listening now, last;
static es_tape_result result;

/* Plays it to its end: `last` is where it stood, `result` what came of it. */
static es_status play_out(tape *t, const es_programme *known, es_error *error)
{
    uint64_t news = 0;
    es_tape_session *s = open_tape(t, known);
    while (es_tape_session_next(s, &news, 30.0, &last) >= 0)
        ;
    es_status status = es_tape_session_result(s, &result, error);
    let_go(t, s);
    return status;
}

static const es_tape_listening *look(es_tape_session *s)
{
    uint64_t news = 0;
    es_tape_session_next(s, &news, 0.0, &now);
    return &now;
}

static const char *words_of(size_t at)
{
    static char room[120];
    es_tape_section_words(&now.so_far, at, room, sizeof room);
    return room;
}

/* --- the whole side ------------------------------------------------------------------------ */

static void assert_all_is_read(void)
{
    assert_string_equal(result.programme, "tiny");
    assert_int_equal(result.side, 1);
    assert_int_equal(result.section_count, 6);
    for (size_t i = SPEED; i <= END; i++)
        assert_true(result.sections[i].found);
    assert_near(result.sections[LEVEL].start_s, 15.616, 0.02);
    assert_near(result.sections[SPEED].error_percent, 0.0, 0.002);
    for (size_t c = 0; c < 2; c++)
        assert_near(result.channels[c].level_db, ES_PROGRAMME_REFERENCE_DBFS, 0.01);
    assert_true(result.azimuth.known);
    assert_near(result.azimuth.delay_us, 0.0, 0.1);
}

static void a_side_ends_with_its_end_marker(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_all_is_read();
    assert_int_equal(last.ending, ES_TAPE_END_MARKER);
    assert_int_equal(last.phase, ES_SESSION_ENDED);
    assert_in_range(last.frames, (uint64_t)(32.2 * RATE), (uint64_t)(33.5 * RATE));
    assert_null(es_notes_find(&result.warnings, "input-lost"));
    for (size_t i = SPEED; i < END; i++)
        assert_int_equal(es_tape_state_of(&last, i), ES_TAPE_HEARD);
}

static void figures_come_as_the_sections_end(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.until = 0;
    es_tape_session *s = open_tape(&t, &programme);
    let_play_until(&t, 2.0);
    assert_int_equal(look(s)->so_far.side, 0);
    assert_true(isnan(now.left_s));
    let_play_until(&t, 7.0);
    assert_int_equal(look(s)->so_far.side, 1);
    assert_int_equal(es_tape_state_of(&now, SPEED), ES_TAPE_NOW);
    assert_int_equal(es_tape_state_of(&now, LEVEL), ES_TAPE_TO_COME);
    assert_true(now.measuring);
    assert_near(now.left_s, 32.64 - now.time_s, 0.1);
    let_play_until(&t, 19.0);
    assert_int_equal(es_tape_state_of(look(s), SPEED), ES_TAPE_HEARD);
    assert_int_equal(es_tape_state_of(&now, LEVEL), ES_TAPE_HEARD);
    assert_int_equal(es_tape_state_of(&now, AZIMUTH), ES_TAPE_NOW);
    assert_false(now.measuring); /* its marker */
    assert_string_equal(words_of(LEVEL), "level -12.00 and -12.00 dB full scale");
    assert_string_equal(words_of(AZIMUTH), "");
    assert_near(now.error_percent, 0.0, 0.01);
    let_play(&t);
    let_go(&t, s);
}

static void the_tapes_and_the_clocks_error_are_taken_off(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    uint64_t news = 0;
    es_session_ground ground = {.who = &t, .wait = wait_for_test, .source = give_source};
    es_tape_session_config config = es_tape_session_defaults();
    es_tape_session *s;
    config.reading.programme = &programme;
    config.reading.tape_percent = 0.4;
    config.reading.clock_ppm = 100.0;
    assert_int_equal(es_tape_session_open_on(&ground, &config, &s, NULL), ES_OK);
    while (es_tape_session_next(s, &news, 30.0, &last) >= 0)
        ;
    assert_int_equal(es_tape_session_result(s, &result, NULL), ES_OK);
    /* true ratio = heard ratio x (1 + tape) x (1 + clock): 1.004 x 1.0001 - 1 = 0.41004 % */
    assert_near(result.check.speed.error_percent, 0.41004, 0.002);
    assert_near(result.sections[SPEED].error_percent, 0.41004, 0.002);
    assert_near(last.error_percent, 0.41004, 0.02);
    let_go(&t, s);
}

/* --- ends ---------------------------------------------------------------------------------- */

static void stopped_early_what_was_heard_is_measured(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.until = 0;
    es_tape_session *s = open_tape(&t, &programme);
    let_play_until(&t, 19.0);
    t.away_at = t.at; /* nothing comes any more, so that it can't end by itself */
    t.away_takes = INT_MAX;
    let_play(&t);
    es_tape_session_stop(s);
    es_tape_session_stop(s);
    assert_int_equal(es_tape_session_result(s, &result, NULL), ES_OK);
    assert_int_equal(look(s)->ending, ES_TAPE_STOPPED);
    assert_int_equal(es_tape_state_of(&now, AZIMUTH), ES_TAPE_MISSED);
    assert_near(result.channels[0].level_db, ES_PROGRAMME_REFERENCE_DBFS, 0.01);
    let_go(&t, s);
}

static void a_tape_that_stops_in_the_middle_is_told(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.over_at = 19 * RATE;
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_int_equal(last.ending, ES_TAPE_SOURCE_OVER);
    assert_int_equal(es_tape_state_of(&last, LEVEL), ES_TAPE_HEARD);
    assert_int_equal(es_tape_state_of(&last, AZIMUTH), ES_TAPE_MISSED);
    const es_note *note = es_notes_find(&result.warnings, "sections-missing");
    assert_non_null(note);
    assert_non_null(strstr(note->text, "azimuth, silence, end"));
}

static void the_sides_time_being_over_ends_it(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.cut_at = (int64_t)(29.9 * RATE);
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_int_equal(last.ending, ES_TAPE_TIME_OVER);
    assert_near(last.time_s, 32.64 + 3.0, 0.5);
    assert_false(result.sections[END].found);
    assert_true(result.sections[SILENCE].found);
}

static void half_a_minute_of_silence_ends_it(void **state)
{
    (void)state;
    static es_programme longer;
    longer = programme;
    longer.side[0].section[SPEED].step[0].seconds = 100.0;
    tape t = tape_of(&longer);
    t.cut_at = 30 * RATE;
    assert_int_equal(play_out(&t, &longer, NULL), ES_OK);
    assert_int_equal(last.ending, ES_TAPE_FELL_SILENT);
    assert_near(last.time_s, 60.0, 0.6);
    assert_true(result.sections[SPEED].found);
}

static void silence_before_the_tape_is_waited_through(void **state)
{
    (void)state;
    es_error error = {0};
    tape t = tape_of(&programme);
    t.cut_at = 0;
    t.over_at = 100 * RATE;
    assert_int_equal(play_out(&t, &programme, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "silence");
    assert_int_equal(last.ending, ES_TAPE_SOURCE_OVER);
    assert_string_equal(last.level_words,
                        "Nothing is heard: check the cable, and that the tape plays.");
}

static void a_programme_that_is_not_known_is_told_at_once(void **state)
{
    (void)state;
    es_error error = {0};
    tape t = tape_of(&programme);
    t.over_at = 12 * RATE;
    assert_int_equal(play_out(&t, NULL, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "unknown-programme");
    assert_int_equal(last.strange_id, es_programme_id(&programme));
    assert_int_equal(last.so_far.side, 0);
}

static void a_source_that_fails_leaves_what_was_heard(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.over_at = 19 * RATE;
    t.fails = 1;
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_int_equal(last.phase, ES_SESSION_FAILED);
    assert_int_equal(last.status, ES_ERR_INPUT);
    assert_string_equal(last.sentence, "The file is broken.");
    assert_near(result.channels[1].level_db, ES_PROGRAMME_REFERENCE_DBFS, 0.01);
}

/* --- input that is missing -------------------------------------------------------------------- */

static void lost_input_is_a_gap_and_is_named(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.gap_at = 7 * RATE;
    t.gap = t.lost = 24000;
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_all_is_read(); /* at the same times, too */
    assert_int_equal(last.gaps, 1);
    assert_int_equal(last.lost_frames, 24000);
    const es_note *note = es_notes_find(&result.warnings, "input-lost");
    assert_non_null(note);
    assert_non_null(strstr(note->text, "1 time, 0.5 s"));
    assert_null(es_notes_find(&result.warnings, "interrupted"));
}

static void a_loss_of_unknown_length_is_put_right_by_the_next_marker(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.gap_at = 8 * RATE;
    t.gap = 24000;
    t.lost = -1;
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_near(result.sections[LEVEL].start_s, 15.616 - 0.5, 0.02);
    assert_near(result.channels[0].level_db, ES_PROGRAMME_REFERENCE_DBFS, 0.01);
    assert_true(result.sections[END].found);
    assert_non_null(es_notes_find(&result.warnings, "input-lost"));
}

/* A tone measured across the gap would be half a tone and half nothing. */
static void what_was_being_measured_begins_anew_after_a_gap(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.gap_at = (int64_t)(16.3 * RATE);
    t.gap = t.lost = 4811; /* no whole number of periods */
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_all_is_read();
}

static void a_section_that_was_lost_is_not_heard(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.gap_at = (int64_t)(15.7 * RATE);
    t.gap = t.lost = (int64_t)(2.0 * RATE);
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_false(result.sections[LEVEL].found);
    assert_true(isnan(result.channels[0].level_db));
    assert_true(result.sections[AZIMUTH].found);
    assert_non_null(strstr(es_notes_find(&result.warnings, "sections-missing")->text, "level"));
}

static void let_it_hold(tape *t)
{
    pthread_mutex_lock(&t->lock);
    while (!t->waits || t->away_takes != t->hold_at)
        pthread_cond_wait(&t->change, &t->lock);
    pthread_mutex_unlock(&t->lock);
}

static void a_device_that_vanishes_is_waited_for(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    uint64_t news = 0;
    t.away_at = t.gap_at = 7 * RATE;
    t.away_takes = 50;
    t.hold_at = 25;
    t.gap = t.lost = RATE;
    es_tape_session *s = open_tape(&t, &programme);
    let_it_hold(&t);
    assert_int_equal(look(s)->phase, ES_SESSION_WAITING);
    assert_non_null(strstr(now.sentence, "\"Line in\" is gone"));
    assert_near(now.time_s, 7.0, 0.3);
    pthread_mutex_lock(&t.lock);
    t.hold_at = 0;
    pthread_mutex_unlock(&t.lock);
    let_play_until(&t, 10.0);
    assert_int_equal(look(s)->phase, ES_SESSION_RUNNING);
    assert_string_equal(now.sentence, "");
    assert_int_equal(now.gaps, 1);
    assert_near(now.time_s, 10.0, 0.3);
    let_play(&t);
    while (es_tape_session_next(s, &news, 30.0, &last) >= 0)
        ;
    assert_int_equal(es_tape_session_result(s, &result, NULL), ES_OK);
    assert_all_is_read();
    let_go(&t, s);
}

/* --- files and devices ---------------------------------------------------------------------------- */

static char folder[] = "/tmp/evenspool-tape-XXXXXX";

static void in_folder(char *room, size_t size, const char *before, const char *name)
{
    es_text text = es_text_over(room, size);
    es_text_add(&text, "%s%s/%s", before, folder, name);
}

static void write_side(const char *path)
{
    es_tape_settings settings = es_tape_defaults();
    es_tape_file *file;
    settings.path = path;
    settings.replace = 1;
    assert_int_equal(es_tape_file_open(&programme, &settings, &file, NULL), ES_OK);
    assert_int_equal(es_tape_file_render(file, NULL, NULL, NULL), ES_OK);
    assert_int_equal(es_tape_file_keep(file, NULL), ES_OK);
}

static void a_file_is_listened_to_and_recorded(void **state)
{
    (void)state;
    char path[200];
    uint64_t news = 0;
    es_wave_reader *reader;
    es_tape_session *s;
    es_error error = {0};
    es_tape_session_config config = es_tape_session_defaults();
    in_folder(path, sizeof path, "", "side.wav");
    write_side(path);
    in_folder(config.source, sizeof config.source, "file:", "side.wav");
    in_folder(config.record_path, sizeof config.record_path, "", "kept.wav");
    config.unpaced = 1;
    config.reading.programme = &programme;
    assert_int_equal(es_tape_session_open(&config, &s, &error), ES_OK);
    while (es_tape_session_next(s, &news, 30.0, &last) >= 0)
        ;
    assert_int_equal(es_tape_session_result(s, &result, &error), ES_OK);
    assert_all_is_read();
    assert_string_equal(last.record_sentence, "");
    es_tape_session_close(s);
    assert_int_equal(es_wave_reader_open(config.record_path, NULL, &reader, &error), ES_OK);
    assert_int_equal(es_wave_reader_facts(reader).frames, last.frames);
    es_wave_reader_close(reader);
    assert_int_equal(es_tape_session_open(&config, &s, &error), ES_ERR_IO); /* it is there */
    assert_null(s);
}

static void what_is_no_source_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *source;
        es_status status;
    } wrong[] = {{"rehearse:touchy-trimmer", ES_ERR_ARG},
                 {"somewhere", ES_ERR_ARG},
                 {"file:", ES_ERR_ARG},
                 {"file:/no/such/file.wav", ES_ERR_INPUT},
                 {"device:", ES_ERR_ARG}}; /* unpaced */
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        es_tape_session_config config = es_tape_session_defaults();
        es_tape_session *s;
        es_error error = {0};
        es_text text = es_text_over(config.source, sizeof config.source);
        es_text_add(&text, "%s", wrong[i].source);
        config.unpaced = 1;
        assert_int_equal(es_tape_session_open(&config, &s, &error), wrong[i].status);
        assert_null(s);
        assert_true(strlen(error.text) > 20);
    }
}

static es_fake *fake;
static const char *script;

static es_status borrow(void *who, es_sound **out, es_error *error)
{
    (void)who;
    return es_fake_open(script, out, &fake, error);
}

static void give_back(void *who, es_sound *sound)
{
    (void)who;
    es_sound_close(sound);
}

static void run_script(void *who, double seconds)
{
    (void)who;
    es_fake_run(fake, seconds);
}

static void a_device_that_loses_input_is_read_all_the_same(void **state)
{
    (void)state;
    static float side[2 * 33 * RATE];
    char path[200], text[400];
    uint64_t news = 0;
    es_tape_session *s;
    es_error error = {0};
    tape t = tape_of(&programme);
    es_programme_sound_render(t.sound, side, 33 * RATE);
    es_programme_sound_destroy(t.sound);
    in_folder(path, sizeof path, "", "side.raw");
    FILE *file = fopen(path, "wb");
    assert_int_equal(fwrite(side, sizeof *side, 2 * 33 * RATE, file), 2 * 33 * RATE);
    fclose(file);
    es_text words = es_text_over(text, sizeof text);
    es_text_add(&words,
                "place 2 0 48000 Line in\nraw %s\nat 8 overflow\nat 21 unplug\nat 22 plug\n", path);
    script = text;
    es_session_ground ground = {.borrow = borrow, .give_back = give_back, .wait = run_script};
    es_tape_session_config config = es_tape_session_defaults();
    memcpy(config.source, "device:line", 12);
    config.reading.programme = &programme;
    assert_int_equal(es_tape_session_open_on(&ground, &config, &s, &error), ES_OK);
    while (es_tape_session_next(s, &news, 30.0, &last) >= 0)
        ;
    assert_int_equal(es_tape_session_result(s, &result, &error), ES_OK);
    es_tape_session_close(s);
    assert_string_equal(last.device, "Line in");
    assert_int_equal(last.ending, ES_TAPE_END_MARKER);
    assert_true(last.gaps >= 2);
    assert_near(result.channels[0].level_db, ES_PROGRAMME_REFERENCE_DBFS, 0.01);
    assert_non_null(es_notes_find(&result.warnings, "input-lost"));
}

/* --- memory ------------------------------------------------------------------------------------------ */

static void without_memory_nothing_is_left_behind(void **state)
{
    (void)state;
    es_status status = ES_ERR_NOMEM;
    for (long n = 0; status != ES_OK; n++) {
        tape t = tape_of(&programme);
        es_session_ground ground = {.who = &t, .wait = wait_for_test, .source = give_source};
        es_tape_session_config config = es_tape_session_defaults();
        es_tape_session *s;
        es_error error = {0};
        config.reading.programme = &programme;
        alloc_probe_fail_after(n);
        status = es_tape_session_open_on(&ground, &config, &s, &error);
        if (status != ES_OK) {
            assert_int_equal(status, ES_ERR_NOMEM);
            assert_null(s);
            assert_int_equal(alloc_probe_live(), 0);
        }
        alloc_probe_reset();
        let_go(&t, s);
        assert_true(n < 1000);
    }
}

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    static const char *const names[] = {"side.wav", "kept.wav", "side.raw"};
    char path[200];
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        in_folder(path, sizeof path, "", names[i]);
        unlink(path);
    }
    return rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_side_ends_with_its_end_marker),
        cmocka_unit_test(figures_come_as_the_sections_end),
        cmocka_unit_test(the_tapes_and_the_clocks_error_are_taken_off),
        cmocka_unit_test(stopped_early_what_was_heard_is_measured),
        cmocka_unit_test(a_tape_that_stops_in_the_middle_is_told),
        cmocka_unit_test(the_sides_time_being_over_ends_it),
        cmocka_unit_test(half_a_minute_of_silence_ends_it),
        cmocka_unit_test(silence_before_the_tape_is_waited_through),
        cmocka_unit_test(a_programme_that_is_not_known_is_told_at_once),
        cmocka_unit_test(a_source_that_fails_leaves_what_was_heard),
        cmocka_unit_test(lost_input_is_a_gap_and_is_named),
        cmocka_unit_test(a_loss_of_unknown_length_is_put_right_by_the_next_marker),
        cmocka_unit_test(what_was_being_measured_begins_anew_after_a_gap),
        cmocka_unit_test(a_section_that_was_lost_is_not_heard),
        cmocka_unit_test(a_device_that_vanishes_is_waited_for),
        cmocka_unit_test(a_file_is_listened_to_and_recorded),
        cmocka_unit_test(what_is_no_source_is_refused),
        cmocka_unit_test(a_device_that_loses_input_is_read_all_the_same),
        cmocka_unit_test(without_memory_nothing_is_left_behind),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
