/* The exported document: what it looks like, that nothing changes on the way, and what is refused. */
#include "cm.h"

#include "json/records_json.h"

#include <jansson.h>

#include <float.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TIME "2026-11-25T16:20:00Z"

typedef struct kept_record {
    es_record_type type;
    es_any_record record;
} kept_record;

typedef struct records {
    kept_record *at;
    size_t count, room;
} records;

/* Into memory that grows; the document of a reading is copied. */
static void keep(records *r, es_record_type type, const void *record)
{
    if (r->count == r->room) {
        r->room = 2 * r->room + 16;
        r->at = realloc(r->at, r->room * sizeof *r->at);
        assert_non_null(r->at);
    }
    kept_record *kept = &r->at[r->count++];
    kept->type = type;
    memcpy(&kept->record, record, es_record_kinds()[type].size);
    if (type == ES_RECORD_READING)
        kept->record.reading.document = strdup(kept->record.reading.document);
}

static void forget(records *r)
{
    for (size_t i = 0; i < r->count; i++)
        if (r->at[i].type == ES_RECORD_READING)
            free((void *)(uintptr_t)r->at[i].record.reading.document);
    free(r->at);
    *r = (records){0};
}

static es_status take(void *user, const es_record_kind *kind, const void *record, es_error *error)
{
    (void)error;
    keep(user, kind->type, record);
    return ES_OK;
}

static char *written(const records *r, size_t *length)
{
    char *text = NULL;
    FILE *to = open_memstream(&text, length);
    assert_non_null(to);
    es_records_writer writer;
    es_error error = {0};
    es_records_begin(&writer, to, TIME);
    for (size_t i = 0; i < r->count; i++)
        assert_int_equal(
            es_records_add(&writer, &es_record_kinds()[r->at[i].type], &r->at[i].record, &error),
            ES_OK);
    es_records_end(&writer);
    assert_int_equal(fclose(to), 0);
    return text;
}

static records read_back(const char *text, size_t length)
{
    es_records_document *document;
    es_error error = {0};
    records back = {0};
    if (es_records_read(text, length, &document, &error) != ES_OK)
        fail_msg("%s: %s", error.code, error.text);
    assert_int_equal(es_records_give(document, take, &back, &error), ES_OK);
    es_records_destroy(document);
    return back;
}

static void assert_same_field(const es_record_field *field, const void *a, const void *b)
{
    const char *x = (const char *)a + field->offset, *y = (const char *)b + field->offset;
    double one, other;
    switch (field->type) {
    case ES_FIELD_TEXT:
        assert_string_equal(x, y);
        return;
    case ES_FIELD_DOCUMENT:
        assert_string_equal(*(const char *const *)(const void *)x,
                            *(const char *const *)(const void *)y);
        return;
    case ES_FIELD_NUMBER:
        memcpy(&one, x, sizeof one);
        memcpy(&other, y, sizeof other);
        if (!(isnan(one) && isnan(other)))
            assert_memory_equal(&one, &other, sizeof one);
        return;
    default:
        assert_memory_equal(x, y, sizeof(int64_t));
    }
}

/* Out, in, and out again: every field the same, and the same bytes. */
static void goes_round(const records *r)
{
    size_t length, again_length;
    char *text = written(r, &length);
    records back = read_back(text, length);
    assert_int_equal(back.count, r->count);
    for (size_t i = 0; i < r->count; i++) {
        const es_record_kind *kind = &es_record_kinds()[r->at[i].type];
        assert_int_equal(back.at[i].type, kind->type);
        for (size_t f = 0; f < kind->field_count; f++)
            assert_same_field(&kind->fields[f], &r->at[i].record, &back.at[i].record);
    }
    char *again = written(&back, &again_length);
    assert_int_equal(again_length, length);
    assert_memory_equal(again, text, length);
    free(text);
    free(again);
    forget(&back);
}

