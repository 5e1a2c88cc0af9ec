#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "paper/page.h"
#include "paper/picture.h"
#include "samples.h"
#include "written.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#define TEXTS_MOST 400
#define KINDS 3

static const char *const kinds[KINDS] = {"png", "svg", "pdf"};
static es_check_result result;
static char folder[] = "/tmp/es-paper-XXXXXX";

typedef struct {
    unsigned char *bytes;
    size_t count;
} content;

static const char *path_of(const char *name)
{
    static char path[2][128];
    static int turn;
    turn = !turn;
    snprintf(path[turn], sizeof path[turn], "%s/%s", folder, name);
    return path[turn];
}

static content read_all(const char *path)
{
    content c = {0};
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    assert_int_equal(fseek(file, 0, SEEK_END), 0);
    c.count = (size_t)ftell(file);
    rewind(file);
    c.bytes = malloc(c.count + 1);
    assert_non_null(c.bytes);
    assert_int_equal(fread(c.bytes, 1, c.count, file), c.count);
    c.bytes[c.count] = '\0';
    fclose(file);
    return c;
}

static int holds(content c, const char *words)
{
    size_t length = strlen(words);
    for (size_t i = 0; i + length <= c.count; i++)
        if (memcmp(c.bytes + i, words, length) == 0)
            return 1;
    return 0;
}

static size_t times(content c, const char *words)
{
    size_t found = 0;
    for (const char *at = (const char *)c.bytes; (at = strstr(at, words)); at++)
        found++;
    return found;
}

static content drawn(sample which, const char *kind)
{
    char name[32];
    es_error error = {0};
    snprintf(name, sizeof name, "drawn.%s", kind);
    const char *path = path_of(name);
    sample_fill(which, &result);
    assert_int_equal(es_picture_draw(&result, "A deck, side A", path, &error), ES_OK);
    assert_string_equal(error.text, "");
    content c = read_all(path);
    unlink(path);
    return c;
}

/* First bytes: PNG (ISO/IEC 15948, 5.2), PDF (ISO 32000-1, 7.5.2), SVG as an XML document. */
static void draws_all_three_kinds_of_every_sample(void **state)
{
    (void)state;
    static const char *const begins[KINDS] = {"\x89PNG\r\n\x1a\n", "<?xml", "%PDF-1."};
    static const char *const ends[KINDS] = {"IEND", "</svg>", "%%EOF"};
    for (int s = 0; s < SAMPLE_COUNT; s++) {
        for (int k = 0; k < KINDS; k++) {
            content c = drawn((sample)s, kinds[k]);
            assert_true(c.count > 10000);
            assert_memory_equal(c.bytes, begins[k], strlen(begins[k]));
            content tail = {c.bytes + c.count - 16, 16};
            assert_true(holds(tail, ends[k]));
            free(c.bytes);
        }
    }
}

static void the_same_result_gives_the_same_bytes(void **state)
{
    (void)state;
    for (int k = 0; k < KINDS; k++) {
        content first = drawn(SAMPLE_FAULT, kinds[k]);
        content second = drawn(SAMPLE_FAULT, kinds[k]);
        assert_int_equal(first.count, second.count);
        assert_memory_equal(first.bytes, second.bytes, first.count);
        free(first.bytes);
        free(second.bytes);
    }
}

static void the_pdf_tells_no_date_unless_it_is_given(void **state)
{
    (void)state;
    content c = drawn(SAMPLE_SLOW, "pdf");
    assert_false(holds(c, "CreationDate"));
    free(c.bytes);
}

static void the_png_is_an_a4_page_at_144_dots_an_inch(void **state)
{
    (void)state;
    content c = drawn(SAMPLE_SLOW, "png");
    static const unsigned char size[] = {0, 0, 0x06, 0x94, 0, 0, 0x04, 0xA7}; /* 1684 x 1191 */
    assert_memory_equal(c.bytes + 16, size, sizeof size);
    free(c.bytes);
}

/* Text is outlines in an SVG: each written letter is a <use> of a glyph. */
static void the_svg_has_its_letters(void **state)
{
    (void)state;
    content c = drawn(SAMPLE_SLOW, "svg");
    assert_true(times(c, "<use ") > 800);
    assert_true(holds(c, "id=\"glyph"));
    free(c.bytes);
}

static void the_svg_can_be_read_aloud(void **state)
{
    (void)state;
    es_error error = {0};
    sample_fill(SAMPLE_SLOW, &result);
    assert_int_equal(es_picture_draw(&result, "a <b> & c", path_of("a.svg"), &error), ES_OK);
    content c = read_all(path_of("a.svg"));
    assert_true(holds(c, "<title>a &lt;b&gt; &amp; c</title>"));
    assert_true(holds(c, "<desc>Adjust: it runs slow. Speed error \u22121.24 ± 0.10 %."));
    free(c.bytes);
    unlink(path_of("a.svg"));
}

