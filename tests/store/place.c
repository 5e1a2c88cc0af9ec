#include "place.h"

#include <dirent.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

/* --- folders and files ------------------------------------------------------------------------ */

int place_setup(void **state)
{
    test_place *place = calloc(1, sizeof *place);
    assert_non_null(place);
    const char *below = getenv("TMPDIR");
    if (!below || below[0] != '/' || strlen(below) > 64)
        below = "/tmp";
    snprintf(place->folder, sizeof place->folder, "%s/evenspool-store-XXXXXX", below);
    assert_non_null(mkdtemp(place->folder));
    snprintf(place->path, sizeof place->path, "%s/records.db", place->folder);
    *state = place;
    return 0;
}

int place_setup_with_store(void **state)
{
    place_setup(state);
    test_place *place = *state;
    assert_ok(es_store_open_patiently(place->path, ES_STORE_CREATE, 0, &place->store, &error));
    return 0;
}

static int remove_entry(const char *path, const struct stat *about, int type, struct FTW *where)
{
    (void)about;
    (void)type;
    (void)where;
    return remove(path);
}

int place_teardown(void **state)
{
    test_place *place = *state;
    es_store_close(place->store);
    nftw(place->folder, remove_entry, 8, FTW_DEPTH | FTW_PHYS);
    free(place);
    return 0;
}

const char *in_folder(const test_place *place, const char *name)
{
    static char path[320];
    snprintf(path, sizeof path, "%s/%s", place->folder, name);
    return path;
}

unsigned char *file_bytes(const char *path, size_t *count)
{
    *count = 0;
    FILE *file = fopen(path, "rb");
    if (!file)
        return NULL;
    fseek(file, 0, SEEK_END);
    *count = (size_t)ftell(file);
    rewind(file);
    unsigned char *bytes = malloc(*count + 1);
    assert_non_null(bytes);
    assert_int_equal(fread(bytes, 1, *count, file), *count);
    fclose(file);
    return bytes;
}

void write_bytes(const char *path, const void *bytes, size_t count)
{
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, count, file), count);
    assert_int_equal(fclose(file), 0);
}

int file_is(const char *path, const unsigned char *bytes, size_t count)
{
    size_t now;
    unsigned char *found = file_bytes(path, &now);
    int same = found && now == count && memcmp(found, bytes, count) == 0;
    free(found);
    return same;
}

size_t folder_entries(const char *folder)
{
    DIR *opened = opendir(folder);
    assert_non_null(opened);
    size_t count = 0;
    for (struct dirent *entry; (entry = readdir(opened)) != NULL;)
        count += strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
    closedir(opened);
    return count;
}

int as_ordinary_person(const test_place *place, int (*work)(const test_place *place))
{
    pid_t child = fork();
    if (child == 0) {
        if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0))
            _exit(77);
        _exit(work(place));
    }
    int result;
    assert_int_equal(waitpid(child, &result, 0), child);
    return WIFEXITED(result) ? WEXITSTATUS(result) : 99;
}

/* --- comparing -------------------------------------------------------------------------------- */

void assert_one_sentence(const char *text)
{
    size_t length = strlen(text);
    assert_true(length > 10);
    assert_true(text[0] >= 'A' && text[0] <= 'Z');
    assert_true(text[length - 1] == '.');
    assert_null(strchr(text, '\n'));
}

static void assert_same_field(const es_record_field *field, const char *a, const char *b)
{
    double x, y;
    switch (field->type) {
    case ES_FIELD_NUMBER:
        memcpy(&x, a, sizeof x);
        memcpy(&y, b, sizeof y);
        if (!(isnan(x) && isnan(y)) && memcmp(a, b, sizeof x) != 0)
            fail_msg("%s: %.17g is not %.17g", field->name, x, y);
        return;
    case ES_FIELD_TEXT:
        assert_string_equal(a, b);
        return;
    case ES_FIELD_DOCUMENT:
        assert_string_equal(*(const char *const *)(const void *)a,
                            *(const char *const *)(const void *)b);
        return;
    default:
        if (memcmp(a, b, sizeof(int64_t)) != 0)
            fail_msg("%s differs", field->name);
    }
}

