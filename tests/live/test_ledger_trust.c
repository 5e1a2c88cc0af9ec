/* From the records to the trust in each deck: figures reckoned by hand. */
#include "ledger_help.h"

#include <stdlib.h>

#define K95 1.959964 /* JCGM 100 table G.2: 1.960 for very many degrees of freedom */

static double percent_of_log(double x)
{
    return 100.0 * expm1(x);
}

/*
 * Recorded 0.40 % fast, played 0.65 % slow: 3150 Hz is heard 1.0458 % low, as (1 - 0.0065) / (1 + 0.0040)
 * says. So what is heard so far off on B, with A known, makes B 0.65 % slow.
 */
static void a_comparison_carries_the_trust_over(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    add_deck(l, "B");
    add_deck(l, "C");
    add_anchor_on(l, "A", "tape-length", 0.40, 0.08, "2026-01-10");
    add_play(l, "A", "B", -1.045817, 0.01);
    es_trust_result *r = solve_for(l, "B");
    const es_trust_deck *b = deck_of(r, "B");
    assert_near(b->error_percent, -0.65, 1e-6);
    double of_a = 0.08 / K95 / 1.0040, of_play = 0.01 / (1.0 - 0.01045817);
    double u = 0.9935 * sqrt(of_a * of_a + of_play * of_play);
    assert_near(b->u95_percent, K95 * u, 1e-6);
    assert_string_equal(b->tied_to,
                        "tied to A by 1 play; A was tied to timed tape length on 2026-01-10");
    assert_int_equal(r->shares_of, 1);
    assert_near(r->links[0].share, of_play * of_play / (of_a * of_a + of_play * of_play), 1e-6);
    assert_near(r->links[1].share, of_a * of_a / (of_a * of_a + of_play * of_play), 1e-6);
    assert_near(r->walk_share, 0.0, 1e-12);
    assert_int_equal(r->consistency, ES_TRUST_UNTESTED);
    assert_false(deck_of(r, "C")->tied);
    assert_int_equal(r->untied_decks, 1);
    es_trust_result_destroy(r);
    es_ledger_close(l);
}

/* Three ways to the same deck: the weighted mean (JCGM 100 has it; weights 1 / u^2). */
static void agreeing_ways_are_averaged_by_weight(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    static const double error[] = {0.40, 0.46, 0.43}, u[] = {0.04, 0.03, 0.06};
    double sum = 0.0, weights = 0.0, chi = 0.0;
    for (size_t i = 0; i < 3; i++) {
        add_anchor_on(l, "A", "other", error[i], K95 * u[i], NULL);
        double x = log1p(error[i] / 100.0), s = u[i] / 100.0 / (1.0 + error[i] / 100.0);
        sum += x / (s * s);
        weights += 1.0 / (s * s);
    }
    for (size_t i = 0; i < 3; i++) {
        double x = log1p(error[i] / 100.0), s = u[i] / 100.0 / (1.0 + error[i] / 100.0);
        chi += (x - sum / weights) * (x - sum / weights) / (s * s);
    }
    es_trust_result *r = solve_for(l, NULL);
    assert_near(r->decks->error_percent, percent_of_log(sum / weights), 1e-9);
    assert_near(r->chi_square, chi, 1e-6);
    assert_int_equal(r->degrees_of_freedom, 2);
    assert_int_equal(r->consistency, ES_TRUST_CONSISTENT);
    es_trust_result_destroy(r);
    es_ledger_close(l);
}

