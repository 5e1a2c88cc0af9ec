/* SHA-256 against the examples of FIPS 180-2, appendix B, and its one million letters. */
#include "place.h"

#include "alloc_probe.h"
#include "store/capture_hash.h"

#include <stdlib.h>
#include <string.h>

typedef struct example {
    const char *text, *digest;
} example;

static const example examples[] = {
    {"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
    {"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
    {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
     "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
};

static void agrees_with_the_standard(void **state)
{
    (void)state;
    es_capture_hash *hash;
    char digest[ES_SHA256_ROOM];
    assert_int_equal(es_capture_hash_create(&hash), ES_OK);
    for (size_t i = 0; i < COUNT(examples); i++) {
        es_capture_hash_push(hash, examples[i].text, strlen(examples[i].text));
        es_capture_hash_finish(hash, digest);
        assert_string_equal(digest, examples[i].digest);
    }
    es_capture_hash_destroy(hash);
    es_capture_hash_destroy(NULL);
}

static void is_the_same_whatever_the_blocks_and_from_a_file(void **state)
{
    test_place *place = *state;
    const char *wanted = "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0";
    char digest[ES_SHA256_ROOM], *letters = malloc(1000000);
    assert_non_null(letters);
    memset(letters, 'a', 1000000);
    es_capture_hash *hash;
    assert_int_equal(es_capture_hash_create(&hash), ES_OK);
    for (size_t at = 0, step = 1; at < 1000000; at += step) {
        step = step * 7 % 4099 + 1;
        if (step > 1000000 - at)
            step = 1000000 - at;
        es_capture_hash_push(hash, letters + at, step);
    }
    es_capture_hash_finish(hash, digest);
    assert_string_equal(digest, wanted);
    write_bytes(in_folder(place, "letters"), letters, 1000000);
    assert_ok(es_capture_hash_file(in_folder(place, "letters"), digest, &error));
    assert_string_equal(digest, wanted);
    es_capture_hash_destroy(hash);
    free(letters);
}

static void says_why_a_capture_cannot_be_read(void **state)
{
    test_place *place = *state;
    char digest[ES_SHA256_ROOM];
    assert_refused(es_capture_hash_file(in_folder(place, "none"), digest, &error), ES_ERR_IO,
                   "no-permission");
    assert_string_equal(digest, "");
    assert_refused(es_capture_hash_file(place->folder, digest, &error), ES_ERR_IO, "disk-failed");
}

static void says_when_memory_runs_out_and_takes_none_later(void **state)
{
    (void)state;
    es_capture_hash *hash;
    char digest[ES_SHA256_ROOM];
    alloc_probe_fail_after(0);
    es_status status = es_capture_hash_create(&hash);
    alloc_probe_reset();
    assert_int_equal(status, ES_ERR_NOMEM);
    assert_null(hash);
    assert_int_equal(es_capture_hash_create(&hash), ES_OK);
    alloc_probe_reset();
    es_capture_hash_push(hash, "abc", 3);
    es_capture_hash_finish(hash, digest);
    assert_int_equal(alloc_probe_calls(), 0);
    es_capture_hash_destroy(hash);
}

#define WITH(test) cmocka_unit_test_setup_teardown(test, place_setup, place_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(agrees_with_the_standard),
        WITH(is_the_same_whatever_the_blocks_and_from_a_file),
        WITH(says_why_a_capture_cannot_be_read),
        WITH(says_when_memory_runs_out_and_takes_none_later),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
