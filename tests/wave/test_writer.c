#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "alloc_probe.h"
#include "near.h"
#include "support_wave.h"
#include "wave/new_file.h"
#include "wave/writer.h"

#include <fcntl.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define FRAMES 3000

static const es_wave_writer_settings plain = {.rate_hz = 48000, .channels = 2};

static const float *frames(double gain)
{
    static float made[2 * FRAMES];
    for (size_t i = 0; i < 2 * FRAMES; i++)
        made[i] = (float)(gain * sample_at(i / 2, (int)(i % 2)));
    return made;
}

static void write_file(const char *path, const es_wave_writer_settings *settings, double gain)
{
    es_wave_writer *writer;
    es_error error = {0};
    if (es_wave_writer_open(path, settings, &writer, &error) != ES_OK)
        fail_msg("%s", error.text);
    assert_int_equal(es_wave_writer_write(writer, frames(gain), FRAMES, &error), ES_OK);
    assert_int_equal(es_wave_writer_keep(writer, &error), ES_OK);
}

/* By the library alone: what stands in the file. */
static SF_INFO look(const char *path, float *samples)
{
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    assert_non_null(file);
    assert_int_equal(sf_readf_float(file, samples, FRAMES), FRAMES);
    sf_close(file);
    assert_int_equal(info.frames, FRAMES);
    return info;
}

static void writes_what_the_ending_says(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        int as_float, format;
    } kinds[] = {{"a.wav", 0, SF_FORMAT_WAV | SF_FORMAT_PCM_24},
                 {"a.WAV", 1, SF_FORMAT_WAV | SF_FORMAT_FLOAT},
                 {"a.flac", 0, SF_FORMAT_FLAC | SF_FORMAT_PCM_24},
                 {"a.aiff", 0, SF_FORMAT_AIFF | SF_FORMAT_PCM_24},
                 {"a.w64", 1, SF_FORMAT_W64 | SF_FORMAT_FLOAT}};
    static float samples[2 * FRAMES];
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        es_wave_writer_settings settings = plain;
        settings.as_float = kinds[i].as_float;
        write_file(here(kinds[i].name), &settings, 1.0);
        SF_INFO info = look(here(kinds[i].name), samples);
        int container = info.format & SF_FORMAT_TYPEMASK;
        if (container == SF_FORMAT_WAVEX)
            container = SF_FORMAT_WAV;
        assert_int_equal(container | (info.format & SF_FORMAT_SUBMASK), kinds[i].format);
        assert_int_equal(info.samplerate, 48000);
        double half_a_step = kinds[i].as_float ? 0.0 : 0.5 / (1 << 23); /* of 24 bit, and no more */
        for (size_t k = 0; k < 2 * FRAMES; k++)
            assert_near((double)samples[k], (double)frames(1.0)[k], half_a_step);
    }
}

static void clips_whole_numbers_and_keeps_float(void **state)
{
    (void)state;
    static float samples[2 * FRAMES];
    write_file(here("clip.wav"), &plain, 2.0);
    look(here("clip.wav"), samples);
    for (size_t k = 0; k < 2 * FRAMES; k++)
        assert_near((double)samples[k], fmax(-1.0, fmin(1.0, (double)frames(2.0)[k])), 1e-6);
    es_wave_writer_settings settings = plain;
    settings.as_float = 1;
    write_file(here("keep.wav"), &settings, 2.0);
    look(here("keep.wav"), samples);
    assert_memory_equal(samples, frames(2.0), sizeof samples);
}

static size_t slurp(const char *path, unsigned char *bytes, size_t room)
{
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    size_t count = fread(bytes, 1, room, file);
    fclose(file);
    return count;
}

static void gives_the_same_bytes_at_another_time(void **state)
{
    (void)state;
    static unsigned char one[100000], two[100000];
    static const char *const names[] = {"t.wav", "t.flac", "t.aiff"};
    for (size_t i = 0; i < 3; i++) {
        es_wave_writer_settings settings = plain;
        settings.replace = 1;
        settings.as_float = i == 0;
        write_file(here(names[i]), &settings, 1.0);
        size_t size = slurp(here(names[i]), one, sizeof one);
        usleep(1100000); /* some formats tell the second in which they were made */
        write_file(here(names[i]), &settings, 1.0);
        assert_int_equal(slurp(here(names[i]), two, sizeof two), size);
        assert_memory_equal(one, two, size);
    }
}

static void refuses_to_replace_a_file_unasked(void **state)
{
    (void)state;
    static char text[16];
    const char *path = write_bytes("old.wav", "precious", 8);
    es_wave_writer *writer;
    es_error error = {0};
    assert_int_equal(es_wave_writer_open(path, &plain, &writer, &error), ES_ERR_IO);
    assert_null(writer);
    assert_string_equal(error.code, "exists");
    assert_int_equal(slurp(path, (unsigned char *)text, sizeof text), 8);
    assert_string_equal(text, "precious");
}