static void the_wrong_play_is_named_and_taken_out(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_trust_asked asked = es_trust_asked_defaults();
    static const char *const name[] = {"A", "B", "C", "D"};
    for (size_t i = 0; i < 4; i++)
        add_deck(l, name[i]);
    add_anchor_on(l, "A", "tape-length", 0.0, 0.08, NULL);
    int64_t wrong = 0;
    for (size_t i = 0; i < 4; i++)
        for (size_t k = i + 1; k < 4; k++) {
            int64_t id = add_play(l, name[i], name[k], i == 1 && k == 2 ? 0.30 : 0.0, 0.02);
            if (i == 1 && k == 2)
                wrong = id;
        }
    es_trust_result *r = solve_for(l, NULL);
    assert_int_equal(r->consistency, ES_TRUST_CONTRADICTORY);
    assert_int_equal(r->suspect_count, 1);
    const es_trust_link *suspect = &r->links[r->suspects->link];
    assert_int_equal(suspect->id, wrong);
    assert_near(suspect->gross_error_percent, 0.30, 1e-3);
    assert_non_null(strstr(r->suspects->text, "Play 4 (recorded on B, played on C on "));
    assert_non_null(strstr(r->suspects->text, "says +0.300 %; all the others together speak for "));
    assert_true(deck_of(r, "C")->error_percent > 0.05);
    es_trust_result_destroy(r);
    asked.robust = ES_TRUST_REMOVE;
    assert_ok(es_ledger_solve(l, &asked, &r, &error));
    assert_int_equal(r->removed, 1);
    assert_near(deck_of(r, "C")->error_percent, 0.0, 1e-9);
    assert_int_equal(r->consistency, ES_TRUST_CONSISTENT);
    es_trust_result_destroy(r);
    assert_ok(es_ledger_remove_play(l, wrong, &error));
    r = solve_for(l, NULL);
    assert_int_equal(r->consistency, ES_TRUST_CONSISTENT);
    es_trust_result_destroy(r);
    es_ledger_close(l);
}

static void anchors_that_contradict_are_both_named(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    add_anchor_on(l, "A", "tape-length", 0.0, 0.08, NULL);
    add_anchor_on(l, "A", "test-tape", 1.0, 0.24, NULL);
    es_trust_result *r = solve_for(l, NULL);
    assert_int_equal(r->consistency, ES_TRUST_CONTRADICTORY);
    assert_int_equal(r->suspect_count, 2);
    for (size_t i = 0; i < 2; i++)
        assert_non_null(strstr(r->suspects[i].text, "Nothing in the records tells which of the 2"));
    es_trust_result_destroy(r);
    es_ledger_close(l);
}

/* What is foretold is what comes, once the measurement that was foretold is made. */
static void foretells_what_a_measurement_brings(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    add_deck(l, "B");
    add_deck(l, "C");
    add_anchor_on(l, "A", "tape-length", 0.40, 0.08, NULL);
    add_anchor_on(l, "B", "capstan", -0.62, 0.30, NULL);
    es_trust_result *r = solve_for(l, "B");
    assert_true(r->next_count > 2);
    for (size_t i = 1; i < r->next_count; i++)
        assert_true(r->next[i].predicted_u95_percent >= r->next[i - 1].predicted_u95_percent);
    for (size_t i = 0; i < r->next_count; i++) {
        const es_trust_next *n = &r->next[i];
        int64_t play = 0, anchor = 0;
        assert_near(n->now_u95_percent, 0.30, 1e-6);
        if (n->kind == ES_TRUST_PLAY) {
            double apart = 100.0 * ((1.0 - 0.0062) / 1.0040 - 1.0);
            play = add_play(l, r->decks[n->other].name, "B", apart, n->u_percent);
        } else {
            anchor = add_anchor_on(l, "B", n->method, -0.62, K95 * n->u_percent, NULL);
        }
        es_trust_result *after = solve_for(l, "B");
        assert_near(deck_of(after, "B")->u95_percent, n->predicted_u95_percent,
                    0.01 * n->predicted_u95_percent);
        es_trust_result_destroy(after);
        if (play)
            assert_ok(es_ledger_remove_play(l, play, &error));
        else
            assert_ok(es_ledger_remove_anchor(l, anchor, &error));
    }
    es_trust_result_destroy(r);
    es_ledger_close(l);
}

