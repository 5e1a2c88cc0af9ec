/*
 * Solves a trust network from text, prints what came out as one JSON document, for test_of_network.py.
 *
 *   in   epochs N, then N lines: walk asked_day
 *        observations M, then M lines: kind deck recorded_on day recorded_day value u dof
 *        (kind 0: play, 1: anchor; recorded_on 0 for an anchor)
 *        differences D, then D lines: a b
 */
#include "evenspool/trust/network.h"

#include <math.h>
#include <stdio.h>

#define MOST 64

typedef struct task {
    es_epoch epoch[MOST];
    es_observation observation[MOST];
    size_t pair[MOST][2];
    size_t epochs, observations, pairs;
} task;

static int read_count(size_t *count)
{
    return scanf("%zu", count) == 1 && *count <= MOST;
}

static int read_task(task *t)
{
    int kind;
    if (!read_count(&t->epochs))
        return 0;
    for (size_t i = 0; i < t->epochs; i++)
        if (scanf("%lf %lf", &t->epoch[i].walk, &t->epoch[i].asked_day) != 2)
            return 0;
    if (!read_count(&t->observations))
        return 0;
    for (size_t i = 0; i < t->observations; i++) {
        es_observation *o = &t->observation[i];
        if (scanf("%d %zu %zu %lf %lf %lf %lf %lf", &kind, &o->deck, &o->recorded_on, &o->day,
                  &o->recorded_day, &o->value, &o->u, &o->dof) != 8)
            return 0;
        o->kind = kind ? ES_ANCHOR : ES_PLAY;
    }
    if (!read_count(&t->pairs))
        return 0;
    for (size_t i = 0; i < t->pairs; i++)
        if (scanf("%zu %zu", &t->pair[i][0], &t->pair[i][1]) != 2)
            return 0;
    return 1;
}

/* JSON has no word for what is not known, or not finite. */
static void number(const char *before, double value)
{
    if (isfinite(value))
        printf("%s%.17g", before, value);
    else
        printf("%snull", before);
}

static void estimate(es_estimate e)
{
    number("{\"value\": ", e.value);
    number(", \"u\": ", e.u);
    number(", \"dof\": ", e.dof);
    number(", \"k\": ", e.k);
    number(", \"u95\": ", e.u95);
    printf("}");
}

static void print_results(const task *t, const es_network *net)
{
    const es_network_summary *s = es_network_summarise(net);
    number("{\"chi_square\": ", s->chi_square);
    printf(", \"degrees_of_freedom\": %zu", s->degrees_of_freedom);
    number(", \"p\": ", s->p);
    number(", \"critical\": ", s->critical);
    printf(", \"worst\": %zu, \"suspects\": %zu, \"consistent\": %d,\n\"epochs\": [", s->worst,
           s->suspects, s->consistency == ES_CONSISTENT);
    for (size_t i = 0; i < t->epochs; i++) {
        printf("%s", i ? ",\n" : "");
        estimate(es_network_epochs(net)[i].estimate);
    }
    printf("],\n\"observations\": [");
    for (size_t i = 0; i < t->observations; i++) {
        const es_observation_result *o = &es_network_observations(net)[i];
        number(i ? ",\n{\"residual\": " : "{\"residual\": ", o->residual);
        number(", \"normalised\": ", o->normalised);
        number(", \"redundancy\": ", o->redundancy);
        number(", \"gross_error\": ", o->gross_error);
        printf("}");
    }
}

static int print_answers(const task *t, es_network *net)
{
    printf("],\n\"differences\": [");
    for (size_t i = 0; i < t->pairs; i++) {
        es_estimate e;
        double correlation;
        if (es_network_difference(net, t->pair[i][0], t->pair[i][1], &e) != ES_OK ||
            es_network_correlation(net, t->pair[i][0], t->pair[i][1], &correlation) != ES_OK)
            return 0;
        printf("%s{\"difference\": ", i ? ",\n" : "");
        estimate(e);
        number(", \"correlation\": ", correlation);
        printf("}");
    }
    printf("],\n\"shares\": [");
    for (size_t i = 0; i < t->epochs; i++) {
        double share[MOST], walks;
        if (es_network_shares(net, i, share, &walks) != ES_OK)
            return 0;
        printf("%s[", i ? ",\n" : "");
        for (size_t k = 0; k < t->observations; k++)
            number(k ? ", " : "", share[k]);
        printf("]");
    }
    printf("]}\n");
    return 1;
}

int main(void)
{
    static task t;
    es_network *net;
    es_solve_options options = es_solve_defaults();
    if (!read_task(&t)) {
        fprintf(stderr, "The network can't be read.\n");
        return 2;
    }
    if (es_network_create(t.epoch, t.epochs, t.observation, t.observations, &net, NULL) != ES_OK)
        return 3;
    int done = es_network_solve(net, &options) == ES_OK;
    if (done) {
        print_results(&t, net);
        done = print_answers(&t, net);
    }
    es_network_destroy(net);
    return done ? 0 : 3;
}
