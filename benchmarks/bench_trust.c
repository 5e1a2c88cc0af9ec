/*
 * Figures of the trust network, each with the limit it has to keep:
 *   coverage  how often the truth lies within u95, over 2000 random networks
 *   blunder   how often a planted error of five standard uncertainties is named first, 500 networks
 *   time      2000 epochs and 20 000 plays, made and solved, the best of five
 * Prints a table; the exit code is 1 if a limit is broken. All seeds are fixed.
 */
#include "../tests/trust/random_network.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#define MANY_EPOCHS 2000
#define MANY_PLAYS 20000

static int broken;

static void say(const char *what, double figure, const char *unit, double low, double high)
{
    int good = figure >= low && figure <= high;
    broken |= !good;
    printf("%-58s %8.3f %-3s  %s", what, figure, unit, good ? "ok" : "BROKEN");
    printf("  (%g .. %g)\n", low, high);
}

static void die(const char *what)
{
    fprintf(stderr, "bench_trust: %s\n", what);
    exit(2);
}

static es_network *solved(const es_epoch *e, size_t epochs, const es_observation *o, size_t count)
{
    es_network *net = NULL;
    es_solve_options options = es_solve_defaults();
    if (es_network_create(e, epochs, o, count, &net, NULL) != ES_OK ||
        es_network_solve(net, &options) != ES_OK)
        die("a network could not be solved");
    return net;
}

/* --- coverage ------------------------------------------------------------------------------- */

static double coverage_percent(const random_plan *plan, size_t networks)
{
    static random_network n;
    size_t inside = 0, all = 0;
    for (size_t i = 0; i < networks; i++) {
        random_network_make(&n, plan, 1000 + i);
        es_network *net = solved(n.epoch, n.decks, n.observation, n.observations);
        const es_epoch_result *r = es_network_epochs(net);
        for (size_t d = 0; d < n.decks; d++)
            if (r[d].tied) {
                all++;
                inside += fabs(r[d].estimate.value - n.truth[d]) <= r[d].estimate.u95;
            }
        es_network_destroy(net);
    }
    return 100.0 * (double)inside / (double)all;
}

static void bench_coverage(void)
{
    random_plan plan = {.decks_least = 3,
                        .decks_most = 12,
                        .plays_per_deck = 3,
                        .anchors_least = 1,
                        .anchors_most = 4,
                        .least_dof = (double)INFINITY};
    say("coverage, uncertainties known, no drift", coverage_percent(&plan, 2000), "%", 94, 96);
    plan.walk = 0.003;
    say("coverage, uncertainties known, decks drift", coverage_percent(&plan, 2000), "%", 94, 96);
    plan.least_dof = 5;
    say("coverage, half of the uncertainties estimated, drift", coverage_percent(&plan, 2000), "%",
        94, 96);
    plan.walk = 0;
    say("coverage, half of the uncertainties estimated, no drift", coverage_percent(&plan, 2000),
        "%", 94, 96);
}

/* --- blunder -------------------------------------------------------------------------------- */

static double named_first_percent(size_t plays_per_deck, size_t networks)
{
    static random_network n;
    random_plan plan = {.decks_least = 4,
                        .decks_most = 12,
                        .plays_per_deck = plays_per_deck,
                        .anchors_least = 2,
                        .anchors_most = 4,
                        .least_dof = (double)INFINITY};
    size_t named = 0;
    for (size_t i = 0; i < networks; i++) {
        random_network_make(&n, &plan, 90000 + i);
        random_source r = {i};
        size_t victim = random_below(&r, n.observations);
        while (n.observation[victim].kind != ES_PLAY)
            victim = (victim + 1) % n.observations;
        double sign = random_below(&r, 2) ? 1.0 : -1.0;
        n.observation[victim].value += sign * 5.0 * n.true_u[victim];
        es_network *net = solved(n.epoch, n.decks, n.observation, n.observations);
        named += es_network_summarise(net)->worst == victim;
        es_network_destroy(net);
    }
    return 100.0 * (double)named / (double)networks;
}

/*
 * How well a blunder can be singled out depends on how many others check it. Six plays a deck is
 * what the limit is for; the rest is for information.
 */
static void bench_blunders(void)
{
    for (size_t plays = 3; plays <= 12; plays += plays < 6 ? 1 : 3) {
        char what[80];
        snprintf(what, sizeof what, "blunder of 5 sigma named first, %zu plays a deck", plays);
        say(what, named_first_percent(plays, 500), "%", plays == 6 ? 95 : 0, 100);
    }
}

/* --- time ----------------------------------------------------------------------------------- */

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* hubs: plays begin on one of the first `hubs` epochs, as in a workshop with few good decks. */
static double seconds_for_many(size_t hubs, double walk, double dof)
{
    es_epoch *e = calloc(MANY_EPOCHS, sizeof *e);
    es_observation *o = calloc(MANY_PLAYS + MANY_EPOCHS, sizeof *o);
    if (!e || !o)
        die("no memory");
    random_source r = {7};
    size_t count = 0;
    for (size_t i = 0; i < MANY_EPOCHS; i++)
        e[i] = (es_epoch){.walk = i < hubs ? walk : 0.0, .asked_day = 3650};
    for (size_t i = 0; i < MANY_PLAYS; i++) {
        es_observation p = {.kind = ES_PLAY,
                            .recorded_on = random_below(&r, hubs),
                            .u = 2e-4,
                            .deck = random_below(&r, MANY_EPOCHS),
                            .value = 2e-4 * random_normal(&r),
                            .day = (double)random_below(&r, 3650),
                            .dof = dof};
        p.recorded_day = floor(p.day / 30.0) * 30.0;
        o[count++] = p;
    }
    for (size_t i = 0; i < MANY_EPOCHS; i += 100)
        o[count++] = (es_observation){.kind = ES_ANCHOR,
                                      .deck = i,
                                      .u = 4e-4,
                                      .value = 4e-4 * random_normal(&r),
                                      .dof = (double)INFINITY};
    double best = (double)INFINITY;
    for (int i = 0; i < 5; i++) {
        double start = seconds();
        es_network *net = solved(e, MANY_EPOCHS, o, count);
        best = fmin(best, seconds() - start);
        es_network_destroy(net);
    }
    free(e);
    free(o);
    return best;
}

int main(void)
{
    double inf = (double)INFINITY;
    bench_coverage();
    bench_blunders();
    say("2000 epochs, 20 000 plays, any deck with any", seconds_for_many(MANY_EPOCHS, 0, inf), "s",
        0, 0.5);
    say("the same, few readings each (degrees of freedom)", seconds_for_many(MANY_EPOCHS, 0, 9),
        "s", 0, 0.5);
    say("the same from 20 good decks", seconds_for_many(20, 0, 9), "s", 0, 0.5);
    say("the same from 20 good decks that drift for ten years", seconds_for_many(20, 0.002, 9), "s",
        0, 10);
    return broken;
}
