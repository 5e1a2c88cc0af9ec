/* How many times faster than real time the rehearsal deck plays, for every built-in scenario. */
#include "evenspool/tape/rehearsal.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#define RATE 48000
#define BLOCK 1024
#define SECONDS 30

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Times real time; 0 when the scenario can't be played. */
static double speed_of(const es_scenario *scenario)
{
    static float block[2 * BLOCK];
    es_rehearsal *deck;
    if (es_rehearsal_create(scenario, RATE, &deck) != ES_OK)
        return 0.0;
    double start = now_s();
    for (int i = 0; i < SECONDS * RATE / BLOCK; i++)
        es_rehearsal_render(deck, block, BLOCK);
    double taken = now_s() - start;
    es_rehearsal_destroy(deck);
    return SECONDS / taken;
}

int main(void)
{
    double slowest = 1e9;
    printf("rehearsal deck, 48 kHz stereo, times real time (aim: at least 100)\n");
    for (size_t i = 0; i < es_scenario_builtin_count(); i++) {
        es_scenario scenario;
        es_scenario_builtin(i, &scenario);
        double speed = speed_of(&scenario);
        slowest = speed < slowest ? speed : slowest;
        printf("  %-20s %8.0f\n", scenario.name, speed);
    }
    printf("slowest %.0f: %s\n", slowest, slowest >= 100.0 ? "met" : "missed");
    return slowest >= 100.0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
