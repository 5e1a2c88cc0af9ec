/*
 * The coach, measured with a simulated hand on the rehearsal deck. All seeds are fixed.
 *
 *   coach   a hand that knows only the coach's words turns a touchy trimmer (3 % a turn) with a
 *           tremble of 0.15 % (standard deviation, every turn) and 5 degrees of play on a deck of
 *           0.2 % flutter (weighted quasi-peak, as `check` reads it), from -6 .. +6 %
 *   beats   the same hand with the beats between the deck and a true tone: it counts up to 6 a
 *           second and hears no sign; and once more with a musician's ear for which side beyond
 *           0.6 %
 *   step    time from a step of 0.1 % to a settled reading that says so, 40 dB, 0.1 % flutter
 *   sure    how often the settled speed lies within the u95 on show
 *   cost    time per frame
 *
 *   bench_trim [runs]
 */
#include "evenspool/base/units.h"
#include "evenspool/tape/rehearsal.h"
#include "evenspool/task/check.h"
#include "evenspool/task/trim.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define RATE_HZ 16000.0
#define BLOCK 800 /* frames from snapshot to snapshot */
#define TOLERANCE 0.001
#define TREMBLE 0.0015
#define PER_TURN 0.03
#define TURNS_MOST 40
#define BEATS_MOST 6.0
#define TONE_HZ 3150.0

static int broken;

static void say(const char *what, double figure, const char *unit, double low, double high)
{
    int good = figure >= low && figure <= high;
    broken |= !good;
    printf("%-62s %8.3f %-5s %s\n", what, figure, unit, good ? "" : "BROKEN");
}

static void tell(const char *what, double figure, const char *unit)
{
    printf("%-62s %8.3f %s\n", what, figure, unit);
}

static void die(const char *what)
{
    fprintf(stderr, "bench_trim: %s\n", what);
    exit(2);
}

/* --- chance ----------------------------------------------------------------------------- */

static double uniform(uint64_t *state) /* 0 .. 1; Knuth's MMIX constants */
{
    *state = *state * 6364136223846793005u + 1442695040888963407u;
    return ((double)(*state >> 11) + 0.5) / 9007199254740992.0;
}

