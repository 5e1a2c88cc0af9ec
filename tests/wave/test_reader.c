#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "alloc_probe.h"
#include "near.h"
#include "support_wave.h"
#include "wave/reader.h"

#include <fcntl.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define FRAMES 5000

static es_wave_reader *open_good(const char *path, const es_wave_raw *raw)
{
    es_wave_reader *reader;
    es_error error = {0};
    if (es_wave_reader_open(path, raw, &reader, &error) != ES_OK)
        fail_msg("%s: %s", path, error.text);
    assert_non_null(reader);
    return reader;
}

static void refused(const char *path, es_status status, const char *code)
{
    es_wave_reader *reader = (es_wave_reader *)&status;
    es_error error = {0};
    assert_int_equal(es_wave_reader_open(path, NULL, &reader, &error), status);
    assert_null(reader);
    assert_string_equal(error.code, code);
    size_t length = strlen(error.text);
    assert_true(length > 20 && error.text[length - 1] == '.');
}

/* Reads all in pieces of `room` frames; returns how many came. */
static size_t read_all(es_wave_reader *reader, float *out, size_t most, size_t room)
{
    size_t channels = (size_t)es_wave_reader_facts(reader).channels, total = 0, count;
    do {
        size_t take = most - total < room ? most - total : room;
        assert_int_equal(es_wave_reader_read(reader, out + total * channels, take, &count, NULL),
                         ES_OK);
        total += count;
    } while (count > 0 && total < most);
    return total;
}

static void holds_the_samples(es_wave_reader *reader, size_t frames, double gain, double tolerance)
{
    int channels = es_wave_reader_facts(reader).channels;
    float *read = calloc((frames + 10) * (size_t)channels, sizeof *read);
    assert_int_equal(read_all(reader, read, frames + 10, 700), frames);
    for (size_t i = 0; i < frames * (size_t)channels; i++)
        assert_near((double)read[i],
                    gain * sample_at(i / (size_t)channels, (int)(i % (size_t)channels)), tolerance);
    free(read);
}

/* Half a step of the coding, another step as the library writes by 2^n - 1 and reads by 2^n, and the
 * rounding of a float. */
#define STEP(bits) (1.5 / (double)(1LL << ((bits)-1)) + 1e-7)