static void refused(const char *text, const char *code, const char *begins)
{
    es_records_document *document = (es_records_document *)(uintptr_t)text;
    es_error error = {0};
    assert_int_equal(es_records_read(text, strlen(text), &document, &error), ES_ERR_INPUT);
    assert_null(document);
    assert_string_equal(error.code, code);
    if (strncmp(error.text, begins, strlen(begins)) != 0)
        fail_msg("\"%s\" does not begin with \"%s\"", error.text, begins);
    assert_int_equal(error.text[strlen(error.text) - 1], '.');
}

/* --- what it looks like ----------------------------------------------------------------------- */

static records small(void)
{
    records r = {0};
    es_epoch_record epoch;
    es_play_record play;
    es_record_blank(ES_RECORD_EPOCH, &epoch);
    epoch.id = 7;
    epoch.deck = 3;
    epoch.number = 1;
    strcpy(epoch.why, "as it came: \"slow\"");
    keep(&r, ES_RECORD_EPOCH, &epoch);
    es_record_blank(ES_RECORD_PLAY, &play);
    play.id = 1;
    play.recorded_on = play.played_on = 7;
    strcpy(play.played_at, "2026-05-03");
    play.heard_percent = -0.1;
    play.u_percent = 0.02;
    play.dof = (double)INFINITY;
    keep(&r, ES_RECORD_PLAY, &play);
    return r;
}

/* Word for word as docs/records.md tells it. */
static const char small_text[] =
    "{\n"
    "  \"schema\": \"evenspool.records/2\",\n"
    "  \"version\": \"" ES_VERSION "\",\n"
    "  \"exported_at\": \"" TIME "\",\n"
    "  \"decks\": [],\n"
    "  \"epochs\": [\n"
    "    {\"id\": 7, \"deck\": 3, \"number\": 1, \"began\": \"\", \"walk_percent\": null, "
    "\"why\": \"as it came: \\\"slow\\\"\"}\n"
    "  ],\n"
    "  \"tapes\": [],\n"
    "  \"jobs\": [],\n"
    "  \"readings\": [],\n"
    "  \"nudges\": [],\n"
    "  \"remarks\": [],\n"
    "  \"plays\": [\n"
    "    {\"id\": 1, \"recorded_on\": 7, \"played_on\": 7, \"tape\": null, \"reading\": null, "
    "\"recorded_at\": \"\", \"played_at\": \"2026-05-03\", \"heard_percent\": -0.1, "
    "\"u_percent\": 0.02, \"dof\": \"infinite\", \"note\": \"\"}\n"
    "  ],\n"
    "  \"anchors\": [],\n"
    "  \"answers\": [],\n"
    "  \"budget_lines\": []\n"
    "}\n";

static void looks_as_the_manual_says(void **state)
{
    (void)state;
    records r = small();
    size_t length;
    char *text = written(&r, &length);
    assert_string_equal(text, small_text);
    free(text);
    goes_round(&r);
    forget(&r);
}

static void says_who_wrote_it_and_when(void **state)
{
    (void)state;
    es_records_document *document;
    assert_int_equal(es_records_read(small_text, strlen(small_text), &document, NULL), ES_OK);
    assert_string_equal(es_records_version(document), ES_VERSION);
    assert_string_equal(es_records_exported_at(document), TIME);
    assert_int_equal(es_records_count(document, ES_RECORD_DECK), 0);
    assert_int_equal(es_records_count(document, ES_RECORD_PLAY), 1);
    es_records_destroy(document);
}

/* As evenspool.records/1 wrote them, before there was a word for what a job adjusts. */
#define JOBS_OF(version, job_more, nudge_more)                                                     \
    "{\"schema\": \"evenspool.records/" version                                                    \
    "\", \"version\": \"0.1.0\", \"exported_at\": \"" TIME                                         \
    "\", \"decks\": [], \"epochs\": [], \"tapes\": [], \"jobs\": [{\"id\": 3, \"deck\": 1, "       \
    "\"opened_at\": \"\", \"closed_at\": \"\", \"asked\": \"slow\", " job_more                     \
    "\"as_found\": null, \"as_left\": null}], \"readings\": [], \"nudges\": [{\"id\": 1, "         \
    "\"job\": 3, "                                                                                 \
    "\"place\": 1, \"time_s\": 2, \"size_percent\": -0.4, " nudge_more "\"overshoot\": 0}], "      \
    "\"remarks\": [], \"plays\": [], \"anchors\": [], \"answers\": [], \"budget_lines\": []}"

