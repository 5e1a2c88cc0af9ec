#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "alloc_probe.h"
#include "evenspool/trust/certificate.h"
#include "near.h"
#include "small_network.h"

static const char *const decks[] = {"deck A", "deck B", "deck C", "deck D"};

static es_certificate certify(es_network *net, const char *const *anchors, const char *const *days,
                              size_t epoch, double day)
{
    es_certificate_names names = {decks, anchors, days};
    es_certificate c;
    assert_int_equal(es_certificate_make(net, &names, epoch, day, &c), ES_OK);
    return c;
}

/* A tape from a deck known to be 0.40 % fast is a good tape. */
static void a_tape_has_the_error_of_its_deck(void **state)
{
    (void)state;
    es_observation o = anchor(1, 0.40, 0.04);
    const char *const methods[] = {"timed tape length"}, *const days[] = {"3 May 2024"};
    es_network *net = solve_still(2, &o, 1);
    es_certificate c = certify(net, methods, days, 1, 0.0);
    assert_true(c.tied);
    assert_near(c.estimate.value, 0.0040, 1e-12);
    assert_near(c.estimate.u95, 1.96 * 0.0004, 1e-6);
    assert_string_equal(c.path,
                        "recorded on deck B, which was tied to timed tape length on 3 May 2024");
    es_network_destroy(net);
}

static void the_path_follows_the_plays_to_the_anchors(void **state)
{
    (void)state;
    es_observation o[] = {anchor(1, 0.1, 0.05),    play(1, 2, 0.1, 0.01), play(2, 1, -0.1, 0.01),
                          play(1, 2, 0.11, 0.01),  anchor(2, 0.2, 0.06),  play(3, 1, 0.0, 0.02),
                          play(3, 3, 0.001, 0.01), anchor(2, 0.19, 0.08)};
    const char *const methods[] = {
        "timed tape length", NULL, NULL, NULL,
        "bought test tape",  NULL, NULL, "capstan diameter and turning rate"};
    const char *const days[] = {"3 May", NULL, NULL, NULL, NULL, NULL, NULL, "5 May"};
    es_network *net = solve_still(4, o, 8);
    es_certificate c = certify(net, methods, days, 1, 0.0);
    /* deck D gives nothing to deck B and is not named */
    assert_string_equal(c.path, "recorded on deck B, which was tied to timed tape length on 3 May "
                                "and to deck C by 3 plays; deck C was tied to bought test tape and "
                                "to capstan diameter and turning rate on 5 May");
    c = certify(net, methods, days, 3, 0.0);
    assert_string_equal(
        c.path, "recorded on deck D, which was tied to deck B by 1 play; deck B was tied to "
                "timed tape length on 3 May and to deck C by 3 plays; deck C was tied to "
                "bought test tape and to capstan diameter and turning rate on 5 May");
    es_network_destroy(net);
}

static void what_counts_for_little_is_not_named(void **state)
{
    (void)state;
    es_observation o[] = {anchor(0, 0.1, 0.01), anchor(0, 0.1, 0.5)};
    const char *const methods[] = {"timed tape length", "music against a digital copy"};
    const char *const days[] = {NULL, NULL};
    es_network *net = solve_still(1, o, 2);
    es_certificate c = certify(net, methods, days, 0, 0.0);
    assert_string_equal(c.path, "recorded on deck A, which was tied to timed tape length");
    es_network_destroy(net);
}

/* One play each way: what flows through them adds up, it does not cancel. */
static void plays_both_ways_count_together(void **state)
{
    (void)state;
    es_observation o[] = {anchor(0, 0.1, 0.05), play(0, 1, 0.1, 0.01), play(1, 0, -0.1, 0.01)};
    const char *const methods[] = {"timed tape length", NULL, NULL};
    const char *const days[] = {NULL, NULL, NULL};
    es_network *net = solve_still(2, o, 3);
    es_certificate c = certify(net, methods, days, 1, 0.0);
    assert_string_equal(c.path,
                        "recorded on deck B, which was tied to deck A by 2 plays; deck A was "
                        "tied to timed tape length");
    es_network_destroy(net);
}

static void a_floating_deck_makes_no_certificate_but_says_why(void **state)
{
    (void)state;
    es_observation o[] = {play(1, 0, 0.1, 0.01), play(0, 2, 0.1, 0.01), play(1, 0, 0.1, 0.01)};
    const char *const none[] = {NULL, NULL, NULL};
    es_network *net = solve_still(4, o, 3);
    es_certificate c = certify(net, none, none, 0, 0.0);
    assert_false(c.tied);
    assert_true(isnan(c.estimate.value) && isnan(c.estimate.u95));
    assert_string_equal(c.path, "recorded on deck A, which is not tied to true speed; only its "
                                "difference is known from deck B by 2 plays and from deck C by 1 "
                                "play");
    c = certify(net, none, none, 3, 0.0);
    assert_string_equal(c.path, "recorded on deck D, which is not tied to true speed");
    es_network_destroy(net);
}

/* 0.3 % per root year, recorded a year after the anchor. */
static void a_drifting_deck_is_certified_for_the_day_of_recording(void **state)
{
    (void)state;
    es_epoch epoch = {.walk = 0.003, .asked_day = 4000.0};
    es_observation o = on_days(anchor(0, 0.0, 0.08), 0.0, 0.0);
    const char *const methods[] = {"timed tape length"}, *const days[] = {NULL};
    es_network *net = solve_with(&epoch, 1, &o, 1, ES_ROBUST_NONE);
    es_certificate c = certify(net, methods, days, 0, 365.0);
    assert_near(c.estimate.u, hypot(0.0008, 0.003 * sqrt(365.0 / 365.25)), 1e-9);
    es_network_destroy(net);
}

static void long_names_are_cut_and_nothing_allocates(void **state)
{
    (void)state;
    static char longest[1200];
    memset(longest, 'x', sizeof longest - 1);
    const char *const names_of[] = {longest}, *const methods[] = {"m"}, *const days[] = {NULL};
    es_observation o = anchor(0, 0.0, 0.08);
    es_network *net = solve_still(1, &o, 1);
    es_certificate_names names = {names_of, methods, days};
    es_certificate c;
    alloc_probe_reset();
    assert_int_equal(es_certificate_make(net, &names, 0, 0.0, &c), ES_OK);
    assert_int_equal(strlen(c.path), sizeof c.path - 1);
    assert_int_equal(es_certificate_make(net, &names, 1, 0.0, &c), ES_ERR_ARG);
    assert_true(!c.tied && isnan(c.estimate.value) && c.path[0] == '\0');
    assert_int_equal(alloc_probe_calls(), 0);
    es_network_destroy(net);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_tape_has_the_error_of_its_deck),
        cmocka_unit_test(the_path_follows_the_plays_to_the_anchors),
        cmocka_unit_test(what_counts_for_little_is_not_named),
        cmocka_unit_test(plays_both_ways_count_together),
        cmocka_unit_test(a_floating_deck_makes_no_certificate_but_says_why),
        cmocka_unit_test(a_drifting_deck_is_certified_for_the_day_of_recording),
        cmocka_unit_test(long_names_are_cut_and_nothing_allocates),
    };
    return cmocka_run_group_tests_name("trust/certificate", tests, NULL, NULL);
}
