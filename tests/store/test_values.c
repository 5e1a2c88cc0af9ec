/* What a field may hold: names of any script, numbers to the bit, and what is refused. */
#include "place.h"

#include "store/words.h"

#include <float.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void keeps_names_of_any_script(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    const char *names[] = {
        "\xE5\xBD\x95\xE9\x9F\xB3\xE6\x9C\xBA",                         /* Han                 */
        "\xD9\x85\xD8\xB3\xD8\xAC\xD9\x84 \xD7\xA2\xD7\x91\xD7\xA8",    /* right to left       */
        "\xF0\x9F\x93\xBC\xF0\x9F\x91\xA9\xE2\x80\x8D\xF0\x9F\x94\xA7", /* joined signs        */
        "caf\xC3\xA9",                                                  /* composed            */
        "cafe\xCC\x81",                                                 /* the same, taken apart */
        "\xF4\x8F\xBF\xBD",                                             /* U+10FFFD            */
        "'); DROP TABLE deck; --",
        "\"quoted\" %s ?1 :name",
    };
    for (size_t i = 0; i < COUNT(names); i++) {
        es_deck_record deck = sample_deck(1), kept;
        snprintf(deck.name, sizeof deck.name, "%s", names[i]);
        int64_t id;
        assert_ok(es_store_add_deck(store, &deck, "", &id, &error));
        assert_ok(es_store_deck_named(store, names[i], &kept, &error));
        assert_string_equal(kept.name, names[i]);
        assert_int_equal(kept.id, id);
    }
}

static void keeps_the_longest_texts(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record deck = sample_deck(1), kept;
    memset(deck.name, 'n', sizeof deck.name - 1);
    memset(deck.notes, 'x', sizeof deck.notes - 1);
    deck.name[sizeof deck.name - 1] = deck.notes[sizeof deck.notes - 1] = '\0';
    assert_ok(es_store_add_deck(store, &deck, "", &deck.id, &error));
    assert_ok(es_store_show_deck(store, deck.id, &kept, &error));
    assert_same_record(ES_RECORD_DECK, &kept, &deck);
    deck.id = 0;
    deck.notes[sizeof deck.notes - 1] = 'x'; /* without an end */
    es_error error = {0};
    assert_int_equal(es_store_add_deck(store, &deck, "", NULL, &error), ES_ERR_ARG);
}

static void refuses_names_that_are_none(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    const char *names[] = {"",          "   ",  "two\nlines",   "tab\t",    "bell\a",      "\x7F",
                           "\xC2\x9Bm", "\xFF", "cut \xE5\xBD", "\xC0\xAF", "\xED\xA0\x80"};
    for (size_t i = 0; i < COUNT(names); i++) {
        es_deck_record deck = sample_deck(1);
        snprintf(deck.name, sizeof deck.name, "%s", names[i]);
        assert_refused(es_store_add_deck(store, &deck, "", NULL, &error), ES_ERR_INPUT,
                       "bad-value");
    }
}

static void keeps_numbers_to_the_bit(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record deck = sample_deck(1), kept;
    es_job_record job;
    assert_ok(es_store_add_deck(store, &deck, "", &deck.id, &error));
    job = sample_job(deck.id);
    assert_ok(es_store_add_job(store, &job, &job.id, &error));
    const double values[] = {0.1,
                             1.0 / 3.0,
                             DBL_MAX,
                             -DBL_MAX,
                             DBL_MIN,
                             5e-324,
                             -5e-324,
                             1e15,
                             9007199254740993.0,
                             DBL_EPSILON,
                             (double)NAN,
                             nextafter(1.0, 2.0),
                             123456789012345678.0,
                             3.0,
                             0.0};
    es_nudge_record nudges[COUNT(values)], *all;
    for (size_t i = 0; i < COUNT(values); i++)
        nudges[i] = (es_nudge_record){.time_s = 1.0, .size_percent = values[i]};
    assert_ok(es_store_add_nudges(store, job.id, nudges, COUNT(values), &error));
    size_t count;
    assert_ok(es_store_list_nudges(store, job.id, &all, &count, &error));
    assert_int_equal(count, COUNT(values));
    for (size_t i = 0; i < count; i++) {
        nudges[i].id = all[i].id;
        nudges[i].job = job.id;
        nudges[i].place = (int64_t)i + 1;
        assert_same_record(ES_RECORD_NUDGE, &all[i], &nudges[i]);
    }
    free(all);
    (void)kept;
}