static void an_older_documents_jobs_are_the_speeds(void **state)
{
    (void)state;
    static const char older[] = JOBS_OF("1", "", "");
    records back = read_back(older, strlen(older));
    assert_int_equal(back.count, 2);
    assert_string_equal(back.at[0].record.job.adjust, "speed");
    assert_string_equal(back.at[0].record.job.asked, "slow");
    assert_true(back.at[1].record.nudge.size_percent == -0.4);
    assert_true(isnan(back.at[1].record.nudge.size_us) && isnan(back.at[1].record.nudge.size_db));
    goes_round(&back);
    forget(&back);
}

static void each_version_has_its_own_fields(void **state)
{
    (void)state;
    refused(JOBS_OF("2", "", ""), "bad-document",
            "Line 1, column 143: \"adjust\" is missing in a record of kind job");
    refused(JOBS_OF("1", "\"adjust\": \"azimuth\", ", ""), "bad-document",
            "Line 1, column 215: \"adjust\" is not known in a record of kind job");
}

static void a_job_keeps_what_it_adjusts(void **state)
{
    (void)state;
    static const char leaning[] =
        JOBS_OF("2", "\"adjust\": \"azimuth\", ", "\"size_us\": -148.25, \"size_db\": null, ");
    records back = read_back(leaning, strlen(leaning));
    assert_string_equal(back.at[0].record.job.adjust, "azimuth");
    assert_true(back.at[1].record.nudge.size_us == -148.25);
    assert_true(isnan(back.at[1].record.nudge.size_db));
    goes_round(&back);
    forget(&back);
}

static void nothing_at_all_is_a_document_too(void **state)
{
    (void)state;
    records none = {0};
    goes_round(&none);
}

/* --- nothing changes -------------------------------------------------------------------------- */

static void keep_value(records *r, double value)
{
    es_answer_record answer;
    es_record_blank(ES_RECORD_ANSWER, &answer);
    answer.id = (int64_t)r->count + 1;
    answer.anchor = answer.place = 1;
    strcpy(answer.key, "length");
    answer.value = value;
    keep(r, ES_RECORD_ANSWER, &answer);
}

/* The spellings are those of the shortest decimal that is nearest to the number alone
 * (ECMA-262, Number::toString, from memory), with C's exponent. */
static void numbers_are_as_short_as_they_can_be(void **state)
{
    (void)state;
    const struct {
        double value;
        const char *text;
    } known[] = {{0.1, "\"value\": 0.1}"},
                 {0.1 + 0.2, "\"value\": 0.30000000000000004}"},
                 {1.0 / 3.0, "\"value\": 0.3333333333333333}"},
                 {1e-300, "\"value\": 1e-300}"},
                 {5e-324, "\"value\": 5e-324}"},
                 {DBL_MAX, "\"value\": 1.7976931348623157e+308}"},
                 {DBL_MIN, "\"value\": 2.2250738585072014e-308}"},
                 {9007199254740993.0, "\"value\": 9007199254740992}"},
                 {3150.0, "\"value\": 3150}"},
                 {-0.0, "\"value\": 0}"},
                 {(double)NAN, "\"value\": null}"}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        records r = {0};
        size_t length;
        keep_value(&r, known[i].value);
        char *text = written(&r, &length);
        if (!strstr(text, known[i].text))
            fail_msg("%.17g is not written as %s: %s", known[i].value, known[i].text, text);
        free(text);
        forget(&r);
    }
}

static void numbers_come_back_bit_for_bit(void **state)
{
    (void)state;
    uint64_t bits = 88172645463325252u; /* xorshift: any pattern of bits is a number of its own */
    records r = {0};
    for (int i = 0; i < 4000; i++) {
        double value;
        bits ^= bits << 13, bits ^= bits >> 7, bits ^= bits << 17;
        memcpy(&value, &bits, sizeof value);
        if (isfinite(value))
            keep_value(&r, value);
    }
    for (int e = -1074; e < 1024; e++) {
        keep_value(&r, ldexp(1.0, e));
        keep_value(&r, -nextafter(ldexp(1.0, e), 0.0));
    }
    for (size_t i = 0; i < r.count; i++)
        r.at[i].record.answer.value += 0.0; /* a zero has no sign here */
    goes_round(&r);
    forget(&r);
}

