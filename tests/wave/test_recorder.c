/* The recorder: files that are whole whenever the program or the disk ends. */
#include "cm.h"

#include "alloc_probe.h"
#include "wave/reader.h"
#include "wave/recorder.h"

#include <errno.h>
#include <math.h>
#include <sched.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#define RATE 48000
#define BLOCK 480
#define CODER 4096 /* frames that the FLAC coder gathers (libFLAC's usual block) */

static char folder[] = "/tmp/es_recorder_XXXXXX";

static const char *const kinds[] = {"a.wav", "a.flac"};

static const char *in_folder(const char *name)
{
    static char path[200];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

/* Multiples of 2^-23, which 24 bit hold exactly; neither loud nor easy to code. */
static float sample(int64_t frame, int channel)
{
    uint64_t mixed = (uint64_t)(2 * frame + channel) * 6364136223846793005u;
    int64_t slope = frame % 320 < 160 ? frame % 160 : 160 - frame % 160;
    return (float)(slope * 6000 + (int64_t)(mixed >> 48)) / 8388608.0f;
}

static es_recorder *open_or_fail(const char *path)
{
    es_recorder *r;
    es_error e = {0};
    es_recorder_settings s = {.rate_hz = RATE, .channels = 2, .replace = 1};
    if (es_recorder_open(path, &s, &r, &e) != ES_OK)
        fail_msg("%s: %s", path, e.text);
    return r;
}

static es_status write_from(es_recorder *r, int64_t from, size_t count, es_error *error)
{
    float frames[2 * BLOCK];
    for (size_t i = 0; i < count; i++)
        for (int c = 0; c < 2; c++)
            frames[2 * i + (size_t)c] = sample(from + (int64_t)i, c);
    return es_recorder_write(r, frames, count, error);
}

static void write_blocks(es_recorder *r, int64_t blocks)
{
    for (int64_t b = 0; b < blocks; b++)
        assert_int_equal(write_from(r, b * BLOCK, BLOCK, NULL), ES_OK);
}

/* Frames read to the end, each compared; -1: the file can't be opened. */
static int64_t frames_of(const char *path, es_notes *warnings)
{
    es_wave_reader *reader;
    float frames[2 * 1024];
    int64_t count = 0, wrong = 0;
    size_t got = 1;
    if (es_wave_reader_open(path, NULL, &reader, NULL) != ES_OK)
        return -1;
    while (es_wave_reader_read(reader, frames, 1024, &got, NULL) == ES_OK && got > 0) {
        for (size_t i = 0; i < 2 * got; i++)
            wrong += frames[i] != sample(count + (int64_t)(i / 2), (int)(i % 2));
        count += (int64_t)got;
    }
    *warnings = *es_wave_reader_warnings(reader);
    es_wave_reader_close(reader);
    assert_int_equal(wrong, 0);
    return count;
}

static void keeps_every_sample(void **state)
{
    (void)state;
    for (size_t k = 0; k < COUNT(kinds); k++) {
        const char *path = in_folder(kinds[k]);
        es_notes warnings;
        es_recorder *r = open_or_fail(path);
        write_blocks(r, 333);
        assert_int_equal(es_recorder_frames(r), 333 * BLOCK);
        assert_int_equal(es_recorder_close(r, NULL), ES_OK);
        assert_int_equal(frames_of(path, &warnings), 333 * BLOCK);
        assert_int_equal(warnings.count, 0); /* nothing cut short, nothing left open */
    }
    assert_int_equal(es_recorder_close(NULL, NULL), ES_OK);
}

/* A block may be longer than the second after which it must be flushed. */
static void any_block_size_gives_the_same_file(void **state)
{
    (void)state;
    static float frames[2 * 3 * RATE];
    static char one[3 * RATE * 8 + 1000], other[3 * RATE * 8 + 1000];
    for (int i = 0; i < 2 * 3 * RATE; i++)
        frames[i] = sample(i / 2, i % 2);
    es_recorder *r = open_or_fail(in_folder("one.wav"));
    assert_int_equal(es_recorder_write(r, frames, 3 * RATE, NULL), ES_OK);
    es_recorder_close(r, NULL);
    sleep(1); /* the time of day must not show */
    r = open_or_fail(in_folder("other.wav"));
    write_blocks(r, 3 * RATE / BLOCK);
    es_recorder_close(r, NULL);
    FILE *f = fopen(in_folder("one.wav"), "rb");
    size_t size = fread(one, 1, sizeof one, f);
    fclose(f);
    f = fopen(in_folder("other.wav"), "rb");
    assert_int_equal(fread(other, 1, sizeof other, f), size);
    fclose(f);
    assert_memory_equal(one, other, size);
}

/* Below 4 GiB a recording is a plain WAV file, which every program knows, also in the making. */
static void a_recording_in_the_making_is_a_plain_wav_file(void **state)
{
    (void)state;
    char head[12] = {0};
    es_recorder *r = open_or_fail(in_folder("a.wav"));
    write_blocks(r, 200);
    FILE *f = fopen(in_folder("a.wav"), "rb");
    assert_int_equal(fread(head, 1, 12, f), 12);
    fclose(f);
    assert_memory_equal(head, "RIFF", 4);
    assert_memory_equal(head + 8, "WAVE", 4);
    es_recorder_close(r, NULL);
}

/* --- kill -9 --------------------------------------------------------------------------------- */

/* What the child has done by now, in shared memory. */
typedef struct progress {
    volatile int64_t written, flushed;
} progress;

static void record_until_killed(const char *path, progress *p, unsigned pause_us)
{
    es_recorder *r = open_or_fail(path);
    for (int64_t b = 0;; b++) {
        if (write_from(r, b * BLOCK, BLOCK, NULL) != ES_OK)
            _exit(1);
        p->written = (b + 1) * BLOCK;
        p->flushed = p->written / RATE * RATE;
        if (pause_us)
            usleep(pause_us);
    }
}

static void kill_after(const char *path, unsigned us, unsigned pause_us, progress *p)
{
    *p = (progress){0};
    unlink(path);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0)
        record_until_killed(path, p, pause_us);
    while (p->written == 0 && waitpid(child, NULL, WNOHANG) == 0)
        usleep(100);
    usleep(us);
    kill(child, SIGKILL);
    waitpid(child, NULL, 0);
}