/* --- the page ------------------------------------------------------------------------------------ */

static es_box boxes[TEXTS_MOST];
static char words[TEXTS_MOST][40];

static es_text_log painted(const es_picture *picture)
{
    es_text_log log = {.room = TEXTS_MOST, .boxes = boxes, .words = words};
    cairo_surface_t *surface = cairo_recording_surface_create(CAIRO_CONTENT_COLOR, NULL);
    cairo_t *cr = cairo_create(surface);
    assert_int_equal(es_page_paint(cr, picture, &log, NULL), ES_OK);
    assert_int_equal(cairo_status(cr), CAIRO_STATUS_SUCCESS);
    cairo_destroy(cr);
    cairo_surface_destroy(surface);
    assert_in_range(log.count, 30, TEXTS_MOST);
    return log;
}

static const es_box inner = {20.0, 14.0, ES_PAGE_WIDTH - 20.0, ES_PAGE_HEIGHT - 12.0};

static void no_text_lies_on_another_or_leaves_the_page(void **state)
{
    (void)state;
    static char title[700];
    memset(title, 'W', sizeof title - 1);
    for (int s = 0; s < SAMPLE_COUNT; s++) {
        sample_fill((sample)s, &result);
        es_picture picture = es_picture_of(&result, title);
        picture.date = "30 September 2031";
        es_text_log log = painted(&picture);
        assert_apart(inner, &log, sample_name((sample)s));
    }
}

/* Errors and tolerances of every size: the names at the right keep apart. */
static void names_of_lines_keep_apart_at_every_error(void **state)
{
    (void)state;
    static const double errors[] = {0.0, 0.01, -0.01, 0.3, -0.49, 0.5, 2.0, -15.0, 60.0};
    for (size_t i = 0; i < sizeof errors / sizeof *errors; i++) {
        sample_fill(SAMPLE_GOOD, &result);
        for (size_t k = 0; k < result.trace.count; k++) {
            result.trace.mean[k] += (float)errors[i];
            result.trace.low[k] += (float)errors[i];
            result.trace.high[k] += (float)errors[i];
        }
        result.speed.error_percent += errors[i];
        es_picture picture = es_picture_of(&result, "deck");
        picture.tolerance_percent = i % 3 ? 0.1 * (double)i : (double)NAN;
        es_text_log log = painted(&picture);
        assert_apart(inner, &log, "errors");
    }
}

static void the_page_says_what_was_found(void **state)
{
    (void)state;
    static const char *const wanted[] = {
        "Adjust: it runs slow", "\u22121.24 %",           "± 0.10 %, slow",  "capstan",
        "take-up reel",         "unknown part",           "zone ±0.3 %",     "3110.94 Hz",
        "The speed is off by",  "The sound card's clock", "Before the cover"};
    sample_fill(SAMPLE_SLOW, &result);
    es_picture picture = es_picture_of(&result, "A deck");
    es_text_log log = painted(&picture);
    assert_all_written(&log, wanted, sizeof wanted / sizeof *wanted);
}

static void a_page_of_unknowns_shows_dashes_and_no_figure(void **state)
{
    (void)state;
    size_t dashes = 0;
    sample_fill(SAMPLE_UNKNOWN, &result);
    es_picture picture = es_picture_of(&result, NULL);
    es_text_log log = painted(&picture);
    for (size_t i = 0; i < log.count; i++) {
        dashes += strcmp(words[i], "\u2013") == 0;
        if (words[i][0] >= '0' && words[i][0] <= '9')
            fail_msg("\"%s\" was made up", words[i]);
    }
    assert_int_equal(dashes, 1 + 8 + 8 + 6 + 4 + 3); /* large figure, and each table's rows */
}

static void a_title_of_broken_text_is_drawn_all_the_same(void **state)
{
    (void)state;
    sample_fill(SAMPLE_GOOD, &result);
    es_picture picture = es_picture_of(&result, "a\xff\xfe\n\tb.wav");
    es_text_log log = painted(&picture);
    assert_apart(inner, &log, "broken title");
    assert_int_equal(es_picture_draw(&result, "a\xff\n.wav", path_of("broken.pdf"), NULL), ES_OK);
    unlink(path_of("broken.pdf"));
}

/* --- files --------------------------------------------------------------------------------------- */

static void assert_refused(const char *path, es_status status, const char *code)
{
    es_error error = {0};
    sample_fill(SAMPLE_GOOD, &result);
    assert_int_equal(es_picture_draw(&result, "deck", path, &error), status);
    assert_string_equal(error.code, code);
    assert_true(strlen(error.text) > 30);
}

static void other_endings_are_refused(void **state)
{
    (void)state;
    static const char *const names[] = {"a.jpg", "a", "png", ".pngx", "a.svg/b", "a.", ""};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        assert_refused(names[i], ES_ERR_ARG, "picture-kind");
}

