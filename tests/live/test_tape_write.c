#include "cm.h"

#include "alloc_probe.h"
#include "live/programme_file.h"
#include "live/tape_write.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static es_programme programme;
static char folder[] = "/tmp/es-tape-XXXXXX";

static const char *here(const char *name)
{
    static char path[2][128];
    static int turn;
    turn = !turn;
    (void)snprintf(path[turn], sizeof path[turn], "%s/%s", folder, name);
    return path[turn];
}

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

/* Fails when a test left a file behind. */
static int remove_folder(void **state)
{
    (void)state;
    return rmdir(folder);
}

static void put(const char *path, const char *words)
{
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fputs(words, file) >= 0, 1);
    assert_int_equal(fclose(file), 0);
}

/* --- programmes by name ------------------------------------------------------------------------- */

static void finds_what_is_built_in_and_reads_files(void **state)
{
    (void)state;
    char *text;
    size_t length;
    assert_int_equal(es_programme_fetch("reel-19", &programme, &text, &length, NULL), ES_OK);
    assert_null(text);
    assert_string_equal(programme.name, "reel-19");
    put(here("mine.json"), "{}");
    assert_int_equal(es_programme_fetch(here("mine.json"), &programme, &text, &length, NULL),
                     ES_OK);
    assert_int_equal(length, 2);
    assert_memory_equal(text, "{}", 2);
    assert_int_equal(programme.side_count, 0);
    free(text);
    unlink(here("mine.json"));
}

static void says_why_there_is_no_programme(void **state)
{
    (void)state;
    static const struct {
        const char *name, *code;
        es_status status;
    } cases[] = {{"nowhere.json", "no-programme", ES_ERR_INPUT},
                 {"", "directory", ES_ERR_INPUT},
                 {"long.json", "too-long", ES_ERR_INPUT}};
    put(here("long.json"), "");
    assert_int_equal(truncate(here("long.json"), ((off_t)1 << 20) + 1), 0);
    for (size_t i = 0; i < COUNT(cases); i++) {
        char *text;
        size_t length;
        es_error error = {0};
        assert_int_equal(
            es_programme_fetch(here(cases[i].name), &programme, &text, &length, &error),
            cases[i].status);
        assert_string_equal(error.code, cases[i].code);
        assert_null(text);
    }
    unlink(here("long.json"));
}

static void lists_every_side(void **state)
{
    (void)state;
    es_programme_line line;
    size_t count = 0;
    for (; es_programme_line_at(count, &line); count++) {
        assert_true(strlen(line.name) > 3 && strlen(line.about) > 10);
        for (size_t k = 0; k < line.side_count; k++)
            assert_true(line.side_s[k] > 60.0 && line.side_s[k] <= line.side_most_s);
    }
    assert_true(count >= 7);
}

/* --- files ---------------------------------------------------------------------------------------- */

static void fetch(const char *name)
{
    char *text;
    size_t length;
    assert_int_equal(es_programme_fetch(name, &programme, &text, &length, NULL), ES_OK);
}

static int64_t size_of(const char *path)
{
    struct stat facts;
    return stat(path, &facts) == 0 ? (int64_t)facts.st_size : -1;
}

static void tell(void *who, double done_s, double share)
{
    double *last = who;
    assert_true(done_s > last[0] && share > last[1] && share <= 1.0);
    last[0] = done_s;
    last[1] = share;
}

static void a_file_appears_when_it_is_whole(void **state)
{
    (void)state;
    es_tape_file *file;
    es_tape_settings settings = es_tape_defaults();
    es_error error = {0};
    double last[2] = {0.0, 0.0};
    settings.path = here("side.wav");
    fetch("cassette-short");
    assert_int_equal(es_tape_file_open(&programme, &settings, &file, &error), ES_OK);
    assert_int_equal(size_of(settings.path), -1);
    assert_int_equal(es_tape_file_render(file, last, tell, &error), ES_OK);
    assert_int_equal(size_of(settings.path), -1);
    assert_int_equal(es_tape_file_keep(file, &error), ES_OK);
    es_programme_line line;
    for (size_t i = 0; es_programme_line_at(i, &line); i++)
        if (strcmp(line.name, "cassette-short") == 0)
            break;
    assert_near(last[0], line.side_s[0], 1e-4);
    assert_near(last[1], 1.0, 0.0);
    assert_near((double)size_of(settings.path), line.side_s[0] * 48000.0 * 6.0, 200.0);
    es_tape_file *other;
    assert_int_equal(es_tape_file_open(&programme, &settings, &other, &error), ES_ERR_IO);
    assert_string_equal(error.code, "exists");
    assert_null(other);
    unlink(settings.path);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_tape_settings settings = es_tape_defaults();
    es_tape_file *file = NULL;
    settings.path = here("side.flac");
    fetch("cassette-short");
    long n = 0;
    for (;; n++) {
        alloc_probe_fail_after(n);
        es_status status = es_tape_file_open(&programme, &settings, &file, NULL);
        if (status == ES_OK)
            break;
        assert_true(status == ES_ERR_NOMEM);
        assert_null(file);
        assert_true(alloc_probe_live() <= 0); /* strdup's blocks are counted when freed only */
        assert_true(n < 100);
    }
    assert_true(n > 5);
    es_tape_file_drop(file); /* and nothing is left in the folder */
    alloc_probe_reset();
}

/* --- cue sheet -------------------------------------------------------------------------------------- */

/* Speeds: exact inch conversions, 1 7/8 and 7 1/2 in/s. */
static void a_sheet_holds_the_times_of_its_sides(void **state)
{
    (void)state;
    static es_cue_sheet sheet;
    fetch("reel-19");
    es_cues_begin(&programme, 48000.0, -12.0, &sheet);
    assert_int_equal(sheet.side_count, 0);
    es_cues_add_side(&sheet, 1, "b.wav");
    assert_int_equal(sheet.side_count, 1);
    assert_near(sheet.speed_m_s, 7.5 * 0.0254, 1e-12);
    assert_int_equal(es_cue_count(&sheet, &sheet.sides[0]), programme.side[1].section_count);
    assert_string_equal(sheet.sides[0].file, "b.wav");
    double at = 0.0;
    for (size_t i = 0; i < es_cue_count(&sheet, &sheet.sides[0]); i++) {
        assert_near(sheet.sides[0].times[i].start_s, at, 1e-9);
        at = sheet.sides[0].times[i].next_s;
    }
    assert_near(sheet.sides[0].length_s, at, 1e-9);
    assert_true(es_cues_kind_is_known("a.PDF") && es_cues_kind_is_known("a.txt"));
    assert_false(es_cues_kind_is_known("pdf") || es_cues_kind_is_known("a.doc"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_what_is_built_in_and_reads_files),
        cmocka_unit_test(says_why_there_is_no_programme),
        cmocka_unit_test(lists_every_side),
        cmocka_unit_test(a_file_appears_when_it_is_whole),
        cmocka_unit_test(survives_every_allocation_failure),
        cmocka_unit_test(a_sheet_holds_the_times_of_its_sides),
    };
    return cmocka_run_group_tests_name("live/tape_write", tests, make_folder, remove_folder);
}
