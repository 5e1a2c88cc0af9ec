/* Documents of the ledger: promised keys, and null for what is not known. */
#include "cm.h"

#include "json/ledger_json.h"
#include "json/trust_json.h"

#include <jansson.h>

#include <stdlib.h>
#include <string.h>

#define NOT_KNOWN ((double)NAN)

/* A deck known to 0.08 %, one that floats, a play between them, an anchor. */
typedef struct sample {
    es_trust_deck decks[2];
    es_trust_tape tape;
    es_trust_link links[2];
    es_trust_suspect suspect;
    es_trust_next next;
    es_trust_result result;
} sample;

static void fill_decks(es_trust_deck decks[2])
{
    es_trust_deck *a = &decks[0], *b = &decks[1];
    a->deck = 1;
    a->number = 2;
    strcpy(a->name, "Küche \"A\"");
    a->latest = a->tied = b->latest = 1;
    a->error_percent = 0.4;
    a->dof = (double)INFINITY;
    a->u95_percent = 0.08;
    b->deck = 2;
    strcpy(b->name, "B");
    b->error_percent = b->u_percent = b->dof = b->u95_percent = NOT_KNOWN;
}

static void fill_links(es_trust_link links[2])
{
    es_trust_link *play = &links[0], *anchor = &links[1];
    play->kind = ES_TRUST_PLAY;
    play->id = 7;
    play->to = 1;
    play->normalised = play->gross_error_percent = NOT_KNOWN;
    play->share = 0.25;
    anchor->kind = ES_TRUST_ANCHOR;
    anchor->id = 3;
    anchor->from = ES_NO_DECK;
    strcpy(anchor->method, "tape-length");
    anchor->role = ES_TRUST_REMOVED;
    anchor->normalised = 4.5;
    anchor->suspect = 1;
    anchor->share = 0.75;
}

static void fill(sample *s)
{
    memset(s, 0, sizeof *s);
    fill_decks(s->decks);
    fill_links(s->links);
    s->tape.tied = 1;
    strcpy(s->tape.name, "T1");
    strcpy(s->tape.path, "recorded on A");
    s->suspect.link = 1;
    s->next.deck = 1;
    strcpy(s->next.measurement, "Play it.");
    s->next.now_u95_percent = NOT_KNOWN;
    s->next.predicted_u95_percent = 0.09;
    s->result = (es_trust_result){.deck_count = 2,
                                  .tape_count = 1,
                                  .link_count = 2,
                                  .suspect_count = 1,
                                  .next_count = 1,
                                  .decks = s->decks,
                                  .tapes = &s->tape,
                                  .links = s->links,
                                  .suspects = &s->suspect,
                                  .next = &s->next,
                                  .chi_square = 1.5,
                                  .degrees_of_freedom = 1};
}

static json_t *loaded(es_status status, char *text)
{
    assert_int_equal(status, ES_OK);
    json_error_t error;
    json_t *document = json_loads(text, 0, &error);
    if (!document)
        fail_msg("%s", error.text);
    free(text);
    return document;
}

static const char *text_at(const json_t *object, const char *key)
{
    const char *text = json_string_value(json_object_get(object, key));
    assert_non_null(text);
    return text;
}

static double number_at(const json_t *object, const char *key)
{
    assert_true(json_is_number(json_object_get(object, key)));
    return json_number_value(json_object_get(object, key));
}

#define assert_null_at(object, key) assert_true(json_is_null(json_object_get(object, key)))

/* The keys that the design fixes. */
static void trust_has_its_promised_keys(void **state)
{
    (void)state;
    sample s;
    char *text;
    fill(&s);
    es_status status = es_trust_to_json(&s.result, &text);
    json_t *root = loaded(status, text), *decks = json_object_get(root, "decks");
    assert_string_equal(text_at(root, "schema"), "evenspool.trust/1");
    const json_t *known = json_array_get(decks, 0), *floating = json_array_get(decks, 1);
    assert_string_equal(text_at(known, "name"), "Küche \"A\"");
    assert_near(number_at(known, "epoch"), 2.0, 0.0);
    assert_near(number_at(known, "error_percent"), 0.4, 1e-12);
    assert_near(number_at(known, "u95_percent"), 0.08, 1e-12);
    assert_true(json_is_true(json_object_get(known, "tied")));
    assert_null_at(known, "degrees_of_freedom"); /* without end */
    assert_null_at(floating, "error_percent");
    assert_null_at(floating, "u95_percent");
    assert_true(json_is_false(json_object_get(floating, "tied")));
    const json_t *tape = json_array_get(json_object_get(root, "tapes"), 0);
    assert_string_equal(text_at(tape, "name"), "T1");
    assert_string_equal(text_at(tape, "path"), "recorded on A");
    assert_near(number_at(root, "chi_square"), 1.5, 0.0);
    assert_near(number_at(root, "degrees_of_freedom"), 1.0, 0.0);
    const json_t *suspect = json_array_get(json_object_get(root, "suspects_of_blunder"), 0);
    assert_string_equal(text_at(suspect, "kind"), "anchor");
    assert_near(number_at(suspect, "id"), 3.0, 0.0);
    assert_near(number_at(suspect, "normalised_residual"), 4.5, 0.0);
    const json_t *next = json_array_get(json_object_get(root, "next"), 0);
    assert_string_equal(text_at(next, "measurement"), "Play it.");
    assert_string_equal(text_at(next, "deck"), "B");
    assert_string_equal(text_at(next, "other_deck"), "Küche \"A\"");
    assert_near(number_at(next, "predicted_u95_percent"), 0.09, 1e-12);
    assert_null_at(next, "now_u95_percent");
    const json_t *play = json_array_get(json_object_get(root, "links"), 0);
    assert_null_at(play, "normalised_residual");
    assert_string_equal(text_at(play, "role"), "used");
    assert_string_equal(text_at(json_array_get(json_object_get(root, "links"), 1), "role"),
                        "removed");
    json_decref(root);
}

