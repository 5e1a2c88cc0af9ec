/*
 * The live path without the sound card: how long from a sample's coming in to the snapshot that
 * has it, and what share of a processor that takes, stereo at 48 kHz with one listener.
 *
 * A thread writes 10 ms blocks into a ring by the clock, as a device's callback does. A sample has
 * come in when its block is written; a snapshot is out when the listener holds it.
 */
#include "device/ring.h"
#include "evenspool/tape/rehearsal.h"
#include "live/session_inside.h"

#include <math.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define RATE 48000
#define BLOCK 480
#define SECONDS 30
#define BLOCKS (SECONDS * RATE / BLOCK)
#define SNAPSHOTS (SECONDS * 20)
#define LATENCY_MOST_MS 60.0
#define SHARE_MOST_PERCENT 3.0

typedef struct feeder {
    es_ring *ring;
    const float *sound;
    atomic_int done;
    _Atomic double came_s[BLOCKS]; /* when each block was written */
    double used_s;                 /* processor time of the feeder itself */
} feeder;

static double time_of(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void sleep_until(double seconds)
{
    struct timespec t = {.tv_sec = (time_t)seconds};
    t.tv_nsec = (long)((seconds - (double)t.tv_sec) * 1e9);
    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &t, NULL) != 0)
        ;
}

static void *feed(void *who)
{
    feeder *f = who;
    double begin = time_of(CLOCK_MONOTONIC);
    for (int i = 0; i < BLOCKS; i++) {
        sleep_until(begin + (i + 1) * (double)BLOCK / RATE);
        atomic_store(&f->came_s[i], time_of(CLOCK_MONOTONIC));
        es_ring_write(f->ring, f->sound + 2 * BLOCK * i, BLOCK);
    }
    f->used_s = time_of(CLOCK_THREAD_CPUTIME_ID);
    atomic_store(&f->done, 1);
    return NULL;
}

/* --- as a source ------------------------------------------------------------------------- */

static es_source_state take(void *self, float *frames, size_t room, es_taken *out, es_error *error)
{
    feeder *f = self;
    es_gap gap;
    (void)error;
    int done = atomic_load(&f->done);
    out->count = es_ring_read(f->ring, frames, room, &gap);
    out->gap = gap.reasons != 0;
    out->lost = gap.lost;
    return done && out->count == 0 ? ES_SOURCE_ENDED : ES_SOURCE_RUNNING;
}

static void close_it(void *self)
{
    (void)self;
}

static es_status open_it(void *who, es_source *out, es_error *error)
{
    (void)error;
    *out = (es_source){.self = who,
                       .rate_hz = RATE,
                       .channels = 2,
                       .paces_itself = 1,
                       .take = take,
                       .close = close_it};
    return ES_OK;
}

/* --- measuring --------------------------------------------------------------------------- */

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double share_of(double *values, size_t count, double share)
{
    qsort(values, count, sizeof *values, by_size);
    size_t at = (size_t)(share * (double)count);
    return values[at < count ? at : count - 1];
}

/* Latency of each block that the snapshot is the first to have, from its coming in. */
static size_t note(feeder *f, double out_s, int64_t from_frame, int64_t to_frame, double *to)
{
    size_t count = 0;
    for (int64_t b = from_frame / BLOCK; b < to_frame / BLOCK && b < BLOCKS; b++)
        to[count++] = 1e3 * (out_s - atomic_load(&f->came_s[b]));
    return count;
}

static int follow(feeder *f, es_session *session)
{
    static double all[BLOCKS], last[SNAPSHOTS];
    static es_trim_snapshot now;
    size_t count = 0, snapshots = 0;
    uint64_t cursor = 0, skipped, missed = 0;
    int64_t frame = 0;
    double begin = time_of(CLOCK_PROCESS_CPUTIME_ID), begun = time_of(CLOCK_MONOTONIC);
    while (es_session_next(session, &cursor, 5.0, &now, &skipped) > 0) { /* to the feeder's end */
        double out_s = time_of(CLOCK_MONOTONIC);
        int64_t until = llround(now.time_s * RATE);
        size_t some = note(f, out_s, frame, until, all + count);
        count += some;
        if (some > 0 && snapshots < SNAPSHOTS)
            last[snapshots++] = all[count - 1];
        missed += skipped;
        frame = until;
    }
    double taken = time_of(CLOCK_MONOTONIC) - begun;
    double used = time_of(CLOCK_PROCESS_CPUTIME_ID) - begin - f->used_s;
    double whole = share_of(all, count, 0.99), newest = share_of(last, snapshots, 0.99);
    double percent = 100.0 * used / taken;
    int met = count > BLOCKS * 9 / 10 && missed == 0 && whole <= LATENCY_MOST_MS &&
              percent <= SHARE_MOST_PERCENT;
    printf("live path, stereo 48 kHz, %d s, %zu snapshots, %llu skipped\n", SECONDS, snapshots,
           (unsigned long long)missed);
    printf("  any sample in to snapshot out, 99th percentile     %6.1f ms (aim: at most %.0f)\n",
           whole, LATENCY_MOST_MS);
    printf("  a snapshot's newest sample in to snapshot out, 99th %5.1f ms\n", newest);
    printf("  processor, one listener                            %6.2f %% of one core (aim: at "
           "most %.0f)\n",
           percent, SHARE_MOST_PERCENT);
    printf("%s\n", met ? "met" : "missed");
    return met;
}

/* A deck that is a little unsteady, rendered before the clock runs. */
static float *render(void)
{
    es_scenario scenario;
    es_rehearsal *deck;
    float *sound = malloc(sizeof *sound * 2 * SECONDS * RATE);
    if (!sound || es_scenario_find("slow-but-steady", &scenario) != ES_OK ||
        es_rehearsal_create(&scenario, RATE, &deck) != ES_OK)
        return NULL;
    es_rehearsal_render(deck, sound, (size_t)SECONDS * RATE);
    es_rehearsal_destroy(deck);
    return sound;
}

int main(void)
{
    static feeder f;
    float *sound = render();
    es_session *session;
    es_error error = {0};
    pthread_t thread;
    es_session_ground ground = {.who = &f, .source = open_it};
    es_session_config config = es_session_defaults();
    f.sound = sound;
    if (!sound || es_ring_create(2, RATE, &f.ring) != ES_OK ||
        es_session_open_on(&ground, &config, &session, &error) != ES_OK ||
        pthread_create(&thread, NULL, feed, &f) != 0) {
        printf("can't begin: %s\n", error.text);
        return EXIT_FAILURE;
    }
    int met = follow(&f, session);
    pthread_join(thread, NULL);
    es_session_close(session);
    es_ring_destroy(f.ring);
    free(sound);
    return met ? EXIT_SUCCESS : EXIT_FAILURE;
}
