#include "random_network.h"

#include <math.h>

static uint64_t next_bits(random_source *r)
{
    /* splitmix64 (Steele, Lea and Flood 2014, from memory) */
    uint64_t z = (r->state += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

double random_uniform(random_source *r, double low, double high)
{
    return low + (high - low) * ((double)(next_bits(r) >> 11) + 0.5) * 0x1p-53;
}

size_t random_below(random_source *r, size_t count)
{
    return (size_t)(next_bits(r) % count);
}

double random_normal(random_source *r)
{
    double radius = sqrt(-2.0 * log(random_uniform(r, 0.0, 1.0)));
    return radius * cos(random_uniform(r, 0.0, 6.283185307179586));
}

/* What n + 1 readings of true standard deviation `sigma` would make one believe of it. */
static double estimated(random_source *r, double sigma, size_t dof)
{
    double sum = 0.0;
    for (size_t i = 0; i < dof; i++) {
        double z = random_normal(r);
        sum += z * z;
    }
    return sigma * sqrt(sum / (double)dof);
}

static void make_decks(random_network *n, const random_plan *plan, random_source *r)
{
    n->decks = plan->decks_least + random_below(r, plan->decks_most - plan->decks_least + 1);
    for (size_t d = 0; d < n->decks; d++) {
        double walk = plan->walk > 0.0 ? random_uniform(r, 0.2, 1.0) * plan->walk : 0.0;
        n->epoch[d] = (es_epoch){.walk = walk, .asked_day = RANDOM_DAYS};
        n->path[d][0] = log1p(0.008 * random_normal(r)); /* spread of decks as bought */
        for (size_t i = 1; i <= RANDOM_DAYS; i++)
            n->path[d][i] = n->path[d][i - 1] + walk / sqrt(365.25) * random_normal(r);
        n->truth[d] = expm1(n->path[d][RANDOM_DAYS]);
    }
}

/* Fills in day, uncertainty and what is read; true log value comes from the decks' paths. */
static void observe(random_network *n, const random_plan *plan, random_source *r, es_observation o,
                    double u)
{
    size_t day = random_below(r, RANDOM_DAYS), recorded = random_below(r, day + 1);
    o.day = (double)day;
    o.recorded_day = (double)recorded;
    o.dof = (double)INFINITY;
    double x = n->path[o.deck][day];
    if (o.kind == ES_PLAY)
        x -= n->path[o.recorded_on][recorded];
    o.value = expm1(x + u * random_normal(r));
    n->true_u[n->observations] = u;
    o.u = u;
    if (isfinite(plan->least_dof) && random_below(r, 2) == 0) {
        o.dof = floor(plan->least_dof * random_uniform(r, 1.0, 10.0));
        o.u = estimated(r, u, (size_t)o.dof);
    }
    n->observation[n->observations++] = o;
}

void random_network_make(random_network *n, const random_plan *plan, uint64_t seed)
{
    random_source r = {seed * 0x2545F4914F6CDD1Du + 1};
    n->observations = 0;
    make_decks(n, plan, &r);
    size_t anchors =
        plan->anchors_least + random_below(&r, plan->anchors_most - plan->anchors_least + 1);
    for (size_t i = 0; i < anchors; i++)
        observe(n, plan, &r,
                (es_observation){.kind = ES_ANCHOR, .deck = random_below(&r, n->decks)},
                random_uniform(&r, 0.0003, 0.002));
    for (size_t i = 0; i < plan->plays_per_deck * n->decks; i++) {
        es_observation o = {.kind = ES_PLAY, .deck = i % n->decks};
        o.recorded_on = (o.deck + 1 + random_below(&r, n->decks - 1)) % n->decks;
        observe(n, plan, &r, o, random_uniform(&r, 0.00005, 0.0005));
    }
}
