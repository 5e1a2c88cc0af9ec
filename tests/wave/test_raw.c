#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "wave/raw.h"

#include <string.h>

static void reads_a_description(void **state)
{
    (void)state;
    es_wave_raw raw;
    assert_int_equal(es_wave_raw_parse("s16le,48000,2", &raw, NULL), ES_OK);
    assert_int_equal(raw.coding, ES_CODING_S16LE);
    assert_int_equal(raw.rate_hz, 48000);
    assert_int_equal(raw.channels, 2);
    assert_int_equal(es_wave_raw_parse("f64be,384000,64", &raw, NULL), ES_OK);
    assert_int_equal(raw.coding, ES_CODING_F64BE);
    assert_int_equal(raw.channels, 64);
}

static void knows_every_coding_by_its_name(void **state)
{
    (void)state;
    for (int i = 1; i < ES_CODING_COUNT; i++) {
        char text[32] = "";
        es_wave_raw raw;
        strcat(strcpy(text, es_wave_coding_name((es_wave_coding)i)), ",8000,1");
        assert_int_equal(es_wave_raw_parse(text, &raw, NULL), ES_OK);
        assert_int_equal(raw.coding, i);
        assert_true(es_wave_coding_bits(raw.coding) % 8 == 0 &&
                    es_wave_coding_bits(raw.coding) > 0);
    }
}

static void refuses_what_describes_nothing(void **state)
{
    (void)state;
    static const char *const wrong[] = {"",
                                        "s16le",
                                        "s16le,",
                                        "s16le,48000",
                                        "s16le,48000,",
                                        "s16,48000,2",
                                        "S16LE,48000,2",
                                        ",48000,2",
                                        "s16le,7999,2",
                                        "s16le,384001,2",
                                        "s16le,48000,0",
                                        "s16le,48000,65",
                                        "s16le,-48000,2",
                                        "s16le,48000,2,",
                                        "s16le,48000,2x",
                                        "s16le, 48000,2",
                                        "s16le,99999999999999999999,2"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        es_wave_raw raw = {ES_CODING_U8, 1, 1};
        es_error error = {0};
        assert_int_equal(es_wave_raw_parse(wrong[i], &raw, &error), ES_ERR_ARG);
        assert_int_equal(raw.coding, ES_CODING_NONE);
        assert_string_equal(error.code, "raw");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_a_description),
        cmocka_unit_test(knows_every_coding_by_its_name),
        cmocka_unit_test(refuses_what_describes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