static double gauss(uint64_t *state) /* Box and Muller 1958 */
{
    double radius = sqrt(-2.0 * log(uniform(state)));
    return radius * cos(ES_TWO_PI * uniform(state));
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double quantile(double *at, size_t count, double share)
{
    if (count == 0)
        return (double)NAN;
    qsort(at, count, sizeof *at, by_size);
    return at[(size_t)(share * (double)(count - 1) + 0.5)];
}

/* --- decks ------------------------------------------------------------------------------ */

/* Flutter of usual makeup, scaled; `amount` 1 reads 0.1 % weighted quasi-peak. */
static es_scenario deck_with_flutter(double amount, uint64_t seed)
{
    es_scenario s = es_scenario_defaults();
    s.seed = seed;
    s.length_s = 3600.0;
    s.start_ramp_s = 0.4;
    s.flutter[ES_PART_CAPSTAN][0] = 0.0007 * amount;
    s.flutter[ES_PART_PINCH_ROLLER][0] = 0.00045 * amount;
    s.flutter[ES_PART_MOTOR][0] = 0.00015 * amount;
    s.flutter[ES_PART_TAKE_UP][0] = 0.0003 * amount;
    s.random.rms = 0.00045 * amount;
    s.random.low_hz = 0.5;
    s.random.high_hz = 60.0;
    s.scrape.rms = 0.0003 * amount;
    s.snr_db = 40.0;
    s.motor_s = 0.15;
    return s;
}

static es_scenario touchy_deck(double error, uint64_t seed)
{
    es_scenario s = deck_with_flutter(2.0, seed);
    s.speed_error = error;
    s.trimmer = (es_scenario_trimmer){.per_turn = PER_TURN,
                                      .anticlockwise_is_faster = (int)(seed % 2),
                                      .backlash_deg = 5.0,
                                      .range_turns = 8.0,
                                      .start = 0.5};
    return s;
}

static es_rehearsal *new_deck(const es_scenario *s, double rate_hz)
{
    es_rehearsal *deck;
    if (es_rehearsal_create(s, rate_hz, &deck) != ES_OK)
        die("a deck can't be made");
    return deck;
}

static es_trim *new_coach(double rate_hz)
{
    es_trim_config c = es_trim_defaults(rate_hz, 2);
    c.nominal_hz = TONE_HZ;
    es_trim *trim;
    if (es_trim_create(&c, &trim, NULL) != ES_OK)
        die("a coach can't be made");
    return trim;
}

/* What `check` reads of the deck's flutter. */
static double flutter_read(double amount)
{
    static float frames[2 * BLOCK];
    static es_check_result result;
    es_scenario s = deck_with_flutter(amount, 7);
    s.length_s = 31.0;
    es_rehearsal *deck = new_deck(&s, RATE_HZ);
    es_check_config c = es_check_defaults(RATE_HZ, 2);
    es_check *check;
    if (es_check_create(&c, &check, NULL) != ES_OK)
        die("a check can't be made");
    for (int i = 0; i < 30 * 20; i++) {
        es_rehearsal_render(deck, frames, BLOCK);
        es_check_push(check, frames, BLOCK);
    }
    es_check_finish(check, &result, NULL);
    es_check_destroy(check);
    es_rehearsal_destroy(deck);
    return result.flutter.weighted_quasi_peak_percent;
}

/* --- the hand --------------------------------------------------------------------------- */

typedef struct hand {
    uint64_t chance;
    double last, first; /* turns it meant to make     */
    double turned_s;    /* when it last did           */
    int turns;
    double busy_s; /* until then it does nothing      */
    int waits;     /* for something to change         */
} hand;

static void turn(hand *h, es_rehearsal *deck, double turns)
{
    h->last = turns;
    if (h->turns++ == 0)
        h->first = turns;
    es_rehearsal_turn_trimmer(deck, turns + gauss(&h->chance) * TREMBLE / PER_TURN);
}

/* "A little": a tenth to a third of a turn, whichever way. */
static double a_little(hand *h)
{
    double size = 0.1 + 0.23 * uniform(&h->chance);
    return uniform(&h->chance) < 0.5 ? -size : size;
}

static double asked_turn(hand *h, const es_trim_snapshot *s)
{
    if (h->waits && h->turns)
        return h->last * s->unseen_factor;
    if (isnan(s->move_factor))
        return a_little(h);
    double measure = s->move_of_first ? copysign(h->first, h->last) : h->last;
    return measure * s->move_factor;
}

/* Does as the words say, half a second to a second after they came. */
static void obey(hand *h, es_rehearsal *deck, const es_trim_snapshot *s)
{
    int asked =
        s->state == ES_TRIM_READING && (!isnan(s->move_factor) || strstr(s->advice, "a little"));
    if (!asked) {
        h->busy_s = s->time_s + 0.5 + 0.5 * uniform(&h->chance);
        if (s->state == ES_TRIM_TURNING)
            h->waits = 0;
        return;
    }
    if (s->time_s < h->busy_s)
        return;
    if (h->waits && isnan(s->unseen_factor))
        return; /* has turned and sees no change yet */
    turn(h, deck, asked_turn(h, s));
    h->turned_s = s->time_s;
    h->waits = 1;
    h->busy_s = s->time_s + (isnan(s->unseen_factor) ? 0.7 : 4.0);
}

typedef struct outcome {
    int done, within, looked_first, turns, nudges;
    double left, time_s;
    size_t readings, covered; /* moments on show, half a second apart */
} outcome;

static void cover(outcome *o, const es_trim_snapshot *s, double truth, int64_t number)
{
    if (isnan(s->error_percent) || number % 10)
        return;
    o->readings++;
    o->covered += fabs(s->error_percent / 100.0 - truth) <= s->u95_percent / 100.0;
}

static outcome coached(double error, uint64_t seed)
{
    static float frames[2 * BLOCK];
    es_scenario s = touchy_deck(error, seed);
    es_rehearsal *deck = new_deck(&s, RATE_HZ);
    es_trim *trim = new_coach(RATE_HZ);
    hand h = {.chance = seed * 977 + 5};
    outcome o = {0};
    es_trim_snapshot now = {0};
    for (int64_t i = 0; i < 20 * 240 && !now.final && h.turns < TURNS_MOST; i++) {
        es_rehearsal_render(deck, frames, BLOCK);
        es_trim_push(trim, frames, BLOCK);
        while (es_trim_take(trim, &now)) {
            if (h.waits && now.state != ES_TRIM_READING)
                h.waits = 0;
            obey(&h, deck, &now);
        }
        if (now.time_s > h.turned_s + 1.0) /* the speed shown was the hand's, not the deck's */
            cover(&o, &now, es_rehearsal_settled_error(deck), i);
        o.looked_first += now.state == ES_TRIM_LOOK_FIRST;
    }
    o.left = es_rehearsal_settled_error(deck);
    o.done = now.final;
    o.within = fabs(o.left) <= TOLERANCE;
    o.turns = h.turns;
    o.nudges = (int)now.nudge_count;
    o.time_s = now.time_s;
    es_trim_destroy(trim);
    es_rehearsal_destroy(deck);
    return o;
}

/* --- the same hand with beats alone ----------------------------------------------------- */

/*
 * Counts beats over three seconds, give or take 0.3 a second (flutter smears them). More than six a
 * second it can't tell apart: it goes on by steps of 0.3 %, which can't step over what it can hear,
 * and turns back when it has gone 7 % without hearing any. A beat rate that grew means the other
 * way.
 */
typedef struct listener {
    hand h;
    int musician;
    double way, gone, rate;
} listener;

static double heard_rate(listener *l, double error)
{
    return fabs(TONE_HZ * error) + 0.3 * gauss(&l->h.chance);
}

static double search_step(listener *l, double error)
{
    if (l->musician && fabs(error) > 0.006) { /* which side, and how far within a third */
        double guess = -error * (1.0 + 0.33 * gauss(&l->h.chance)) / PER_TURN;
        return guess;
    }
    double step = 0.003 / PER_TURN;
    l->gone += step;
    if (l->gone > 0.07 / PER_TURN) {
        l->way = -l->way;
        l->gone = -0.07 / PER_TURN;
    }
    return l->way * step;
}

static double beat_step(listener *l, double rate)
{
    if (!isnan(l->rate) && rate > l->rate)
        l->way = -l->way;
    l->rate = rate;
    return l->way * rate / TONE_HZ / PER_TURN;
}

static outcome by_beats(double error, uint64_t seed, int musician)
{
    static float frames[128];
    es_scenario s = touchy_deck(error, seed);
    es_rehearsal *deck = new_deck(&s, 8000.0);
    double sense = s.trimmer.anticlockwise_is_faster ? -1.0 : 1.0;
    listener l = {.h = {.chance = seed * 977 + 5}, .musician = musician, .rate = (double)NAN};
    l.way = uniform(&l.h.chance) < 0.5 ? -1.0 : 1.0;
    outcome o = {0};
    while (!o.done && l.h.turns < 10 * TURNS_MOST) {
        es_rehearsal_render(deck, frames, 64);
        double now = es_rehearsal_settled_error(deck), rate = heard_rate(&l, now);
        o.time_s += 4.0;
        if (rate < 2.0) /* slow enough to stop: 0.06 % */
            o.done = 1;
        else if (rate <= BEATS_MOST)
            turn(&l.h, deck, sense * beat_step(&l, rate));
        else {
            l.rate = (double)NAN;
            turn(&l.h, deck, sense * search_step(&l, now));
        }
    }
    o.left = es_rehearsal_settled_error(deck);
    o.within = o.done && fabs(o.left) <= TOLERANCE;
    o.turns = l.h.turns;
    es_rehearsal_destroy(deck);
    return o;
}

/* --- tables ----------------------------------------------------------------------------- */

typedef struct tally {
    double turns[1000], times[1000], left[1000];
    size_t runs, within, done, looked;
    size_t readings, covered;
} tally;

static void add(tally *t, const outcome *o)
{
    t->turns[t->runs] = o->turns;
    t->times[t->runs] = o->time_s;
    t->left[t->runs++] = 100.0 * fabs(o->left);
    t->within += (size_t)(o->done && o->within);
    t->done += (size_t)o->done;
    t->looked += o->looked_first > 0;
    t->readings += o->readings;
    t->covered += o->covered;
}

static double share(size_t part, size_t all)
{
    return 100.0 * (double)part / (double)all;
}

static void hands(size_t runs)
{
    static tally coach, beats, ear;
    uint64_t chance = 20240607;
    for (size_t i = 0; i < runs; i++) {
        double error = 0.12 * uniform(&chance) - 0.06;
        outcome a = coached(error, i + 1), b = by_beats(error, i + 1, 0),
                c = by_beats(error, i + 1, 1);
        add(&coach, &a);
        add(&beats, &b);
        add(&ear, &c);
    }
    printf("\n%zu runs, start -6 .. +6 %%        %10s %10s %10s\n", runs, "coach", "beats",
           "beats+ear");
    printf("within 0.1 %%                       %8.1f %% %8.1f %% %8.1f %%\n",
           share(coach.within, runs), share(beats.within, runs), share(ear.within, runs));
    printf("turns, median                       %10.0f %10.0f %10.0f\n",
           quantile(coach.turns, runs, 0.5), quantile(beats.turns, runs, 0.5),
           quantile(ear.turns, runs, 0.5));
    printf("turns, 95 %%                         %10.0f %10.0f %10.0f\n",
           quantile(coach.turns, runs, 0.95), quantile(beats.turns, runs, 0.95),
           quantile(ear.turns, runs, 0.95));
    printf("left, median                      %8.3f %% %8.3f %% %8.3f %%\n",
           quantile(coach.left, runs, 0.5), quantile(beats.left, runs, 0.5),
           quantile(ear.left, runs, 0.5));
    printf("time, median                      %8.0f s %8.0f s %8.0f s\n\n",
           quantile(coach.times, runs, 0.5), quantile(beats.times, runs, 0.5),
           quantile(ear.times, runs, 0.5));
    say("coach: within 0.1 %", share(coach.within, runs), "%", 95.0, 100.0);
    say("coach: turns, median", quantile(coach.turns, runs, 0.5), "", 1.0, 5.0);
    tell("coach: said done", share(coach.done, runs), "%");
    tell("coach: sent to look first on the way", share(coach.looked, runs), "%");
    say("coach: settled speed within the u95 on show", share(coach.covered, coach.readings), "%",
        90.0, 100.0);
}

/* --- a step ----------------------------------------------------------------------------- */

/* Time from the step until a reading says so: one nudge, its size and the error
 * right. NaN: never. */
static double step_time(uint64_t seed, double motor_s, double *size, int *right)
{
    static float frames[2 * BLOCK];
    es_scenario s = deck_with_flutter(1.0, seed);
    s.motor_s = motor_s;
    s.speed_error = 0.004;
    s.trimmer = (es_scenario_trimmer){.per_turn = 0.01, .range_turns = 4.0, .start = 0.5};
    es_rehearsal *deck = new_deck(&s, RATE_HZ);
    es_trim *trim = new_coach(RATE_HZ);
    es_trim_snapshot now = {0};
    size_t before = 0;
    double at_s = 8.0 + 0.01 * (double)(seed % 37), took = (double)NAN;
    int turned = 0;
    for (int i = 0; i < 20 * 20 && isnan(took); i++) {
        es_rehearsal_render(deck, frames, BLOCK);
        es_trim_push(trim, frames, BLOCK);
        while (es_trim_take(trim, &now))
            if (turned && now.nudge_count == before + 1 && now.state == ES_TRIM_READING)
                took = now.time_s - at_s;
        if (!turned && now.time_s >= at_s) {
            at_s = now.time_s;
            es_rehearsal_turn_trimmer(deck, seed % 2 ? 0.1 : -0.1);
            before = now.nudge_count;
            turned = 1;
        }
    }
    double truth = es_rehearsal_settled_error(deck);
    *right = fabs(now.error_percent - 100.0 * truth) <= now.u95_percent; /* false for NaN */
    *size = isnan(took) ? (double)NAN : fabs(now.nudges[now.nudge_count - 1].size_percent);
    es_trim_destroy(trim);
    es_rehearsal_destroy(deck);
    return took;
}

static void steps(size_t runs, double motor_s, double limit_s)
{
    static double took[1000], size[1000];
    size_t seen = 0, right = 0;
    char what[80];
    for (size_t i = 0; i < runs; i++) {
        int is_right;
        double one, t = step_time(i + 1, motor_s, &one, &is_right);
        if (isnan(t))
            continue;
        right += (size_t)is_right;
        took[seen] = t;
        size[seen++] = one;
    }
    snprintf(what, sizeof what, "step of 0.1 %%, motor %.2f s: to a settled reading, median",
             motor_s);
    say(what, quantile(took, seen, 0.5), "s", 0.0, limit_s);
    tell("   95 %", quantile(took, seen, 0.95), "s");
    tell("   size then read: 5 %", quantile(size, seen, 0.05), "%");
    tell("   size then read: median", quantile(size, seen, 0.5), "%");
    tell("   size then read: 95 %", quantile(size, seen, 0.95), "%");
    tell("   settled speed within the u95 then shown", share(right, seen), "%");
    say("   seen within 12 s", share(seen, runs), "%", 98.0, 100.0);
}

/* --- cost ------------------------------------------------------------------------------- */

static void cost(void)
{
    enum { SECONDS = 30, FRAMES = 48000 };
    float *frames = calloc((size_t)2 * SECONDS * FRAMES, sizeof *frames);
    es_scenario s = deck_with_flutter(1.0, 3);
    es_rehearsal *deck = new_deck(&s, 48000.0);
    es_trim *trim = new_coach(48000.0);
    if (!frames)
        die("no memory");
    es_rehearsal_render(deck, frames, (size_t)SECONDS * FRAMES);
    clock_t from = clock();
    for (size_t i = 0; i < (size_t)SECONDS * FRAMES; i += 480)
        es_trim_push(trim, frames + 2 * i, 480);
    double took_s = (double)(clock() - from) / CLOCKS_PER_SEC;
    tell("cost, stereo 48 kHz in blocks of 480", 1e9 * took_s / SECONDS / FRAMES, "ns/frame");
    say("   of one core", 100.0 * took_s / SECONDS, "%", 0.0, 3.0);
    free(frames);
    es_trim_destroy(trim);
    es_rehearsal_destroy(deck);
}

int main(int argc, char **argv)
{
    size_t runs = argc > 1 ? strtoul(argv[1], NULL, 10) : 500;
    if (runs < 1 || runs > 1000)
        die("1 .. 1000 runs");
    tell("flutter of the touchy deck, weighted quasi-peak", flutter_read(2.0), "%");
    tell("flutter of the deck that is stepped", flutter_read(1.0), "%");
    steps(runs < 200 ? runs : 200, 0.05, 1.0);
    steps(runs < 200 ? runs : 200, 0.15, HUGE_VAL);
    cost();
    hands(runs);
    return broken;
}
