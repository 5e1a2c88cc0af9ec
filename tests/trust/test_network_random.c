/* A small run of what benchmarks/bench_trust.c does at full size: random networks, known truth. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "random_network.h"
#include "small_network.h"

static double coverage(const random_plan *plan, size_t networks)
{
    static random_network n;
    size_t inside = 0, all = 0;
    for (size_t i = 0; i < networks; i++) {
        random_network_make(&n, plan, 1000 + i);
        es_network *net =
            solve_with(n.epoch, n.decks, n.observation, n.observations, ES_ROBUST_NONE);
        for (size_t d = 0; d < n.decks; d++) {
            const es_epoch_result *r = &es_network_epochs(net)[d];
            all += (size_t)r->tied;
            inside += r->tied && fabs(r->estimate.value - n.truth[d]) <= r->estimate.u95;
        }
        es_network_destroy(net);
    }
    return (double)inside / (double)all;
}

/* 300 networks: the standard deviation of the share is about 1 %. */
static void the_truth_lies_within_u95_as_often_as_promised(void **state)
{
    (void)state;
    random_plan plan = {.decks_least = 3,
                        .decks_most = 12,
                        .plays_per_deck = 3,
                        .anchors_least = 1,
                        .anchors_most = 4,
                        .least_dof = (double)INFINITY};
    assert_near(coverage(&plan, 300), 0.95, 0.03);
    plan.walk = 0.003;
    plan.least_dof = 5;
    assert_near(coverage(&plan, 300), 0.95, 0.03);
}

/* Chi-square over its degrees of freedom is 1 on average if the stated uncertainties are true. */
static void chi_square_has_its_expected_mean(void **state)
{
    (void)state;
    static random_network n;
    random_plan plan = {.decks_least = 3,
                        .decks_most = 12,
                        .plays_per_deck = 4,
                        .anchors_least = 1,
                        .anchors_most = 4,
                        .least_dof = (double)INFINITY,
                        .walk = 0.003};
    double sum = 0.0, dof = 0.0, contradictory = 0.0;
    for (size_t i = 0; i < 300; i++) {
        random_network_make(&n, &plan, 5000 + i);
        es_network *net =
            solve_with(n.epoch, n.decks, n.observation, n.observations, ES_ROBUST_NONE);
        const es_network_summary *s = es_network_summarise(net);
        sum += s->chi_square;
        dof += (double)s->degrees_of_freedom;
        contradictory += s->consistency == ES_CONTRADICTORY;
        es_network_destroy(net);
    }
    assert_near(sum / dof, 1.0, 5.0 * sqrt(2.0 / dof)); /* variance of chi-square: 2 dof */
    assert_near(contradictory / 300.0, 0.05, 0.05);     /* four standard deviations */
}

static void a_planted_blunder_is_named_first(void **state)
{
    (void)state;
    static random_network n;
    random_plan plan = {.decks_least = 4,
                        .decks_most = 12,
                        .plays_per_deck = 6,
                        .anchors_least = 2,
                        .anchors_most = 4,
                        .least_dof = (double)INFINITY};
    size_t named = 0;
    for (size_t i = 0; i < 100; i++) {
        random_network_make(&n, &plan, 90000 + i);
        random_source r = {i};
        size_t victim = random_below(&r, n.observations);
        while (n.observation[victim].kind != ES_PLAY)
            victim = (victim + 1) % n.observations;
        n.observation[victim].value += (i % 2 ? 5.0 : -5.0) * n.true_u[victim];
        es_network *net =
            solve_with(n.epoch, n.decks, n.observation, n.observations, ES_ROBUST_NONE);
        named += es_network_summarise(net)->worst == victim;
        es_network_destroy(net);
    }
    assert_true(named >= 92); /* of 100; at full size at least 95 % */
}

/* A network too interwoven for the small tests: the core and the columns work together. */
static void a_large_network_keeps_its_sums(void **state)
{
    (void)state;
    enum { DECKS = 300, PLAYS = 2000 };
    static es_epoch epochs[DECKS];
    static es_observation o[PLAYS + 20];
    random_source r = {3};
    size_t count = 0;
    for (size_t i = 0; i < PLAYS; i++) {
        size_t a = i < DECKS ? i : random_below(&r, DECKS);
        size_t b = (a + 1 + random_below(&r, DECKS - 1)) % DECKS;
        o[count++] = play(a, b, random_uniform(&r, -0.01, 0.01), random_uniform(&r, 0.005, 0.05));
    }
    for (size_t i = 0; i < 20; i++)
        o[count++] = with_dof(anchor(i, 0.0, 0.05), 9.0);
    es_network *net = solve_with(epochs, DECKS, o, count, ES_ROBUST_NONE);
    const es_network_summary *s = es_network_summarise(net);
    double redundancy = 0.0, share[PLAYS + 20], walk, sum = 0.0;
    for (size_t i = 0; i < count; i++)
        redundancy += es_network_observations(net)[i].redundancy;
    assert_int_equal(s->untied_epochs, 0);
    assert_near(redundancy, (double)s->degrees_of_freedom, 1e-7);
    assert_int_equal(es_network_shares(net, 77, share, &walk), ES_OK);
    for (size_t i = 0; i < count; i++)
        sum += share[i];
    assert_near(sum, 1.0, 1e-9);
    assert_true(isfinite(es_network_epochs(net)[77].estimate.dof));
    es_network_destroy(net);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_truth_lies_within_u95_as_often_as_promised),
        cmocka_unit_test(chi_square_has_its_expected_mean),
        cmocka_unit_test(a_planted_blunder_is_named_first),
        cmocka_unit_test(a_large_network_keeps_its_sums),
    };
    return cmocka_run_group_tests_name("trust/network_random", tests, NULL, NULL);
}