void assert_same_record(es_record_type type, const void *a, const void *b)
{
    const es_record_kind *kind = &es_record_kinds()[type];
    for (size_t i = 0; i < kind->field_count; i++)
        assert_same_field(&kind->fields[i], (const char *)a + kind->fields[i].offset,
                          (const char *)b + kind->fields[i].offset);
}

/* --- samples ---------------------------------------------------------------------------------- */

#define SAY(field, ...) snprintf(field, sizeof(field), __VA_ARGS__)

es_deck_record sample_deck(int n)
{
    es_deck_record deck = {.speed_m_s = 0.047625,
                           .capstan_m = 0.0025 + n * 1e-6,
                           .pinch_roller_m = 0.013,
                           .flywheel_m = 0.06,
                           .motor_pulley_m = 0.01 / 3.0,
                           .belt_m = 0.21,
                           .idler_m = 0.02,
                           .hub_radius_m = 0.011};
    SAY(deck.name, "deck %d", n);
    SAY(deck.transport, "cassette");
    SAY(deck.photo, "/pictures/front %d.jpg", n);
    SAY(deck.notes, "First line.\nSecond line.\tEnd.");
    return deck;
}

es_tape_record sample_tape(int n)
{
    es_tape_record tape = {.nominal_hz = 3150.0,
                           .thickness_m = 18e-6,
                           .length_m = 88.0,
                           .certificate_percent = 0.4 + n / 7.0,
                           .certificate_u_percent = 0.05,
                           .certificate_dof = (double)INFINITY,
                           .certificate_u95_percent = 0.1};
    SAY(tape.name, "tape %d", n);
    SAY(tape.transport, "cassette");
    SAY(tape.programme, "speed-only");
    SAY(tape.recorded_at, "2026-05-03");
    SAY(tape.certificate_at, "2026-05-04T08:00:00Z");
    SAY(tape.certificate_path, "recorded on deck B, which was tied to timed tape length");
    SAY(tape.notes, "Kept in the drawer.");
    return tape;
}

es_job_record sample_job(int64_t deck)
{
    es_job_record job = {.deck = deck};
    SAY(job.opened_at, "2026-05-03T09:00:00Z");
    SAY(job.closed_at, "2026-05-03T10:30:00Z");
    SAY(job.asked, "Runs fast.");
    SAY(job.adjust, "speed");
    return job;
}

