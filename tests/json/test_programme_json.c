#include "cm.h"

#include "evenspool/task/programme.h"
#include "json/programme_json.h"

#include <stdlib.h>
#include <string.h>

/* Written by hand, as docs/programmes.md tells it. */
static const char small[] =
    "{\n"
    "  \"schema\": \"evenspool.programme/1\",\n"
    "  \"name\": \"two-tones\",\n"
    "  \"about\": \"Speed, and a little response\",\n"
    "  \"transport\": \"cassette\", \"equalisation\": \"120\",\n"
    "  \"reference_nwb_m\": 250, \"marker_db\": -10,\n"
    "  \"broad_low_hz\": 200, \"broad_high_hz\": 16000, \"side_most_s\": 1800,\n"
    "  \"sides\": [\n"
    "    {\"sections\": [\n"
    "      {\"kind\": \"leader\", \"name\": \"leader\", \"seconds\": 10.5},\n"
    "      {\"kind\": \"speed\", \"name\": \"speed\", \"hz\": 3150, \"level_db\": -6, \"seconds\": "
    "60},\n"
    "      {\"kind\": \"response\", \"name\": \"response\", \"steps\": [\n"
    "        {\"hz\": 315, \"level_db\": -20, \"seconds\": 4},\n"
    "        {\"hz\": 31.5, \"level_db\": -20, \"seconds\": 4}\n"
    "      ]},\n"
    "      {\"kind\": \"end\", \"name\": \"end\"}\n"
    "    ]},\n"
    "    {\"as\": 1}\n"
    "  ]\n"
    "}\n";

static es_programme programme, again;
static char changed[2 * sizeof small];

/* The small text with the first `from` in it replaced. */
static const char *with(const char *from, const char *to)
{
    const char *at = strstr(small, from);
    assert_non_null(at);
    size_t before = (size_t)(at - small);
    memcpy(changed, small, before);
    strcpy(changed + before, to);
    strcat(changed, at + strlen(from));
    return changed;
}

