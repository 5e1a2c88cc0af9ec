#include "cm.h"

#include "live/programme_file.h"
#include "live/tape_write.h"
#include "paper/cue_page.h"
#include "paper/cue_sheet.h"
#include "paper/picture.h"
#include "written.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TEXTS_MOST 400

static es_programme programme;
static es_cue_sheet sheet;
static es_box boxes[TEXTS_MOST];
static char words[TEXTS_MOST][40];

/* Both sides of a built-in programme. */
static void sheet_of(const char *name)
{
    es_error error = {0};
    char *text;
    size_t length;
    assert_int_equal(es_programme_fetch(name, &programme, &text, &length, &error), ES_OK);
    es_cues_begin(&programme, 48000.0, -12.0, &sheet);
    es_cues_add_side(&sheet, 0, "tape-a.wav");
    es_cues_add_side(&sheet, 1, "tape-b.wav");
}

static es_text_log painted(const es_cue_side *side)
{
    es_text_log log = {.room = TEXTS_MOST, .boxes = boxes, .words = words};
    cairo_surface_t *surface = cairo_image_surface_create(
        CAIRO_FORMAT_RGB24, (int)ES_CUE_PAGE_WIDTH, (int)ES_CUE_PAGE_HEIGHT);
    cairo_t *cr = cairo_create(surface);
    es_pen pen;
    assert_int_equal(es_pen_open(&pen, cr, &log, NULL), ES_OK);
    es_cue_page_paint(&pen, &sheet, side);
    es_pen_close(&pen);
    cairo_destroy(cr);
    cairo_surface_destroy(surface);
    assert_true(log.count > 30 && log.count <= TEXTS_MOST);
    return log;
}

static const es_box inner = {20.0, 20.0, ES_CUE_PAGE_WIDTH - 20.0, ES_CUE_PAGE_HEIGHT - 20.0};

/* --- the page ---------------------------------------------------------------------------------- */

static void nothing_lies_on_anything_else(void **state)
{
    (void)state;
    es_programme_line line;
    for (size_t i = 0; es_programme_line_at(i, &line); i++) {
        sheet_of(line.name);
        for (size_t k = 0; k < sheet.side_count; k++) {
            es_text_log log = painted(&sheet.sides[k]);
            assert_apart(inner, &log, line.name);
        }
    }
}

/* As many sections as there can be, every word as long as it can be. */
static void a_full_programme_has_room(void **state)
{
    (void)state;
    sheet_of("cassette");
    memset(sheet.programme.about, 'W', sizeof sheet.programme.about - 1);
    memset(sheet.programme.name, 'w', sizeof sheet.programme.name - 1);
    es_programme_side *side = &sheet.programme.side[0];
    side->section_count = ES_PROGRAMME_SECTIONS;
    for (size_t i = 0; i < ES_PROGRAMME_SECTIONS; i++) {
        es_programme_section *s = &side->section[i];
        *s = side->section[5];
        s->kind = (es_section_kind)(i % ES_SECTION_KIND_COUNT);
        memset(s->name, 'w', sizeof s->name - 1);
        s->step[0].level_db = -59.9;
        sheet.sides[0].times[i] = (es_section_times){.start_s = 5999.0, .next_s = 11998.0};
    }
    es_text_log log = painted(&sheet.sides[0]);
    assert_apart(inner, &log, "full");
}

static void the_page_says_what_stands_where(void **state)
{
    (void)state;
    static const char *const wanted[] = {"cassette, side B",
                                         "Both sides of a C60",
                                         "4.76 cm/s",
                                         "120 \u00B5s",
                                         "250 nWb/m",
                                         "29:10 of 30:00",
                                         "-12 dBFS",
                                         "48000 Hz, 24 bit",
                                         "azimuth-broadband",
                                         "-6 to +8 dB",
                                         "16 tones, 31.5 Hz to 16",
                                         "left",
                                         "right",
                                         "recorded on deck",
                                         "date",
                                         "certificate",
                                         "Keep it away from magneti",
                                         "level control"};
    sheet_of("cassette");
    es_text_log log = painted(&sheet.sides[1]);
    assert_all_written(&log, wanted, COUNT(wanted));
}

static void without_a_file_there_is_a_dash(void **state)
{
    (void)state;
    sheet_of("reel-19");
    sheet.rate_hz = sheet.reference_dbfs = (double)NAN;
    es_text_log log = painted(&sheet.sides[0]);
    assert_true(is_written(&log, "\u2013"));
    assert_true(is_written(&log, "nab-19"));
    assert_false(is_written(&log, "nan"));
}

/* --- the document ------------------------------------------------------------------------------- */

static size_t drawn(char **bytes)
{
    size_t count;
    FILE *stream = open_memstream(bytes, &count);
    assert_non_null(stream);
    assert_int_equal(es_cue_sheet_draw(&sheet, stream, NULL), ES_OK);
    assert_int_equal(ferror(stream), 0);
    fclose(stream);
    return count;
}

static void the_same_sheet_gives_the_same_bytes(void **state)
{
    (void)state;
    char *once, *twice;
    sheet_of("cassette-short");
    size_t count = drawn(&once);
    assert_int_equal(drawn(&twice), count);
    assert_memory_equal(once, twice, count);
    assert_memory_equal(once, "%PDF-", 5);
    free(once);
    free(twice);
}

static void a_full_disk_shows_in_the_stream(void **state)
{
    (void)state;
    FILE *full = fopen("/dev/full", "wb");
    if (!full)
        skip();
    sheet_of("cassette-short");
    assert_int_equal(es_cue_sheet_draw(&sheet, full, NULL), ES_OK);
    assert_true(fflush(full) != 0 || ferror(full));
    fclose(full);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_lies_on_anything_else),
        cmocka_unit_test(a_full_programme_has_room),
        cmocka_unit_test(the_page_says_what_stands_where),
        cmocka_unit_test(without_a_file_there_is_a_dash),
        cmocka_unit_test(the_same_sheet_gives_the_same_bytes),
        cmocka_unit_test(a_full_disk_shows_in_the_stream),
    };
    return cmocka_run_group_tests_name("paper/cue_sheet", tests, NULL, NULL);
}