/* Somebody else makes a file of that name while ours is being written. */
static void does_not_replace_a_file_that_came_meanwhile(void **state)
{
    (void)state;
    static char text[16];
    es_wave_writer *writer;
    es_error error = {0};
    const char *path = here("race.wav");
    assert_int_equal(es_wave_writer_open(path, &plain, &writer, &error), ES_OK);
    write_bytes("race.wav", "first", 5);
    assert_int_equal(es_wave_writer_keep(writer, &error), ES_ERR_IO);
    assert_string_equal(error.code, "exists");
    assert_int_equal(slurp(path, (unsigned char *)text, sizeof text), 5);
    assert_int_not_equal(access(here("race.wav.part-0"), F_OK), 0);
}

static void leaves_nothing_behind_when_dropped(void **state)
{
    (void)state;
    es_wave_writer *writer;
    assert_int_equal(es_wave_writer_open(here("drop.wav"), &plain, &writer, NULL), ES_OK);
    assert_int_equal(access(here("drop.wav.part-0"), F_OK), 0);
    assert_int_not_equal(access(here("drop.wav"), F_OK), 0);
    es_wave_writer_drop(writer);
    assert_int_not_equal(access(here("drop.wav.part-0"), F_OK), 0);
    assert_int_not_equal(access(here("drop.wav"), F_OK), 0);
    es_wave_writer_drop(NULL);
}

static void refuses_names_that_can_not_be_written(void **state)
{
    (void)state;
    static const struct {
        const char *path;
        es_status status;
        const char *code;
    } names[] = {{"/tmp/x.doc", ES_ERR_ARG, "wave-kind"},
                 {"/tmp/wav", ES_ERR_ARG, "wave-kind"},
                 {".wav", ES_ERR_ARG, "wave-kind"},
                 {"/nowhere/at/all/x.wav", ES_ERR_IO, "no-folder"}};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        es_wave_writer *writer;
        es_error error = {0};
        assert_int_equal(es_wave_writer_open(names[i].path, &plain, &writer, &error),
                         names[i].status);
        assert_null(writer);
        assert_string_equal(error.code, names[i].code);
    }
    es_wave_writer *writer;
    es_error error = {0};
    es_wave_writer_settings settings = {.rate_hz = 48000, .channels = 2, .as_float = 1};
    assert_int_equal(es_wave_writer_open(here("f.flac"), &settings, &writer, &error), ES_ERR_ARG);
    assert_string_equal(error.code, "wave-kind");
}

static void follows_a_link_when_it_replaces(void **state)
{
    (void)state;
    static char text[16];
    write_bytes("real.txt", "old", 3);
    char target[400];
    strcpy(target, here("real.txt"));
    assert_int_equal(symlink(target, here("link.txt")), 0);
    es_new_file file;
    assert_int_equal(es_new_file_open(&file, here("link.txt"), 1, NULL), ES_OK);
    assert_int_equal(write(file.fd, "new", 3), 3);
    assert_int_equal(es_new_file_keep(&file, NULL), ES_OK);
    assert_int_equal(slurp(target, (unsigned char *)text, sizeof text), 3);
    assert_string_equal(text, "new");
}

static void closes_what_it_opened(void **state)
{
    (void)state;
    char path[400];
    strcpy(path, here("closed.wav"));
    int before = open("/dev/null", O_RDONLY);
    close(before);
    write_file(path, &plain, 1.0);
    es_wave_writer *writer;
    assert_int_equal(es_wave_writer_open(here("closed2.wav"), &plain, &writer, NULL), ES_OK);
    es_wave_writer_drop(writer);
    assert_int_equal(es_wave_writer_open(path, &plain, &writer, NULL), ES_ERR_IO);
    int after = open("/dev/null", O_RDONLY);
    close(after);
    assert_int_equal(after, before);
}

static void survives_every_failing_allocation(void **state)
{
    (void)state;
    es_wave_writer *writer;
    char path[400];
    strcpy(path, here("probe.wav"));
    alloc_probe_reset();
    assert_int_equal(es_wave_writer_open(path, &plain, &writer, NULL), ES_OK);
    long needed = alloc_probe_calls();
    es_wave_writer_drop(writer);
    assert_true(needed > 0);
    for (long allowed = 0; allowed < needed; allowed++) {
        alloc_probe_fail_after(allowed);
        es_status status = es_wave_writer_open(path, &plain, &writer, NULL);
        alloc_probe_reset();
        assert_int_equal(status, ES_ERR_NOMEM);
        assert_null(writer);
        assert_int_not_equal(access(here("probe.wav.part-0"), F_OK), 0);
    }
}

static int clear(void **state)
{
    (void)state;
    clear_here();
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(writes_what_the_ending_says),
        cmocka_unit_test(clips_whole_numbers_and_keeps_float),
        cmocka_unit_test(gives_the_same_bytes_at_another_time),
        cmocka_unit_test(refuses_to_replace_a_file_unasked),
        cmocka_unit_test(does_not_replace_a_file_that_came_meanwhile),
        cmocka_unit_test(leaves_nothing_behind_when_dropped),
        cmocka_unit_test(refuses_names_that_can_not_be_written),
        cmocka_unit_test(follows_a_link_when_it_replaces),
        cmocka_unit_test(closes_what_it_opened),
        cmocka_unit_test(survives_every_failing_allocation),
    };
    return cmocka_run_group_tests(tests, NULL, clear);
}