static void refused(const char *text, const char *sentence)
{
    es_error error = {0};
    assert_int_equal(es_programme_from_json(text, strlen(text), &programme, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "programme-text");
    if (strncmp(error.text, sentence, strlen(sentence)) != 0)
        fail_msg("\"%s\" does not begin with \"%s\"", error.text, sentence);
    assert_int_equal(programme.side_count, 0);
}

/* --- reading ---------------------------------------------------------------------------------- */

static void reads_a_programme_written_by_hand(void **state)
{
    (void)state;
    es_error error = {0};
    assert_int_equal(es_programme_from_json(small, strlen(small), &programme, &error), ES_OK);
    assert_int_equal(es_programme_check(&programme, NULL, &error), ES_OK);
    assert_string_equal(programme.name, "two-tones");
    assert_string_equal(programme.about, "Speed, and a little response");
    assert_string_equal(programme.transport, "cassette");
    assert_string_equal(programme.equalisation, "120");
    assert_near(programme.reference_nwb_m, 250.0, 0.0);
    assert_near(programme.marker_db, -10.0, 0.0);
    assert_near(programme.broad_high_hz, 16000.0, 0.0);
    assert_near(programme.side_most_s, 1800.0, 0.0);
    assert_int_equal(programme.side_count, 2);
    const es_programme_side *side = &programme.side[1];
    assert_int_equal(side->section_count, 4);
    assert_near(side->section[0].step[0].seconds, 10.5, 0.0);
    assert_int_equal(side->section[1].kind, ES_SECTION_SPEED);
    assert_int_equal(side->section[2].step_count, 2);
    assert_near(side->section[2].step[1].hz, 31.5, 0.0);
    assert_near(side->section[2].step[1].level_db, -20.0, 0.0);
    assert_int_equal(side->section[3].step_count, 0);
}

static void points_at_what_is_no_json(void **state)
{
    (void)state;
    refused("", "Line 1, column 1: this is not JSON (");
    refused(with("\"hz\": 315,", "\"hz\" 315,"), "Line 13, column 17: this is not JSON (");
    refused(with("\"marker_db\": -10", "\"marker_db\": NaN"), "Line 6, column ");
    refused(with("\"marker_db\"", "\"reference_nwb_m\""), "Line 6, column ");
}

static void points_at_what_is_not_known(void **state)
{
    (void)state;
    refused(with("\"hz\": 31.5", "\"herz\": 31.5"),
            "Line 14, column 10: \"herz\" is not known in a step; it holds hz, level_db, seconds.");
    refused(with("\"marker_db\"", "\"markers_db\""),
            "Line 6, column 27: \"markers_db\" is not known");
    refused(with("\"as\": 1", "\"as\": 1, \"x\": 2"), "Line 18, column 15: \"x\" is not known");
    refused(
        with("\"leader\", \"seconds\"", "\"leader\", \"hz\": 0, \"seconds\""),
        "Line 10, column 44: \"hz\" is not known in a section of kind leader; it holds kind, name, "
        "seconds.");
    refused(with("\"name\": \"end\"", "\"name\": \"end\", \"seconds\": 1"), "Line 16, column 38: ");
}

static void points_at_where_something_is_missing(void **state)
{
    (void)state;
    refused(
        with(", \"level_db\": -6", ""),
        "Line 11, column 7: \"level_db\" is missing in a section of kind speed that begins here.");
    refused(with("\"transport\": \"cassette\", ", ""),
            "Line 1, column 1: \"transport\" is missing");
    refused(with("\"kind\": \"end\", ", ""), "Line 16, column 7: \"kind\" is missing");
    refused(with(", \"seconds\": 4}\n", "}\n"),
            "Line 14, column 9: \"seconds\" is missing in a step");
}

static void points_at_values_of_the_wrong_kind(void **state)
{
    (void)state;
    refused(with("\"hz\": 31.5", "\"hz\": \"31.5\""), "Line 14, column 16: \"hz\" wants a number.");
    refused(with("250", "null"), "Line 6, column 22: \"reference_nwb_m\" wants a number.");
    refused(with("\"120\"", "120"), "Line 5, column 44: \"equalisation\" wants a text");
    refused(with("\"two-tones\"", "\"a-name-that-is-longer-than-any-name-may-be\""),
            "Line 3, column 11: \"name\" wants a text of at most 31 bytes.");
    refused(with("\"kind\": \"speed\"", "\"kind\": \"sped\""),
            "Line 11, column 16: \"kind\" wants one of leader, speed, level,");
    refused(with("{\"kind\": \"end\", \"name\": \"end\"}", "7"),
            "Line 16, column 7: a section is wanted here");
    refused(with("{\"as\": 1}", "[]"), "Line 18, column 5: a side is wanted here");
    refused(with("{\"as\": 1}", "{\"as\": 2}"), "Line 18, column 12: \"as\" wants 1");
    refused(with("{\"as\": 1}", "{\"sections\": []}"),
            "Line 18, column 18: \"sections\" wants a list of 1 to 32");
    refused("[1]", "Line 1, column 1: a programme is wanted here");
    refused(with("programme/1", "programme/2"), "Line 2, column 13: a programme has \"schema\"");
    refused("{\"a\": 1}", "Line 1, column 1: a programme has \"schema\"");
}

static void too_many_of_anything_is_refused(void **state)
{
    (void)state;
    refused(with("{\"as\": 1}", "{\"as\": 1}, {\"as\": 1}"),
            "Line 8, column 12: \"sides\" wants a list of 1 to 2");
    static char many[8192];
    strcpy(many, "[");
    for (int i = 0; i < 25; i++)
        strcat(many, "{\"hz\": 315, \"level_db\": -20, \"seconds\": 4},");
    const char *list = strstr(small, "\"steps\": [");
    static char text[sizeof many + sizeof small];
    memcpy(text, small, (size_t)(list - small));
    strcat(text, "\"steps\": ");
    strcat(text, many);
    strcat(text, list + strlen("\"steps\": ["));
    refused(text, "Line 12, column 57: \"steps\" wants a list of 1 to 24");
}

/* --- pointing at what another found -------------------------------------------------------------- */

static void points_at(const char *text, const char *sentence)
{
    es_error found = {0}, error = {0};
    es_programme_spot spot;
    assert_int_equal(es_programme_from_json(text, strlen(text), &programme, NULL), ES_OK);
    assert_int_equal(es_programme_check(&programme, &spot, &found), ES_ERR_INPUT);
    assert_int_equal(es_programme_json_point(text, strlen(text), &spot, &found, &error),
                     ES_ERR_INPUT);
    if (strncmp(error.text, sentence, strlen(sentence)) != 0)
        fail_msg("\"%s\" does not begin with \"%s\"", error.text, sentence);
}

static void points_at_what_the_check_refuses(void **state)
{
    (void)state;
    points_at(with("31.5", "3.15"),
              "Line 14, column 16: Side 1, section 3, step 2: the tone must be 20 to 22000 Hz.");
    points_at(with("3150", "31500"), "Line 11, column 48: Side 1, section 2, step 1: the tone");
    points_at(with("\"name\": \"speed\"", "\"name\": \"Speed\""), "Line 11, column 33: Side 1");
    points_at(with("\"cassette\"", "\"wire\""), "Line 5, column 16: There is no such class");
    points_at(with("1800", "70"), "Line 9, column 18: Side 1 takes ");
    points_at(with("{\"as\": 1}",
                   "{\"sections\": [{\"kind\": \"leader\", \"name\": \"x\", \"seconds\": 2}]}"),
              "Line 18, column 28: Side 2, section 1: the last section");
}

/* --- writing ----------------------------------------------------------------------------------- */

static void assert_alike(const es_programme *a, const es_programme *b)
{
    assert_string_equal(a->name, b->name);
    assert_string_equal(a->about, b->about);
    assert_string_equal(a->transport, b->transport);
    assert_string_equal(a->equalisation, b->equalisation);
    assert_near(a->reference_nwb_m, b->reference_nwb_m, 0.0);
    assert_near(a->marker_db, b->marker_db, 0.0);
    assert_near(a->broad_low_hz, b->broad_low_hz, 0.0);
    assert_near(a->broad_high_hz, b->broad_high_hz, 0.0);
    assert_near(a->side_most_s, b->side_most_s, 0.0);
    assert_int_equal(a->side_count, b->side_count);
    for (size_t k = 0; k < a->side_count; k++) {
        assert_int_equal(a->side[k].section_count, b->side[k].section_count);
        for (size_t i = 0; i < a->side[k].section_count; i++) {
            const es_programme_section *s = &a->side[k].section[i], *t = &b->side[k].section[i];
            assert_int_equal(s->kind, t->kind);
            assert_string_equal(s->name, t->name);
            assert_int_equal(s->step_count, t->step_count);
            assert_memory_equal(s->step, t->step, s->step_count * sizeof *s->step);
        }
    }
}

static void survives_the_way_there_and_back(void)
{
    char *text;
    es_error error = {0};
    assert_int_equal(es_programme_to_json(&programme, &text), ES_OK);
    assert_int_equal(es_programme_from_json(text, strlen(text), &again, &error), ES_OK);
    assert_alike(&programme, &again);
    assert_int_equal(es_programme_id(&programme), es_programme_id(&again));
    free(text);
}

static void built_in_programmes_survive_the_way_there_and_back(void **state)
{
    (void)state;
    for (size_t i = 0; i < es_programme_builtin_count(); i++) {
        assert_int_equal(es_programme_builtin(i, &programme), ES_OK);
        survives_the_way_there_and_back();
    }
}

static void odd_numbers_and_words_survive_too(void **state)
{
    (void)state;
    assert_int_equal(es_programme_from_json(small, strlen(small), &programme, NULL), ES_OK);
    strcpy(programme.about, "\"quoted\" \\ \xC2\xB5s");
    programme.marker_db = -10.0 / 3.0;
    programme.reference_nwb_m = 0x1.fffffffffffffp+7;
    programme.side[1].section[1].step[0].hz = 0.1;
    survives_the_way_there_and_back();
}

static void the_text_is_one_to_write_by_hand(void **state)
{
    (void)state;
    char *text;
    assert_int_equal(es_programme_from_json(small, strlen(small), &programme, NULL), ES_OK);
    assert_int_equal(es_programme_to_json(&programme, &text), ES_OK);
    assert_non_null(strstr(text, "\n        {\"hz\": 31.5, \"level_db\": -20, \"seconds\": 4}\n"));
    assert_non_null(strstr(text, "\n    {\"as\": 1}\n"));
    assert_non_null(strstr(text, "\"name\": \"leader\", \"seconds\": 10.5},\n"));
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_a_programme_written_by_hand),
        cmocka_unit_test(points_at_what_is_no_json),
        cmocka_unit_test(points_at_what_is_not_known),
        cmocka_unit_test(points_at_where_something_is_missing),
        cmocka_unit_test(points_at_values_of_the_wrong_kind),
        cmocka_unit_test(too_many_of_anything_is_refused),
        cmocka_unit_test(points_at_what_the_check_refuses),
        cmocka_unit_test(built_in_programmes_survive_the_way_there_and_back),
        cmocka_unit_test(odd_numbers_and_words_survive_too),
        cmocka_unit_test(the_text_is_one_to_write_by_hand),
    };
    return cmocka_run_group_tests_name("json/programme_json", tests, NULL, NULL);
}