static void a_killed_recording_loses_less_than_a_second(void **state)
{
    (void)state;
    progress *p = mmap(NULL, sizeof *p, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    int64_t worst[2] = {0, 0};
    for (int i = 0; i < 40; i++) {
        const char *path = in_folder(kinds[i % 2]);
        es_notes warnings;
        kill_after(path, 1000u + 1777u * (unsigned)i, i % 4 < 2 ? 0 : 200, p);
        int64_t got = frames_of(path, &warnings);
        if (got < p->flushed - (i % 2 ? CODER + 1 : 0) || got < p->written - RATE - BLOCK)
            fail_msg("%s: %lld frames of %lld", path, (long long)got, (long long)p->written);
        if (p->written - got > worst[i % 2])
            worst[i % 2] = p->written - got;
    }
    print_message("killed: at most %lld frames lost of WAV, %lld of FLAC\n", (long long)worst[0],
                  (long long)worst[1]);
    munmap(p, sizeof *p);
}

static void a_recording_killed_at_once_can_be_opened(void **state)
{
    (void)state;
    for (size_t k = 0; k < COUNT(kinds); k++) {
        const char *path = in_folder(kinds[k]);
        es_wave_reader *reader;
        es_error e = {0};
        unlink(path);
        pid_t child = fork();
        if (child == 0) {
            open_or_fail(path);
            raise(SIGKILL);
        }
        waitpid(child, NULL, 0);
        if (es_wave_reader_open(path, NULL, &reader, &e) != ES_OK) {
            assert_string_equal(e.code, "empty"); /* not: damaged */
            continue;
        }
        float frame[2];
        size_t got = 1;
        es_wave_reader_read(reader, frame, 1, &got, &e);
        assert_int_equal(got, 0); /* a head and nothing else */
        es_wave_reader_close(reader);
    }
}

/* A power cut may leave any length. What is whole of it is read, sample for sample. */
static void a_flac_file_cut_anywhere_reads_as_far_as_it_goes(void **state)
{
    (void)state;
    char path[200];
    strcpy(path, in_folder("a.flac"));
    es_notes warnings;
    es_recorder *r = open_or_fail(path);
    write_blocks(r, 300);
    es_recorder_close(r, NULL);
    struct stat whole;
    stat(path, &whole);
    unsigned seed = 1;
    for (int i = 0; i < 60; i++) {
        seed = seed * 1664525u + 1013904223u;
        off_t size = whole.st_size - 1 -
                     (off_t)((double)(seed >> 8) / 16777216.0 * 0.97 * (double)whole.st_size);
        r = open_or_fail(path);
        write_blocks(r, 300);
        es_recorder_close(r, NULL);
        assert_int_equal(truncate(path, size), 0);
        int64_t got = frames_of(path, &warnings);
        int64_t share = (int64_t)((double)size / (double)whole.st_size * 300 * BLOCK);
        if (got < share - 3 * CODER || warnings.count != 1)
            fail_msg("%lld of %lld bytes: %lld frames, %zu warnings", (long long)size,
                     (long long)whole.st_size, (long long)got, warnings.count);
    }
}

/* --- disk full ----------------------------------------------------------------------------- */

/* Records 10 s where only some 0.5 MB can be written: one error, then silence, and a readable
 * file. Returns by the exit code, since it runs in a child. */
static int record_into(const char *path, const char *code)
{
    es_notes warnings;
    es_recorder *r = open_or_fail(path);
    int errors = 0;
    int64_t before = 0;
    for (int64_t b = 0; b < 1000; b++) {
        es_error e = {0};
        if (write_from(r, b * BLOCK, BLOCK, &e) == ES_OK)
            continue;
        before = es_recorder_frames(r);
        errors++;
        if (strcmp(e.code, code) != 0)
            return 10;
    }
    if (errors != 1 || es_recorder_goes_on(r))
        return 11;
    if (es_recorder_flush(r, NULL) != ES_OK || es_recorder_close(r, NULL) != ES_OK)
        return 12;
    int64_t got = frames_of(path, &warnings);
    return got >= before - CODER - 1 && got > RATE / 2 ? 0 : 13;
}

static int exit_of(pid_t child)
{
    int how = 0;
    waitpid(child, &how, 0);
    return WIFEXITED(how) ? WEXITSTATUS(how) : 99;
}

static void a_limit_on_the_file_is_told_once_and_what_was_written_stays(void **state)
{
    (void)state;
    for (size_t k = 0; k < COUNT(kinds); k++) {
        pid_t child = fork();
        if (child == 0) {
            struct rlimit limit = {500001, 500001};
            signal(SIGXFSZ, SIG_IGN);
            setrlimit(RLIMIT_FSIZE, &limit);
            _exit(record_into(in_folder(kinds[k]), "write-failed"));
        }
        assert_int_equal(exit_of(child), 0);
    }
}

/* A disk of 0.5 MB of its own, where that is permitted. */
static void a_full_disk_is_told_once_and_what_was_written_stays(void **state)
{
    (void)state;
    int refused = 0;
    for (size_t k = 0; k < COUNT(kinds); k++) {
        pid_t child = fork();
        if (child == 0) {
            if (unshare(CLONE_NEWNS) != 0 ||
                mount("none", "/", NULL, MS_REC | MS_PRIVATE, NULL) != 0 ||
                mount("none", folder, "tmpfs", 0, "size=500k") != 0)
                _exit(77);
            _exit(record_into(in_folder(kinds[k]), "disk-full"));
        }
        int code = exit_of(child);
        refused |= code == 77;
        assert_true(code == 0 || code == 77);
    }
    if (refused) {
        print_message("no disk of its own may be made here\n");
        skip();
    }
}

static void a_device_that_is_always_full_is_refused_at_once(void **state)
{
    (void)state;
    es_recorder *r;
    es_error e = {0};
    es_recorder_settings s = {.rate_hz = RATE, .channels = 2};
    for (size_t k = 0; k < COUNT(kinds); k++) {
        const char *path = in_folder(kinds[k]);
        unlink(path);
        assert_int_equal(symlink("/dev/full", path), 0);
        e = (es_error){0};
        assert_int_equal(es_recorder_open(path, &s, &r, &e), ES_ERR_IO);
        assert_string_equal(e.code, "disk-full");
        assert_null(r);
        unlink(path);
    }
}

/* --- opening ------------------------------------------------------------------------------- */

static void refuses_what_it_can_not_record(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        es_recorder_settings settings;
        es_status status;
        const char *code;
    } cases[] = {
        {"a.mp3", {RATE, 2, 0}, ES_ERR_ARG, "wave-kind"},
        {"wav", {RATE, 2, 0}, ES_ERR_ARG, "wave-kind"},
        {".wav", {RATE, 2, 0}, ES_OK, ""},
        {"b.flac", {RATE, 9, 0}, ES_ERR_ARG, "wave-kind"},
        {"b.wav", {RATE, 0, 0}, ES_ERR_ARG, "wave-kind"},
        {"there.wav", {RATE, 2, 0}, ES_ERR_IO, "exists"},
        {"nowhere/a.wav", {RATE, 2, 0}, ES_ERR_IO, "no-folder"},
    };
    fclose(fopen(in_folder("there.wav"), "w"));
    for (size_t i = 0; i < COUNT(cases); i++) {
        es_recorder *r;
        es_error e = {0};
        assert_int_equal(es_recorder_open(in_folder(cases[i].name), &cases[i].settings, &r, &e),
                         cases[i].status);
        assert_string_equal(e.code, cases[i].code);
        es_recorder_close(r, NULL);
    }
}