static void advises_for_the_least_known_deck_first(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_deck_record reel = es_ledger_blank_deck();
    add_deck(l, "A");
    add_deck(l, "B");
    add_deck(l, "C");
    strcpy(reel.name, "R");
    strcpy(reel.transport, "reel-19");
    assert_ok(es_ledger_add_deck(l, &reel, NULL, &error));
    add_anchor_on(l, "A", "tape-length", 0.40, 0.01, NULL);
    add_anchor_on(l, "B", "capstan", -0.62, 0.30, NULL);
    es_trust_result *r = solve_for(l, NULL);
    assert_int_equal(r->next_count, 3); /* nothing done at home makes A surer */
    assert_string_equal(r->decks[r->next[0].deck].name, "C"); /* not tied at all */
    assert_int_equal(r->next[0].kind, ES_TRUST_PLAY);
    assert_string_equal(r->decks[r->next[0].other].name, "A");
    assert_string_equal(r->next[0].measurement,
                        "Record a tone on A and play it on C, or the other way round.");
    assert_string_equal(r->decks[r->next[1].deck].name, "R"); /* no cassette can be played on it */
    assert_int_equal(r->next[1].kind, ES_TRUST_ANCHOR);
    assert_string_equal(r->next[1].method, "tape-length");
    assert_string_equal(r->decks[r->next[2].deck].name, "B");
    es_trust_result_destroy(r);
    es_ledger_close(l);
}

static void a_network_without_anchors_knows_only_differences(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_trust_result *r = solve_for(l, NULL);
    assert_int_equal(r->deck_count + r->link_count + r->tape_count + r->next_count, 0);
    es_trust_result_destroy(r);
    add_deck(l, "A");
    add_deck(l, "B");
    add_deck(l, "C");
    add_play(l, "A", "B", 0.2, 0.02);
    r = solve_for(l, NULL);
    assert_int_equal(r->untied_decks, 3);
    assert_int_equal(r->groups, 2);
    assert_int_equal(r->decks[0].group, r->decks[1].group);
    assert_string_equal(r->decks[1].tied_to, "not tied to true speed; only its difference is "
                                             "known from A by 1 play");
    assert_true(r->next_count > 0);
    assert_int_equal(r->next[0].kind, ES_TRUST_ANCHOR);
    es_trust_result_destroy(r);
    es_trust_asked asked = es_trust_asked_defaults();
    asked.deck = "Z";
    assert_refused(es_ledger_solve(l, &asked, &r, &error), ES_ERR_INPUT, "unknown");
    asked.deck = NULL;
    asked.level = 2.0;
    assert_refused(es_ledger_solve(l, &asked, &r, &error), ES_ERR_ARG, "bad-level");
    es_ledger_close(l);
}

/* A deck wanders since it was anchored: u^2 + w^2 t (docs/trust.md), one year of 365.25 days. */
static void trust_fades_with_the_years(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    add_deck(l, "B");
    assert_ok(es_ledger_set_drift(l, "A", 0.3, &error));
    assert_ok(es_ledger_set_drift(l, "B", (double)NAN, &error)); /* the usual */
    add_anchor_on(l, "A", "tape-length", 0.0, 0.08, "2020-01-01");
    add_anchor_on(l, "B", "tape-length", 0.0, 0.08, "2020-01-01");
    es_trust_result *r = solve_for(l, "A");
    double days = es_day_of(r->asked_day) - es_day_of("2020-01-01"), u = 0.08 / K95;
    double years = days / 365.25;
    assert_near(r->decks[0].u_percent, sqrt(u * u + 0.09 * years), 1e-6);
    assert_near(r->decks[1].u_percent, sqrt(u * u + 0.01 * years), 1e-6);
    assert_near(r->walk_share, 0.09 * years / (u * u + 0.09 * years), 1e-6);
    es_trust_result_destroy(r);
    es_tape_record then = home_made(l, "T", "A", "2020-01-01"); /* as sure as the deck was then */
    assert_near(then.certificate_u95_percent, 0.08, 1e-6);
    assert_refused(es_ledger_set_drift(l, "A", -1.0, &error), ES_ERR_ARG, "bad-drift");
    es_ledger_close(l);
}

#define PLACE(test) cmocka_unit_test_setup_teardown(test, place_setup, place_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE(a_comparison_carries_the_trust_over),
        PLACE(agreeing_ways_are_averaged_by_weight),
        PLACE(the_wrong_play_is_named_and_taken_out),
        PLACE(anchors_that_contradict_are_both_named),
        PLACE(foretells_what_a_measurement_brings),
        PLACE(advises_for_the_least_known_deck_first),
        PLACE(a_network_without_anchors_knows_only_differences),
        PLACE(trust_fades_with_the_years),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
