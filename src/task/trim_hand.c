#include "task/trim_hand.h"

#include <math.h>

#define USUAL_TREMBLE 1e-3 /* of a hand, before it is known [fraction of speed] */
#define USUAL_WEIGHT 2.0
#define STRANGE 3.5 /* standard deviations: the hand did something else than it was asked */
#define NO_PLAY_WEIGHT 1.0
#define SHORT_TREMBLES 4.0
#define LEAP_MOST 10.0   /* times the last turn  */
#define LEAP_STRANGE 3.0 /* the same, when the last turn was a surprise */
#define HAIR 0.25        /* of the first turn: a smaller one is no measure for ... */
#define HAIR_LEAP 2.0    /* ... one larger than so many of it */

typedef struct trimmer { /* as it is known so far */
    double gain, play;   /* play: signed like the gain */
} trimmer;

/* Least squares; that there is no play at all is taken for so many observations. */
static trimmer known(const es_hand *h)
{
    double gg = h->gg + NO_PLAY_WEIGHT, scale = h->tt * gg - h->tg * h->tg;
    trimmer t = {.gain = (h->st * gg - h->tg * h->sg) / scale,
                 .play = (h->tg * h->st - h->tt * h->sg) / scale};
    if (t.play * t.gain > 0.0)
        return t;
    return (trimmer){.gain = h->st / h->tt}; /* a loss below nothing */
}

static double gain(const es_hand *h)
{
    return known(h).gain;
}

static double tremble(const es_hand *h)
{
    double squares = h->tremble_squares + USUAL_WEIGHT * USUAL_TREMBLE * USUAL_TREMBLE;
    return sqrt(squares / ((double)h->trembles + USUAL_WEIGHT));
}

double es_hand_backlash(const es_hand *h)
{
    return h->gg > 0.0 ? fabs(known(h).play) : (double)NAN;
}

static void take_first(es_hand *h, double size)
{
    h->turns = 1;
    h->last = 1.0;
    h->st = size;
    h->tt = 1.0;
}

/* The turn was as asked for: its effect teaches gain, play and tremble. */
static void learn(es_hand *h, double turn, double size, double surprise, double spread)
{
    double sign = turn * h->last < 0.0 ? copysign(1.0, turn) : 0.0;
    h->st += size * turn;
    h->tt += turn * turn;
    h->tg += turn * sign;
    h->gg += sign * sign;
    h->sg += size * sign;
    h->tremble_squares += surprise * surprise / (spread * spread);
    h->trembles++;
}

static double foreseen(const es_hand *h, double turn)
{
    trimmer t = known(h);
    double effect = t.gain * turn;
    if (turn * h->last >= 0.0)
        return effect;
    return effect - copysign(fmin(fabs(t.play), fabs(effect)), effect);
}

/* Far less than it should have been, and not because of play. */
static int is_short(const es_hand *h, double turn, double size, double share)
{
    double effect = gain(h) * turn;
    return turn * h->last > 0.0 && fabs(effect) > SHORT_TREMBLES * tremble(h) &&
           size / effect < share;
}

es_hand_turn es_hand_take(es_hand *h, double size, double asked, double short_share)
{
    es_hand_turn made = {.followed = 1};
    double before = h->last_size;
    h->last_size = size;
    if (h->turns == 0) {
        take_first(h, size);
        return made;
    }
    double turn = isnan(asked) ? size / gain(h) : asked * h->last;
    double surprise = size - foreseen(h, turn);
    double spread = sqrt(1.0 + turn * turn / h->tt); /* the gain is not sure either */
    made.followed = !isnan(asked) && fabs(surprise) <= STRANGE * tremble(h) * spread;
    h->short_turns = !isnan(asked) && is_short(h, turn, size, short_share) ? h->short_turns + 1 : 0;
    if (made.followed)
        learn(h, turn, size, surprise, spread);
    else
        turn = size / gain(h);
    made.reversal = made.followed ? turn * h->last < 0.0 : size * before < 0.0;
    h->strange = !made.followed;
    h->last = turn;
    h->turns++;
    return made;
}

/* A hand that did something else than it was asked has its own idea of its last turn: no leaps. */
static double bounded(const es_hand *h, double factor)
{
    double most = h->strange ? LEAP_STRANGE : LEAP_MOST;
    return fabs(factor) > most ? copysign(most, factor) : factor;
}

es_hand_advice es_hand_advise(const es_hand *h, double need)
{
    if (h->turns == 0 || gain(h) == 0.0)
        return (es_hand_advice){.factor = (double)NAN};
    trimmer t = known(h);
    double turn = need / t.gain;
    if (turn * h->last < 0.0)
        turn += copysign(fabs(t.play / t.gain), turn);
    double factor = turn / h->last;
    if (!h->strange && fabs(h->last) < HAIR && fabs(factor) > HAIR_LEAP)
        return (es_hand_advice){bounded(h, copysign(turn, factor)), 1};
    return (es_hand_advice){bounded(h, factor), 0};
}

double es_hand_of_last(const es_hand *h, es_hand_advice advice)
{
    return advice.of_first ? advice.factor / fabs(h->last) : advice.factor;
}
