/* Contradictions, blunders, and what the two robust ways of solving make of them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "near.h"
#include "small_network.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))

static void contradicting_anchors_are_named_together(void **state)
{
    (void)state;
    es_observation o[] = {anchor(0, 0.0, 0.05), anchor(0, 1.0, 0.05), play(0, 1, 0.2, 0.02)};
    es_network *net = solve_still(2, o, COUNT(o));
    const es_network_summary *s = es_network_summarise(net);
    const es_observation_result *r = es_network_observations(net);
    assert_int_equal(s->consistency, ES_CONTRADICTORY);
    assert_near(r[1].normalised, 1.0 / (0.05 * sqrt(2.0)), 0.1);
    /* two that only check each other: it can't be told which is wrong */
    assert_int_equal(s->suspects, 2);
    assert_true(r[0].suspect && r[1].suspect && !r[2].suspect);
    es_network_destroy(net);
    es_epoch still[2] = {{0}};
    net = solve_with(still, 2, o, COUNT(o), ES_ROBUST_REMOVE);
    assert_int_equal(es_network_summarise(net)->removed, 0);
    es_network_destroy(net);
}

static size_t with_blunder(es_observation *o)
{
    size_t count;
    memcpy(o, levelling(&count), 12 * sizeof *o);
    o[7].value += 0.0030; /* play(4, 2, ...) reads 0.3 % too much, 27 u */
    return count;
}

/* What is planted comes back on top of what was there: least squares is linear. */
static void a_blunder_is_named_with_its_size(void **state)
{
    (void)state;
    es_observation o[12];
    size_t count = with_blunder(o);
    es_network *net = solve_still(6, o, count), *before = solve_still(6, levelling(&count), count);
    double there = es_network_observations(before)[7].gross_error;
    const es_network_summary *s = es_network_summarise(net);
    assert_int_equal(s->worst, 7);
    assert_int_equal(s->suspects, 1);
    assert_true(es_network_observations(net)[7].suspect);
    assert_near(es_network_observations(net)[7].gross_error - there, 0.0030, 0.00003);
    es_network_destroy(before);
    es_network_destroy(net);
}

/* Sidak: of 12 observations one passes 5 % together if each passes 1 - 0.95^(1/12) alone. */
static void the_critical_value_counts_the_observations(void **state)
{
    (void)state;
    size_t count;
    const es_observation *o = levelling(&count);
    es_network *net = solve_still(6, o, count);
    double critical = es_network_summarise(net)->critical;
    assert_near(erfc(critical / sqrt(2.0)), 1.0 - pow(0.95, 1.0 / 12.0), 1e-10);
    es_network_destroy(net);
}

static void removing_a_blunder_gives_the_answer_without_it(void **state)
{
    (void)state;
    es_observation o[12], left[11];
    es_epoch still[6] = {{0}};
    size_t count = with_blunder(o);
    memcpy(left, o, 7 * sizeof *o);
    memcpy(left + 7, o + 8, 4 * sizeof *o);
    es_network *net = solve_with(still, 6, o, count, ES_ROBUST_REMOVE);
    es_network *without = solve_still(6, left, 11);
    const es_observation_result *r = es_network_observations(net);
    assert_int_equal(es_network_summarise(net)->removed, 1);
    assert_int_equal(r[7].role, ES_ROLE_REMOVED);
    assert_near(r[7].gross_error, 0.0027, 0.00005); /* 0.30 less the 0.03 it was short before */
    assert_true(fabs(r[7].normalised) > 10.0);
    for (size_t i = 0; i < 6; i++) {
        es_estimate a = es_network_epochs(net)[i].estimate;
        es_estimate b = es_network_epochs(without)[i].estimate;
        assert_near(a.value, b.value, 1e-13);
        assert_near(a.u95, b.u95, 1e-13);
    }
    assert_near(es_network_summarise(net)->chi_square, es_network_summarise(without)->chi_square,
                1e-9);
    assert_int_equal(es_network_summarise(net)->degrees_of_freedom, 5);
    es_network_destroy(net);
    es_network_destroy(without);
}

static void softening_a_blunder_brings_the_answer_back(void **state)
{
    (void)state;
    es_observation o[12];
    es_epoch still[6] = {{0}};
    size_t sound_count, count = with_blunder(o);
    const es_observation *sound = levelling(&sound_count);
    es_network *good = solve_still(6, sound, sound_count), *bad = solve_still(6, o, count);
    es_network *soft = solve_with(still, 6, o, count, ES_ROBUST_SOFTEN);
    double off = 0.0, softened = 0.0;
    for (size_t i = 0; i < 6; i++) {
        double truth = es_network_epochs(good)[i].estimate.value;
        off = fmax(off, fabs(es_network_epochs(bad)[i].estimate.value - truth));
        softened = fmax(softened, fabs(es_network_epochs(soft)[i].estimate.value - truth));
    }
    assert_true(softened < 0.2 * off);
    assert_true(es_network_observations(soft)[7].weight < 0.15);
    /* the tests still speak of what was observed */
    assert_near(es_network_summarise(soft)->chi_square, es_network_summarise(bad)->chi_square,
                1e-9);
    assert_int_equal(es_network_summarise(soft)->worst, 7);
    es_network_destroy(good);
    es_network_destroy(bad);
    es_network_destroy(soft);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(contradicting_anchors_are_named_together),
        cmocka_unit_test(a_blunder_is_named_with_its_size),
        cmocka_unit_test(the_critical_value_counts_the_observations),
        cmocka_unit_test(removing_a_blunder_gives_the_answer_without_it),
        cmocka_unit_test(softening_a_blunder_brings_the_answer_back),
    };
    return cmocka_run_group_tests_name("trust/network_robust", tests, NULL, NULL);
}