static void survives_allocation_failure(void **state)
{
    (void)state;
    es_recorder *r = NULL;
    es_recorder_settings s = {.rate_hz = RATE, .channels = 2, .replace = 1};
    for (long n = 0; n < 3; n++) { /* ours: the library's own are not counted */
        alloc_probe_fail_after(n);
        es_status status = es_recorder_open(in_folder("c.wav"), &s, &r, NULL);
        if (status != ES_OK) {
            assert_int_equal(status, ES_ERR_NOMEM);
            assert_null(r);
            assert_true(alloc_probe_live() <= 0); /* strdup's are not counted, their free is */
        }
    }
    alloc_probe_reset();
    es_recorder_close(r, NULL);
}

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    char command[200];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keeps_every_sample),
        cmocka_unit_test(any_block_size_gives_the_same_file),
        cmocka_unit_test(a_recording_in_the_making_is_a_plain_wav_file),
        cmocka_unit_test(a_killed_recording_loses_less_than_a_second),
        cmocka_unit_test(a_recording_killed_at_once_can_be_opened),
        cmocka_unit_test(a_flac_file_cut_anywhere_reads_as_far_as_it_goes),
        cmocka_unit_test(a_limit_on_the_file_is_told_once_and_what_was_written_stays),
        cmocka_unit_test(a_full_disk_is_told_once_and_what_was_written_stays),
        cmocka_unit_test(a_device_that_is_always_full_is_refused_at_once),
        cmocka_unit_test(refuses_what_it_can_not_record),
        cmocka_unit_test(survives_allocation_failure),
    };
    return cmocka_run_group_tests_name("wave/recorder", tests, make_folder, remove_folder);
}