static void endings_may_be_written_large(void **state)
{
    (void)state;
    sample_fill(SAMPLE_GOOD, &result);
    assert_int_equal(es_picture_draw(&result, "deck", path_of("LARGE.PDF"), NULL), ES_OK);
    content c = read_all(path_of("LARGE.PDF"));
    assert_memory_equal(c.bytes, "%PDF", 4);
    free(c.bytes);
    unlink(path_of("LARGE.PDF"));
}

static void places_that_can_not_be_written_are_refused(void **state)
{
    (void)state;
    char far[5000];
    memset(far, 'x', sizeof far);
    memcpy(far + sizeof far - 5, ".png", 5);
    assert_refused(path_of("no-such-folder/a.png"), ES_ERR_IO, "no-folder");
    assert_refused(far, ES_ERR_IO, "name-too-long");
    assert_int_equal(mkdir(path_of("folder.svg"), 0700), 0);
    assert_refused(path_of("folder.svg"), ES_ERR_IO, "not-a-file");
    rmdir(path_of("folder.svg"));
}

/* The superuser may write everywhere, so there is nothing to see for it. */
static void a_folder_without_permission_is_refused(void **state)
{
    (void)state;
    if (geteuid() == 0)
        skip();
    assert_int_equal(chmod(folder, 0500), 0);
    assert_refused(path_of("a.png"), ES_ERR_IO, "no-permission");
    assert_int_equal(chmod(folder, 0700), 0);
}

/* A limit on file sizes stands in for a full disk: writing fails half-way. */
static void a_file_that_can_not_be_finished_leaves_the_old_one(void **state)
{
    (void)state;
    struct rlimit kept, small;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &kept), 0);
    signal(SIGXFSZ, SIG_IGN);
    for (int k = 0; k < KINDS; k++) {
        char name[32];
        snprintf(name, sizeof name, "old.%s", kinds[k]);
        FILE *old = fopen(path_of(name), "wb");
        assert_non_null(old);
        fputs("old", old);
        fclose(old);
        small = kept;
        small.rlim_cur = 5000;
        assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
        assert_refused(path_of(name), ES_ERR_IO, "write-failed");
        assert_int_equal(setrlimit(RLIMIT_FSIZE, &kept), 0);
        content c = read_all(path_of(name));
        assert_string_equal((char *)c.bytes, "old");
        free(c.bytes);
        unlink(path_of(name));
    }
}

static void a_link_keeps_pointing_at_the_picture(void **state)
{
    (void)state;
    struct stat there;
    sample_fill(SAMPLE_GOOD, &result);
    assert_int_equal(es_picture_draw(&result, "deck", path_of("real.svg"), NULL), ES_OK);
    assert_int_equal(symlink("real.svg", path_of("link.svg")), 0);
    assert_int_equal(es_picture_draw(&result, "other", path_of("link.svg"), NULL), ES_OK);
    assert_int_equal(lstat(path_of("link.svg"), &there), 0);
    assert_true(S_ISLNK(there.st_mode));
    assert_int_equal(lstat(path_of("real.svg"), &there), 0);
    assert_true(S_ISREG(there.st_mode));
    unlink(path_of("link.svg"));
    unlink(path_of("real.svg"));
}

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

/* Runs last: the folder is empty unless some test's part file stayed. */
static void nothing_is_left_behind(void **state)
{
    (void)state;
    assert_int_equal(rmdir(folder), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(draws_all_three_kinds_of_every_sample),
        cmocka_unit_test(the_same_result_gives_the_same_bytes),
        cmocka_unit_test(the_pdf_tells_no_date_unless_it_is_given),
        cmocka_unit_test(the_png_is_an_a4_page_at_144_dots_an_inch),
        cmocka_unit_test(the_svg_has_its_letters),
        cmocka_unit_test(the_svg_can_be_read_aloud),
        cmocka_unit_test(no_text_lies_on_another_or_leaves_the_page),
        cmocka_unit_test(names_of_lines_keep_apart_at_every_error),
        cmocka_unit_test(the_page_says_what_was_found),
        cmocka_unit_test(a_page_of_unknowns_shows_dashes_and_no_figure),
        cmocka_unit_test(a_title_of_broken_text_is_drawn_all_the_same),
        cmocka_unit_test(other_endings_are_refused),
        cmocka_unit_test(endings_may_be_written_large),
        cmocka_unit_test(places_that_can_not_be_written_are_refused),
        cmocka_unit_test(a_folder_without_permission_is_refused),
        cmocka_unit_test(a_file_that_can_not_be_finished_leaves_the_old_one),
        cmocka_unit_test(a_link_keeps_pointing_at_the_picture),
        cmocka_unit_test(nothing_is_left_behind),
    };
    return cmocka_run_group_tests_name("paper/picture", tests, make_folder, NULL);
}