static void reads_back_every_kind_of_file(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        int format, rate_hz, channels, bits;
        double tolerance;
    } kinds[] = {
        {"u8.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_U8, 44100, 2, 8, STEP(8)},
        {"s16.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 8000, 1, 16, STEP(16)},
        {"s24.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, 48000, 2, 24, STEP(24)},
        {"s32.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_32, 96000, 2, 32, STEP(24)},
        {"f32.wav", SF_FORMAT_WAV | SF_FORMAT_FLOAT, 192000, 2, 32, STEP(24)},
        {"f64.wav", SF_FORMAT_WAV | SF_FORMAT_DOUBLE, 384000, 1, 64, STEP(24)},
        {"ulaw.wav", SF_FORMAT_WAV | SF_FORMAT_ULAW, 8000, 1, 8, 0.03},
        {"ex.wav", SF_FORMAT_WAVEX | SF_FORMAT_PCM_24, 48000, 6, 24, STEP(24)},
        {"big.wav", SF_FORMAT_RF64 | SF_FORMAT_PCM_24, 48000, 2, 24, STEP(24)},
        {"b.w64", SF_FORMAT_W64 | SF_FORMAT_PCM_16, 48000, 32, 16, STEP(16)},
        {"x.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16 | SF_ENDIAN_BIG, 48000, 2, 16, STEP(16)},
        {"s8.aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_S8, 48000, 2, 8, STEP(8)},
        {"s24.aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_24, 48000, 64, 24, STEP(24)},
        {"s16.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_16, 44100, 2, 16, STEP(16)},
        {"s24.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_24, 96000, 2, 24, STEP(24)},
        {"v.ogg", SF_FORMAT_OGG | SF_FORMAT_VORBIS, 44100, 2, 0, 0.05},
    };
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        const char *path = write_capture(kinds[i].name, kinds[i].format, kinds[i].rate_hz,
                                         kinds[i].channels, FRAMES, 1.0);
        es_wave_reader *reader = open_good(path, NULL);
        es_wave_facts facts = es_wave_reader_facts(reader);
        assert_int_equal(facts.rate_hz, kinds[i].rate_hz);
        assert_int_equal(facts.channels, kinds[i].channels);
        assert_int_equal(facts.bits, kinds[i].bits);
        assert_int_equal(facts.frames, FRAMES);
        holds_the_samples(reader, FRAMES, 1.0, kinds[i].tolerance);
        assert_int_equal(es_wave_reader_warnings(reader)->count, 0);
        es_wave_reader_close(reader);
    }
}

/* Every byte pattern, the extremes among them, written as it is. */
static const char *write_patterns(const char *name, int format, size_t sample_bytes)
{
    static unsigned char bytes[4 * 2 * FRAMES];
    size_t count = 2 * FRAMES * sample_bytes;
    unsigned random = 1;
    for (size_t i = 0; i < count; i++) {
        random = random * 1664525u + 1013904223u;
        bytes[i] = (unsigned char)(i < 64 ? 0xFF : i < 128 ? 0 : random >> 24);
    }
    for (size_t i = 1; i < 16; i++) {
        bytes[i * sample_bytes - 1] = 0x7F;        /* the largest */
        bytes[(i + 24) * sample_bytes - 1] = 0x80; /* the smallest, more or less */
    }
    SF_INFO info = {.samplerate = 48000, .channels = 2, .format = format};
    const char *path = here(name);
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    assert_int_equal(sf_write_raw(file, bytes, (sf_count_t)count), count);
    sf_close(file);
    return path;
}

/* What the reader converts by itself against libsndfile 1.2's own floats. */
static void converts_plain_samples_to_the_same_bits_as_the_library(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        int format;
        size_t bytes;
    } kinds[] = {
        {"p16.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 2},
        {"p24.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, 3},
        {"p32.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_32, 4},
        {"p24.rf64", SF_FORMAT_RF64 | SF_FORMAT_PCM_24, 3},
        {"p24.w64", SF_FORMAT_W64 | SF_FORMAT_PCM_24, 3},
        {"px.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24 | SF_ENDIAN_BIG, 3},
        {"p24.aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_24, 3},
    };
    static float ours[2 * FRAMES], theirs[2 * FRAMES];
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        const char *path = write_patterns(kinds[i].name, kinds[i].format, kinds[i].bytes);
        SF_INFO info = {0};
        SNDFILE *file = sf_open(path, SFM_READ, &info);
        assert_int_equal(sf_readf_float(file, theirs, FRAMES), FRAMES);
        sf_close(file);
        es_wave_reader *reader = open_good(path, NULL);
        assert_int_equal(read_all(reader, ours, FRAMES, 3001), FRAMES);
        es_wave_reader_close(reader);
        assert_memory_equal(ours, theirs, sizeof ours);
    }
}

static void keeps_float_samples_beyond_full_scale(void **state)
{
    (void)state;
    const char *path =
        write_capture("loud.wav", SF_FORMAT_WAV | SF_FORMAT_FLOAT, 48000, 2, FRAMES, 2.5);
    es_wave_reader *reader = open_good(path, NULL);
    holds_the_samples(reader, FRAMES, 2.5, 1e-6);
    es_wave_reader_close(reader);
}

static void reads_the_same_whatever_the_room(void **state)
{
    (void)state;
    static float at_once[2 * FRAMES], in_pieces[2 * FRAMES];
    const char *path =
        write_capture("room.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_24, 48000, 2, FRAMES, 1.0);
    static const size_t rooms[] = {1, 7, 1024, FRAMES};
    es_wave_reader *reader = open_good(path, NULL);
    assert_int_equal(read_all(reader, at_once, FRAMES, FRAMES), FRAMES);
    es_wave_reader_close(reader);
    for (size_t i = 0; i < sizeof rooms / sizeof *rooms; i++) {
        reader = open_good(path, NULL);
        assert_int_equal(read_all(reader, in_pieces, FRAMES, rooms[i]), FRAMES);
        assert_memory_equal(at_once, in_pieces, sizeof at_once);
        es_wave_reader_close(reader);
    }
}

static void reads_raw_samples_as_described(void **state)
{
    (void)state;
    /* -1, 0, +1/2 of full scale, by hand: 16 bit, least byte first; 24 bit, most byte first */
    static const unsigned char little[] = {0x00, 0x80, 0x00, 0x00, 0x00, 0x40};
    static const unsigned char big[] = {0x80, 0, 0, 0, 0, 0, 0x40, 0, 0};
    static const struct {
        const unsigned char *bytes;
        size_t count;
        es_wave_coding coding;
        int bits;
    } raws[] = {{little, sizeof little, ES_CODING_S16LE, 16},
                {big, sizeof big, ES_CODING_S24BE, 24}};
    for (size_t i = 0; i < 2; i++) {
        es_wave_raw raw = {raws[i].coding, 44100, 3};
        es_wave_reader *reader = open_good(write_bytes("raw", raws[i].bytes, raws[i].count), &raw);
        float read[6];
        assert_int_equal(es_wave_reader_facts(reader).bits, raws[i].bits);
        assert_int_equal(es_wave_reader_facts(reader).frames, 1);
        assert_int_equal(read_all(reader, read, 2, 2), 1);
        assert_near((double)read[0], -1.0, 0.0);
        assert_near((double)read[1], 0.0, 0.0);
        assert_near((double)read[2], 0.5, 0.0);
        es_wave_reader_close(reader);
    }
}

static void reads_memory_as_it_reads_a_file(void **state)
{
    (void)state;
    static unsigned char bytes[200000];
    const char *path =
        write_capture("memory.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, 48000, 2, FRAMES, 1.0);
    FILE *file = fopen(path, "rb");
    size_t size = fread(bytes, 1, sizeof bytes, file);
    fclose(file);
    es_wave_reader *reader;
    assert_int_equal(es_wave_reader_open_memory(bytes, size, NULL, &reader, NULL), ES_OK);
    holds_the_samples(reader, FRAMES, 1.0, STEP(24));
    es_wave_reader_close(reader);
}

static void refuses_what_is_no_capture(void **state)
{
    (void)state;
    static const char text[] = "Dear diary, the tape deck is slow again today.\n";
    refused(here("nothing.wav"), ES_ERR_IO, "missing");
    refused("/tmp", ES_ERR_INPUT, "directory");
    refused(write_bytes("void.wav", "", 0), ES_ERR_INPUT, "empty");
    refused(write_bytes("text.wav", text, sizeof text), ES_ERR_INPUT, "not-audio");
    refused(write_bytes("head.wav", "RIFF\x24\0\0\0WAVEfmt \x10\0\0\0\x01\0", 22), ES_ERR_INPUT,
            "bad-header");
    refused(write_bytes("head.flac", "fLaC\0\0\0\x22\x10", 9), ES_ERR_INPUT, "bad-header");
    refused(write_bytes("head.aiff",
                        "FORM\0\0\0\x40"
                        "AIFFCOMM",
                        16),
            ES_ERR_INPUT, "bad-header");
    refused(write_capture("none.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 48000, 2, 0, 1.0),
            ES_ERR_INPUT, "empty");
    refused(write_capture("none.aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_16, 48000, 2, 0, 1.0),
            ES_ERR_INPUT, "empty");
    refused(write_capture("many.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 48000, 65, 10, 1.0),
            ES_ERR_INPUT, "too-many-channels");
    refused(write_capture("many.aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_16, 48000, 65, 10, 1.0),
            ES_ERR_INPUT, "too-many-channels");
    refused(write_capture("slow.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 7999, 2, 10, 1.0),
            ES_ERR_INPUT, "sample-rate");
    refused(write_capture("quick.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 384001, 2, 10, 1.0),
            ES_ERR_INPUT, "sample-rate");
    refused(write_capture("quick.aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_16, 400000, 2, 10, 1.0),
            ES_ERR_INPUT, "sample-rate");
}

static void refuses_what_may_not_be_read(void **state)
{
    (void)state;
    const char *path =
        write_capture("mine.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 48000, 2, 10, 1.0);
    assert_int_equal(chmod(path, 0), 0);
    int superuser = geteuid() == 0; /* may read everything: be somebody else */
    if (superuser)
        assert_int_equal(seteuid(65534), 0);
    refused(path, ES_ERR_IO, "no-permission");
    if (superuser)
        assert_int_equal(seteuid(0), 0);
}

/* The lengths at bytes 4 and 40 of a plain WAV file, as a recorder leaves them that was killed. */
static const char *with_lengths(const char *name, const char *path, uint32_t riff, uint32_t data,
                                size_t cut)
{
    static unsigned char bytes[100000];
    FILE *file = fopen(path, "rb");
    size_t size = fread(bytes, 1, sizeof bytes, file);
    fclose(file);
    for (size_t i = 0; i < 4; i++) {
        bytes[4 + i] = (unsigned char)(riff >> 8 * i);
        bytes[40 + i] = (unsigned char)(data >> 8 * i);
    }
    return write_bytes(name, bytes, cut ? cut : size);
}

static void reads_a_file_that_was_never_closed(void **state)
{
    (void)state;
    static const uint32_t riffs[] = {0, 36};
    const char *path =
        write_capture("whole.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 48000, 2, FRAMES, 1.0);
    for (size_t i = 0; i < 2; i++) {
        es_wave_reader *reader = open_good(with_lengths("open.wav", path, riffs[i], 0, 0), NULL);
        assert_non_null(es_notes_find(es_wave_reader_warnings(reader), "not-closed"));
        assert_int_equal(es_wave_reader_facts(reader).frames, FRAMES);
        holds_the_samples(reader, FRAMES, 1.0, STEP(16));
        es_wave_reader_close(reader);
    }
    es_wave_reader *reader =
        open_good(with_lengths("stream.wav", path, 0xFFFFFFFF, 0xFFFFFFFF, 0), NULL);
    assert_int_equal(es_wave_reader_warnings(reader)->count, 0);
    holds_the_samples(reader, FRAMES, 1.0, STEP(16));
    es_wave_reader_close(reader);
}

static void does_not_take_what_follows_an_empty_body_for_sound(void **state)
{
    (void)state;
    static const char bytes[] =
        "RIFF\x30\0\0\0WAVEfmt \x10\0\0\0\x01\0\x01\0\x80\xbb\0\0\0\x77\x01\0"
        "\x02\0\x10\0data\0\0\0\0LIST\x04\0\0\0INFO";
    refused(write_bytes("list.wav", bytes, 8 + 0x30), ES_ERR_INPUT, "empty");
}

static void warns_of_a_file_cut_short(void **state)
{
    (void)state;
    const char *whole =
        write_capture("cut.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 48000, 2, FRAMES, 1.0);
    es_wave_reader *reader =
        open_good(with_lengths("short.wav", whole, 36 + 4 * FRAMES, 4 * FRAMES, 44 + 4000), NULL);
    holds_the_samples(reader, 1000, 1.0, STEP(16));
    assert_non_null(es_notes_find(es_wave_reader_warnings(reader), "cut-short"));
    es_wave_reader_close(reader);

    whole = write_capture("cut.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_24, 48000, 2, 40000, 1.0);
    struct stat facts;
    assert_int_equal(stat(whole, &facts), 0);
    assert_int_equal(truncate(whole, facts.st_size / 2), 0);
    static float read[2 * 40000];
    reader = open_good(whole, NULL);
    size_t came = read_all(reader, read, 40000, 4096);
    assert_true(came > 4096 && came < 40000);
    assert_non_null(es_notes_find(es_wave_reader_warnings(reader), "cut-short"));
    es_wave_reader_close(reader);
}

static void refuses_a_file_without_a_single_good_frame(void **state)
{
    (void)state;
    const char *path =
        write_capture("bad.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_24, 48000, 2, 20000, 1.0);
    struct stat facts;
    assert_int_equal(stat(path, &facts), 0);
    FILE *file = fopen(path, "r+b");
    fseek(file, 42, SEEK_SET); /* behind the first metadata block */
    for (long i = 42; i < facts.st_size; i++)
        fputc(0x55, file);
    fclose(file);
    es_wave_reader *reader;
    es_error error = {0};
    es_status status = es_wave_reader_open(path, NULL, &reader, &error);
    float frames[200];
    size_t count = 1;
    if (status == ES_OK)
        status = es_wave_reader_read(reader, frames, 100, &count, &error);
    es_wave_reader_close(reader);
    assert_int_equal(status, ES_ERR_INPUT);
    assert_true(strcmp(error.code, "damaged") == 0 || strcmp(error.code, "bad-header") == 0);
}

static void survives_every_failing_allocation(void **state)
{
    (void)state;
    const char *path =
        write_capture("probe.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 48000, 2, 100, 1.0);
    es_wave_reader *reader;
    alloc_probe_reset();
    assert_int_equal(es_wave_reader_open(path, NULL, &reader, NULL), ES_OK);
    long needed = alloc_probe_calls();
    es_wave_reader_close(reader);
    assert_true(needed > 0);
    assert_int_equal(alloc_probe_live(), 0);
    for (long allowed = 0; allowed < needed; allowed++) {
        alloc_probe_fail_after(allowed);
        es_status status = es_wave_reader_open(path, NULL, &reader, NULL);
        long live = alloc_probe_live();
        alloc_probe_reset();
        assert_int_equal(status, ES_ERR_NOMEM);
        assert_null(reader);
        assert_int_equal(live, 0);
    }
    es_wave_reader_close(NULL);
}

/* The system hands out the lowest free number: it stays the same as long as all is closed. */
static int next_number(void)
{
    int fd = open("/dev/null", O_RDONLY);
    close(fd);
    return fd;
}

static void closes_what_it_opened(void **state)
{
    (void)state;
    char good[400], bad[400];
    strcpy(good, write_capture("closed.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 48000, 2, 100, 1.0));
    strcpy(bad, write_bytes("closed.txt", "no sound", 8));
    int before = next_number();
    es_wave_reader_close(open_good(good, NULL));
    assert_int_equal(next_number(), before);
    refused(bad, ES_ERR_INPUT, "not-audio");
    refused("/tmp", ES_ERR_INPUT, "directory");
    assert_int_equal(next_number(), before);
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
        cmocka_unit_test(reads_back_every_kind_of_file),
        cmocka_unit_test(converts_plain_samples_to_the_same_bits_as_the_library),
        cmocka_unit_test(keeps_float_samples_beyond_full_scale),
        cmocka_unit_test(reads_the_same_whatever_the_room),
        cmocka_unit_test(reads_raw_samples_as_described),
        cmocka_unit_test(reads_memory_as_it_reads_a_file),
        cmocka_unit_test(refuses_what_is_no_capture),
        cmocka_unit_test(refuses_what_may_not_be_read),
        cmocka_unit_test(reads_a_file_that_was_never_closed),
        cmocka_unit_test(does_not_take_what_follows_an_empty_body_for_sound),
        cmocka_unit_test(warns_of_a_file_cut_short),
        cmocka_unit_test(refuses_a_file_without_a_single_good_frame),
        cmocka_unit_test(survives_every_failing_allocation),
        cmocka_unit_test(closes_what_it_opened),
    };
    return cmocka_run_group_tests(tests, NULL, clear);
}