static size_t put_character(char *to, unsigned c)
{
    if (c < 0x80)
        return (size_t)sprintf(to, "%c", (int)c);
    if (c < 0x800)
        return (size_t)sprintf(to, "%c%c", (int)(0xC0 | c >> 6), (int)(0x80 | (c & 63)));
    if (c < 0x10000)
        return (size_t)sprintf(to, "%c%c%c", (int)(0xE0 | c >> 12), (int)(0x80 | (c >> 6 & 63)),
                               (int)(0x80 | (c & 63)));
    return (size_t)sprintf(to, "%c%c%c%c", (int)(0xF0 | c >> 18), (int)(0x80 | (c >> 12 & 63)),
                           (int)(0x80 | (c >> 6 & 63)), (int)(0x80 | (c & 63)));
}

static void every_character_of_unicode_comes_back(void **state)
{
    (void)state;
    records r = {0};
    es_remark_record remark;
    size_t used = 0;
    es_record_blank(ES_RECORD_REMARK, &remark);
    remark.job = 1;
    for (unsigned c = 1; c <= 0x10FFFF; c++) {
        if (c == 0xD800)
            c = 0xE000; /* surrogates are no characters (Unicode 15, D91 and D92) */
        used += put_character(remark.text + used, c);
        if (used > sizeof remark.text - 5 || c == 0x10FFFF) {
            remark.id++;
            keep(&r, ES_RECORD_REMARK, &remark);
            used = 0;
        }
    }
    goes_round(&r);
    forget(&r);
}

static void texts_fill_their_room_to_the_last_byte(void **state)
{
    (void)state;
    records r = {0};
    es_deck_record deck;
    es_record_blank(ES_RECORD_DECK, &deck);
    deck.id = INT64_C(9007199254740991);
    memset(deck.name, 'n', sizeof deck.name - 1);
    memset(deck.notes, '\n', sizeof deck.notes - 1);
    keep(&r, ES_RECORD_DECK, &deck);
    goes_round(&r);
    forget(&r);
}

static void results_of_readings_stay_as_they_were_printed(void **state)
{
    (void)state;
    records r = {0};
    es_reading_record reading;
    es_record_blank(ES_RECORD_READING, &reading);
    reading.id = reading.deck = reading.epoch = 1;
    strcpy(reading.schema, "evenspool.check/1");
    reading.document = "{\n  \"b\" : 0.40,\t\"a\": 1.0e0, \"\\u0061\": \"\\/ \\n\" }";
    keep(&r, ES_RECORD_READING, &reading);
    size_t most = 300000; /* longer than any room */
    char *large = malloc(most + 1);
    memset(large, ' ', most);
    memcpy(large, "[\"", 2);
    strcpy(large + most - 2, "\"]");
    reading.document = large;
    keep(&r, ES_RECORD_READING, &reading);
    goes_round(&r);
    free(large);
    forget(&r);
}

static void thousands_of_records_go_round(void **state)
{
    (void)state;
    records r = {0};
    es_deck_record deck;
    es_record_blank(ES_RECORD_DECK, &deck);
    for (int i = 1; i <= 2000; i++) {
        deck.id = i;
        deck.capstan_m = 0.002 + i * 1e-7;
        sprintf(deck.name, "deck %d \u00b5", i);
        keep(&r, ES_RECORD_DECK, &deck);
    }
    goes_round(&r);
    forget(&r);
}

static void a_text_that_the_disk_has_changed_is_not_written(void **state)
{
    (void)state;
    es_deck_record deck;
    es_record_blank(ES_RECORD_DECK, &deck);
    deck.id = 4;
    strcpy(deck.name, "ab\xC3(");
    char *text = NULL;
    size_t length;
    FILE *to = open_memstream(&text, &length);
    es_records_writer writer;
    es_error error = {0};
    es_records_begin(&writer, to, TIME);
    assert_int_equal(es_records_add(&writer, &es_record_kinds()[ES_RECORD_DECK], &deck, &error),
                     ES_ERR_IO);
    assert_string_equal(error.code, "damaged-records");
    assert_non_null(strstr(error.text, "deck 4"));
    fclose(to);
    free(text);
}