es_reading_record sample_reading(int64_t deck)
{
    es_reading_record reading = {.deck = deck,
                                 .error_percent = 1.0 / 3.0,
                                 .u95_percent = 0.02,
                                 .weighted_quasi_peak_percent = 0.11,
                                 .error_us = (double)NAN,
                                 .u95_us = (double)NAN,
                                 .error_db = (double)NAN,
                                 .u95_db = (double)NAN,
                                 .document =
                                     "{\"schema\": \"evenspool.check/1\",  \"speed\":1e-1}"};
    SAY(reading.taken_at, "2026-05-03T09:10:00Z");
    SAY(reading.schema, "evenspool.check/1");
    SAY(reading.capture, "side A.wav");
    SAY(reading.capture_sha256, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    return reading;
}

es_nudge_record sample_nudge(int n)
{
    return (es_nudge_record){.time_s = n + 0.1,
                             .size_percent = -0.3 / n,
                             .size_us = (double)NAN,
                             .size_db = (double)NAN,
                             .overshoot = 0.2};
}

es_play_record sample_play(int64_t recorded_on, int64_t played_on)
{
    es_play_record play = {.recorded_on = recorded_on,
                           .played_on = played_on,
                           .heard_percent = -0.1,
                           .u_percent = 0.02,
                           .dof = 9.0};
    SAY(play.recorded_at, "2026-05-01");
    SAY(play.played_at, "2026-05-02");
    SAY(play.note, "middle of side A");
    return play;
}

es_anchor_record sample_anchor(int64_t epoch)
{
    es_anchor_record anchor = {.epoch = epoch,
                               .error_percent = 0.7,
                               .u_percent = 0.1 / 3.0,
                               .dof = (double)INFINITY,
                               .u95_percent = 0.07,
                               .u95_by_shape_percent = 0.06};
    SAY(anchor.method, "tape-length");
    SAY(anchor.made_at, "2026-05-03");
    SAY(anchor.note, "rule of steel");
    return anchor;
}

es_answer_record sample_answer(int n)
{
    es_answer_record answer = {.value = n == 1 ? (double)NAN : 88.0 / n};
    SAY(answer.key, "question_%d", n);
    return answer;
}

es_budget_record sample_budget(int n)
{
    es_budget_record line = {.u_percent = 0.01 * n, .dof = n == 1 ? (double)INFINITY : 5.0};
    SAY(line.what, "rule %d", n);
    SAY(line.formula, "limit / \xE2\x88\x9A"
                      "3");
    SAY(line.source, "JCGM 100:2008 4.3.7");
    SAY(line.shape, "rectangular");
    return line;
}

/* --- a full store ----------------------------------------------------------------------------- */

static void fill_job(es_store *store, int64_t job, int64_t reading)
{
    es_nudge_record nudges[] = {sample_nudge(1), sample_nudge(2)};
    assert_ok(es_store_add_nudges(store, job, nudges, 2, &error));
    es_remark_record remark = {.job = job};
    SAY(remark.made_at, "2026-05-03");
    SAY(remark.text, "Belt is new.\nGrease is old.");
    assert_ok(es_store_add_remark(store, &remark, NULL, &error));
    es_job_record kept;
    assert_ok(es_store_show_job(store, job, &kept, &error));
    kept.as_found = kept.as_left = reading;
    assert_ok(es_store_edit_job(store, &kept, &error));
}

static void tie(es_store *store, int64_t epoch, int64_t later, int64_t tape, int64_t reading)
{
    es_play_record play = sample_play(epoch, later);
    play.tape = tape;
    play.reading = reading;
    assert_ok(es_store_add_play(store, &play, NULL, &error));
    es_anchor_record anchor = sample_anchor(epoch);
    es_answer_record answers[] = {sample_answer(1), sample_answer(2)};
    es_budget_record budget[] = {sample_budget(1), sample_budget(2)};
    es_anchor_parts parts = {answers, 2, budget, 2};
    assert_ok(es_store_add_anchor(store, &anchor, &parts, NULL, &error));
}

int64_t fill_store(es_store *store, int n)
{
    int64_t deck_id, later_id, tape_id, job_id, reading_id;
    es_deck_record deck = sample_deck(n);
    assert_ok(es_store_add_deck(store, &deck, "2026-01-01", &deck_id, &error));
    es_epoch_record first, later = {.deck = deck_id, .walk_percent = 0.05};
    assert_ok(es_store_latest_epoch(store, deck_id, &first, &error));
    SAY(later.began, "2026-05-03");
    SAY(later.why, "trimmer turned");
    assert_ok(es_store_start_epoch(store, &later, &later_id, &error));
    es_tape_record tape = sample_tape(n);
    tape.recorded_epoch = first.id;
    assert_ok(es_store_add_tape(store, &tape, &tape_id, &error));
    es_job_record job = sample_job(deck_id);
    assert_ok(es_store_add_job(store, &job, &job_id, &error));
    es_reading_record reading = sample_reading(deck_id);
    reading.job = job_id;
    reading.tape = tape_id;
    assert_ok(es_store_add_reading(store, &reading, &reading_id, &error));
    fill_job(store, job_id, reading_id);
    tie(store, first.id, later_id, tape_id, reading_id);
    return deck_id;
}