static void lets_a_zero_lose_its_sign(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record deck = sample_deck(1);
    assert_ok(es_store_add_deck(store, &deck, "", &deck.id, &error));
    es_reading_record reading = sample_reading(deck.id), kept;
    reading.error_percent = -0.0;
    assert_ok(es_store_add_reading(store, &reading, &reading.id, &error));
    assert_ok(es_store_show_reading(store, reading.id, &kept, NULL, &error));
    assert_true(kept.error_percent == 0.0 && !signbit(kept.error_percent));
}

/* Every rule of every field of every kind is tried: what breaks it must be refused. */
static int breaks(void *record, const es_record_field *field, int attempt)
{
    static const double low[] = {0.0, -1e-300, -100.0, 0.999};
    static const unsigned low_rule[] = {ES_RULE_POSITIVE, ES_RULE_NOT_NEGATIVE, ES_RULE_SPEED,
                                        ES_RULE_FROM_ONE};
    void *at = (char *)record + field->offset;
    if (field->type == ES_FIELD_NUMBER && attempt < 4 && (field->rules & low_rule[attempt]))
        return *(double *)at = low[attempt], 1;
    if (field->type == ES_FIELD_NUMBER && attempt == 4 && !(field->rules & ES_RULE_FROM_ONE))
        return *(double *)at = (double)INFINITY, 1;
    if (field->type == ES_FIELD_NUMBER && attempt == 5 && (field->rules & ES_RULE_NEEDED))
        return *(double *)at = (double)NAN, 1;
    if (field->type == ES_FIELD_TEXT && attempt == 0)
        return strcpy(at, "\xC3(") != NULL;
    if (field->type == ES_FIELD_TEXT && attempt == 1 && (field->rules & ES_RULE_NEEDED))
        return strcpy(at, "") != NULL;
    if (field->type == ES_FIELD_TEXT && attempt == 2 && (field->rules & ES_RULE_KEY))
        return strcpy(at, "Not a key") != NULL;
    if (field->type == ES_FIELD_TEXT && attempt == 3 && (field->rules & ES_RULE_TIME))
        return strcpy(at, "2026-02-29") != NULL;
    if (field->type == ES_FIELD_TEXT && attempt == 4 && (field->rules & ES_RULE_SHA256))
        return strcpy(at, "ba7816bf") != NULL;
    if (field->type == ES_FIELD_TEXT && attempt == 5 && (field->rules & ES_RULE_LINE))
        return strcpy(at, "a\nb") != NULL;
    if (field->type == ES_FIELD_DOCUMENT && attempt < 3)
        return *(const char **)at = (const char *[]){NULL, "", "{"}[attempt], 1;
    if (field->type == ES_FIELD_REFERENCE && attempt < 2)
        return *(int64_t *)at = attempt ? -1 : 0, attempt == 1 || field->rules & ES_RULE_NEEDED;
    if (field->type == ES_FIELD_WHOLE && attempt == 0)
        return *(int64_t *)at = 0, 1;
    return 0;
}

static es_status break_each_field(void *user, const es_record_kind *kind, const void *record)
{
    es_store *store = ((void **)user)[0];
    size_t *tried = ((void **)user)[1];
    for (size_t i = 1; i < kind->field_count; i++)
        for (int attempt = 0; attempt < 6; attempt++) {
            es_any_record broken;
            memcpy(&broken, record, kind->size);
            if (!breaks(&broken, &kind->fields[i], attempt))
                continue;
            es_error error = {0};
            if (es_store_import(store, kind->type, &broken, &error) != ES_ERR_INPUT)
                fail_msg("%s.%s, attempt %d was taken", kind->name, kind->fields[i].name, attempt);
            assert_string_equal(error.code, "bad-value");
            assert_one_sentence(error.text);
            ++*tried;
        }
    return ES_OK;
}