/* --- what is refused -------------------------------------------------------------------------- */

static char changed[2 * sizeof small_text];

/* The small text with the first `from` in it replaced. */
static const char *with(const char *from, const char *to)
{
    const char *at = strstr(small_text, from);
    assert_non_null(at);
    size_t before = (size_t)(at - small_text);
    memcpy(changed, small_text, before);
    strcpy(changed + before, to);
    strcat(changed, at + strlen(from));
    return changed;
}

static void refuses_what_is_no_json(void **state)
{
    (void)state;
    refused("", "not-json", "Line 1, column 1: this is not JSON (");
    refused("Dear customer,\nyour deck is ready.", "not-json", "Line 1, column ");
    refused("{\"schema\": \"evenspool.records/2\",\n  nonsense", "not-json", "Line 2, column ");
    for (size_t cut = 1; cut < sizeof small_text - 2; cut += 7) {
        strcpy(changed, small_text);
        changed[cut] = '\0';
        refused(changed, "not-json", "Line ");
    }
    refused(with("\"deck\": 3", "\"deck\": 3, \"deck\": 4"), "not-json", "Line 7, column ");
    refused(with("as it came", "as \xFF came"), "not-json", "Line 7, column ");
    refused(with("as it came", "as \\u0000 came"), "not-json", "Line 7, column ");
    refused(with("as it came", "as \\ud800 came"), "not-json", "Line 7, column ");
    refused(with("0.02", "1e999"), "not-json", "Line 15, column ");
    refused(with("0.02", "NaN"), "not-json", "Line 15, column ");
}

static void refuses_another_programs_document(void **state)
{
    (void)state;
    refused("[]", "other-document", "It is JSON, but no export");
    refused("{}", "other-document", "It is JSON, but no export");
    refused("{\"schema\": 1}", "other-document", "It is JSON, but no export");
    refused("{\"schema\": \"evenspool.check/1\"}", "other-document", "It is JSON, but no export");
    refused(with("evenspool.records/2", "evenspool.records/x"), "other-document", "It is JSON");
}

static void refuses_a_newer_document(void **state)
{
    (void)state;
    refused(with("evenspool.records/2", "evenspool.records/3"), "newer-document",
            "It was written by a newer version of this program (evenspool.records/3)");
    refused(with("evenspool.records/2", "evenspool.records/20"), "newer-document", "It was");
}

static void refuses_keys_that_are_unknown_or_missing(void **state)
{
    (void)state;
    refused(with("\"decks\": []", "\"decks\": [], \"cats\": []"), "bad-document",
            "Line 5, column 16: \"cats\" is not known in an export");
    refused(with("  \"decks\": [],\n", ""), "bad-document",
            "Line 1, column 1: \"decks\" is missing in an export that begins here.");
    refused(with("\"number\": 1", "\"number\": 1, \"colour\": 2"), "bad-document",
            "Line 7, column 39: \"colour\" is not known in a record of kind epoch; it holds id, ");
    refused(with("\"walk_percent\": null, ", ""), "bad-document",
            "Line 7, column 5: \"walk_percent\" is missing in a record of kind epoch");
}

