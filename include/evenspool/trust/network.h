/*
 * Trust network: how far each deck is from true speed, from comparisons between decks ("plays")
 * and from the few observations that tie a deck to true speed from outside ("anchors").
 *
 *   unknown  x = ln(1 + speed error) of each epoch: a deck between two adjustments. Nothing ties
 *            two epochs of one deck but observations.
 *   in       a play: recorded on A, played on B, apparent error h: ln(1 + h) = x_B - x_A;
 *            an anchor: ln(1 + value) = x; each with standard uncertainty and degrees of freedom
 *   drift    an epoch with walk > 0 moves as a random walk: its x on two days differ with the
 *            standard deviation walk * sqrt(days / 365.25). Days are whole; fractions are dropped.
 *   same     a play on the epoch that recorded it holds nothing about speed. Where the deck may
 *   deck     have moved between both days it tells of that movement and is used so; otherwise it
 *            is kept apart as a check for drift.
 *   how      weighted least squares on a sparse factor; uncertainties from the stated ones
 *            (JCGM 100), degrees of freedom by Welch-Satterthwaite over all contributions
 *   out      each epoch's error on its asked day; unknown (NaN) where no anchor reaches
 *   units    errors and uncertainties are fractions (0.01 = 1 %), + fast
 *   thread   one network, one thread at a time
 *   rt       memory only in _create; results repeat bit for bit
 *   Definitions, formulas and sources: docs/trust.md
 */
#ifndef ES_TRUST_NETWORK_H
#define ES_TRUST_NETWORK_H

#include "evenspool/base/error.h"
#include "evenspool/trust/uncertainty.h"

#include <stddef.h>
#include <stdint.h>

#define ES_NONE SIZE_MAX

/* A deck from one adjustment to the next. */
typedef struct es_epoch {
    double walk;      /* [fraction per square root of a year], 0 (stands still) or 1e-6 .. 1 */
    double asked_day; /* day for which the error is wanted, any origin; matters if walk > 0   */
} es_epoch;

typedef enum es_observation_kind { ES_PLAY, ES_ANCHOR } es_observation_kind;

typedef struct es_observation {
    es_observation_kind kind;
    size_t deck;         /* epoch that is anchored, or on which the tape was played      */
    size_t recorded_on;  /* play: epoch that recorded the tape                            */
    double day;          /* of the anchor or of the playing                               */
    double recorded_day; /* play                                                          */
    double value;        /* anchor: speed error; play: apparent error heard [fraction]    */
    double u;            /* standard uncertainty of value [fraction], 1e-8 .. 1           */
    double dof;          /* its degrees of freedom, >= 1; INFINITY if well known          */
} es_observation;

typedef struct es_network es_network;

/*
 * Copies everything. ES_ERR_ARG: no epoch, or something is out of range (*error says which and
 * what to do; may be NULL). ES_ERR_NOMEM. *out is NULL on error. destroy(NULL) is fine.
 */
es_status es_network_create(const es_epoch *epochs, size_t epoch_count,
                            const es_observation *observations, size_t observation_count,
                            es_network **out, es_error *error);
void es_network_destroy(es_network *network);

/* --- solving -------------------------------------------------------------------------------- */

typedef enum es_robust {
    ES_ROBUST_NONE,   /* every observation counts as stated                                    */
    ES_ROBUST_REMOVE, /* the worst is taken out and all solved again while one is beyond chance */
    ES_ROBUST_SOFTEN  /* observations that disagree count less (Huber)                         */
} es_robust;

typedef struct es_solve_options {
    double level;  /* of the expanded uncertainty, 0.5 .. 0.9999                         */
    double chance; /* how seldom a sound network may be called contradictory or have an  */
                   /* observation called a blunder, 1e-6 .. 0.5                           */
    es_robust robust;
    size_t removals_most; /* for ES_ROBUST_REMOVE                                                */
} es_solve_options;

/* 95 %, 5 %, every observation counts, 10 removals. */
es_solve_options es_solve_defaults(void);

/*
 * ES_ERR_ARG: options out of range. ES_ERR_INPUT: uncertainties so unlike (some millions to one)
 * that sixteen digits can't hold them side by side. On error all results are unknown.
 */
es_status es_network_solve(es_network *network, const es_solve_options *options);

