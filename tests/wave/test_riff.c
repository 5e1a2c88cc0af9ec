/* Heads of WAV files, written out by hand after the published formats. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "wave/coding.h"
#include "wave/riff.h"

#include <stdlib.h>
#include <string.h>

typedef struct head {
    unsigned char bytes[256];
    size_t count;
} head;

static void add(head *h, const char *bytes, size_t count)
{
    memcpy(h->bytes + h->count, bytes, count);
    h->count += count;
}

static void add_number(head *h, uint64_t value, size_t bytes)
{
    for (size_t i = 0; i < bytes; i++)
        h->bytes[h->count++] = (unsigned char)(value >> 8 * i);
}

/* "RIFF", size, "WAVE" (Multimedia Programming Interface and Data Specifications 1.0, 1991). */
static head begin(const char *id, uint32_t size)
{
    head h = {0};
    add(&h, id, 4);
    add_number(&h, size, 4);
    add(&h, "WAVE", 4);
    return h;
}

/* "fmt ": tag, channels, samples/s, bytes/s, block, bits. */
static void add_format(head *h, unsigned tag, unsigned channels, unsigned rate, unsigned bits,
                       size_t extra)
{
    unsigned block = channels * ((bits + 7) / 8);
    add(h, "fmt ", 4);
    add_number(h, 16 + extra, 4);
    add_number(h, tag, 2);
    add_number(h, channels, 2);
    add_number(h, rate, 4);
    add_number(h, rate * block, 4);
    add_number(h, block, 2);
    add_number(h, bits, 2);
}

static void add_data(head *h, uint32_t size)
{
    add(h, "data", 4);
    add_number(h, size, 4);
}

static es_riff read_head(const head *h)
{
    es_wave_bytes *bytes = malloc(sizeof *bytes);
    assert_non_null(bytes);
    es_wave_bytes_of_memory(bytes, h->bytes, h->count);
    es_riff riff = es_riff_read(bytes);
    free(bytes);
    return riff;
}

static void finds_format_and_samples(void **state)
{
    (void)state;
    head h = begin("RIFF", 36 + 400);
    add_format(&h, 1, 2, 48000, 16, 0);
    add_data(&h, 400);
    es_riff riff = read_head(&h);
    assert_true(riff.wave && riff.format_seen && riff.data_seen && !riff.endless);
    assert_int_equal(riff.riff_bytes, 436);
    assert_int_equal(riff.channels, 2);
    assert_int_equal(riff.rate_hz, 48000);
    assert_int_equal(riff.bits, 16);
    assert_int_equal(riff.data_at, 44);
    assert_int_equal(riff.data_bytes, 400);
    assert_int_equal(es_wave_coding_of_riff(&riff), ES_CODING_S16LE);
}

static void passes_over_other_chunks_and_their_padding(void **state)
{
    (void)state;
    head h = begin("RIFF", 200);
    add(&h, "LIST", 4);
    add_number(&h, 5, 4);
    add(&h, "INFOx\0", 6); /* an odd chunk is padded to an even place */
    add_format(&h, 3, 1, 96000, 32, 0);
    add(&h, "fact\x04\0\0\0\x10\0\0\0", 12);
    add_data(&h, 64);
    es_riff riff = read_head(&h);
    assert_true(riff.data_seen);
    assert_int_equal(riff.data_at, (int64_t)h.count);
    assert_int_equal(es_wave_coding_of_riff(&riff), ES_CODING_F32LE);
}

static void reads_an_extensible_format(void **state)
{
    (void)state;
    head h = begin("RIFF", 200);
    add_format(&h, 0xFFFE, 6, 48000, 24, 24);
    add_number(&h, 22, 2);   /* bytes that follow         */
    add_number(&h, 24, 2);   /* valid bits                */
    add_number(&h, 0x3F, 4); /* speakers                  */
    add_number(&h, 1, 2);    /* sub-format: whole numbers */
    add(&h, "\0\0\0\0\x10\0\x80\0\0\xaa\0\x38\x9b\x71", 14);
    add_data(&h, 18);
    es_riff riff = read_head(&h);
    assert_true(riff.data_seen);
    assert_int_equal(riff.data_at, (int64_t)h.count);
    assert_int_equal(es_wave_coding_of_riff(&riff), ES_CODING_S24LE);
}