static void consistency_is_yes_no_or_not_tested(void **state)
{
    (void)state;
    static const struct {
        es_trust_consistency consistency;
        json_type type;
    } cases[] = {{ES_TRUST_UNTESTED, JSON_NULL},
                 {ES_TRUST_CONSISTENT, JSON_TRUE},
                 {ES_TRUST_CONTRADICTORY, JSON_FALSE}};
    sample s;
    fill(&s);
    for (size_t i = 0; i < COUNT(cases); i++) {
        char *text;
        s.result.consistency = cases[i].consistency;
        es_status status = es_trust_to_json(&s.result, &text);
        json_t *root = loaded(status, text);
        assert_int_equal(json_typeof(json_object_get(root, "consistent")), cases[i].type);
        json_decref(root);
    }
}

static void the_advice_for_a_deck_tells_its_shares(void **state)
{
    (void)state;
    sample s;
    char *text;
    fill(&s);
    es_status status = es_next_to_json(&s.result, &text);
    json_t *root = loaded(status, text);
    assert_string_equal(text_at(root, "schema"), "evenspool.next/1");
    assert_string_equal(text_at(root, "name"), "Küche \"A\"");
    const json_t *shares = json_object_get(root, "shares");
    assert_int_equal(json_array_size(shares), 2);
    assert_near(number_at(json_array_get(shares, 1), "share_percent"), 75.0, 1e-12);
    assert_string_equal(text_at(json_array_get(shares, 1), "method"), "tape-length");
    json_decref(root);
}

static void decks_are_told_with_what_is_known_of_them(void **state)
{
    (void)state;
    sample s;
    char *text;
    es_deck_record deck;
    fill(&s);
    es_record_blank(ES_RECORD_DECK, &deck);
    deck.id = 1;
    strcpy(deck.name, "Küche \"A\"");
    deck.capstan_m = 0.0025;
    es_status status = es_decks_to_json(&deck, 1, &s.result, &text);
    json_t *root = loaded(status, text);
    const json_t *to = json_array_get(json_object_get(root, "decks"), 0);
    assert_near(number_at(to, "capstan_m"), 0.0025, 1e-15);
    assert_null_at(to, "belt_m");
    assert_null_at(to, "photo");
    assert_near(number_at(to, "u95_percent"), 0.08, 1e-12);
    json_decref(root);
}

/* Each part stands with what it is a part of. */
static void a_history_nests_its_parts(void **state)
{
    (void)state;
    es_history h = {.job_count = 2, .nudge_count = 1, .anchor_count = 2, .budget_count = 1};
    es_job_record jobs[2];
    es_nudge_record nudge;
    es_told_anchor anchors[2] = {0};
    es_budget_record line;
    char *text;
    es_record_blank(ES_RECORD_DECK, &h.deck);
    es_record_blank(ES_RECORD_NUDGE, &nudge);
    es_record_blank(ES_RECORD_BUDGET, &line);
    for (size_t i = 0; i < 2; i++) {
        es_record_blank(ES_RECORD_JOB, &jobs[i]);
        es_record_blank(ES_RECORD_ANCHOR, &anchors[i].anchor);
        jobs[i].id = anchors[i].anchor.id = (int64_t)i + 1;
    }
    nudge.job = line.anchor = 2;
    nudge.size_percent = 0.5;
    strcpy(line.what, "rule");
    h.jobs = jobs;
    h.nudges = &nudge;
    h.anchors = anchors;
    h.budget = &line;
    es_status status = es_history_to_json(&h, NULL, &text);
    json_t *root = loaded(status, text);
    assert_null_at(root, "trust");
    const json_t *list = json_object_get(root, "jobs");
    assert_int_equal(json_array_size(json_object_get(json_array_get(list, 0), "nudges")), 0);
    const json_t *nudges = json_object_get(json_array_get(list, 1), "nudges");
    assert_near(number_at(json_array_get(nudges, 0), "size_percent"), 0.5, 0.0);
    assert_null_at(json_array_get(list, 0), "as_found"); /* refers to nothing */
    list = json_object_get(root, "anchors");
    assert_int_equal(json_array_size(json_object_get(json_array_get(list, 0), "budget")), 0);
    const json_t *budget = json_object_get(json_array_get(list, 1), "budget");
    assert_string_equal(text_at(json_array_get(budget, 0), "what"), "rule");
    json_decref(root);
}

static void a_certificate_says_whether_it_is_one(void **state)
{
    (void)state;
    es_tape_record tape;
    char *text;
    es_record_blank(ES_RECORD_TAPE, &tape);
    strcpy(tape.name, "T1");
    es_status status = es_certificate_to_json(&tape, &text);
    json_t *root = loaded(status, text);
    assert_true(json_is_false(json_object_get(root, "tied")));
    assert_null_at(root, "certificate_percent");
    json_decref(root);
    tape.certificate_percent = 0.4;
    status = es_certificate_to_json(&tape, &text);
    root = loaded(status, text);
    assert_true(json_is_true(json_object_get(root, "tied")));
    assert_near(number_at(root, "certificate_percent"), 0.4, 1e-12);
    json_decref(root);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trust_has_its_promised_keys),
        cmocka_unit_test(consistency_is_yes_no_or_not_tested),
        cmocka_unit_test(the_advice_for_a_deck_tells_its_shares),
        cmocka_unit_test(decks_are_told_with_what_is_known_of_them),
        cmocka_unit_test(a_history_nests_its_parts),
        cmocka_unit_test(a_certificate_says_whether_it_is_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