static void refuses_values_of_the_wrong_kind(void **state)
{
    (void)state;
    refused(with("\"decks\": []", "\"decks\": {}"), "bad-document",
            "Line 5, column 12: \"decks\" wants a list");
    refused(with("\"tapes\": []", "\"tapes\": [7]"), "bad-document",
            "Line 9, column 13: a record of kind tape is wanted here");
    refused(with("\"version\": \"" ES_VERSION "\"", "\"version\": 1"), "bad-document",
            "Line 3, column 14: \"version\" wants a text");
    refused(with("\"why\": \"as", "\"why\": 7, \"x\": \"as"), "bad-document", "Line 7");
    refused(with("\"began\": \"\"", "\"began\": null"), "bad-document",
            "Line 7, column 48: \"began\" wants a text");
    refused(with("\"number\": 1", "\"number\": 1.5"), "bad-document",
            "Line 7, column 36: \"number\" wants a whole number.");
    refused(with("-0.1", "\"-0.1\""), "bad-document",
            "Line 15, column 143: \"heard_percent\" wants a number or null.");
    refused(with("-0.1", "\"infinite\""), "bad-document", "Line 15, column 143: ");
    refused(with("\"infinite\"", "\"endless\""), "bad-document",
            "Line 15, column 175: \"dof\" wants a number or null, or \"infinite\"");
    refused(with("\"infinite\"", "true"), "bad-document", "Line 15, column 175: ");
}

static void refuses_what_is_out_of_range(void **state)
{
    (void)state;
    const char *const ids[] = {"0", "-1", "9007199254740992", "1.0", "null", "\"7\""};
    for (size_t i = 0; i < sizeof ids / sizeof *ids; i++) {
        char id[40];
        sprintf(id, "\"id\": %s", ids[i]);
        refused(with("\"id\": 7", id), "bad-document",
                "Line 7, column 12: \"id\" wants a whole number from 1 to 9007199254740991.");
    }
    refused(
        with("\"deck\": 3", "\"deck\": 0"), "bad-document",
        "Line 7, column 23: \"deck\" wants a whole number from 1 to 9007199254740991, or null.");
    char room[ES_TIME_ROOM + 40] = "\"began\": \"";
    memset(room + 10, '1', ES_TIME_ROOM);
    strcpy(room + 10 + ES_TIME_ROOM, "\"");
    refused(with("\"began\": \"\"", room), "bad-document",
            "Line 7, column 48: \"began\" wants a text of at most 31 bytes.");
}

static es_status stop_at_the_second(void *user, const es_record_kind *kind, const void *record,
                                    es_error *error)
{
    (void)kind;
    (void)record;
    size_t *seen = user;
    return ++*seen == 2 ? es_fail(error, ES_ERR_IO, "enough", "That is enough.") : ES_OK;
}

static void ends_when_the_taker_says_so(void **state)
{
    (void)state;
    es_records_document *document;
    es_error error = {0};
    size_t seen = 0;
    assert_int_equal(es_records_read(small_text, strlen(small_text), &document, &error), ES_OK);
    assert_int_equal(es_records_give(document, stop_at_the_second, &seen, &error), ES_ERR_IO);
    assert_string_equal(error.code, "enough");
    assert_int_equal(seen, 2);
    es_records_destroy(document);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(looks_as_the_manual_says),
        cmocka_unit_test(says_who_wrote_it_and_when),
        cmocka_unit_test(an_older_documents_jobs_are_the_speeds),
        cmocka_unit_test(each_version_has_its_own_fields),
        cmocka_unit_test(a_job_keeps_what_it_adjusts),
        cmocka_unit_test(nothing_at_all_is_a_document_too),
        cmocka_unit_test(numbers_are_as_short_as_they_can_be),
        cmocka_unit_test(numbers_come_back_bit_for_bit),
        cmocka_unit_test(every_character_of_unicode_comes_back),
        cmocka_unit_test(texts_fill_their_room_to_the_last_byte),
        cmocka_unit_test(results_of_readings_stay_as_they_were_printed),
        cmocka_unit_test(thousands_of_records_go_round),
        cmocka_unit_test(a_text_that_the_disk_has_changed_is_not_written),
        cmocka_unit_test(refuses_what_is_no_json),
        cmocka_unit_test(refuses_another_programs_document),
        cmocka_unit_test(refuses_a_newer_document),
        cmocka_unit_test(refuses_keys_that_are_unknown_or_missing),
        cmocka_unit_test(refuses_values_of_the_wrong_kind),
        cmocka_unit_test(refuses_what_is_out_of_range),
        cmocka_unit_test(ends_when_the_taker_says_so),
    };
    return cmocka_run_group_tests_name("json/records_json", tests, NULL, NULL);
}