/* EBU Tech 3306: sizes of 64 bit stand in a "ds64" chunk; the 32 bit ones are all ones. */
static void reads_sizes_beyond_four_gigabytes(void **state)
{
    (void)state;
    head h = begin("RF64", 0xFFFFFFFF);
    add(&h, "ds64", 4);
    add_number(&h, 28, 4);
    add_number(&h, UINT64_C(6000000072), 8);
    add_number(&h, UINT64_C(6000000000), 8);
    add_number(&h, UINT64_C(1000000000), 8);
    add_number(&h, 0, 4);
    add_format(&h, 1, 2, 48000, 24, 0);
    add_data(&h, 0xFFFFFFFF);
    es_riff riff = read_head(&h);
    assert_true(riff.data_seen && !riff.endless);
    assert_true(riff.data_bytes == INT64_C(6000000000));
    assert_true(riff.riff_bytes == INT64_C(6000000072));
}

static void knows_a_stream_by_its_length(void **state)
{
    (void)state;
    static const struct {
        uint32_t bytes;
        int endless;
    } lengths[] = {{0xFFFFFFFF, 1}, {0x7FFFF000, 1}, {0x7FFFFFFF, 1}, {0x7FFFEFFF, 0}, {1000, 0}};
    for (size_t i = 0; i < sizeof lengths / sizeof *lengths; i++) {
        head h = begin("RIFF", lengths[i].bytes);
        add_format(&h, 1, 2, 48000, 16, 0);
        add_data(&h, lengths[i].bytes);
        assert_int_equal(read_head(&h).endless, lengths[i].endless);
    }
}

static void knows_codings_by_their_container(void **state)
{
    (void)state;
    static const struct {
        unsigned tag, bits;
        es_wave_coding coding;
    } codings[] = {{1, 8, ES_CODING_U8},     {1, 20, ES_CODING_S24LE},  {1, 32, ES_CODING_S32LE},
                   {3, 64, ES_CODING_F64LE}, {6, 8, ES_CODING_ALAW},    {7, 8, ES_CODING_ULAW},
                   {3, 16, ES_CODING_NONE},  {0x11, 4, ES_CODING_NONE}, {1, 64, ES_CODING_NONE}};
    for (size_t i = 0; i < sizeof codings / sizeof *codings; i++) {
        head h = begin("RIFF", 100);
        add_format(&h, codings[i].tag, 2, 48000, codings[i].bits, 0);
        add_data(&h, 8);
        es_riff riff = read_head(&h);
        assert_int_equal(es_wave_coding_of_riff(&riff), codings[i].coding);
    }
}

static void ends_where_a_head_is_cut_short(void **state)
{
    (void)state;
    head whole = begin("RIFF", 436);
    add_format(&whole, 1, 2, 48000, 16, 0);
    add_data(&whole, 400);
    for (size_t cut = 0; cut < whole.count; cut++) {
        head h = whole;
        h.count = cut;
        es_riff riff = read_head(&h);
        assert_false(riff.data_seen);
        assert_int_equal(riff.wave, cut >= 12);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_format_and_samples),
        cmocka_unit_test(passes_over_other_chunks_and_their_padding),
        cmocka_unit_test(reads_an_extensible_format),
        cmocka_unit_test(reads_sizes_beyond_four_gigabytes),
        cmocka_unit_test(knows_a_stream_by_its_length),
        cmocka_unit_test(knows_codings_by_their_container),
        cmocka_unit_test(ends_where_a_head_is_cut_short),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