static void refuses_what_breaks_any_rule(void **state)
{
    test_place *place = *state;
    es_store *other;
    size_t tried = 0;
    fill_store(place->store, 1);
    assert_ok(
        es_store_open_patiently(in_folder(place, "other.db"), ES_STORE_CREATE, 0, &other, &error));
    assert_ok(es_store_import_begin(other, &error));
    void *user[] = {other, &tried};
    assert_ok(es_store_export(place->store, break_each_field, user, &error));
    assert_ok(es_store_import_commit(other, &error));
    assert_true(tried > 120);
    es_deck_record *decks;
    size_t count;
    assert_ok(es_store_list_decks(other, &decks, &count, &error));
    assert_int_equal(count, 0);
    es_store_close(other);
}

/* --- words ------------------------------------------------------------------------------------ */

static void knows_the_days_of_the_calendar(void **state)
{
    (void)state;
    const char *good[] = {"2026-05-03", "2024-02-29",           "2000-02-29",
                          "0001-01-01", "2026-12-31T23:59:59Z", "2016-12-31T23:59:60Z"};
    const char *bad[] = {"2026-02-29",           "1900-02-29",
                         "2026-13-01",           "2026-00-10",
                         "2026-04-31",           "2026-4-3",
                         "03.05.2026",           "2026-05-03T",
                         "2026-05-03T24:00:00Z", "today",
                         "2026-05-03T10:60:00Z", "0000-01-01",
                         "2026-05-03T10:00:00",  "2026-05-03 10:00:00Z",
                         "2026-05-00",           ""};
    for (size_t i = 0; i < COUNT(good); i++)
        if (!es_words_time(good[i]))
            fail_msg("%s", good[i]);
    for (size_t i = 0; i < COUNT(bad); i++)
        if (es_words_time(bad[i]))
            fail_msg("%s", bad[i]);
}

/* Every pair and the limits of the longer forms, against Unicode 15 table 3-7 worked the other  */
/* way round: decoded to a code point, which has to need that length and be no surrogate.        */
static int utf8_by_value(const unsigned char *at, size_t bytes)
{
    static const uint32_t least[] = {0, 1, 0x80, 0x800, 0x10000};
    uint32_t value = bytes == 1 ? at[0] : at[0] & (0xFFU >> (bytes + 1));
    for (size_t i = 1; i < bytes; i++) {
        if ((at[i] & 0xC0) != 0x80)
            return 0;
        value = value << 6 | (at[i] & 0x3FU);
    }
    return value >= least[bytes] && value <= 0x10FFFF && (value < 0xD800 || value > 0xDFFF);
}

static size_t length_by_lead(unsigned char lead)
{
    return lead < 0x80   ? 1
           : lead < 0xC0 ? 0
           : lead < 0xE0 ? 2
           : lead < 0xF0 ? 3
           : lead < 0xF8 ? 4
                         : 0;
}

static void knows_well_formed_utf8(void **state)
{
    (void)state;
    for (unsigned lead = 1; lead < 256; lead++)
        for (unsigned second = 1; second < 256; second++) {
            unsigned char text[5] = {(unsigned char)lead, (unsigned char)second, 0xBF, 0xBF, 0};
            size_t length = length_by_lead(text[0]);
            if (length < 2) {
                text[1] = 0;
            } else {
                text[length] = 0;
            }
            int wanted = length > 0 && utf8_by_value(text, length);
            if (es_words_utf8((const char *)text) != wanted)
                fail_msg("%02x %02x", lead, second);
            if (length > 1) { /* cut short */
                text[length - 1] = 0;
                assert_false(es_words_utf8((const char *)text));
            }
        }
}

#define WITH(test) cmocka_unit_test_setup_teardown(test, place_setup_with_store, place_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(keeps_names_of_any_script),
        WITH(keeps_the_longest_texts),
        WITH(refuses_names_that_are_none),
        WITH(keeps_numbers_to_the_bit),
        WITH(lets_a_zero_lose_its_sign),
        WITH(refuses_what_breaks_any_rule),
        cmocka_unit_test(knows_the_days_of_the_calendar),
        cmocka_unit_test(knows_well_formed_utf8),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