/* --- what came out (valid from a good _solve to the next) ------------------------------------ */

typedef struct es_epoch_result {
    int tied;             /* 1: an anchor reaches it                                        */
    size_t group;         /* epochs of one group know their differences                     */
    es_estimate estimate; /* speed error on the asked day [fraction]; all NaN if not tied   */
} es_epoch_result;

typedef enum es_role {
    ES_ROLE_USED,
    ES_ROLE_DRIFT_CHECK, /* same deck: kept apart, normalised says whether it drifted        */
    ES_ROLE_REMOVED      /* by ES_ROBUST_REMOVE; residual and so on against all the others   */
} es_role;

typedef struct es_observation_result {
    es_role role;
    double weight;     /* 1 as stated; less when softened; 0 if removed or a drift check       */
    double residual;   /* observed minus adjusted, of ln(1 + value)                            */
    double normalised; /* residual / its standard deviation; NaN if nothing else checks it     */
    double redundancy; /* 0 (nothing checks it) .. 1 (all the others say what it should read)  */
    double
        gross_error; /* if it alone is wrong: by so much, of ln(1 + value); NaN if nothing checks it */
    int suspect;     /* disagrees most, and beyond chance; several if they can't be told apart */
} es_observation_result;

typedef enum es_consistency {
    ES_UNTESTED,     /* no observation too many: nothing that could contradict */
    ES_CONSISTENT,   /* chi-square no larger than chance allows                */
    ES_CONTRADICTORY /* larger                                                 */
} es_consistency;

typedef struct es_network_summary {
    double chi_square;         /* of the observations used; if softened: as before softening    */
    size_t degrees_of_freedom; /* observations used minus unknowns that they determine          */
    double p;                  /* probability of a chi-square at least so large; NaN if untested */
    es_consistency consistency;
    size_t worst;    /* observation with the largest |normalised|; ES_NONE                 */
    double critical; /* |normalised| beyond which one is a suspect; NaN if none is checked */
    size_t suspects; /* how many are marked                                                */
    size_t removed;
    size_t groups; /* of epochs; each without any anchor floats                          */
    size_t untied_epochs;
} es_network_summary;

/* In the order of _create; the network keeps them. */
const es_epoch_result *es_network_epochs(const es_network *network);
const es_observation_result *es_network_observations(const es_network *network);
const es_network_summary *es_network_summarise(const es_network *network);

/* One sentence for people who enter a play on the deck that recorded the tape; static. */
const char *es_same_deck_sentence(void);

/* --- questions (after a good _solve; epochs out of range: ES_ERR_ARG, as before any solve) --- */

/*
 * What a tape recorded on a would be heard with on b, both on their asked days:
 * (1 + b) / (1 + a) - 1. All NaN if they are in different groups of which one floats.
 */
es_status es_network_difference(es_network *network, size_t a, size_t b, es_estimate *out);

/* The error of an epoch on any day; between the days of observations the walk is bridged. */
es_status es_network_at(es_network *network, size_t epoch, double day, es_estimate *out);

/* Correlation of the errors of two epochs, -1 .. 1; NaN if one is not tied. */
es_status es_network_correlation(es_network *network, size_t a, size_t b, double *out);

/*
 * Share of each observation (0 .. 1) in the variance of an epoch's error, and that of the random
 * walks; together 1. All NaN if not tied. share: room for observation_count.
 */
es_status es_network_shares(es_network *network, size_t epoch, double *share, double *walk_share);

/* --- what to measure next -------------------------------------------------------------------- */

/* A measurement that could be made, on the asked days of the epochs. */
typedef struct es_candidate {
    es_observation_kind kind;
    size_t deck, recorded_on; /* as in es_observation                                   */
    double u, dof;            /* what the measurement would have                        */
} es_candidate;

/*
 * For each candidate the estimate that the epoch would have after it (value as now; all NaN if
 * the epoch would still not be tied). Uncertainties are exact if the measurement reads what is
 * expected, a floating deck being expected at nominal speed; else off by what it is off.
 * *best: the one with the smallest expanded uncertainty that is smaller than now's; ES_NONE if
 * none helps. best may be NULL.
 */
es_status es_network_next(es_network *network, size_t epoch, const es_candidate *candidates,
                          size_t count, es_estimate *predicted, size_t *best);

#endif
